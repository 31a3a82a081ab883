use crate::timecode::FrameRate;
use std::{fmt, str::FromStr};

/// How often lamps on the mains go bright and dark: twice in each period of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampHertz {
    /// 100 times a second, on 50 Hz.
    Hundred,
    /// 120 times a second, on 60 Hz.
    HundredTwenty,
}

impl LampHertz {
    /// How often a second.
    #[must_use]
    pub const fn per_second(self) -> u32 {
        match self {
            Self::Hundred => 100,
            Self::HundredTwenty => 120,
        }
    }
}

impl fmt::Display for LampHertz {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} Hz", self.per_second() / 2)
    }
}

impl FromStr for LampHertz {
    type Err = String;

    /// The mains: `50` or `60`.
    fn from_str(text: &str) -> Result<Self, String> {
        match text.trim().trim_end_matches("Hz").trim() {
            "50" => Ok(Self::Hundred),
            "60" => Ok(Self::HundredTwenty),
            other => Err(format!("`{other}` is no mains frequency; write 50 or 60")),
        }
    }
}

/// The exposures, in seconds and the longest first, under which every frame gets as much light from such lamps: the whole
/// multiples of their period that a frame has time for. None where frames follow each other faster than the lamps.
#[must_use]
pub fn flicker_free_secs(lamps: LampHertz, rate: FrameRate) -> Vec<f64> {
    let periods =
        u64::from(lamps.per_second()) * u64::from(rate.seconds()) / u64::from(rate.frames());
    let period_secs = 1.0 / f64::from(lamps.per_second());
    #[expect(clippy::cast_precision_loss, reason = "there are at most 120 of them")]
    let secs = |count: u64| count as f64 * period_secs;
    (1..=periods).rev().map(secs).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exposures_are_whole_periods_of_the_light() {
        let rate = |text: &str| text.parse::<FrameRate>().unwrap();
        let near = |found: Vec<f64>, expected: &[f64]| {
            assert_eq!(found.len(), expected.len(), "{found:?}");
            assert!(found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-12), "{found:?}");
        };
        // By hand: at 25 frames/s and 100 flashes a second a frame has time for 1/25, 3/100, 1/50 and 1/100 s.
        near(flicker_free_secs(LampHertz::Hundred, rate("25")), &[0.04, 0.03, 0.02, 0.01]);
        near(flicker_free_secs(LampHertz::HundredTwenty, rate("50")), &[1.0 / 60.0, 1.0 / 120.0]);
        near(flicker_free_secs(LampHertz::Hundred, rate("100")), &[0.01]);
        near(flicker_free_secs(LampHertz::Hundred, rate("200")), &[]);
    }

    #[test]
    fn the_mains_are_one_of_two() {
        assert_eq!("60 Hz".parse(), Ok(LampHertz::HundredTwenty));
        assert!("55".parse::<LampHertz>().is_err());
    }
}
