use crate::timecode::{FrameRate, TimecodeError};
use std::{fmt, path::PathBuf};

/// Something about footage that a person should know and that did not keep it from being opened.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum MediaNotice {
    /// The footage carries a timecode that does not exist at its rate; it was opened without one.
    TimecodeNotRead {
        /// The file.
        path: PathBuf,
        /// The timecode as the file has it.
        text: String,
        /// The rate that it was read at.
        rate: FrameRate,
        /// What is wrong with it.
        fault: TimecodeError,
    },
    /// The file's header promises more frames than are in the file, as when a copy broke off.
    FramesMissing {
        /// The file.
        path: PathBuf,
        /// How many the header promises.
        promised: u64,
        /// How many were counted, those that its edit list cuts off included.
        counted: u64,
    },
    /// The frames are woven of two fields.
    Interlaced {
        /// The file.
        path: PathBuf,
    },
}

impl fmt::Display for MediaNotice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TimecodeNotRead { path, text, rate, fault } => write!(
                f,
                "the timecode `{}` of {} is not used, since it does not exist at {rate} frames/s: {fault}",
                text.escape_debug(),
                path.display()
            ),
            Self::FramesMissing { path, promised, counted } => write!(
                f,
                "{} promises {promised} frames and holds {counted}; if the copy broke off, copy it from the card again",
                path.display()
            ),
            Self::Interlaced { path } => write!(
                f,
                "{} is interlaced and is read with both fields woven; deinterlace it first if edges comb",
                path.display()
            ),
        }
    }
}
