use super::{FrameIndex, FrameRange, TimecodeError};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What changes evenly while a ramp's speed changes. The two laws give ramps of different lengths, so that a ramp
/// without its law is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RampLaw {
    /// The speed changes by the same amount with each source frame.
    LinearInSource,
    /// The speed changes by the same amount with each timeline frame.
    LinearInTimeline,
}

impl RampLaw {
    /// Both of them.
    pub const ALL: [Self; 2] = [Self::LinearInSource, Self::LinearInTimeline];

    /// The name used in shoot files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LinearInSource => "linear-in-source",
            Self::LinearInTimeline => "linear-in-timeline",
        }
    }
}

impl fmt::Display for RampLaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// How fast the timeline plays some frames, as a share of real time: 0.25 is 25 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Speed {
    /// All of them alike.
    Constant(f64),
    /// Changing from one speed at the first frame to another at the first frame after the last.
    Ramp {
        /// At the first frame.
        from: f64,
        /// At the first frame after the last.
        to: f64,
        /// What changes evenly in between.
        law: RampLaw,
    },
}

impl Speed {
    /// The slowest speed that is taken: a choice. A freeze frame is slower, and is no retime.
    pub const LEAST: f64 = 0.01;
    /// The fastest: a choice that catches speeds written in percent, at the price of time lapses above it.
    pub const GREATEST: f64 = 20.0;

    /// The speeds at the first frame and at the first one after the last.
    #[must_use]
    pub const fn ends(self) -> (f64, f64) {
        match self {
            Self::Constant(speed) => (speed, speed),
            Self::Ramp { from, to, .. } => (from, to),
        }
    }

    /// The speed, if both of its ends are in range.
    ///
    /// # Errors
    /// [`TimecodeError::SpeedOutOfRange`] outside [`Speed::LEAST`] to [`Speed::GREATEST`], and for NaN.
    pub fn checked(self) -> Result<Self, TimecodeError> {
        let (least, greatest) = (Self::LEAST, Self::GREATEST);
        let (from, to) = self.ends();
        match [from, to].into_iter().find(|speed| !(least..=greatest).contains(speed)) {
            Some(speed) => Err(TimecodeError::SpeedOutOfRange { speed, least, greatest }),
            None => Ok(self),
        }
    }

    /// The speed where a share of the source frames, 0 to 1, has been played. Where the speed is linear in time
    /// its square is linear in what has been played, as in evenly accelerated motion.
    fn at(self, share: f64) -> f64 {
        match self {
            Self::Constant(speed) => speed,
            Self::Ramp { from, to, law: RampLaw::LinearInSource } => from + (to - from) * share,
            Self::Ramp { from, to, law: RampLaw::LinearInTimeline } => {
                (from * from + (to * to - from * from) * share).sqrt()
            }
        }
    }

    /// How long so many source frames take to play between two shares of the whole, in the time of a source frame:
    /// the integral of 1/speed, which is `(n / (v1 - v0)) ln(v1 / v0)` for a ramp linear in source and
    /// `n / mean speed` for one linear in time.
    fn played(self, frames: f64, (from_share, to_share): (f64, f64)) -> f64 {
        let (from, to) = (self.at(from_share), self.at(to_share));
        match self {
            Self::Constant(speed) => frames / speed,
            Self::Ramp { law: RampLaw::LinearInTimeline, .. } => frames / f64::midpoint(from, to),
            Self::Ramp { law: RampLaw::LinearInSource, .. } => {
                let change = (to - from) / from;
                // Below this the logarithm's series differs from 1 by less than half of what a number holds.
                let mean_slowness =
                    if change.abs() < 1e-16 { 1.0 } else { change.ln_1p() / change };
                frames * mean_slowness / from
            }
        }
    }
}

/// Some frames of a clip that follow on each other, and how fast the timeline plays them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RetimeStretch {
    /// The frames.
    pub frames: FrameRange,
    /// Their speed.
    pub speed: Speed,
}

impl RetimeStretch {
    /// How long it plays, in the time of a source frame: its number of frames at real time.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
    pub fn played(&self) -> f64 {
        self.speed.played(self.frames.frame_count() as f64, (0.0, 1.0))
    }

    /// How long the part of it from one frame up to another plays, of which both are in it or at its end.
    #[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
    fn played_between(&self, from: FrameIndex, to: FrameIndex) -> f64 {
        let share = |frame: FrameIndex| {
            (frame.0 - self.frames.first().0) as f64 / self.frames.frame_count() as f64
        };
        self.speed.played((to.0 - from.0) as f64, (share(from), share(to)))
    }
}

