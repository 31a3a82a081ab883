use super::*;
use crate::media::testing;
use jpeg_encoder::{ColorType, Encoder};
use png::{BitDepth, ColorType as Samples};
use std::path::PathBuf;
use tempfile::TempDir;

/// A PNG of these bytes of samples, as the `png` library writes them.
fn png(size: (u32, u32), samples: (Samples, BitDepth), bytes: &[u8]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("0.png");
    let mut encoder = png::Encoder::new(File::create(&path).unwrap(), size.0, size.1);
    encoder.set_color(samples.0);
    encoder.set_depth(samples.1);
    if samples.0 == Samples::Indexed {
        encoder.set_palette(vec![10, 20, 30, 200, 100, 50, 0, 255, 1]);
    }
    encoder.write_header().unwrap().write_image_data(bytes).unwrap();
    (folder, path)
}

fn first_pixel(samples: (Samples, BitDepth), bytes: &[u8]) -> [u8; 3] {
    let (_folder, path) = png((1, 1), samples, bytes);
    decode(&path).unwrap().get_pixel(0, 0).0
}

/// ISO/IEC 15948, 13.12: samples of fewer bits are spread over the whole range (the greatest becomes 255).
#[test]
fn every_kind_of_png_comes_out_in_8_bit_rgb() {
    use BitDepth::{Eight, Four, One, Sixteen, Two};
    use Samples::{Grayscale, GrayscaleAlpha, Indexed, Rgb, Rgba};
    for (samples, bytes, expected) in [
        ((Grayscale, One), &[0b1000_0000][..], [255; 3]),
        ((Grayscale, Two), &[0b0100_0000], [85; 3]),
        ((Grayscale, Four), &[0x70], [119; 3]),
        ((Grayscale, Eight), &[77], [77; 3]),
        ((Grayscale, Sixteen), &[0x80, 0x00], [128; 3]),
        ((GrayscaleAlpha, Eight), &[77, 0], [77; 3]),
        ((GrayscaleAlpha, Sixteen), &[0xFF, 0xFF, 0x12, 0x34], [255; 3]),
        ((Rgb, Eight), &[1, 2, 3], [1, 2, 3]),
        ((Rgb, Sixteen), &[1, 1, 0x7F, 0xFF, 0xFF, 0x7F], [1, 127, 255]),
        ((Rgba, Eight), &[1, 2, 3, 0], [1, 2, 3]),
        ((Rgba, Sixteen), &[9, 9, 8, 8, 7, 7, 0, 0], [9, 8, 7]),
        ((Indexed, One), &[0b1000_0000], [200, 100, 50]),
        ((Indexed, Two), &[0b1000_0000], [0, 255, 1]),
        ((Indexed, Four), &[0x10], [200, 100, 50]),
        ((Indexed, Eight), &[2], [0, 255, 1]),
    ] {
        assert_eq!(first_pixel(samples, bytes), expected, "{samples:?}");
    }
}

#[test]
fn all_values_of_16_bits_are_rounded_to_the_nearest_of_8() {
    let bytes: Vec<u8> = (0..=u16::MAX).flat_map(u16::to_be_bytes).collect();
    let (_folder, path) = png((256, 256), (Samples::Grayscale, BitDepth::Sixteen), &bytes);
    let picture = decode(&path).unwrap();
    for (value, pixel) in (0..=u16::MAX).zip(picture.pixels()) {
        let nearest = (f64::from(value) / 257.0).round();
        assert!((f64::from(pixel.0[0]) - nearest).abs() < 0.5, "{value} became {}", pixel.0[0]);
    }
}

#[test]
fn more_pixels_than_are_read_are_refused_from_the_header() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("0.png");
    for size in [(8193, 8192), (8192, 8193), (0x7FFF_FFFF, 0x7FFF_FFFF)] {
        let encoder = png::Encoder::new(File::create(&path).unwrap(), size.0, size.1);
        drop(encoder.write_header().unwrap());
        for refusal in [raster_of(&path).unwrap_err(), decode(&path).unwrap_err()] {
            let StillError::TooManyPixels { width_px, height_px, .. } = refusal else {
                panic!("{refusal}")
            };
            assert_eq!((width_px, height_px), size);
        }
    }
    let bits = vec![0; 8192 * 8192 / 8];
    let (_folder, largest) = png((8192, 8192), (Samples::Grayscale, BitDepth::One), &bits);
    assert_eq!(raster_of(&largest).unwrap(), Raster::new(8192, 8192).unwrap());

    let mut bytes = Vec::new();
    Encoder::new(&mut bytes, 80).encode(&[0; 192], 8, 8, ColorType::Rgb).unwrap();
    let header = bytes.windows(2).position(|pair| pair == [0xFF, 0xC0]).unwrap();
    bytes[header + 5..header + 9].fill(0xFF);
    fs::write(&path, &bytes).unwrap();
    let refusal = decode(&path).unwrap_err().to_string();
    assert!(refusal.starts_with("it has 65535x65535 px, 4294836225 in all, "), "{refusal}");
}

