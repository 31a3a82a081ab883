use super::LensError;
use std::{f64::consts::PI, str::FromStr};

/// A fisheye mapping as calibrations write it: `r/f = t (1 + k1 t² + k2 t⁴ + k3 t⁶ + k4 t⁸)` with the angle `t` off the axis
/// in radians.
///
/// It is the model of the fisheye part of OpenCV's camera calibration documentation (`calib3d.hpp`), whose `fx`, `fy`,
/// `cx` and `cy` are a lens's focal lengths and axis. It holds from the axis out to the angle where it turns back; where
/// it does not, to straight behind. The coefficients do not depend on the resolution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FisheyePolynomial {
    k: [f64; 4],
    greatest_angle: f64,
    greatest_radius: f64,
}

impl FisheyePolynomial {
    /// The greatest size of a coefficient. Chosen: calibrations have some tenths; it catches slips of the pen, and keeps
    /// every sum finite.
    pub const GREATEST_COEFFICIENT: f64 = 1000.0;

    /// The mapping of `k1`, `k2`, `k3` and `k4`.
    ///
    /// # Errors
    /// [`LensError::Coefficient`] if one is not a number or beyond [`Self::GREATEST_COEFFICIENT`] either way.
    pub fn new(k: [f64; 4]) -> Result<Self, LensError> {
        let limit = Self::GREATEST_COEFFICIENT;
        let wrong = ["k1", "k2", "k3", "k4"]
            .into_iter()
            .zip(k)
            .find(|(_, value)| value.is_nan() || value.abs() > limit);
        if let Some((name, value)) = wrong {
            return Err(LensError::Coefficient { name, value, limit });
        }
        // The slope is a quartic in t²; where it first falls below 0, the polynomial turns back.
        let slope = [1.0, 3.0 * k[0], 5.0 * k[1], 7.0 * k[2], 9.0 * k[3]];
        let turn = sign_changes(&slope, PI * PI).first().map(|squared| squared.sqrt());
        let greatest_angle = turn.unwrap_or(PI);
        let unbounded = Self { k, greatest_angle, greatest_radius: f64::INFINITY };
        Ok(Self { greatest_radius: unbounded.radius(greatest_angle), ..unbounded })
    }

    /// `k1`, `k2`, `k3` and `k4`.
    #[must_use]
    pub const fn coefficients(&self) -> [f64; 4] {
        self.k
    }

    /// The angle off the axis, in radians, at which it turns back; `None` if it does not before straight behind.
    #[must_use]
    pub fn turns_back_at(&self) -> Option<f64> {
        (self.greatest_angle < PI).then_some(self.greatest_angle)
    }

    /// The angle off the axis up to which it holds, in radians.
    pub(super) const fn greatest_angle(&self) -> f64 {
        self.greatest_angle
    }

    /// How far out it reaches, in focal lengths.
    pub(super) const fn greatest_radius(&self) -> f64 {
        self.greatest_radius
    }

    /// The distance from the axis, in focal lengths.
    pub(super) fn radius(&self, angle: f64) -> f64 {
        let s = angle * angle;
        let [k1, k2, k3, k4] = self.k;
        angle * (1.0 + s * (k1 + s * (k2 + s * (k3 + s * k4))))
    }

    /// How fast the distance grows with the angle.
    pub(super) fn slope(&self, angle: f64) -> f64 {
        let s = angle * angle;
        let [k1, k2, k3, k4] = self.k;
        1.0 + s * (3.0 * k1 + s * (5.0 * k2 + s * (7.0 * k3 + s * 9.0 * k4)))
    }

    /// The angle at a distance within what it reaches. Newton's steps, and halving where one leaves the bracket: it
    /// rises all the way, so that there is exactly one.
    pub(super) fn angle(&self, radius: f64) -> f64 {
        /// Newton doubles the digits each time; halving alone would need some 50.
        const MOST_STEPS: usize = 100;
        let (mut low, mut high) = (0.0, self.greatest_angle);
        let mut angle = radius.min(high);
        for _ in 0..MOST_STEPS {
            let over = self.radius(angle) - radius;
            if over > 0.0 {
                high = angle
            } else {
                low = angle
            }
            let step = over / self.slope(angle);
            let next = angle - step;
            let inside = low <= next && next <= high;
            let next = if inside { next } else { f64::midpoint(low, high) };
            if (next - angle).abs() <= 4.0 * f64::EPSILON * angle {
                return next;
            }
            angle = next;
        }
        angle
    }
}

