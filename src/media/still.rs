//! One picture from one file: what it is, how large, and its pixels.

use crate::geometry::{GeometryError, Orientation as Flag, QuarterTurn, Raster};
use fast_image_resize::{
    FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer, images::ImageRef,
};
use image::{
    DynamicImage, GrayImage, ImageDecoder, ImageError, Limits, Luma, Rgb, RgbImage,
    codecs::{jpeg::JpegDecoder, png::PngDecoder},
    metadata::Orientation,
};
use jpeg::Layout;
use std::{
    fs::{self, File},
    io::{self, BufRead, BufReader, Cursor, Seek},
    panic::{self, UnwindSafe},
    path::Path,
};

mod jpeg;
mod kind;
mod plane;
#[cfg(test)]
mod tests;

pub(super) use kind::{StillKind, kind_of};
pub use plane::luma_plane;

/// The most memory that one picture may take, and the longest file that is read for one. A frame of the
/// greatest raster that any camera here has is below a tenth of it.
const GREATEST_BYTES: u64 = 1 << 30;

/// The most pixels of a picture: 8192 x 8192, twice an 8K frame. Chosen: at 8 bytes a pixel (16-bit RGB with
/// transparency) such a picture takes half of [`GREATEST_BYTES`], and one is read on each core.
const GREATEST_PX: u64 = 8192 * 8192;

/// Why a file is not a picture that can be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StillError {
    /// The file cannot be opened or read.
    #[error("the file could not be read")]
    Unreadable {
        /// Why.
        #[from]
        source: io::Error,
    },
    /// The path is a folder, a pipe or a device.
    #[error("it is not a file")]
    NotAFile,
    /// The file holds nothing.
    #[error("the file is empty (0 bytes); copy it again")]
    Empty,
    /// The file is longer than any frame.
    #[error("the file has {byte_count} bytes and at most {limit_bytes} are read for a frame")]
    TooLong {
        /// Its length.
        byte_count: u64,
        /// The longest that is read.
        limit_bytes: u64,
    },
    /// The file is a picture in a format that is not read.
    #[error(
        "it is {} {format} picture; only PNG and JPEG frames are read: save it as one of these",
        article(format)
    )]
    OtherFormat {
        /// The format's name.
        format: &'static str,
    },
    /// The file is no picture in any known format.
    #[error("it begins as no picture does that is read; save it as PNG or JPEG")]
    NotAStill,
    /// The picture has more pixels than are read.
    #[error(
        "it has {width_px}x{height_px} px, {} in all, and at most {limit_px} (8192x8192) are read; save it smaller",
        u64::from(*width_px) * u64::from(*height_px)
    )]
    TooManyPixels {
        /// Its width.
        width_px: u32,
        /// Its height.
        height_px: u32,
        /// The most pixels that are read.
        limit_px: u64,
    },
    /// The picture is damaged, or of a kind of PNG or JPEG that is not read.
    #[error("it is not a whole PNG or JPEG picture")]
    NotDecoded {
        /// What the decoder says.
        #[from]
        source: ImageError,
    },
    /// The decoder came to a state that it holds to be impossible.
    #[error("it is damaged in a way that the decoder cannot handle; copy or save it again")]
    DecoderFailed,
    /// The file ends before the picture does.
    #[error("the file breaks off before the end of the picture; copy it again")]
    BreaksOff,
    /// A JPEG of four inks that is laid out in a way that no decoder here gets right.
    #[error(
        "it has {plane_count} colour planes laid out in a way that is not read right; save it again in RGB, as a usual JPEG or a PNG"
    )]
    UnusualPlanes {
        /// How many planes it has.
        plane_count: u8,
    },
    /// The picture's size is none that is read.
    #[error("its size is not one that is read")]
    Raster {
        /// Why.
        #[from]
        source: GeometryError,
    },
    /// A picture was asked for at a larger size than it has.
    #[error("it is {found} and is not enlarged to {wanted}")]
    Enlarged {
        /// Its size.
        found: Raster,
        /// The size that was asked for.
        wanted: Raster,
    },
}

