use super::{Pose, Scene, Subject, trace::Run, trace::runs_within};
use crate::{
    geometry::{Region, SourcePoint},
    lens::Lens,
};
use std::f64::consts::{FRAC_PI_2, PI};

/// What a prediction is drawn with: the horizon, a grid on the ground and the subject, each in px of the frame as it is shown.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenLines {
    /// The horizon; in pieces where it leaves the frame.
    pub horizon: Vec<Run>,
    /// Straight lines on the ground at round distances ahead, square to the heading, the nearest first.
    pub across: Vec<GroundLine>,
    /// Straight lines on the ground along the heading, from left to right, as far as the furthest line across.
    pub along: Vec<GroundLine>,
    /// The subject at each of its distances, the nearest first.
    pub boards: Vec<SeenBoard>,
}

/// A line on the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundLine {
    /// How far ahead it lies, or how far to the right, in metres.
    pub metres: f64,
    /// What of it is in the frame.
    pub runs: Vec<Run>,
}

/// The board that a subject is taken for.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenBoard {
    /// How far away, in metres along the ground.
    pub distance_m: f64,
    /// Its edge, all round, the first point last again; it may lie beyond the frame. `None` where the lens does not draw all of it.
    pub outline: Option<Run>,
    /// The box round all places that it may be in; `None` if it has no drift, or the lens does not draw all of it.
    pub with_drift: Option<Region>,
}

/// Distances at which lines are drawn, in metres, a decade of them.
const ROUND: [f64; 4] = [1.0, 2.0, 3.0, 5.0];

/// From and up to which power of ten they are tried: centimetres to kilometres.
const DECADES: std::ops::RangeInclusive<i32> = -2..=4;

/// Lines across are so far apart at least, straight ahead, and from the horizon, as a share of the frame's height. Chosen by
/// looking: their figures stand beside them.
const LEAST_GAP: f64 = 0.065;

/// So many lines along to each side at the most.
const MOST_TO_A_SIDE: i32 = 4;

/// Even steps in which half a circle round the camera is looked at; a quarter of a degree.
const HALF_CIRCLE_STEPS: u32 = 720;

impl SeenLines {
    /// What a camera that is fixed so sees through a lens.
    #[must_use]
    pub fn of(pose: &Pose, lens: &Lens, scene: &Scene) -> Self {
        let view = View { pose, lens };
        let horizon = view.arc([0.0, 0.0, 1.0], [1.0, 0.0, 0.0], (-PI, PI));
        let across = view.lines_across();
        let along = view.lines_along(&across);
        let board = |subject: &Subject, distance_m: f64| SeenBoard {
            distance_m,
            outline: view.board(subject, distance_m),
            with_drift: (subject.drift_m > 0.0)
                .then(|| subject.seen_with_drift(pose, lens, distance_m))
                .flatten(),
        };
        let boards = scene.subject.iter().flat_map(|subject| {
            scene.distances_m.iter().map(move |distance_m| board(subject, *distance_m))
        });
        Self { horizon, boards: boards.collect(), across, along }
    }
}

struct View<'a> {
    pose: &'a Pose,
    lens: &'a Lens,
}

