//! Looking through a clip's pictures: its cuts, what its marks follow, and how its background moves, of one decoding.

use super::{
    CancelToken, Event, Observer, TaskError,
    prepare::PreparedClip,
    tracks::{self, FollowedThing, Weak},
};
use crate::{
    action::{BackgroundMeter, CutFinder, MeasuredStep, RigFinder, RigMask},
    geometry::{Raster, Region},
    handoff::Followings,
    media::SmallFrames,
    picture::{FrameSource, RgbImage, SmallPicture, raster_of_lines, raster_within, shrink_to_fit},
    process::work_in_order,
    subject::{
        FollowError, Followed, Mark, MarkKind, Sighting, Track, analysis_side_px, follow_marks,
    },
    timecode::{FrameIndex, FrameRange},
};
use std::{
    collections::{BTreeMap, BTreeSet},
    ops::ControlFlow,
    path::Path,
};

/// Cuts, rigs and the background are looked for with so many lines.
const LINES: u32 = 360;
/// Frames that a thread measures at a time, and one before them. Chosen: 32 pictures of 0.8 MB for each thread.
const MEASURED_FRAMES: usize = 32;

/// What is wanted of a clip.
pub(super) struct Wanted {
    /// Whether its marks are followed; if not, where they were followed before.
    pub(super) follows: bool,
    pub(super) followings: Followings,
    /// The ranges over which its background is measured, one for each used range; none if it is not.
    pub(super) measured: Option<Vec<FrameRange>>,
    /// Frames to be shown, beside those that ask for a mark.
    pub(super) shown: BTreeSet<FrameIndex>,
}

/// More frames that ask for a mark than these are no strip any more.
const MOST_ASKED: usize = 12;
/// How wide a frame of the strip is.
pub(super) const SHOWN_PX: u32 = 480;

/// What was seen in a clip.
#[derive(Default)]
pub(super) struct ClipSeen {
    pub(super) things: Vec<FollowedThing>,
    pub(super) followings: Followings,
    /// The first frames after cuts.
    pub(super) cuts: Vec<FrameIndex>,
    /// The steps of the background that were measured.
    pub(super) steps: BTreeMap<FrameIndex, MeasuredStep>,
    /// Small pictures of frames to be checked by eye, where marks were followed.
    pub(super) shown: BTreeMap<FrameIndex, RgbImage>,
    /// Each shot in which a rig was found, with its share of the frame.
    pub(super) rigs: Vec<(FrameRange, f64)>,
}

