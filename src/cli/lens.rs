//! The lens of one crop: its arguments, and what is printed of it and of a shaking mount.

use super::failure::Failure;
use clap::{ArgGroup, Args};
use lookroom::{
    lens::{FieldOfView, LensError, Mapping, SaidMapping, Shake, Span},
    plan::px,
    tasks::{CropAnswer, ShakeAnswer, TaskError},
};
use std::io::Write;

/// What is known of a lens.
#[derive(Args)]
#[command(group = ArgGroup::new("seen").args(["seen_width", "seen_height"]).multiple(true))]
pub(super) struct LensArguments {
    /// Field of view from the left edge to the right, in degrees, of the picture without an inside crop
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    fov_horizontal: Option<f64>,

    /// Field of view from the top edge to the bottom, in degrees
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    fov_vertical: Option<f64>,

    /// Field of view from corner to corner, in degrees; spec sheets often mean this one
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    fov_diagonal: Option<f64>,

    /// How much of a wall fills the picture from its left edge to its right, by a tape, the camera square to the wall
    #[arg(long, value_name = "LENGTH", requires = "at_distance", allow_negative_numbers = true)]
    seen_width: Option<f64>,

    /// How much of a wall fills it from its top edge to its bottom
    #[arg(long, value_name = "LENGTH", requires = "at_distance", allow_negative_numbers = true)]
    seen_height: Option<f64>,

    /// How far the lens was from that wall, in the same unit
    #[arg(long, value_name = "LENGTH", requires = "seen", allow_negative_numbers = true)]
    at_distance: Option<f64>,

    /// How the lens maps angles: rectilinear (straight lines stay straight), equidistant, equisolid,
    /// stereographic, orthographic, polynomial:K1,K2,K3,K4 of a calibration, or unknown
    #[arg(long, value_name = "NAME")]
    mapping: Option<SaidMapping>,
}

/// How a mount shakes.
#[derive(Args)]
pub(super) struct ShakeArguments {
    /// How far the mount turns the camera each way, sideways and up and down, in degrees
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true)]
    shake: Option<f64>,

    /// How far the mount rolls the camera each way about its axis, in degrees; with --shake
    #[arg(
        long,
        value_name = "DEGREES",
        default_value_t = 0.0,
        requires = "shake",
        allow_negative_numbers = true
    )]
    roll: f64,
}

impl LensArguments {
    /// How the lens maps angles; straight-line if nothing is said, and the answer names it.
    pub(super) fn mapping(&self) -> SaidMapping {
        self.mapping.unwrap_or(SaidMapping::Known(Mapping::Rectilinear))
    }

    /// How the lens maps angles; not known if nothing is said.
    pub(super) fn mapping_or_unknown(&self) -> SaidMapping {
        self.mapping.unwrap_or(SaidMapping::Unknown)
    }

    /// The fields of view that were given; a mapping alone says nothing.
    pub(super) fn fields_of_view(&self) -> Result<Vec<FieldOfView>, TaskError> {
        let given = [self.fov_horizontal, self.fov_vertical, self.fov_diagonal];
        let fields = Span::ALL.into_iter().zip(given).filter_map(|(span, degrees)| {
            degrees.map(|degrees| FieldOfView::from_degrees(span, degrees))
        });
        let tapes = [(Span::Horizontal, self.seen_width), (Span::Vertical, self.seen_height)];
        let measured = tapes
            .into_iter()
            .filter_map(|(span, seen)| Some(FieldOfView::by_tape(span, seen?, self.at_distance?)));
        let fields: Vec<FieldOfView> = fields.chain(measured).collect::<Result<_, LensError>>()?;
        if fields.is_empty() && self.mapping.is_some() {
            return Err(LensError::NoFieldOfView.into());
        }
        Ok(fields)
    }
}

impl ShakeArguments {
    /// The shake, if there is one.
    pub(super) fn shake(&self) -> Result<Option<Shake>, TaskError> {
        let shake = self.shake.map(|degrees| Shake::from_degrees(degrees, degrees, self.roll));
        shake.transpose().map_err(TaskError::from)
    }
}

/// Prints what the picture is seen through and how it is turned.
pub(super) fn print_lens(answer: &CropAnswer, out: &mut impl Write) -> Result<(), Failure> {
    if answer.level_degrees.abs() > 0.0 {
        let way = if answer.level_degrees > 0.0 { "clockwise" } else { "counterclockwise" };
        writeln!(
            out,
            "  of the picture turned {} degrees {way} about its centre, in its px",
            answer.level_degrees.abs()
        )?;
    }
    if let Some(lens) = &answer.lens {
        writeln!(
            out,
            "  {}: field of view {:.2} horizontal, {:.2} vertical, {:.2} diagonal degrees; f {} px",
            lens.words,
            lens.fov_horizontal_degrees,
            lens.fov_vertical_degrees,
            lens.fov_diagonal_degrees,
            lens.focal_px.words(px)
        )?;
    }
    Ok(())
}

