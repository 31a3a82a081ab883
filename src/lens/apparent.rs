//! How fast what passes by is seen to go.

/// The angular speed, in radians a second, at which a point of the ground is seen to pass a camera that moves over it:
/// the camera so high (m), the point so far below the horizon (radians, above 0 to π/2), the camera so fast (m/s).
///
/// Ahead and behind, looking along the way, only the part of the speed across the line of sight counts: `v sin² θ / h`.
/// Abeam all of it does, and the point is `h / sin θ` away: `v sin θ / h`. Either way a quarter of the height
/// passes four times as fast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundSpeed {
    /// Looking along the way.
    pub along: f64,
    /// Looking square to it.
    pub abeam: f64,
}

impl GroundSpeed {
    /// `None` for a height or an angle that is not above 0, or a point beyond the nadir.
    #[must_use]
    pub fn of(metres_a_second: f64, height_m: f64, below_horizon: f64) -> Option<Self> {
        let is_seen = below_horizon > 0.0 && below_horizon <= std::f64::consts::FRAC_PI_2;
        if !is_seen || height_m.is_nan() || height_m <= 0.0 {
            return None;
        }
        let sine = below_horizon.sin();
        let abeam = metres_a_second * sine / height_m;
        Some(Self { along: abeam * sine, abeam })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn straight_down_both_ways_are_the_same() {
        let speed = GroundSpeed::of(5.0, 2.0, std::f64::consts::FRAC_PI_2).unwrap();
        assert_eq!((speed.along, speed.abeam), (2.5, 2.5));
    }

    #[test]
    fn what_is_not_below_the_horizon_is_no_ground() {
        assert_eq!(GroundSpeed::of(5.0, 1.0, 0.0), None);
        assert_eq!(GroundSpeed::of(5.0, 1.0, 2.0), None);
        assert_eq!(GroundSpeed::of(5.0, 0.0, 0.5), None);
        assert_eq!(GroundSpeed::of(5.0, f64::NAN, 0.5), None);
    }
}
