use super::{Ending, failure::Failure, json::print_json};
use clap::Args;
use lookroom::{
    delivery::{Limit, Limits},
    plan::px,
    sharpness::{
        Confidence, EdgeDirection, EdgeRegion, EdgeResponse, FineDetail, MeasuredSharpness,
        ToneCurve, ToneCurveError,
    },
    tasks::{CurveSource, EdgeAnswer, SharpnessAnswer, SharpnessQuestion, sharpness_answer},
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// Measure how sharp a still is: a slanted edge in it, or the finest detail that it carries
#[derive(Args)]
#[command(
    long_about = "\
Measure how sharp a still is: one frame of a clip, or a chart taken with the camera.

With --region, the spatial frequency response of a slanted edge (ISO 12233's e-SFR): how much contrast each fineness \
of detail keeps, and MTF50, the frequency at which half is left. The region holds one straight edge, some 5 degrees \
off upright or level, dark on one side and light on the other.

Without it, an estimate from the picture alone: how many px across and down its detail needs, and whether it shows that it \
was enlarged. Take it for a hint: hard edges, noise and repeated compression mislead it. It is what this picture carries; a soft lens, a long exposure, thin bits and an enlargement end detail alike, \
and only the last leaves a trace. Exit status 3 if nothing can be told (sky, fog, blur).",
    after_help = "\
Examples:
  lookroom sharpness frame.png
  lookroom sharpness chart.tif --region 130,66,120x260 --curve tones.txt
  lookroom sharpness chart.png --region 1800,200,120x260 --curve srgb --out corner.csv"
)]
pub(super) struct SharpnessArguments {
    /// The still: PNG, JPEG or TIFF
    #[arg(value_name = "STILL")]
    still: PathBuf,

    /// The part with the edge: its left and top, and its size, in px
    #[arg(long, value_name = "LEFT,TOP,WxH", allow_hyphen_values = true)]
    region: Option<EdgeRegion>,

    /// The tone curve that is taken out first: srgb, a gamma such as 2.2, or a file with an exposure and its code
    /// value on each line; code values as they are if not given
    #[arg(long, value_name = "FILE|srgb|GAMMA", requires = "region", value_parser = read_curve)]
    curve: Option<CurveSource>,

    /// Write the response as a table to this file, which must not be there yet
    #[arg(long, value_name = "FILE.csv", requires = "region")]
    out: Option<PathBuf>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

fn read_curve(text: &str) -> Result<CurveSource, ToneCurveError> {
    match text.parse() {
        Ok(curve) => Ok(CurveSource::Known(curve)),
        // Neither word nor number: the name of a file.
        Err(ToneCurveError::NotACurve { text }) => Ok(CurveSource::File(PathBuf::from(text))),
        Err(fault) => Err(fault),
    }
}

pub(super) fn run(arguments: &SharpnessArguments) -> Result<Ending, Failure> {
    let as_coded = CurveSource::Known(ToneCurve::AsCoded);
    let answer = sharpness_answer(&SharpnessQuestion {
        path: arguments.still.clone(),
        region: arguments.region,
        curve: arguments.curve.clone().unwrap_or(as_coded),
        table: arguments.out.clone(),
    })?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print(&answer, &mut out)?;
    }
    let is_told = answer.edge.is_some() || answer.detail.is_some();
    Ok(if is_told { Ending::Done } else { Ending::NothingPasses })
}

fn print(answer: &SharpnessAnswer, out: &mut impl Write) -> io::Result<()> {
    let [width, height] = answer.raster_px;
    writeln!(out, "STILL {}, {width}x{height}", answer.path.display())?;
    if let Some(edge) = &answer.edge {
        print_edge(edge, out)?;
    }
    if let Some(detail) = &answer.detail {
        print_detail(detail, [width, height], out)?;
    }
    if let Some(why) = &answer.cannot_tell {
        writeln!(out, "cannot tell: {why}")?;
    }
    Ok(())
}

