use super::{FrameIndex, FrameRate, TimecodeError};
use std::fmt;

/// How timecode labels are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counting {
    /// Every label is used; at 30000/1001 it runs 3.6 s an hour slow of the clock.
    NonDrop,
    /// The first labels of each minute but every tenth are left out: 2 at 30000/1001, 4 at 60000/1001.
    Drop,
}

/// A timecode: a frame's label of hours, minutes, seconds and frames at a rate, within one day.
///
/// Above 30 frames/s the frames field counts every frame. Held as the count of frames since midnight, so
/// that a label which drop frame leaves out cannot exist.
///
/// ```
/// use lookroom::timecode::{FrameIndex, FrameRate, Timecode};
/// let start = Timecode::parse("10:12:30:00", FrameRate::new(25, 1)?)?;
/// assert_eq!(start.after(FrameIndex(112)).to_string(), "10:12:34:12");
/// # Ok::<(), lookroom::timecode::TimecodeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timecode {
    rate: FrameRate,
    counting: Counting,
    frames_since_midnight: u64,
}

impl Timecode {
    /// The timecode of the frame this many frames after midnight; a day later it starts again.
    ///
    /// # Errors
    /// [`TimecodeError::NoDropFrame`] for drop frame at any rate but 30000/1001 and 60000/1001.
    pub fn from_frames(
        rate: FrameRate,
        counting: Counting,
        frames_since_midnight: u64,
    ) -> Result<Self, TimecodeError> {
        let dropped = dropped_a_minute(rate, counting)?;
        let day = frames_in_ten_minutes(rate, dropped) * 6 * 24;
        Ok(Self { rate, counting, frames_since_midnight: frames_since_midnight % day })
    }

    /// Reads `hh:mm:ss:ff`; a `;` (or `.`) before the frames says drop frame.
    ///
    /// # Errors
    /// For a text that is no timecode, a field beyond its end, a label that drop frame leaves out, and drop
    /// frame at a rate that has none.
    pub fn parse(text: &str, rate: FrameRate) -> Result<Self, TimecodeError> {
        let text = text.trim();
        let not_a_timecode = || TimecodeError::NotATimecode { text: text.to_owned() };
        let counting = if text.contains([';', '.']) { Counting::Drop } else { Counting::NonDrop };
        let fields: Vec<u64> = text
            .split([':', ';', '.'])
            .map(|field| {
                let digits =
                    (2..=3).contains(&field.len()) && field.bytes().all(|b| b.is_ascii_digit());
                if digits {
                    field.parse().map_err(|_| not_a_timecode())
                } else {
                    Err(not_a_timecode())
                }
            })
            .collect::<Result<_, _>>()?;
        let &[hours, minutes, seconds, frames] = fields.as_slice() else {
            return Err(not_a_timecode());
        };
        let nominal = u64::from(rate.nominal());
        for (field, value, last) in [
            ("hour", hours, 23),
            ("minute", minutes, 59),
            ("second", seconds, 59),
            ("frame", frames, nominal - 1),
        ] {
            if value > last {
                return Err(TimecodeError::FieldTooLarge {
                    text: text.to_owned(),
                    field,
                    value,
                    last,
                });
            }
        }
        let dropped = dropped_a_minute(rate, counting)?;
        if seconds == 0 && frames < dropped && minutes % 10 != 0 {
            return Err(TimecodeError::DroppedLabel { text: text.to_owned(), dropped });
        }
        let minutes = hours * 60 + minutes;
        let labels = (minutes * 60 + seconds) * nominal + frames;
        let left_out = dropped * (minutes - minutes / 10);
        Ok(Self { rate, counting, frames_since_midnight: labels - left_out })
    }

    /// The timecode this many frames later.
    #[must_use]
    pub fn after(self, frames: FrameIndex) -> Self {
        let frames_since_midnight = self.frames_since_midnight.saturating_add(frames.0);
        Self::from_frames(self.rate, self.counting, frames_since_midnight).unwrap_or(self)
    }

    /// How many frames after midnight this is.
    #[must_use]
    pub const fn frames_since_midnight(self) -> u64 {
        self.frames_since_midnight
    }

    /// The rate that it counts at.
    #[must_use]
    pub const fn rate(self) -> FrameRate {
        self.rate
    }

    /// How its labels are counted.
    #[must_use]
    pub const fn counting(self) -> Counting {
        self.counting
    }

    /// The count of labels up to this one, those left out included: frames + 18 a ten minutes, and 2 a
    /// further minute (SMPTE ST 12-1, from second-hand sources; twice as many at 60000/1001).
    fn label(self) -> u64 {
        let dropped = dropped_a_minute(self.rate, self.counting).unwrap_or(0);
        let in_ten_minutes = frames_in_ten_minutes(self.rate, dropped);
        let in_a_minute = 60 * u64::from(self.rate.nominal()) - dropped;
        let frames = self.frames_since_midnight;
        let (tens, rest) = (frames / in_ten_minutes, frames % in_ten_minutes);
        let minutes = if rest < dropped { 0 } else { (rest - dropped) / in_a_minute };
        frames + 9 * dropped * tens + dropped * minutes
    }
}

impl fmt::Display for Timecode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (label, nominal) = (self.label(), u64::from(self.rate.nominal()));
        let (seconds, frames) = (label / nominal, label % nominal);
        let separator = if self.counting == Counting::Drop { ';' } else { ':' };
        let digits = if nominal > 100 { 3 } else { 2 };
        write!(
            f,
            "{:02}:{:02}:{:02}{separator}{frames:0digits$}",
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60
        )
    }
}

fn dropped_a_minute(rate: FrameRate, counting: Counting) -> Result<u64, TimecodeError> {
    match (counting, rate.frames(), rate.seconds()) {
        (Counting::NonDrop, ..) => Ok(0),
        (Counting::Drop, 30_000, 1001) => Ok(2),
        (Counting::Drop, 60_000, 1001) => Ok(4),
        _ => Err(TimecodeError::NoDropFrame { rate }),
    }
}

const fn frames_in_ten_minutes(rate: FrameRate, dropped: u64) -> u64 {
    600 * rate.nominal() as u64 - 9 * dropped
}
