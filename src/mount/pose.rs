use super::{MountError, within};
use crate::{geometry::SourcePoint, lens::Lens};

/// How a camera is fixed: its height above the ground or the water, and how it is turned.
///
/// Places in the level world are metres right of the camera, below it and ahead of it along its heading.
///
/// ```
/// use lookroom::{geometry::Raster, lens::{FieldOfView, Lens, Mapping, Span}, mount::Pose};
/// let field = FieldOfView::from_degrees(Span::Horizontal, 90.0)?;
/// let lens = Lens::new(Raster::new(4000, 3000)?, Mapping::Rectilinear, &[field])?;
/// // A footbridge: 6 m above the water, pitched down by 30 degrees; a boat 8 m out.
/// let pose = Pose::from_degrees(6.0, 30.0, 0.0)?;
/// let boat = pose.see(&lens, [0.0, 6.0, 8.0]).ok_or("not seen")?;
/// assert_eq!(format!("{:.1} {:.1}", boat.y, pose.horizon_row(&lens).ok_or("not seen")?), "1741.0 345.3");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    height_m: f64,
    tilt_down: f64,
    roll: f64,
}

impl Pose {
    /// The least and the greatest height, in metres. They catch slips of the pen, and permit nothing.
    pub const HEIGHT_LIMITS_M: (f64, f64) = (0.01, 10_000.0);

    /// The least and the greatest tilt, in degrees: straight up to straight down.
    pub const TILT_LIMITS_DEGREES: (f64, f64) = (-90.0, 90.0);

    /// The greatest roll each way, in degrees; a camera on its side is a turned picture, not a roll.
    pub const ROLL_LIMITS_DEGREES: (f64, f64) = (-45.0, 45.0);

    /// A height in metres, how many degrees below level the camera looks, and by how many it is rolled clockwise as seen from
    /// behind it.
    ///
    /// # Errors
    /// [`MountError::OutOfRange`] outside the limits above.
    pub fn from_degrees(
        height_m: f64,
        tilt_down_degrees: f64,
        roll_degrees: f64,
    ) -> Result<Self, MountError> {
        let tilt = within("a tilt", "degrees", tilt_down_degrees, Self::TILT_LIMITS_DEGREES)?;
        let roll = within("a roll", "degrees", roll_degrees, Self::ROLL_LIMITS_DEGREES)?;
        let height_m = within("a height", "m", height_m, Self::HEIGHT_LIMITS_M)?;
        Ok(Self { height_m, tilt_down: tilt.to_radians(), roll: roll.to_radians() })
    }

    /// The height in metres.
    #[must_use]
    pub const fn height_m(&self) -> f64 {
        self.height_m
    }

    /// How far below level it looks, in radians.
    #[must_use]
    pub const fn tilt_down(&self) -> f64 {
        self.tilt_down
    }

    /// By how much it is rolled clockwise as seen from behind, in radians.
    #[must_use]
    pub const fn roll(&self) -> f64 {
        self.roll
    }

    /// The same, tilted further down by so many radians (up if below 0) as far as that goes.
    #[must_use]
    pub fn tilted_down_by(&self, radians: f64) -> Self {
        let quarter = std::f64::consts::FRAC_PI_2;
        Self { tilt_down: (self.tilt_down + radians).clamp(-quarter, quarter), ..*self }
    }

    /// The same, so many metres higher (lower if below 0); `None` where that is no height.
    #[must_use]
    pub fn raised_by(&self, metres: f64) -> Option<Self> {
        let height_m = self.height_m + metres;
        let (least, greatest) = Self::HEIGHT_LIMITS_M;
        (least..=greatest).contains(&height_m).then_some(Self { height_m, ..*self })
    }

    /// A direction of the level world (right, down, ahead) as the camera has it.
    #[must_use]
    pub fn camera_from_level(&self, [right, down, ahead]: [f64; 3]) -> [f64; 3] {
        let (sine, cosine) = self.tilt_down.sin_cos();
        let (down, ahead) = (cosine * down - sine * ahead, sine * down + cosine * ahead);
        let (sine, cosine) = self.roll.sin_cos();
        [cosine * right + sine * down, cosine * down - sine * right, ahead]
    }

    /// A direction of the camera (right, down, ahead) as the level world has it.
    #[must_use]
    pub fn level_from_camera(&self, [right, down, ahead]: [f64; 3]) -> [f64; 3] {
        let (sine, cosine) = self.roll.sin_cos();
        let (right, down) = (cosine * right - sine * down, sine * right + cosine * down);
        let (sine, cosine) = self.tilt_down.sin_cos();
        [right, cosine * down + sine * ahead, cosine * ahead - sine * down]
    }

    /// Where a place of the level world is seen; `None` where the lens draws nothing of it. It may lie beyond the
    /// frame's edges.
    #[must_use]
    pub fn see(&self, lens: &Lens, place: [f64; 3]) -> Option<SourcePoint> {
        lens.point(self.camera_from_level(place))
    }

