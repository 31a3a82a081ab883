//! From marks to a track: which stretches are followed which way, and how their frames are read.

use super::{
    Tracker,
    followed::Followed,
    fuse::{Fused, Passed, fuse},
    whole::offset,
};
use crate::{
    geometry::Region,
    picture::{FrameError, FrameSource, RgbImage},
    subject::Mark,
    timecode::{FrameIndex, FrameRange},
};
use std::{ops::ControlFlow, thread};

/// Frames of each way that are in memory at once. At the widest analysis size one takes 1.5 MB at 16:9 and
/// 2.1 MB at 4:3, so that both ways together hold 100 to 130 MB, whatever the clip's length.
const HELD_FRAMES: usize = 32;
/// Pictures are followed at no more than this many px along their longer side.
pub const ANALYSIS_SIDE_PX: u32 = 960;

/// Marks that cannot be followed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FollowError {
    /// No mark has a box.
    #[error("no mark has a box to follow")]
    NoBox,
    /// Two marks at the same frame.
    #[error("frame {0} is marked twice")]
    MarkedTwice(FrameIndex),
    /// A mark before or after the frames that are followed.
    #[error("frame {frame} is marked, and only {first} to {last} are followed")]
    OutsideFrames {
        /// The mark's frame.
        frame: FrameIndex,
        /// The first frame that is followed.
        first: FrameIndex,
        /// The last one.
        last: FrameIndex,
    },
    /// A box of which less than a px of the analysed picture is inside the frame.
    #[error("the box at frame {frame} has nothing to follow inside the frame")]
    NothingInside {
        /// The mark's frame.
        frame: FrameIndex,
    },
    /// A frame that could not be read.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// The caller broke off.
    #[error("broken off at frame {0}")]
    BrokenOff(FrameIndex),
}

/// Frames from one mark to the next, or to an end of the clip.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    frames: FrameRange,
    /// The box at its first frame, to go forward from.
    before: Option<Region>,
    /// The box at its last frame, to go backward from.
    after: Option<Region>,
}

/// One way through a stretch.
struct Way {
    tracker: Option<Tracker>,
    mark: Region,
    passed: Vec<Passed>,
}

/// Follows one subject from its marks through a range of frames.
///
/// Marks are the truth. Between two, the subject is followed forward from the first and backward from the
/// second, on two threads; before the first and after the last there is one way only. From a *gone* to the
/// next box there is no track. The marks are those of one name, on one side of any cut.
///
/// The pictures are read in chunks and no more than two of them are in memory, at analysis size (at most
/// 960 px along the longer side). A stretch between two marks that is longer than a chunk is read twice, once
/// from its front and once from its back. `tell` hears how many frames have been read and breaks off.
///
/// # Errors
/// [`FollowError`] for the first mark that cannot be followed or frame that cannot be read.
pub fn follow_marks(
    source: &mut dyn FrameSource,
    marks: &[Mark],
    frames: FrameRange,
    tell: &mut dyn FnMut(u64) -> ControlFlow<()>,
) -> Result<Followed, FollowError> {
    let marks = checked(marks, frames)?;
    let mut fused: Vec<Option<Fused>> =
        vec![None; usize::try_from(frames.frame_count()).unwrap_or(usize::MAX)];
    let mut read = 0;
    for stretch in stretches(&marks, frames) {
        let mut reader = Reader { source: &mut *source, tell: &mut *tell, read: &mut read };
        let [forward, backward] = both_ways(&mut reader, stretch)?;
        let alone = |passed: Vec<Passed>| {
            passed.into_iter().map(|passed| Fused { passed, is_disputed: false }).collect()
        };
        let answer: Vec<Fused> = match (forward, backward) {
            (Some(forward), Some(backward)) => fuse(&forward, &backward),
            (Some(one), None) | (None, Some(one)) => alone(one),
            (None, None) => Vec::new(),
        };
        let first = offset(frames.first(), stretch.frames.first());
        for (out, one) in fused[first..].iter_mut().zip(answer) {
            *out = Some(one);
        }
    }
    for (frame, region) in &marks {
        let at = offset(frames.first(), *frame);
        let sure = |region| Fused {
            passed: Passed { region, confidence: 1.0, is_lost: false },
            is_disputed: false,
        };
        fused[at] = region.map(sure);
    }
    Ok(Followed::from_fused(frames, &fused))
}

fn checked(
    marks: &[Mark],
    frames: FrameRange,
) -> Result<Vec<(FrameIndex, Option<Region>)>, FollowError> {
    let mut marks: Vec<_> = marks.iter().map(|mark| (mark.frame, mark.region)).collect();
    marks.sort_by_key(|(frame, _)| *frame);
    if let Some(pair) = marks.windows(2).find(|pair| pair[0].0 == pair[1].0) {
        return Err(FollowError::MarkedTwice(pair[0].0));
    }
    if let Some((frame, _)) = marks.iter().find(|(frame, _)| !frames.contains(*frame)) {
        let (first, last) = (frames.first(), frames.last());
        return Err(FollowError::OutsideFrames { frame: *frame, first, last });
    }
    if marks.iter().all(|(_, region)| region.is_none()) {
        return Err(FollowError::NoBox);
    }
    Ok(marks)
}

