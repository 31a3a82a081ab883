//! A cut that is planned inside a used range, in numbers and words.

use super::{px, value::as_window};
use crate::{geometry::Window, timecode::FrameIndex};
use serde::Serialize;

/// Why a used range is cut.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum CutReason {
    /// From here on the subjects with their margins are larger than the largest window.
    NoRoomForAll {
        /// The one that counts most, which is kept.
        kept: String,
        /// The others.
        left_out: Vec<String>,
    },
    /// One still window does before it and one after it, and nothing does for both.
    TwoHolds,
}

/// A cut from one window to another inside a used range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedCut {
    /// The first frame after it.
    pub frame: FrameIndex,
    /// The last window before it: left, top, width, height.
    #[serde(serialize_with = "as_window")]
    pub before: Window,
    /// The first window after it.
    #[serde(serialize_with = "as_window")]
    pub after: Window,
    /// Why it is there.
    #[serde(flatten)]
    pub reason: CutReason,
    /// By what factor the width changes at least, if it changes, so that the cut is no small jump.
    pub least_punch_in: f64,
    /// How many frames a whip in its place has at most, where there could be one: it goes a whole window or further and
    /// lands where the window stands for long enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub whip_frames: Option<usize>,
}

/// The one subject that a whole used range keeps, since there is no room for another beside it for as long as a window
/// stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KeptAlone {
    /// The one that weighs most.
    pub kept: String,
    /// The others, which are not kept.
    pub left_out: Vec<String>,
    /// The first frame on which they have no room together.
    pub frame: FrameIndex,
}

impl KeptAlone {
    /// All of it in words.
    #[must_use]
    pub fn words(&self) -> String {
        let (others, are) =
            (self.left_out.join(" and "), if self.left_out.len() > 1 { "are" } else { "is" });
        format!(
            "{} weighs most and is kept alone, {others} {are} not kept: from frame {} on the subjects with their margins are larger \
             than the largest window",
            self.kept, self.frame
        )
    }
}

impl PlannedCut {
    /// The larger of the two widths over the smaller.
    #[must_use]
    pub fn factor(&self) -> f64 {
        let (before, after) = (self.before.width(), self.after.width());
        (before / after).max(after / before)
    }

    /// Whether the size changes, and by too little to look meant.
    #[must_use]
    pub fn is_small_jump(&self) -> bool {
        /// What rounding to even px leaves is no change.
        const SAME: f64 = 1.005;
        (SAME..self.least_punch_in).contains(&self.factor())
    }

    /// All of it in words.
    #[must_use]
    pub fn words(&self) -> String {
        let why = match &self.reason {
            CutReason::NoRoomForAll { kept, left_out } => format!(
                "from here on the subjects with their margins are larger than the largest window: {kept} is kept, {} \
                 is let go and does not come back",
                left_out.join(" and ")
            ),
            CutReason::TwoHolds => {
                "one still window does on either side, and no path that moves does for both"
                    .to_owned()
            }
        };
        let window = |window: &Window| {
            format!(
                "{} x {} at {}, {}",
                px(window.width()),
                px(window.height()),
                px(window.left()),
                px(window.top())
            )
        };
        let small = if self.is_small_jump() {
            format!(
                "; the jump is small: the width changes {:.2} times, and {} is the least that looks meant",
                self.factor(),
                self.least_punch_in
            )
        } else {
            String::new()
        };
        let whip = self.whip_frames.map_or(String::new(), |frames| {
            format!("; a whip of at most {frames} frames could stand for it, which needs added blur or a cut")
        });
        format!(
            "cut before frame {}, from {} to {}: {why}{small}{whip}",
            self.frame,
            window(&self.before),
            window(&self.after)
        )
    }
}
