//! What a correlation filter sees of a patch: gradient orientations, colours and gray, a value a cell.
//!
//! Orientation histograms are those of "Object Detection with Discriminatively Trained Part Based Models"
//! (2010; from memory): 18 signed and 9 unsigned orientations, each against four neighbourhoods' energy.

use super::{frame::Patch, whole::floor_px};
use std::f32::consts::PI;

/// Px of a patch along a side of a cell.
pub(super) const CELL: usize = 4;
const SIGNED: usize = 18;
const UNSIGNED: usize = 9;
/// Above this share of its neighbourhood's energy an orientation counts no more, as published.
const TRUNCATED_AT: f32 = 0.2;

/// Channels with a value a cell, row by row.
pub(super) struct Features {
    pub(super) channels: Vec<Vec<f32>>,
}

pub(super) fn luma(patch: &Patch) -> Vec<f32> {
    let [red, green, blue] = &patch.planes;
    red.iter().zip(green).zip(blue).map(|((r, g), b)| 0.299 * r + 0.587 * g + 0.114 * b).collect()
}

/// The means of a plane's cells.
fn cell_means(plane: &[f32], side: usize) -> Vec<f32> {
    let cells = side / CELL;
    let mut means = vec![0.0; cells * cells];
    for (y, row) in plane.chunks_exact(side).enumerate() {
        let out = &mut means[y / CELL * cells..][..cells];
        for (sum, px) in out.iter_mut().zip(row.chunks_exact(CELL)) {
            *sum += px.iter().sum::<f32>();
        }
    }
    for mean in &mut means {
        *mean /= (CELL * CELL) as f32;
    }
    means
}

/// Orientations, opponent colours and gray of a patch, not yet windowed.
pub(super) fn features(patch: &Patch) -> Features {
    let gray = luma(patch);
    let mut channels = orientations(&gray, patch.side);
    let means: Vec<Vec<f32>> =
        patch.planes.iter().map(|plane| cell_means(plane, patch.side)).collect();
    let cells = patch.side / CELL;
    let opponent = |weights: [f32; 3], offset: f32| -> Vec<f32> {
        (0..cells * cells)
            .map(|at| (0..3).map(|c| weights[c] * means[c][at] / 255.0).sum::<f32>() - offset)
            .collect()
    };
    channels.push(opponent([0.299, 0.587, 0.114], 0.5));
    channels.push(opponent([1.0, -1.0, 0.0], 0.0));
    channels.push(opponent([0.5, 0.5, -1.0], 0.0));
    Features { channels }
}

/// Orientation channels of a luma plane.
pub(super) fn orientations(luma: &[f32], side: usize) -> Vec<Vec<f32>> {
    let cells = side / CELL;
    let mut histogram = vec![0.0_f32; SIGNED * cells * cells];
    gather(luma, side, &mut histogram);
    let area = cells * cells;
    let mut energy = vec![0.0_f32; area];
    for at in 0..area {
        for o in 0..UNSIGNED {
            let both = histogram[at * SIGNED + o] + histogram[at * SIGNED + o + UNSIGNED];
            energy[at] += both * both;
        }
    }
    let mut channels = vec![vec![0.0_f32; area]; SIGNED + UNSIGNED];
    for y in 0..cells {
        for x in 0..cells {
            let at = y * cells + x;
            let norms = neighbourhoods(&energy, cells, x, y);
            let own = &histogram[at * SIGNED..(at + 1) * SIGNED];
            let clipped =
                |value: f32| 0.5 * norms.iter().map(|n| (value * n).min(TRUNCATED_AT)).sum::<f32>();
            for o in 0..SIGNED {
                channels[o][at] = clipped(own[o]);
            }
            for o in 0..UNSIGNED {
                channels[SIGNED + o][at] = clipped(own[o] + own[o + UNSIGNED]);
            }
        }
    }
    channels
}

/// One over the root energy of the four blocks of two by two cells around a cell.
fn neighbourhoods(energy: &[f32], cells: usize, x: usize, y: usize) -> [f32; 4] {
    let last = cells - 1;
    let (left, right) = (x.saturating_sub(1), (x + 1).min(last));
    let (up, down) = (y.saturating_sub(1), (y + 1).min(last));
    let e = |x: usize, y: usize| energy[y * cells + x];
    let block =
        |bx: usize, by: usize| 1.0 / (e(x, y) + e(bx, y) + e(x, by) + e(bx, by) + 1.0e-2).sqrt();
    [block(left, up), block(right, up), block(left, down), block(right, down)]
}

/// Adds each px's gradient to its four nearest cells and its nearest orientation.
fn gather(luma: &[f32], side: usize, histogram: &mut [f32]) {
    let cells = side / CELL;
    // With a cell more on every side, which takes what lies beyond and is left out.
    let wide = cells + 2;
    let mut all = vec![0.0_f32; SIGNED * wide * wide];
    let near = |at: usize| {
        let place = (at as f32 + 0.5) / CELL as f32 + 0.5;
        (floor_px(place), place - place.floor())
    };
    let nears: Vec<(usize, f32)> = (0..side).map(near).collect();
    let directions = directions();
    for y in 1..side - 1 {
        let (top, share_down) = nears[y];
        let [above, here, below] = [y - 1, y, y + 1].map(|y| &luma[y * side..][..side]);
        for x in 1..side - 1 {
            let (dx, dy) = (here[x + 1] - here[x - 1], below[x] - above[x]);
            let size = (dx * dx + dy * dy).sqrt();
            if size < 1.0e-3 {
                continue;
            }
            let o = direction(&directions, dx, dy);
            let (first, share) = nears[x];
            for (cell_y, down) in [(top, 1.0 - share_down), (top + 1, share_down)] {
                for (cell_x, right) in [(first, 1.0 - share), (first + 1, share)] {
                    all[(cell_y * wide + cell_x) * SIGNED + o] += size * down * right;
                }
            }
        }
    }
    for (row, to) in histogram.chunks_exact_mut(SIGNED * cells).enumerate() {
        to.copy_from_slice(&all[((row + 1) * wide + 1) * SIGNED..][..SIGNED * cells]);
    }
}

/// What parts the signed orientations of the half turn from 0 on: the directions in the middle between two of them.
fn directions() -> [[f32; 2]; UNSIGNED] {
    std::array::from_fn(|at| {
        let angle = 2.0 * PI * (at as f32 + 0.5) / SIGNED as f32;
        [angle.cos(), angle.sin()]
    })
}

/// Which of the signed orientations a gradient has.
fn direction(directions: &[[f32; 2]; UNSIGNED], dx: f32, dy: f32) -> usize {
    let passed = |[x, y]: &[f32; 2]| usize::from(x * dy.abs() - y * dx >= 0.0);
    let above = directions.iter().map(passed).sum::<usize>();
    if dy < 0.0 { (SIGNED - above) % SIGNED } else { above }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gradient_has_the_orientation_that_is_nearest_to_its_angle() {
        let directions = directions();
        for tenth in 0..3600_u16 {
            // Off the middle between two orientations, where either is right.
            let degrees = f32::from(tenth) / 10.0 + 0.05;
            let (dy, dx) = degrees.to_radians().sin_cos();
            let nearest = floor_px((degrees / 20.0).round()) % SIGNED;
            assert_eq!(direction(&directions, 7.0 * dx, 7.0 * dy), nearest, "{degrees} degrees");
        }
    }
}