/// As the formats' names are spoken: an HDR, a HEIF.
fn article(format: &str) -> &'static str {
    if format.starts_with(['A', 'H', 'I', 'M', 'O', 'X']) && format != "HEIF" { "an" } else { "a" }
}

/// The size of a picture as displayed, from the header alone.
pub(super) fn raster_of(path: &Path) -> Result<Raster, StillError> {
    let (stored, flag) = caught(|| header_of(path))?;
    Ok(flag.shown_raster(stored))
}

/// How a picture's own flag says that it is to be shown; as stored if there is none, or none that can be read.
pub(super) fn flag_of(path: &Path) -> Flag {
    caught(|| header_of(path)).map(|(_, flag)| flag).unwrap_or_default()
}

fn header_of(path: &Path) -> Result<(Raster, Flag), StillError> {
    let format = format_of(path)?;
    let mut decoder = decoder_of(format, BufReader::new(File::open(path)?))?;
    let (width_px, height_px) = decoder.dimensions();
    let (turn, is_mirrored) = match decoder.orientation()? {
        Orientation::NoTransforms => (QuarterTurn::None, false),
        Orientation::Rotate90 => (QuarterTurn::Clockwise, false),
        Orientation::Rotate180 => (QuarterTurn::Half, false),
        Orientation::Rotate270 => (QuarterTurn::Counterclockwise, false),
        Orientation::FlipHorizontal => (QuarterTurn::None, true),
        Orientation::FlipVertical => (QuarterTurn::Half, true),
        Orientation::Rotate90FlipH => (QuarterTurn::Clockwise, true),
        Orientation::Rotate270FlipH => (QuarterTurn::Counterclockwise, true),
    };
    Ok((Raster::new(width_px, height_px)?, Flag { turn, is_mirrored }))
}

/// The picture as displayed, in 8-bit RGB. Grey is spread over the three channels, 16 bits are rounded to
/// the nearest of 8 (65535 is 255, 257 k is k), colour profiles and gamma are not applied.
///
/// Transparency is left out: each pixel has the colour that is stored for it, as though it were opaque, and
/// is not laid over black or white.
pub(super) fn decode(path: &Path) -> Result<RgbImage, StillError> {
    Ok(caught(|| decode_upright(path))?.into_rgb8())
}

/// The picture as displayed, in luma, at this size or its own: never enlarged.
///
/// Luma is 0.2126 R + 0.7152 G + 0.0722 B (Recommendation ITU-R BT.709-6, item 3.2) of the 8-bit values that
/// [`decode`] gives, rounded; a grey picture is its own luma. A pixel of the smaller picture is the mean of
/// those whose centres lie in it.
///
/// # Errors
/// As [`decode`], and [`StillError::Enlarged`].
pub(super) fn decode_luma(path: &Path, size: Raster) -> Result<GrayImage, StillError> {
    let luma = luma_of(caught(|| decode_upright(path))?);
    let found = Raster::new(luma.width(), luma.height())?;
    if size.width_px() > found.width_px() || size.height_px() > found.height_px() {
        return Err(StillError::Enlarged { found, wanted: size });
    }
    if size == found { Ok(luma) } else { Ok(shrunk(&luma, size)) }
}

/// Turns a decoder's panic into an error. `zune-jpeg` 0.5.15 was seen to panic on damaged pictures (in its
/// inverse transform, where a block lies outside the plane). All that were seen have a layout that goes to the
/// other decoder now; this is for those that were not seen.
fn caught<T>(work: impl FnOnce() -> Result<T, StillError> + UnwindSafe) -> Result<T, StillError> {
    panic::catch_unwind(work).unwrap_or(Err(StillError::DecoderFailed))
}

fn luma_of(picture: DynamicImage) -> GrayImage {
    if let DynamicImage::ImageLuma8(grey) = picture {
        return grey;
    }
    let picture = picture.into_rgb8();
    GrayImage::from_fn(picture.width(), picture.height(), |x, y| {
        let &Rgb([red, green, blue]) = picture.get_pixel(x, y);
        let sum = 2126 * u32::from(red) + 7152 * u32::from(green) + 722 * u32::from(blue);
        // The weights sum to 10000, so that this is never above 255.
        Luma([u8::try_from((sum + 5000) / 10_000).unwrap_or(u8::MAX)])
    })
}