    /// The place on the ground that is seen at a point: metres right and ahead. `None` above the horizon, or where the
    /// lens draws nothing.
    #[must_use]
    pub fn ground_at(&self, lens: &Lens, point: SourcePoint) -> Option<[f64; 2]> {
        /// Flatter than this the ground is further away than the earth is round.
        const LEAST_DOWN: f64 = 1e-5;
        let [right, down, ahead] = self.level_from_camera(lens.direction(point)?);
        let scale = self.height_m / down;
        (down > LEAST_DOWN).then_some([right * scale, ahead * scale])
    }

    /// The row of the horizon on the column of the lens's axis; `None` where the lens draws nothing of it. It may lie beyond the
    /// frame's edges.
    #[must_use]
    pub fn horizon_row(&self, lens: &Lens) -> Option<f64> {
        // On that column a direction lies so far below the axis; level is where its fall is none.
        lens.row_at(-(self.tilt_down.tan() / self.roll.cos()).atan())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{Between, FieldOfView, Mapping, PossibleLenses, SaidMapping, Span},
    };

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    fn lenses(mapping: SaidMapping) -> PossibleLenses {
        let raster = Raster::new(4000, 3000).unwrap();
        // 73.74 degrees is 2 atan(1500 / 2000) to two decimals; the exact angle gives the scenario's last digit.
        let degrees = 2.0 * 0.75_f64.atan().to_degrees();
        let field = FieldOfView::from_degrees(Span::Vertical, degrees).unwrap();
        PossibleLenses::new(raster, mapping, &[field]).unwrap()
    }

    fn straight() -> Lens {
        *lenses(SaidMapping::Known(Mapping::Rectilinear)).known().unwrap()
    }

    #[test]
    fn a_boat_below_a_footbridge_lies_where_the_scenario_has_it() {
        // By hand: atan(6/8) = 36.870 degrees below level, 6.870 below the axis; 1500 + 2000 tan 6.870 = 1741.0, the
        // horizon at 1500 - 2000 tan 30 = 345.3. An equal-angle lens of the same vertical field: 1779.5 and 279.5.
        let pose = Pose::from_degrees(6.0, 30.0, 0.0).unwrap();
        let lenses = lenses(SaidMapping::Unknown);
        let boat = lenses.every(|lens| Some(pose.see(lens, [0.0, 6.0, 8.0])?.y)).unwrap();
        let horizon = lenses.every(|lens| pose.horizon_row(lens)).unwrap();
        assert_eq!(format!("{boat:.1}; {horizon:.1}"), "1741.0 to 1779.5; 279.5 to 345.3");
    }

    #[test]
    fn the_size_of_a_subject_follows_from_its_depth_along_the_axis() {
        // By hand: depth 10 cos 6.870 = 9.928 m, 2000 · 3.5 / 9.928 = 705.1 px; equal-angle about 810.
        let pose = Pose::from_degrees(6.0, 30.0, 0.0).unwrap();
        let width = |lens: &Lens| {
            let at = |right| Some(pose.see(lens, [right, 6.0, 8.0])?.x);
            Some(at(1.75)? - at(-1.75)?)
        };
        let Between { .. } = lenses(SaidMapping::Unknown).every(width).unwrap();
        let width = lenses(SaidMapping::Unknown).every(width).unwrap();
        near(width.from(), 705.1, 0.05);
        near(width.to(), 810.0, 2.0);
    }

    #[test]
    fn a_turn_there_and_back_returns() {
        let pose = Pose::from_degrees(2.0, 17.0, -8.0).unwrap();
        let back = pose.level_from_camera(pose.camera_from_level([0.3, -0.2, 0.9]));
        for (found, expected) in back.into_iter().zip([0.3, -0.2, 0.9]) {
            near(found, expected, 1e-15);
        }
        let lens = straight();
        let seen = pose.see(&lens, [1.5, 2.0, 6.0]).unwrap();
        let [right, ahead] = pose.ground_at(&lens, seen).unwrap();
        near(right, 1.5, 1e-9);
        near(ahead, 6.0, 1e-9);
        assert_eq!(
            pose.ground_at(&lens, SourcePoint { x: 2000.0, y: 0.0 }),
            None,
            "the sky is no ground"
        );
    }

    #[test]
    fn slips_of_the_pen_are_refused() {
        assert!(Pose::from_degrees(0.0, 0.0, 0.0).is_err());
        assert!(Pose::from_degrees(2.0, f64::NAN, 0.0).is_err());
        let refusal = Pose::from_degrees(2.0, 100.0, 0.0).unwrap_err().to_string();
        assert_eq!(
            refusal,
            "a tilt of 100 degrees is out of range, expected -90 to 90; mend the figure, or give it in degrees"
        );
        assert_eq!(Pose::from_degrees(2.0, 0.0, 0.0).unwrap().raised_by(-3.0), None);
    }
}
