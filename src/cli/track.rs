use super::{Ending, failure::Failure, progress::Progress};
use clap::Args;
use lookroom::tasks::{CancelToken, TrackDone, track_shoot};
use std::{io::Write as _, path::PathBuf};

/// Follow the marked subjects through the pictures, and write a track for each clip
#[derive(Args)]
#[command(long_about = "\
Follow the marked subjects through the pictures, and write a track for each clip.

Marks are the truth: between two marks a subject is followed forward from the first and backward from the second. Where both \
disagree, and where it is lost, the frame to mark is named; where it is gone or lost there is no box and no guess. \
The tracks folder beside the marks file then holds, for each clip:
  CLIP_track.csv         a box and its confidence for every frame
  CLIP_track.json        what it was made from, where it is weak, and which frames to mark
  CLIP_track-strip.png   frames with the boxes on them, to check by eye

`lookroom plan` uses a track as long as its marks and its footage are as they were. A table that you changed by hand is used, and is \
never overwritten.")]
pub(super) struct TrackArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Print what was found as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &TrackArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let mut progress = Progress::new();
    let done = track_shoot(&arguments.shoot, &mut progress, cancel);
    drop(progress);
    let done = done?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        serde_json::to_writer_pretty(&mut out, &done).map_err(std::io::Error::from)?;
        writeln!(out)?;
    } else {
        print(&done, &mut out)?;
    }
    Ok(Ending::Done)
}

fn print(done: &TrackDone, out: &mut impl std::io::Write) -> Result<(), Failure> {
    for clip in &done.clips {
        let unchanged = if clip.is_unchanged { ": nothing has changed, left as it is" } else { "" };
        writeln!(out, "CLIP {}{unchanged}", clip.clip)?;
        for thing in &clip.things {
            writeln!(out, "  {}: a box on {} of {} frames", thing.name, thing.boxed, thing.frames)?;
            for [first, end] in &thing.lost {
                writeln!(out, "    lost on frames {first} to {}", end - 1)?;
            }
            for ask in &thing.asks {
                writeln!(out, "    please mark frame {ask}")?;
            }
            for weak in thing.weakest.iter().take(3) {
                writeln!(
                    out,
                    "    weak on frames {} to {}: some {} of them are likely wrong; a mark at frame {} helps most",
                    weak.frames[0],
                    weak.frames[1] - 1,
                    weak.likely_wrong,
                    weak.ask
                )?;
            }
        }
    }
    writeln!(out, "\nWRITTEN to {}", done.folder.display())?;
    for file in &done.files {
        writeln!(out, "  {file}")?;
    }
    for [kept, new] in &done.kept {
        writeln!(out, "{kept} was changed by hand and is left alone; the new one is {new}")?;
    }
    Ok(())
}
