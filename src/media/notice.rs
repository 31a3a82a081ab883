use crate::timecode::{FrameIndex, FrameRate, TimecodeError};
use std::{fmt, path::PathBuf};

/// Something about footage that a person should know and that did not keep it from being opened.
#[derive(Debug, Clone, PartialEq)]
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
    /// The footage carries a timecode and has a variable rate, at which there is none.
    TimecodeOfVariableRate {
        /// The file.
        path: PathBuf,
        /// The timecode as the file has it.
        text: String,
    },
    /// A file that a recorder split off does not begin where the one before it ends.
    TimecodeJumps {
        /// The earlier file.
        before: PathBuf,
        /// The later file.
        next: PathBuf,
        /// The timecode after the earlier file's last.
        expected: String,
        /// The later file's first.
        found: String,
    },
    /// Frames carry no time stamps, and no rate was given: the one that the file declares is used.
    RateAssumed {
        /// The file.
        path: PathBuf,
        /// That rate.
        rate: FrameRate,
    },
    /// The file breaks off: its header promises more frames than are in it.
    BreaksOff {
        /// The file.
        path: PathBuf,
        /// How many the header promises, if it does.
        promised: Option<u64>,
        /// How many were counted, those that its edit list cuts off included.
        counted: u64,
        /// The last frame that can be read; none if there is none.
        last: Option<FrameIndex>,
    },
    /// The picture is coded for a high-dynamic-range display.
    HighDynamicRange {
        /// The file.
        path: PathBuf,
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
            Self::TimecodeOfVariableRate { path, text } => write!(
                f,
                "the timecode `{}` of {} is not used: timecode counts at a constant rate, and this one is variable",
                text.escape_debug(),
                path.display()
            ),
            Self::TimecodeJumps { before, next, expected, found } => write!(
                f,
                "{} begins at {found}, and {} ends before {expected}: frames may be missing between them, and the joined clip has no timecode",
                next.display(),
                before.display()
            ),
            Self::RateAssumed { path, rate } => write!(
                f,
                "{} carries no time stamps; it is taken to have the {rate} frames/s that it declares: state its rate if that is wrong",
                path.display()
            ),
            Self::BreaksOff { path, promised, counted, last } => {
                let promised =
                    promised.map_or(String::new(), |count| format!("promises {count} frames and "));
                write!(f, "{} breaks off: it {promised}holds {counted}", path.display())?;
                match last {
                    Some(last) => write!(f, ", the last whole one is frame {last}")?,
                    None => write!(f, ", none of them whole")?,
                }
                write!(f, "; copy it from the card again if you can")
            }
            Self::HighDynamicRange { path } => write!(
                f,
                "{} is coded for a high-dynamic-range display and shown here as it is: pictures look flat, windows are not touched by it",
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
