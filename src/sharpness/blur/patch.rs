//! A part of a picture, smoothed by two Gaussians, and its edges.

use super::fit::Edge;
use crate::{geometry::Region, picture::GrayImage};

/// The two Gaussians, in px. The narrow one takes noise away; the wide one is as narrow as still tells a blur of 15 px from one
/// of 10. Chosen by measurement among five pairs.
const NARROW_PX: f64 = 1.0;
const WIDE_PX: f64 = 2.5;
/// What is read round a part, so that its own edge is no edge: three times the wide Gaussian, and a px for slopes.
const AROUND_PX: u32 = 9;
/// Slopes below this many codes a px are taken for noise: well above what a noise of three codes leaves. Chosen.
const LEAST_SLOPE: f32 = 2.0;
/// A blur wider than this is told as this, in px².
const MOST_PX2: f64 = 400.0;

/// Luma of a part of a picture and of what is round it.
pub(super) struct Patch {
    width: usize,
    height: usize,
    narrow: Vec<f32>,
    wide: Vec<f32>,
}

impl Patch {
    /// The whole px of a box that lies in the picture; `None` if there is hardly any.
    pub(super) fn of(luma: &GrayImage, region: &Region) -> Option<Self> {
        const LEAST_SIDE: u32 = 4;
        let (left, right) = (whole(region.left()), whole(region.right()).min(luma.width()));
        let (top, bottom) = (whole(region.top()), whole(region.bottom()).min(luma.height()));
        if right < left + LEAST_SIDE || bottom < top + LEAST_SIDE {
            return None;
        }
        let (columns, rows) = (right - left + 2 * AROUND_PX, bottom - top + 2 * AROUND_PX);
        // Beyond the picture its last px is taken to go on, which makes no edge.
        let inside =
            |px: u32, first: u32, side: u32| (first + px).saturating_sub(AROUND_PX).min(side - 1);
        let mut read = Vec::with_capacity(columns as usize * rows as usize);
        for row in 0..rows {
            let y = inside(row, top, luma.height());
            read.extend((0..columns).map(|column| {
                f32::from(luma.get_pixel(inside(column, left, luma.width()), y).0[0])
            }));
        }
        let (width, height) = (columns as usize, rows as usize);
        let narrow = smoothed(&read, width, NARROW_PX);
        let rest_px = (WIDE_PX * WIDE_PX - NARROW_PX * NARROW_PX).sqrt();
        let wide = smoothed(&narrow, width, rest_px);
        Some(Self { width, height, narrow, wide })
    }

    /// Adds the edges of the part itself: where the slope is greatest across the edge.
    pub(super) fn add_edges(&self, edges: &mut Vec<Edge>) {
        let around = AROUND_PX as usize;
        let slopes = Slopes::of(&self.narrow, self.width);
        for y in around..self.height - around {
            for x in around..self.width - around {
                let at = y * self.width + x;
                let slope = slopes.size[at];
                if slope <= LEAST_SLOPE {
                    continue;
                }
                let (across, down) = slope_at(&self.narrow, self.width, at);
                let (across, down) = (across / slope, down / slope);
                let is_ridge = slope >= slopes.beside((x, y), (across, down))
                    && slope > slopes.beside((x, y), (-across, -down));
                if is_ridge {
                    let (wide_across, wide_down) = slope_at(&self.wide, self.width, at);
                    let kept = f64::from(wide_across.hypot(wide_down)) / f64::from(slope);
                    edges.push(Edge {
                        angle: f64::from(down).atan2(f64::from(across)),
                        px2: variance_px2(kept),
                    });
                }
            }
        }
    }
}

