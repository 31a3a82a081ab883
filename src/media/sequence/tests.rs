use super::*;
use crate::media::{StillError, testing};
use crate::timecode::FrameRate;
use image::{DynamicImage, Luma, Rgb};
use std::{collections::BTreeMap, error::Error, fs};
use tempfile::TempDir;

fn open(path: &Path, rate: Option<FrameRate>) -> Result<Opened, MediaError> {
    super::open(path, &Reading { rate, ..Reading::default() })
}

fn rate() -> FrameRate {
    FrameRate::new(25, 1).unwrap()
}

/// Eight-pixel-wide pictures, each of one grey that is ten times its number.
fn sequence(numbers: impl IntoIterator<Item = u8>) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for number in numbers {
        let picture = RgbImage::from_pixel(8, 6, Rgb([number * 10; 3]));
        picture.save(folder.path().join(format!("f{number:03}.png"))).unwrap();
    }
    folder
}

fn visited(
    opened: &mut Opened,
    frames: impl IntoIterator<Item = u64>,
) -> Result<BTreeMap<u64, RgbImage>, FrameError> {
    let mut pictures = BTreeMap::new();
    opened.frames.visit(&frames.into_iter().map(FrameIndex).collect(), &mut |frame, picture| {
        pictures.insert(frame.0, picture);
        ControlFlow::Continue(())
    })?;
    Ok(pictures)
}

#[test]
fn frame_0_is_the_lowest_number() {
    let folder = sequence(4..=9);
    for path in [folder.path().to_owned(), folder.path().join("f%03d.png")] {
        let mut opened = open(&path, Some(rate())).unwrap();
        assert_eq!(
            (opened.facts.frame_count, opened.facts.raster.to_string().as_str()),
            (6, "8x6")
        );
        assert_eq!(
            (&opened.facts.timing, opened.facts.start_timecode),
            (&Timing::Constant(rate()), None)
        );
        assert_eq!(opened.facts.fingerprint.file_count, 6);
        let pictures = visited(&mut opened, [0, 5]).unwrap();
        assert_eq!(pictures[&0].get_pixel(7, 5), &Rgb([40; 3]));
        assert_eq!(pictures[&5].get_pixel(0, 0), &Rgb([90; 3]));
    }
}