/// Where the first and the last sample of the first row are displayed, for each value of the flag: CIPA
/// DC-008, 4.6.4, tag 274 ("the 0th row is at ..., the 0th column at ..."); 0 and 9 are none.
#[test]
fn all_orientation_flags_of_exif_are_followed() {
    let [top_left, top_right, bottom_left, bottom_right] = [(0, 0), (1, 0), (0, 1), (1, 1)];
    for (flag, first, last, size) in [
        (0, top_left, top_right, (64, 32)),
        (1, top_left, top_right, (64, 32)),
        (2, top_right, top_left, (64, 32)),
        (3, bottom_right, bottom_left, (64, 32)),
        (4, bottom_left, bottom_right, (64, 32)),
        (5, top_left, bottom_left, (32, 64)),
        (6, top_right, bottom_right, (32, 64)),
        (7, bottom_right, top_right, (32, 64)),
        (8, bottom_left, top_left, (32, 64)),
        (9, top_left, top_right, (64, 32)),
    ] {
        let (_folder, path) = flagged_jpeg(flag);
        let raster = raster_of(&path).unwrap();
        assert_eq!((raster.width_px(), raster.height_px()), size, "flag {flag}");
        let picture = decode(&path).unwrap();
        assert_eq!(picture.dimensions(), size, "flag {flag}");
        let at = |(right, low): (u32, u32)| {
            let place = |far: u32, side: u32| if far == 0 { 4 } else { side - 5 };
            picture.get_pixel(place(right, size.0), place(low, size.1)).0[0]
        };
        assert!(at(first) > 240 && (110..145).contains(&at(last)), "flag {flag}");
        let luma = decode_luma(&path, Raster::new(size.0, size.1).unwrap()).unwrap();
        assert_eq!(luma.dimensions(), size, "flag {flag}");
    }
}

/// Black, 64 x 32, with a white block where its first row begins and a grey one where it ends.
fn flagged_jpeg(flag: u8) -> (TempDir, PathBuf) {
    let picture = GrayImage::from_fn(64, 32, |x, y| match (x / 8, y / 8) {
        (0, 0) => Luma([255]),
        (7, 0) => Luma([128]),
        _ => Luma([0]),
    });
    // One entry (tag 274, a 16-bit number) in the first directory of a TIFF, as CIPA DC-008 has it.
    let mut exif = b"Exif\0\0MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    exif.extend([flag, 0, 0, 0, 0, 0, 0]);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("0.jpg");
    let mut encoder = Encoder::new(File::create(&path).unwrap(), 95);
    encoder.add_app_segment(1, exif).unwrap();
    encoder.encode(&picture, 64, 32, ColorType::Luma).unwrap();
    (folder, path)
}

/// Recommendation ITU-R BT.709-6, item 3.2: the luma of the primaries and of white.
#[test]
fn luma_has_the_weights_of_the_recommendation() {
    for (colour, luma) in
        [([255, 0, 0], 54), ([0, 255, 0], 182), ([0, 0, 255], 18), ([255; 3], 255), ([77; 3], 77)]
    {
        let (_folder, path) = png((1, 1), (Samples::Rgb, BitDepth::Eight), &colour);
        let found = decode_luma(&path, Raster::new(1, 1).unwrap()).unwrap();
        assert_eq!(found.get_pixel(0, 0).0, [luma], "{colour:?}");
    }
    for grey in 0..=255 {
        let (_folder, path) = png((1, 1), (Samples::Rgb, BitDepth::Eight), &[grey; 3]);
        let found = decode_luma(&path, Raster::new(1, 1).unwrap()).unwrap();
        assert_eq!(found.get_pixel(0, 0).0, [grey]);
    }
}

