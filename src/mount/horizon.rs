use super::Pose;
use crate::{geometry::SourcePoint, lens::Lens};

/// The horizon as a lens draws it: straight through a straight-line lens, bent through any other, sloping where the camera is
/// rolled.
#[derive(Debug, Clone, PartialEq)]
pub struct Horizon {
    /// From one end to the other; straight between them.
    points: Vec<SourcePoint>,
}

impl Horizon {
    /// One that lies at the same row in every column.
    #[must_use]
    pub fn level(row: f64) -> Self {
        /// Further to the side than any column.
        const FAR_PX: f64 = 1e9;
        Self { points: [-FAR_PX, FAR_PX].map(|x| SourcePoint { x, y: row }).to_vec() }
    }

    /// A straight one through two points, as far as they are apart and no further.
    #[cfg(test)]
    pub(super) fn through(one: (f64, f64), other: (f64, f64)) -> Self {
        Self { points: [one, other].map(|(x, y)| SourcePoint { x, y }).to_vec() }
    }

    /// As a camera that is fixed so sees it, in its frame and as far again beyond its edges. One that passes further away is
    /// taken for level at its row on the axis's column; `None` where the lens does not draw that.
    #[must_use]
    pub fn seen(pose: &Pose, lens: &Lens) -> Option<Self> {
        /// Even steps, of which the middle one is straight ahead: between two of them an arc rises by a tenth of a px.
        const STEPS: u32 = 128;
        // A direction on the horizon is off the axis by an angle whose cosine is that of its bearing times that of the tilt.
        let cosine = angle_looked_at(lens).cos() / pose.tilt_down().cos();
        let bearing = cosine.clamp(-1.0, 1.0).acos();
        let see = |step: u32| {
            let (sine, cosine) =
                (bearing * (2.0 * f64::from(step) / f64::from(STEPS) - 1.0)).sin_cos();
            pose.see(lens, [sine, 0.0, cosine])
        };
        let points: Vec<SourcePoint> = (0..=STEPS).filter_map(see).collect();
        if bearing > 0.0 && points.len() > 1 {
            Some(Self { points })
        } else {
            pose.horizon_row(lens).map(Self::level)
        }
    }

    /// Its highest row and its lowest between two columns; `None` where it crosses neither them nor any between.
    #[must_use]
    pub fn rows(&self, from_x: f64, to_x: f64) -> Option<(f64, f64)> {
        let within = |pair: &[SourcePoint]| {
            let (one, other) = (pair[0], pair[1]);
            let (left, right) = (one.x.min(other.x).max(from_x), one.x.max(other.x).min(to_x));
            let along = other.x - one.x;
            let row = |x: f64| {
                let share = if along.abs() > 0.0 { (x - one.x) / along } else { 0.0 };
                one.y + share * (other.y - one.y)
            };
            (left <= right).then(|| [row(left), row(right)])
        };
        let rows = self.points.windows(2).filter_map(within).flatten();
        rows.fold(None, |all: Option<(f64, f64)>, row| {
            Some(all.map_or((row, row), |(least, greatest)| (least.min(row), greatest.max(row))))
        })
    }
}

/// The angle off the axis up to which the horizon is looked for: that of a frame twice as large, or of as much as is drawn.
fn angle_looked_at(lens: &Lens) -> f64 {
    let frame = lens.raster();
    let half_diagonal = frame.width().hypot(frame.height()) / 2.0;
    let centre = lens.centre();
    let angle = |times: f64| {
        let point = SourcePoint { x: centre.x + times * half_diagonal, y: centre.y };
        lens.direction(point).map(|[_, _, ahead]| ahead.clamp(-1.0, 1.0).acos())
    };
    [2.0, 1.5, 1.25, 1.0, 0.75, 0.5].into_iter().find_map(angle).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{FieldOfView, Mapping, Span},
    };

    fn lens(mapping: Mapping) -> Lens {
        let degrees = 2.0 * 0.75_f64.atan().to_degrees();
        let field = FieldOfView::from_degrees(Span::Vertical, degrees).unwrap();
        Lens::new(Raster::new(4000, 3000).unwrap(), mapping, &[field]).unwrap()
    }

    fn seen(mapping: Mapping, (tilt, roll): (f64, f64)) -> Horizon {
        Horizon::seen(&Pose::from_degrees(6.0, tilt, roll).unwrap(), &lens(mapping)).unwrap()
    }

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    #[test]
    fn through_a_straight_line_lens_it_is_a_straight_line() {
        // By hand: 1500 - 2000 tan 30 = 345.3 in every column of a camera that is not rolled.
        let (highest, lowest) = seen(Mapping::Rectilinear, (30.0, 0.0)).rows(0.0, 4000.0).unwrap();
        near(highest, 345.3, 0.05);
        near(lowest, 345.3, 0.05);
        // Rolled by 3 degrees: on the axis's column 1500 - 2000 tan 30 / cos 3 = 343.71, and tan 3 lower for each px to the left.
        let rolled = seen(Mapping::Rectilinear, (30.0, 3.0));
        let (highest, lowest) = rolled.rows(0.0, 4000.0).unwrap();
        near(lowest, 343.716 + 2000.0 * 0.052_408, 0.01);
        near(highest, 343.716 - 2000.0 * 0.052_408, 0.01);
        let (at_middle, _) = rolled.rows(2000.0, 2000.0).unwrap();
        near(at_middle, 343.716, 0.01);
    }

    #[test]
    fn through_a_fisheye_it_bows_away_from_the_middle() {
        // T3's equal-angle lens: 279.5 straight ahead. At a bearing of 40 degrees, by hand: the axis has
        // (0.6428, -0.3830, 0.6634), so that it is 48.43 degrees off, 1970.5 px at 40.684 px a degree, 1009 of them up.
        let horizon = seen(Mapping::Equidistant, (30.0, 0.0));
        let (highest, _) = horizon.rows(0.0, 4000.0).unwrap();
        near(highest, 279.5, 0.05);
        let (at_side, _) = horizon.rows(2000.0 + 1692.8, 2000.0 + 1692.8).unwrap();
        near(at_side, 1500.0 - 1008.7, 1.0);
    }

    #[test]
    fn beyond_the_frame_it_is_told_by_its_row_on_the_axis() {
        let above = seen(Mapping::Rectilinear, (80.0, 0.0));
        let (row, _) = above.rows(0.0, 4000.0).unwrap();
        // By hand: 1500 - 2000 tan 80.
        near(row, 1500.0 - 2000.0 * 5.671_282, 0.01);
        assert_eq!(Horizon::level(12.0).rows(-5.0, 7.0), Some((12.0, 12.0)));
    }
}
