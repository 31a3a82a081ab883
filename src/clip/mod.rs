//! What a clip *is*: its files, raster, rate, first timecode, and which part of it is used.
//!
//! Facts only; reading pixels is `media`'s work. One clip is one numbering of frames from 0, over all the
//! files that a recorder split it into.

use crate::{
    geometry::{InsideCrop, Orientation, Raster},
    timecode::{FrameIndex, FrameRange, FrameRate, Retime, Timecode},
};
use std::{
    fmt,
    path::{Path, PathBuf},
};

mod copied;
mod range;
mod timing;

pub use copied::{CopiedWindow, CopyKind, PathCopy};
pub use range::{UsedRange, part_without_cut};
pub use timing::{FrameTimes, Timing};

/// Where a clip's frames are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Footage {
    /// Numbered pictures: a file name with one printf-style number (`frames/%05d.jpg`) or with wildcards
    /// (`frames/shot_*.png`), or a folder that holds nothing but the frames, in the order of their numbers.
    Sequence(PathBuf),
    /// Video files, one or more, that follow on each other without a gap; one at least.
    Video(Vec<PathBuf>),
}

impl Footage {
    /// One video file.
    #[must_use]
    pub fn video(path: impl Into<PathBuf>) -> Self {
        Self::Video(vec![path.into()])
    }

    /// The path as it was given; the first of several.
    #[must_use]
    pub fn path(&self) -> &Path {
        match self {
            Self::Sequence(path) => path,
            Self::Video(paths) => paths.first().map_or(Path::new(""), PathBuf::as_path),
        }
    }
}

/// What has to be known of footage beyond its files, before it can be read as it is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reading {
    /// Its rate, where that is known: pictures need it, and a video's own must agree with it.
    pub rate: Option<FrameRate>,
    /// Which video track of a file is read, counted from 1; a file with several needs it.
    pub track: Option<u32>,
    /// How pictures are turned and mirrored after the file's own flag, as for a camera mounted on its side.
    pub orientation: Orientation,
}

/// A file of a clip that the recorder split, or the only one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// The file; for a sequence, the sequence.
    pub path: PathBuf,
    /// Its frames, in the clip's numbering.
    pub frames: FrameRange,
}

/// How a clip's pictures are stored. What a person wants to see of it, and nothing that is reckoned with.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Storage {
    /// The name of the coding: `h264`, `JPEG`.
    pub coding: String,
    /// The raster of the stored pictures.
    pub raster: Option<Raster>,
    /// Width to height of a stored pixel; 1 to 1 is square.
    pub pixel_shape: (u32, u32),
    /// How the file says that its pictures are to be shown.
    pub flag: Orientation,
    /// Bits of a sample, where that is told.
    pub bit_depth: Option<u32>,
    /// Whether samples are for a high-dynamic-range display, which this program shows as they are.
    pub is_hdr: bool,
    /// Whether frames are woven of two fields.
    pub is_interlaced: bool,
    /// How many video tracks the file has; 0 for pictures.
    pub video_tracks: usize,
    /// How many tracks of sound.
    pub audio_tracks: usize,
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
    /// When its frames are shown.
    pub timing: Timing,
    /// How many frames, counted and not taken from a header; at least one.
    pub frame_count: u64,
    /// The timecode of frame 0, if the footage or the shoot file names one.
    pub start_timecode: Option<Timecode>,
    /// Bits per second of the pictures as they are stored, where that is known.
    pub bit_rate: Option<f64>,
    /// The files it is made of, in the order of its frames; one at least.
    pub parts: Vec<Part>,
    /// How its pictures are stored.
    pub storage: Storage,
    /// Which files these were.
    pub fingerprint: Fingerprint,
}