#[test]
fn visiting_stops_when_the_caller_breaks_off() {
    let folder = sequence(0..5);
    let mut opened = open(folder.path(), Some(rate())).unwrap();
    let mut seen = Vec::new();
    let wanted = (0..5).map(FrameIndex).collect();
    let outcome = opened.frames.visit(&wanted, &mut |frame, _| {
        seen.push(frame.0);
        if frame.0 == 1 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(outcome.is_ok());
    assert_eq!(seen, [0, 1]);
}

#[test]
fn a_sequence_needs_a_rate() {
    let folder = sequence(0..2);
    assert!(matches!(open(folder.path(), None), Err(MediaError::RateMissing { .. })));
}

#[test]
fn a_frame_of_another_size_is_named_with_its_file() {
    let folder = sequence(0..3);
    RgbImage::new(9, 6).save(folder.path().join("f002.png")).unwrap();
    let refusal = open(folder.path(), Some(rate())).unwrap_err().to_string();
    let start = "frame 2 is not of the clip's size: 9x6 where frame 0 is 8x6; ";
    assert!(refusal.starts_with(start), "{refusal}");
    assert!(refusal.ends_with("f002.png"), "{refusal}");
}

#[test]
fn a_header_that_cannot_be_read_is_found_at_opening() {
    for (bytes, kind) in
        [(&b""[..], "empty"), (b"\x89PNG\r\n\x1a\n1234", "damaged"), (b"text", "none")]
    {
        let folder = sequence(0..3);
        fs::write(folder.path().join("f001.png"), bytes).unwrap();
        let refusal = open(folder.path(), Some(rate())).unwrap_err();
        let MediaError::BadStill { frame, path, source, .. } = refusal else { panic!("{refusal}") };
        assert_eq!((frame, path), (FrameIndex(1), folder.path().join("f001.png")));
        assert_eq!(matches!(source, StillError::Empty), kind == "empty", "{source}");
    }
}

#[test]
fn a_picture_that_breaks_off_is_an_error_when_it_is_wanted() {
    for format in ["png", "jpg"] {
        let folder = tempfile::tempdir().unwrap();
        let noise = RgbImage::from_fn(64, 64, |x, y| {
            Rgb([x * 37 % 256, y * 91 % 256, (x ^ y) * 3].map(|value| u8::try_from(value).unwrap()))
        });
        for number in 0..3 {
            noise.save(folder.path().join(format!("{number}.{format}"))).unwrap();
        }
        let damaged = folder.path().join(format!("1.{format}"));
        let bytes = fs::read(&damaged).unwrap();
        fs::write(&damaged, &bytes[..bytes.len() * 3 / 4]).unwrap();

        let mut opened = open(folder.path(), Some(rate())).unwrap();
        assert_eq!(visited(&mut opened, [0, 2]).unwrap().len(), 2);
        let fault = visited(&mut opened, 0..3).unwrap_err();
        assert_eq!(fault.frame, FrameIndex(1));
        assert!(fault.cause.to_string().contains(&format!("1.{format}")), "{}", fault.cause);
    }
}

#[test]
fn a_file_that_goes_missing_and_a_frame_beyond_the_end_are_named() {
    let folder = sequence(0..3);
    let mut opened = open(folder.path(), Some(rate())).unwrap();
    fs::remove_file(folder.path().join("f002.png")).unwrap();
    let fault = visited(&mut opened, [0, 2]).unwrap_err();
    assert_eq!(fault.frame, FrameIndex(2));
    let message = fault.cause.to_string();
    assert!(message.starts_with("frame 2 has gone since the clip was opened; "), "{message}");
    assert!(message.ends_with("f002.png"), "{message}");
    let fault = visited(&mut opened, [3]).unwrap_err();
    let message = fault.source().unwrap().to_string();
    assert!(message.starts_with("there is no frame 3: "), "{message}");
}

#[test]
fn sixteen_bits_and_grey_become_8_bit_colour() {
    let folder = tempfile::tempdir().unwrap();
    let deep = image::ImageBuffer::from_pixel(4, 4, Rgb([0x8000_u16, 0xFFFF, 0]));
    DynamicImage::ImageRgb16(deep).save(folder.path().join("0.png")).unwrap();
    image::GrayImage::from_pixel(4, 4, Luma([77])).save(folder.path().join("1.png")).unwrap();
    let mut opened = open(folder.path(), Some(rate())).unwrap();
    let pictures = visited(&mut opened, [0, 1]).unwrap();
    assert_eq!(pictures[&0].get_pixel(0, 0), &Rgb([128, 255, 0]));
    assert_eq!(pictures[&1].get_pixel(3, 3), &Rgb([77; 3]));
}

/// The photos show one scene each, stored in eight ways with the flag that puts it upright again.
#[test]
fn photos_with_all_orientation_flags_are_shown_upright() {
    let Some(footage) = testing::footage() else { return };
    for (name, raster) in [("Landscape", "1800x1200"), ("Portrait", "1200x1800")] {
        let path = footage.join("photos-rotated").join(format!("{name}_%d.jpg"));
        let mut opened = open(&path, Some(rate())).unwrap();
        assert_eq!(opened.facts.raster.to_string(), raster);
        let pictures = visited(&mut opened, 0..9).unwrap();
        for (number, picture) in &pictures {
            let off = mean_difference(picture, &pictures[&1]);
            assert!(off < 12.0, "{name}_{number} differs from {name}_1 by {off} on average");
        }
    }
}

fn mean_difference(a: &RgbImage, b: &RgbImage) -> f64 {
    let small = |picture| crate::picture::shrink_to_fit(picture, 60, 60);
    let (a, b) = (small(a), small(b));
    let sum: u64 = a.iter().zip(b.iter()).map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
    f64::from(u32::try_from(sum).unwrap()) / f64::from(u32::try_from(a.len()).unwrap())
}

/// Each odd file alone as a frame 0: it opens or is refused in one line, and nothing panics.
#[test]
fn odd_pictures_are_read_or_refused() {
    let Some(footage) = testing::footage() else { return };
    let (mut read, mut refused) = (0, 0);
    for (folder, extension) in
        [("png", "png"), ("fuzz-png", "png"), ("fuzz-jpeg", "jpg"), ("images/bmp", "png")]
    {
        for entry in fs::read_dir(footage.join("odd").join(folder)).unwrap() {
            let alone = tempfile::tempdir().unwrap();
            let path = alone.path().join(format!("0.{extension}"));
            fs::copy(entry.unwrap().path(), &path).unwrap();
            let outcome = open(alone.path(), Some(rate())).map_err(|fault| fault.to_string());
            let outcome = outcome.and_then(|mut opened| {
                visited(&mut opened, [0]).map_err(|fault| fault.cause.to_string())
            });
            match outcome {
                Ok(_) => read += 1,
                Err(message) => {
                    assert!(!message.contains('\n') && message.contains("0."), "{message}");
                    refused += 1;
                }
            }
        }
    }
    assert!(read > 0 && refused > 0, "{read} read, {refused} refused");
}

#[test]
fn several_faults_of_a_kind_are_counted() {
    let folder = sequence(0..6);
    for number in [1, 4, 5] {
        RgbImage::new(9, 6).save(folder.path().join(format!("f00{number}.png"))).unwrap();
    }
    let refusal = open(folder.path(), Some(rate())).unwrap_err().to_string();
    let start = "frame 1 (and 2 more) is not of the clip's size: 9x6 where frame 0 is 8x6; ";
    assert!(refusal.starts_with(start) && refusal.ends_with("f001.png"), "{refusal}");

    for number in [2, 3] {
        fs::write(folder.path().join(format!("f00{number}.png")), b"text").unwrap();
    }
    let refusal = open(folder.path(), Some(rate())).unwrap_err().to_string();
    let start = "frame 2 (and 1 more) is not a picture that can be read: ";
    assert!(refusal.starts_with(start) && refusal.ends_with("f002.png"), "{refusal}");
}

#[test]
fn a_frame_in_another_format_is_refused_by_the_format() {
    let folder = sequence(0..3);
    fs::write(folder.path().join("f001.png"), b"II*\0\x08\0\0\0").unwrap();
    let refusal = open(folder.path(), Some(rate())).unwrap_err();
    assert_eq!(
        refusal.source().unwrap().to_string(),
        "it is a TIFF picture; only PNG and JPEG frames are read: save it as one of these"
    );
}

#[test]
fn a_file_that_changes_between_opening_and_reading_is_named() {
    let folder = sequence(0..3);
    let path = folder.path().join("f001.png");
    let mut opened = open(folder.path(), Some(rate())).unwrap();
    let mut cause_of = |bytes: &[u8]| {
        fs::write(&path, bytes).unwrap();
        let fault = visited(&mut opened, 0..3).unwrap_err();
        assert_eq!(fault.frame, FrameIndex(1));
        let message = fault.cause.to_string();
        assert!(message.contains("f001.png"), "{message}");
        let cause = fault.cause.source().map(ToString::to_string);
        (message, cause.unwrap_or_default())
    };
    let mut wider = Vec::new();
    let encoder = image::codecs::png::PngEncoder::new(&mut wider);
    RgbImage::new(9, 6).write_with_encoder(encoder).unwrap();
    let (message, _) = cause_of(&wider);
    let start = "frame 1 was 8x6 when the clip was opened and is 9x6 now; ";
    assert!(message.starts_with(start), "{message}");
    assert_eq!(cause_of(b"").1, "the file is empty (0 bytes); copy it again");
    assert!(cause_of(b"GIF89a").1.starts_with("it is a GIF picture; "));
}

/// Frames come in order with the first fault in frame order, though several are read at a time.
#[test]
fn many_frames_come_in_order_up_to_the_first_fault() {
    let folder = sequence(0..=25);
    let mut opened = open(&folder.path().join("f*.png"), Some(rate())).unwrap();
    let pictures = visited(&mut opened, (0..=25).rev().step_by(3)).unwrap();
    assert_eq!(pictures.len(), 9);
    for (frame, picture) in pictures {
        assert_eq!(u64::from(picture.get_pixel(3, 3).0[1]), frame * 10);
    }
    for gone in [17, 12, 21] {
        fs::remove_file(folder.path().join(format!("f0{gone}.png"))).unwrap();
    }
    let mut seen = Vec::new();
    let wanted = (0..26).map(FrameIndex).collect();
    let fault = opened.frames.visit(&wanted, &mut |frame, _| {
        seen.push(frame.0);
        ControlFlow::Continue(())
    });
    assert_eq!(fault.unwrap_err().frame, FrameIndex(12));
    assert_eq!(seen, (0..12).collect::<Vec<_>>());
}
