use super::{GREATEST_BYTES, StillError};
use image::{
    DynamicImage, GrayImage, ImageError, ImageFormat, RgbImage,
    error::{DecodingError, ImageFormatHint},
};
use jpeg_decoder::PixelFormat;

/// How a JPEG file is laid out, as far as a decoder gets it wrong without a word.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Layout {
    /// As cameras and programs write it.
    Usual,
    /// Sequential with a scan for each colour plane, or with planes of unusual proportions: `image`'s own
    /// decoder (`zune-jpeg` 0.5.15) makes stripes or grey of it, or panics. Also what is not understood here.
    Unusual,
    /// It ends before its picture does: what is missing would be filled with grey.
    BreaksOff,
}

/// ITU-T T.81, B.1.1.2 and B.2: segments carry their length up to the scan; in it, FF D9 cannot be data. The
/// frame header (`SOF0` to `SOF2`, the last of them progressive) counts the planes and has three bytes for
/// each, the scan header counts those in the scan. Progressive pictures have scans of single planes by nature.
pub(super) fn layout_of(bytes: &[u8]) -> Layout {
    const PROGRESSIVE: u8 = 0xC2;
    const FRAME_HEADERS: [u8; 3] = [0xC0, 0xC1, PROGRESSIVE];
    const START_OF_SCAN: u8 = 0xDA;
    const END_OF_IMAGE: [u8; 2] = [0xFF, 0xD9];
    let (mut at, mut planes, mut is_progressive) = (2, Vec::new(), false);
    let mut has_scan = false;
    while let Some(&[0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        if marker == START_OF_SCAN {
            has_scan = true;
            break;
        }
        if FRAME_HEADERS.contains(&marker) {
            planes = bytes.get(at + 9..).map(proportions).unwrap_or_default();
            is_progressive = marker == PROGRESSIVE;
        }
        // A marker may be preceded by any number of fill bytes.
        at += if marker == 0xFF { 1 } else { 2 + usize::from(u16::from_be_bytes([high, low])) };
    }
    if !bytes.get(at..).is_some_and(|scan| scan.windows(2).any(|pair| pair == END_OF_IMAGE)) {
        return Layout::BreaksOff;
    }
    let planes_in_scan = bytes.get(at + 4).copied().map_or(0, usize::from);
    let is_at_once = is_progressive || planes_in_scan >= planes.len();
    // Without a scan, something lies between the segments: the usual decoder skips that, and where it goes on
    // is not known here.
    if has_scan && is_at_once && are_usual(&planes) { Layout::Usual } else { Layout::Unusual }
}

/// Each plane's samples across and down in one unit of the picture, as two half bytes.
fn proportions(from_count: &[u8]) -> Vec<u8> {
    let count = usize::from(from_count.first().copied().unwrap_or(0));
    from_count.iter().skip(2).step_by(3).take(count).copied().collect()
}

/// Brightness at once or twice the samples of colour, each way. Tried against two other decoders: of all
/// others, some come out wrong.
fn are_usual(planes: &[u8]) -> bool {
    let small = |plane: &u8| [0x11, 0x12, 0x21, 0x22].contains(plane);
    match planes {
        [brightness, colour @ ..] if colour.len() == 2 => {
            small(brightness) && colour.iter().all(|plane| *plane == 0x11)
        }
        // Grey alone has no proportions; four inks are only read by that decoder.
        [_] | [] => true,
        inks => inks.iter().all(small),
    }
}

/// The picture of a JPEG that is laid out unusually, not turned yet.
///
/// # Errors
/// [`StillError::UnusualPlanes`] if it is not grey or colour, [`StillError::NotDecoded`] if it is damaged.
pub(super) fn decode_unusual(bytes: &[u8]) -> Result<DynamicImage, StillError> {
    let mut decoder = jpeg_decoder::Decoder::new(bytes);
    decoder.set_max_decoding_buffer_size(usize::try_from(GREATEST_BYTES).unwrap_or(usize::MAX));
    let samples = decoder.decode().map_err(damaged)?;
    let about = decoder.info().ok_or(StillError::BreaksOff)?;
    let (width_px, height_px) = (u32::from(about.width), u32::from(about.height));
    let picture = match about.pixel_format {
        PixelFormat::RGB24 => RgbImage::from_raw(width_px, height_px, samples).map(Into::into),
        PixelFormat::L8 => GrayImage::from_raw(width_px, height_px, samples).map(Into::into),
        PixelFormat::CMYK32 => return Err(StillError::UnusualPlanes { plane_count: 4 }),
        PixelFormat::L16 => None,
    };
    picture.ok_or_else(|| damaged("the samples do not fill the picture"))
}

fn damaged(cause: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> StillError {
    let format = ImageFormatHint::Exact(ImageFormat::Jpeg);
    ImageError::Decoding(DecodingError::new(format, cause)).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::media::{still, testing};
    use image::Rgb;
    use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
    use std::{fs, path::Path, process::Command};

    fn gradient(width_px: u32, height_px: u32) -> RgbImage {
        let part = |at: u32, of: u32| u8::try_from(at * 255 / of).unwrap();
        RgbImage::from_fn(width_px, height_px, |x, y| {
            Rgb([part(x, width_px), part(y, height_px), part(x + y, width_px + height_px)])
        })
    }

    fn jpeg(picture: &RgbImage, with: impl Fn(&mut Encoder<&mut Vec<u8>>)) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut encoder = Encoder::new(&mut bytes, 90);
        encoder.set_sampling_factor(SamplingFactor::F_2_2);
        with(&mut encoder);
        let [width, height] =
            [picture.width(), picture.height()].map(|side| u16::try_from(side).unwrap());
        encoder.encode(picture, width, height, ColorType::Rgb).unwrap();
        bytes
    }

    #[test]
    fn layouts_are_told_apart() {
        let picture = gradient(32, 32);
        let usual = jpeg(&picture, |_| {});
        assert_eq!(layout_of(&usual), Layout::Usual);
        assert_eq!(layout_of(&usual[..usual.len() - 2]), Layout::BreaksOff);
        let plane_by_plane = jpeg(&picture, |encoder| encoder.set_optimized_huffman_tables(true));
        assert_eq!(layout_of(&plane_by_plane), Layout::Unusual);
        let narrow = jpeg(&picture, |encoder| encoder.set_sampling_factor(SamplingFactor::F_4_1));
        assert_eq!(layout_of(&narrow), Layout::Unusual);
        let progressive = jpeg(&picture, |encoder| encoder.set_progressive(true));
        assert_eq!(layout_of(&progressive), Layout::Usual);
        let narrow_progressive = jpeg(&picture, |encoder| {
            encoder.set_progressive(true);
            encoder.set_sampling_factor(SamplingFactor::F_4_1);
        });
        assert_eq!(layout_of(&narrow_progressive), Layout::Unusual);
        let stray = [&usual[..2], b"\0", &usual[2..]].concat();
        assert_eq!(layout_of(&stray), Layout::Unusual);
        assert_eq!(layout_of(&[]), Layout::BreaksOff);
    }

    const PROPORTIONS: [SamplingFactor; 8] = [
        SamplingFactor::F_1_1,
        SamplingFactor::F_2_1,
        SamplingFactor::F_1_2,
        SamplingFactor::F_2_2,
        SamplingFactor::F_4_1,
        SamplingFactor::F_4_2,
        SamplingFactor::F_1_4,
        SamplingFactor::F_2_4,
    ];

    /// A way of writing the planes down, by name.
    type Way = (&'static str, fn(&mut Encoder<&mut Vec<u8>>));

    const WAYS: [Way; 4] = [
        ("at once", |_| {}),
        ("with restarts", |encoder| encoder.set_restart_interval(4)),
        ("plane by plane", |encoder| encoder.set_optimized_huffman_tables(true)),
        ("progressive", |encoder| encoder.set_progressive(true)),
    ];

    /// Every layout in every proportion comes out as the picture that went in. The gradient rises by at most
    /// 4 values a pixel; four pixels that share a colour, at quality 90, cost 3.1 on average at the most.
    #[test]
    fn every_layout_comes_out_as_it_went_in() {
        let folder = tempfile::tempdir().unwrap();
        let picture = gradient(200, 133);
        for proportion in PROPORTIONS {
            for (way, with) in WAYS {
                let path = folder.path().join("0.jpg");
                let set = |encoder: &mut Encoder<&mut Vec<u8>>| {
                    encoder.set_sampling_factor(proportion);
                    with(encoder);
                };
                fs::write(&path, jpeg(&picture, set)).unwrap();
                let off = mean_difference(&still::decode(&path).unwrap(), &picture);
                assert!(off < 2.0, "{proportion:?} {way} is off by {off} on average");
            }
        }
    }

    /// The same against another decoder. It interpolates colour in another way where planes have other
    /// proportions, which is what the limit leaves room for.
    #[test]
    fn every_layout_comes_out_as_from_another_decoder() {
        if !testing::ffmpeg_is_here() {
            return;
        }
        let folder = tempfile::tempdir().unwrap();
        let picture = gradient(200, 133);
        // The other decoder does not read those with four samples down.
        for proportion in &PROPORTIONS[..5] {
            for (way, with) in WAYS {
                let path = folder.path().join("0.jpg");
                let set = |encoder: &mut Encoder<&mut Vec<u8>>| {
                    encoder.set_sampling_factor(*proportion);
                    with(encoder);
                };
                fs::write(&path, jpeg(&picture, set)).unwrap();
                let ours = still::decode(&path).unwrap();
                let off = mean_difference(&ours, &by_ffmpeg(&path, &ours));
                assert!(off < 2.0, "{proportion:?} {way} differs by {off} on average");
            }
        }
    }

    fn by_ffmpeg(path: &Path, like: &RgbImage) -> RgbImage {
        let output = Command::new("ffmpeg")
            .args(["-v", "error", "-i"])
            .arg(path)
            .args(["-sws_flags", "accurate_rnd+full_chroma_int+bilinear"])
            .args(["-f", "rawvideo", "-pix_fmt", "rgb24", "-"])
            .output()
            .unwrap();
        RgbImage::from_raw(like.width(), like.height(), output.stdout).unwrap()
    }

    fn mean_difference(a: &RgbImage, b: &RgbImage) -> f64 {
        assert_eq!(a.dimensions(), b.dimensions());
        let sum: u32 = a.iter().zip(b.iter()).map(|(a, b)| u32::from(a.abs_diff(*b))).sum();
        f64::from(sum) / f64::from(u32::try_from(a.len()).unwrap())
    }
}
