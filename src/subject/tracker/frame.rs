//! One frame at analysis size with its halvings, and patches cut from it.

use super::whole::{floor, single};
use image::RgbImage;
use std::sync::OnceLock;

/// Halvings stop before a side falls below this, px.
const LEAST_SIDE_PX: usize = 24;

/// A frame and its halvings, each the mean of two by two px of the one before.
pub(super) struct Frame {
    levels: Vec<Level>,
}

/// One size of a frame.
pub(super) struct Level {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Red, green and blue of each px.
    rgb: Vec<u8>,
    /// Made when it is first asked for: of the sizes of a frame only a few are.
    luma: OnceLock<Vec<u8>>,
}

/// A square patch of `side` by `side` samples, colours from 0 to 255.
pub(super) struct Patch {
    pub(super) side: usize,
    /// Red, green, blue; rows from top to bottom.
    pub(super) planes: [Vec<f32>; 3],
}

/// Where a patch lies on a frame, in px of the frame, edge coordinates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) centre: [f64; 2],
    pub(super) size: [f64; 2],
}

impl Place {
    /// The same middle, with each side times a factor.
    pub(super) fn scaled(self, factors: [f64; 2]) -> Self {
        Self { size: [self.size[0] * factors[0], self.size[1] * factors[1]], ..self }
    }
}

impl Frame {
    pub(super) fn new(picture: &RgbImage) -> Self {
        Self::in_place_of(Self { levels: Vec::new() }, picture)
    }

    /// A frame in the memory of one that is no longer needed.
    pub(super) fn in_place_of(done: Self, picture: &RgbImage) -> Self {
        let mut spare = done.levels.into_iter().map(|level| level.rgb);
        let mut rgb = spare.next().unwrap_or_default();
        rgb.clear();
        rgb.extend_from_slice(picture.as_raw());
        let mut levels = vec![Level::new(picture.width() as usize, picture.height() as usize, rgb)];
        while let Some(next) = levels.last().and_then(|level| level.halved(&mut spare)) {
            levels.push(next);
        }
        Self { levels }
    }

    pub(super) fn size(&self) -> [f64; 2] {
        [self.levels[0].width as f64, self.levels[0].height as f64]
    }

    /// The halving whose px are nearest to `step` px of the frame, its number first.
    pub(super) fn level_for(&self, step: f64) -> (usize, &Level) {
        let wanted = floor(step.max(1.0).log2().round());
        let at = wanted.min(self.levels.len() - 1);
        (at, &self.levels[at])
    }

    pub(super) fn level(&self, at: usize) -> &Level {
        &self.levels[at.min(self.levels.len() - 1)]
    }

    pub(super) fn level_count(&self) -> usize {
        self.levels.len()
    }

    /// A place resampled to `side` by `side`; px beyond the edges repeat the outermost ones.
    pub(super) fn patch(&self, place: Place, side: usize) -> Patch {
        let step = [place.size[0] / side as f64, place.size[1] / side as f64];
        let (at, level) = self.level_for((step[0] * step[1]).sqrt());
        let shrink = (1_usize << at) as f64;
        let taps = |axis: usize, limit: usize| -> Vec<(usize, usize, f32)> {
            let first = place.centre[axis] - place.size[axis] / 2.0;
            let tap = |index: usize| {
                let edge = first + (index as f64 + 0.5) * step[axis];
                let position = (edge / shrink - 0.5).clamp(0.0, (limit - 1) as f64);
                let low = floor(position);
                (low, (low + 1).min(limit - 1), single(position - low as f64))
            };
            (0..side).map(tap).collect()
        };
        let (across, down) = (taps(0, level.width), taps(1, level.height));
        let mut planes: [Vec<f32>; 3] = std::array::from_fn(|_| Vec::with_capacity(side * side));
        for &(upper, lower, share_down) in &down {
            let row = |y: usize| &level.rgb[3 * y * level.width..3 * (y + 1) * level.width];
            let (upper, lower) = (row(upper), row(lower));
            for &(left, right, share) in &across {
                for (channel, plane) in planes.iter_mut().enumerate() {
                    let px = |row: &[u8], x: usize| f32::from(row[3 * x + channel]);
                    let (a, b) = (px(upper, left), px(upper, right));
                    let (c, d) = (px(lower, left), px(lower, right));
                    let (top, bottom) = (a + share * (b - a), c + share * (d - c));
                    plane.push(top + share_down * (bottom - top));
                }
            }
        }
        Patch { side, planes }
    }
}

impl Level {
    const fn new(width: usize, height: usize, rgb: Vec<u8>) -> Self {
        Self { width, height, rgb, luma: OnceLock::new() }
    }

    /// Luma of each px, 0 to 255.
    pub(super) fn luma(&self) -> &[u8] {
        // The weights of BT.601 in 256ths, which fit into 16 bits.
        let luma = |px: &[u8]| {
            let [red, green, blue] = [px[0], px[1], px[2]].map(u16::from);
            byte((77 * red + 150 * green + 29 * blue + 128) >> 8)
        };
        self.luma.get_or_init(|| self.rgb.chunks_exact(3).map(luma).collect())
    }

    fn halved(&self, spare: &mut impl Iterator<Item = Vec<u8>>) -> Option<Self> {
        let (width, height) = (self.width / 2, self.height / 2);
        if width.min(height) < LEAST_SIDE_PX {
            return None;
        }
        let mut rgb = spare.next().unwrap_or_default();
        rgb.resize(3 * width * height, 0);
        for (row, to) in rgb.chunks_exact_mut(3 * width).enumerate() {
            let upper = &self.rgb[6 * row * self.width..][..6 * width];
            let lower = &self.rgb[3 * (2 * row + 1) * self.width..][..6 * width];
            let from = upper.chunks_exact(6).zip(lower.chunks_exact(6));
            for (px, (a, b)) in to.chunks_exact_mut(3).zip(from) {
                for c in 0..3 {
                    let [one, two, three, four] = [a[c], a[c + 3], b[c], b[c + 3]].map(u16::from);
                    px[c] = byte((one + two + three + four + 2) >> 2);
                }
            }
        }
        Some(Self::new(width, height, rgb))
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a mean of bytes is one")]
const fn byte(mean: u16) -> u8 {
    mean as u8
}
