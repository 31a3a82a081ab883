use super::{MountError, Pose, within};
use crate::{geometry::Region, lens::Lens};

/// Which way a subject goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Across the picture.
    Across,
    /// Towards the camera or away from it.
    Along,
}

/// What a camera is put up for: an upright board, seen square.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// Its name.
    pub name: String,
    /// How wide it is seen, in metres.
    pub width_m: f64,
    /// How high it is, in metres.
    pub height_m: f64,
    /// How far its lowest point is above the ground, in metres.
    pub above_m: f64,
    /// How far it may be from where it is expected, to each side, in metres.
    pub drift_m: f64,
    /// How fast it goes, in metres a second.
    pub speed_m_s: f64,
    /// Which way.
    pub way: Way,
}

impl Subject {
    /// The greatest length of anything, in metres. It catches slips of the pen.
    pub const GREATEST_M: f64 = 10_000.0;

    /// The greatest speed, in metres a second.
    pub const GREATEST_M_S: f64 = 1_000.0;

    /// Whether its figures can be.
    ///
    /// # Errors
    /// [`MountError::OutOfRange`] for a size that is not above 0, and lengths or a speed below 0 or beyond the limits.
    pub fn checked(self) -> Result<Self, MountError> {
        let (size, length) = ((0.001, Self::GREATEST_M), (0.0, Self::GREATEST_M));
        within("a subject's width", "m", self.width_m, size)?;
        within("a subject's height", "m", self.height_m, size)?;
        within("a subject's height above the ground", "m", self.above_m, length)?;
        within("a subject's drift", "m", self.drift_m, length)?;
        within("a subject's speed", "m/s", self.speed_m_s, (0.0, Self::GREATEST_M_S))?;
        Ok(self)
    }

    /// Whether it stays before the camera at its least distance, in metres.
    ///
    /// # Errors
    /// [`MountError::DriftReaches`] if its way leads across and its drift is as long as that or longer.
    pub fn stays_before(&self, distance_m: f64) -> Result<(), MountError> {
        if self.way == Way::Across && self.drift_m >= distance_m {
            return Err(MountError::DriftReaches { drift_m: self.drift_m, distance_m });
        }
        Ok(())
    }

    /// The upright box round it as it is seen so many metres ahead and so many to the right; `None` where the lens draws
    /// nothing of some of it.
    #[must_use]
    pub fn seen(&self, pose: &Pose, lens: &Lens, (right_m, ahead_m): (f64, f64)) -> Option<Region> {
        /// Steps along each side: through a fisheye sides are bowed.
        const STEPS: u32 = 16;
        let bottom = pose.height_m() - self.above_m;
        let top = bottom - self.height_m;
        let (left, right) = (right_m - self.width_m / 2.0, right_m + self.width_m / 2.0);
        let (mut least, mut greatest) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for step in 0..=STEPS {
            let share = f64::from(step) / f64::from(STEPS);
            let (across, down) = (left + share * (right - left), top + share * (bottom - top));
            for [x, y] in [[across, top], [across, bottom], [left, down], [right, down]] {
                let point = pose.see(lens, [x, y, ahead_m])?;
                least = [least[0].min(point.x), least[1].min(point.y)];
                greatest = [greatest[0].max(point.x), greatest[1].max(point.y)];
            }
        }
        Region::new(least[0], least[1], greatest[0] - least[0], greatest[1] - least[1])
    }

    /// The box round all places that it may be in at a distance, its drift included: across the picture if that is its way, it
    /// passes all of it and is looked at where it passes the axis. `None` where the lens does not draw all of it, or the drift leads
    /// past the camera.
    #[must_use]
    pub fn seen_with_drift(&self, pose: &Pose, lens: &Lens, ahead_m: f64) -> Option<Region> {
        self.stays_before(ahead_m).ok()?;
        let sides = match self.way {
            Way::Across => [(0.0, ahead_m - self.drift_m), (0.0, ahead_m + self.drift_m)],
            Way::Along => [(-self.drift_m, ahead_m), (self.drift_m, ahead_m)],
        };
        let [one, other] = sides.map(|place| self.seen(pose, lens, place));
        let (one, other) = (one?, other?);
        let (left, top) = (one.left().min(other.left()), one.top().min(other.top()));
        let (right, bottom) = (one.right().max(other.right()), one.bottom().max(other.bottom()));
        Region::new(left, top, right - left, bottom - top)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{FieldOfView, Mapping, Span},
    };

    #[test]
    fn a_drift_that_leads_past_the_camera_is_none() {
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        let lens =
            Lens::new(Raster::new(4000, 3000).unwrap(), Mapping::Equidistant, &[field]).unwrap();
        let pose = Pose::from_degrees(1.0, 0.0, 0.0).unwrap();
        let boat = Subject {
            name: "boat".to_owned(),
            width_m: 0.5,
            height_m: 0.5,
            above_m: 0.75,
            drift_m: 3.0,
            speed_m_s: 0.0,
            way: Way::Across,
        };
        assert_eq!(boat.seen_with_drift(&pose, &lens, 3.0), None);
        assert_eq!(
            boat.stays_before(2.5).unwrap_err().to_string(),
            "a drift of 3 m reaches the camera, which is 2.5 m away from the subject where it passes nearest; make one smaller or the other larger"
        );
        assert!(boat.seen_with_drift(&pose, &lens, 4.0).is_some());
        let along = Subject { way: Way::Along, ..boat };
        assert!(along.seen_with_drift(&pose, &lens, 2.5).is_some(), "it drifts to the sides");
    }
}
