use crate::{geometry::Region, timecode::FrameIndex};
use serde::{Deserialize, Serialize};
use std::fmt;

/// What a mark says about its box.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkKind {
    /// What the shot is about: followed, with margins.
    Subject,
    /// Something else that should stay in the window: a logo, a hand rail.
    KeepIn,
    /// Something that must stay out of the window: bodywork, a strut.
    KeepOut,
    /// The named thing is not to be seen from this frame on, until its next mark.
    Gone,
}

impl MarkKind {
    /// Every kind, in the order in which help texts list them.
    pub const ALL: [Self; 4] = [Self::Subject, Self::KeepIn, Self::KeepOut, Self::Gone];

    /// The name used in marks files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Subject => "subject",
            Self::KeepIn => "keep-in",
            Self::KeepOut => "keep-out",
            Self::Gone => "gone",
        }
    }
}

impl fmt::Display for MarkKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A box set by hand at a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The frame.
    pub frame: FrameIndex,
    /// What is marked; marks of one name make one track.
    pub name: String,
    /// What the mark says.
    pub kind: MarkKind,
    /// The box, in px of the displayed frame; `None` for a *gone*.
    pub region: Option<Region>,
    /// How much it counts against other subjects, if this mark says so.
    pub weight: Option<f64>,
}
