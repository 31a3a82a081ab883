//! Frames in: numbered pictures read here, video through the `ffmpeg` and `ffprobe` programs.
//!
//! [`open`] looks at the footage once and says what it is: raster as shown, rate or time stamps, frame count,
//! timecode, fingerprint. Frames are counted and never taken from a header; a constant rate is one that every
//! time stamp agrees with. A frame that is read is known by its own time stamp, so that none is ever taken
//! for its neighbour. What cannot be read as it should be shown is refused, with what would mend it.

mod decoder;
mod error;
mod file;
mod fingerprint;
mod joined;
mod listing;
mod notice;
mod open;
mod pattern;
mod probe;
mod programs;
mod selection;
mod sequence;
mod small;
mod stamps;
mod still;
#[cfg(test)]
mod testing;
mod video;

pub use error::MediaError;
pub use notice::MediaNotice;
pub use open::{Counted, Opened, Watch, open, open_at, open_with};
pub use programs::Programs;
pub use small::{NotKept, SmallFrames};
pub use still::{StillError, luma_plane};
