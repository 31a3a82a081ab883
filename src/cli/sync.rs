use super::{Ending, failure::Failure, json::print_json};
use clap::Args;
use lookroom::{
    tasks::{SyncAnswer, SyncQuestion, sync_answer},
    timecode::{Clap, FrameIndex, FrameRate, Matching},
};
use std::io::Write;

/// Two recordings brought together by claps: offset, drift, and the frame that matches a frame
#[derive(Args)]
#[command(
    long_about = "\
Two recordings at the same rate, brought together by claps: offset, drift, and where frames of the first lie in the \
second, without any file.

Frames count from 0. Name the frame of each recording on which a clap is seen, one clap for the offset alone, and a \
second one, at the end, for the drift. A matching frame is a real number; both frames beside it are told.",
    after_help = "\
Examples:
  lookroom sync --rate 50 --clap 412,655
  lookroom sync --rate 50 --clap 412,655 --end-clap 90412,90652 --frame 45412
  lookroom sync --rate 50 --clap 412,655 --clapper-distance 50"
)]
pub(super) struct SyncArguments {
    /// The rate of both recordings, for example 50 or 30000/1001
    #[arg(long, value_name = "RATE")]
    rate: FrameRate,

    /// The frames of the first and the second recording on which a clap at the start is seen
    #[arg(long, value_name = "FIRST,SECOND", value_parser = read_clap)]
    clap: Clap,

    /// The same of a clap at the end, for the drift
    #[arg(long, value_name = "FIRST,SECOND", value_parser = read_clap)]
    end_clap: Option<Clap>,

    /// Frames of the first recording to find in the second, separated by commas
    #[arg(long, value_name = "FRAMES", value_delimiter = ',', value_parser = read_frame)]
    frame: Vec<u64>,

    /// How far away the clapper was, in metres: how late it is heard
    #[arg(long, value_name = "METRES", allow_negative_numbers = true)]
    clapper_distance: Option<f64>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

fn read_frame(text: &str) -> Result<u64, String> {
    let frame = text.trim().parse();
    frame.map_err(|_| format!("`{text}` is no frame; write whole numbers from 0, such as 0,412"))
}

fn read_clap(text: &str) -> Result<Clap, String> {
    let frame = |text: &str| text.trim().parse().map(FrameIndex).ok();
    let both = text.split_once(',').and_then(|(a, b)| Some((frame(a)?, frame(b)?)));
    both.map(|(first, second)| Clap { first, second })
        .ok_or_else(|| format!("`{text}` is no clap; write two frames from 0, such as 412,655"))
}

pub(super) fn run(arguments: &SyncArguments) -> Result<Ending, Failure> {
    let answer = sync_answer(&SyncQuestion {
        rate: arguments.rate,
        start: arguments.clap,
        end: arguments.end_clap,
        frames: arguments.frame.iter().copied().map(FrameIndex).collect(),
        clapper_distance_m: arguments.clapper_distance,
    })?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print(&answer, arguments, &mut out)?;
    }
    Ok(Ending::Done)
}

fn print(
    answer: &SyncAnswer,
    arguments: &SyncArguments,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let clap = arguments.clap;
    writeln!(
        out,
        "offset {} frames, {:.4} s at {} frames/s: frame {} of the first is frame {} of the second",
        answer.offset_frames, answer.offset_secs, answer.rate, clap.first, clap.second
    )?;
    if let (Some(end), Some(offset)) = (arguments.end_clap, answer.end_offset_frames) {
        writeln!(
            out,
            "offset {offset} frames at the end: frame {} of the first is frame {} of the second",
            end.first, end.second
        )?;
    }
    if let Some(words) = drift_words(answer) {
        writeln!(out, "{words}")?;
    }
    for matching in &answer.matching {
        writeln!(out, "{}", matching_words(matching))?;
    }
    if let Some(sound) = answer.sound {
        writeln!(
            out,
            "a clap {} m away is heard {:.4} s late, {:.2} frames, at {} m/s (20 °C): use the frame on which it is seen",
            sound.distance_m, sound.delay_secs, sound.delay_frames, sound.speed_m_per_sec
        )?;
    }
    for note in &answer.notes {
        writeln!(out, "note: {note}")?;
    }
    Ok(())
}

fn drift_words(answer: &SyncAnswer) -> Option<String> {
    let (ppm, of_a_frame) = (answer.drift_ppm?, answer.drift_of_a_frame_ppm?);
    let an_hour = answer.drift_frames_an_hour?.abs();
    let how = if ppm < 0.0 {
        format!("the second counts {:.1} frames in a million fewer, {an_hour:.1} an hour", -ppm)
    } else if ppm > 0.0 {
        format!("the second counts {ppm:.1} frames in a million more, {an_hour:.1} an hour")
    } else {
        "both count alike".to_owned()
    };
    Some(format!(
        "drift {ppm:+.1} ppm: {how}; a frame more or less at a clap is {of_a_frame:.1} ppm"
    ))
}

fn matching_words(matching: &Matching) -> String {
    let Matching { first_frame, second_frame, neighbours: [below, above], residual_frames } =
        matching;
    let place = (second_frame * 1000.0).round() / 1000.0;
    let found = format!("frame {first_frame} of the first is frame {place} of the second");
    let begun = if *second_frame < 0.0 { ", which had not begun" } else { "" };
    if below == above {
        return format!("{found}{begun}");
    }
    let off = residual_frames.abs();
    if off >= 0.5 {
        return format!("{found}{begun}: {below} and {above} are as near, each half a frame off");
    }
    let (nearest, other) = if *residual_frames > 0.0 { (below, above) } else { (above, below) };
    format!(
        "{found}{begun}: {nearest} is the nearest, {off:.3} of a frame off, and {other} the next"
    )
}
