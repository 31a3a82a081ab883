use crate::geometry::{GeometryError, Raster};
use image::{
    DynamicImage, ImageDecoder, ImageError, ImageReader, Limits, RgbImage, metadata::Orientation,
};
use std::{
    fs::{self, File},
    io::{self, BufReader},
    path::Path,
};

/// The most memory that one picture may take, and the longest file that is read for one. A frame of the
/// greatest raster that any camera here has is below a tenth of it.
const GREATEST_BYTES: u64 = 1 << 30;

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
    #[error("the file is empty")]
    Empty,
    /// The file is longer than any frame.
    #[error("the file has {byte_count} bytes and at most {limit_bytes} are read for a frame")]
    TooLong {
        /// Its length.
        byte_count: u64,
        /// The longest that is read.
        limit_bytes: u64,
    },
    /// The picture is damaged, too large, or neither PNG nor JPEG.
    #[error("it is not a whole PNG or JPEG picture")]
    NotDecoded {
        /// What the decoder says.
        #[from]
        source: ImageError,
    },
    /// The file ends before the picture does.
    #[error("the file breaks off before the end of the picture; copy it again")]
    BreaksOff,
    /// A sequential JPEG stores each colour plane on its own, which the decoder gets wrong.
    #[error(
        "its colour planes are stored one after another, which is not read right; save it again as a usual JPEG or a PNG"
    )]
    PlaneByPlane,
    /// The picture's size is none that is read.
    #[error("its size is not one that is read")]
    Raster {
        /// Why.
        #[from]
        source: GeometryError,
    },
}

/// The size of a picture as displayed, from the header alone.
pub(super) fn raster_of(path: &Path) -> Result<Raster, StillError> {
    let (mut decoder, _) = decoder_for(path)?;
    let (width_px, height_px) = decoder.dimensions();
    let swapped = matches!(
        decoder.orientation()?,
        Orientation::Rotate90
            | Orientation::Rotate270
            | Orientation::Rotate90FlipH
            | Orientation::Rotate270FlipH
    );
    let (width_px, height_px) = if swapped { (height_px, width_px) } else { (width_px, height_px) };
    Ok(Raster::new(width_px, height_px)?)
}

/// The picture as displayed, in 8-bit RGB. Grey is spread over the three channels, 16 bits are rounded to
/// 8, transparency is left out, colour profiles are not applied.
pub(super) fn decode(path: &Path) -> Result<RgbImage, StillError> {
    let (mut decoder, format) = decoder_for(path)?;
    let orientation = decoder.orientation()?;
    let mut picture = DynamicImage::from_decoder(decoder)?;
    if format == Some(image::ImageFormat::Jpeg) {
        match jpeg_layout(&fs::read(path)?) {
            JpegLayout::Whole => {}
            JpegLayout::BreaksOff => return Err(StillError::BreaksOff),
            JpegLayout::PlaneByPlane => return Err(StillError::PlaneByPlane),
        }
    }
    picture.apply_orientation(orientation);
    Ok(picture.into_rgb8())
}

fn decoder_for(path: &Path) -> Result<(impl ImageDecoder, Option<image::ImageFormat>), StillError> {
    let about = fs::metadata(path)?;
    match about.len() {
        _ if !about.is_file() => return Err(StillError::NotAFile),
        0 => return Err(StillError::Empty),
        byte_count if byte_count > GREATEST_BYTES => {
            return Err(StillError::TooLong { byte_count, limit_bytes: GREATEST_BYTES });
        }
        _ => {}
    }
    let mut limits = Limits::default();
    limits.max_alloc = Some(GREATEST_BYTES);
    let mut reader = ImageReader::new(BufReader::new(File::open(path)?)).with_guessed_format()?;
    reader.limits(limits.clone());
    let format = reader.format();
    let decoder = reader.into_decoder()?;
    limits.reserve(decoder.total_bytes())?;
    Ok((decoder, format))
}

/// How a JPEG file is laid out, as far as its decoder gets it wrong without a word.
#[derive(Debug, PartialEq, Eq)]
enum JpegLayout {
    /// As it should be.
    Whole,
    /// It ends before its picture does: what is missing would be filled with grey.
    BreaksOff,
    /// Each colour plane has a scan of its own without being progressive: it would be decoded to stripes.
    PlaneByPlane,
}

/// ITU-T T.81, B.1.1.2 and B.2: segments carry their length up to the scan; in it, FF D9 cannot be data. The
/// frame header (`SOF0`, `SOF1`) counts the planes, the scan header those in the scan.
fn jpeg_layout(bytes: &[u8]) -> JpegLayout {
    const SEQUENTIAL: [u8; 2] = [0xC0, 0xC1];
    const START_OF_SCAN: u8 = 0xDA;
    const END_OF_IMAGE: [u8; 2] = [0xFF, 0xD9];
    let (mut at, mut plane_count) = (2, None);
    while let Some(&[0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        if marker == START_OF_SCAN {
            break;
        }
        if SEQUENTIAL.contains(&marker) {
            plane_count = bytes.get(at + 9).copied();
        }
        // A marker may be preceded by any number of fill bytes.
        at += if marker == 0xFF { 1 } else { 2 + usize::from(u16::from_be_bytes([high, low])) };
    }
    let planes_in_scan = bytes.get(at + 4).copied();
    if !bytes.get(at..).is_some_and(|scan| scan.windows(2).any(|pair| pair == END_OF_IMAGE)) {
        JpegLayout::BreaksOff
    } else if plane_count.zip(planes_in_scan).is_some_and(|(all, in_scan)| in_scan < all) {
        JpegLayout::PlaneByPlane
    } else {
        JpegLayout::Whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

    fn jpeg(with: impl Fn(&mut Encoder<&mut Vec<u8>>)) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = Encoder::new(&mut bytes, 80);
        encoder.set_sampling_factor(SamplingFactor::F_2_2);
        with(&mut encoder);
        encoder.encode(&[120; 3 * 32 * 32], 32, 32, ColorType::Rgb).unwrap();
        bytes
    }

    #[test]
    fn layouts_that_would_be_decoded_wrongly_are_told_apart() {
        let usual = jpeg(|_| {});
        assert_eq!(jpeg_layout(&usual), JpegLayout::Whole);
        assert_eq!(jpeg_layout(&usual[..usual.len() - 2]), JpegLayout::BreaksOff);
        let plane_by_plane = jpeg(|encoder| encoder.set_optimized_huffman_tables(true));
        assert_eq!(jpeg_layout(&plane_by_plane), JpegLayout::PlaneByPlane);
        let progressive = jpeg(|encoder| encoder.set_progressive(true));
        assert_eq!(jpeg_layout(&progressive), JpegLayout::Whole);
        assert_eq!(jpeg_layout(&[]), JpegLayout::BreaksOff);
    }
}
