use super::{Pose, Subject, Way};
use crate::{geometry::Window, lens::Lens};

/// How fast a subject is seen to pass, where it crosses the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passing {
    /// The angle it goes by in a second, in radians.
    pub radians_a_second: f64,
    /// How many px of the frame it goes by in a second of real time.
    pub px_a_second: f64,
}

/// When a subject that crosses is in a window that stands, in seconds of real time from when its middle crosses the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Its first point comes in.
    pub nose_in_secs: f64,
    /// All of it is in.
    pub inside_from_secs: f64,
    /// Its first point goes out.
    pub inside_to_secs: f64,
    /// Nothing of it is in any more.
    pub tail_out_secs: f64,
    /// When its middle comes in and goes out.
    pub middle_secs: (f64, f64),
}

impl Passing {
    /// Of a subject that goes across, so many metres ahead. One that stands or comes along its line of sight does not pass:
    /// `None`, as where the lens does not draw it.
    #[must_use]
    pub fn of(subject: &Subject, pose: &Pose, lens: &Lens, ahead_m: f64) -> Option<Self> {
        /// A step in seconds of which speeds are taken, both ways: small against any crossing.
        const STEP_SECS: f64 = 1e-4;
        if subject.way == Way::Along || subject.speed_m_s <= 0.0 {
            return None;
        }
        let step_m = subject.speed_m_s * STEP_SECS;
        let down = middle_below(subject, pose);
        let (before, after) = ([-step_m, down, ahead_m], [step_m, down, ahead_m]);
        let (from, to) = (pose.see(lens, before)?, pose.see(lens, after)?);
        let distance = down.hypot(ahead_m);
        Some(Self {
            radians_a_second: 2.0 * (step_m / distance).atan() / (2.0 * STEP_SECS),
            px_a_second: (to.x - from.x).hypot(to.y - from.y) / (2.0 * STEP_SECS),
        })
    }

    /// How many seconds of real time a window that follows has for one width of itself.
    #[must_use]
    pub fn secs_a_width(&self, window_width_px: f64) -> f64 {
        window_width_px / self.px_a_second
    }

    /// How many px it is smeared over while one frame is exposed.
    #[must_use]
    pub fn blur_px(&self, exposure_secs: f64) -> f64 {
        self.px_a_second * exposure_secs
    }
}

/// How far below the camera the middle of a subject is, in metres.
fn middle_below(subject: &Subject, pose: &Pose) -> f64 {
    pose.height_m() - subject.above_m - subject.height_m / 2.0
}

impl Crossing {
    /// Of a subject that goes across from left to right, so many metres ahead, against the columns of a window. `None` for one
    /// that stands or comes along its line of sight, and where it never is inside.
    #[must_use]
    pub fn of(
        subject: &Subject,
        pose: &Pose,
        lens: &Lens,
        ahead_m: f64,
        window: &Window,
    ) -> Option<Self> {
        if subject.way == Way::Along || subject.speed_m_s <= 0.0 {
            return None;
        }
        let down = middle_below(subject, pose);
        let column = |right: f64| pose.see(lens, [right, down, ahead_m]).map(|point| point.x);
        let left = place_at(column, window.left(), ahead_m)?;
        let right = place_at(column, window.right(), ahead_m)?;
        let (half, speed) = (subject.width_m / 2.0, subject.speed_m_s);
        let crossing = Self {
            nose_in_secs: (left - half) / speed,
            inside_from_secs: (left + half) / speed,
            inside_to_secs: (right - half) / speed,
            tail_out_secs: (right + half) / speed,
            middle_secs: (left / speed, right / speed),
        };
        (left < right).then_some(crossing)
    }

    /// For how many seconds all of it is inside; 0 if it never is.
    #[must_use]
    pub fn wholly_inside_secs(&self) -> f64 {
        (self.inside_to_secs - self.inside_from_secs).max(0.0)
    }
}

/// How many metres of the ground, or the water, a frame is wide so many metres ahead: from its left edge to its right. `None`
/// where the lens does not draw that far, or nothing is ahead.
#[must_use]
pub fn ground_across_m(pose: &Pose, lens: &Lens, ahead_m: f64) -> Option<f64> {
    if ahead_m <= 0.0 {
        return None;
    }
    let column = |right: f64| pose.see(lens, [right, pose.height_m(), ahead_m]).map(|seen| seen.x);
    let side = |x: f64| place_at(column, x, ahead_m);
    Some(side(lens.raster().width())? - side(0.0)?)
}

