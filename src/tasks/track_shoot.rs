//! Following the marks of every clip through its pictures.

use super::{
    CancelToken, Event, Observer, Outputs, TaskError,
    pictures::write_png,
    prepare::{PreparedClip, prepare},
    tracks::{self, FollowedThing, Kept, TrackNote, Weak},
};
use crate::{
    draw::{Scene, overlay, tiled},
    handoff::Followings,
    picture::RgbImage,
    subject::{FollowError, Mark, MarkKind, Track, follow_marks},
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;
use std::{
    collections::{BTreeMap, BTreeSet},
    ops::ControlFlow,
    path::{Path, PathBuf},
};

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
}

/// How many frames of each clip are shown to be checked by eye, beside those that ask for a mark.
const SHOWN: usize = 12;

/// Follows the marks of every clip of a shoot, and writes its track and a strip of frames with the boxes on them beside
/// the marks file. A clip whose track is there and whose marks and footage are as they were is left as it is.
///
/// # Errors
/// As [`super::plan_shoot`]; [`TaskError::Follow`] where a mark has nothing to follow.
pub fn track_shoot(
    shoot: &Path,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<TrackDone, TaskError> {
    let mut prepared = prepare(shoot, observer, cancel)?;
    let folder = tracks::folder_of(&prepared.shoot);
    let mut outputs = Outputs::open(&folder)?;
    let mut clips = Vec::new();
    for clip in &mut prepared.clips {
        let name = clip.resolved.clip.name.clone();
        if let Kept::Fresh(note, _) = tracks::kept(&prepared.shoot, &clip.resolved)? {
            clips.push(TrackedClip { clip: name, is_unchanged: true, things: note.things });
            continue;
        }
        let (things, followings) = follow_clip(clip, (&mut *observer, cancel))?;
        let note = TrackNote { made_from: tracks::made_from(&clip.resolved), things };
        write_strip(clip, &note, &followings, &mut outputs)?;
        tracks::write(&name, (&note, &followings), &mut outputs)?;
        clips.push(TrackedClip { clip: name, is_unchanged: false, things: note.things });
    }
    let files = outputs.written().map(str::to_owned).collect();
    let kept = outputs.notes().iter();
    let kept = kept.filter_map(|note| Some([note.kept.clone(), note.new.clone()?])).collect();
    outputs.finish()?;
    Ok(TrackDone { folder, clips, files, kept })
}

fn follow_clip(
    clip: &mut PreparedClip,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<(Vec<FollowedThing>, Followings), TaskError> {
    let ranges: Vec<FrameRange> =
        clip.resolved.clip.ranges.iter().map(|range| range.with_handles).collect();
    let followed: Vec<Track> =
        clip.resolved.tracks.iter().filter(|track| tracks::is_followed(track)).cloned().collect();
    let frames: u64 = ranges.iter().map(|range| range.frame_count()).sum();
    observer.hear(Event::Begins { stage: "following", steps: frames * followed.len() as u64 });
    let (mut things, mut followings) = (Vec::new(), Followings::new());
    for track in &followed {
        let mut thing = FollowedThing {
            name: track.name().to_owned(),
            frames: 0,
            boxed: 0,
            asks: Vec::new(),
            weakest: Vec::new(),
            lost: Vec::new(),
        };
        let mut boxes = BTreeMap::new();
        for range in &ranges {
            let marks = marks_in(track, *range);
            if marks.iter().all(|mark| mark.region.is_none()) {
                continue;
            }
            let mut tell = |_: u64| {
                observer.hear(Event::Step);
                if cancel.is_cancelled() {
                    ControlFlow::Break(())
                } else {
                    ControlFlow::Continue(())
                }
            };
            let found = follow_marks(&mut *clip.opened.frames, &marks, *range, &mut tell);
            let found = found.map_err(|source| match source {
                FollowError::BrokenOff(_) => TaskError::Cancelled,
                source => TaskError::Follow {
                    clip: clip.resolved.clip.name.clone(),
                    name: track.name().to_owned(),
                    source: Box::new(source),
                },
            })?;
            thing.frames += range.frame_count();
            thing.boxed += found.track.iter().flatten().count() as u64;
            thing.asks.extend(found.asks.iter().map(|frame| frame.0));
            thing.weakest.extend(found.weakest.iter().map(Weak::of));
            thing.lost.extend(found.lost.iter().map(|lost| [lost.first().0, lost.end().0]));
            boxes.extend(range.frames().zip(found.track));
        }
        thing.weakest.sort_by(|a, b| b.likely_wrong.total_cmp(&a.likely_wrong));
        followings.insert(thing.name.clone(), boxes);
        things.push(thing);
    }
    Ok((things, followings))
}

fn marks_in(track: &Track, range: FrameRange) -> Vec<Mark> {
    let inside = track.marks().iter().filter(|(frame, _)| range.contains(*frame));
    inside
        .map(|(frame, region)| Mark {
            frame: *frame,
            name: track.name().to_owned(),
            kind: if region.is_some() { MarkKind::Subject } else { MarkKind::Gone },
            region: *region,
            weight: None,
        })
        .collect()
}

/// Frames with the followed boxes on them: evenly spaced ones, and those that ask for a mark.
fn write_strip(
    clip: &mut PreparedClip,
    note: &TrackNote,
    followings: &Followings,
    outputs: &mut Outputs,
) -> Result<(), TaskError> {
    /// More than these are no strip any more.
    const MOST_ASKED: usize = 12;
    const CELL_PX: u32 = 480;
    let facts = &clip.resolved.clip;
    let all: Vec<FrameIndex> = facts.ranges.iter().flat_map(|range| range.used.frames()).collect();
    let evenly = (0..SHOWN).filter_map(|k| all.get(k * all.len().saturating_sub(1) / (SHOWN - 1)));
    let asked: BTreeMap<FrameIndex, String> =
        tracks::asks_of(note).into_iter().rev().filter(|(frame, _)| all.contains(frame)).collect();
    let wanted: BTreeSet<FrameIndex> =
        evenly.copied().chain(asked.keys().copied().take(MOST_ASKED)).collect();
    let mut cells: Vec<RgbImage> = Vec::new();
    let (name, raster) = (facts.name.clone(), facts.facts.raster);
    clip.opened
        .frames
        .visit(&wanted, &mut |frame, picture| {
            let seen = |boxes: &BTreeMap<FrameIndex, Option<crate::subject::Sighting>>| {
                boxes.get(&frame).copied().flatten()
            };
            let sightings: Vec<_> = followings.values().filter_map(seen).collect();
            let least = sightings.iter().map(|seen| seen.confidence).fold(1.0, f64::min);
            let caption = if sightings.is_empty() {
                "no box".to_owned()
            } else {
                format!("confidence {least:.2}")
            };
            let scene = Scene {
                picture: &picture,
                raster,
                windows: Vec::new(),
                subjects: sightings.iter().map(|seen| seen.region).collect(),
                caption: vec![format!("frame {frame}   {caption}")],
                note: asked.get(&frame).cloned(),
            };
            cells.push(overlay(&scene, CELL_PX));
            ControlFlow::Continue(())
        })
        .map_err(|source| TaskError::Frame { clip: name.clone(), source })?;
    write_png(&format!("{name}_track-strip.png"), &tiled(&cells, 4), outputs)?;
    Ok(())
}
