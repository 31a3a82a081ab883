#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "made pictures are of small numbers"
)]

use super::*;
use image::Luma;

const WIDTH: u32 = 320;
const HEIGHT: u32 = 180;

/// Soft blobs that are everywhere, seen from a place, in a picture that is turned by so many radians.
fn frame(right: f64, down: f64, roll: f64) -> GrayImage {
    let (sine, cosine) = roll.sin_cos();
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let (x, y) = (f64::from(column) - 159.5 - right, f64::from(row) - 89.5 - down);
        let (x, y) = (x * cosine + y * sine, y * cosine - x * sine);
        let waves = (x / 5.0).sin() * (y / 6.0).cos()
            + (x / 11.0 + (y / 9.0).sin()).cos()
            + (y / 13.0).sin();
        Luma([(120.0 + 30.0 * waves).round() as u8])
    })
}

fn size() -> Raster {
    Raster::new(WIDTH, HEIGHT).unwrap()
}

#[test]
fn a_known_step_comes_back_in_px_of_the_clip() {
    let raster = Raster::new(2 * WIDTH, 2 * HEIGHT).unwrap();
    let mut meter = BackgroundMeter::new(raster, size(), None).unwrap();
    assert_eq!(meter.take(&frame(0.0, 0.0, 0.0), &[]), Ok(None));
    let found = meter.take(&frame(3.25, -1.5, 0.01), &[]).unwrap().unwrap();
    assert!((found.step.across_px - 6.5).abs() < 0.1, "{found:?}");
    assert!((found.step.down_px + 3.0).abs() < 0.1, "{found:?}");
    assert!((found.step.roll_radians - 0.01).abs() < 3e-4, "{found:?}");
    assert!((found.zoom - 1.0).abs() < 1e-3 && found.confidence > 0.6, "{found:?}");
    assert_eq!(found.by, MeasuredBy::Corners);
    meter.restart();
    assert_eq!(meter.take(&frame(9.0, 0.0, 0.0), &[]), Ok(None), "after a cut nothing is known");
}

/// Blocks of grey of two sizes that nothing repeats, as the mean of so many px of the way to the right.
fn blocks(right: i64, blurred: i64) -> GrayImage {
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let grey = |x: i64, size: i64| {
            let (u, v) = (x.div_euclid(size), i64::from(row).div_euclid(size));
            let mut mixed = (u * 73_856_093) ^ (v * 19_349_663) ^ (size * 83_492_791);
            mixed = (mixed ^ (mixed >> 13)).wrapping_mul(1_274_126_177);
            (mixed >> 16).rem_euclid(100)
        };
        let at = |back: i64| i64::from(column) - right + back;
        let sum: i64 = (0..blurred).map(|back| grey(at(back), 7) + grey(at(back), 31)).sum();
        Luma([(20 + sum / blurred) as u8])
    })
}

#[test]
fn a_jump_over_a_quarter_of_the_picture_is_measured_by_way_of_correlation() {
    let step = |blurred: i64| {
        let mut meter = BackgroundMeter::new(size(), size(), None).unwrap();
        meter.take(&blocks(0, 1), &[]).unwrap();
        meter.take(&blocks(85, blurred), &[]).unwrap().unwrap()
    };
    let sharp = step(1);
    assert_eq!(sharp.by, MeasuredBy::Corners);
    assert!((sharp.step.across_px - 85.0).abs() < 0.1, "{sharp:?}");
    // Smeared over 40 px its corners are lost; the middle of the smear is 20 px further left.
    let smeared = step(40);
    assert_eq!(smeared.by, MeasuredBy::Correlation);
    assert!((smeared.step.across_px - 65.5).abs() < 22.0, "{smeared:?}");
    assert!(smeared.confidence < sharp.confidence, "{smeared:?} {sharp:?}");
    assert_eq!((smeared.zoom, smeared.step.roll_radians), (1.0, 0.0));
}

#[test]
fn what_is_marked_is_not_the_background() {
    // Three fifths of the frame move their own way; unmarked they would be the background.
    let part = |world: (f64, f64), subject: (f64, f64)| {
        let (mut picture, other) = (frame(world.0, world.1, 0.0), frame(subject.0, subject.1, 0.0));
        for row in 0..HEIGHT {
            for column in 130..WIDTH {
                picture.put_pixel(column, row, *other.get_pixel(column, row));
            }
        }
        picture
    };
    let subject = Region::new(130.0, 0.0, 190.0, 180.0).unwrap();
    let across = |marked: &[Region]| {
        let mut meter = BackgroundMeter::new(size(), size(), None).unwrap();
        meter.take(&part((0.0, 0.0), (0.0, 0.0)), marked).unwrap();
        meter.take(&part((2.0, 0.0), (-5.0, 1.0)), marked).unwrap().unwrap().step.across_px
    };
    assert!((across(&[subject]) - 2.0).abs() < 0.1, "{}", across(&[subject]));
    assert!((across(&[]) + 5.0).abs() < 0.1, "{}", across(&[]));
}

#[test]
fn plain_pictures_tell_nothing_and_other_sizes_are_refused() {
    let mut meter = BackgroundMeter::new(size(), size(), None).unwrap();
    let plain = GrayImage::from_pixel(WIDTH, HEIGHT, Luma([90]));
    assert_eq!(meter.take(&plain, &[]), Ok(None));
    assert_eq!(meter.take(&plain, &[]), Ok(None));
    let refused = meter.take(&GrayImage::new(10, 20), &[]).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "a frame of 10x20 px came where frames of 320x180 px were said to come"
    );
}
