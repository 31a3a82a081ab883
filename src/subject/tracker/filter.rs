//! A correlation filter with spatial reliability, after "Discriminative Correlation Filter with Channel and
//! Spatial Reliability" (2017; equations from memory and an open implementation).

use super::{
    features::Features,
    fourier::{Fourier, SIDE, Spectrum},
};
use rustfft::num_complex::Complex;

/// The published penalty, its growth and its limit.
const PENALTY: f32 = 5.0;
const PENALTY_GROWTH: f32 = 3.0;
const PENALTY_LIMIT: f32 = 20.0;

pub(super) struct Filter {
    fourier: Fourier,
    wanted: Spectrum,
    window: Vec<f32>,
    /// One spectrum a channel, conjugated when it is used.
    learnt: Vec<Spectrum>,
    weights: Vec<f32>,
}

/// What a filter answers to a patch.
pub(super) struct Response {
    plane: Vec<f32>,
}

/// A place in a response: cells from its middle, and its height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Peak {
    pub(super) offset: [f64; 2],
    pub(super) height: f32,
}

impl Filter {
    pub(super) fn new() -> Self {
        let (side, fourier) = (SIDE, Fourier::new());
        let away = |index: usize| index.min(side - index) as f32;
        let gauss = |at: usize| {
            let (x, y) = (away(at % side), away(at / side));
            (-0.5 * (x * x + y * y)).exp()
        };
        let label: Vec<f32> = (0..side * side).map(gauss).collect();
        let wanted = fourier.forth(&label);
        let hann =
            |at: usize| 0.5 - 0.5 * (std::f32::consts::TAU * (at as f32 + 0.5) / side as f32).cos();
        let window = (0..side * side).map(|at| hann(at % side) * hann(at / side)).collect();
        Self { fourier, wanted, window, learnt: Vec::new(), weights: Vec::new() }
    }

    fn spectra(&self, features: &Features) -> Vec<Spectrum> {
        let mut windowed = vec![0.0; self.window.len()];
        features
            .channels
            .iter()
            .map(|channel| {
                for ((out, value), window) in windowed.iter_mut().zip(channel).zip(&self.window) {
                    *out = value * window;
                }
                self.fourier.forth(&windowed)
            })
            .collect()
    }

    /// Learns a patch at a rate from 0 to 1, with the share of each cell that is the subject's.
    pub(super) fn learn(&mut self, features: &Features, mask: &[f32], rate: f32, rounds: usize) {
        let spectra = self.spectra(features);
        let fresh: Vec<Spectrum> =
            spectra.iter().map(|spectrum| self.constrained(spectrum, mask, rounds)).collect();
        let mut weights = Vec::with_capacity(fresh.len());
        for (spectrum, filter) in spectra.iter().zip(&fresh) {
            let product: Spectrum =
                spectrum.iter().zip(filter).map(|(f, h)| f * h.conj()).collect();
            let response = self.fourier.back(&product);
            weights.push(response.iter().copied().fold(0.0_f32, f32::max));
        }
        let sum = weights.iter().sum::<f32>().max(f32::MIN_POSITIVE);
        for weight in &mut weights {
            *weight /= sum;
        }
        if self.learnt.is_empty() {
            self.learnt = fresh;
            self.weights = weights;
            return;
        }
        for (old, new) in self.learnt.iter_mut().flatten().zip(fresh.iter().flatten()) {
            *old = *old * (1.0 - rate) + *new * rate;
        }
        for (old, new) in self.weights.iter_mut().zip(&weights) {
            *old = *old * (1.0 - rate) + *new * rate;
        }
    }

