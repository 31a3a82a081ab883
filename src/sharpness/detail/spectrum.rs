use super::px;
use crate::picture::LumaPlane;
use rustfft::{FftPlanner, num_complex::Complex};
use std::f64::consts::PI;

/// Where detail ends along an axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum AxisEnd {
    /// At this many cycles a px, at most a half.
    At(f64),
    /// There is none to begin with.
    NothingFine,
}

/// Segments of rows that are transformed: long enough for the coarse part that says the law.
const LONG_SEGMENT_PX: usize = 512;
const SHORT_SEGMENT_PX: usize = 256;

/// Rows that are looked at, evenly spread: more change nothing.
const MOST_ROWS: usize = 1024;

/// Frequencies at which the spectrum is read: so far apart in their logarithm.
const LOG_STEP: f64 = 0.06;
const COARSEST: f64 = 0.012;
const FINEST: f64 = 0.485;

/// The law is read up to here: detail that an enlargement to three or four times leaves whole.
const LAW_UP_TO: f64 = 0.06;

/// The law's slopes, in dB a decade: power as 1 / f^1.1 to 1 / f^2.2. Natural scenes lie about 1 / f^2, and single
/// rows somewhat flatter; what is steeper in the coarse part alone is a few large shapes.
const SLOPES_DB: (f64, f64) = (11.0, 22.0);

/// How far below its law the power falls where detail ends, dB. Chosen on stills that were enlarged 1.25 to 3 times by
/// linear, cubic and windowed-sine kernels: 12 dB puts the end at the picture's own size before, at the median.
const FALL_DB: f64 = 12.0;

/// A spectrum that changes by less from 0.35 cycles a px to its end is a floor of noise there: a law of the least slope
/// changes by as much.
const FLAT_DB: f64 = 1.5;

/// So far above a floor of noise, detail is as strong as the noise.
const ABOVE_FLOOR_DB: f64 = 3.0;

/// Power at the coarse end of fine detail, over one step of eight bits squared. Chosen: scenes had 20 dB and more there,
/// and rounding alone has -11.
const LEAST_POWER_DB: f64 = 8.0;

/// Where detail ends before this, the picture is out of focus or empty, and says nothing of what it could carry.
const LEAST_END: f64 = 0.08;

/// Where the detail along the rows ends.
pub(super) fn end_of_detail(plane: &LumaPlane) -> AxisEnd {
    let points = smoothed(&power(plane));
    let law = Law::of(&points);
    let at_law_end = points.iter().rfind(|point| point.0 <= LAW_UP_TO).map_or(0.0, |point| point.1);
    if at_law_end < LEAST_POWER_DB {
        return AxisEnd::NothingFine;
    }
    let floor = noise_floor(&points);
    let is_under = |(frequency, level): (f64, f64)| {
        frequency > LAW_UP_TO
            && (level < law.at(frequency) - FALL_DB
                || floor.is_some_and(|floor| level < floor + ABOVE_FLOOR_DB))
    };
    let Some(place) = points.iter().position(|point| is_under(*point)) else {
        return AxisEnd::At(0.5);
    };
    let (frequency, level) = points[place];
    let limit =
        |at: f64| (law.at(at) - FALL_DB).max(floor.map_or(f64::MIN, |f| f + ABOVE_FLOOR_DB));
    let (before, before_level) = points[place.saturating_sub(1)];
    let (over, under) = (before_level - limit(before), limit(frequency) - level);
    let share = if over + under > 0.0 { (over / (over + under)).clamp(0.0, 1.0) } else { 1.0 };
    let end = before * (frequency / before).powf(share);
    if end < LEAST_END { AxisEnd::NothingFine } else { AxisEnd::At(end.min(0.5)) }
}

/// A straight line of power in dB over the logarithm of frequency.
struct Law {
    slope: f64,
    at_one: f64,
}

