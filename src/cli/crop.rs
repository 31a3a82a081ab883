use super::{
    Ending,
    failure::Failure,
    json::print_json,
    lens::{LensArguments, ShakeArguments, print_lens, print_shake, print_stretch},
};
use clap::Args;
use lookroom::{
    delivery::{Limit, Limits},
    geometry::{GeometryError, InsideCrop, Raster, Rounding, Shape},
    plan::{inside_crop_words, px},
    sharpness::{Band, MeasuredSharpness, SharpPlace},
    tasks::{CropAnswer, CropQuestion, DeliveredAnswer, crop_answer},
};
use std::io::Write as _;

/// One crop, without any file: the window, its spare room, and how soft it is
#[derive(Args)]
#[command(
    long_about = "\
One crop, without any file: the largest window of a shape in a capture raster, the spare room on each side, and \
how soft it is in each delivered raster.

Enlargement E is delivered px for each window px: above 1, pixels are invented. With an inside crop, each window \
px carries less than one sensor px, and E is stated with that.

With a field of view, of a spec sheet or by a tape before a wall, spare room is told in degrees too. The lens is taken \
for a straight-line one unless --mapping says otherwise; with --mapping unknown, what depends on it is told as a range. \
With --shake, it is told whether each delivered raster can be had one for one (E 1) from a shaking mount, with the \
whole picture turned through the lens; with --width, that window is held to it. Exit status 3 if none of them can.",
    after_help = "\
Examples:
  lookroom crop --from 4000x3000 --to 16:9 --deliver 3840x2160,1920x1080
  lookroom crop --from 4000x3000 --to 1080x1920 --left 2312
  lookroom crop --from 4000x3000 --to 3840x2160 --inside-crop of-width:0.1
  lookroom crop --from 4000x3000 --to 1080x1920 --left 2312 --mtf50 0.19
  lookroom crop --from 4000x3000 --to 3840x2160 --level 6
  lookroom crop --from 4000x3000 --to 3840x2160 --fov-horizontal 90 --shake 1.5 --roll 1
  lookroom crop --from 4000x3000 --to 16:9 --seen-width 3.4 --at-distance 2 --mapping unknown"
)]
pub(super) struct CropArguments {
    /// The capture raster, for example 4000x3000
    #[arg(long, value_name = "WxH")]
    from: Raster,

    /// The shape, for example 16:9, or the delivered raster, for example 1080x1920
    #[arg(long, value_name = "SHAPE", value_parser = read_target)]
    to: Target,

    /// Delivered rasters of that shape, separated by commas
    #[arg(long, value_name = "WxH", value_delimiter = ',')]
    deliver: Vec<Raster>,

    /// The window's left edge in capture px; in the middle if not given
    #[arg(long, value_name = "PX", allow_negative_numbers = true)]
    left: Option<f64>,

    /// The window's top edge in capture px; in the middle if not given
    #[arg(long, value_name = "PX", allow_negative_numbers = true)]
    top: Option<f64>,

    /// The window's width in capture px; the largest if not given
    #[arg(long, value_name = "PX", allow_negative_numbers = true)]
    width: Option<f64>,

    /// By how many degrees the picture is turned about its centre to stand level, clockwise positive
    #[arg(long, value_name = "DEGREES", default_value_t = 0.0, allow_negative_numbers = true)]
    level: f64,

    #[command(flatten)]
    lens: LensArguments,

    #[command(flatten)]
    shake: ShakeArguments,

    /// How the window is rounded: exact (not at all), even, even-exact-shape
    #[arg(long, value_name = "HOW", default_value = "even")]
    rounding: Rounding,

    /// What the camera cropped before it wrote the file (a stabiliser does), and what the share is of:
    /// per-side:0.1, of-width:0.1 or of-area:0.1
    #[arg(long, value_name = "OF:SHARE", allow_negative_numbers = true)]
    inside_crop: Option<InsideCrop>,

    /// How sharp the file is where the window lies, as `lookroom sharpness` measured it there, in cycles/px: the band is
    /// then that of an equally soft window of sharp px
    #[arg(long, value_name = "CYCLES", value_parser = read_mtf50)]
    mtf50: Option<MeasuredSharpness>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

/// One measurement that stands for the whole frame.
fn read_mtf50(text: &str) -> Result<MeasuredSharpness, String> {
    let (least, greatest) = MeasuredSharpness::MTF50_LIMITS;
    text.parse()
        .ok()
        .and_then(|mtf50_cycles_per_px| {
            MeasuredSharpness::new(vec![SharpPlace { off_centre: 0.0, mtf50_cycles_per_px }])
        })
        .ok_or_else(|| format!("expected cycles/px, {least} to {greatest}, for example 0.31"))
}

/// The shape that is asked for, and the raster it was named by, if it was.
#[derive(Clone, Copy)]
struct Target {
    shape: Shape,
    raster: Option<Raster>,
}

fn read_target(text: &str) -> Result<Target, GeometryError> {
    Ok(Target { shape: text.parse()?, raster: text.parse().ok() })
}

pub(super) fn run(arguments: &CropArguments) -> Result<Ending, Failure> {
    let Target { shape, raster } = arguments.to;
    let named = raster.filter(|raster| !arguments.deliver.contains(raster));
    let question = CropQuestion {
        capture: arguments.from,
        shape,
        delivered: named.into_iter().chain(arguments.deliver.iter().copied()).collect(),
        place: (arguments.left, arguments.top),
        rounding: arguments.rounding,
        inside_crop: arguments.inside_crop.unwrap_or_default(),
        sharpness: arguments.mtf50.clone(),
        width: arguments.width,
        level_degrees: arguments.level,
        fields_of_view: arguments.lens.fields_of_view()?,
        mapping: arguments.lens.mapping(),
        shake: arguments.shake.shake()?,
    };
    let limits = Limits::default();
    let answer = crop_answer(&question, &limits)?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print_window(&answer, &mut out)?;
        if let Some(told) = inside_crop_words(&question.inside_crop, question.capture) {
            writeln!(out, "{told}")?;
        }
        print_softness(&answer, &limits, &mut out)?;
        print_stretch(&answer, &mut out)?;
        print_shake(&answer, &arguments.shake, &mut out)?;
    }
    Ok(if answer.nothing_passes() { Ending::NothingPasses } else { Ending::Done })
}

