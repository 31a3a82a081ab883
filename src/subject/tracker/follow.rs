//! From marks to a track: which stretches are followed which way, and how their frames are read.

use super::{
    Tracker,
    followed::Followed,
    fuse::{Fused, Passed, fuse},
    whole::offset,
};
use crate::{
    geometry::{Raster, Region},
    picture::{FrameError, FrameSource, RgbImage},
    subject::Mark,
    timecode::{FrameIndex, FrameRange},
};
use std::{ops::ControlFlow, thread};

/// Frames of each way that are in memory at once, while as many more are read. At the widest analysis size one takes
/// 1.5 MB in colours at 16:9 and 1.2 MB at 4:3, so that both ways together hold 80 to 100 MB, whatever the clip's length.
const HELD_FRAMES: usize = 16;
/// Pictures are followed at no more than so many px along their longer side and along the other. With 640 px in place of
/// the boxed clips' 854 as much is followed as rightly; what is more is for smaller subjects.
const ANALYSIS_PX: (u32, u32) = (960, 540);

/// How many px along its longer side a clip is followed at: 960 where it is 16:9 or wider, 720 where it is 4:3, and its
/// own where that is less.
///
/// ```
/// use lookroom::{geometry::Raster, subject::analysis_side_px};
/// assert_eq!(analysis_side_px(Raster::new(2704, 2028)?), 720);
/// assert_eq!(analysis_side_px(Raster::new(3840, 2160)?), 960);
/// assert_eq!(analysis_side_px(Raster::new(480, 854)?), 854);
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[must_use]
pub fn analysis_side_px(raster: Raster) -> u32 {
    let (width, height) = (u64::from(raster.width_px()), u64::from(raster.height_px()));
    let (longer, shorter) = (width.max(height), width.min(height));
    let by_shorter = (u64::from(ANALYSIS_PX.1) * longer + shorter / 2) / shorter.max(1);
    let side = longer.min(by_shorter).min(u64::from(ANALYSIS_PX.0));
    u32::try_from(side).unwrap_or(ANALYSIS_PX.0)
}

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
/// The pictures are read in chunks and no more than four of them are in memory, at analysis size
/// ([`analysis_side_px`]). A stretch between two marks that is longer than a chunk is read twice, once
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
    let mut reader = Reader { source, tell, read: 0, spare: Vec::new() };
    for stretch in stretches(&marks, frames) {
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
    read: u64,
    /// The memory of pictures that are done with.
    spare: Vec<Vec<u8>>,
}

impl Reader<'_> {
    fn chunk(&mut self, frames: FrameRange) -> Result<Vec<RgbImage>, FollowError> {
        let mut pictures = Vec::new();
        let mut broken_off = None;
        let side_px = analysis_side_px(self.source.raster());
        self.source.visit_small(frames, side_px, &mut |frame, picture| {
            pictures.push(picture.into_rgb_in(self.spare.pop().unwrap_or_default()));
            self.read += 1;
            let goes_on = (self.tell)(self.read);
            if goes_on.is_break() {
                broken_off = Some(frame);
            }
            goes_on
        })?;
        broken_off.map_or(Ok(pictures), |frame| Err(FollowError::BrokenOff(frame)))
    }

    /// The next chunk of each way that there is.
    fn pair(
        &mut self,
        (front, back): (&FrameRange, &FrameRange),
        [goes_forward, goes_backward]: [bool; 2],
    ) -> Result<Pair, FollowError> {
        let in_front = if goes_forward { self.chunk(*front)? } else { Vec::new() };
        let is_shared = front == back && goes_forward;
        let behind = (goes_backward && !is_shared).then(|| self.chunk(*back)).transpose()?;
        Ok(Pair { in_front, behind })
    }

    /// A box in px of the analysed pictures, over that in px of the clip.
    fn shrink(&self, picture: &RgbImage) -> [f64; 2] {
        let raster = self.source.raster();
        [f64::from(picture.width()) / raster.width(), f64::from(picture.height()) / raster.height()]
    }
}

/// The answers of each way that there is, in the order of the frames. While both go on, what comes next is read.
fn both_ways(
    reader: &mut Reader<'_>,
    stretch: Stretch,
) -> Result<[Option<Vec<Passed>>; 2], FollowError> {
    let chunks = chunks(stretch.frames);
    let way =
        |mark: Option<Region>| mark.map(|mark| Way { tracker: None, mark, passed: Vec::new() });
    let (mut forward, mut backward) = (way(stretch.before), way(stretch.after));
    let is_there = [forward.is_some(), backward.is_some()];
    let mut pairs = chunks.iter().zip(chunks.iter().rev());
    let mut next = pairs.next().map(|pair| reader.pair(pair, is_there)).transpose()?;
    while let Some(pair) = next {
        let (in_front, behind) = (&pair.in_front, pair.behind.as_ref().unwrap_or(&pair.in_front));
        let Some(any) = in_front.first().or(behind.first()) else { break };
        let shrink = reader.shrink(any);
        let (one, other, read) = thread::scope(|scope| {
            let one = forward
                .as_mut()
                .map(|forward| scope.spawn(move || forward.pass(&mut in_front.iter(), shrink)));
            let other = backward.as_mut().map(|backward| {
                scope.spawn(move || backward.pass(&mut behind.iter().rev(), shrink))
            });
            let read = pairs.next().map(|pair| reader.pair(pair, is_there)).transpose();
            let join = |thread: thread::ScopedJoinHandle<'_, bool>| {
                thread.join().expect("a tracker does not panic")
            };
            (one.map(join), other.map(join), read)
        });
        let nothing_inside = |frame| Err(FollowError::NothingInside { frame });
        if one == Some(false) {
            return nothing_inside(stretch.frames.first());
        }
        if other == Some(false) {
            return nothing_inside(stretch.frames.last());
        }
        reader.spare.extend(pair.into_pictures().map(RgbImage::into_raw));
        next = read?;
    }
    let reversed = |mut way: Way| {
        way.passed.reverse();
        way.passed
    };
    Ok([forward.map(|way| way.passed), backward.map(reversed)])
}

/// What both ways go through at a time.
struct Pair {
    in_front: Vec<RgbImage>,
    /// What the way backward goes through, if that is not what the way forward does.
    behind: Option<Vec<RgbImage>>,
}

impl Pair {
    fn into_pictures(self) -> impl Iterator<Item = RgbImage> {
        self.in_front.into_iter().chain(self.behind.into_iter().flatten())
    }
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
