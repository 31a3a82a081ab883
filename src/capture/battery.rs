use super::{CaptureError, within};
use std::fmt;

/// A battery, by the minutes its camera runs on it in a warm room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Battery {
    rated_minutes: f64,
}

/// What of a battery's time is left in the cold, as shares of its rated time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdShare {
    /// The least that is to be reckoned with; what a plan takes.
    pub least: f64,
    /// The most.
    pub most: f64,
    /// Where the two come from.
    pub source: ColdSource,
}

/// Where a share comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColdSource {
    /// The user's own measurement or experience, which goes before all else.
    Own,
    /// As warm as the cells were rated.
    Warm,
    /// Six cylindrical cells that were measured, and what is planned with in practice.
    MeasuredCells,
}

impl fmt::Display for ColdSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Own => "your own figure",
            Self::Warm => "as rated",
            Self::MeasuredCells => "six measured cells and common practice; measure your own",
        })
    }
}

/// What six cylindrical lithium-ion cells gave at a temperature, the least and the most of them as a share of what
/// they gave at 25 degrees Celsius, discharged at a steady rate in one hour. From open data of such measurements
/// (repository `Battery_coldtemperature`, commit 5613242), one run a cell and temperature.
const MEASURED: [(f64, f64, f64); 6] = [
    (-30.0, 0.292, 0.676),
    (-25.0, 0.368, 0.721),
    (-20.0, 0.425, 0.771),
    (-15.0, 0.592, 0.818),
    (-10.0, 0.679, 0.866),
    (25.0, 1.0, 1.0),
];

/// The share that is planned with at a temperature (common practice, no source): lower than a steady discharge gives, since
/// a camera draws in peaks and stops at the first of them that the cold cell cannot meet.
const PRACTICE: [(f64, f64); 3] = [(-10.0, 0.5), (0.0, 0.8), (25.0, 1.0)];

impl Battery {
    /// The least and the greatest rated time, in minutes. They catch slips of the pen.
    pub const LIMITS_MINUTES: (f64, f64) = (1.0, 10_000.0);

    /// A battery that lasts so many minutes at room temperature.
    ///
    /// # Errors
    /// [`CaptureError::OutOfRange`] outside [`Self::LIMITS_MINUTES`].
    pub fn new(rated_minutes: f64) -> Result<Self, CaptureError> {
        let rated_minutes = within("a battery", "minutes", rated_minutes, Self::LIMITS_MINUTES)?;
        Ok(Self { rated_minutes })
    }

    /// The rated time in minutes.
    #[must_use]
    pub const fn rated_minutes(&self) -> f64 {
        self.rated_minutes
    }

    /// From how many minutes to how many it lasts with a share.
    #[must_use]
    pub fn minutes(&self, share: &ColdShare) -> (f64, f64) {
        (self.rated_minutes * share.least, self.rated_minutes * share.most)
    }
}

impl ColdShare {
    /// The greatest share that can be said: some cells do better than their label.
    const GREATEST_OWN: f64 = 1.2;

    /// A share that the user measured or knows.
    ///
    /// # Errors
    /// [`CaptureError::OutOfRange`] outside 0.05 to 1.2.
    pub fn own(share: f64) -> Result<Self, CaptureError> {
        let limits = (0.05, Self::GREATEST_OWN);
        let share = within("a battery's share in the cold", "of the rated time", share, limits)?;
        Ok(Self { least: share, most: share, source: ColdSource::Own })
    }

    /// What is to be reckoned with at so many degrees Celsius: from the worst of the measured cells or what practice plans
    /// with, whichever is less, to the best of the cells; on straight lines between the temperatures that are
    /// known.
    ///
    /// # Errors
    /// [`CaptureError::TooCold`] below what was measured, and [`CaptureError::OutOfRange`] above 60, where cells must not
    /// be used.
    pub fn at(celsius: f64) -> Result<Self, CaptureError> {
        let (coldest, ..) = MEASURED[0];
        if celsius < coldest {
            return Err(CaptureError::TooCold { celsius, coldest });
        }
        let celsius = within("a temperature", "degrees Celsius", celsius, (coldest, 60.0))?;
        if celsius >= 25.0 {
            return Ok(Self { least: 1.0, most: 1.0, source: ColdSource::Warm });
        }
        let least = on_lines(&MEASURED.map(|(at, least, _)| (at, least)), celsius);
        let most = on_lines(&MEASURED.map(|(at, _, most)| (at, most)), celsius);
        let practice = on_lines(&PRACTICE, celsius);
        Ok(Self { least: least.min(practice), most, source: ColdSource::MeasuredCells })
    }
}

/// The value at a place on straight lines between points, and that of the nearest point outside them.
fn on_lines(points: &[(f64, f64)], at: f64) -> f64 {
    let next = points.partition_point(|(x, _)| *x <= at);
    let (Some(before), Some(after)) = (next.checked_sub(1).map(|i| points[i]), points.get(next))
    else {
        return points[next.min(points.len() - 1)].1;
    };
    before.1 + (after.1 - before.1) * (at - before.0) / (after.0 - before.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_users_own_figure_gives_one_number() {
        // By hand: 90 minutes at 0.6 are 54.
        let share = ColdShare::own(0.6).unwrap();
        let (least, most) = Battery::new(90.0).unwrap().minutes(&share);
        assert!((least - 54.0).abs() < 1e-12 && (most - 54.0).abs() < 1e-12);
        assert_eq!(share.source, ColdSource::Own);
    }

    #[test]
    fn the_cold_gives_a_range_that_widens() {
        // The measured spread at -20 degrees is 42.5 to 77.1 %, at -10 it is 67.9 to 86.6 %, where practice plans
        // with half.
        let at = |celsius| ColdShare::at(celsius).unwrap();
        assert!((at(-20.0).least - 0.425).abs() < 1e-12 && (at(-20.0).most - 0.771).abs() < 1e-12);
        assert!((at(-10.0).least - 0.5).abs() < 1e-12 && (at(-10.0).most - 0.866).abs() < 1e-12);
        assert!((at(0.0).least - 0.771).abs() < 1e-3, "{:?}", at(0.0));
        assert_eq!((at(25.0).least, at(30.0).most, at(30.0).source), (1.0, 1.0, ColdSource::Warm));
        let shares: Vec<f64> = (-30..=25).map(|c| at(f64::from(c)).least).collect();
        assert!(shares.is_sorted(), "the colder, the less: {shares:?}");
    }

    #[test]
    fn what_nobody_measured_is_not_guessed() {
        let refusal = ColdShare::at(-40.0).unwrap_err().to_string();
        assert!(refusal.contains("only down to -30"), "{refusal}");
        assert!(ColdShare::at(80.0).is_err());
        assert!(ColdShare::at(f64::NAN).is_err());
        assert!(ColdShare::own(0.0).is_err());
        assert!(Battery::new(0.0).is_err());
    }
}
