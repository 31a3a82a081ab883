//! What a user writes: the shoot file, the marks and the pins, read into checked values.
//!
//! All faults of all three files are gathered and handed back at once, each with its file, line, value,
//! limit and remedy, beside everything that could be read. [`read`] needs no footage; once a clip's footage
//! has been opened, [`Shoot::resolve`] turns timecodes into frames and holds ranges, marks and pins against
//! what the clip has. Where one fault would only follow from another, it is left out.
//!
//! Before anything is shot, [`read_brief`] reads the same file without its clips and marks, and [`read_kit`] the capture modes
//! of a kit.
//!
//! Nothing is written here: a re-plan honours the pins and never changes them.

mod before;
mod clauses;
mod clip;
mod clock;
mod copies;
mod day;
mod decimal;
mod fault;
mod held;
mod inside_crop;
mod kind;
mod kit;
mod lens;
mod limits;
mod marks;
mod moment;
mod motion;
mod mounts;
mod names;
mod page;
mod parts;
mod pins;
mod reading;
mod resolve;
mod retimes;
mod root;
mod rows;
mod sharpness;
mod shutter;
mod stance;
mod table;
mod value;
mod view;
mod written;

pub use before::Before;
pub use clauses::WrittenClause;
pub use clip::{ShootClip, WrittenCut, WrittenRange};
pub use copies::WrittenCopy;
pub use day::{WrittenDay, WrittenGear};
pub use fault::{Fault, Sheet};
pub use kind::FaultKind;
pub use kit::{KitReading, read_kit};
pub use marks::MarkRow;
pub use moment::Moment;
pub use motion::MotionRow;
pub use mounts::WrittenMount;
pub use parts::{Camera, Trim};
pub use pins::PinRow;
pub use reading::{Reading, read, read_brief};
pub use resolve::{ClipMarks, ResolvedClip, ResolvedPin};
pub use retimes::{WrittenRetime, WrittenSpeed};
pub use stance::{Level, Stance, Steady};
pub use view::{MarkedIn, ProxyOf, View};
pub use written::{SheetHashes, Shoot};

use std::path::PathBuf;

/// Why there is nothing to read at all. Whatever is wrong *in* the files is a [`Fault`].
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ShootError {
    /// The shoot file cannot be opened.
    #[error("the shoot file cannot be opened: {}", path.display())]
    Open {
        /// Where it was looked for.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// A kit file cannot be opened.
    #[error("the kit file cannot be opened: {}", path.display())]
    OpenKit {
        /// Where it was looked for.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// A file is not a text.
    #[error(
        "this is not UTF-8 text from line {line} on: {}; a shoot file and its tables are texts, and footage is named in the shoot file",
        path.display()
    )]
    NotUtf8 {
        /// The file.
        path: PathBuf,
        /// The first line that is no text, from 1.
        line: u64,
    },
    /// A table where a shoot file should be.
    #[error(
        "this is a table and no shoot file: {}; name the TOML file that names it as its marks, pins, motion or kit",
        path.display()
    )]
    Table {
        /// The file.
        path: PathBuf,
    },
}

#[cfg(test)]
mod tests;
