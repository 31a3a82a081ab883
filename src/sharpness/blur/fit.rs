//! The spread of a blur over all directions, from edges that each tell one.

use std::f64::consts::PI;

/// One px of an edge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    /// The direction of its normal, in radians from across, clockwise as seen.
    pub(super) angle: f64,
    /// The variance of its blur along that.
    pub(super) px2: f64,
}

/// A blur's variance the way it is greatest and at right angles to that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    pub(super) most_px2: f64,
    pub(super) least_px2: f64,
    /// Where it is greatest, 0 to below 180.
    pub(super) degrees: f64,
}

/// Directions are told apart in so many steps of half a turn. Chosen.
const STEPS: usize = 8;
/// Fewer edges in a step say nothing of it. Chosen.
const LEAST_IN_STEP: usize = 4;
/// With fewer steps than these a fit of three numbers rests on chance; all directions are then taken to be alike. Chosen.
const LEAST_STEPS: usize = 5;

impl Spread {
    /// Of edges: in each step of directions the median counts, weighed by how many there are. The world has
    /// soft edges too, and of them the median makes the least error in ordering frames (measured against the lower
    /// quartile and the lowest seventh).
    pub(super) fn of(edges: &[Edge]) -> Option<Self> {
        let mut steps: Vec<Vec<f64>> = vec![Vec::new(); STEPS];
        for edge in edges {
            steps[step_of(edge.angle)].push(edge.px2);
        }
        let medians: Vec<(f64, f64, f64)> = steps
            .iter_mut()
            .enumerate()
            .filter(|(_, step)| step.len() >= LEAST_IN_STEP)
            .map(|(place, step)| (middle_of(place), median(step), weight_of(step.len())))
            .collect();
        if medians.len() >= LEAST_STEPS
            && let Some(spread) = Self::fitted(&medians)
        {
            return Some(spread);
        }
        let mut all: Vec<f64> = edges.iter().map(|edge| edge.px2).collect();
        let px2 = if all.is_empty() { return None } else { median(&mut all) };
        Some(Self { most_px2: px2, least_px2: px2, degrees: 0.0 })
    }

    /// The least squares of `mean + c·cos 2a + s·sin 2a`.
    fn fitted(medians: &[(f64, f64, f64)]) -> Option<Self> {
        let mut rows = [[0.0; 4]; 3];
        for (angle, px2, weight) in medians {
            let terms = [1.0, (2.0 * angle).cos(), (2.0 * angle).sin(), *px2];
            for (row, left) in rows.iter_mut().zip(terms) {
                for (sum, right) in row.iter_mut().zip(terms) {
                    *sum += weight * left * right;
                }
            }
        }
        let [mean, cosine, sine] = solved(rows)?;
        let half = cosine.hypot(sine);
        let degrees = (sine.atan2(cosine).to_degrees() / 2.0).rem_euclid(180.0);
        Some(Self { most_px2: (mean + half).max(0.0), least_px2: (mean - half).max(0.0), degrees })
    }

    pub(super) fn scaled(self, factor: f64) -> Self {
        Self {
            most_px2: factor * self.most_px2,
            least_px2: factor * self.least_px2,
            degrees: self.degrees,
        }
    }
}

#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a step's number is small and not below 0"
)]
fn step_of(angle: f64) -> usize {
    (angle.rem_euclid(PI) / PI * STEPS as f64) as usize % STEPS
}

#[expect(clippy::cast_precision_loss, reason = "a step's number is small")]
fn middle_of(step: usize) -> f64 {
    (step as f64 + 0.5) * PI / STEPS as f64
}

#[expect(clippy::cast_precision_loss, reason = "a picture has far fewer than 2^53 px")]
fn weight_of(count: usize) -> f64 {
    count as f64
}

/// The median; the list is not empty.
fn median(list: &mut [f64]) -> f64 {
    let middle = list.len() / 2;
    *list.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Three equations in three unknowns, by elimination; `None` if they do not tell them apart.
fn solved(mut rows: [[f64; 4]; 3]) -> Option<[f64; 3]> {
    const LEAST_PIVOT: f64 = 1e-9;
    for column in 0..3 {
        let best =
            (column..3).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, best);
        let pivot = rows[column][column];
        if pivot.abs() < LEAST_PIVOT {
            return None;
        }
        let pivot_row = rows[column].map(|value| value / pivot);
        rows[column] = pivot_row;
        for (_, row) in rows.iter_mut().enumerate().filter(|(place, _)| *place != column) {
            let factor = row[column];
            for (value, from) in row.iter_mut().zip(pivot_row) {
                *value -= factor * from;
            }
        }
    }
    Some([rows[0][3], rows[1][3], rows[2][3]])
}