/// Looks through every used range of a clip. Each is decoded once, and its small pictures are kept in a file in this
/// folder meanwhile.
pub(super) fn look_through(
    clip: &mut PreparedClip,
    wanted: Wanted,
    folder: &Path,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<ClipSeen, TaskError> {
    keep_freed_memory();
    let used: Vec<FrameRange> =
        clip.resolved.clip.ranges.iter().map(|range| range.with_handles).collect();
    let looked = wanted.measured.clone().unwrap_or_else(|| used.clone());
    let followed: Vec<Track> =
        clip.resolved.tracks.iter().filter(|track| tracks::is_followed(track)).cloned().collect();
    let passes = 1
        + u64::from(wanted.measured.is_some())
        + if wanted.follows { 2 * followed.len() as u64 } else { 0 };
    let frames: u64 = looked.iter().map(|range| range.frame_count()).sum();
    observer.hear(Event::Begins { stage: "following", steps: frames * passes });
    let mut seen = ClipSeen { followings: wanted.followings, ..ClipSeen::default() };
    if wanted.follows {
        seen.things = followed.iter().map(|track| FollowedThing::of(track.name())).collect();
        seen.followings =
            followed.iter().map(|track| (track.name().to_owned(), BTreeMap::new())).collect();
    }
    let (name, raster) = (clip.resolved.clip.name.clone(), clip.resolved.clip.facts.raster);
    // As the follower has it, which knows no proxy: another size would be decoded once more.
    let side_px = analysis_side_px(raster);
    let size = raster_of_lines(raster_within(clip.opened.frames.raster(), side_px), LINES);
    for (used, frames) in used.into_iter().zip(looked) {
        let source = &mut *clip.opened.frames;
        let mut small = SmallFrames::new(source, raster, (frames, side_px), folder)?;
        let mut look =
            Look { small: &mut small, clip: &name, size, frames, observer: &mut *observer, cancel };
        let measures = wanted.measured.is_some();
        let rig = measures.then(|| RigFinder::new(look.size));
        let (cuts, rig) = look.first(rig)?;
        let shots = shots_between(frames, &cuts);
        seen.cuts.extend(&cuts);
        if wanted.follows {
            for (track, thing) in followed.iter().zip(&mut seen.things) {
                let boxes = seen.followings.entry(thing.name.clone()).or_default();
                look.follow(track, (used, &shots), (thing, boxes))?;
            }
        }
        if wanted.follows {
            look.show(&wanted.shown, &mut seen)?;
        }
        if measures {
            look.measure(&shots, rig, &mut seen)?;
        }
    }
    for thing in &mut seen.things {
        thing.weakest.sort_by(|a, b| b.likely_wrong.total_cmp(&a.likely_wrong));
    }
    Ok(seen)
}

/// Has the memory of pictures kept for the next ones. The GNU C library gives back what is freed beyond twice the largest
/// block that was freed so far, of those up to 32 MiB (`mallopt(3)`, on `M_MMAP_THRESHOLD`); a picture is small beside
/// that, and getting its pages anew for each frame takes a third of the time in which a background is measured.
fn keep_freed_memory() {
    drop(std::hint::black_box(Vec::<u8>::with_capacity(31 << 20)));
}

/// The shots of a range, by the cuts inside it.
pub(super) fn shots_between(whole: FrameRange, cuts: &[FrameIndex]) -> Vec<FrameRange> {
    let mut edges = vec![whole.first()];
    edges.extend(cuts.iter().copied().filter(|cut| whole.contains(*cut) && *cut != whole.first()));
    edges.push(whole.end());
    edges.windows(2).filter_map(|pair| FrameRange::new(pair[0], pair[1]).ok()).collect()
}

/// A range that is looked through.
struct Look<'l, 's> {
    small: &'l mut SmallFrames<'s>,
    clip: &'l str,
    /// The size of the luma.
    size: Raster,
    frames: FrameRange,
    observer: &'l mut dyn Observer,
    cancel: &'l CancelToken,
}

impl Look<'_, '_> {
    fn read(
        &mut self,
        frames: FrameRange,
        mut take: impl FnMut(FrameIndex, SmallPicture) -> Result<(), TaskError>,
    ) -> Result<(), TaskError> {
        let (observer, cancel) = (&mut *self.observer, self.cancel);
        let mut failed = Ok(());
        let side_px = self.small.side_px();
        let read = self.small.visit_small(frames, side_px, &mut |frame, picture| {
            observer.hear(Event::Step);
            failed = cancel.check().and_then(|()| take(frame, picture));
            if failed.is_err() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        failed?;
        read.map_err(|source| TaskError::Frame { clip: self.clip.to_owned(), source })
    }

    /// The first reading, while the footage is decoded: the cuts, and what stays if that is wanted.
    fn first(
        &mut self,
        mut rig: Option<RigFinder>,
    ) -> Result<(Vec<FrameIndex>, Option<RigFinder>), TaskError> {
        let (frames, size) = (self.frames, self.size);
        let mut cuts = CutFinder::new(size);
        self.read(frames, |_, picture| {
            let luma = picture.luma(size);
            cuts.take(&luma)?;
            Ok(rig.as_mut().map_or(Ok(()), |rig| rig.take(&luma))?)
        })?;
        let cuts = cuts.finish().into_iter();
        Ok((cuts.map(|cut| FrameIndex(frames.first().0 + cut.0)).collect(), rig))
    }

    /// Follows a thing through the shots of a used range; over a cut nothing is carried.
    fn follow(
        &mut self,
        track: &Track,
        (used, shots): (FrameRange, &[FrameRange]),
        (thing, boxes): (&mut FollowedThing, &mut BTreeMap<FrameIndex, Option<Sighting>>),
    ) -> Result<(), TaskError> {
        if marks_in(track, used).iter().all(|mark| mark.region.is_none()) {
            return Ok(());
        }
        let mut is_gone = false;
        for shot in shots.iter().filter_map(|shot| shared(*shot, used)) {
            let marks = marks_in(track, shot);
            thing.frames += shot.frame_count();
            if marks.iter().any(|mark| mark.region.is_some()) {
                let found = self.follow_shot(track, &marks, shot)?;
                thing.add(&found);
                boxes.extend(shot.frames().zip(found.track));
            } else {
                boxes.extend(shot.frames().map(|frame| (frame, None)));
                // Where it is in another shot nobody said.
                let until = marks.first().map_or(shot.end(), |mark| mark.frame);
                if !is_gone && shot.first() < until {
                    thing.lost.push([shot.first().0, until.0]);
                    thing.asks.push(shot.first().0);
                }
            }
            is_gone = marks.last().map_or(is_gone, |mark| mark.region.is_none());
        }
        Ok(())
    }

    fn follow_shot(
        &mut self,
        track: &Track,
        marks: &[Mark],
        shot: FrameRange,
    ) -> Result<Followed, TaskError> {
        let (observer, cancel) = (&mut *self.observer, self.cancel);
        let mut tell = |_: u64| {
            observer.hear(Event::Step);
            if cancel.is_cancelled() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let found = follow_marks(self.small, marks, shot, &mut tell);
        found.map_err(|source| match source {
            FollowError::BrokenOff(_) => TaskError::Cancelled,
            source => TaskError::Follow {
                clip: self.clip.to_owned(),
                name: track.name().to_owned(),
                source: Box::new(source),
            },
        })
    }

    /// Keeps the frames of the range that are to be shown, and the first of those that ask for a mark.
    fn show(
        &mut self,
        evenly: &BTreeSet<FrameIndex>,
        seen: &mut ClipSeen,
    ) -> Result<(), TaskError> {
        let asks = |thing: &FollowedThing| {
            let weak = thing.weakest.iter().map(|weak| weak.ask);
            thing.asks.iter().copied().chain(weak).map(FrameIndex).collect::<Vec<_>>()
        };
        let is_here = |frame: &FrameIndex| self.frames.contains(*frame);
        let asked: BTreeSet<FrameIndex> =
            seen.things.iter().flat_map(asks).filter(is_here).collect();
        let so_far = seen.shown.keys().filter(|frame| !evenly.contains(*frame)).count();
        let asked = asked.iter().filter(|frame| !evenly.contains(*frame));
        let wanted: Vec<FrameIndex> = evenly
            .iter()
            .filter(|frame| is_here(frame))
            .chain(asked.take(MOST_ASKED.saturating_sub(so_far)))
            .copied()
            .collect();
        let side_px = self.small.side_px();
        for frame in wanted {
            let Ok(only) = FrameRange::new(frame, FrameIndex(frame.0 + 1)) else { continue };
            let read = self.small.visit_small(only, side_px, &mut |frame, picture| {
                seen.shown.insert(frame, shrink_to_fit(&picture.into_rgb(), SHOWN_PX, SHOWN_PX));
                ControlFlow::Continue(())
            });
            read.map_err(|source| TaskError::Frame { clip: self.clip.to_owned(), source })?;
        }
        Ok(())
    }

    /// Measures how the background moves in each shot, beside the rig and the boxes of what was followed.
    fn measure(
        &mut self,
        shots: &[FrameRange],
        rig: Option<RigFinder>,
        seen: &mut ClipSeen,
    ) -> Result<(), TaskError> {
        let whole = rig.filter(|_| shots.len() == 1);
        for shot in shots {
            let rig = match &whole {
                Some(rig) => rig.finding(),
                None => self.rig_of(*shot)?.finding(),
            };
            let rig = rig.mask();
            seen.rigs.extend(rig.map(|rig| (*shot, rig.share())));
            self.measure_shot(*shot, rig, seen)?;
        }
        Ok(())
    }

    fn rig_of(&mut self, shot: FrameRange) -> Result<RigFinder, TaskError> {
        let size = self.size;
        let mut rig = RigFinder::new(size);
        self.read(shot, |_, picture| Ok(rig.take(&picture.luma(size))?))?;
        Ok(rig)
    }

    /// Each thread measures a batch of its own, which begins with the last frame of the batch before: what comes out is
    /// the same on any number of cores.
    fn measure_shot(
        &mut self,
        shot: FrameRange,
        rig: Option<&RigMask>,
        seen: &mut ClipSeen,
    ) -> Result<(), TaskError> {
        let meter = BackgroundMeter::new(self.small.raster(), self.size, rig)?;
        let size = self.size;
        let (followings, steps) = (&seen.followings, &mut seen.steps);
        let mut held: Vec<(FrameIndex, SmallPicture)> = Vec::new();
        let mut measure = |held: &mut Vec<(FrameIndex, SmallPicture)>| {
            let batches: Vec<&[(FrameIndex, SmallPicture)]> = (0..held.len().saturating_sub(1))
                .step_by(MEASURED_FRAMES)
                .map(|first| &held[first..(first + MEASURED_FRAMES + 1).min(held.len())])
                .collect();
            let work = |batch: &&[_]| measured(meter.clone(), size, batch, followings);
            let ended = work_in_order(&batches, work, |_, found| match found {
                Ok(found) => {
                    steps.extend(found);
                    ControlFlow::Continue(())
                }
                Err(error) => ControlFlow::Break(error),
            });
            held.drain(..held.len().saturating_sub(1));
            if let ControlFlow::Break(error) = ended { Err(error) } else { Ok(()) }
        };
        self.read(shot, |frame, picture| {
            held.push((frame, picture));
            if held.len() > 2 * MEASURED_FRAMES { measure(&mut held) } else { Ok(()) }
        })?;
        measure(&mut held)
    }
}

/// The steps of the frames of a batch after its first.
fn measured(
    mut meter: BackgroundMeter,
    size: Raster,
    batch: &[(FrameIndex, SmallPicture)],
    followings: &Followings,
) -> Result<Vec<(FrameIndex, MeasuredStep)>, TaskError> {
    let mut steps = Vec::new();
    for (frame, picture) in batch {
        let of_thing = |boxes: &BTreeMap<FrameIndex, Option<Sighting>>| {
            boxes.get(frame).copied().flatten().map(|seen| seen.region)
        };
        let marked: Vec<Region> = followings.values().filter_map(of_thing).collect();
        let step = meter.take(&picture.luma(size), &marked)?;
        steps.extend(step.map(|step| (*frame, step)));
    }
    Ok(steps)
}

/// The frames of two ranges that are in both.
fn shared(one: FrameRange, other: FrameRange) -> Option<FrameRange> {
    FrameRange::new(one.first().max(other.first()), one.end().min(other.end())).ok()
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

impl FollowedThing {
    fn of(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            frames: 0,
            boxed: 0,
            asks: Vec::new(),
            weakest: Vec::new(),
            lost: Vec::new(),
        }
    }

    fn add(&mut self, found: &Followed) {
        self.boxed += found.track.iter().flatten().count() as u64;
        self.asks.extend(found.asks.iter().map(|frame| frame.0));
        self.weakest.extend(found.weakest.iter().map(Weak::of));
        self.lost.extend(found.lost.iter().map(|lost| [lost.first().0, lost.end().0]));
    }
}
