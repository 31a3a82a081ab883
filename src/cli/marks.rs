use super::{Ending, failure::Failure, progress::Progress};
use clap::Args;
use lookroom::tasks::{CancelToken, MarkingOptions, marking_sheets};
use std::{io::Write as _, path::PathBuf};

/// Write a page for each clip on which you mark the subject with the pointer
#[derive(Args)]
#[command(long_about = "\
Write a page for each clip on which you mark the subject with the pointer, without typing numbers.

Each CLIP_marking-sheet.html is one file with its frames inside; it needs no server and no network. Open it in a browser, \
draw boxes, and save: your browser writes a new marks file, which you put where the shoot file names it. It has every \
row of the old one, but for those of that clip that you changed. A marks file that is not there yet, and clips without a \
mark, are what this is for.")]
pub(super) struct MarksArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Only this clip
    #[arg(long, value_name = "NAME")]
    clip: Option<String>,

    /// How many evenly spaced frames to show, beside those that are marked already
    #[arg(long, value_name = "COUNT", default_value_t = 12, value_parser = clap::value_parser!(u32).range(2..=200))]
    frames: u32,

    /// Folder to write to, instead of the shoot file's own
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
}

pub(super) fn run(arguments: &MarksArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let options = MarkingOptions {
        shoot: arguments.shoot.clone(),
        out: arguments.out.clone(),
        clip: arguments.clip.clone(),
        frames: arguments.frames,
    };
    let mut progress = Progress::new();
    let done = marking_sheets(&options, &mut progress, cancel);
    drop(progress);
    let done = done?;
    let mut out = anstream::stdout().lock();
    writeln!(out, "WRITTEN to {}", done.folder.display())?;
    for page in &done.pages {
        writeln!(out, "  {page}")?;
    }
    writeln!(out, "Open a page in a browser, draw boxes on a few frames, and save.")?;
    Ok(Ending::Done)
}
