//! From marks to a track: which stretches are followed which way, how their frames are read, and what is made of both ways.

use super::{
    followed::Followed,
    fuse::{Fused, Passed, fuse},
    ways::{Direction, Way, follow_all},
    whole::offset,
};
use crate::{
    geometry::{Raster, Region},
    picture::{FrameError, FrameSource, SmallPicture},
    subject::Mark,
    timecode::{FrameIndex, FrameRange},
};
use std::ops::ControlFlow;

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

/// Follows one subject from its marks through a range of frames.
///
/// Marks are the truth. Between two, the subject is followed forward from the first and backward from the
/// second; before the first and after the last there is one way only. From a *gone* to the next box there is no track. The
/// marks are those of one name, on one side of any cut.
///
/// As many ways are followed at a time as there are cores; what comes out is the same on any number of them. The pictures are
/// read in chunks, at analysis size ([`analysis_side_px`]), twice between two marks, and few of them are in memory. `tell`
/// hears how many frames have been read and breaks off.
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
    let mut reader = Reader { source, tell, read: 0 };
    let stretches = stretches(&marks, frames);
    let ways: Vec<Way> = stretches.iter().flat_map(Stretch::ways).collect();
    let mut answers = follow_all(&mut reader, &ways)?.into_iter();
    for stretch in stretches {
        let mut way = |mark: Option<Region>| mark.and_then(|_| answers.next());
        let (forward, backward) = (way(stretch.before), way(stretch.after));
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

impl Stretch {
    /// The ways through it, forward first.
    fn ways(&self) -> impl Iterator<Item = Way> {
        let frames = self.frames;
        let forward = self.before.map(|mark| Way { frames, direction: Direction::Forward, mark });
        let backward = self.after.map(|mark| Way { frames, direction: Direction::Backward, mark });
        forward.into_iter().chain(backward)
    }
}

/// Reads chunks of frames at analysis size.
pub(super) struct Reader<'r> {
    source: &'r mut dyn FrameSource,
    tell: &'r mut dyn FnMut(u64) -> ControlFlow<()>,
    read: u64,
}

impl Reader<'_> {
    /// The raster that boxes are measured in.
    pub(super) fn raster(&self) -> Raster {
        self.source.raster()
    }

    pub(super) fn chunk(&mut self, frames: FrameRange) -> Result<Vec<SmallPicture>, FollowError> {
        let mut pictures = Vec::new();
        let mut broken_off = None;
        let side_px = analysis_side_px(self.source.raster());
        self.source.visit_small(frames, side_px, &mut |frame, picture| {
            pictures.push(picture);
            self.read += 1;
            let goes_on = (self.tell)(self.read);
            if goes_on.is_break() {
                broken_off = Some(frame);
            }
            goes_on
        })?;
        broken_off.map_or(Ok(pictures), |frame| Err(FollowError::BrokenOff(frame)))
    }
}
