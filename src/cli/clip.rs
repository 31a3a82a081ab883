use super::{
    Ending, failure::Failure, json::print_json, progress::Progress, reading::ReadingArguments,
};
use clap::Args;
use lookroom::{
    geometry::Raster,
    plan::px,
    tasks::{
        CancelToken, ClipAnswer, ClipQuestion, Decoded, Depth, USUAL_DELIVERIES, clips_that_go_on,
        describe_clip,
    },
};
use std::{
    io::Write,
    path::{Path, PathBuf},
};

/// What a file off the card is, and what it means for cropping
#[derive(Args)]
#[command(
    long_about = "\
What each file off the card is, and what it means for cropping: raster as shown, rate, frames, timecode, coding, \
bits for each px, and the enlargement E of the largest window of each delivery.

A FILE is a video, a picture, a folder of numbered pictures, or a pattern of their names (frames/%05d.jpg, or \
frames/*.png in quotes). Frames are counted, not taken from a header. Nothing is written.",
    after_help = "\
Examples:
  lookroom clip card/*.MP4
  lookroom clip --decode ride.mp4
  lookroom clip --deliver 1080x1920 --json ride.mp4"
)]
pub(super) struct ClipArguments {
    /// Videos, pictures, folders or patterns of pictures
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,

    /// Decode every frame too, and tell whether the file is whole
    #[arg(long)]
    decode: bool,

    /// Delivered rasters to measure against, separated by commas; the usual ones if not given
    #[arg(long, value_name = "WxH", value_delimiter = ',')]
    deliver: Vec<Raster>,

    #[command(flatten)]
    reading: ReadingArguments,

    /// Print the answers, and what was refused, as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &ClipArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let usual = || USUAL_DELIVERIES.into_iter().filter_map(|(w, h)| Raster::new(w, h).ok());
    let delivered =
        if arguments.deliver.is_empty() { usual().collect() } else { arguments.deliver.clone() };
    let (mut answers, mut refused, mut ending) = (Vec::new(), Vec::new(), Ending::Done);
    for path in &arguments.files {
        let question = ClipQuestion {
            path: path.clone(),
            reading: arguments.reading.reading(),
            delivered: delivered.clone(),
            depth: if arguments.decode { Depth::EveryFrame } else { Depth::Headers },
        };
        let mut progress = Progress::new();
        let answer = describe_clip(&question, &mut progress, cancel);
        drop(progress);
        cancel.check()?;
        match answer {
            Ok(answer) => {
                if answer.is_whole() == Some(false) {
                    ending = Ending::NotAll;
                }
                if !arguments.json {
                    print(&answer, &mut anstream::stdout().lock())?;
                }
                answers.push(answer);
            }
            // One file that cannot be read is no reason to keep silent of the others.
            Err(error) => {
                let failure = Failure::from(error);
                failure.print();
                refused.push(serde_json::json!({ "file": path, "why": failure.words() }));
                ending = Ending::NotAll;
            }
        }
    }
    let mut out = anstream::stdout().lock();
    if arguments.json {
        let told = serde_json::json!({ "clips": answers, "refused": refused });
        print_json(&told, &mut out)?;
    } else {
        for (before, next) in clips_that_go_on(&answers) {
            let (before, next) = (&answers[before].file, &answers[next].file);
            writeln!(
                out,
                "{} goes on where {} ends: name both with files = [...] to make them one clip",
                short_name(next),
                short_name(before)
            )?;
        }
    }
    Ok(ending)
}

fn print(answer: &ClipAnswer, out: &mut impl Write) -> Result<(), Failure> {
    writeln!(out, "{}", answer.file.display())?;
    writeln!(out, "  {}", picture_line(answer))?;
    writeln!(out, "  {}", time_line(answer))?;
    writeln!(out, "  {}", storage_line(answer))?;
    for delivery in &answer.deliveries {
        let [width, height] = delivery.window_px;
        writeln!(
            out,
            "  {:>9}  {:>5}  largest window {:>6} x {:<6}  E {:.3}  {}",
            delivery.raster,
            delivery.shape,
            px(width),
            px(height),
            delivery.enlargement,
            delivery.band
        )?;
    }
    for notice in &answer.notices {
        writeln!(out, "  note: {notice}")?;
    }
    if let Some(decoded) = &answer.decoded {
        writeln!(out, "  {}", decoded_line(answer, decoded))?;
    }
    Ok(())
}

/// The path without its folders.
fn short_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn decoded_line(answer: &ClipAnswer, decoded: &Decoded) -> String {
    let frames = format!("{} frame{}", decoded.frame_count, plural(decoded.frame_count));
    let Some(fault) = &decoded.fault else {
        return match answer.is_whole() {
            Some(false) => format!("decoded: {frames}, all that is there; it is not whole"),
            _ => format!("decoded: all of it, {frames}"),
        };
    };
    let missing: Vec<String> = decoded.missing.iter().map(ToString::to_string).collect();
    let more = if decoded.gave_up { ", and what is behind it was not looked at" } else { "" };
    format!("decoded: {frames}; could not be read: frame {}{more}; {fault}", missing.join(", "))
}

fn picture_line(answer: &ClipAnswer) -> String {
    let mut line = format!("{}, {}", answer.raster, answer.shape);
    if let Some(stored) = answer.stored_raster.as_ref().filter(|stored| **stored != answer.raster) {
        line += &format!(", stored {stored}");
    }
    if let Some(flag) = &answer.orientation_flag {
        line += &format!(", {flag} by its own flag");
    }
    line
}

fn time_line(answer: &ClipAnswer) -> String {
    let frames = format!("{} frame{}", answer.frame_count, plural(answer.frame_count));
    let mut line = match (&answer.rate, &answer.variable_rate) {
        (Some(rate), _) => format!("{rate} frames/s, constant; {frames}"),
        (None, Some(variable)) => format!(
            "variable rate, {:.3} frames/s in the mean, {:.1} to {:.1} ms apart; {frames}",
            variable.mean_per_second,
            1000.0 * variable.shortest_gap_secs,
            1000.0 * variable.longest_gap_secs
        ),
        (None, None) => frames,
    };
    if let Some(secs) = answer.duration_secs {
        line += &format!(", {secs:.3} s");
    }
    if let Some(start) = &answer.start_timecode {
        line += &format!(", from {start}");
    }
    line
}

fn storage_line(answer: &ClipAnswer) -> String {
    let mut parts = vec![answer.coding.clone()];
    parts.extend(answer.bit_depth.map(|bits| format!("{bits} bits")));
    parts.extend(answer.bit_rate.map(|rate| format!("{:.2} Mb/s", rate / 1e6)));
    parts.extend(answer.bits_per_px.map(|bits| {
        let thin = if answer.is_thin { ", thin: taken to be a band softer" } else { "" };
        format!("{bits:.3} bits for each px{thin}")
    }));
    if answer.video_tracks > 0 {
        parts.push(format!(
            "{} video track{}",
            answer.video_tracks,
            plural(answer.video_tracks as u64)
        ));
        parts.push(match answer.audio_tracks {
            0 => "no sound".to_owned(),
            1 => "1 track of sound".to_owned(),
            count => format!("{count} tracks of sound"),
        });
    }
    parts.push(format!("{} bytes", answer.byte_count));
    parts.join(", ")
}

const fn plural(count: u64) -> &'static str {
    if count == 1 { "" } else { "s" }
}
