use super::{
    EdgeFault,
    light::{LightGrid, mean},
    line::EdgeLine,
};
use rustfft::{FftPlanner, num_complex::Complex};
use serde::Serialize;
use std::f64::consts::PI;

/// Bins of the edge for each px.
const BINS_PER_PX: usize = 4;

/// The finest detail that is looked at: beyond it, bins rather than the camera are measured.
const FINEST_CYCLES_PER_PX: f64 = 1.0;

/// The finest detail that px carry.
const NYQUIST_CYCLES_PER_PX: f64 = 0.5;

/// The greatest correction of the derivative (ISO 12233:2014, 6.2.5, as quoted by others).
const GREATEST_CORRECTION: f64 = 10.0;

/// How many times as wide as its rise an edge needs the region. Chosen: a Gaussian edge has five standard deviations on
/// either side then, and the window takes less than 1 % of MTF50.
const WIDTHS_OF_RISE: f64 = 4.0;

/// The most that noise may move the response by, near MTF50. Chosen: where the response falls as a usual
/// camera's, it moves MTF50 by some 8 %.
const GREATEST_DEVIATION: f64 = 0.05;

/// How an edge lies in the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EdgeDirection {
    /// Near to a column: what is measured is detail across the picture.
    Stands,
    /// Near to a row: what is measured is detail down the picture.
    Lies,
}

/// How much contrast one fineness of detail keeps.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ResponsePoint {
    /// Square to the edge.
    pub cycles_per_px: f64,
    /// 1 for the coarsest detail; above 1 where sharpening raised it.
    pub modulus: f64,
}

/// The response of a slanted edge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgeResponse {
    /// How the edge lies.
    pub direction: EdgeDirection,
    /// By how much it is off the picture's column, or row; positive where it goes right further down, or down further
    /// right.
    pub angle_degrees: f64,
    /// The frequency at which half the contrast is left, square to the edge; `None` if half is left everywhere up
    /// to one cycle a px. Above 0.5 only a finer edge than px can show has it.
    pub mtf50_cycles_per_px: Option<f64>,
    /// One standard deviation of it that the noise beside the edge makes.
    pub mtf50_deviation: Option<f64>,
    /// The curve from 0 to half a cycle a px, which is the finest detail that px carry.
    pub curve: Vec<ResponsePoint>,
    /// How far the edge takes from 10 to 90 % of its step, square to it.
    pub rise_px: f64,
    /// The greatest modulus of the curve: well above 1, the camera sharpened, and MTF50 flatters it.
    pub peak: f64,
    /// The noise beside the edge, as a share of the step.
    pub noise_share: f64,
    /// The share of the region's px that are at an end of the code range.
    pub clipped_share: f64,
    /// How many lines across the edge were used: a whole number of its crossings from px to px.
    pub lines_used: usize,
}

/// An edge with four bins a px, and the noise beside it.
struct FineEdge {
    /// Light, a bin each; the first begins at the region's side.
    bins: Vec<f64>,
    /// One standard deviation of a px beside the edge, over the step.
    noise_share: f64,
    /// Px in a bin, on average.
    px_per_bin: f64,
    lines_used: usize,
}

pub(super) fn response_of(
    grid: &LightGrid,
    line: &EdgeLine,
    direction: EdgeDirection,
) -> Result<EdgeResponse, EdgeFault> {
    let edge = FineEdge::of(grid, line);
    let cosine = line.angle().cos();
    let rise_px = edge.rise_px() * cosine;
    let needed_px = WIDTHS_OF_RISE * rise_px;
    let width_px = grid.width();
    if needed_px > exact(width_px) {
        return Err(EdgeFault::TooSoft { rise_px, needed_px, width_px });
    }
    let curve = edge.spectrum(cosine);
    let crossing = half_contrast(&curve);
    let deviation_at = |cycles_per_px| edge.deviation(cycles_per_px * cosine);
    let deviation = deviation_at(crossing.map_or(NYQUIST_CYCLES_PER_PX, |(at, _)| at));
    if deviation > GREATEST_DEVIATION {
        return Err(EdgeFault::Noisy { deviation, limit: GREATEST_DEVIATION });
    }
    let is_carried = |point: &ResponsePoint| point.cycles_per_px <= NYQUIST_CYCLES_PER_PX;
    let curve: Vec<ResponsePoint> = curve.into_iter().filter(is_carried).collect();
    Ok(EdgeResponse {
        direction,
        angle_degrees: line.angle().to_degrees(),
        mtf50_cycles_per_px: crossing.map(|(at, _)| at),
        mtf50_deviation: crossing.map(|(_, fall)| deviation / fall),
        rise_px,
        peak: curve.iter().map(|point| point.modulus).fold(0.0, f64::max),
        noise_share: edge.noise_share,
        clipped_share: grid.clipped_share(),
        lines_used: edge.lines_used,
        curve,
    })
}

