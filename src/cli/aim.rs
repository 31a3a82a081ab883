use super::{Ending, failure::Failure, json::print_json, lens::LensArguments};
use clap::{ArgGroup, Args};
use lookroom::{
    geometry::{InsideCrop, Raster, Shape},
    lens::Between,
    mount::CAUTIONS,
    plan::px,
    tasks::{AimAnswer, AimQuestion, aim_answer, still_raster},
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// On location: from rows of one still to degrees of tilt and centimetres of height
#[derive(Args)]
#[command(
    group = ArgGroup::new("picture").args(["from", "still"]).required(true),
    group = ArgGroup::new("seen_rows").args(["subject_top", "subject_bottom", "horizon", "rig_top"]).multiple(true).required(true),
    long_about = "\
On location, with one still and no other file: say on which row of it the subject's top, its bottom, the horizon or the edge of a \
part of the rig lies, and what the shape asks. The answer is whether the largest window keeps it all; and if not, by how many degrees \
to tilt the camera or by how many centimetres to raise or lower it, or how much smaller the window would be as it stands.

Rows count from the top of the still as it is shown, on its middle column, with the camera standing level. Heights need the distance, \
and the tilt or the horizon. If nothing is said of the lens's mapping, it may be either a straight-line or an equal-angle one, and \
the answer is told from-to.",
    after_help = "\
Examples:
  lookroom aim --from 4000x3000 --fov-horizontal 90 --mapping rectilinear --to 1080x1920 --blocked-top 0.12 --subject-top 300
  lookroom aim --still test.jpg --fov-vertical 74 --to 9:16 --subject-top 300 --headroom 0.12 --horizon 1500 --distance 2"
)]
pub(super) struct AimArguments {
    /// The still's size, as it is shown
    #[arg(long, value_name = "WxH")]
    from: Option<Raster>,

    /// The still itself, of which only the size is taken
    #[arg(long, value_name = "PICTURE")]
    still: Option<PathBuf>,

    /// The shape, for example 9:16, or the delivered raster, for example 1080x1920
    #[arg(long, value_name = "SHAPE")]
    to: String,

    #[command(flatten)]
    lens: LensArguments,

    /// What the camera cropped before it wrote the still (a stabiliser does), and what the share is of:
    /// per-side:0.1, of-width:0.1 or of-area:0.1; fields of view are of the picture without it
    #[arg(long, value_name = "OF:SHARE", allow_negative_numbers = true)]
    inside_crop: Option<InsideCrop>,

    /// The row of the subject's top
    #[arg(long, value_name = "ROW")]
    subject_top: Option<f64>,

    /// Wanted room above the subject's top, share of the window's height; --blocked-top counts where it is more
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = read_share)]
    headroom: f64,

    /// The row of the subject's bottom
    #[arg(long, value_name = "ROW")]
    subject_bottom: Option<f64>,

    /// Wanted room below the subject's bottom, share of the window's height; --blocked-bottom counts where it is more
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = read_share)]
    room_below: f64,

    /// The row of the horizon, which is then to be inside
    #[arg(long, value_name = "ROW")]
    horizon: Option<f64>,

    /// Wanted room above the horizon, share of the window's height
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = read_share)]
    above_horizon: f64,

    /// The row up to which a part of the rig reaches from below; it is to be outside
    #[arg(long, value_name = "ROW")]
    rig_top: Option<f64>,

    /// What captions or buttons cover at the top, share of the window's height
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = read_share)]
    blocked_top: f64,

    /// What they cover at the bottom
    #[arg(long, value_name = "SHARE", default_value_t = 0.0, value_parser = read_share)]
    blocked_bottom: f64,

    /// How far away the subject is, in metres along the ground
    #[arg(long, value_name = "METRES", value_parser = read_distance)]
    distance: Option<f64>,

    /// How many degrees below level the camera looks, by a phone's level
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = read_tilt)]
    tilt_down: Option<f64>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

fn read_within(text: &str, least: f64, greatest: f64) -> Result<f64, String> {
    let number = text.parse::<f64>().map_err(|_| format!("`{text}` is not a number"))?;
    if (least..=greatest).contains(&number) {
        Ok(number)
    } else {
        Err(format!("{number} is out of range, expected {least} to {greatest}"))
    }
}

fn read_share(text: &str) -> Result<f64, String> {
    read_within(text, 0.0, 0.9)
}

fn read_distance(text: &str) -> Result<f64, String> {
    read_within(text, 0.1, 10_000.0)
}

fn read_tilt(text: &str) -> Result<f64, String> {
    read_within(text, -89.0, 89.0)
}

