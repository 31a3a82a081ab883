//! Pixels in memory, and the one trait by which frames come in. No files are opened here.
//!
//! Pictures are 8-bit RGB, upright as displayed; what is only analysed is read as 8-bit luma at a size of the
//! reader's choice. Resampling is a library's (`fast_image_resize`), since the common one is 15 to 20 times
//! slower at the same quality.

use crate::{
    geometry::{Orientation, QuarterTurn, Raster},
    timecode::{FrameIndex, FrameRange},
};
use image::{ImageBuffer, Pixel, imageops};
use std::{collections::BTreeSet, error::Error, ops::ControlFlow};

mod cut_out;
mod luma_plane;
mod resample;
mod small;

pub use cut_out::cut_out;
pub use image::{GrayImage, RgbImage};
pub use luma_plane::LumaPlane;
use resample::luma_of;
pub use resample::shrink_to_fit;
pub use small::{Coding, Layout, Levels, Matrix, SmallPicture};

/// Frames of a clip in colour, read forward.
///
/// An implementation holds at most a few frames at a time, so that a clip of any length is read at constant
/// memory.
pub trait FrameSource: Sync {
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

    /// Hands the luma of every frame of a range to `take`, upright and scaled to `size`, in order, until it
    /// breaks off. The same memory is filled again for each frame.
    ///
    /// Luma is taken as it is coded: 16 to 235 for most video, 0 to 255 where the full range is used, as in
    /// pictures. `size` should be no larger than the raster; it is meant for analysis, where a few hundred
    /// lines are enough, and need not have the raster's exact shape.
    ///
    /// # Errors
    /// [`FrameError`] for the first frame that cannot be read, or that the clip does not have.
    fn visit_luma(
        &mut self,
        frames: FrameRange,
        size: Raster,
        take: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError>;

    /// Hands every frame of a range to `take` in colour, no larger than `side_px` along its longer side, in order, until
    /// it breaks off. All of them are of one size; none is enlarged. They come in whichever layout is the least work.
    ///
    /// # Errors
    /// [`FrameError`] for the first frame that cannot be read, or that the clip does not have.
    fn visit_small(
        &mut self,
        frames: FrameRange,
        side_px: u32,
        take: &mut dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        self.visit(&frames.frames().collect(), &mut |frame, picture| {
            take(frame, shrink_to_fit(&picture, side_px, side_px).into())
        })
    }

    /// What reading brought up since the last call that a person should know and that stopped nothing.
    fn take_remarks(&mut self) -> Vec<String> {
        Vec::new()
    }
}

/// The raster of so many lines that has a larger raster's shape, to the nearest even px; that raster itself
/// if it has no more lines.
///
/// ```
/// use lookroom::{geometry::Raster, picture::raster_of_lines};
/// let small = raster_of_lines(Raster::new(2704, 2028)?, 480);
/// assert_eq!(small.to_string(), "640x480");
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[must_use]
pub fn raster_of_lines(raster: Raster, lines: u32) -> Raster {
    if raster.height_px() <= lines {
        return raster;
    }
    let half = raster.width() * f64::from(lines) / raster.height() / 2.0;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "smaller than a raster's side, and positive"
    )]
    let width_px = 2 * (half.round() as u32).max(1);
    Raster::new(width_px, lines.max(1)).unwrap_or(raster)
}

/// The raster of a larger raster's shape that is so many px along its longer side, to the nearest px; that raster itself
/// if it is no larger.
#[must_use]
pub fn raster_within(raster: Raster, side_px: u32) -> Raster {
    let longer_px = raster.width_px().max(raster.height_px());
    if longer_px <= side_px {
        return raster;
    }
    let shrunk = |side: u32| {
        let (side, longer) = (u64::from(side) * u64::from(side_px), u64::from(longer_px));
        u32::try_from((side + longer / 2) / longer).unwrap_or(side_px).max(1)
    };
    Raster::new(shrunk(raster.width_px()), shrunk(raster.height_px())).unwrap_or(raster)
}

/// A picture turned and mirrored.
#[must_use]
pub fn oriented<P: Pixel<Subpixel = u8> + 'static>(
    picture: ImageBuffer<P, Vec<u8>>,
    orientation: Orientation,
) -> ImageBuffer<P, Vec<u8>> {
    let mut picture = match orientation.turn {
        QuarterTurn::None => picture,
        QuarterTurn::Clockwise => imageops::rotate90(&picture),
        QuarterTurn::Half => imageops::rotate180(&picture),
        QuarterTurn::Counterclockwise => imageops::rotate270(&picture),
    };
    if orientation.is_mirrored {
        imageops::flip_horizontal_in_place(&mut picture);
    }
    picture
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
