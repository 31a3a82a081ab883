use super::{FrameIndex, TimecodeError};
use serde::{Deserialize, Serialize};
use std::{fmt, str::FromStr};

/// Frames per second as a fraction of whole numbers in lowest terms: 25, 24000/1001.
///
/// ```
/// use lookroom::timecode::{FrameIndex, FrameRate};
/// let rate: FrameRate = "30000/1001".parse()?;
/// assert_eq!(rate.seconds_at(FrameIndex(30_000)), 1001.0);
/// assert!("29.97".parse::<FrameRate>().is_err(), "a rounded rate drifts 3.6 s an hour");
/// # Ok::<(), lookroom::timecode::TimecodeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct FrameRate {
    frames: u32,
    seconds: u32,
}

impl FrameRate {
    /// `frames` in `seconds`, reduced to lowest terms.
    ///
    /// # Errors
    /// [`TimecodeError::RateOutOfRange`] outside 1 to 1000 frames/s.
    pub fn new(frames: u32, seconds: u32) -> Result<Self, TimecodeError> {
        let too_slow = frames < seconds;
        let too_fast = u64::from(frames) > 1000 * u64::from(seconds);
        if seconds == 0 || too_slow || too_fast {
            let rate =
                if seconds == 1 { frames.to_string() } else { format!("{frames}/{seconds}") };
            return Err(TimecodeError::RateOutOfRange { rate });
        }
        let divisor = greatest_common_divisor(frames, seconds);
        Ok(Self { frames: frames / divisor, seconds: seconds / divisor })
    }

    /// The numerator.
    #[must_use]
    pub const fn frames(self) -> u32 {
        self.frames
    }

    /// The denominator.
    #[must_use]
    pub const fn seconds(self) -> u32 {
        self.seconds
    }

    /// The rate as a number, for arithmetic that may be rounded.
    #[must_use]
    pub fn per_second(self) -> f64 {
        f64::from(self.frames) / f64::from(self.seconds)
    }

    /// How long one frame lasts.
    #[must_use]
    pub fn frame_secs(self) -> f64 {
        f64::from(self.seconds) / f64::from(self.frames)
    }

    /// When a frame begins, from the beginning of frame 0. Exact to double precision.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
    pub fn seconds_at(self, frame: FrameIndex) -> f64 {
        (frame.0 * u64::from(self.seconds)) as f64 / f64::from(self.frames)
    }

    /// The whole number of frames that timecode counts in a second: 30 for 30000/1001.
    #[must_use]
    pub const fn nominal(self) -> u32 {
        self.frames.div_ceil(self.seconds)
    }
}

impl fmt::Display for FrameRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.seconds == 1 {
            write!(f, "{}", self.frames)
        } else {
            write!(f, "{}/{}", self.frames, self.seconds)
        }
    }
}

impl From<FrameRate> for String {
    fn from(rate: FrameRate) -> Self {
        rate.to_string()
    }
}

impl TryFrom<String> for FrameRate {
    type Error = TimecodeError;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl FromStr for FrameRate {
    type Err = TimecodeError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let not_a_rate = || TimecodeError::NotARate { text: text.to_owned() };
        let whole = |part: &str| part.trim().parse::<u32>().map_err(|_| not_a_rate());
        if let Some((frames, seconds)) = text.split_once('/') {
            return Self::new(whole(frames)?, whole(seconds)?);
        }
        match (text.parse::<u32>(), text.parse::<f64>()) {
            (Ok(frames), _) => Self::new(frames, 1),
            (Err(_), Ok(decimal)) if decimal.is_finite() && !(1.0..=1000.0).contains(&decimal) => {
                Err(TimecodeError::RateOutOfRange { rate: text.to_owned() })
            }
            (Err(_), Ok(decimal)) if decimal.is_finite() => Err(TimecodeError::RoundedRate {
                text: text.to_owned(),
                exact: known_fraction(decimal),
            }),
            _ => Err(not_a_rate()),
        }
    }
}

/// The exact rate that a rounded decimal stands for: a whole number over 1.001, within a hundredth, or a
/// whole number.
fn known_fraction(decimal: f64) -> Option<FrameRate> {
    let whole = decimal.to_string().parse().ok().and_then(|whole| FrameRate::new(whole, 1).ok());
    if whole.is_some() {
        return whole;
    }
    [24_u32, 30, 48, 60, 120, 240].into_iter().find_map(|nominal| {
        let near = |rate: f64| (rate - decimal).abs() < 0.011;
        if near(f64::from(nominal) / 1.001) {
            FrameRate::new(nominal * 1000, 1001).ok()
        } else if near(f64::from(nominal)) {
            FrameRate::new(nominal, 1).ok()
        } else {
            None
        }
    })
}

const fn greatest_common_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rounded_rate_is_refused_with_the_fraction_it_stands_for() {
        for (decimal, fraction) in [
            ("23.976", "24000/1001"),
            ("29.97", "30000/1001"),
            ("59.94", "60000/1001"),
            ("119.88", "120000/1001"),
            ("25.0", ", 25"),
            ("1e2", ", 100"),
        ] {
            let refusal = decimal.parse::<FrameRate>().unwrap_err().to_string();
            assert!(refusal.ends_with(fraction), "{refusal}");
        }
    }

    #[test]
    fn a_rate_that_no_camera_has_is_told_with_what_rates_there_are_and_how_they_are_written() {
        for rate in ["1e9", "-25", "0", "-0.5", "1001", "5000/2", "1/2", "0/0"] {
            let refusal = rate.parse::<FrameRate>().unwrap_err().to_string();
            let says = format!(
                "a rate of {rate} frames/s is out of range, expected 1 to 1000; write how many frames a second has, for \
                 example 25 or 30000/1001"
            );
            assert_eq!(refusal, says);
        }
    }

    #[test]
    fn nonsense_rates_are_refused() {
        for text in ["", "0", "1/0", "-25", "1001/30000", "5000", "NaN", "inf", "25/", "a/b"] {
            assert!(text.parse::<FrameRate>().is_err(), "{text}");
        }
    }
}
