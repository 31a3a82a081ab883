//! How a planned picture is held, in numbers and words: turned level, and steady against the world.

use serde::Serialize;

/// What riding with the shake of the background came to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SteadyNote {
    /// How much of the shake the window rides with, 0 to 1: the most with which the plan is as good as without, stays
    /// a hold if it was one, and has no window smaller than allowed.
    pub factor: f64,
    /// What counts as shake: background motion quicker than this, Hz of capture.
    pub shake_hz: f64,
    /// How much the background shakes in the frame, px of the capture, root of the mean square over the used frames.
    pub before_rms_px: f64,
    /// How much it shakes in the window then.
    pub after_rms_px: f64,
    /// The greatest enlargement of the plan.
    pub enlargement: f64,
    /// The same of the plan that rides with nothing.
    pub enlargement_without: f64,
    /// On how many used frames the motion of the background is not known.
    pub unknown_frames: usize,
}

impl SteadyNote {
    /// The share of the shake that is taken out; below 0 it is more than before.
    #[must_use]
    pub fn taken_out(&self) -> f64 {
        if self.before_rms_px > 0.0 { 1.0 - self.after_rms_px / self.before_rms_px } else { 0.0 }
    }

    /// The same in words.
    #[must_use]
    pub fn words(&self) -> String {
        let unknown = match self.unknown_frames {
            0 => String::new(),
            count => format!(
                "; its motion is not known on {count} frames, where the window rides with nothing"
            ),
        };
        let how = if self.factor >= 1.0 {
            "rides with all of it".to_owned()
        } else if self.factor > 0.0 {
            format!("rides with {:.0} % of it, as far as there is spare room", 100.0 * self.factor)
        } else {
            "has no spare room to ride with it".to_owned()
        };
        format!(
            "steady against the world: the background shakes by {:.2} px rms above {} Hz, the window {how}, {:.2} px rms \
             are left ({:.0} % taken out); E {:.3}, and {:.3} without{unknown}",
            self.before_rms_px,
            self.shake_hz,
            self.after_rms_px,
            100.0 * self.taken_out(),
            self.enlargement,
            self.enlargement_without
        )
    }
}

/// How pictures are turned level, by the degrees of each frame; `None` if there are none.
#[must_use]
pub fn level_words(degrees: &[f64]) -> Option<String> {
    let least = degrees.iter().copied().fold(f64::INFINITY, f64::min);
    let most = degrees.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if degrees.is_empty() {
        None
    } else if least < most {
        Some(format!(
            "level: each picture is turned about its centre by its own angle, {least:.2} to {most:.2} degrees clockwise"
        ))
    } else {
        Some(format!("level: the picture is turned {most} degrees clockwise about its centre"))
    }
}
