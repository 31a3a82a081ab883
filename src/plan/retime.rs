use super::value::as_bounds;
use crate::{
    clip::Clip,
    timecode::{FrameRange, RampLaw, Speed},
};
use serde::Serialize;
use std::fmt;

/// How fast the timeline plays some frames of a clip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PlanRetime {
    /// The source frames.
    #[serde(serialize_with = "as_bounds")]
    pub frames: FrameRange,
    /// The speed at the first of them and at the first one after the last, as shares of real time.
    pub speed: [f64; 2],
    /// What changes evenly in between, where the speed changes.
    pub law: Option<RampLaw>,
    /// How many frames of the timeline they last, as a real number.
    pub timeline_frames: f64,
}

impl PlanRetime {
    /// The retimes of a clip in order; none if it plays at real time, or each frame once.
    #[must_use]
    pub fn all(clip: &Clip) -> Vec<Self> {
        let stretches = clip.retime.iter().flat_map(|retime| retime.stretches());
        stretches
            .map(|stretch| {
                let (frames, (from, to)) = (stretch.frames, stretch.speed.ends());
                let law = match stretch.speed {
                    Speed::Constant(_) => None,
                    Speed::Ramp { law, .. } => Some(law),
                };
                let timeline_frames = clip.timeline_frames(frames.first(), frames.end());
                Self { frames, speed: [from, to], law, timeline_frames }
            })
            .collect()
    }

    /// All of them for people; `None` without any.
    #[must_use]
    pub fn words(retimes: &[Self]) -> Option<String> {
        let all: Vec<String> = retimes.iter().map(ToString::to_string).collect();
        let sum: f64 = retimes.iter().map(|retime| retime.timeline_frames).sum();
        let together = if all.len() > 1 { format!("; {sum:.2} together") } else { String::new() };
        (!all.is_empty()).then(|| format!("{}{together}", all.join("; ")))
    }
}

impl fmt::Display for PlanRetime {
    /// `frames 200 to 299 from 1 to 0.25 of real time, linear-in-source: 46.21 timeline frames`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ([from, to], frames) = (self.speed, self.frames);
        match self.law {
            None => write!(f, "frames {frames} at {from} of real time")?,
            Some(law) => write!(f, "frames {frames} from {from} to {to} of real time, {law}")?,
        }
        write!(f, ": {:.2} timeline frames", self.timeline_frames)
    }
}
