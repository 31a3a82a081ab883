use super::*;
use image::Luma;

/// Discs of many greys that overlap, drawn at a third of a px and smeared along a line: a picture of known blur.
fn discs(smear_px: f64, degrees: f64) -> GrayImage {
    const FINE: u32 = 3;
    const SIDE: u32 = 200;
    let mut seed: u32 = 7;
    let mut next = |from: f64, to: f64| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        from + (to - from) * f64::from(seed >> 8) / f64::from(1_u32 << 24)
    };
    let discs: Vec<[f64; 4]> = (0..25)
        .map(|_| [next(20.0, 180.0), next(20.0, 180.0), next(8.0, 25.0), next(30.0, 220.0)])
        .collect();
    let grey_at = |x: f64, y: f64| {
        let is_in = |disc: &&[f64; 4]| (x - disc[0]).hypot(y - disc[1]) < disc[2];
        discs.iter().rev().find(is_in).map_or(120.0, |disc| disc[3])
    };
    let samples = if smear_px > 0.0 { 12 } else { 1 };
    let (down, across) = degrees.to_radians().sin_cos();
    GrayImage::from_fn(SIDE, SIDE, |x, y| {
        let mut sum = 0.0;
        for sample in 0..samples {
            let along = smear_px * ((f64::from(sample) + 0.5) / f64::from(samples) - 0.5);
            for part in 0..FINE * FINE {
                let inside =
                    |px: u32, part: u32| f64::from(px) + (f64::from(part) + 0.5) / f64::from(FINE);
                let (x, y) = (inside(x, part % FINE), inside(y, part / FINE));
                sum += grey_at(x + along * across, y + along * down);
            }
        }
        let mean = sum / f64::from(samples * FINE * FINE);
        Luma([format!("{mean:.0}").parse().unwrap()])
    })
}

fn whole(picture: &GrayImage) -> Region {
    Region::new(0.0, 0.0, f64::from(picture.width()), f64::from(picture.height())).unwrap()
}

fn measured(smear_px: f64, degrees: f64) -> EdgeBlur {
    let picture = discs(smear_px, degrees);
    edge_blur(&picture, &whole(&picture)).unwrap()
}

#[test]
fn sharp_edges_have_next_to_no_blur() {
    let sharp = measured(0.0, 0.0);
    assert!(sharp.motion_px() < 0.7, "{sharp:?}");
    assert!(sharp.focus_px() < 1.0, "{sharp:?}");
    assert!(sharp.extent_px() < 1.3, "{sharp:?}");
}

#[test]
fn a_smear_is_measured_in_px_and_told_by_its_direction() {
    for (smear_px, degrees) in [(3.0, 0.0), (3.0, 60.0), (5.0, 30.0), (5.0, 120.0), (8.0, 90.0)] {
        let blur = measured(smear_px, degrees);
        let ratio = blur.motion_px() / smear_px;
        assert!((0.75..1.45).contains(&ratio), "{smear_px} px at {degrees}: {}", blur.motion_px());
        let off = (blur.motion_degrees() - degrees + 90.0).rem_euclid(180.0) - 90.0;
        assert!(off.abs() < 8.0, "{smear_px} px at {degrees}: {}", blur.motion_degrees());
        assert!(blur.focus_px() < 1.5, "{smear_px} px at {degrees}: {}", blur.focus_px());
    }
}

#[test]
fn more_smear_is_more_blur() {
    let radii: Vec<f64> = [0.0, 1.0, 2.0, 4.0, 8.0].map(|px| measured(px, 40.0).radius_px()).into();
    assert!(radii.windows(2).all(|pair| pair[0] < pair[1]), "{radii:?}");
}

#[test]
fn a_blur_measured_in_a_half_size_picture_is_twice_as_long_in_the_whole_one() {
    let (half, whole) = (measured(4.0, 0.0), measured(4.0, 0.0).in_px_of(2.0));
    assert!((whole.motion_px() - 2.0 * half.motion_px()).abs() < 1e-9);
}

#[test]
fn a_flat_part_and_one_outside_say_nothing() {
    let flat = GrayImage::from_pixel(80, 60, Luma([90]));
    assert_eq!(edge_blur(&flat, &whole(&flat)), None);
    let picture = discs(0.0, 0.0);
    for outside in [(-50.0, 10.0, 40.0, 40.0), (300.0, 10.0, 40.0, 40.0), (10.0, 10.0, 2.0, 2.0)] {
        let region = Region::new(outside.0, outside.1, outside.2, outside.3).unwrap();
        assert_eq!(edge_blur(&picture, &region), None, "{outside:?}");
    }
}

#[test]
fn a_part_too_large_to_be_measured_whole_is_measured_in_pieces() {
    let small = discs(4.0, 0.0);
    let tiled = GrayImage::from_fn(1400, 1200, |x, y| *small.get_pixel(x % 200, y % 200));
    let all = edge_blur(&tiled, &whole(&tiled)).unwrap();
    let one = edge_blur(&small, &whole(&small)).unwrap();
    assert!((all.radius_px() / one.radius_px() - 1.0).abs() < 0.15, "{all:?} {one:?}");
}
