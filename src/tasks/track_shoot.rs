//! Following the marks of every clip through its pictures, and measuring how its background moves beside them.

use super::{
    CancelToken, Event, Observer, Outputs, TaskError,
    looking::{ClipSeen, SHOWN_PX, Wanted, look_through},
    motions::{self, KeptMotion, MotionNote},
    pictures::write_png,
    prepare::{PreparedClip, prepare_to_follow},
    tracks::{self, FollowedThing, Kept, TrackNote},
};
use crate::{
    draw::{Scene, overlay, tiled},
    handoff::Followings,
    picture::RgbImage,
    shoot::Shoot,
    subject::Sighting,
    timecode::FrameIndex,
};
use serde::Serialize;
use std::{
    collections::{BTreeMap, BTreeSet},
    path::PathBuf,
};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrackOptions {
    /// The shoot file.
    pub shoot: PathBuf,
    /// Of which clips the motion of the background is measured.
    pub motion_of: MotionOf,
}

/// Of which clips the motion of the background is measured; never of one that the shoot's own motion file tells of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum MotionOf {
    /// Of those that are steady or level by it, or whose lead room goes by it.
    #[default]
    ThoseThatWantIt,
    /// Of all.
    All,
}

/// What was done.
#[derive(Debug, Serialize)]
pub struct TrackDone {
    /// The folder of the tracks.
    pub folder: PathBuf,
    /// The clips, in the order of the shoot file.
    pub clips: Vec<TrackedClip>,
    /// The files written, by name.
    pub files: Vec<String>,
    /// Files that were changed by hand and are left alone, each with the name of the new one beside it.
    pub kept: Vec<[String; 2]>,
}

/// What came of one clip.
#[derive(Debug, Serialize)]
pub struct TrackedClip {
    /// Its name.
    pub clip: String,
    /// Whether its track was there and nothing had changed.
    pub is_unchanged: bool,
    /// What following each thing brought.
    pub things: Vec<FollowedThing>,
    /// Hard cuts that the shoot file does not have: the first frame after each. Nothing was followed over them.
    pub cuts: Vec<u64>,
    /// How its background moves, where that was measured.
    pub motion: Option<MotionNote>,
}

/// How many frames of each clip are shown to be checked by eye, beside those that ask for a mark.
const SHOWN: usize = 12;