    /// One channel's filter that is zero outside the mask, by alternating directions.
    fn constrained(&self, spectrum: &Spectrum, mask: &[f32], rounds: usize) -> Spectrum {
        let across: Spectrum =
            spectrum.iter().zip(&self.wanted).map(|(f, y)| f * y.conj()).collect();
        let power: Vec<f32> = spectrum.iter().map(Complex::norm_sqr).collect();
        let least = PENALTY / 100.0;
        let start: Spectrum = across.iter().zip(&power).map(|(a, p)| a / (p + least)).collect();
        let mut held = self.masked(&start, mask, 1.0);
        let mut multiplier = vec![Complex::new(0.0, 0.0); across.len()];
        let mut penalty = PENALTY;
        for _ in 0..rounds {
            let free: Spectrum = (0..across.len())
                .map(|at| {
                    (across[at] + held[at] * penalty - multiplier[at]) / (power[at] + penalty)
                })
                .collect();
            let sum: Spectrum =
                free.iter().zip(&multiplier).map(|(g, l)| g * penalty + l).collect();
            held = self.masked(&sum, mask, 1.0 / (least + penalty));
            for ((l, g), h) in multiplier.iter_mut().zip(&free).zip(&held) {
                *l += (g - h) * penalty;
            }
            penalty = (penalty * PENALTY_GROWTH).min(PENALTY_LIMIT);
        }
        held
    }

    fn masked(&self, spectrum: &Spectrum, mask: &[f32], scale: f32) -> Spectrum {
        let mut plane = self.fourier.back(spectrum);
        for (value, share) in plane.iter_mut().zip(mask) {
            *value *= share * scale;
        }
        self.fourier.forth(&plane)
    }

    /// What the filter answers to a patch, no shift in the middle.
    pub(super) fn answer(&self, features: &Features) -> Response {
        let spectra = self.spectra(features);
        let mut sum = vec![Complex::new(0.0, 0.0); self.wanted.len()];
        for ((spectrum, filter), weight) in spectra.iter().zip(&self.learnt).zip(&self.weights) {
            for ((out, f), h) in sum.iter_mut().zip(spectrum).zip(filter) {
                *out += f * h.conj() * *weight;
            }
        }
        let (side, half) = (SIDE, SIDE / 2);
        let mut plane = self.fourier.back(&sum);
        plane.rotate_right(half * side);
        plane.chunks_exact_mut(side).for_each(|row| row.rotate_right(half));
        Response { plane }
    }
}

impl Response {
    fn at(&self, x: usize, y: usize) -> f32 {
        self.plane[y * SIDE + x]
    }

    /// The highest place, to a share of a cell.
    pub(super) fn peak(&self) -> Peak {
        let best = (0..self.plane.len())
            .max_by(|a, b| self.plane[*a].total_cmp(&self.plane[*b]))
            .unwrap_or(0);
        let (x, y) = (best % SIDE, best / SIDE);
        let wrap = |at: usize, by: usize| (at + SIDE + by - 1) % SIDE;
        let fine = |before: f32, here: f32, after: f32| {
            let bend = before - 2.0 * here + after;
            if bend < 0.0 {
                f64::from((0.5 * (before - after) / bend).clamp(-0.5, 0.5))
            } else {
                0.0
            }
        };
        let here = self.plane[best];
        let across = fine(self.at(wrap(x, 0), y), here, self.at(wrap(x, 2), y));
        let down = fine(self.at(x, wrap(y, 0)), here, self.at(x, wrap(y, 2)));
        let middle = (SIDE / 2) as f64;
        Peak { offset: [x as f64 - middle + across, y as f64 - middle + down], height: here }
    }

    /// The peak against mean and spread of the response outside its neighbourhood ("Visual Object Tracking
    /// using Adaptive Correlation Filters", 2010).
    pub(super) fn peak_to_sidelobe(&self, peak: &Peak) -> f32 {
        let middle = (SIDE / 2) as f64;
        let radius = SIDE as f64 / 10.0;
        let (mut count, mut sum, mut squares) = (0.0_f32, 0.0_f32, 0.0_f32);
        for y in 0..SIDE {
            for x in 0..SIDE {
                let away = (x as f64 - middle - peak.offset[0])
                    .abs()
                    .max((y as f64 - middle - peak.offset[1]).abs());
                if away > radius {
                    let value = self.at(x, y);
                    count += 1.0;
                    sum += value;
                    squares += value * value;
                }
            }
        }
        let mean = sum / count.max(1.0);
        let spread = (squares / count.max(1.0) - mean * mean).max(1.0e-12).sqrt();
        (peak.height - mean) / spread
    }
}