impl FineEdge {
    /// Puts each px of a whole number of the edge's crossings from px to px into the bin of its distance from the
    /// edge: so many of them fall into each quarter of a px.
    fn of(grid: &LightGrid, line: &EdgeLine) -> Self {
        let crossings = (exact(grid.height()) * line.slope.abs()).floor();
        let lines_used = whole(crossings / line.slope.abs()).clamp(1, grid.height());
        let first = (grid.height() - lines_used) / 2;
        let count = BINS_PER_PX * grid.width();
        let place = |x: usize, y: usize| {
            let from_side = line.distance(x, y) + line.at_middle();
            let bin = (exact(BINS_PER_PX) * from_side).floor();
            (bin >= 0.0).then(|| whole(bin)).filter(|bin| *bin < count)
        };
        let (mut sums, mut px) = (vec![0.0; count], vec![0.0; count]);
        let used = || grid.rows().enumerate().skip(first).take(lines_used);
        for (y, row) in used() {
            for (x, light) in row.iter().enumerate() {
                if let Some(bin) = place(x, y) {
                    sums[bin] += light;
                    px[bin] += 1.0;
                }
            }
        }
        let bins = filled(&sums, &px);
        // Beside the edge: the outer half of each side.
        let edge_bin = exact(BINS_PER_PX) * line.at_middle();
        let far = edge_bin.min(exact(count) - edge_bin) / 2.0;
        let (mut squares, mut free) = (0.0, 0.0);
        for (y, row) in used() {
            for (x, light) in row.iter().enumerate() {
                let beside = place(x, y).filter(|bin| (exact(*bin) - edge_bin).abs() > far);
                // A mean of n px takes one of n from what they scatter.
                if let Some(bin) = beside.filter(|bin| px[*bin] > 1.0) {
                    squares += (light - bins[bin]).powi(2);
                    free += 1.0 - 1.0 / px[bin];
                }
            }
        }
        let noise = if free > 0.0 { f64::sqrt(squares / free) } else { 0.0 };
        Self {
            noise_share: noise / grid.step().abs(),
            px_per_bin: mean(px.into_iter()),
            bins,
            lines_used,
        }
    }

    /// The distance from 10 to 90 % of the step, along a row.
    fn rise_px(&self) -> f64 {
        let tenth = self.bins.len() / 10;
        let dark = mean(self.bins[..tenth].iter().copied());
        let light = mean(self.bins[self.bins.len() - tenth..].iter().copied());
        let share = |value: &f64| (value - dark) / (light - dark);
        // From the last bin below a tenth and to the first above nine, seen from the middle of the step, so that noise
        // beside the edge counts for nothing; where exactly is between that bin and the next one.
        let middle = self.bins.iter().position(|bin| share(bin) >= 0.5).unwrap_or(0);
        let low = self.bins[..middle].iter().rposition(|bin| share(bin) <= 0.1).unwrap_or(0);
        let after = self.bins[middle..].iter().position(|bin| share(bin) >= 0.9);
        let high = after.map_or(self.bins.len(), |after| middle + after);
        let crossing = |first: usize, wanted: f64| {
            let Some([a, b]) =
                self.bins.get(first..first + 2).map(|two| [share(&two[0]), share(&two[1])])
            else {
                return exact(first);
            };
            exact(first) + if a < b { ((wanted - a) / (b - a)).clamp(0.0, 1.0) } else { 0.0 }
        };
        let (from, to) = (crossing(low, 0.1), crossing(high.saturating_sub(1), 0.9));
        (to - from) / exact(BINS_PER_PX)
    }

