use super::{Ending, clip::read_turn, failure::Failure, progress::Progress};
use clap::Args;
use lookroom::{
    clip::Reading,
    geometry::{Orientation, QuarterTurn, Raster},
    plan::px,
    tasks::{CancelToken, FindAnswer, FindQuestion, FoundWindow, find_action},
    timecode::FrameRate,
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// Suggest where the action is in a clip that nobody marked
#[derive(Args)]
#[command(long_about = "\
Suggest where the action is in a clip that nobody marked: for each delivery the held window that keeps the most of \
what moves against the background, and how much more that is than the window in the middle of the frame.

It is a suggestion to start marking from, not a track: it cannot know what the shot is about. A clip that is cut is looked at \
shot by shot. Where next to nothing moves there is no suggestion.")]
pub(super) struct FindArguments {
    /// A video, a folder of numbered pictures, or a pattern of their names
    #[arg(value_name = "CLIP")]
    clip: PathBuf,

    /// Delivered rasters, separated by commas
    #[arg(long, value_name = "WxH", value_delimiter = ',', default_values = ["1080x1920", "1080x1080", "1920x1080"])]
    deliver: Vec<Raster>,

    /// Write a picture of where the action is to this file, which must not be there yet
    #[arg(long, value_name = "FILE.png")]
    picture: Option<PathBuf>,

    /// Which video track of a file with several, from 1
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..))]
    track: Option<u32>,

    /// The rate of numbered pictures, or of a video without time stamps
    #[arg(long, value_name = "RATE")]
    rate: Option<FrameRate>,

    /// Degrees clockwise that bring a camera mounted on its side upright: 90, 180 or 270
    #[arg(long, value_name = "DEGREES", default_value = "0", value_parser = read_turn)]
    turn: QuarterTurn,

    /// The picture is mirrored left to right
    #[arg(long)]
    mirror: bool,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &FindArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let orientation = Orientation { turn: arguments.turn, is_mirrored: arguments.mirror };
    let question = FindQuestion {
        path: arguments.clip.clone(),
        reading: Reading { rate: arguments.rate, track: arguments.track, orientation },
        delivered: arguments.deliver.clone(),
        picture: arguments.picture.clone(),
    };
    let mut progress = Progress::new();
    let answer = find_action(&question, &mut progress, cancel);
    drop(progress);
    let answer = answer?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        serde_json::to_writer_pretty(&mut out, &answer).map_err(io::Error::from)?;
        writeln!(out)?;
    } else {
        print(&answer, &question, &mut out)?;
    }
    let is_found = answer.shots.iter().any(|shot| shot.windows.iter().any(Option::is_some));
    Ok(if is_found { Ending::Done } else { Ending::NothingPasses })
}

fn print(answer: &FindAnswer, question: &FindQuestion, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "CLIP {}, {}", answer.path.display(), answer.raster)?;
    for shot in &answer.shots {
        let rig = shot.rig_share.map_or(String::new(), |share| {
            format!(
                "; {:.0} % of the frame stands still throughout, like a rig, and is left out",
                100.0 * share
            )
        });
        writeln!(out, "  frames {} to {}{rig}", shot.frames[0], shot.frames[1] - 1)?;
        for (delivered, found) in question.delivered.iter().zip(&shot.windows) {
            let words = found
                .as_ref()
                .map_or_else(|| "next to nothing moves: no suggestion".to_owned(), window_words);
            writeln!(out, "    {}  {delivered}: {words}", delivered.shape())?;
        }
    }
    writeln!(
        out,
        "It is a suggestion to start marking from: it cannot know what the shot is about."
    )
}

fn window_words(found: &FoundWindow) -> String {
    /// Below it the suggestion says little.
    const SURE: f64 = 0.5;
    let [left, top, width, height] = found.window_px.map(px);
    let low = if found.confidence < SURE { ", low: it says little" } else { "" };
    format!(
        "{width} x {height} at {left},{top} keeps {:.0} % of the action, the middle {:.0} %; confidence {:.2}{low}",
        100.0 * found.kept_share,
        100.0 * found.centred_share,
        found.confidence
    )
}
