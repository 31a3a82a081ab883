//! The Fourier transform of small square planes.

use rustfft::{Fft, FftDirection, algorithm::butterflies::Butterfly32, num_complex::Complex};

/// Values along a side of a plane.
///
/// The library's one transform of this length is named, and not its planner, which has every length and every
/// processor's variants compiled into this crate.
pub(super) const SIDE: usize = 32;
/// Columns that a real plane's spectrum does not repeat.
const COLUMNS: usize = SIDE / 2 + 1;

/// Half of the spectrum of a real plane, column by column; the other half is its mirror.
pub(super) type Spectrum = Vec<Complex<f32>>;

/// Transforms real planes, forth without and back with the division by their area.
pub(super) struct Fourier {
    forth: Butterfly32<f32>,
    back: Butterfly32<f32>,
}

impl Fourier {
    pub(super) fn new() -> Self {
        Self {
            forth: Butterfly32::new(FftDirection::Forward),
            back: Butterfly32::new(FftDirection::Inverse),
        }
    }

    pub(super) fn forth(&self, plane: &[f32]) -> Spectrum {
        let mut spectrum = vec![Complex::new(0.0, 0.0); COLUMNS * SIDE];
        let mut line = [Complex::new(0.0, 0.0); SIDE];
        // Two real rows are one complex one; what is even in the answer is the first row's.
        for (pair, rows) in plane.chunks_exact(2 * SIDE).enumerate() {
            let (first, second) = rows.split_at(SIDE);
            for ((value, re), im) in line.iter_mut().zip(first).zip(second) {
                *value = Complex::new(*re, *im);
            }
            self.forth.process_with_scratch(&mut line, &mut []);
            for x in 0..COLUMNS {
                let (here, mirror) = (line[x], line[(SIDE - x) % SIDE].conj());
                let (sum, difference) = (here + mirror, here - mirror);
                spectrum[x * SIDE + 2 * pair] = sum * 0.5;
                spectrum[x * SIDE + 2 * pair + 1] =
                    Complex::new(difference.im * 0.5, -difference.re * 0.5);
            }
        }
        self.forth.process_with_scratch(&mut spectrum, &mut []);
        spectrum
    }

    pub(super) fn back(&self, spectrum: &[Complex<f32>]) -> Vec<f32> {
        let mut columns = spectrum.to_vec();
        self.back.process_with_scratch(&mut columns, &mut []);
        let scale = 1.0 / (SIDE * SIDE) as f32;
        let mut plane = vec![0.0; SIDE * SIDE];
        let mut line = [Complex::new(0.0, 0.0); SIDE];
        for (pair, rows) in plane.chunks_exact_mut(2 * SIDE).enumerate() {
            for (x, value) in line.iter_mut().enumerate() {
                let (column, is_mirror) = if x < COLUMNS { (x, false) } else { (SIDE - x, true) };
                let [first, second] = [0, 1].map(|row| {
                    let held = columns[column * SIDE + 2 * pair + row] * scale;
                    if is_mirror { held.conj() } else { held }
                });
                *value = first + Complex::new(-second.im, second.re);
            }
            self.back.process_with_scratch(&mut line, &mut []);
            let (first, second) = rows.split_at_mut(SIDE);
            for ((value, re), im) in line.iter().zip(first).zip(second) {
                (*re, *im) = (value.re, value.im);
            }
        }
        plane
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_spectrum_is_the_sum_that_defines_it_and_leads_back() {
        let plane: Vec<f32> =
            (0..SIDE * SIDE).map(|at| ((at * 7919) % 101) as f32 - 50.0).collect();
        let fourier = Fourier::new();
        let spectrum = fourier.forth(&plane);
        for (u, v) in [(0, 0), (1, 0), (3, 5), (16, 31), (16, 0)] {
            let (mut re, mut im) = (0.0, 0.0);
            for (at, value) in plane.iter().enumerate() {
                let (x, y) = (at % SIDE, at / SIDE);
                let angle = -TAU * (u * x + v * y) as f64 / SIDE as f64;
                re += f64::from(*value) * angle.cos();
                im += f64::from(*value) * angle.sin();
            }
            let found = spectrum[u * SIDE + v];
            assert!((f64::from(found.re) - re).abs() < 0.05, "{u} {v}: {found} against {re} {im}");
            assert!((f64::from(found.im) - im).abs() < 0.05, "{u} {v}: {found} against {re} {im}");
        }
        let again = fourier.back(&spectrum);
        assert!(plane.iter().zip(&again).all(|(a, b)| (a - b).abs() < 1e-3));
    }
}