pub(super) fn run(arguments: &AimArguments) -> Result<Ending, Failure> {
    let still = match (&arguments.still, arguments.from) {
        (Some(path), _) => still_raster(path)?,
        (None, Some(raster)) => raster,
        (None, None) => unreachable!("the command line asks for one of them"),
    };
    let delivered = arguments.to.parse::<Raster>().ok();
    let shape = arguments.to.parse::<Shape>().map_err(lookroom::tasks::TaskError::from)?;
    let with = |row: Option<f64>, share: f64| row.map(|row| (row, share));
    let answer = aim_answer(&AimQuestion {
        still,
        shape,
        delivered,
        mapping: arguments.lens.mapping_or_unknown(),
        inside_crop: arguments.inside_crop.unwrap_or_default(),
        fields_of_view: arguments.lens.fields_of_view()?,
        blocked: (arguments.blocked_top, arguments.blocked_bottom),
        subject_top: with(arguments.subject_top, arguments.headroom),
        subject_bottom: with(arguments.subject_bottom, arguments.room_below),
        horizon: with(arguments.horizon, arguments.above_horizon),
        rig_top: arguments.rig_top,
        distance_m: arguments.distance,
        tilt_down_degrees: arguments.tilt_down,
    })?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print(&answer, shape, &mut out)?;
    }
    let is_refused = !answer.fits
        && answer.tilt_down_degrees.is_none()
        && answer.raise_m.is_none()
        && answer.smaller_window_px.is_none();
    Ok(if is_refused { Ending::NothingPasses } else { Ending::Done })
}

fn print(answer: &AimAnswer, shape: Shape, out: &mut impl Write) -> io::Result<()> {
    if let (Some([_, _, width, height]), Some([from, to])) =
        (answer.full_window_px, answer.top_from_to_px)
    {
        writeln!(
            out,
            "{shape} fits as the camera stands: {} x {} px, its top from row {} to {}",
            px(width),
            px(height),
            px(from),
            px(to)
        )?;
    } else {
        print_changes(answer, shape, out)?;
    }
    writeln!(
        out,
        "by the rows of the still through {}; windows, px and E do not depend on the lens, degrees and centimetres do",
        answer.lens
    )?;
    writeln!(out, "{}", CAUTIONS[0])
}

fn print_changes(answer: &AimAnswer, shape: Shape, out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "{shape} does not fit as the camera stands, by {} px of the largest window",
        px(answer.missing_px)
    )?;
    match &answer.tilt_down_degrees {
        Some(tilt) => writeln!(
            out,
            "  tilt {} degrees {}",
            magnitude(tilt, |degrees| format!("{degrees:.2}")),
            if tilt.to() <= 0.0 { "up" } else { "down" }
        )?,
        None if answer.too_tall_px > 0.0 => writeln!(
            out,
            "  no tilt and no height helps: the subject with its room is {} px taller than the shape; go further back",
            px(answer.too_tall_px)
        )?,
        None => writeln!(
            out,
            "  no tilt helps: what has to be out moves with the camera, or it is too much for the shape"
        )?,
    }
    match &answer.raise_m {
        Some(raise) => {
            let word = if raise.from() < 0.0 { "lower" } else { "raise" };
            let centimetres = magnitude(raise, |metres| format!("{:.0}", (100.0 * metres).ceil()));
            writeln!(out, "  or {word} the camera by {centimetres} cm")?;
        }
        None if answer.too_tall_px > 0.0 => {}
        None if answer.knows_heights => writeln!(out, "  no other height helps")?,
        None => writeln!(
            out,
            "  with --distance, and --horizon or --tilt-down, it is told in centimetres of height too"
        )?,
    }
    if let Some([left, top, width, height]) = answer.smaller_window_px {
        let enlarged = answer.enlargements.and_then(|[_, smaller]| smaller);
        let enlarged = enlarged.map_or(String::new(), |e| format!(", E {e:.3}"));
        writeln!(
            out,
            "  or accept a smaller window as it stands: {:.1} x {:.1} px at {:.1},{:.1}{enlarged}",
            width, height, left, top
        )?;
    } else {
        writeln!(
            out,
            "  and no window as it stands that is {} px wide or more keeps everything: {}",
            px(answer.least_width_px),
            match answer.enlargements {
                Some(_) => "a smaller one would be enlarged too much",
                None =>
                    "a smaller one is not half the shape; with a delivered raster in --to it is held to that",
            }
        )?;
    }
    Ok(())
}

/// A range without its sign, the lesser end first.
fn magnitude(range: &Between, print: impl Fn(f64) -> String) -> String {
    let ends = [range.from().abs(), range.to().abs()];
    Between::all(ends).unwrap_or(*range).words(print)
}
