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

/// A made scene whose power falls as 1 / f^2 along both axes up to the last px: each px is much like its neighbours.
fn scene(width: usize, height: usize) -> Vec<f64> {
    const LIKE: f64 = 0.98;
    let mut values = vec![0.0; width * height];
    for y in 0..height {
        for x in 0..width {
            let at = |dx: usize, dy: usize| {
                if x < dx || y < dy { 0.0 } else { values[(y - dy) * width + x - dx] }
            };
            let news = 20.0 * (scattered(x, y) - 0.5);
            values[y * width + x] = LIKE * (at(1, 0) + at(0, 1)) - LIKE * LIKE * at(1, 1) + news;
        }
    }
    values
}

#[test]
fn a_made_scene_carries_all_its_px_and_half_as_many_when_it_is_blurred() {
    let values = scene(640, 512);
    let sharp = plane_of(640, 512, |x, y| 128.0 + values[y * 640 + x]);
    let found = fine_detail(&sharp).unwrap();
    assert_eq!((found.carried_across_px, found.carried_down_px), (640.0, 512.0));
    assert_eq!((found.enlarged_by, found.confidence), (None, Confidence::Fair));
    // The mean of three by three px has its first zero at a third of a cycle a px.
    let blurred = plane_of(640, 512, |x, y| {
        let near = |at: usize, last: usize| [at.saturating_sub(1), at, (at + 1).min(last)];
        let all = near(y, 511).into_iter().flat_map(|y| near(x, 639).map(|x| values[y * 640 + x]));
        128.0 + all.sum::<f64>() / 9.0
    });
    let found = fine_detail(&blurred).unwrap();
    assert!((300.0..427.0).contains(&found.carried_across_px), "{found:?}");
    assert!((240.0..341.0).contains(&found.carried_down_px), "{found:?}");
    assert_eq!(found.enlarged_by, None);
}

#[test]
fn an_enlargement_is_found_by_its_trace() {
    let values = scene(500, 400);
    let small = image::GrayImage::from_fn(500, 400, |x, y| {
        let value = 128.0 + values[y as usize * 500 + x as usize];
        image::Luma([value.clamp(0.0, 255.0).round() as u8])
    });
    for (width, filter) in [
        (750, image::imageops::FilterType::Triangle),
        (750, image::imageops::FilterType::CatmullRom),
        (700, image::imageops::FilterType::Lanczos3),
        (1250, image::imageops::FilterType::CatmullRom),
    ] {
        let large = image::imageops::resize(&small, width, width * 4 / 5, filter);
        let value = |x: usize, y: usize| f64::from(large.get_pixel(x as u32, y as u32).0[0]);
        let found = fine_detail(&plane_of(width as usize, width as usize * 4 / 5, value)).unwrap();
        let factor = f64::from(width) / 500.0;
        let told = found.enlarged_by.unwrap_or(0.0);
        assert!((told / factor - 1.0).abs() < 0.01, "{factor} {filter:?}: {found:?}");
        assert!((found.carried_across_px - 500.0).abs() < 5.0, "{found:?}");
        assert_eq!(found.confidence, Confidence::Good);
    }
}
