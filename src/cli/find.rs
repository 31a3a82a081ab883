use super::{
    Ending, failure::Failure, json::print_json, progress::Progress, reading::ReadingArguments,
};
use clap::Args;
use lookroom::{
    geometry::Raster,
    plan::px,
    tasks::{CancelToken, FindAnswer, FindQuestion, FoundWindow, find_action},
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

    #[command(flatten)]
    reading: ReadingArguments,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &FindArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let question = FindQuestion {
        path: arguments.clip.clone(),
        reading: arguments.reading.reading(),
        delivered: arguments.deliver.clone(),
        picture: arguments.picture.clone(),
    };
    let mut progress = Progress::new();
    let answer = find_action(&question, &mut progress, cancel);
    drop(progress);
    let answer = answer?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
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
