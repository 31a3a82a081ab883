use super::{Ending, failure::Failure, json::print_json, progress::Progress};
use clap::Args;
use lookroom::lens::Between;
use lookroom::plan::frames_words;
use lookroom::tasks::{
    CancelToken, MotionNote, MotionOf, TrackDone, TrackOptions, TrackedClip, track_shoot,
};
use std::path::PathBuf;

/// Follow the marked subjects through the pictures, measure how the background moves, and write a track for each clip
#[derive(Args)]
#[command(long_about = "\
Follow the marked subjects through the pictures, measure how the background moves, and write a track for each clip.

Marks are the truth: between two marks a subject is followed forward from the first and backward from the second. Where both \
disagree, and where it is lost, the frame to mark is named; where it is gone or lost there is no box and no guess. \
The tracks folder beside the marks file then holds, for each clip:
  CLIP_track.csv         a box and its confidence for every frame
  CLIP_track.json        what it was made from, where it is weak, and which frames to mark
  CLIP_track-strip.png   frames with the boxes on them, to check by eye
  CLIP_motion.csv        how the background moves, beside the rig and the subjects; of clips that are steady or level by it, or that
                         have lead room, where the shoot's own motion file has no rows of them
  CLIP_motion.json       what it was made from, and how much it shakes

Hard cuts that the shoot file does not have are told, and nothing is followed over one.

`lookroom plan` uses these tables as long as the marks, the ranges and the footage are as they were. A table that you changed by hand is used, and is \
never overwritten.")]
pub(super) struct TrackArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Measure how the background moves in every clip, also where nothing asks for it yet
    #[arg(long)]
    motion: bool,

    /// Print what was found as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &TrackArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let mut progress = Progress::new();
    let motion_of = if arguments.motion { MotionOf::All } else { MotionOf::ThoseThatWantIt };
    let options = TrackOptions { shoot: arguments.shoot.clone(), motion_of };
    let done = track_shoot(&options, &mut progress, cancel);
    drop(progress);
    let done = done?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&done, &mut out)?;
    } else {
        print(&done, &mut out)?;
    }
    Ok(Ending::Done)
}

fn print(done: &TrackDone, out: &mut impl std::io::Write) -> Result<(), Failure> {
    for clip in &done.clips {
        print_clip(clip, out)?;
    }
    if !done.files.is_empty() {
        writeln!(out, "\nWRITTEN to {}", done.folder.display())?;
    }
    for file in &done.files {
        writeln!(out, "  {file}")?;
    }
    for [kept, new] in &done.kept {
        writeln!(out, "{kept} was changed by hand and is left alone; the new one is {new}")?;
    }
    Ok(())
}

fn print_clip(clip: &TrackedClip, out: &mut impl std::io::Write) -> Result<(), Failure> {
    let unchanged = if clip.is_unchanged {
        ": followed before, from these marks and this footage; left as it is"
    } else {
        ""
    };
    writeln!(out, "CLIP {}{unchanged}", clip.clip)?;
    for cut in &clip.cuts {
        writeln!(
            out,
            "  a hard cut at frame {cut}, over which nothing was followed: add `cuts = [{cut}]` to the clip, or if it is none, mark \
             the subject on frames {} and {cut}",
            cut - 1
        )?;
    }
    for thing in &clip.things {
        writeln!(out, "  {}: a box on {} of {} frames", thing.name, thing.boxed, thing.frames)?;
        for lost in &thing.lost {
            writeln!(out, "    lost on {}", frames_words(*lost))?;
        }
        for ask in &thing.asks {
            writeln!(out, "    please mark frame {ask}")?;
        }
        for weak in thing.weakest.iter().take(3) {
            writeln!(out, "    {}", weak.words())?;
        }
    }
    if let Some(motion) = &clip.motion {
        print_motion(motion, out)?;
    }
    Ok(())
}

fn print_motion(motion: &MotionNote, out: &mut impl std::io::Write) -> Result<(), Failure> {
    let shake = &motion.shake;
    let degrees = match shake.degrees {
        Some([least, greatest]) => {
            let between = Between::all([least, greatest]).unwrap_or(Between::exactly(least));
            format!(" ({between:.2} degrees of the camera)")
        }
        None => String::new(),
    };
    writeln!(
        out,
        "  background: known on {} of {} used frames; it shakes by {:.1} px rms{degrees} and {:.2} degrees rms of roll, all that \
         is quicker than {} Hz",
        motion.known_frames, motion.used_frames, shake.px, shake.roll_degrees, shake.shake_hz
    )?;
    for rig in &motion.rigs {
        writeln!(
            out,
            "    what is fixed to the rig on frames {} to {} is left out: {:.0} % of the frame",
            rig.frames[0],
            rig.frames[1] - 1,
            100.0 * rig.share
        )?;
    }
    Ok(())
}