/// How the timeline plays a clip whose speed was changed: a table of stretches that follow on each other.
///
/// A frame before the first stretch plays at the speed that this one begins with, and a frame after the last at
/// the speed that it ends with.
///
/// ```
/// use lookroom::timecode::{FrameIndex, FrameRange, RampLaw, Retime, RetimeStretch, Speed};
/// let frames = FrameRange::new(FrameIndex(200), FrameIndex(300))?;
/// let speed = Speed::Ramp { from: 1.0, to: 0.25, law: RampLaw::LinearInTimeline };
/// let ramp = Retime::new(vec![RetimeStretch { frames, speed }])?;
/// assert_eq!(ramp.played(FrameIndex(200), FrameIndex(300)), 160.0);
/// assert_eq!(ramp.played(FrameIndex(300), FrameIndex(301)), 4.0);
/// # Ok::<(), lookroom::timecode::TimecodeError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Retime {
    /// In order, without a gap, and at least one.
    stretches: Vec<RetimeStretch>,
}

impl Retime {
    /// A table of stretches, which may be given in any order.
    ///
    /// # Errors
    /// [`TimecodeError::NoRetimes`] without any, [`TimecodeError::RetimesOverlap`] and
    /// [`TimecodeError::RetimesApart`] if they do not follow on each other, and
    /// [`TimecodeError::SpeedOutOfRange`].
    pub fn new(mut stretches: Vec<RetimeStretch>) -> Result<Self, TimecodeError> {
        if stretches.is_empty() {
            return Err(TimecodeError::NoRetimes);
        }
        stretches.sort_by_key(|stretch| (stretch.frames.first(), stretch.frames.end()));
        for pair in stretches.windows(2) {
            let (before, next) = (pair[0].frames, pair[1].frames);
            if next.first() < before.end() {
                return Err(TimecodeError::RetimesOverlap { before, next });
            }
            if next.first() > before.end() {
                return Err(TimecodeError::RetimesApart { before, next });
            }
        }
        for stretch in &stretches {
            stretch.speed.checked()?;
        }
        Ok(Self { stretches })
    }

    /// The stretches in order; at least one.
    #[must_use]
    pub fn stretches(&self) -> &[RetimeStretch] {
        &self.stretches
    }

    /// The frames that the table speaks of.
    ///
    /// # Panics
    /// Never: there is a stretch, and each ends after it begins.
    #[must_use]
    pub fn frames(&self) -> FrameRange {
        let (first, last) = (self.stretches[0], self.stretches[self.stretches.len() - 1]);
        FrameRange::new(first.frames.first(), last.frames.end()).expect("stretches are in order")
    }

    /// The speed, if it is the same throughout, whatever the law of a ramp that is none.
    #[must_use]
    pub fn constant(&self) -> Option<f64> {
        let (speed, _) = self.stretches[0].speed.ends();
        let is_it = |end: f64| end.total_cmp(&speed).is_eq();
        let all = self.stretches.iter().map(|stretch| stretch.speed.ends());
        all.into_iter().all(|(from, to)| is_it(from) && is_it(to)).then_some(speed)
    }

    /// How long the frames from one up to another play, in the time of a source frame: their number at real
    /// time. Below 0 if the second comes first.
    #[must_use]
    pub fn played(&self, from: FrameIndex, to: FrameIndex) -> f64 {
        if to < from {
            return -self.played(to, from);
        }
        let table = self.frames();
        let (before, _) = self.stretches[0].speed.ends();
        let (_, after) = self.stretches[self.stretches.len() - 1].speed.ends();
        let of_stretches = self.stretches.iter().map(|stretch| {
            let (from, to) = (from.max(stretch.frames.first()), to.min(stretch.frames.end()));
            if from < to { stretch.played_between(from, to) } else { 0.0 }
        });
        frames_between(from, to.min(table.first())) / before
            + of_stretches.sum::<f64>()
            + frames_between(from.max(table.end()), to) / after
    }
}

/// How many frames lie from one up to another; 0 if that comes before it.
#[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
const fn frames_between(from: FrameIndex, to: FrameIndex) -> f64 {
    to.0.saturating_sub(from.0) as f64
}

#[cfg(test)]
mod tests;
