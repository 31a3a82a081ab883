use crate::timecode::{FrameIndex, FrameRange};

/// A part of a clip that is used, with the frames on both sides that an editor may need for a transition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UsedRange {
    /// The frames that are used.
    pub used: FrameRange,
    /// Those frames and the handles, as far as the clip has them.
    pub with_handles: FrameRange,
}

impl UsedRange {
    /// A used range with handles of so many frames before and after it, cut off where the clip ends.
    ///
    /// # Panics
    /// Never: a range within another holds at least the range itself.
    #[must_use]
    pub fn new(used: FrameRange, (before, after): (u64, u64), clip: FrameRange) -> Self {
        let first = used.first().0.saturating_sub(before).max(clip.first().0);
        let end = (used.end().0.saturating_add(after)).min(clip.end().0).max(used.end().0);
        let with_handles = FrameRange::new(FrameIndex(first), FrameIndex(end))
            .expect("handles only add frames to a range");
        Self { used, with_handles }
    }
}

/// The frames of a clip that hold a frame and no cut: from the last cut up to the frame, or the first frame there
/// is, up to the next cut, or the end. Cuts are the first frames after them, in order.
///
/// # Panics
/// Never for a frame of the clip and cuts inside it: the part holds at least that frame.
#[must_use]
pub fn part_without_cut(whole: FrameRange, cuts: &[FrameIndex], frame: FrameIndex) -> FrameRange {
    let next = cuts.partition_point(|cut| *cut <= frame);
    let first = next.checked_sub(1).map_or(whole.first(), |before| cuts[before]);
    let end = cuts.get(next).copied().unwrap_or(whole.end());
    FrameRange::new(first, end).expect("cuts are in order and inside the clip")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(first: u64, end: u64) -> FrameRange {
        FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap()
    }

    #[test]
    fn handles_stop_where_the_clip_does() {
        let used = UsedRange::new(range(10, 90), (25, 25), range(0, 100));
        assert_eq!(used.with_handles, range(0, 100));
    }

    #[test]
    fn a_part_goes_from_cut_to_cut() {
        let cuts = [FrameIndex(30), FrameIndex(31)];
        for (frame, part) in
            [(0, range(0, 30)), (29, range(0, 30)), (30, range(30, 31)), (31, range(31, 99))]
        {
            assert_eq!(part_without_cut(range(0, 99), &cuts, FrameIndex(frame)), part);
        }
        assert_eq!(part_without_cut(range(0, 99), &[], FrameIndex(50)), range(0, 99));
    }
}
