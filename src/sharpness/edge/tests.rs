#![expect(
    clippy::cast_possible_truncation,
    reason = "made pictures are small, and single precision is what planes hold"
)]

use super::*;
use crate::geometry::Raster;
use std::f64::consts::PI;

/// An edge as a camera without noise would record it: a blur, seen through pixels that are boxes along the row.
#[derive(Clone, Copy)]
struct MadeEdge {
    blur_px: f64,
    angle_degrees: f64,
    dark: f64,
    light: f64,
}

const USUAL: MadeEdge = MadeEdge { blur_px: 0.5, angle_degrees: 5.0, dark: 0.2, light: 0.8 };

const SIDE: usize = 128;

/// 7.1.26 of the Handbook of Mathematical Functions (1964): within 1.5e-7.
fn erf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x.abs());
    let terms = [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    let sum = terms.iter().rev().fold(0.0, |sum, term| (sum + term) * t);
    (1.0 - sum * (-x * x).exp()).copysign(x)
}

impl MadeEdge {
    /// The share of light at a distance right of the edge, along the row, over one px.
    fn share(self, distance: f64) -> f64 {
        let sigma = self.blur_px / self.angle_degrees.to_radians().cos();
        let integral = |x: f64| {
            let t = x / sigma;
            let below = (1.0 + erf(t / 2.0_f64.sqrt())) / 2.0;
            sigma * (t * below + (-t * t / 2.0).exp() / (2.0 * PI).sqrt())
        };
        integral(distance + 0.5) - integral(distance - 0.5)
    }

    fn standing(self, (width, height): (usize, usize)) -> LumaPlane {
        let slope = self.angle_degrees.to_radians().tan();
        let middle = |side: usize| (side - 1) as f64 / 2.0;
        let mut values = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let edge = middle(width) + 0.23 + slope * (y as f64 - middle(height));
                let share = self.share(x as f64 - edge);
                values.push((self.dark + (self.light - self.dark) * share) as f32);
            }
        }
        plane((width, height), values)
    }

    /// By frequency square to the edge: sinc(f cos) exp(-2 pi^2 sigma^2 f^2).
    fn theory(self, cycles_per_px: f64) -> f64 {
        let x = PI * cycles_per_px * self.angle_degrees.to_radians().cos();
        let boxed = if x.abs() < 1e-12 { 1.0 } else { x.sin() / x };
        boxed * (-2.0 * (PI * self.blur_px * cycles_per_px).powi(2)).exp()
    }

    fn theory_mtf50(self) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if self.theory(middle) > 0.5 { low = middle } else { high = middle }
        }
        low
    }
}

fn plane((width, height): (usize, usize), values: Vec<f32>) -> LumaPlane {
    let raster = Raster::new(width as u32, height as u32).unwrap();
    let values = values.into_iter().map(|value| value.clamp(0.0, 1.0)).collect();
    LumaPlane::new(raster, values, 255).unwrap()
}

fn whole(plane: &LumaPlane) -> EdgeRegion {
    let (width_px, height_px) = (plane.width_px() as u32, plane.height_px() as u32);
    EdgeRegion { left_px: 0, top_px: 0, width_px, height_px }
}

fn measured(plane: &LumaPlane) -> Result<EdgeResponse, EdgeFault> {
    edge_response(plane, whole(plane), &ToneCurve::AsCoded)
}

/// Made noise, the same each time: the mean of twelve even numbers, spread to one standard deviation.
fn noisy(plane: &LumaPlane, deviation: f64, seed: u64) -> LumaPlane {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut even = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut normal = move || (0..12).map(|_| even()).sum::<f64>() - 6.0;
    let rows = (0..plane.height_px()).flat_map(|y| plane.row(y).to_vec());
    let values = rows.map(|value| value + (deviation * normal()) as f32).collect();
    self::plane((plane.width_px(), plane.height_px()), values)
}

