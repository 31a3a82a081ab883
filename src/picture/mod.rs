//! Pixels in memory, and the one trait by which frames come in. No files are opened here.
//!
//! Pictures are 8-bit RGB, upright as displayed. Resampling is a library's (`fast_image_resize`), since the
//! common one is 15 to 20 times slower at the same quality. Luma planes for analysis come later.

use crate::{geometry::Raster, timecode::FrameIndex};
use std::{collections::BTreeSet, error::Error, ops::ControlFlow};

mod resample;

pub use image::RgbImage;
pub use resample::shrink_to_fit;

/// Frames of a clip in colour, read forward.
///
/// An implementation holds at most a few frames at a time, so that a clip of any length is read at constant
/// memory.
pub trait FrameSource {
    /// The size of every frame, upright.
    fn raster(&self) -> Raster;

    /// How many frames there are.
    fn frame_count(&self) -> u64;

    /// Hands each of the wanted frames to `take`, once and in order, until it breaks off.
    ///
    /// # Errors
    /// [`FrameError`] for the first wanted frame that cannot be read, or that the clip does not have.
    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError>;
}

/// A frame that could not be read.
#[derive(Debug, thiserror::Error)]
#[error("frame {frame} could not be read")]
pub struct FrameError {
    /// The frame.
    pub frame: FrameIndex,
    /// What went wrong.
    #[source]
    pub cause: Box<dyn Error + Send + Sync>,
}
