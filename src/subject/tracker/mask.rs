//! Which cells of the filter's window are the subject's.

use super::whole::single;

/// Chances of a cell's colours from which it begins to count, and from which it counts in full.
const COUNTS_FROM: f32 = 0.3;
const COUNTS_IN_FULL: f32 = 0.6;
/// A mask with a smaller share of the box than this tells nothing, and the whole box is taken.
const LEAST_SHARE: f32 = 0.2;

/// Half the box in cells, when the window has `cells` along a side.
pub(super) fn half_cells(cells: usize, window_over_box: [f64; 2]) -> [f32; 2] {
    window_over_box.map(|over| single(cells as f64 / 2.0 / over))
}

/// The share of each cell that is the subject's: by the chances of its colours, and by where it lies.
pub(super) fn mask(chances: &[f32], cells: usize, half: [f32; 2]) -> Vec<f32> {
    let inside: Vec<f32> = (0..cells * cells).map(|at| share_inside(at, cells, half)).collect();
    let by_colour: Vec<f32> = inside
        .iter()
        .enumerate()
        .map(|(at, inside)| {
            if *inside <= 0.0 {
                return 0.0;
            }
            let mean = mean_around(chances, cells, at);
            inside * ((mean - COUNTS_FROM) / (COUNTS_IN_FULL - COUNTS_FROM)).clamp(0.0, 1.0)
        })
        .collect();
    let tells = by_colour.iter().sum::<f32>() >= LEAST_SHARE * inside.iter().sum::<f32>();
    if tells { by_colour } else { inside }
}

/// How far the middle of a cell is from the middle of the window, cells.
fn from_middle(at: usize, cells: usize) -> [f32; 2] {
    [at % cells, at / cells].map(|index| (index as f32 + 0.5 - cells as f32 / 2.0).abs())
}

fn share_inside(at: usize, cells: usize, half: [f32; 2]) -> f32 {
    let [across, down] = from_middle(at, cells);
    (0.5 - (across - half[0]).max(down - half[1])).clamp(0.0, 1.0)
}

/// The mean of a cell and its neighbours.
fn mean_around(chances: &[f32], cells: usize, at: usize) -> f32 {
    let near = |index: usize| index.saturating_sub(1)..(index + 2).min(cells);
    let (mut sum, mut count) = (0.0, 0.0);
    for y in near(at / cells) {
        for x in near(at % cells) {
            sum += chances[y * cells + x];
            count += 1.0;
        }
    }
    sum / count
}