    /// The derivative of the edge, its peak in the middle, through a Hamming window.
    fn line_spread(&self) -> Vec<f64> {
        let count = self.bins.len();
        let mut rises = vec![0.0; count];
        for (place, three) in self.bins.windows(3).enumerate() {
            rises[place + 1] = (three[2] - three[0]) / 2.0;
        }
        let peak = (0..count)
            .max_by(|a, b| rises[*a].abs().total_cmp(&rises[*b].abs()))
            .unwrap_or(count / 2);
        rises.rotate_left((peak + count - count / 2) % count);
        for (place, rise) in rises.iter_mut().enumerate() {
            *rise *= hamming(place, count);
        }
        rises
    }

    /// The modulus of the line's spectrum, the derivative's own part taken out, by frequency square to the edge.
    fn spectrum(&self, cosine: f64) -> Vec<ResponsePoint> {
        let spread = self.line_spread();
        let count = spread.len();
        let mut values: Vec<Complex<f64>> =
            spread.into_iter().map(|value| Complex::new(value, 0.0)).collect();
        FftPlanner::new().plan_fft_forward(count).process(&mut values);
        let whole_line = values[0].norm();
        let cycles = |k: usize| exact(k * BINS_PER_PX) / exact(count) / cosine;
        (0..count / 2)
            .map(|k| ResponsePoint {
                cycles_per_px: cycles(k),
                modulus: derivative_correction(k, count) * values[k].norm() / whole_line,
            })
            .take_while(|point| point.cycles_per_px <= FINEST_CYCLES_PER_PX)
            .collect()
    }

    /// One standard deviation of the modulus that white noise makes at a frequency along the row: bins scatter by s, so
    /// that the derivative's spectrum, corrected, scatters by s x sqrt(sum of the squared window), x = 2 pi k / N; half
    /// the square lies along the modulus (worked out here).
    fn deviation(&self, cycles_per_px: f64) -> f64 {
        let count = self.bins.len();
        let bin_noise = self.noise_share / self.px_per_bin.max(1.0).sqrt();
        let windows: f64 = (0..count).map(|place| hamming(place, count).powi(2)).sum();
        bin_noise * 2.0 * PI * cycles_per_px / exact(BINS_PER_PX) * (windows / 2.0).sqrt()
    }
}

/// The means, and between them a straight line where a bin got no px.
fn filled(sums: &[f64], px: &[f64]) -> Vec<f64> {
    let known: Vec<usize> = (0..px.len()).filter(|bin| px[*bin] > 0.0).collect();
    let value = |bin: usize| sums[bin] / px[bin];
    let (Some(&first), Some(&last)) = (known.first(), known.last()) else {
        return vec![0.0; px.len()];
    };
    (0..px.len())
        .map(|bin| match known.binary_search(&bin) {
            Ok(_) => value(bin),
            Err(0) => value(first),
            Err(next) if next == known.len() => value(last),
            Err(next) => {
                let (before, after) = (known[next - 1], known[next]);
                let share = exact(bin - before) / exact(after - before);
                value(before) + (value(after) - value(before)) * share
            }
        })
        .collect()
}

/// The first frequency at which half the contrast is left, and by how much it falls there for each cycle a px.
fn half_contrast(curve: &[ResponsePoint]) -> Option<(f64, f64)> {
    let pair = curve.windows(2).find(|pair| pair[0].modulus >= 0.5 && pair[1].modulus < 0.5)?;
    let fall = pair[0].modulus - pair[1].modulus;
    let apart = pair[1].cycles_per_px - pair[0].cycles_per_px;
    let at = pair[0].cycles_per_px + apart * (pair[0].modulus - 0.5) / fall;
    Some((at, fall / apart))
}

/// What [-1/2, 0, 1/2] takes from a spectrum, taken back: `x / sin x`, `x = 2 pi k / N`, at most 10. The standard's
/// printed formula has misprints; this is the inverse of that derivative's own response.
fn derivative_correction(k: usize, count: usize) -> f64 {
    let x = 2.0 * PI * exact(k) / exact(count);
    if k == 0 { 1.0 } else { (x / x.sin()).abs().min(GREATEST_CORRECTION) }
}

fn hamming(place: usize, count: usize) -> f64 {
    0.54 - 0.46 * (2.0 * PI * exact(place) / exact(count)).cos()
}

#[expect(clippy::cast_precision_loss, reason = "counts of px and bins are far below 2^53")]
const fn exact(count: usize) -> f64 {
    count as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "only of numbers from 0 to a picture's side"
)]
const fn whole(number: f64) -> usize {
    number as usize
}