impl ClipFacts {
    /// The part that holds a frame.
    #[must_use]
    pub fn part_of(&self, frame: FrameIndex) -> Option<&Part> {
        self.parts.iter().find(|part| part.frames.contains(frame))
    }

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
        let stored = self.storage.raster.unwrap_or(self.raster);
        Some(bit_rate / (stored.width() * stored.height() * self.timing.per_second()))
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
    /// How its speed was changed on the timeline, if it was: for a clip of a constant rate in real time only.
    pub retime: Option<Retime>,
    /// The rate of the timeline.
    pub timeline_rate: FrameRate,
    /// Which video track of its files it is, from 1, where that had to be said.
    pub track: Option<u32>,
    /// How its pictures are turned and mirrored after their file's own flag.
    pub orientation: Orientation,
    /// The raster of the frames that are read, where they are a proxy of the clip.
    pub proxy: Option<Raster>,
    /// What its camera cropped before it wrote the file.
    pub inside_crop: InsideCrop,
    /// The first frame after each cut inside it, in order: no path and no track reaches across one.
    pub cuts: Vec<FrameIndex>,
    /// The parts that are used, in order, apart and without a cut inside; at least one.
    pub ranges: Vec<UsedRange>,
}

impl Clip {
    /// Timeline seconds from one of its frames to another, below 0 if that comes before.
    #[must_use]
    pub fn timeline_secs(&self, from: FrameIndex, to: FrameIndex) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "frame numbers are far below 2^53")]
        let frames = to.0 as f64 - from.0 as f64;
        match (self.play, &self.facts.timing) {
            (Play::EveryFrame, _) => frames * self.timeline_rate.frame_secs(),
            (Play::RealTime, Timing::Constant(rate)) => {
                let played = self.retime.as_ref().map_or(frames, |retime| retime.played(from, to));
                played * rate.frame_secs()
            }
            (Play::RealTime, Timing::Variable(times)) => {
                times.seconds_at(to) - times.seconds_at(from)
            }
        }
    }

    /// Timeline frames from one of its frames to another, as a real number: below 0 if that comes before.
    #[must_use]
    pub fn timeline_frames(&self, from: FrameIndex, to: FrameIndex) -> f64 {
        self.timeline_secs(from, to) * self.timeline_rate.per_second()
    }

    /// Timeline seconds from each of its frames to the next, if they are all alike.
    #[must_use]
    pub fn even_step_secs(&self) -> Option<f64> {
        match (self.play, self.facts.timing.rate()) {
            (Play::EveryFrame, _) => Some(self.timeline_rate.frame_secs()),
            (Play::RealTime, rate) => {
                let speed = self.retime.as_ref().map_or(Some(1.0), Retime::constant)?;
                rate.map(|rate| rate.frame_secs() / speed)
            }
        }
    }

    /// The frames from the cut before a frame, or the first there is, up to the cut after it, or the end.
    #[must_use]
    pub fn part_without_cut(&self, frame: FrameIndex) -> FrameRange {
        part_without_cut(self.facts.whole(), &self.cuts, frame)
    }

    /// Where it is cut inside, in words: `cut before frames 300, 412`.
    #[must_use]
    pub fn cuts_words(&self) -> String {
        let frames: Vec<String> = self.cuts.iter().map(ToString::to_string).collect();
        let plural = if frames.len() == 1 { "" } else { "s" };
        format!("cut before frame{plural} {}", frames.join(", "))
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
    fn bits_are_counted_for_each_px_of_each_frame() {
        let fingerprint =
            Fingerprint { sampled_sha256: String::new(), byte_count: 1, file_count: 1 };
        let with = |bit_rate| ClipFacts {
            raster: Raster::new(4000, 3000).unwrap(),
            timing: Timing::Constant(FrameRate::new(50, 1).unwrap()),
            frame_count: 1,
            start_timecode: None,
            bit_rate,
            parts: Vec::new(),
            storage: Storage::default(),
            fingerprint: fingerprint.clone(),
        };
        // 120 Mb/s over 4000 x 3000 px, 50 times a second: 120e6 / 600e6.
        assert_eq!(with(Some(120e6)).bits_per_px(), Some(0.2));
        for unknown in [None, Some(0.0), Some(-1.0), Some(f64::NAN), Some(f64::INFINITY)] {
            assert_eq!(with(unknown).bits_per_px(), None);
        }
    }
}
