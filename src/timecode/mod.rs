//! When things are: rates as fractions, frame numbers, timecode.
//!
//! Time is counted, never measured: a frame number and a rate as a fraction of whole numbers are the truth,
//! seconds and timecode are made from them. Frames count from 0 in presentation order and ranges are
//! half-open. Drop-frame counting follows the rule of SMPTE ST 12-1 (read in second-hand sources). A retime says
//! how fast a timeline plays which frames, a sync how the frames of two recordings stand to each other;
//! variable-rate stamps belong to the clip.

mod frame;
mod rate;
mod retime;
mod smpte;
mod sync;

pub use frame::{FrameIndex, FrameRange};
pub use rate::FrameRate;
pub use retime::{RampLaw, Retime, RetimeStretch, Speed};
pub use smpte::{Counting, Timecode};
pub use sync::{Clap, Matching, SPEED_OF_SOUND_M_PER_SEC, Sync, sound_delay_secs};

/// What can be wrong with a rate, a range, a timecode or a retime.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TimecodeError {
    /// A text that should be a rate is not one.
    #[error(
        "`{text}` is not a frame rate; write a whole number or a fraction, for example 25 or 30000/1001"
    )]
    NotARate {
        /// What was read.
        text: String,
    },
    /// A rate was written as a rounded decimal.
    #[error("`{text}` is a rounded frame rate and drifts; write the exact fraction{}", exact.map(|r| format!(", {r}")).unwrap_or_default())]
    RoundedRate {
        /// What was read.
        text: String,
        /// The fraction it stands for, if it is a known one.
        exact: Option<FrameRate>,
    },
    /// A rate is outside what any camera has.
    #[error(
        "a rate of {rate} frames/s is out of range, expected 1 to 1000; write how many frames a second has, for example 25 or \
         30000/1001"
    )]
    RateOutOfRange {
        /// As a number or a fraction.
        rate: String,
    },
    /// A range holds no frame.
    #[error("the range {first} to {end} holds no frame; its end is the first frame after it")]
    EmptyRange {
        /// First frame.
        first: u64,
        /// First frame after it.
        end: u64,
    },
    /// A text that should be a timecode is not one.
    #[error(
        "`{text}` is not a timecode; write hh:mm:ss:ff, with ; before the frames for drop frame"
    )]
    NotATimecode {
        /// What was read.
        text: String,
    },
    /// A timecode names a label that its counting leaves out.
    #[error(
        "the timecode {text} does not exist: drop frame leaves out the first {dropped} labels of this minute"
    )]
    DroppedLabel {
        /// What was read.
        text: String,
        /// How many labels are left out.
        dropped: u64,
    },
    /// Drop frame at a rate that has none.
    #[error(
        "there is no drop-frame timecode at {rate} frames/s, only at 30000/1001 and 60000/1001"
    )]
    NoDropFrame {
        /// The rate.
        rate: FrameRate,
    },
    /// A timecode field is beyond its end.
    #[error("the timecode {text} has a {field} of {value}, and the last is {last}")]
    FieldTooLarge {
        /// What was read.
        text: String,
        /// Which field.
        field: &'static str,
        /// Its value.
        value: u64,
        /// The last value it may have.
        last: u64,
    },
    /// A speed that no timeline plays at.
    #[error(
        "a speed of {speed} is out of range, expected {least} to {greatest}; it is a share of real time, 0.25 for 25 %"
    )]
    SpeedOutOfRange {
        /// The speed.
        speed: f64,
        /// The slowest.
        least: f64,
        /// The fastest.
        greatest: f64,
    },
    /// A frame number beyond those that are reckoned with.
    #[error("frame {frame} is beyond {greatest}, the last that is reckoned with")]
    FrameTooLarge {
        /// The frame.
        frame: FrameIndex,
        /// The last.
        greatest: u64,
    },
    /// A clap at the end that does not come after the one at the start.
    #[error(
        "the clap at the end, frames {} and {}, is not later than the one at the start, {} and {}, in both recordings",
        end.0, end.1, start.0, start.1
    )]
    ClapsOutOfOrder {
        /// The frames of the clap at the start.
        start: (FrameIndex, FrameIndex),
        /// The frames of the clap at the end.
        end: (FrameIndex, FrameIndex),
    },
    /// Two claps between which no two clocks differ so much.
    #[error(
        "the claps make a drift of {ppm:.0} ppm, and at most {greatest:.0} are taken for one; check the frames, and that both recordings are of the same rate"
    )]
    DriftTooLarge {
        /// The drift, parts in a million.
        ppm: f64,
        /// The most.
        greatest: f64,
    },
    /// A table of retimes without any.
    #[error("there is no retime in the table; write one, or leave the table out")]
    NoRetimes,
    /// Two retimes of the same frames.
    #[error(
        "the retime of frames {next} begins before that of frames {before} ends; end the one where the other begins"
    )]
    RetimesOverlap {
        /// The one that begins first.
        before: FrameRange,
        /// The one that begins in it.
        next: FrameRange,
    },
    /// Frames between two retimes that belong to neither.
    #[error(
        "frames {} to {} lie between the retimes of frames {before} and {next} and have no speed; write them down too",
        before.end(),
        FrameIndex(next.first().0.saturating_sub(1))
    )]
    RetimesApart {
        /// The one before the gap.
        before: FrameRange,
        /// The one after it.
        next: FrameRange,
    },
}