/// Held against where the made edge itself is at 10 and at 90 %, by halving.
#[test]
fn the_rise_is_that_of_the_edge() {
    for blur_px in [0.3, 0.5, 0.7, 1.0, 1.5, 3.0] {
        for angle_degrees in [3.0, 5.0, 8.0] {
            let made = MadeEdge { blur_px, angle_degrees, ..USUAL };
            let at = |share: f64| {
                let (mut low, mut high) = (-20.0, 20.0);
                for _ in 0..60 {
                    let middle = (low + high) / 2.0;
                    if made.share(middle) < share { low = middle } else { high = middle }
                }
                low
            };
            let expected = (at(0.9) - at(0.1)) * angle_degrees.to_radians().cos();
            let found = measured(&made.standing((SIDE, SIDE))).unwrap().rise_px;
            assert!(
                (found - expected).abs() < 0.06,
                "{blur_px} {angle_degrees}: {found} for {expected}"
            );
        }
    }
}

#[test]
fn made_edges_have_the_mtf50_of_theory_within_three_percent() {
    for blur_px in [0.3, 0.5, 0.7, 1.0] {
        for angle_degrees in [2.0, 3.0, 5.0, 7.0, 8.5, 10.0] {
            let edge = MadeEdge { blur_px, angle_degrees, ..USUAL };
            let theory = edge.theory_mtf50();
            for (light, dark) in [(0.8, 0.2), (0.2, 0.8)] {
                for sign in [1.0, -1.0] {
                    let edge =
                        MadeEdge { angle_degrees: sign * angle_degrees, dark, light, ..edge };
                    let standing = edge.standing((SIDE, SIDE));
                    for (plane, direction) in [
                        (standing.transposed(), EdgeDirection::Lies),
                        (standing, EdgeDirection::Stands),
                    ] {
                        let found = measured(&plane).unwrap();
                        let what =
                            format!("blur {blur_px}, {} degrees, {dark}", edge.angle_degrees);
                        assert_eq!(found.direction, direction, "{what}");
                        assert!((found.angle_degrees - edge.angle_degrees).abs() < 0.02, "{what}");
                        let off = found.mtf50_cycles_per_px.unwrap() / theory - 1.0;
                        assert!(off.abs() < 0.03, "{what}: {off}");
                    }
                }
            }
        }
    }
}

/// The four polarities and both directions are one measurement.
#[test]
fn what_is_dark_and_which_way_it_leans_changes_nothing() {
    let of = |edge: MadeEdge| measured(&edge.standing((SIDE, SIDE))).unwrap();
    let first = of(USUAL).mtf50_cycles_per_px.unwrap();
    for (dark, light, angle_degrees) in [(0.8, 0.2, 5.0), (0.2, 0.8, -5.0), (0.8, 0.2, -5.0)] {
        let other = of(MadeEdge { dark, light, angle_degrees, ..USUAL });
        assert!((other.mtf50_cycles_per_px.unwrap() - first).abs() < 0.003, "{angle_degrees}");
    }
}

#[test]
fn the_whole_curve_is_that_of_theory_but_for_the_bins() {
    let found = measured(&USUAL.standing((SIDE, SIDE))).unwrap();
    assert!(found.curve.last().unwrap().cycles_per_px > 0.49);
    for point in &found.curve {
        let off = point.modulus - USUAL.theory(point.cycles_per_px);
        assert!((-0.012..0.006).contains(&off), "{point:?} {off}");
    }
}

/// What is told of the noise is what it does: 40 edges with made noise scatter as far.
#[test]
fn the_told_deviation_is_that_of_many_measurements() {
    let clean = USUAL.standing((SIDE, SIDE));
    let all: Vec<EdgeResponse> =
        (1..=40).map(|seed| measured(&noisy(&clean, 0.02, seed)).unwrap()).collect();
    let values: Vec<f64> = all.iter().map(|one| one.mtf50_cycles_per_px.unwrap()).collect();
    let mean = values.iter().sum::<f64>() / 40.0;
    let scatter = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 39.0).sqrt();
    let told = all.iter().map(|one| one.mtf50_deviation.unwrap()).sum::<f64>() / 40.0;
    assert!((0.6..1.6).contains(&(told / scatter)), "told {told}, found {scatter}");
    let noise = all[0].noise_share;
    assert!((noise - 0.02 / 0.6).abs() < 0.002, "{noise}");
}

