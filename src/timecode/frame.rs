use super::TimecodeError;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The number of a frame in its clip, from 0, in presentation order.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct FrameIndex(pub u64);

impl fmt::Display for FrameIndex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// The frames from `first` up to, and without, `end`; at least one frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct FrameRange {
    first: FrameIndex,
    end: FrameIndex,
}

impl FrameRange {
    /// The range `[first, end)`.
    ///
    /// # Errors
    /// [`TimecodeError::EmptyRange`] if `end` is not after `first`.
    pub const fn new(first: FrameIndex, end: FrameIndex) -> Result<Self, TimecodeError> {
        if end.0 <= first.0 {
            return Err(TimecodeError::EmptyRange { first: first.0, end: end.0 });
        }
        Ok(Self { first, end })
    }

    /// The first frame.
    #[must_use]
    pub const fn first(self) -> FrameIndex {
        self.first
    }

    /// The last frame.
    #[must_use]
    pub const fn last(self) -> FrameIndex {
        FrameIndex(self.end.0 - 1)
    }

    /// The first frame after the range.
    #[must_use]
    pub const fn end(self) -> FrameIndex {
        self.end
    }

    /// How many frames there are, at least 1.
    #[must_use]
    pub const fn frame_count(self) -> u64 {
        self.end.0 - self.first.0
    }

    /// Whether a frame is in the range.
    #[must_use]
    pub const fn contains(self, frame: FrameIndex) -> bool {
        self.first.0 <= frame.0 && frame.0 < self.end.0
    }

    /// The frames in order.
    pub fn frames(self) -> impl ExactSizeIterator<Item = FrameIndex> + Clone {
        let count = usize::try_from(self.frame_count()).unwrap_or(usize::MAX);
        (0..count).map(move |offset| FrameIndex(self.first.0 + offset as u64))
    }

    /// The frame `offset` after the first; it may lie outside the range.
    #[must_use]
    pub const fn frame_at(self, offset: usize) -> FrameIndex {
        FrameIndex(self.first.0 + offset as u64)
    }
}

impl fmt::Display for FrameRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.first, self.last())
    }
}
