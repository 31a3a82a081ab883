#![expect(
    clippy::cast_possible_truncation,
    reason = "made pictures are small, and single precision is what planes hold"
)]

use super::*;
use crate::geometry::Raster;

fn plane_of(width: usize, height: usize, value: impl Fn(usize, usize) -> f64) -> LumaPlane {
    let raster = Raster::new(width as u32, height as u32).unwrap();
    let pixels = (0..width * height).map(|i| value(i % width, i / width));
    let values = pixels.map(|value| (value.clamp(0.0, 255.0).round() / 255.0) as f32).collect();
    LumaPlane::new(raster, values, 255).unwrap()
}

/// A number from 0 to 1 for each place, the same each time.
fn scattered(x: usize, y: usize) -> f64 {
    let mut state = (x as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ (y as u64 + 77).wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
    for shift in [31, 29, 32] {
        state = (state ^ (state >> shift)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    }
    (state >> 11) as f64 / (1_u64 << 53) as f64
}

#[test]
fn where_nothing_is_fine_nothing_is_said() {
    let flat = plane_of(512, 400, |_, _| 128.0);
    let sky = plane_of(512, 400, |x, y| 90.0 + x as f64 / 10.0 + y as f64 / 8.0);
    let noisy_sky = plane_of(512, 400, |x, y| 90.0 + x as f64 / 10.0 + 3.0 * scattered(x, y));
    for plane in [flat, sky, noisy_sky] {
        assert_eq!(fine_detail(&plane), Err(CannotTell::NothingFine));
    }
    let small = plane_of(255, 400, scattered);
    assert!(matches!(fine_detail(&small), Err(CannotTell::Small { width_px: 255, .. })));
}