#[test]
fn a_smaller_luma_picture_holds_the_means_of_its_areas() {
    let values: Vec<u8> = (0..48 * 36_u32).map(|at| u8::try_from(at * 37 % 251).unwrap()).collect();
    let (_folder, path) = png((48, 36), (Samples::Grayscale, BitDepth::Eight), &values);
    let whole = decode_luma(&path, Raster::new(48, 36).unwrap()).unwrap();
    assert_eq!(whole.as_raw(), &values);
    // Four across and three down, then all of it.
    for (width_px, height_px) in [(12, 12), (1, 1), (48, 1)] {
        let small = decode_luma(&path, Raster::new(width_px, height_px).unwrap()).unwrap();
        let (across, down) = (48 / width_px, 36 / height_px);
        for (x, y, pixel) in small.enumerate_pixels() {
            let area = (0..across * down).map(|at| {
                f64::from(whole.get_pixel(x * across + at % across, y * down + at / across).0[0])
            });
            let mean = area.sum::<f64>() / f64::from(across * down);
            // The library rounds once across and once down.
            assert!((f64::from(pixel.0[0]) - mean).abs() <= 1.0, "{x},{y}: {pixel:?}, {mean}");
        }
    }
}

#[test]
fn luma_is_not_enlarged() {
    let (_folder, path) = png((2, 2), (Samples::Grayscale, BitDepth::Eight), &[1, 2, 3, 4]);
    let refusal = decode_luma(&path, Raster::new(3, 1).unwrap()).unwrap_err();
    assert_eq!(refusal.to_string(), "it is 2x2 and is not enlarged to 3x1");
}

/// The bombs claim sizes that have exhausted another decoder's memory. None is started for them.
#[test]
fn pictures_in_other_formats_are_refused_by_name() {
    let Some(footage) = testing::footage() else { return };
    let images = footage.join("odd/images");
    for (folder, format) in [("bmp", "a BMP"), ("ico", "an ICO"), ("tiff", "a TIFF")] {
        for entry in fs::read_dir(images.join(folder)).unwrap() {
            let refusal = decode(&entry.unwrap().path()).unwrap_err().to_string();
            assert!(refusal.starts_with(&format!("it is {format} picture; ")), "{refusal}");
        }
    }
}

#[test]
#[expect(
    clippy::print_stderr,
    reason = "how many were read is worth a look when a decoder changes"
)]
fn no_odd_file_brings_a_decoder_down() {
    let Some(footage) = testing::footage() else { return };
    for folder in ["png", "fuzz-png", "fuzz-jpeg", "images/bmp", "images/ico", "images/tiff"] {
        let (mut read_count, mut refused_count) = (0, 0);
        for entry in fs::read_dir(footage.join("odd").join(folder)).unwrap() {
            let path = entry.unwrap().path();
            let raster = raster_of(&path);
            let luma = decode_luma(&path, Raster::new(1, 1).unwrap());
            match decode(&path) {
                Ok(picture) => {
                    let raster = raster.unwrap();
                    assert_eq!((raster.width_px(), raster.height_px()), picture.dimensions());
                    assert!(luma.is_ok());
                    read_count += 1;
                }
                Err(_) => refused_count += 1,
            }
        }
        eprintln!("odd/{folder}: {read_count} read, {refused_count} refused");
        assert!(read_count + refused_count > 0);
    }
}

#[test]
fn a_decoder_that_panics_is_an_error() {
    let outcome: Result<(), _> = caught(|| panic!("as a decoder might, on purpose"));
    assert!(matches!(outcome, Err(StillError::DecoderFailed)));
    assert!(matches!(caught(|| Ok(7)), Ok(7)));
}

/// Each byte of small pictures in turn set to other values: read or refused, whatever it is.
#[test]
fn no_changed_byte_brings_a_decoder_down() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("0");
    let noise: Vec<u8> =
        (0..16 * 16 * 3_u32).map(|at| u8::try_from(at * 71 % 253).unwrap()).collect();
    let mut pictures = Vec::new();
    for way in 0..3 {
        let mut bytes = Vec::new();
        let mut encoder = Encoder::new(&mut bytes, 60);
        encoder.set_progressive(way == 1);
        encoder.set_optimized_huffman_tables(way == 2);
        encoder.encode(&noise, 16, 16, ColorType::Rgb).unwrap();
        pictures.push(bytes);
    }
    let (_folder, png) = png((16, 16), (Samples::Rgb, BitDepth::Eight), &noise);
    pictures.push(fs::read(png).unwrap());
    for bytes in pictures {
        for at in 0..bytes.len() {
            for change in [0x01, 0x80, 0xFF] {
                let mut bytes = bytes.clone();
                bytes[at] ^= change;
                fs::write(&path, &bytes).unwrap();
                let raster = raster_of(&path);
                if let Ok(picture) = decode(&path) {
                    let raster = raster.unwrap();
                    assert_eq!((raster.width_px(), raster.height_px()), picture.dimensions());
                }
            }
        }
    }
}