/// The variance of an edge's own blur, from the share of its slope that the wide Gaussian leaves of the narrow one's.
fn variance_px2(kept: f64) -> f64 {
    /// A slope that loses less than this loses nothing that can be measured.
    const LEAST_LOSS: f64 = 1e-4;
    let ratio = 1.0 / (kept * kept).max(1e-12);
    if ratio <= 1.0 + LEAST_LOSS {
        return MOST_PX2;
    }
    let (narrow, wide) = (NARROW_PX * NARROW_PX, WIDE_PX * WIDE_PX);
    ((wide - ratio * narrow) / (ratio - 1.0)).clamp(0.0, MOST_PX2)
}

/// How steep each px of a picture is.
struct Slopes {
    width: usize,
    size: Vec<f32>,
}

impl Slopes {
    fn of(picture: &[f32], width: usize) -> Self {
        let height = picture.len() / width;
        let mut size = vec![0.0; picture.len()];
        for y in 1..height - 1 {
            for x in 1..width - 1 {
                let at = y * width + x;
                let (across, down) = slope_at(picture, width, at);
                size[at] = across.hypot(down);
            }
        }
        Self { width, size }
    }

    /// The slope one px from a px in a direction, between the four px about that point.
    fn beside(&self, (x, y): (usize, usize), (across, down): (f32, f32)) -> f32 {
        let next = |from: usize, step: f32| {
            // A step is at most 1 px, and px near the border are not asked for.
            if step >= 0.0 { (from, step) } else { (from - 1, 1.0 + step) }
        };
        let ((left, right), (top, below)) = (next(x, across), next(y, down));
        let at = top * self.width + left;
        let row = |at: usize| self.size[at] * (1.0 - right) + self.size[at + 1] * right;
        row(at) * (1.0 - below) + row(at + self.width) * below
    }
}

/// Half the difference of the two neighbours, across and down.
fn slope_at(picture: &[f32], width: usize, at: usize) -> (f32, f32) {
    (0.5 * (picture[at + 1] - picture[at - 1]), 0.5 * (picture[at + width] - picture[at - width]))
}

/// A picture smoothed by a Gaussian, its last px going on beyond its border.
fn smoothed(picture: &[f32], width: usize, sigma_px: f64) -> Vec<f32> {
    let weights = half_gaussian(sigma_px);
    let height = picture.len() / width;
    let mut across = vec![0.0; picture.len()];
    for (row, out) in picture.chunks_exact(width).zip(across.chunks_exact_mut(width)) {
        for (x, sum) in out.iter_mut().enumerate() {
            *sum = weights[0] * row[x];
            for (step, weight) in weights.iter().enumerate().skip(1) {
                *sum += weight * (row[x.saturating_sub(step)] + row[(x + step).min(width - 1)]);
            }
        }
    }
    let mut out = vec![0.0; picture.len()];
    for (y, sums) in out.chunks_exact_mut(width).enumerate() {
        for (step, weight) in weights.iter().enumerate() {
            let above = y.saturating_sub(step) * width;
            let below = (y + step).min(height - 1) * width;
            let weight = if step == 0 { 0.5 * weight } else { *weight };
            let pairs = across[above..above + width].iter().zip(&across[below..below + width]);
            for (sum, (one, other)) in sums.iter_mut().zip(pairs) {
                *sum += weight * (one + other);
            }
        }
    }
    out
}

/// The weights of a Gaussian's middle and of one of its sides, out to three times its width.
fn half_gaussian(sigma_px: f64) -> Vec<f32> {
    let reach = whole((3.0 * sigma_px).ceil());
    let raw: Vec<f64> =
        (0..=reach).map(|step| (-0.5 * (f64::from(step) / sigma_px).powi(2)).exp()).collect();
    let sum: f64 = raw[0] + 2.0 * raw[1..].iter().sum::<f64>();
    #[expect(clippy::cast_possible_truncation, reason = "weights between 0 and 1")]
    raw.iter().map(|weight| (weight / sum) as f32).collect()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places in a picture; what is out of range is held at the ends"
)]
fn whole(px: f64) -> u32 {
    px.round() as u32
}