/// How many metres to the right a point is seen in a column; `None` if the lens draws nothing there.
fn place_at(column: impl Fn(f64) -> Option<f64>, x: f64, ahead_m: f64) -> Option<f64> {
    /// Halvings, which leave nothing of any distance.
    const HALVINGS: usize = 80;
    /// As many times the distance as the place may be to the side: all but a degree of a half circle.
    const WIDEST: f64 = 57.0;
    let reach = WIDEST * ahead_m.max(1e-3);
    let (mut low, mut high) = (-reach, reach);
    // What is not drawn lies beyond the side on which it is.
    let is_left = |right: f64| column(right).map_or(right < 0.0, |seen| seen < x);
    if !is_left(low) || is_left(high) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if is_left(middle) { low = middle } else { high = middle }
    }
    Some(f64::midpoint(low, high))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{FieldOfView, Mapping, Span},
    };

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    /// A boat 3.5 m long that goes 5 m/s across, level with the camera.
    fn boat_and_camera() -> (Subject, Pose, Lens) {
        let subject = Subject {
            name: "boat".to_owned(),
            width_m: 3.5,
            height_m: 0.5,
            above_m: 0.75,
            drift_m: 0.0,
            speed_m_s: 5.0,
            way: Way::Across,
        };
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        let raster = Raster::new(4000, 3000).unwrap();
        let lens = Lens::new(raster, Mapping::Rectilinear, &[field]).unwrap();
        (subject, Pose::from_degrees(1.0, 0.0, 0.0).unwrap(), lens)
    }

    #[test]
    fn near_a_boat_rushes_by_and_far_it_hardly_moves() {
        // T4 by hand: at 1.5 m 3.333 rad/s and 6667 px/s, at 20 m 0.25 rad/s and 500 px/s; ratio 13.3.
        let (boat, pose, lens) = boat_and_camera();
        let at = |metres| Passing::of(&boat, &pose, &lens, metres).unwrap();
        let (close, far) = (at(1.5), at(20.0));
        near(close.radians_a_second, 3.333, 5e-4);
        near(close.px_a_second, 6666.7, 0.05);
        near(far.radians_a_second, 0.25, 1e-6);
        near(far.px_a_second, 500.0, 1e-3);
        near(close.px_a_second / far.px_a_second, 13.33, 5e-3);
        // Following it in 9:16 is a width in 3.375 s at real time, 6.75 s at half speed; blur 5 px at 1/100 s.
        near(far.secs_a_width(1687.5), 3.375, 1e-5);
        near(far.blur_px(0.01), 5.0, 1e-5);
    }

    #[test]
    fn a_still_window_has_it_between_nose_in_and_tail_out() {
        // T4 by hand, with the clock at 0 where the boat's middle is at the frame's left edge, 4 s before the axis: nose in
        // 1.9625 s, middle 2.3125 to 5.6875 s, tail out 6.0375 s.
        let (boat, pose, lens) = boat_and_camera();
        let raster = lens.raster();
        let window = Window::inside(raster, (1156.25, 0.0), (1687.5, 3000.0)).unwrap();
        let crossing = Crossing::of(&boat, &pose, &lens, 20.0, &window).unwrap();
        near(crossing.nose_in_secs + 4.0, 1.9625, 1e-9);
        near(crossing.middle_secs.0 + 4.0, 2.3125, 1e-9);
        near(crossing.middle_secs.1 + 4.0, 5.6875, 1e-9);
        near(crossing.tail_out_secs + 4.0, 6.0375, 1e-9);
        near(crossing.wholly_inside_secs(), 2.675, 1e-9);
    }

    #[test]
    fn what_comes_along_does_not_pass_and_what_stands_does_not_cross() {
        let (boat, pose, lens) = boat_and_camera();
        let raster = lens.raster();
        let window = Window::inside(raster, (1156.25, 0.0), (1687.5, 3000.0)).unwrap();
        let along = Subject { way: Way::Along, ..boat.clone() };
        assert_eq!(Passing::of(&along, &pose, &lens, 20.0), None);
        let still = Subject { speed_m_s: 0.0, ..boat };
        assert_eq!(Passing::of(&still, &pose, &lens, 20.0), None);
        assert_eq!(Crossing::of(&still, &pose, &lens, 20.0, &window), None);
    }

    #[test]
    fn the_ground_is_as_wide_as_its_depth_along_the_axis_has_it() {
        // By hand, T3's footbridge: 8 m out are 10 cos 6.870 = 9.928 m along the axis, and 90 degrees see twice that.
        let (_, _, lens) = boat_and_camera();
        let pose = Pose::from_degrees(6.0, 30.0, 0.0).unwrap();
        near(ground_across_m(&pose, &lens, 8.0).unwrap(), 19.856, 5e-4);
        assert_eq!(ground_across_m(&pose, &lens, -1.0), None);
    }
}