impl View<'_> {
    /// What is in the frame of a straight line of the level world: it is seen in the directions between where it is nearest
    /// and where it goes, which make an arc of a great circle.
    fn arc(&self, nearest: [f64; 3], way: [f64; 3], (from, to): (f64, f64)) -> Vec<Run> {
        let [x, y, z] = nearest;
        let length = x.hypot(y).hypot(z);
        let see = |angle: f64| {
            let (sine, cosine) = angle.sin_cos();
            let direction = [0, 1, 2].map(|k| cosine * nearest[k] / length + sine * way[k]);
            self.pose.see(self.lens, direction)
        };
        let steps = if to - from > PI { 2 * HALF_CIRCLE_STEPS } else { HALF_CIRCLE_STEPS };
        runs_within(self.lens.raster(), (from, to), steps, &see)
    }

    fn ground(&self, right_m: f64, ahead_m: f64) -> [f64; 3] {
        [right_m, self.pose.height_m(), ahead_m]
    }

    /// Lines at round distances, as many as stand apart.
    fn lines_across(&self) -> Vec<GroundLine> {
        let least = LEAST_GAP * self.lens.raster().height();
        let straight_ahead = |metres| self.pose.see(self.lens, self.ground(0.0, metres));
        let far = self.pose.see(self.lens, [0.0, 0.0, 1.0]);
        let apart = |one: SourcePoint, other: Option<SourcePoint>| {
            other.is_none_or(|other| (one.x - other.x).hypot(one.y - other.y) >= least)
        };
        let (mut lines, mut last) = (Vec::new(), None);
        let round = DECADES.flat_map(|decade| ROUND.map(|digit| digit * 10_f64.powi(decade)));
        for metres in round {
            let Some(point) = straight_ahead(metres) else { continue };
            if !apart(point, last) || !apart(point, far) {
                continue;
            }
            let nearest = self.ground(0.0, metres);
            let runs = self.arc(nearest, [1.0, 0.0, 0.0], (-FRAC_PI_2, FRAC_PI_2));
            if !runs.is_empty() {
                lines.push(GroundLine { metres, runs });
                last = Some(point);
            }
        }
        lines
    }

    /// Lines at round distances from one another, of which the nearest line across meets no more than a few.
    fn lines_along(&self, across: &[GroundLine]) -> Vec<GroundLine> {
        let (Some(nearest), Some(furthest)) = (across.first(), across.last()) else {
            return Vec::new();
        };
        let ends = nearest.runs.iter().flat_map(|run| [run.first(), run.last()]).flatten();
        let reach = ends
            .filter_map(|end| self.pose.ground_at(self.lens, *end))
            .map(|[right, _]| right.abs())
            .fold(0.0, f64::max);
        let wanted = reach / f64::from(MOST_TO_A_SIDE);
        let mut round = DECADES.flat_map(|decade| ROUND.map(|digit| digit * 10_f64.powi(decade)));
        let Some(step) = round.find(|step| *step >= wanted) else { return Vec::new() };
        let height_m = self.pose.height_m();
        let line = |number: i32| {
            let right_m = f64::from(number) * step;
            let from = height_m.hypot(right_m);
            let range = (-FRAC_PI_2, (furthest.metres / from).atan());
            let nearest = self.ground(right_m, 0.0);
            GroundLine { metres: right_m, runs: self.arc(nearest, [0.0, 0.0, 1.0], range) }
        };
        let lines = (-MOST_TO_A_SIDE..=MOST_TO_A_SIDE).map(line);
        lines.filter(|line| !line.runs.is_empty()).collect()
    }

    /// The edge of the board that stands straight ahead.
    fn board(&self, subject: &Subject, distance_m: f64) -> Option<Run> {
        /// Points a side: a thousandth of a side is straight through any lens.
        const STEPS: u32 = 96;
        let bottom = self.pose.height_m() - subject.above_m;
        let (top, half) = (bottom - subject.height_m, subject.width_m / 2.0);
        let corners = [(-half, top), (half, top), (half, bottom), (-half, bottom), (-half, top)];
        let side = |pair: &[(f64, f64)]| {
            let ((x, y), (to_x, to_y)) = (pair[0], pair[1]);
            (0..STEPS).map(move |step| {
                let share = f64::from(step) / f64::from(STEPS);
                [x + share * (to_x - x), y + share * (to_y - y), distance_m]
            })
        };
        let places = corners.windows(2).flat_map(side);
        let mut outline: Run =
            places.map(|place| self.pose.see(self.lens, place)).collect::<Option<_>>()?;
        outline.push(outline[0]);
        Some(outline)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{FieldOfView, Mapping, Span},
        mount::Way,
    };

    fn lens() -> Lens {
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        Lens::new(Raster::new(4000, 3000).unwrap(), Mapping::Rectilinear, &[field]).unwrap()
    }

    fn boat() -> Scene {
        let subject = Subject {
            name: "boat".to_owned(),
            width_m: 3.5,
            height_m: 0.9,
            above_m: 0.0,
            drift_m: 0.5,
            speed_m_s: 5.0,
            way: Way::Across,
        };
        Scene {
            subject: Some(subject),
            distances_m: vec![8.0],
            horizon_above: None,
            rig: Vec::new(),
        }
    }

    #[test]
    fn from_the_footbridge_the_horizon_and_the_line_at_ten_metres_lie_where_the_hand_has_them() {
        let pose = Pose::from_degrees(6.0, 30.0, 0.0).unwrap();
        let seen = SeenLines::of(&pose, &lens(), &boat());
        // By hand: the horizon at 1500 - 2000 tan 30 = 345.3 all along; 10 m ahead at 1500 + 2000 tan(30.964 - 30) = 1533.6.
        assert_eq!(seen.horizon.len(), 1);
        assert!(seen.horizon[0].iter().all(|point| (point.y - 345.299).abs() < 1e-2));
        let metres: Vec<f64> = seen.across.iter().map(|line| line.metres).collect();
        assert_eq!(metres, [3.0, 5.0, 10.0, 20.0, 30.0]);
        let ten = &seen.across[2].runs[0];
        assert!(ten.iter().all(|point| (point.y - 1533.64).abs() < 0.06), "{:?}", ten[0]);
        assert!(ten[0].x.min(ten[ten.len() - 1].x) < 1e-6, "to the frame's edge");
        let right: Vec<f64> = seen.along.iter().map(|line| line.metres).collect();
        // By hand: 3 m ahead the frame is 2 · 5.6 m wide, so that a quarter of one side rounds up to 2 m.
        assert_eq!(right, [-8.0, -6.0, -4.0, -2.0, 0.0, 2.0, 4.0, 6.0, 8.0]);
        // The board's waterline is T3's 1741.0.
        let outline = seen.boards[0].outline.as_ref().unwrap();
        let lowest = outline.iter().map(|point| point.y).fold(0.0, f64::max);
        assert!((lowest - 1740.97).abs() < 0.05, "{lowest}");
    }

    #[test]
    fn rolled_clockwise_the_horizon_falls_to_the_left() {
        let pose = Pose::from_degrees(2.0, 10.0, 6.0).unwrap();
        let seen = SeenLines::of(&pose, &lens(), &boat());
        let run = &seen.horizon[0];
        let (first, last) = (run[0], run[run.len() - 1]);
        assert!(first.x < last.x && first.y > last.y, "{first:?} {last:?}");
        // A straight line through a straight-line lens, as steep as the roll; its row on the middle column is the one told.
        let slope = (last.y - first.y) / (last.x - first.x);
        assert!((slope.atan().to_degrees() + 6.0).abs() < 1e-6, "{slope}");
        let middle = first.y + slope * (2000.0 - first.x);
        assert!((pose.horizon_row(&lens()).unwrap() - middle).abs() < 1e-6);
    }

    #[test]
    fn a_camera_that_looks_up_sees_no_ground() {
        let pose = Pose::from_degrees(1.0, -60.0, 0.0).unwrap();
        let seen = SeenLines::of(&pose, &lens(), &boat());
        assert!(seen.horizon.is_empty() && seen.across.is_empty() && seen.along.is_empty());
    }
}