/// Whether the lens may be one of several.
fn is_unknown(answer: &CropAnswer) -> bool {
    answer.lens.as_ref().is_some_and(|lens| lens.mapping == SaidMapping::UNKNOWN)
}

/// Prints what the lens does to the shapes of things in the window, and what straightening it costs.
pub(super) fn print_stretch(answer: &CropAnswer, out: &mut impl Write) -> Result<(), Failure> {
    if let Some(stretch) = &answer.stretch {
        let good_for = match stretch.good_for {
            "faces" => "faces are fine at the edges",
            "watch" => "watch faces at the edges",
            _ => "no people near the edges that are stretched most",
        };
        writeln!(
            out,
            "stretch of things that face the camera, away from the axis: left edge {:.3}, middle {:.3}, right edge {:.3}, upper edge \
             {:.3}, lower edge {:.3}, worst corner {:.3}; {good_for} (common practice: up to 1.10 fine, up to 1.25 to be watched)",
            stretch.left,
            stretch.middle,
            stretch.right,
            stretch.top,
            stretch.bottom,
            stretch.corner
        )?;
        writeln!(
            out,
            "  the worst corner has {:.2} px a degree for each on the axis",
            stretch.density_at_corner
        )?;
    }
    for delivered in &answer.delivered {
        let Some(straight) = &delivered.straightened else { continue };
        let cut = if straight.is_whole { "" } else { "; its corners reach out of the picture" };
        writeln!(
            out,
            "straightened into {}: {:.1} degrees across, E {:.3} in the middle and {:.3} at worst, stretched up to {:.3}{cut}",
            delivered.raster,
            straight.fov_horizontal_degrees,
            straight.enlargement_middle,
            straight.enlargement_worst,
            straight.stretch_worst
        )?;
    }
    Ok(())
}

/// Prints whether a shaking mount leaves enough room.
pub(super) fn print_shake(
    answer: &CropAnswer,
    arguments: &ShakeArguments,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let Some(degrees) = arguments.shake else { return Ok(()) };
    writeln!(
        out,
        "shake of {degrees} degrees each way sideways and up and down, {} about the axis",
        arguments.roll
    )?;
    for shake in &answer.shake {
        let through =
            if is_unknown(answer) { format!(", if {}", shake.mapping) } else { String::new() };
        print_budget(shake, &through, out)?;
    }
    Ok(())
}

fn print_budget(shake: &ShakeAnswer, through: &str, out: &mut impl Write) -> Result<(), Failure> {
    let [_, _, width, height] = shake.window_px;
    let asked = shake.raster.as_ref().map_or(String::new(), |raster| {
        format!(" for {raster} at E {:.4}", shake.enlargement.unwrap_or(f64::NAN))
    });
    let verdict = if shake.passes {
        "yes".to_owned()
    } else {
        format!("no, {} px missing", length(shake.missing_px))
    };
    writeln!(out, "  {} x {} px{asked}{through}: {verdict}", px(width), px(height))?;
    let sides = ["left", "top", "right", "bottom"].into_iter().enumerate();
    let rooms = sides.map(|(place, side)| {
        let (needed, there) = (shake.needed_px[place], shake.available_px[place]);
        format!("{side} {} of {}", length(needed), px(there))
    });
    let rooms: Vec<String> = rooms.collect();
    writeln!(out, "    room needed of what there is, px: {}", rooms.join(", "))?;
    let [left, top, right, bottom] = shake.needed_by_one_turn_px.map(length);
    writeln!(
        out,
        "    by the sideways turn alone: left {left}, right {right}; by the turn up and down alone: top {top}, bottom \
         {bottom}"
    )?;
    match (shake.largest_width_px, shake.least_enlargement) {
        (Some(width), Some(least)) => {
            writeln!(out, "    least E that passes here: {least:.4}, {width:.1} px wide")?;
        }
        (Some(width), None) => writeln!(out, "    largest that passes here: {width:.1} px wide")?,
        (None, _) => writeln!(out, "    no window passes here")?,
    }
    let centre = &shake.centre_only;
    let least =
        centre.least_enlargement.map_or(String::new(), |least| format!(", least E {least:.4}"));
    writeln!(
        out,
        "    for comparison only, as if all of the picture moved as its centre does: {:.2} x {:.2} px needed, {:.2} \
         and {:.2} px spare a side{least}",
        centre.needed_px[0],
        centre.needed_px[1],
        centre.spare_a_side_px[0],
        centre.spare_a_side_px[1]
    )?;
    Ok(())
}

/// A length in px, or that there is no end to it.
fn length(length_px: f64) -> String {
    if length_px.is_finite() { px(length_px) } else { "more than any frame has".to_owned() }
}
