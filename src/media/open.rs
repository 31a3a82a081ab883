use super::{MediaError, MediaNotice, sequence, video};
use crate::{
    clip::{ClipFacts, Footage},
    picture::FrameSource,
    timecode::FrameRate,
};
use std::{fmt, path::PathBuf};

/// Footage that can be read.
pub struct Opened {
    /// What it is. The start timecode is the one that the footage carries.
    pub facts: ClipFacts,
    /// Its frames.
    pub frames: Box<dyn FrameSource + Send>,
    /// What a person should know about it.
    pub notices: Vec<MediaNotice>,
}

impl fmt::Debug for Opened {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Opened")
            .field("facts", &self.facts)
            .field("notices", &self.notices)
            .finish_non_exhaustive()
    }
}

/// The programs that video is read with: names that are looked up on the PATH, or paths.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Programs {
    /// The decoder, version 5.1 or later.
    pub ffmpeg: PathBuf,
    /// Its companion that describes files.
    pub ffprobe: PathBuf,
}

impl Default for Programs {
    /// `ffmpeg` and `ffprobe` on the PATH.
    fn default() -> Self {
        Self { ffmpeg: PathBuf::from("ffmpeg"), ffprobe: PathBuf::from("ffprobe") }
    }
}

/// Opens footage: looks at every file once, counts the frames, and decodes none.
///
/// `rate` is the rate that the shoot file states, if it does: pictures need it, and a video's own must
/// agree with it. Where the time stamps are too coarse to tell two rates apart (a short clip in
/// milliseconds), the stated one holds.
///
/// # Errors
/// [`MediaError`] if the footage is missing, damaged, or of a kind that is not read.
pub fn open(footage: &Footage, rate: Option<FrameRate>) -> Result<Opened, MediaError> {
    open_with(&Programs::default(), footage, rate)
}

/// [`open`] with other programs than those on the PATH. A sequence needs none.
///
/// # Errors
/// As [`open`].
pub fn open_with(
    programs: &Programs,
    footage: &Footage,
    rate: Option<FrameRate>,
) -> Result<Opened, MediaError> {
    match footage {
        Footage::Sequence(path) => sequence::open(path, rate),
        Footage::Video(path) => video::open(programs, path, rate),
    }
}
