use crate::timecode::{FrameIndex, FrameRange, FrameRate};
use std::fmt;

/// When each frame of a clip is shown.
#[derive(Debug, Clone, PartialEq)]
pub enum Timing {
    /// Evenly, at this rate.
    Constant(FrameRate),
    /// At the time stamps that the footage carries: a variable rate.
    Variable(FrameTimes),
}

impl Timing {
    /// The rate, if it is constant. Without one there is no timecode.
    #[must_use]
    pub const fn rate(&self) -> Option<FrameRate> {
        match self {
            Self::Constant(rate) => Some(*rate),
            Self::Variable(_) => None,
        }
    }

    /// The time stamps, if the rate is variable.
    #[must_use]
    pub const fn times(&self) -> Option<&FrameTimes> {
        match self {
            Self::Constant(_) => None,
            Self::Variable(times) => Some(times),
        }
    }

    /// Frames per second; in the mean where the rate is variable.
    #[must_use]
    pub fn per_second(&self) -> f64 {
        match self {
            Self::Constant(rate) => rate.per_second(),
            Self::Variable(times) => times.mean_per_second(),
        }
    }

    /// When a frame begins, in seconds of capture from the beginning of frame 0. A variable-rate clip's
    /// frames end where its last one does: beyond it time stands still.
    #[must_use]
    pub fn seconds_at(&self, frame: FrameIndex) -> f64 {
        match self {
            Self::Constant(rate) => rate.seconds_at(frame),
            Self::Variable(times) => times.seconds_at(frame),
        }
    }

    /// How many frames fit whole into so many seconds on both sides of a range, as far as the clip has them:
    /// before it, and after it.
    #[must_use]
    pub fn frames_beside(&self, range: FrameRange, secs: f64, clip: FrameRange) -> (u64, u64) {
        match self {
            Self::Constant(rate) => {
                let frames = whole(secs * rate.per_second());
                (frames, frames)
            }
            Self::Variable(times) => {
                let from = |frame| times.seconds_at(frame);
                let (start, end) = (from(range.first()), from(range.end()));
                let before = (clip.first().0..range.first().0).rev().take_while(|frame| {
                    start - from(FrameIndex(*frame)) <= secs + HALF_MILLISECOND
                });
                let after = (range.end().0..clip.end().0).take_while(|frame| {
                    from(FrameIndex(frame + 1)) - end <= secs + HALF_MILLISECOND
                });
                (before.count() as u64, after.count() as u64)
            }
        }
    }
}

/// Stamps in milliseconds are off by up to this.
const HALF_MILLISECOND: f64 = 0.0005;

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "at most a minute of frames, and not negative: the limit's range says so"
)]
fn whole(frames: f64) -> u64 {
    frames.round() as u64
}

impl fmt::Display for Timing {
    /// `25`, or `variable (14.7 in the mean)`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Constant(rate) => rate.fmt(f),
            Self::Variable(times) => {
                write!(f, "variable ({:.4} in the mean)", times.mean_per_second())
            }
        }
    }
}

/// The time stamps of a clip's frames, as the footage has them: whole ticks, each later than the one before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrameTimes {
    /// A tick lasts `tick_seconds / ticks` seconds.
    tick_seconds: u32,
    ticks: u32,
    /// One a frame, and the end of the last; two at least.
    stamps: Vec<i64>,
}

impl FrameTimes {
    /// The stamps of frames in the order in which they are shown, in ticks of `base.0 / base.1` seconds, and
    /// how many ticks the last frame stays. `None` if there is no frame, a stamp is not later than the one
    /// before, the last frame does not stay, or a tick is none.
    #[must_use]
    pub fn new(base: (u32, u32), mut stamps: Vec<i64>, last_stays: i64) -> Option<Self> {
        let end = stamps.last()?.checked_add(last_stays)?;
        stamps.push(end);
        let rises = stamps.windows(2).all(|pair| pair[0] < pair[1]);
        let spans = stamps.last()?.checked_sub(*stamps.first()?).is_some();
        (rises && spans && base.0 > 0 && base.1 > 0).then_some(Self {
            tick_seconds: base.0,
            ticks: base.1,
            stamps,
        })
    }

    /// How many frames.
    #[must_use]
    pub fn frame_count(&self) -> u64 {
        self.stamps.len() as u64 - 1
    }

    /// The stamp of a frame in ticks as the footage has it; `None` beyond the last.
    #[must_use]
    pub fn stamp(&self, frame: FrameIndex) -> Option<i64> {
        let place = usize::try_from(frame.0).ok()?;
        self.stamps.get(..self.stamps.len() - 1)?.get(place).copied()
    }

