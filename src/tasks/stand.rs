//! How the picture of a used range is held: by which roll each frame is level, and what a window that stands still
//! against the world rides with.

use super::TaskError;
use crate::{
    action::BackgroundMotion,
    clip::UsedRange,
    delivery::{Limit, Limits},
    geometry::{Levelling, Raster},
    pan::Roll,
    shoot::{Level, ResolvedClip, Steady},
    timecode::{FrameIndex, FrameRange},
};
use std::ops::Range;

/// The rolls and the ride of the used frames.
pub(super) struct Stand {
    raster: Raster,
    pub(super) roll: Roll,
    /// The whole shake of the background in the levelled picture, a frame each; empty if windows are steady
    /// against the rig.
    pub(super) ride: Vec<(f64, f64)>,
    /// The background's way in the levelled picture of the clip.
    motion: BackgroundMotion,
    /// When each frame of the clip is shown.
    secs: Vec<f64>,
    used: Range<usize>,
    pub(super) shake_hz: f64,
}

impl Stand {
    /// Of a used range.
    ///
    /// # Errors
    /// [`TaskError::Geometry`] if the roll at a frame is more than a picture can be levelled by.
    pub(super) fn of(
        resolved: &ResolvedClip,
        limits: &Limits,
        used: FrameRange,
    ) -> Result<Self, TaskError> {
        let (raster, shake_hz) = (resolved.clip.facts.raster, limits.number(Limit::ShakeHz));
        let whole = resolved.clip.facts.whole();
        let needs_motion = resolved.steady == Steady::World || resolved.level == Level::Motion;
        let secs: Vec<f64> = if needs_motion {
            whole.frames().map(|frame| resolved.clip.facts.timing.seconds_at(frame)).collect()
        } else {
            Vec::new()
        };
        let index = |frame: FrameIndex| usize::try_from(frame.0).unwrap_or(usize::MAX);
        let used = index(used.first())..index(used.end());
        let rolls = rolls(resolved, &secs, shake_hz);
        for angle in &rolls {
            Levelling::new(raster, *angle)?;
        }
        let motion = resolved.motion.turned(|frame| match resolved.level {
            Level::Degrees(degrees) => degrees.to_radians(),
            Level::Motion => rolls.get(frame).copied().unwrap_or(0.0),
        });
        let ride = match resolved.steady {
            Steady::Rig => Vec::new(),
            Steady::World => {
                let shaking = motion.shaking(&secs, shake_hz);
                shaking.offsets_px.get(used.clone()).unwrap_or_default().to_vec()
            }
        };
        let roll = match resolved.level {
            Level::Degrees(degrees) if degrees.abs() > 0.0 => Roll::Fixed(degrees.to_radians()),
            Level::Degrees(_) => Roll::None,
            Level::Motion => Roll::EachFrame(rolls.get(used.clone()).unwrap_or_default().to_vec()),
        };
        Ok(Self { raster, roll, ride, motion, secs, used, shake_hz })
    }

    /// How the picture of a used frame is turned.
    pub(super) fn level_at(&self, index: usize) -> Levelling {
        let none = Levelling::none(self.raster);
        match self.roll {
            Roll::None => none,
            // Every roll was held against its limit before.
            _ => Levelling::new(self.raster, self.roll.at(index)).unwrap_or(none),
        }
    }

    /// The background's way over the used frames and when they are shown.
    pub(super) fn way(&self) -> (Vec<(f64, f64)>, &[f64]) {
        let secs = self.secs.get(self.used.clone()).unwrap_or_default();
        (self.motion.positions_px(self.used.clone()), secs)
    }

    /// Where the background is across at each used frame, and whether it is known how it came there from the frame
    /// before; `None` if nothing is known of its motion.
    pub(super) fn background_across(&self) -> Option<Vec<(f64, bool)>> {
        let known = self.motion.is_known_in(self.used.clone());
        let places = self.motion.positions_px(self.used.clone()).into_iter().map(|(x, _)| x);
        (!self.motion.is_empty()).then(|| places.zip(known).collect())
    }

    /// On how many used frames the background's motion is not known.
    pub(super) fn unknown_frames(&self) -> usize {
        self.motion.unknown_in(self.used.clone())
    }
}

/// The roll that levels each frame of the clip by its motion: the contrary of what shakes; what is slow of the roll
/// is left alone, since small errors of every step add up in it. Empty where a picture is not levelled so.
fn rolls(resolved: &ResolvedClip, secs: &[f64], shake_hz: f64) -> Vec<f64> {
    match resolved.level {
        Level::Degrees(_) => Vec::new(),
        Level::Motion => {
            let shaking = resolved.motion.shaking(secs, shake_hz);
            shaking.roll_radians.iter().map(|angle| -angle).collect()
        }
    }
}

/// The degrees by which the picture of each frame is turned, with the first and the last held through the handles;
/// empty where none is.
pub(super) fn rotation_degrees(roll: &Roll, range: UsedRange, frames: FrameRange) -> Vec<f64> {
    if *roll == Roll::None {
        return Vec::new();
    }
    let first = range.used.first().0;
    let last = range.used.last().0 - first;
    frames
        .frames()
        .map(|frame| {
            let index = frame.0.saturating_sub(first).min(last);
            let degrees = roll.at(usize::try_from(index).unwrap_or(usize::MAX)).to_degrees();
            // What going to radians and back leaves is no part of what was written.
            (degrees * 1e9).round() / 1e9 + 0.0
        })
        .collect()
}
