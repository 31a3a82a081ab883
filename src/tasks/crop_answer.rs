//! One answer without any file: the window of a shape in a capture raster, its spare room, and how soft it is.

use super::{
    TaskError,
    shake_answer::{LensAnswer, ShakeAnswer, Shaken},
    stretch_answer::{StraightAnswer, StretchAnswer},
};
use crate::{
    delivery::{Limits, SafeAreas},
    geometry::{InsideCrop, Levelling, Raster, Region, Rounding, Shape, SpareRoom, Window},
    lens::{Between, FieldOfView, Mapping, PossibleLenses, SaidMapping, Shake},
    sharpness::{Band, MeasuredSharpness, Recording, Softness, invented_share},
};
use serde::Serialize;

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct CropQuestion {
    /// The capture raster.
    pub capture: Raster,
    /// The shape of the window.
    pub shape: Shape,
    /// The rasters it is delivered in; each of the window's shape.
    pub delivered: Vec<Raster>,
    /// Where the window's corner is; `None` along an axis is in the middle.
    pub place: (Option<f64>, Option<f64>),
    /// How the window is rounded.
    pub rounding: Rounding,
    /// What the camera cropped before it wrote the file.
    pub inside_crop: InsideCrop,
    /// How sharp the file is, where that was measured.
    pub sharpness: Option<MeasuredSharpness>,
    /// The window's width; `None` is the largest that fits.
    pub width: Option<f64>,
    /// By how many degrees the picture is turned to stand level, clockwise positive.
    pub level_degrees: f64,
    /// What is known of the lens: fields of view of the picture without an inside crop, any of the three or none.
    pub fields_of_view: Vec<FieldOfView>,
    /// How the lens maps angles, where a field of view is known.
    pub mapping: SaidMapping,
    /// How far the mount shakes, if that is asked.
    pub shake: Option<Shake>,
}

impl CropQuestion {
    /// The plainest question: the largest window of a shape in the middle of a capture raster, not rounded.
    #[must_use]
    pub const fn plain(capture: Raster, shape: Shape) -> Self {
        Self {
            capture,
            shape,
            delivered: Vec::new(),
            place: (None, None),
            rounding: Rounding::Exact,
            inside_crop: InsideCrop::NONE,
            sharpness: None,
            width: None,
            level_degrees: 0.0,
            fields_of_view: Vec::new(),
            mapping: SaidMapping::Known(Mapping::Rectilinear),
            shake: None,
        }
    }

    /// What the lens may be as the file shows it, if a field of view is known.
    fn lens(&self) -> Result<Option<PossibleLenses>, TaskError> {
        if self.fields_of_view.is_empty() {
            return Ok(None);
        }
        let lenses = PossibleLenses::new(self.capture, self.mapping, &self.fields_of_view)?;
        Ok(Some(lenses.behind_inside_crop(self.inside_crop.linear_factor())))
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CropAnswer {
    /// The capture raster.
    pub from: String,
    /// The shape, in lowest terms.
    pub to: String,
    /// How the window is rounded.
    pub rounding: Rounding,
    /// What the camera cropped before it wrote the file; none if nothing.
    pub inside_crop: Option<InsideCrop>,
    /// By how many degrees the picture is turned about its centre to stand level, clockwise positive. Windows and
    /// spare room are then those of the levelled picture.
    pub level_degrees: f64,
    /// The lens, if a field of view was given.
    pub lens: Option<LensAnswer>,
    /// Width and height of the largest window before rounding, px.
    pub largest_px: [f64; 2],
    /// Left, top, width and height of the window, px.
    pub window_px: [f64; 4],
    /// Width over height against the exact shape, less one.
    pub shape_error: f64,
    /// The window's share of the capture's area, 0 to 1.
    pub area_share: f64,
    /// Spare room on each side.
    pub spare: Spare,
    /// How soft it is, a delivered raster each.
    pub delivered: Vec<DeliveredAnswer>,
    /// What the lens does to the shapes of things in the window; none without a lens, or where it draws nothing.
    pub stretch: Option<StretchAnswer>,
    /// What a shaking mount takes, a window each, if that was asked.
    pub shake: Vec<ShakeAnswer>,
}

impl CropAnswer {
    /// Whether a shaking mount leaves room for none of the windows that were asked about. Of a lens whose mapping is
    /// unknown, each that it may be has to leave it.
    #[must_use]
    pub fn nothing_passes(&self) -> bool {
        let passes = |raster: &Option<String>| {
            self.shake.iter().filter(|other| other.raster == *raster).all(|other| other.passes)
        };
        !self.shake.is_empty() && !self.shake.iter().any(|shake| passes(&shake.raster))
    }
}

/// Spare room: left, top, right, bottom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spare {
    /// In capture px.
    pub px: [f64; 4],
    /// In % of the capture's width or height.
    pub percent_of_capture: [f64; 4],
    /// In % of the window's width or height.
    pub percent_of_window: [f64; 4],
    /// In degrees through the lens, each the difference of the angles of two edges: a number, or both ends where the
    /// mapping is unknown; none without a lens.
    pub degrees: Option<[Between; 4]>,
}

/// One delivered raster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeliveredAnswer {
    /// The raster.
    pub raster: String,
    /// How soft it is.
    #[serde(flatten)]
    pub softness: Softness,
    /// What it is as a straight-line view; none of a lens that is one already or not known.
    pub straightened: Option<StraightAnswer>,
    /// The greatest enlargement of its band; none for the last.
    pub band_up_to: Option<f64>,
    /// The share of the delivered pixels that are invented, 0 to 1.
    pub invented_share: f64,
    /// The inverse of the enlargement: px that the capture carries, an inside crop taken off, for each
    /// delivered px.
    pub capture_px_per_delivered_px: f64,
    /// Width and height of the box that essential action stays in, delivered px.
    pub action_safe_px: [u32; 2],
    /// Width and height of the box that graphics stay in, delivered px.
    pub graphics_safe_px: [u32; 2],
}

