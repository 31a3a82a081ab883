//! Which colours are the subject's and which are its surroundings', and the mask that follows.

use super::{features::CELL, frame::Patch, whole::floor_px};

/// Steps of each of red, green and blue, as published for the filter's mask.
const STEPS: usize = 16;

/// Shares of colours inside and outside.
#[derive(Clone)]
pub(super) struct Colours {
    inside: Vec<f32>,
    outside: Vec<f32>,
}

fn step(patch: &Patch, at: usize) -> usize {
    let bin = |c: usize| (floor_px(patch.planes[c][at]) * STEPS / 256).min(STEPS - 1);
    (bin(0) * STEPS + bin(1)) * STEPS + bin(2)
}

impl Colours {
    /// Counts a patch; `half` is half the subject's box in cells, in the middle of the patch.
    pub(super) fn of(patch: &Patch, half: [f32; 2], belongs: Option<&[f32]>) -> Self {
        let mut counted =
            Self { inside: vec![0.0; STEPS.pow(3)], outside: vec![0.0; STEPS.pow(3)] };
        let middle = patch.side as f32 / 2.0;
        let half = half.map(|cells| cells * CELL as f32);
        for y in (0..patch.side).step_by(2) {
            for x in (0..patch.side).step_by(2) {
                let across = ((x as f32 + 1.0 - middle) / half[0]).abs();
                let down = ((y as f32 + 1.0 - middle) / half[1]).abs();
                let at = y * patch.side + x;
                let bin = step(patch, at);
                if across <= 1.0 && down <= 1.0 {
                    let kernel = (1.0 - 0.5 * (across * across + down * down)).max(0.0);
                    let cell = y / CELL * (patch.side / CELL) + x / CELL;
                    counted.inside[bin] +=
                        kernel * belongs.map_or(1.0, |mask| 0.1 + 0.9 * mask[cell]);
                } else if across <= 2.0 && down <= 2.0 {
                    counted.outside[bin] += 1.0;
                }
            }
        }
        for counts in [&mut counted.inside, &mut counted.outside] {
            let sum = counts.iter().sum::<f32>().max(f32::MIN_POSITIVE);
            counts.iter_mut().for_each(|count| *count /= sum);
        }
        counted
    }

    /// How alike the colours inside are, 0 to 1 (the sum of the roots of products of shares).
    pub(super) fn likeness(&self, other: &Self) -> f32 {
        self.inside.iter().zip(&other.inside).map(|(a, b)| (a * b).sqrt()).sum()
    }

    pub(super) fn learn(&mut self, other: &Self, rate: f32) {
        for (old, new) in self
            .inside
            .iter_mut()
            .zip(&other.inside)
            .chain(self.outside.iter_mut().zip(&other.outside))
        {
            *old += rate * (new - *old);
        }
    }

    /// The chance of each px (every second, both ways) to be the subject's by its colour, cell by cell.
    pub(super) fn chances(&self, patch: &Patch) -> Vec<f32> {
        let cells = patch.side / CELL;
        let mut sums = vec![0.0_f32; cells * cells];
        let small = 1.0e-5;
        for y in (0..patch.side).step_by(2) {
            for x in (0..patch.side).step_by(2) {
                let bin = step(patch, y * patch.side + x);
                let (inside, outside) = (self.inside[bin] + small, self.outside[bin] + small);
                sums[y / CELL * cells + x / CELL] += inside / (inside + outside);
            }
        }
        sums.iter_mut().for_each(|sum| *sum /= (CELL * CELL / 4) as f32);
        sums
    }
}