#[test]
fn a_tone_curve_is_taken_out() {
    let edge = MadeEdge { dark: 0.01, light: 0.9, ..USUAL };
    let bent = edge.standing((SIDE, SIDE));
    let rows = (0..SIDE).flat_map(|y| bent.row(y).to_vec());
    let bent = plane((SIDE, SIDE), rows.map(|value| value.powf(1.0 / 2.2)).collect());
    let with = edge_response(&bent, whole(&bent), &ToneCurve::Gamma(2.2)).unwrap();
    let theory = edge.theory_mtf50();
    assert!((with.mtf50_cycles_per_px.unwrap() / theory - 1.0).abs() < 0.03);
    let without = measured(&bent).unwrap().mtf50_cycles_per_px.unwrap();
    assert!((without / theory - 1.0).abs() > 0.05, "{without}");
    let table = "0 0\n0.3 100\n0.5 150\n".parse().unwrap();
    let fault = edge_response(&bent, whole(&bent), &ToneCurve::Table(table)).unwrap_err();
    assert!(fault.to_string().contains("from 0 to 150; add rows for it"), "{fault}");
}

#[test]
fn what_cannot_be_measured_is_refused_with_its_limit() {
    let standing = |edge: MadeEdge| edge.standing((SIDE, SIDE));
    let says = |plane: &LumaPlane, words: &str| {
        let fault = measured(plane).unwrap_err().to_string();
        assert!(fault.contains(words), "{fault}");
    };
    says(&plane((64, 64), vec![0.5; 4096]), "no edge, or its contrast is too low");
    says(&standing(MadeEdge { light: 0.24, ..USUAL }), "differ by 0.040 of the full code range");
    says(&standing(MadeEdge { angle_degrees: 0.3, ..USUAL }), "not slanted enough: 0.30 degrees");
    says(&standing(MadeEdge { angle_degrees: 14.0, ..USUAL }), "slanted too much: 14.0 degrees");
    says(&standing(MadeEdge { dark: 0.0, ..USUAL }), "the dark side is clipped");
    says(&standing(MadeEdge { light: 1.0, ..USUAL }), "the light side is clipped");
    says(&standing(MadeEdge { blur_px: 14.0, ..USUAL }), "too narrow for an edge this soft");
    says(&noisy(&standing(USUAL), 0.12, 7), "the noise is too high");
    says(&USUAL.standing((24, 140)), "leaves the region");
    says(&USUAL.standing((19, 200)), "too small: each side needs at least 20 px");
    let region = EdgeRegion { left_px: 100, ..whole(&standing(USUAL)) };
    let fault = edge_response(&standing(USUAL), region, &ToneCurve::AsCoded).unwrap_err();
    assert!(fault.to_string().contains("does not lie inside the picture, which is 128x128"));
}

#[test]
fn a_bent_edge_and_a_broken_one_are_no_line() {
    let values = |edge: &dyn Fn(f64) -> f64| {
        let at = |place: usize| {
            let (x, y) = ((place % SIDE) as f64, (place / SIDE) as f64);
            (0.2 + 0.6 * USUAL.share(x - edge(y))) as f32
        };
        plane((SIDE, SIDE), (0..SIDE * SIDE).map(at).collect())
    };
    let bent = values(&|y| 60.0 + 0.09 * y + 8.0 * (y / 20.0).sin());
    let broken = values(&|y| if (40.0..60.0).contains(&y) { 900.0 } else { 60.0 + 0.09 * y });
    for plane in [bent, broken] {
        assert!(
            matches!(measured(&plane), Err(EdgeFault::NoLine { .. })),
            "{:?}",
            measured(&plane)
        );
    }
}

/// What stands in for all that a person may point at: never a panic, and never a number that is none.
#[test]
fn no_region_of_noise_panics() {
    for (seed, deviation) in [(1, 0.0), (2, 0.1), (3, 0.5), (4, 2.0)] {
        for size in [(20, 20), (21, 90), (90, 21), (64, 64)] {
            let made = noisy(&plane(size, vec![0.5; size.0 * size.1]), deviation, seed);
            if let Ok(found) = measured(&made) {
                assert!(found.curve.iter().all(|point| point.modulus.is_finite()));
            }
        }
    }
}