/// Answers a question about one crop, under the user's limits.
///
/// # Errors
/// [`TaskError::ShapesDiffer`] if a delivered raster is of another shape, [`TaskError::Geometry`] if the
/// window has no size after rounding, or a given width or corner pushes it out of the frame, or the roll is no
/// levelling, and [`TaskError::Lens`] if fields of view disagree or a shake is asked about without one.
pub fn crop_answer(question: &CropQuestion, limits: &Limits) -> Result<CropAnswer, TaskError> {
    let CropQuestion { capture, shape, rounding, .. } = *question;
    if let Some(delivered) = question.delivered.iter().find(|raster| raster.shape() != shape) {
        return Err(TaskError::ShapesDiffer { delivered: *delivered, shape });
    }
    let level = Levelling::from_degrees(capture, question.level_degrees)?;
    let (whole, lens) = (Region::whole(capture), question.lens()?);
    let largest = level.largest_window(&whole, shape);
    let (window, shape_error) = window_of(question, &level, largest.0)?;
    let spare = level.room(&whole, &window);
    let shake = question.shake.map_or(Ok(Vec::new()), |shake| {
        Shaken { question, level: &level, lenses: lens.as_ref(), shake: &shake }.answers(&window)
    })?;
    Ok(CropAnswer {
        from: capture.to_string(),
        to: shape.to_string(),
        rounding,
        inside_crop: Some(question.inside_crop).filter(|crop| !crop.is_none()),
        level_degrees: question.level_degrees,
        lens: lens.as_ref().map(LensAnswer::of),
        largest_px: [largest.0, largest.1],
        window_px: [window.left(), window.top(), window.width(), window.height()],
        shape_error,
        stretch: lens.as_ref().and_then(|lenses| StretchAnswer::of(lenses, &level, &window)),
        area_share: window.width() * window.height() / (capture.width() * capture.height()),
        spare: Spare {
            px: sides(spare),
            percent_of_capture: sides(spare.percent_of_capture(capture)),
            percent_of_window: sides(spare.percent_of_window(&window)),
            degrees: lens
                .as_ref()
                .map(|lenses| lenses.spare_angles(&level, &window).map(|angle| angle.to_degrees())),
        },
        delivered: question
            .delivered
            .iter()
            .map(|raster| DeliveredAnswer {
                straightened: lens
                    .as_ref()
                    .and_then(|lenses| StraightAnswer::of(question, lenses, &window, *raster)),
                ..delivered_answer(question, &window, *raster, limits)
            })
            .collect(),
        shake,
    })
}

/// The window that is asked about, and how far it is off its shape.
fn window_of(
    question: &CropQuestion,
    level: &Levelling,
    largest_width: f64,
) -> Result<(Window, f64), TaskError> {
    let CropQuestion { capture, shape, rounding, .. } = *question;
    if let Some(width) = question.width.filter(|width| *width > largest_width + 1e-6) {
        let height = shape.height_for(width);
        let corner = ((capture.width() - width) / 2.0, (capture.height() - height) / 2.0);
        // It hangs over, and the refusal says by how much.
        level.window(corner, (width, height))?;
    }
    let size = level.snapped_size(rounding, shape, question.width.unwrap_or(largest_width))?;
    // A levelled picture is resampled anyway, and its largest window has no room to either side.
    let middle = |room: f64| match rounding {
        Rounding::Even | Rounding::EvenExactShape if level.is_none() => 2.0 * (room / 4.0).floor(),
        _ => room / 2.0,
    };
    let left = question.place.0.unwrap_or_else(|| middle(capture.width() - size.width_px));
    let top = question.place.1.unwrap_or_else(|| middle(capture.height() - size.height_px));
    Ok((level.window((left, top), (size.width_px, size.height_px))?, size.shape_error))
}

pub(super) const fn sides(room: SpareRoom) -> [f64; 4] {
    [room.left_px, room.top_px, room.right_px, room.bottom_px]
}

fn delivered_answer(
    question: &CropQuestion,
    window: &Window,
    delivered: Raster,
    limits: &Limits,
) -> DeliveredAnswer {
    let inside_factor = question.inside_crop.linear_factor();
    let sharpness = question.sharpness.clone();
    let recording = Recording { inside_factor, sharpness, ..Recording::default() };
    let softness = Softness::of(window, question.capture, delivered, &recording, limits);
    let safe = SafeAreas::of(delivered);
    DeliveredAnswer {
        raster: delivered.to_string(),
        band_up_to: Band::up_to(softness.band, limits),
        invented_share: invented_share(softness.enlargement),
        capture_px_per_delivered_px: 1.0 / softness.enlargement,
        action_safe_px: [safe.action.width_px, safe.action.height_px],
        graphics_safe_px: [safe.graphics.width_px, safe.graphics.height_px],
        softness,
        straightened: None,
    }
}
