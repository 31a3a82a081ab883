use super::px;
use crate::picture::LumaPlane;
use rustfft::{FftPlanner, num_complex::Complex};
use std::f64::consts::PI;

/// Factors that are looked for. Below, detail ends too near to what px carry; above, hardly anything is enlarged.
const LEAST_FACTOR: f64 = 1.12;
const GREATEST_FACTOR: f64 = 4.2;
const FACTOR_LOG_STEP: f64 = 0.001;

/// A factor must agree with where the spectrum ends within this, in the logarithm: from 0.74 to 1.35 times it.
const AGREES_WITHIN: f64 = 0.3;

/// Where detail reaches nearer to what px carry, nothing is said to be enlarged.
const MOST_CARRIED: f64 = 0.85;

/// How far a period must stand out of the median, across and down together. Chosen: stills that were not enlarged had up to
/// 5.2, blurred and recompressed ones included, and most that were had 8 to 300.
const LEAST_STRENGTH: f64 = 8.0;

/// How far the harmonics of blocks that were enlarged must stand out, in the geometric mean. Chosen: of 522 stills as they were,
/// blurred and recompressed, none had such a comb where their detail ended early, and most that were enlarged had 5 to 50.
const LEAST_COMB: f64 = 4.0;

/// Harmonics that stand out by this may be there. Chosen.
const LEAST_BETWEEN: f64 = 1.5;

/// The blocks of JPEG and of most video codecs, px.
const BLOCK_PX: u32 = 8;

/// Second differences count up to this, of 255, so that a few hard edges do not decide. Chosen.
const GREATEST_DIFFERENCE: f64 = 24.0;

/// Px on either side that a local mean is taken of: what is slower than it is the scene. Chosen.
const LOCAL_PX: usize = 9;

/// Slower periods are the scene's.
const LEAST_CYCLES: f64 = 0.08;

/// By how much a picture was enlarged, equally across and down, where its second differences show the period and its
/// detail, as shares of its px, ends where that factor would end it.
///
/// A picture that was coded in blocks before it was enlarged has their period too, and its harmonics: they are a comb that
/// tells the factor without a doubt, while the period of the interpolation is that of two factors.
pub(super) fn enlargement(plane: &LumaPlane, turned: &LumaPlane, shares: [f64; 2]) -> Option<f64> {
    let share = (shares[0] * shares[1]).sqrt();
    if share > MOST_CARRIED {
        return None;
    }
    let periods = Periods {
        across: Strengths::of(plane),
        down: Strengths::of(turned),
        nearest_cycles: 2.5 / px(plane.width_px().min(plane.height_px())),
    };
    let expected = 1.0 / share;
    periods.of_enlarged_blocks(expected).or_else(|| periods.of_interpolation(expected))
}

/// How strongly each period is in the second differences, across and down.
struct Periods {
    across: Strengths,
    down: Strengths,
    /// Two periods nearer to each other than this many cycles a px are one.
    nearest_cycles: f64,
}

impl Periods {
    /// At so many cycles a px, across and down together.
    fn strength(&self, cycles: f64) -> f64 {
        (self.across.strength(cycles) * self.down.strength(cycles)).sqrt()
    }

    /// Whether a period is that of blocks as they are now: of the coding of this picture.
    fn is_block(&self, cycles: f64) -> bool {
        [0.125, 0.25, 0.375, 0.5].iter().any(|block| (cycles - block).abs() < self.nearest_cycles)
    }

    /// The factor by which blocks were enlarged, if their harmonics stand out.
    fn of_enlarged_blocks(&self, expected: f64) -> Option<f64> {
        let found = factors(LEAST_FACTOR, GREATEST_FACTOR)
            .filter_map(|factor| Some((factor, self.comb(factor, 1..BLOCK_PX, 3)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let (factor, _) = found.filter(|found| found.1 > LEAST_COMB)?;
        // The harmonics of a factor are every other one of twice as great a factor: where those between are there too, or may be
        // and the spectrum says so, it is that.
        let twice = 2.0 * factor;
        let between = self.comb(twice, (1..BLOCK_PX).step_by(2), 2).unwrap_or(0.0);
        let is_nearer = off(twice, expected) < off(factor, expected);
        let is_twice = between > LEAST_COMB || (is_nearer && between > LEAST_BETWEEN);
        Some(if is_twice && twice < GREATEST_FACTOR { twice } else { factor })
    }

    /// The geometric mean of the strengths of some harmonics of blocks that were enlarged by a factor; `None` if fewer than
    /// `at_least` of them can be told from the scene's periods and from blocks as they are now.
    fn comb(
        &self,
        factor: f64,
        harmonics: impl Iterator<Item = u32>,
        at_least: usize,
    ) -> Option<f64> {
        let teeth: Vec<f64> = harmonics
            .map(|harmonic| folded(f64::from(harmonic) / f64::from(BLOCK_PX) / factor))
            .filter(|cycles| *cycles > LEAST_CYCLES && !self.is_block(*cycles))
            .map(|cycles| self.strength(cycles).ln())
            .collect();
        let mean = teeth.iter().sum::<f64>() / px(teeth.len().max(1));
        (teeth.len() >= at_least).then(|| mean.exp())
    }

    /// The factor near the expected one whose period stands out the most.
    fn of_interpolation(&self, expected: f64) -> Option<f64> {
        let least = LEAST_FACTOR.max(expected * (-AGREES_WITHIN).exp());
        let greatest = GREATEST_FACTOR.min(expected * AGREES_WITHIN.exp());
        let (factor, _) = factors(least, greatest)
            .filter(|factor| !self.is_block(folded(1.0 / factor)))
            .map(|factor| (factor, self.strength(folded(1.0 / factor))))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|found| found.1 > LEAST_STRENGTH)?;
        // Another factor has the same period.
        let twin = factor / (factor - 1.0);
        let is_twin =
            (least..=greatest).contains(&twin) && off(twin, expected) < off(factor, expected);
        Some(if is_twin { twin } else { factor })
    }
}

/// How far a factor is off another, either way.
fn off(factor: f64, other: f64) -> f64 {
    (factor / other).ln().abs()
}

/// Factors from one to another, in steps of [`FACTOR_LOG_STEP`] of their logarithm.
fn factors(least: f64, greatest: f64) -> impl Iterator<Item = f64> {
    let mut log = least.ln();
    std::iter::from_fn(move || {
        let factor = log.exp();
        log += FACTOR_LOG_STEP;
        (factor <= greatest).then_some(factor)
    })
}

/// A frequency in cycles a px as px show it: 0 to a half.
fn folded(cycles: f64) -> f64 {
    (cycles - cycles.round()).abs()
}

/// How strongly each period is in the second differences along the rows, over the median.
struct Strengths {
    strengths: Vec<f64>,
    length: f64,
}

impl Strengths {
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