/// Follows the marks of every clip of a shoot, and writes its track and a strip of frames with the boxes on them beside
/// the marks file, and a table of how its background moves where that is wanted. What is there and was made from the same
/// marks and footage is left as it is.
///
/// # Errors
/// As [`super::plan_shoot`]; [`TaskError::Follow`] where a mark has nothing to follow.
pub fn track_shoot(
    options: &TrackOptions,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<TrackDone, TaskError> {
    let mut prepared = prepare_to_follow(&options.shoot, observer, cancel)?;
    let folder = tracks::folder_of(&prepared.shoot);
    let mut outputs = Outputs::open(&folder)?;
    let mut clips = Vec::new();
    for clip in &mut prepared.clips {
        let asked = (&prepared.shoot, options.motion_of);
        clips.push(track_clip(clip, asked, &mut outputs, (&mut *observer, cancel))?);
    }
    let files = outputs.written().map(str::to_owned).collect();
    let kept = outputs.notes().iter();
    let kept = kept.filter_map(|note| Some([note.kept.clone(), note.new.clone()?])).collect();
    outputs.finish()?;
    Ok(TrackDone { folder, clips, files, kept })
}

fn track_clip(
    clip: &mut PreparedClip,
    (shoot, motion_of): (&Shoot, MotionOf),
    outputs: &mut Outputs,
    heard: (&mut dyn Observer, &CancelToken),
) -> Result<TrackedClip, TaskError> {
    let name = clip.resolved.clip.name.clone();
    let track = tracks::kept(shoot, &clip.resolved)?;
    let is_measured = (motion_of == MotionOf::All
        || motions::is_wanted(shoot, &shoot.clips[clip.place], &clip.resolved))
        && !motions::is_written(shoot, &name);
    let motion = match is_measured.then(|| motions::kept(shoot, clip)).transpose()? {
        Some(KeptMotion::Fresh(note, table)) => {
            table.said.iter().for_each(|said| heard.0.hear(Event::Notice(said)));
            Some(*note)
        }
        _ => None,
    };
    let measures = is_measured && motion.is_none();
    let (note, followings) = match track {
        Kept::Fresh(note, followings, table) => {
            table.said.iter().for_each(|said| heard.0.hear(Event::Notice(said)));
            (Some(*note), followings)
        }
        Kept::None | Kept::Stale => (None, Followings::new()),
    };
    let is_unchanged = note.is_some() && !measures;
    if let (Some(note), true) = (&note, is_unchanged) {
        let (things, cuts) = (note.things.clone(), note.cuts.clone());
        return Ok(TrackedClip { clip: name, is_unchanged, things, cuts, motion });
    }
    let measured = measures.then(|| motions::measured_ranges(shoot, clip));
    let shown = evenly(clip);
    let wanted = Wanted { follows: note.is_none(), followings, measured, shown };
    let mut seen = look_through(clip, wanted, outputs.folder(), heard)?;
    let note = match note {
        Some(note) => note,
        None => {
            let things = std::mem::take(&mut seen.things);
            let cuts = seen.cuts.iter().map(|cut| cut.0).collect();
            let note = TrackNote {
                made_from: tracks::made_from(&clip.resolved),
                things,
                cuts,
                table: None,
            };
            write_strip(clip, &note, &seen, outputs)?;
            tracks::write(&name, (&note, &seen.followings), outputs)?;
            note
        }
    };
    let motion = if measures { Some(motions::write(shoot, clip, &seen, outputs)?) } else { motion };
    let (things, cuts) = (note.things, note.cuts);
    Ok(TrackedClip { clip: name, is_unchanged, things, cuts, motion })
}

/// Evenly spaced used frames of a clip, to be checked by eye.
fn evenly(clip: &PreparedClip) -> BTreeSet<FrameIndex> {
    let ranges = &clip.resolved.clip.ranges;
    let all: Vec<FrameIndex> = ranges.iter().flat_map(|range| range.used.frames()).collect();
    let place = |k: usize| k * all.len().saturating_sub(1) / (SHOWN - 1);
    (0..SHOWN).filter_map(|k| all.get(place(k)).copied()).collect()
}

/// Frames with the followed boxes on them: evenly spaced ones, and those that ask for a mark.
fn write_strip(
    clip: &PreparedClip,
    note: &TrackNote,
    seen: &ClipSeen,
    outputs: &mut Outputs,
) -> Result<(), TaskError> {
    let facts = &clip.resolved.clip;
    let asked: BTreeMap<FrameIndex, String> = tracks::asks_of(note).into_iter().rev().collect();
    let cell = |(frame, picture): (&FrameIndex, &RgbImage)| {
        let seen_at =
            |boxes: &BTreeMap<FrameIndex, Option<Sighting>>| boxes.get(frame).copied().flatten();
        let sightings: Vec<_> = seen.followings.values().filter_map(seen_at).collect();
        let least = sightings.iter().map(|seen| seen.confidence).fold(1.0, f64::min);
        let caption = if sightings.is_empty() {
            "no box".to_owned()
        } else {
            format!("confidence {least:.2}")
        };
        let scene = Scene {
            picture,
            raster: facts.facts.raster,
            windows: Vec::new(),
            subjects: sightings.iter().map(|seen| seen.region).collect(),
            caption: vec![format!("frame {frame}   {caption}")],
            note: asked.get(frame).cloned(),
        };
        overlay(&scene, SHOWN_PX)
    };
    let cells: Vec<RgbImage> = seen.shown.iter().map(cell).collect();
    write_png(&format!("{}_track-strip.png", facts.name), &tiled(&cells, 4), outputs)?;
    Ok(())
}