impl Law {
    fn of(points: &[(f64, f64)]) -> Self {
        let coarse: Vec<(f64, f64)> = points
            .iter()
            .filter(|point| point.0 <= LAW_UP_TO)
            .map(|(frequency, level)| (frequency.log10(), *level))
            .collect();
        let count = px(coarse.len()).max(1.0);
        let mean_x = coarse.iter().map(|point| point.0).sum::<f64>() / count;
        let mean_y = coarse.iter().map(|point| point.1).sum::<f64>() / count;
        let products: f64 = coarse.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
        let squares: f64 = coarse.iter().map(|(x, _)| (x - mean_x).powi(2)).sum();
        let slope = (products / squares).clamp(-SLOPES_DB.1, -SLOPES_DB.0);
        Self { slope, at_one: mean_y - slope * mean_x }
    }

    fn at(&self, frequency: f64) -> f64 {
        self.at_one + self.slope * frequency.log10()
    }
}

/// The level of white noise, where the spectrum ends in it.
fn noise_floor(points: &[(f64, f64)]) -> Option<f64> {
    let mean = |from: f64, to: f64| {
        let inside: Vec<f64> = points
            .iter()
            .filter(|point| (from..=to).contains(&point.0))
            .map(|point| point.1)
            .collect();
        inside.iter().sum::<f64>() / px(inside.len()).max(1.0)
    };
    let (before, last) = (mean(0.33, 0.39), mean(0.43, 0.5));
    ((before - last).abs() < FLAT_DB).then_some(last)
}

/// The power of the rows by frequency, in steps of eight bits squared for each px: segments half over each other through
/// Hann windows, averaged ("The use of fast Fourier transform for the estimation of power spectra", IEEE Transactions on
/// Audio and Electroacoustics, 1967; from memory).
fn power(plane: &LumaPlane) -> Vec<f64> {
    let length =
        if plane.width_px() >= LONG_SEGMENT_PX { LONG_SEGMENT_PX } else { SHORT_SEGMENT_PX };
    let transform = FftPlanner::new().plan_fft_forward(length);
    let window: Vec<f64> =
        (0..length).map(|i| 0.5 - 0.5 * (2.0 * PI * px(i) / px(length)).cos()).collect();
    let squares: f64 = window.iter().map(|value| value * value).sum();
    let mut sums = vec![0.0; length / 2 + 1];
    let mut segments = 0.0;
    let stride = plane.height_px().div_ceil(MOST_ROWS);
    for y in (0..plane.height_px()).step_by(stride) {
        for segment in plane.row(y).windows(length).step_by(length / 2) {
            let mean = segment.iter().map(|value| f64::from(*value)).sum::<f64>() / px(length);
            let mut values: Vec<Complex<f64>> = segment
                .iter()
                .zip(&window)
                .map(|(value, weight)| {
                    Complex::new((f64::from(*value) - mean) * 255.0 * weight, 0.0)
                })
                .collect();
            transform.process(&mut values);
            for (sum, value) in sums.iter_mut().zip(&values) {
                *sum += value.norm_sqr();
            }
            segments += 1.0;
        }
    }
    let scale = f64::max(segments, 1.0) * squares;
    sums.into_iter().map(|sum| sum / scale).collect()
}

/// Frequencies, and the median power about each in dB.
fn smoothed(power: &[f64]) -> Vec<(f64, f64)> {
    let length = px(2 * (power.len() - 1));
    let mut points = Vec::new();
    let mut log = COARSEST.ln();
    while log <= FINEST.ln() {
        let frequency = log.exp();
        let is_near = |place: usize| (px(place) / length / frequency - 1.0).abs() <= 0.045;
        let mut near: Vec<f64> = power
            .iter()
            .enumerate()
            .filter(|(i, _)| is_near(*i))
            .map(|(_, value)| *value)
            .collect();
        if near.is_empty() {
            let nearest = |place: &usize| (px(*place) / length - frequency).abs();
            let place = (1..power.len()).min_by(|a, b| nearest(a).total_cmp(&nearest(b)));
            near.extend(place.map(|place| power[place]));
        }
        near.sort_by(f64::total_cmp);
        // A picture of one value has no power at all; what is below a thousandth of rounding is that.
        let median = near.get(near.len() / 2).copied().unwrap_or(0.0).max(1e-5);
        points.push((frequency, 10.0 * median.log10()));
        log += LOG_STEP;
    }
    points
}