fn print_window(answer: &CropAnswer, out: &mut impl std::io::Write) -> Result<(), Failure> {
    let [left, top, width, height] = answer.window_px;
    let [spare_left, spare_top, spare_right, spare_bottom] = answer.spare.px;
    writeln!(
        out,
        "{} window in {}: {} x {} px at {},{}, {:.1} % of the capture's area",
        answer.to,
        answer.from,
        px(width),
        px(height),
        px(left),
        px(top),
        100.0 * answer.area_share
    )?;
    print_lens(answer, out)?;
    if answer.shape_error.abs() > 0.0 {
        writeln!(
            out,
            "  before rounding {} x {} px; the shape is off by {:+.3} %",
            px(answer.largest_px[0]),
            px(answer.largest_px[1]),
            100.0 * answer.shape_error
        )?;
    }
    let is_level = answer.level_degrees.abs() <= 0.0;
    let of_what = if is_level { "" } else { " to the edges of the turned frame, square to them" };
    writeln!(out, "spare room{of_what}")?;
    let sides = ["left", "top", "right", "bottom"];
    for (place, side) in sides.into_iter().enumerate() {
        let degrees = answer.spare.degrees.map_or(String::new(), |degrees| {
            format!("   {:>7} degrees", format!("{:.3}", degrees[place]))
        });
        writeln!(
            out,
            "  {side:6} {:>8} px   {:5.2} % of the capture   {:6.2} % of the window{degrees}",
            px(answer.spare.px[place]),
            answer.spare.percent_of_capture[place],
            answer.spare.percent_of_window[place]
        )?;
    }
    if is_level {
        writeln!(
            out,
            "  left {} + {} + right {} px, top {} + {} + bottom {} px",
            px(spare_left),
            px(width),
            px(spare_right),
            px(spare_top),
            px(height),
            px(spare_bottom)
        )?;
    }
    Ok(())
}

fn print_softness(
    answer: &CropAnswer,
    limits: &Limits,
    out: &mut impl std::io::Write,
) -> Result<(), Failure> {
    for delivered in &answer.delivered {
        print_delivered(delivered, out)?;
    }
    if !answer.delivered.is_empty() {
        writeln!(out, "bands (common practice; change them in a shoot file)")?;
        for band in Band::ALL {
            match band.up_to(limits) {
                Some(greatest) => writeln!(out, "  E up to {greatest:.2}  {band}")?,
                None => writeln!(out, "  E above {:.2}  {band}", limits.number(Limit::BandPhone))?,
            }
        }
    }
    Ok(())
}

fn print_delivered(
    delivered: &DeliveredAnswer,
    out: &mut impl std::io::Write,
) -> Result<(), Failure> {
    let softness = &delivered.softness;
    writeln!(
        out,
        "in {}: E {:.4}{}, {}; carries {} x {} px, {:.1} % across and {:.1} % down{}",
        delivered.raster,
        softness.enlargement,
        softness.measured.map_or(String::new(), |as_soft| {
            format!(" and as soft as {:.2}", as_soft.as_soft_as)
        }),
        softness.band,
        px(softness.carried_across_px),
        px(softness.carried_down_px),
        100.0 * softness.kept_across,
        100.0 * softness.kept_down,
        softness
            .stricter_words()
            .map_or(String::new(), |reasons| format!("; one band stricter, {reasons}"))
    )?;
    if let Some(measured) = &softness.measured {
        writeln!(out, "  {measured}")?;
    }
    writeln!(
        out,
        "  safe for action {} x {}, for graphics {} x {} delivered px{}",
        delivered.action_safe_px[0],
        delivered.action_safe_px[1],
        delivered.graphics_safe_px[0],
        delivered.graphics_safe_px[1],
        if delivered
            .raster
            .parse::<Raster>()
            .is_ok_and(|r| (r.shape().wide(), r.shape().high()) == (16, 9))
        {
            ""
        } else {
            " (the published boxes are for 16:9; this is their extension)"
        }
    )?;
    Ok(())
}