    /// How long a tick is, as seconds over ticks: `(1, 90000)`.
    #[must_use]
    pub const fn base(&self) -> (u32, u32) {
        (self.tick_seconds, self.ticks)
    }

    /// When a frame begins, in seconds from frame 0; for the first frame after the last, and any later one,
    /// the end of the last.
    #[must_use]
    pub fn seconds_at(&self, frame: FrameIndex) -> f64 {
        let last = self.stamps.len() - 1;
        let place = usize::try_from(frame.0).map_or(last, |place| place.min(last));
        self.seconds(self.stamps[place] - self.stamps[0])
    }

    /// Frames per second over the whole clip.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "frame counts are far below 2^53")]
    pub fn mean_per_second(&self) -> f64 {
        self.frame_count() as f64 / self.seconds_at(FrameIndex(self.frame_count()))
    }

    /// The shortest and the longest time from a frame to the next, in seconds; that of the only frame if it
    /// is alone.
    #[must_use]
    pub fn extreme_gaps_secs(&self) -> (f64, f64) {
        let between = if self.stamps.len() > 2 { self.stamps.len() - 1 } else { self.stamps.len() };
        let gaps = self.stamps[..between].windows(2).map(|pair| pair[1] - pair[0]);
        let (least, most) =
            gaps.fold((i64::MAX, 0), |(least, most), gap| (least.min(gap), most.max(gap)));
        (self.seconds(least), self.seconds(most))
    }

    /// These frames and then those of another clip part; the ticks of both are alike.
    #[must_use]
    pub fn followed_by(&self, next: &Self) -> Option<Self> {
        if self.base() != next.base() {
            return None;
        }
        let end = self.stamps.last()?;
        let first = next.stamps.first()?;
        let mut stamps = self.stamps.clone();
        stamps.pop();
        stamps.extend(next.stamps.iter().map(|stamp| end + (stamp - first)));
        Some(Self { stamps, ..*self })
    }

    #[expect(clippy::cast_precision_loss, reason = "a clip has far fewer than 2^53 ticks")]
    fn seconds(&self, ticks: i64) -> f64 {
        ticks as f64 * f64::from(self.tick_seconds) / f64::from(self.ticks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn uneven() -> FrameTimes {
        FrameTimes::new((1, 1000), vec![50, 354, 430, 434], 40).unwrap()
    }

    #[test]
    fn time_runs_from_the_first_frame_by_the_stamps() {
        let times = uneven();
        let secs: Vec<f64> = (0..6).map(|n| times.seconds_at(FrameIndex(n))).collect();
        assert_eq!(secs, [0.0, 0.304, 0.38, 0.384, 0.424, 0.424]);
        assert_eq!((times.stamp(FrameIndex(3)), times.stamp(FrameIndex(4))), (Some(434), None));
        assert_eq!(times.extreme_gaps_secs(), (0.004, 0.304));
        assert_eq!(times.mean_per_second(), 4.0 / 0.424);
    }

    #[test]
    fn stamps_that_do_not_rise_are_none() {
        for (stamps, last) in [(vec![], 1), (vec![5, 5], 1), (vec![5, 4], 1), (vec![5], 0)] {
            assert_eq!(FrameTimes::new((1, 1000), stamps, last), None);
        }
        assert_eq!(FrameTimes::new((1, 0), vec![1], 1), None);
        assert_eq!(FrameTimes::new((1, 1000), vec![i64::MIN, 1], i64::MAX), None);
    }

    #[test]
    fn handles_are_counted_in_time_and_not_in_frames() {
        let timing = Timing::Variable(uneven());
        let range = |first, end| FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
        let clip = range(0, 4);
        assert_eq!(timing.frames_beside(range(2, 3), 0.08, clip), (1, 1));
        assert_eq!(timing.frames_beside(range(2, 3), 0.40, clip), (2, 1));
        let constant = Timing::Constant(FrameRate::new(25, 1).unwrap());
        assert_eq!(constant.frames_beside(range(2, 3), 1.0, clip), (25, 25));
    }

    #[test]
    fn a_part_goes_on_where_the_one_before_ends() {
        let joined = uneven().followed_by(&uneven()).unwrap();
        assert_eq!(joined.frame_count(), 8);
        assert_eq!(joined.seconds_at(FrameIndex(4)), 0.424);
        assert_eq!(joined.seconds_at(FrameIndex(8)), 0.848);
        let other = FrameTimes::new((1, 90_000), vec![0], 1).unwrap();
        assert_eq!(uneven().followed_by(&other), None);
    }
}