fn print_edge(edge: &EdgeAnswer, out: &mut impl Write) -> io::Result<()> {
    let [left, top, width, height] = edge.region_px;
    let response = &edge.response;
    let (stands, lines, way) = match response.direction {
        EdgeDirection::Stands => ("off upright", "rows", "across"),
        EdgeDirection::Lies => ("off level", "columns", "down"),
    };
    writeln!(
        out,
        "edge in {width}x{height} at {left},{top}: {:+.2} degrees {stands}, {} {lines} used",
        response.angle_degrees, response.lines_used
    )?;
    match response.mtf50_cycles_per_px.zip(response.mtf50_deviation) {
        Some((mtf50, deviation)) => writeln!(
            out,
            "MTF50 {mtf50:.3} cycles/px {way}, give or take {deviation:.3} by noise; px can carry 0.5"
        )?,
        None => writeln!(out, "MTF50 above 1 cycle/px {way}: no camera's edge, a drawn one")?,
    }
    print_contrast(response, out)?;
    writeln!(
        out,
        "  rises from 10 to 90 % over {:.2} px; noise {:.1} % of the step; {:.1} % of the px clipped",
        response.rise_px,
        100.0 * response.noise_share,
        100.0 * response.clipped_share
    )?;
    if response.peak > SHARPENED {
        writeln!(
            out,
            "  sharpened: contrast rises to {:.0} %, and MTF50 flatters the lens",
            100.0 * response.peak
        )?;
    }
    writeln!(out, "  {}", edge.tone_curve)?;
    if edge.tone_curve == ToneCurve::AsCoded.words() {
        writeln!(
            out,
            "  cameras bend tones: name their curve with --curve, srgb if nothing else is known"
        )?;
    }
    let (least, greatest) = MeasuredSharpness::MTF50_LIMITS;
    match response.mtf50_cycles_per_px {
        Some(mtf50) if (least..=greatest).contains(&mtf50) => {
            print_for_plan(edge.off_centre, mtf50, out)
        }
        _ => writeln!(out, "  no camera's edge in focus, and nothing for a plan"),
    }
}

/// How much contrast is left at some frequencies.
fn print_contrast(response: &EdgeResponse, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "  contrast left at")?;
    for wanted in [0.1, 0.2, 0.3, 0.4, 0.5] {
        let off = |cycles: f64| (cycles - wanted).abs();
        let nearest = response
            .curve
            .iter()
            .min_by(|a, b| off(a.cycles_per_px).total_cmp(&off(b.cycles_per_px)));
        if let Some(point) = nearest {
            writeln!(
                out,
                "    {:.3} cycles/px  {:5.1} %",
                point.cycles_per_px,
                100.0 * point.modulus
            )?;
        }
    }
    Ok(())
}

/// What the measurement makes of the px about it, and how a plan is told.
fn print_for_plan(off_centre: f64, mtf50: f64, out: &mut impl Write) -> io::Result<()> {
    let full = Limits::default().number(Limit::FullMtf50);
    writeln!(
        out,
        "  a px there counts for {:.0} % of one in full, which is MTF50 {full} (limit full_mtf50)",
        100.0 * (mtf50 / full).min(1.0)
    )?;
    writeln!(
        out,
        "  if this is a whole frame in the clip's own mode, stabiliser and all, write in the shoot file, of its camera or of the \
         clip, with more places of the frame beside it:"
    )?;
    writeln!(out, "    sharpness = [{{ off_centre = {off_centre:.2}, mtf50 = {mtf50:.3} }}]")
}

/// A response that rises above this was sharpened; noise seldom lifts it so far. Chosen.
const SHARPENED: f64 = 1.05;

fn print_detail(
    detail: &FineDetail,
    [width, height]: [usize; 2],
    out: &mut impl Write,
) -> io::Result<()> {
    let about = |px_count: f64| px((px_count / 10.0).round() * 10.0);
    writeln!(
        out,
        "carries about {} of {width} px across, {} of {height} px down; {}",
        about(detail.carried_across_px),
        about(detail.carried_down_px),
        match detail.confidence {
            Confidence::Good =>
                "it shows the trace of an enlargement; of such traces nine in ten told the right factor",
            Confidence::Fair =>
                "an estimate, on enlarged stills within a third three times in four",
            Confidence::Low => "a weak estimate: across and down disagree",
        }
    )?;
    match detail.enlarged_by {
        Some(factor) => writeln!(
            out,
            "it was enlarged by about {factor:.2}: what lies between px repeats with that period"
        ),
        None => writeln!(
            out,
            "no trace of an enlargement (one by exactly 2, or one that was recompressed hard, may leave none)"
        ),
    }
}
