use super::Pace;
use crate::geometry::Window;
use serde::{Deserialize, Serialize};

/// The fastest step of a path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Peak {
    /// Frames after the run's first: the step leads from here to the next frame.
    pub index: usize,
    /// Window widths in a second of timeline, across or down, whichever is more.
    pub widths_per_sec: f64,
}

impl Peak {
    /// Below this a window stands still as far as anyone can see: one width in a quarter of an hour.
    const STILL_WIDTHS_PER_SEC: f64 = 1.0 / 900.0;

    /// Seconds of timeline for one window width at this speed; `None` if the window stands still.
    #[must_use]
    pub fn secs_per_width(&self) -> Option<f64> {
        (self.widths_per_sec > Self::STILL_WIDTHS_PER_SEC).then(|| 1.0 / self.widths_per_sec)
    }
}

/// The fastest step between two frames. Its speed is measured in the mean of the two windows' widths, across
/// and down each for itself, over the timeline time that its own step takes, with the ride taken off (empty is
/// none, else one entry a frame). A single window stands still.
#[must_use]
pub fn peak_speed(windows: &[Window], pace: &Pace, ride: &[(f64, f64)]) -> Peak {
    let ridden = |index: usize| {
        let (before, after) =
            (ride.get(index).copied().unwrap_or_default(), ride.get(index + 1).copied());
        after.map_or((0.0, 0.0), |after| (after.0 - before.0, after.1 - before.1))
    };
    windows
        .windows(2)
        .enumerate()
        .map(|(index, pair)| {
            let width = f64::midpoint(pair[0].width(), pair[1].width());
            let ridden = ridden(index);
            let across = (pair[1].centre_x() - pair[0].centre_x() - ridden.0).abs();
            let down = (pair[1].centre_y() - pair[0].centre_y() - ridden.1).abs();
            Peak { index, widths_per_sec: across.max(down) / (width * pace.step_secs(index)) }
        })
        .fold(Peak { index: 0, widths_per_sec: 0.0 }, |fastest, next| {
            if next.widths_per_sec > fastest.widths_per_sec { next } else { fastest }
        })
}
