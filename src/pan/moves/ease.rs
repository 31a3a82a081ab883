use serde::Serialize;
use std::fmt;

/// How an eased move starts and stops: the cubic Bézier timing curve `(h, 0, 1 − h, 1)` of time and way.
///
/// Its fastest moment is the middle, at `1 / (1 − h)` of the mean speed. With `h = 1/3` it is `3u² − 2u³`, 1.5 of
/// the mean; with `h = 1/2` 2 of the mean, and within 0.9 % of the move of the minimum-jerk move of a hand.
///
/// ```
/// use lookroom::pan::Ease;
/// let smooth = Ease::SMOOTH;
/// assert_eq!(smooth.share(0.25), 3.0 / 16.0 - 2.0 / 64.0);
/// assert_eq!(smooth.to_string(), "ease 0.333333,0,0.666667,1");
/// assert_eq!(Ease::with_peak(2.0).unwrap().to_string(), "ease 0.500000,0,0.500000,1");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ease {
    /// The time at which the first handle stands, share of the move's.
    handle: f64,
}

impl Ease {
    /// `3u² − 2u³`.
    pub const SMOOTH: Self = Self { handle: 1.0 / 3.0 };

    /// The ease whose peak speed is so many times its mean; `None` outside 1.5 to 2.
    ///
    /// Below 1.5 a move starts with a jerk (1 is a straight line), above 2 it rests at both ends and rushes.
    #[must_use]
    pub fn with_peak(peak_over_mean: f64) -> Option<Self> {
        if (peak_over_mean - 1.5).abs() < 1e-12 {
            return Some(Self::SMOOTH);
        }
        (1.5..=2.0).contains(&peak_over_mean).then(|| Self { handle: 1.0 - 1.0 / peak_over_mean })
    }

    /// The time at which the first handle stands, share of the move's: 1/3 to 1/2.
    #[must_use]
    pub const fn handle(self) -> f64 {
        self.handle
    }

    /// The peak speed over the mean speed.
    #[must_use]
    pub fn peak_over_mean(self) -> f64 {
        1.0 / (1.0 - self.handle)
    }

    /// The share of the way that is behind when a share of the time is; 0 before the start, 1 after the end.
    #[must_use]
    pub fn share(self, time: f64) -> f64 {
        if time <= 0.0 {
            return 0.0;
        }
        if time >= 1.0 {
            return 1.0;
        }
        let along = self.parameter_at(time);
        along * along * (3.0 - 2.0 * along)
    }

    /// Speed over mean speed when a share of the time is behind.
    #[must_use]
    pub fn speed(self, time: f64) -> f64 {
        if !(0.0..=1.0).contains(&time) {
            return 0.0;
        }
        let along = self.parameter_at(time);
        6.0 * along * (1.0 - along) / self.time_slope(along)
    }

    /// The curve's parameter at a time: the time itself for the smooth ease, else by Newton's method, whose
    /// start is near and whose curve is steep everywhere, so that a handful of steps end in rounding.
    fn parameter_at(self, time: f64) -> f64 {
        const STEPS: usize = 6;
        if self == Self::SMOOTH {
            return time;
        }
        (0..STEPS).fold(time, |along, _| {
            let rest = 1.0 - along;
            let reached = 3.0 * along * rest * (self.handle * rest + (1.0 - self.handle) * along)
                + along * along * along;
            (along - (reached - time) / self.time_slope(along)).clamp(0.0, 1.0)
        })
    }

    /// How fast time runs along the curve.
    fn time_slope(self, along: f64) -> f64 {
        let rest = 1.0 - along;
        3.0 * self.handle * (rest * rest + along * along)
            + 6.0 * (1.0 - 2.0 * self.handle) * along * rest
    }
}

/// As keys tables give it: the four numbers of the timing curve.
impl fmt::Display for Ease {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ease {:.6},0,{:.6},1", self.handle, 1.0 - self.handle)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times() -> impl Iterator<Item = f64> {
        (0..=1000).map(|k| f64::from(k) / 1000.0)
    }

    #[test]
    fn the_smooth_ease_is_its_polynomial_and_peaks_at_one_and_a_half() {
        for u in times() {
            assert!((Ease::SMOOTH.share(u) - (3.0 * u * u - 2.0 * u * u * u)).abs() < 1e-15);
            assert!((Ease::SMOOTH.speed(u) - 6.0 * u * (1.0 - u)).abs() < 1e-14);
        }
        assert!((Ease::SMOOTH.speed(0.5) - 1.5).abs() < 1e-15);
        assert!((Ease::SMOOTH.peak_over_mean() - 1.5).abs() < 1e-15);
    }

    /// Minimum jerk is `10u³ − 15u⁴ + 6u⁵` (from memory), and 0.9 % of the way is what we measured.
    #[test]
    fn the_steeper_ease_is_within_a_hundredth_of_the_minimum_jerk_move() {
        let steep = Ease::with_peak(2.0).unwrap();
        let jerk = |u: f64| u * u * u * (10.0 - 15.0 * u + 6.0 * u * u);
        let worst = times().map(|u| (steep.share(u) - jerk(u)).abs()).fold(0.0, f64::max);
        assert!((0.008..0.009).contains(&worst), "{worst}");
        let peak = times().map(|u| steep.speed(u)).fold(0.0, f64::max);
        assert!((peak - 2.0).abs() < 1e-12, "{peak}");
    }

    #[test]
    fn every_ease_runs_from_nothing_to_all_and_is_the_same_from_both_ends() {
        for peak in [1.5, 1.6, 1.8, 2.0] {
            let ease = Ease::with_peak(peak).unwrap();
            assert_eq!((ease.share(0.0), ease.share(1.0)), (0.0, 1.0));
            for u in times() {
                assert!((ease.share(u) + ease.share(1.0 - u) - 1.0).abs() < 1e-12, "{peak} {u}");
                assert!(ease.share(u) <= ease.share((u + 0.001).min(1.0)) + 1e-15);
                assert!(ease.speed(u) <= peak + 1e-9);
            }
        }
        assert!(Ease::with_peak(1.4).is_none());
        assert!(Ease::with_peak(2.1).is_none());
        assert!(Ease::with_peak(f64::NAN).is_none());
    }
}
