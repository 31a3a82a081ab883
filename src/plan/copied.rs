//! Paths that are taken from another clip: what they are, and what stands in their way.

use super::{ShortAt, TellingFrames, px};
use crate::{
    clip::{CopyKind, PathCopy},
    geometry::Window,
    timecode::FrameIndex,
};
use serde::Serialize;

/// From which clip a clip takes its path, and how.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CopiedFrom {
    /// The clip whose path is planned.
    pub clip: String,
    /// What becomes of its windows.
    pub kind: CopyKind,
    /// The same moment is so many frames later here; below 0 it is earlier.
    pub frames_later: i64,
    /// Everything is so many px further right here.
    pub right_px: f64,
    /// So many px further down.
    pub down_px: f64,
}

impl CopiedFrom {
    /// The copy as a plan holds it.
    #[must_use]
    pub fn of(copy: &PathCopy) -> Self {
        Self {
            clip: copy.from.clone(),
            kind: copy.kind,
            frames_later: copy.frames_later,
            right_px: copy.right_px,
            down_px: copy.down_px,
        }
    }

    /// The same in words: `the path of take-1, 40 frames later, 80 px to the right`.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = format!("the path of {}", self.clip);
        if self.kind == CopyKind::Mirror {
            words += " with left and right exchanged";
        }
        let frames = self.frames_later.unsigned_abs();
        let direction = if self.frames_later > 0 { "later" } else { "earlier" };
        if frames > 0 {
            words += &format!(", {frames} frame{} {direction}", if frames == 1 { "" } else { "s" });
        }
        let shift = shift_words(self.right_px, self.down_px);
        if shift.is_empty() { words } else { format!("{words}, {shift}") }
    }

    /// What should be known of it once.
    #[must_use]
    pub fn notice(&self) -> String {
        match self.kind {
            CopyKind::Repeat => {
                format!("not planned by itself: its windows are {}", self.words())
            }
            CopyKind::Mirror => format!(
                "not planned by itself: its windows are {} (x0' = W - x0 - w); room ahead on the left there is room \
                 ahead on the right here. No picture is flipped, so that text and logos read right; check the \
                 screen direction across the cut",
                self.words()
            ),
        }
    }
}

/// How a segment's path comes from that of another clip's segment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CopiedPath {
    /// The number of that segment.
    pub its_segment: usize,
    /// On how many used frames the first window is held, since that path begins later.
    pub held_before: u64,
    /// On how many the last is held, since it ends earlier.
    pub held_after: u64,
    /// Where its windows would have left the usable area, and were moved back.
    pub moved_back: Option<MovedBack>,
}

/// Windows that were moved back into the usable area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MovedBack {
    /// On how many used frames.
    pub frame_count: usize,
    /// The first frame on which it was by the most.
    pub frame: FrameIndex,
    /// By how many px there, to the right; below 0 to the left.
    pub right_px: f64,
    /// By how many px there, down; below 0 up.
    pub down_px: f64,
}

impl CopiedPath {
    /// What is not as in the other path, in words; `None` if all of it is.
    #[must_use]
    pub fn words(&self) -> Option<String> {
        let held = |count: u64, side: &str| {
            (count > 0).then(|| format!("held for {count} frames {side} that path"))
        };
        let parts = [held(self.held_before, "before"), held(self.held_after, "after")];
        let moved = self.moved_back.map(|moved| moved.words());
        let parts: Vec<String> = parts.into_iter().chain([moved]).flatten().collect();
        (!parts.is_empty()).then(|| parts.join("; "))
    }
}

impl MovedBack {
    /// By how many px it was at most, across or down.
    #[must_use]
    pub fn greatest_px(&self) -> f64 {
        self.right_px.abs().max(self.down_px.abs())
    }

    /// `moved back into the usable area on 40 frames, the most at frame 340: 47.5 px to the left`.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "moved back into the usable area on {} frame{}, the most at frame {}: {}",
            self.frame_count,
            if self.frame_count == 1 { "" } else { "s" },
            self.frame,
            shift_words(self.right_px, self.down_px)
        )
    }
}

/// `80 px to the right, 12 px up`; empty without a shift.
fn shift_words(right_px: f64, down_px: f64) -> String {
    let along = |by: f64, [more, less]: [&str; 2]| {
        (by.abs() > 0.0)
            .then(|| format!("{} px {}", px(by.abs()), if by > 0.0 { more } else { less }))
    };
    let parts = [along(right_px, ["to the right", "to the left"]), along(down_px, ["down", "up"])];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Why the path of another clip cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hurdle {
    /// The other clip has none in this shape.
    NoPathThere,
    /// Its windows are larger than what may be used here.
    NoRoom,
    /// Its windows are smaller than the greatest enlargement allows here.
    TooSoft,
    /// Its windows are larger than the greatest width here.
    TooWide,
    /// It moves faster on this clip's timeline than the hard limit.
    TooFast,
    /// What is to be kept out here is in its windows.
    KeptOut,
    /// A client's condition on what is marked here is not kept.
    ClauseBroken,
    /// The subject that is marked here is not inside.
    SubjectLost,
}

/// A path that could not be taken from another clip.
#[derive(Debug, Clone, Serialize)]
pub struct NotCopied {
    /// What stands in its way.
    pub because: Hurdle,
    /// The same in words, and what would mend it.
    pub words: String,
    /// The frame that lacks the most, where the subject is lost.
    pub worst: Option<ShortAt>,
    /// Frames worth looking at.
    pub telling: TellingFrames,
    /// The windows as they would be over the used frames, for a picture of what is wrong; none where there is no
    /// path there or no room.
    #[serde(skip)]
    pub attempt: Vec<Window>,
}
