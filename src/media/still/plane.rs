use super::{GREATEST_BYTES, StillError, StillKind, caught, check_pixels, decode_upright, kind_of};
use crate::{geometry::Raster, picture::LumaPlane};
use image::{DynamicImage, ImageDecoder, ImageError, Limits, Luma, Rgb, codecs::tiff::TiffDecoder};
use std::{
    fs::{self, File},
    io::BufReader,
    path::Path,
};

/// The luma of a still that is measured, upright, with all the digits its file has: PNG, JPEG, and TIFF, in which
/// charts are kept.
///
/// Luma is 0.2126 R + 0.7152 G + 0.0722 B (Recommendation ITU-R BT.709-6, item 3.2) of the code values; a grey picture is
/// its own luma. Colour profiles are not applied, and transparency is left out.
///
/// # Errors
/// [`StillError`]: it cannot be read, or is of no format that is.
pub fn luma_plane(path: &Path) -> Result<LumaPlane, StillError> {
    let picture = match kind_of(path)? {
        StillKind::Other("TIFF") => caught(|| decode_tiff(path))?,
        _ => caught(|| decode_upright(path))?,
    };
    let raster = Raster::new(picture.width(), picture.height())?;
    let (values, greatest_code) = luma_values(picture);
    // Whole codes over the greatest, one a px: nothing else can come of a decoded picture.
    LumaPlane::new(raster, values, greatest_code).ok_or(StillError::DecoderFailed)
}

fn decode_tiff(path: &Path) -> Result<DynamicImage, StillError> {
    match fs::metadata(path)?.len() {
        0 => return Err(StillError::Empty),
        byte_count if byte_count > GREATEST_BYTES => {
            return Err(StillError::TooLong { byte_count, limit_bytes: GREATEST_BYTES });
        }
        _ => {}
    }
    let mut decoder = TiffDecoder::new(BufReader::new(File::open(path)?))?;
    let (width_px, height_px) = decoder.dimensions();
    check_pixels(width_px, height_px)?;
    Raster::new(width_px, height_px)?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(GREATEST_BYTES);
    limits.reserve(decoder.total_bytes())?;
    decoder.set_limits(limits).map_err(|error: ImageError| error)?;
    let orientation = decoder.orientation()?;
    let mut picture = DynamicImage::from_decoder(decoder)?;
    picture.apply_orientation(orientation);
    Ok(picture)
}

/// Values from 0 to 1, and the greatest code value.
fn luma_values(picture: DynamicImage) -> (Vec<f32>, u32) {
    let of_eight = matches!(
        picture,
        DynamicImage::ImageLuma8(_)
            | DynamicImage::ImageLumaA8(_)
            | DynamicImage::ImageRgb8(_)
            | DynamicImage::ImageRgba8(_)
    );
    let is_grey = !picture.color().has_color();
    let greatest = if of_eight { u32::from(u8::MAX) } else { u32::from(u16::MAX) };
    let share = |code: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "a code value has at most 16 bits")]
        let share = (code / f64::from(greatest)).clamp(0.0, 1.0) as f32;
        share
    };
    let values = match (of_eight, is_grey) {
        (true, true) => {
            picture.into_luma8().pixels().map(|Luma([code])| share(f64::from(*code))).collect()
        }
        (true, false) => picture
            .into_rgb8()
            .pixels()
            .map(|Rgb(codes)| share(luma(codes.map(f64::from))))
            .collect(),
        (false, true) => {
            picture.into_luma16().pixels().map(|Luma([code])| share(f64::from(*code))).collect()
        }
        (false, false) => picture
            .into_rgb16()
            .pixels()
            .map(|Rgb(codes)| share(luma(codes.map(f64::from))))
            .collect(),
    };
    (values, greatest)
}

fn luma([red, green, blue]: [f64; 3]) -> f64 {
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{GrayImage, ImageBuffer, RgbImage};

    #[test]
    fn every_depth_keeps_its_digits() {
        let folder = tempfile::tempdir().unwrap();
        for extension in ["png", "tif"] {
            let path = folder.path().join(format!("deep.{extension}"));
            let deep: ImageBuffer<Luma<u16>, Vec<u16>> =
                ImageBuffer::from_fn(3, 2, |x, _| Luma([1001 * u16::try_from(x).unwrap()]));
            deep.save(&path).unwrap();
            let plane = luma_plane(&path).unwrap();
            assert_eq!(plane.greatest_code(), 65535);
            assert!((plane.row(1)[2] - 2002.0 / 65535.0).abs() < 1e-7, "{extension}");
            let path = folder.path().join(format!("grey.{extension}"));
            GrayImage::from_pixel(2, 2, Luma([51])).save(&path).unwrap();
            assert_eq!(luma_plane(&path).unwrap().row(0), [0.2, 0.2]);
            let path = folder.path().join(format!("colour.{extension}"));
            RgbImage::from_pixel(2, 2, Rgb([255, 0, 0])).save(&path).unwrap();
            assert!((luma_plane(&path).unwrap().row(0)[0] - 0.2126).abs() < 1e-6);
        }
    }

    #[test]
    fn a_broken_tiff_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("whole.tif");
        GrayImage::from_pixel(40, 40, Luma([51])).save(&path).unwrap();
        let bytes = fs::read(&path).unwrap();
        for length in [4, 8, 40, bytes.len() / 2, bytes.len() - 1] {
            fs::write(&path, &bytes[..length]).unwrap();
            assert!(luma_plane(&path).is_err(), "{length} of {}", bytes.len());
        }
    }
}
