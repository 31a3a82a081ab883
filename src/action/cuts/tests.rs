#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "made pictures are of small numbers"
)]

use super::*;
use image::Luma;

const WIDTH: u32 = 320;
const HEIGHT: u32 = 180;

/// One of several made scenes, seen from so many px further right; `brighter` in grey levels.
fn scene(which: i64, right: f64, brighter: f64) -> GrayImage {
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let (x, y) = (f64::from(column) + right, f64::from(row));
        let block = |size: f64, salt: i64| {
            let (u, v) = ((x / size).floor() as i64, (y / size).floor() as i64);
            let mut mixed =
                (u * 73_856_093) ^ (v * 19_349_663) ^ ((which * 31 + salt) * 83_492_791);
            mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
            ((mixed >> 16).rem_euclid(100)) as f64
        };
        let value = 20.0 + block(40.0, 1) + 0.6 * block(13.0, 2) + brighter;
        Luma([value.clamp(0.0, 255.0) as u8])
    })
}

fn cuts(frames: impl IntoIterator<Item = GrayImage>) -> Vec<u64> {
    let mut finder = CutFinder::new(Raster::new(WIDTH, HEIGHT).unwrap());
    for frame in frames {
        finder.take(&frame).unwrap();
    }
    finder.finish().iter().map(|cut| cut.0).collect()
}

/// The mean of frames on the way between two places, as an open shutter sees them.
fn blurred(which: i64, from: f64, to: f64) -> GrayImage {
    let parts: Vec<GrayImage> = (0..12_u8)
        .map(|part| scene(which, from + (to - from) * f64::from(part) / 12.0, 0.0))
        .collect();
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let sum: u32 = parts.iter().map(|part| u32::from(part.get_pixel(column, row).0[0])).sum();
        Luma([u8::try_from(sum / 12).unwrap()])
    })
}

#[test]
fn each_cut_between_made_scenes_is_found_at_its_frame() {
    let frames = (0..60).map(|frame| scene(frame / 20, frame as f64 * 1.5, 0.0));
    assert_eq!(cuts(frames), [20, 40]);
    let early = (0..12).map(|frame| scene(i64::from(frame >= 3), 0.0, 0.0));
    assert_eq!(cuts(early), [3]);
    let late = (0..12).map(|frame| scene(i64::from(frame >= 9), 0.0, 0.0));
    assert_eq!(cuts(late), [9]);
}

#[test]
fn a_flash_of_one_to_four_frames_is_no_cut() {
    for length in 1..=4 {
        let flash = 20..20 + length;
        let frames = (0..50).map(|frame| {
            scene(1, f64::from(frame), if flash.contains(&frame) { 120.0 } else { 0.0 })
        });
        assert_eq!(cuts(frames), [0_u64; 0], "{length} frames");
    }
}

#[test]
fn a_whip_is_no_cut_blurred_as_it_is() {
    // Eased up to 120 px a frame, over a third of the picture, and down again.
    let speeds = [4.0, 30.0, 80.0, 120.0, 120.0, 80.0, 30.0, 4.0];
    let mut place = 0.0;
    let mut frames = Vec::new();
    for frame in 0..40_usize {
        let speed = if frame >= 16 { speeds.get(frame - 16).copied().unwrap_or(1.0) } else { 1.0 };
        frames.push(blurred(2, place, place + speed));
        place += speed;
    }
    assert_eq!(cuts(frames), [0_u64; 0]);
}

#[test]
fn what_only_moves_stays_still_or_stutters_is_no_cut() {
    assert_eq!(cuts((0..40).map(|_| scene(1, 0.0, 0.0))), [0_u64; 0]);
    assert_eq!(
        cuts((0..40).map(|frame| scene(1, f64::from(frame / 2 * 2) * 6.0, 0.0))),
        [0_u64; 0]
    );
    // A jolt of a tenth of the width in one frame.
    let jolt = |frame: i32| if frame < 20 { 0.0 } else { 28.0 };
    assert_eq!(cuts((0..40).map(|frame| scene(1, jolt(frame), 0.0))), [0_u64; 0]);
    assert_eq!(cuts([scene(1, 0.0, 0.0)]), [0_u64; 0]);
    assert_eq!(cuts([]), [0_u64; 0]);
}
