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
            "the track of {} is weak on {}, some {:.0} of them likely wrong or without a box; one more mark at frame {} helps most",
            self.name,
            frames_words(self.frames),
            self.likely_wrong.max(1.0),
            self.ask
        )
    }
}

/// Frames from the first to the one before the first after: `frames 75 to 125`, `frame 75`.
#[must_use]
pub fn frames_words([first, end]: [u64; 2]) -> String {
    match end.saturating_sub(1) {
        last if last <= first => format!("frame {first}"),
        last => format!("frames {first} to {last}"),
    }
}
