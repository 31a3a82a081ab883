//! What a clip *is*: its files, raster, rate, first timecode, and which part of it is used.
//!
//! Facts only; reading pixels is `media`'s work. One clip is one numbering of frames from 0. Clips that the
//! recorder split, variable rates and orientation come later.

use crate::{
    geometry::{InsideCrop, Raster},
    timecode::{FrameIndex, FrameRange, FrameRate, Timecode},
};
use std::{fmt, path::PathBuf};

/// Where a clip's frames are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Footage {
    /// Numbered pictures: a file name with one printf-style number (`frames/%05d.jpg`), or a folder that
    /// holds nothing but the frames, in the order of their numbers.
    Sequence(PathBuf),
    /// One video file.
    Video(PathBuf),
}

impl Footage {
    /// The path as it was given.
    #[must_use]
    pub const fn path(&self) -> &PathBuf {
        match self {
            Self::Sequence(path) | Self::Video(path) => path,
        }
    }
}

/// How the timeline plays a clip's frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Play {
    /// One second of capture is one second of timeline.
    #[default]
    RealTime,
    /// Each captured frame is one timeline frame: slow motion where the capture rate is higher.
    EveryFrame,
}

impl fmt::Display for Play {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::RealTime => "real-time",
            Self::EveryFrame => "every-frame",
        })
    }
}

/// What tells a clip from another of the same name.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Fingerprint {
    /// SHA-256, in hexadecimal, over each file's length and its first and last MiB, in the order of the
    /// frames. It tells two takes apart; it does not prove that a long file is undamaged.
    pub sampled_sha256: String,
    /// All the bytes of all the files.
    pub byte_count: u64,
    /// How many files.
    pub file_count: u64,
}

/// What was read from the footage itself.
#[derive(Debug, Clone, PartialEq)]
pub struct ClipFacts {
    /// The displayed raster: upright, square pixels.
    pub raster: Raster,
    /// Frames per second, constant.
    pub rate: FrameRate,
    /// How many frames, counted and not taken from a header; at least one.
    pub frame_count: u64,
    /// The timecode of frame 0, if the footage or the shoot file names one.
    pub start_timecode: Option<Timecode>,
    /// Which files these were.
    pub fingerprint: Fingerprint,
    /// Bits per second of the pictures, if the footage names them.
    pub bit_rate: Option<f64>,
}

impl ClipFacts {
    /// Every frame there is.
    ///
    /// # Panics
    /// If `frame_count` is 0, which no reader hands out.
    #[must_use]
    pub fn whole(&self) -> FrameRange {
        FrameRange::new(FrameIndex(0), FrameIndex(self.frame_count))
            .expect("a clip has at least one frame")
    }

    /// Bits for each px of each frame: bit rate / (width x height x frames per second). `None` where no bit
    /// rate above 0 is known. Where px are not square, the displayed frame's are counted.
    #[must_use]
    pub fn bits_per_px(&self) -> Option<f64> {
        let bit_rate = self.bit_rate.filter(|rate| rate.is_finite() && *rate > 0.0)?;
        Some(bit_rate / (self.raster.width() * self.raster.height() * self.rate.per_second()))
    }
}

/// A part of a clip that is used, with the frames on both sides that an editor may need for a transition.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UsedRange {
    /// The frames that are used.
    pub used: FrameRange,
    /// Those frames and the handles, as far as the clip has them.
    pub with_handles: FrameRange,
}

impl UsedRange {
    /// A used range with handles of `handle_frames` on both sides, cut off where the clip ends.
    ///
    /// # Panics
    /// Never: a range within another holds at least the range itself.
    #[must_use]
    pub fn new(used: FrameRange, handle_frames: u64, clip: FrameRange) -> Self {
        let first = used.first().0.saturating_sub(handle_frames).max(clip.first().0);
        let end = (used.end().0 + handle_frames).min(clip.end().0).max(used.end().0);
        let with_handles = FrameRange::new(FrameIndex(first), FrameIndex(end))
            .expect("handles only add frames to a range");
        Self { used, with_handles }
    }
}

/// A clip as it is planned: its facts and how it is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Clip {
    /// Its name in the shoot file; letters, digits, `-`, `_` and `.` only.
    pub name: String,
    /// Where its frames are.
    pub footage: Footage,
    /// What was read from them.
    pub facts: ClipFacts,
    /// How the timeline plays it.
    pub play: Play,
    /// What its camera cropped before it wrote the file.
    pub inside_crop: InsideCrop,
    /// The parts that are used, in order and apart; at least one.
    pub ranges: Vec<UsedRange>,
}

impl Clip {
    /// How much timeline time passes from one of its frames to the next, in seconds.
    #[must_use]
    pub fn timeline_step_secs(&self, timeline: FrameRate) -> f64 {
        match self.play {
            Play::RealTime => self.facts.rate.frame_secs(),
            Play::EveryFrame => timeline.frame_secs(),
        }
    }

    /// The timecode of a frame, if the clip has any.
    #[must_use]
    pub fn timecode_at(&self, frame: FrameIndex) -> Option<Timecode> {
        self.facts.start_timecode.map(|start| start.after(frame))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn handles_stop_where_the_clip_does() {
        let range = |first, end| FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
        let used = UsedRange::new(range(10, 90), 25, range(0, 100));
        assert_eq!(used.with_handles, range(0, 100));
    }

    #[test]
    fn bits_are_counted_for_each_px_of_each_frame() {
        let fingerprint =
            Fingerprint { sampled_sha256: String::new(), byte_count: 1, file_count: 1 };
        let with = |bit_rate| ClipFacts {
            raster: Raster::new(4000, 3000).unwrap(),
            rate: FrameRate::new(50, 1).unwrap(),
            frame_count: 1,
            start_timecode: None,
            fingerprint: fingerprint.clone(),
            bit_rate,
        };
        // 120 Mb/s over 4000 x 3000 px, 50 times a second: 120e6 / 600e6.
        assert_eq!(with(Some(120e6)).bits_per_px(), Some(0.2));
        for unknown in [None, Some(0.0), Some(-1.0), Some(f64::NAN), Some(f64::INFINITY)] {
            assert_eq!(with(unknown).bits_per_px(), None);
        }
    }
}
