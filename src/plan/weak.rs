use crate::timecode::FrameIndex;
use serde::Serialize;

/// Frames of a clip that is used on which the track of a subject is weak.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WeakTrack {
    /// The subject.
    pub name: String,
    /// The first of them, and the first after.
    pub frames: [u64; 2],
    /// How many of them are likely wrong.
    pub likely_wrong: f64,
    /// The frame where one more mark helps most.
    pub ask: FrameIndex,
}

impl WeakTrack {
    /// It in words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "the track of {} is weak on frames {} to {}, some {} of them likely wrong; one more mark at frame {} helps most",
            self.name,
            self.frames[0],
            self.frames[1].saturating_sub(1),
            self.likely_wrong,
            self.ask
        )
    }
}