fn shrunk(luma: &GrayImage, size: Raster) -> GrayImage {
    let (width_px, height_px) = (size.width_px(), size.height_px());
    let mut small = fast_image_resize::images::Image::new(width_px, height_px, PixelType::U8);
    let large = ImageRef::new(luma.width(), luma.height(), luma.as_raw(), PixelType::U8)
        .expect("a luma picture has one byte a pixel");
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Box));
    Resizer::new().resize(&large, &mut small, &options).expect("both pictures are 8-bit luma");
    GrayImage::from_raw(width_px, height_px, small.into_vec())
        .expect("the buffer has the picture's size")
}

fn decode_upright(path: &Path) -> Result<DynamicImage, StillError> {
    let (mut picture, orientation) = match format_of(path)? {
        Format::Png => {
            let mut decoder = decoder_of(Format::Png, BufReader::new(File::open(path)?))?;
            let orientation = decoder.orientation()?;
            (DynamicImage::from_decoder(decoder)?, orientation)
        }
        Format::Jpeg => {
            let bytes = fs::read(path)?;
            let mut decoder = decoder_of(Format::Jpeg, Cursor::new(&bytes))?;
            let orientation = decoder.orientation()?;
            let picture = match jpeg::layout_of(&bytes) {
                Layout::Usual => DynamicImage::from_decoder(decoder)?,
                Layout::Unusual => jpeg::decode_unusual(&bytes)?,
                Layout::BreaksOff => return Err(StillError::BreaksOff),
            };
            (picture, orientation)
        }
    };
    picture.apply_orientation(orientation);
    Ok(picture)
}

/// The formats that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Png,
    Jpeg,
}

/// The format of a file that is worth opening a decoder for.
fn format_of(path: &Path) -> Result<Format, StillError> {
    let kind = kind_of(path)?;
    match fs::metadata(path)?.len() {
        0 => return Err(StillError::Empty),
        byte_count if byte_count > GREATEST_BYTES => {
            return Err(StillError::TooLong { byte_count, limit_bytes: GREATEST_BYTES });
        }
        _ => {}
    }
    match kind {
        StillKind::Png => Ok(Format::Png),
        StillKind::Jpeg => Ok(Format::Jpeg),
        StillKind::Other(format) => Err(StillError::OtherFormat { format }),
        StillKind::NotAStill => Err(StillError::NotAStill),
    }
}

/// What a picture's format is called; nothing for a file that is none.
pub(super) fn coding_of(path: &Path) -> &'static str {
    match kind_of(path) {
        Ok(StillKind::Png) => "PNG",
        Ok(StillKind::Jpeg) => "JPEG",
        Ok(StillKind::Other(_) | StillKind::NotAStill) | Err(_) => "",
    }
}

/// A decoder that has read the header and found it within the limits.
fn decoder_of<'a>(
    format: Format,
    mut bytes: impl BufRead + Seek + 'a,
) -> Result<Box<dyn ImageDecoder + 'a>, StillError> {
    let mut limits = Limits::default();
    limits.max_alloc = Some(GREATEST_BYTES);
    let decoder: Box<dyn ImageDecoder> = match format {
        Format::Png => {
            // Before the decoder, which takes a row's memory as it opens.
            if let Some((width_px, height_px)) = kind::png_size(bytes.fill_buf()?) {
                check_pixels(width_px, height_px)?;
            }
            Box::new(PngDecoder::with_limits(bytes, limits.clone())?)
        }
        Format::Jpeg => Box::new(JpegDecoder::new(bytes)?),
    };
    let (width_px, height_px) = decoder.dimensions();
    check_pixels(width_px, height_px)?;
    Raster::new(width_px, height_px)?;
    limits.reserve(decoder.total_bytes())?;
    Ok(decoder)
}

fn check_pixels(width_px: u32, height_px: u32) -> Result<(), StillError> {
    if u64::from(width_px) * u64::from(height_px) > GREATEST_PX {
        return Err(StillError::TooManyPixels { width_px, height_px, limit_px: GREATEST_PX });
    }
    Ok(())
}
