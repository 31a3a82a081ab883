//! What following the marks of one subject brought.

use super::{fuse::Fused, whole::offset};
use crate::{
    subject::Sighting,
    timecode::{FrameIndex, FrameRange},
};

/// A chance below this makes a frame part of a weak stretch.
const WEAK_BELOW: f64 = 0.75;
/// Disputes and weak frames with no more frames than this between them are one stretch.
const JOINED_OVER: u64 = 5;

/// A subject's boxes over a range of frames, and what to do about the frames that are not sure.
#[derive(Debug, Clone, PartialEq)]
pub struct Followed {
    /// The frames.
    pub frames: FrameRange,
    /// The box at each of them; `None` where the subject is gone or lost. At a mark it is the mark's, with a
    /// confidence of 1; elsewhere the confidence is the chance that the box overlaps the true one by more
    /// than half.
    pub track: Vec<Option<Sighting>>,
    /// Frames to be marked, in order: in the middle of where the way forward from the mark before and the way
    /// backward from the mark after have the subject at different places, and where a loss begins.
    pub asks: Vec<FrameIndex>,
    /// The weakest stretches, the one where a mark helps most first.
    pub weakest: Vec<WeakStretch>,
    /// Where the subject is lost: not gone by a mark, and not to be told from its surroundings.
    pub lost: Vec<FrameRange>,
}

/// Frames of little confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeakStretch {
    /// The frames.
    pub frames: FrameRange,
    /// How many of them are likely wrong: the sum of the chances to be so, a loss counted in full.
    pub wrong_frames: f64,
    /// The frame to be marked.
    pub ask: FrameIndex,
}

impl Followed {
    /// The box at a frame; `None` where there is none.
    #[must_use]
    pub fn at(&self, frame: FrameIndex) -> Option<Sighting> {
        let offset = frame.0.checked_sub(self.frames.first().0)?;
        self.track.get(usize::try_from(offset).ok()?).copied().flatten()
    }

    /// From what each frame brought; `None` where the subject is gone.
    pub(super) fn from_fused(frames: FrameRange, fused: &[Option<Fused>]) -> Self {
        let seen = |fused: &Fused| !fused.passed.is_lost;
        let sighting = |fused: &Option<Fused>| {
            let fused = fused.as_ref().filter(|fused| seen(fused))?;
            Some(Sighting { region: fused.passed.region, confidence: fused.passed.confidence })
        };
        let track: Vec<Option<Sighting>> = fused.iter().map(sighting).collect();
        let is = |passes: &dyn Fn(&Fused) -> bool| -> Vec<bool> {
            fused.iter().map(|fused| fused.as_ref().is_some_and(passes)).collect()
        };
        let lost = runs(frames, &is(&|fused| !seen(fused)), 0);
        let disputed = runs(frames, &is(&|fused| fused.is_disputed), JOINED_OVER);
        let mut asks: Vec<FrameIndex> = disputed.iter().map(|run| middle(*run)).collect();
        asks.extend(
            runs(frames, &is(&|fused| !seen(fused)), JOINED_OVER).iter().map(|run| run.first()),
        );
        asks.sort_unstable();
        asks.dedup();
        let weak = runs(frames, &is(&|fused| chance(fused) < WEAK_BELOW), JOINED_OVER);
        let mut weakest: Vec<WeakStretch> =
            weak.into_iter().map(|run| weak_stretch(frames, run, fused)).collect();
        weakest.sort_by(|a, b| b.wrong_frames.total_cmp(&a.wrong_frames));
        Self { frames, track, asks, weakest, lost }
    }
}

fn chance(fused: &Fused) -> f64 {
    if fused.passed.is_lost { 0.0 } else { fused.passed.confidence }
}

fn middle(run: FrameRange) -> FrameIndex {
    FrameIndex(run.first().0 + run.frame_count() / 2)
}

/// A stretch and the frame of it that has as much to lose before it as after it.
fn weak_stretch(frames: FrameRange, run: FrameRange, fused: &[Option<Fused>]) -> WeakStretch {
    let wrong = |frame: FrameIndex| {
        let at = offset(frames.first(), frame);
        fused[at].as_ref().map_or(0.0, |fused| 1.0 - chance(fused))
    };
    let wrong_frames: f64 = run.frames().map(wrong).sum();
    let mut so_far = 0.0;
    let ask = run.frames().find(|frame| {
        so_far += wrong(*frame);
        2.0 * so_far >= wrong_frames
    });
    WeakStretch { frames: run, wrong_frames, ask: ask.unwrap_or(run.first()) }
}

/// Runs of frames that are so, with up to `over` others between taken in.
fn runs(frames: FrameRange, are_so: &[bool], over: u64) -> Vec<FrameRange> {
    let mut found: Vec<FrameRange> = Vec::new();
    for (frame, _) in frames.frames().zip(are_so).filter(|(_, is_so)| **is_so) {
        let next = FrameIndex(frame.0 + 1);
        let goes_on = found.last().is_some_and(|last| frame.0 - last.end().0 <= over);
        let before = if goes_on { found.pop() } else { None };
        let begins = before.map_or(frame, FrameRange::first);
        found.extend(FrameRange::new(begins, next));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{super::fuse::Passed, *};
    use crate::geometry::Region;

    fn fused(confidence: f64) -> Fused {
        let region = Region::new(0.0, 0.0, 10.0, 10.0).unwrap();
        let passed = Passed { region, confidence, is_lost: false };
        Fused { passed, is_disputed: false }
    }

    #[test]
    fn losses_are_gaps_and_what_is_weakest_comes_first() {
        let sure = Some(fused(1.0));
        let mut all = vec![sure; 40];
        all[3] = Some(Fused { is_disputed: true, ..fused(0.5) });
        for one in &mut all[20..26] {
            let passed = Passed { is_lost: true, ..fused(0.01).passed };
            *one = Some(Fused { passed, is_disputed: false });
        }
        all[30] = None;
        let frames = FrameRange::new(FrameIndex(100), FrameIndex(140)).unwrap();
        let followed = Followed::from_fused(frames, &all);
        assert_eq!(followed.track.iter().filter(|sighting| sighting.is_none()).count(), 7);
        assert!(followed.at(FrameIndex(119)).is_some() && followed.at(FrameIndex(120)).is_none());
        let lost = FrameRange::new(FrameIndex(120), FrameIndex(126)).unwrap();
        assert_eq!(followed.lost, [lost]);
        assert_eq!(followed.asks, [103, 120].map(FrameIndex));
        let weakest: Vec<_> =
            followed.weakest.iter().map(|weak| (weak.ask.0, weak.wrong_frames)).collect();
        assert_eq!(weakest, [(122, 6.0), (103, 0.5)]);
    }
}