/// What lies between the marks, each end with its own frame.
fn stretches(marks: &[(FrameIndex, Option<Region>)], frames: FrameRange) -> Vec<Stretch> {
    let mut found = Vec::new();
    let mut add = |first: FrameIndex, last: FrameIndex, before, after| {
        if let (true, Ok(frames)) = (first < last, FrameRange::new(first, FrameIndex(last.0 + 1))) {
            found.push(Stretch { frames, before, after });
        }
    };
    if let Some((frame, region @ Some(_))) = marks.first() {
        add(frames.first(), *frame, None, *region);
    }
    for pair in marks.windows(2) {
        let ((first, before), (next, after)) = (pair[0], pair[1]);
        match (before, after) {
            (Some(_), Some(_)) => add(first, next, before, after),
            (Some(_), None) => add(first, FrameIndex(next.0 - 1), before, None),
            (None, _) => {}
        }
    }
    if let Some((frame, region @ Some(_))) = marks.last() {
        add(*frame, frames.last(), *region, None);
    }
    found
}

/// Reads chunks of frames at analysis size.
struct Reader<'r> {
    source: &'r mut dyn FrameSource,
    tell: &'r mut dyn FnMut(u64) -> ControlFlow<()>,
    read: &'r mut u64,
}

impl Reader<'_> {
    fn chunk(&mut self, frames: FrameRange) -> Result<Vec<RgbImage>, FollowError> {
        let mut pictures = Vec::new();
        let mut broken_off = None;
        self.source.visit_small(frames, ANALYSIS_SIDE_PX, &mut |frame, picture| {
            pictures.push(picture);
            *self.read += 1;
            let goes_on = (self.tell)(*self.read);
            if goes_on.is_break() {
                broken_off = Some(frame);
            }
            goes_on
        })?;
        broken_off.map_or(Ok(pictures), |frame| Err(FollowError::BrokenOff(frame)))
    }

    /// A box in px of the analysed pictures, over that in px of the clip.
    fn shrink(&self, picture: &RgbImage) -> [f64; 2] {
        let raster = self.source.raster();
        [f64::from(picture.width()) / raster.width(), f64::from(picture.height()) / raster.height()]
    }
}

/// The answers of each way that there is, in the order of the frames.
fn both_ways(
    reader: &mut Reader<'_>,
    stretch: Stretch,
) -> Result<[Option<Vec<Passed>>; 2], FollowError> {
    let chunks = chunks(stretch.frames);
    let way =
        |mark: Option<Region>| mark.map(|mark| Way { tracker: None, mark, passed: Vec::new() });
    let (mut forward, mut backward) = (way(stretch.before), way(stretch.after));
    for (front, back) in chunks.iter().zip(chunks.iter().rev()) {
        let in_front = match &forward {
            Some(_) => reader.chunk(*front)?,
            None => Vec::new(),
        };
        let own = match &backward {
            Some(_) if front != back || forward.is_none() => Some(reader.chunk(*back)?),
            _ => None,
        };
        let behind = own.as_ref().unwrap_or(&in_front);
        let Some(any) = in_front.first().or(behind.first()) else { continue };
        let shrink = reader.shrink(any);
        let (one, other) = thread::scope(|scope| {
            let other = backward.as_mut().map(|backward| {
                scope.spawn(move || backward.pass(&mut behind.iter().rev(), shrink))
            });
            let one = forward.as_mut().map(|forward| forward.pass(&mut in_front.iter(), shrink));
            let join = |thread: thread::ScopedJoinHandle<'_, bool>| {
                thread.join().expect("a tracker does not panic")
            };
            (one, other.map(join))
        });
        let nothing_inside = |frame| Err(FollowError::NothingInside { frame });
        if one == Some(false) {
            return nothing_inside(stretch.frames.first());
        }
        if other == Some(false) {
            return nothing_inside(stretch.frames.last());
        }
    }
    let reversed = |mut way: Way| {
        way.passed.reverse();
        way.passed
    };
    Ok([forward.map(|way| way.passed), backward.map(reversed)])
}

fn chunks(frames: FrameRange) -> Vec<FrameRange> {
    let firsts = (frames.first().0..frames.end().0).step_by(HELD_FRAMES);
    let chunk = |first: u64| {
        let end = (first + HELD_FRAMES as u64).min(frames.end().0);
        FrameRange::new(FrameIndex(first), FrameIndex(end)).ok()
    };
    firsts.filter_map(chunk).collect()
}

impl Way {
    /// Goes through more pictures; false if the mark has nothing to follow.
    fn pass(&mut self, pictures: &mut dyn Iterator<Item = &RgbImage>, shrink: [f64; 2]) -> bool {
        for picture in pictures {
            let Some(tracker) = &mut self.tracker else {
                let small = stretched(&self.mark, shrink);
                self.tracker = small.and_then(|small| Tracker::new(picture, &small));
                if self.tracker.is_none() {
                    return false;
                }
                self.passed.push(Passed { region: self.mark, confidence: 1.0, is_lost: false });
                continue;
            };
            let seen = tracker.step(picture);
            let region = stretched(&seen.region, shrink.map(|factor| 1.0 / factor));
            self.passed.push(Passed {
                region: region.unwrap_or(self.mark),
                confidence: seen.cues.confidence(),
                is_lost: seen.is_lost || region.is_none(),
            });
        }
        true
    }
}

fn stretched(region: &Region, factors: [f64; 2]) -> Option<Region> {
    Region::new(
        region.left() * factors[0],
        region.top() * factors[1],
        region.width() * factors[0],
        region.height() * factors[1],
    )
}
