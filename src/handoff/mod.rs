//! What an editor receives: one file per format, to any `Write`.
//!
//! For a clip and a deliverable there is a CSV with a window for every frame, a CSV with the keys alone, and a
//! text that says in words by which conventions both are to be read; every CSV row names that text. Numbers
//! have a decimal point and a fixed number of decimals, lines end in CR LF (RFC 4180), text is UTF-8.
//!
//! For whoever checks a plan there is a third CSV, of what was asked of each frame, with all the decimals there are.

mod asked;
mod conventions;
mod rows;
mod track;

pub use asked::{ASKED_COLUMN_NAMES, write_asked};
pub use conventions::write_conventions;
pub use rows::{COLUMN_NAMES, HandoffEntry, write_every_frame, write_keys};
pub use track::{Followings, TRACK_COLUMN_NAMES, TrackRowError, read_track, write_track};

/// Why a hand-off file could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum HandoffError {
    /// The table could not be written.
    #[error("the table could not be written")]
    Table {
        /// What the writer said.
        #[from]
        source: csv::Error,
    },
    /// The text could not be written.
    #[error("the text could not be written")]
    Text {
        /// What the writer said.
        #[from]
        source: std::io::Error,
    },
}
