use super::{
    MediaError, MediaNotice, Programs, StillError, file, joined, sequence,
    still::{StillKind, kind_of},
};
use crate::{
    clip::{ClipFacts, Footage, Reading},
    picture::FrameSource,
};
use std::{fmt, ops::ControlFlow, path::Path};

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

/// Opens footage: looks at every file once and counts the frames. Nothing is decoded, unless a video's
/// packets do not tell its frames apart.
///
/// A rate that is given must agree with a video's own. Where the time stamps are too coarse to tell two rates
/// apart (a short clip in milliseconds), the given one holds.
///
/// # Errors
/// [`MediaError`] if the footage is missing, damaged, or of a kind that is not read.
pub fn open(footage: &Footage, reading: &Reading) -> Result<Opened, MediaError> {
    open_with(&Programs::default(), footage, reading, &mut |_| ControlFlow::Continue(()))
}

/// How far the counting of a video's frames has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted {
    /// How many were counted.
    pub frames: u64,
    /// How many the file's header promises, if it does.
    pub promised: Option<u64>,
}

/// Hears how far counting has come, again and again, and may end it. A long file takes as long as the card
/// takes to be read once.
pub type Watch<'w> = dyn FnMut(Counted) -> ControlFlow<()> + 'w;

/// [`open`] with other programs than those on the PATH (a sequence needs none), and watched.
///
/// # Errors
/// As [`open`]; [`MediaError::Stopped`] if the watch ended it.
pub fn open_with(
    programs: &Programs,
    footage: &Footage,
    reading: &Reading,
    watch: &mut Watch<'_>,
) -> Result<Opened, MediaError> {
    match footage {
        Footage::Sequence(path) => sequence::open(path, reading),
        Footage::Video(paths) => match paths.as_slice() {
            [path] => {
                let file::OpenedFile { facts, video, notices } =
                    file::open(programs, path, reading, watch)?;
                Ok(Opened { facts, frames: Box::new(video), notices })
            }
            several => joined::open(programs, several, reading, watch),
        },
    }
}

/// Opens whatever is at a path: a folder or a pattern is a sequence of pictures, a file a picture or a video.
///
/// # Errors
/// As [`open_with`]; if it is a picture of a kind that is not read.
pub fn open_at(
    path: &Path,
    reading: &Reading,
    watch: &mut Watch<'_>,
) -> Result<Opened, MediaError> {
    let programs = Programs::default();
    let is_plain = !path.to_string_lossy().contains(['%', '*', '?', '[']);
    if is_plain && !path.exists() {
        return Err(MediaError::NothingThere { path: path.to_owned() });
    }
    if !path.is_file() {
        return open_with(&programs, &Footage::Sequence(path.to_owned()), reading, watch);
    }
    let kind = kind_of(path)
        .map_err(|source| MediaError::NotAPicture { path: path.to_owned(), source })?;
    match kind {
        StillKind::Png | StillKind::Jpeg => sequence::open_picture(path, reading),
        StillKind::NotAStill => open_with(&programs, &Footage::video(path), reading, watch),
        StillKind::Other(format) => {
            let source = StillError::OtherFormat { format };
            Err(MediaError::NotAPicture { path: path.to_owned(), source })
        }
    }
}