impl FromStr for FisheyePolynomial {
    type Err = LensError;

    /// Reads `-0.02,0.01,-0.003,0.0005`: `k1` to `k4`, all four.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let read: Option<Vec<f64>> = text.split(',').map(|k| k.trim().parse().ok()).collect();
        let k = read.and_then(|k| <[f64; 4]>::try_from(k).ok());
        k.map_or_else(|| Err(LensError::NotAPolynomial { text: text.to_owned() }), Self::new)
    }
}

/// Where a polynomial, its constant term first, changes its sign above 0 and up to `end`, in order. Between two neighbouring
/// turns of it, which its derivative tells, there is one change or none.
fn sign_changes(coefficients: &[f64], end: f64) -> Vec<f64> {
    const HALVINGS: usize = 80;
    let value = |x: f64| coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let derivative: Vec<f64> =
        coefficients.iter().enumerate().skip(1).map(|(power, c)| exact(power) * c).collect();
    let mut turns = vec![0.0];
    if derivative.len() > 1 {
        turns.extend(sign_changes(&derivative, end));
    }
    turns.push(end);
    let pieces = turns.windows(2).filter_map(|piece| {
        let (mut low, mut high) = (piece[0], piece[1]);
        let rises = value(high) > 0.0;
        if (value(low) > 0.0) == rises {
            return None;
        }
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if (value(middle) > 0.0) == rises { high = middle } else { low = middle }
        }
        Some(low)
    });
    pieces.collect()
}

/// A power as a number.
fn exact(power: usize) -> f64 {
    u8::try_from(power).map_or(f64::NAN, f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_turns_back_where_its_slope_is_nought() {
        // t − t³/3 has the slope 1 − t², which is 0 at 1 radian, where the mapping reaches 2/3.
        let turning = FisheyePolynomial::new([-1.0 / 3.0, 0.0, 0.0, 0.0]).unwrap();
        assert!((turning.turns_back_at().unwrap() - 1.0).abs() < 1e-12);
        assert!((turning.greatest_radius() - 2.0 / 3.0).abs() < 1e-12);
        // Without coefficients it is the equidistant mapping, which reaches straight behind.
        let plain = FisheyePolynomial::new([0.0; 4]).unwrap();
        assert_eq!((plain.turns_back_at(), plain.greatest_radius()), (None, PI));
    }

    #[test]
    fn a_narrow_dip_of_the_slope_is_found() {
        // The slope (s − 2)² − 0.0001 over 4 − 0.0001 is below 0 only from s = 1.99 to 2.01.
        let (scale, dip) = (1.0 / (4.0 - 1e-4), 2.0 - 0.01);
        let k = [-4.0 * scale / 3.0, scale / 5.0, 0.0, 0.0];
        let turning = FisheyePolynomial::new(k).unwrap();
        let found = turning.turns_back_at().unwrap();
        assert!((found * found - dip).abs() < 1e-9, "{found}");
    }

    #[test]
    fn sign_changes_are_all_the_roots_in_order() {
        // (x − 1)(x − 2)(x − 4)(x − 20) = x⁴ − 27x³ + 154x² − 288x + 160.
        let found = sign_changes(&[160.0, -288.0, 154.0, -27.0, 1.0], 10.0);
        assert_eq!(found.len(), 3, "{found:?}");
        for (found, root) in found.into_iter().zip([1.0, 2.0, 4.0]) {
            assert!((found - root).abs() < 1e-9, "{found}");
        }
        assert!(sign_changes(&[1.0, 0.0, 0.0, 0.0, 0.0], 10.0).is_empty());
    }

    #[test]
    fn a_coefficient_that_is_none_is_refused_by_its_name() {
        for value in [f64::NAN, f64::INFINITY, -1001.0] {
            let refusal = FisheyePolynomial::new([0.0, 0.0, value, 0.0]).unwrap_err().to_string();
            assert!(refusal.starts_with("k3 of ") && refusal.contains("1000"), "{refusal}");
        }
    }
}
