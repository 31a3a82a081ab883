use super::px;
use crate::picture::LumaPlane;
use rustfft::{FftPlanner, num_complex::Complex};
use std::f64::consts::PI;

/// Factors that are looked for. Below, detail ends too near to what px carry; above, hardly anything is enlarged.
const LEAST_FACTOR: f64 = 1.12;
const GREATEST_FACTOR: f64 = 4.2;
const FACTOR_LOG_STEP: f64 = 0.002;

/// A factor must agree with where the spectrum ends within this, in the logarithm: from 0.74 to 1.35 times it.
const AGREES_WITHIN: f64 = 0.3;

/// Where detail reaches nearer to what px carry, nothing is said to be enlarged.
const MOST_CARRIED: f64 = 0.85;

/// How far a period must stand out of the median, across and down together. Chosen: stills that were not enlarged had up to
/// 5.2, blurred and recompressed ones included, and most that were had 8 to 300.
const LEAST_STRENGTH: f64 = 8.0;

/// Second differences count up to this, of 255, so that a few hard edges do not decide. Chosen.
const GREATEST_DIFFERENCE: f64 = 24.0;

/// Px on either side that a local mean is taken of: what is slower than it is the scene. Chosen.
const LOCAL_PX: usize = 9;

/// Slower periods are the scene's.
const LEAST_CYCLES: f64 = 0.08;

/// By how much a picture was enlarged, equally across and down, where its second differences show the period and its
/// detail, as shares of its px, ends where that factor would end it.
pub(super) fn enlargement(plane: &LumaPlane, turned: &LumaPlane, shares: [f64; 2]) -> Option<f64> {
    let share = (shares[0] * shares[1]).sqrt();
    if share > MOST_CARRIED {
        return None;
    }
    let (across, down) = (Periods::of(plane), Periods::of(turned));
    let grid = 2.5 / px(plane.width_px().min(plane.height_px()));
    let mut best: Option<(f64, f64)> = None;
    let mut log = LEAST_FACTOR.ln().max((1.0 / share).ln() - AGREES_WITHIN);
    let last = GREATEST_FACTOR.ln().min((1.0 / share).ln() + AGREES_WITHIN);
    while log <= last {
        let factor = log.exp();
        let cycles = (1.0 / factor - (1.0 / factor).round()).abs();
        // The blocks of JPEG and of most video codecs are 8 px: their periods are no enlargement's.
        let is_block = [0.125, 0.25, 0.375].iter().any(|block| (cycles - block).abs() < grid);
        let strength = (across.strength(cycles) * down.strength(cycles)).sqrt();
        if !is_block && strength > best.map_or(LEAST_STRENGTH, |best| best.1) {
            best = Some((factor, strength));
        }
        log += FACTOR_LOG_STEP;
    }
    best.map(|best| best.0)
}

/// How strongly each period is in the second differences along the rows, over the median.
struct Periods {
    strengths: Vec<f64>,
    length: f64,
}

impl Periods {
    fn of(plane: &LumaPlane) -> Self {
        let profile = without_local_mean(&difference_profile(plane));
        let count = profile.len();
        let length = (4 * count).next_power_of_two();
        let mut values: Vec<Complex<f64>> = profile
            .iter()
            .enumerate()
            .map(|(x, value)| {
                let window = 0.5 - 0.5 * (2.0 * PI * px(x) / px(count)).cos();
                Complex::new(value * window, 0.0)
            })
            .collect();
        values.resize(length, Complex::default());
        FftPlanner::new().plan_fft_forward(length).process(&mut values);
        let moduli: Vec<f64> = values[..=length / 2].iter().map(|value| value.norm()).collect();
        let mut fast: Vec<f64> = moduli
            .iter()
            .enumerate()
            .filter(|(place, _)| px(*place) / px(length) > LEAST_CYCLES)
            .map(|(_, modulus)| *modulus)
            .collect();
        fast.sort_by(f64::total_cmp);
        let median = fast.get(fast.len() / 2).copied().unwrap_or(0.0).max(f64::MIN_POSITIVE);
        let strengths = moduli.into_iter().map(|modulus| modulus / median).collect();
        Self { strengths, length: px(length) }
    }

    /// At so many cycles a px, from 0 to a half.
    fn strength(&self, cycles: f64) -> f64 {
        let place = (cycles * self.length).max(0.0);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "at most half a transform's length"
        )]
        let below = place.floor() as usize;
        let at = |place: usize| self.strengths.get(place).or(self.strengths.last()).copied();
        let (low, high) = (at(below).unwrap_or(0.0), at(below + 1).unwrap_or(0.0));
        low + (high - low) * place.fract()
    }
}

/// The logarithm of the mean second difference of each column.
fn difference_profile(plane: &LumaPlane) -> Vec<f64> {
    let mut sums = vec![0.0; plane.width_px() - 2];
    for y in 0..plane.height_px() {
        for (sum, three) in sums.iter_mut().zip(plane.row(y).windows(3)) {
            let [left, here, right] = [three[0], three[1], three[2]].map(f64::from);
            *sum += (255.0 * (2.0 * here - left - right).abs()).min(GREATEST_DIFFERENCE);
        }
    }
    let rows = px(plane.height_px());
    sums.into_iter().map(|sum| (sum / rows + 1e-3).ln()).collect()
}

/// Each value less the mean about it; beyond the ends the last value goes on.
fn without_local_mean(values: &[f64]) -> Vec<f64> {
    let last = values.len() - 1;
    let about = |x: usize| {
        let places = (0..=2 * LOCAL_PX).map(|offset| (x + offset).saturating_sub(LOCAL_PX));
        places.map(|place| values[place.min(last)]).sum::<f64>() / px(2 * LOCAL_PX + 1)
    };
    values.iter().enumerate().map(|(x, value)| value - about(x)).collect()
}
