use std::{cmp::Ordering, ops::Range};

/// Sub-diagonals of a band: a variable meets others at most two stages of three variables away.
pub(super) const WIDTH: usize = 6;

/// A symmetric matrix whose entries lie within [`WIDTH`] places of the diagonal, for some variables in a row. What it is
/// told of others it passes over, and of vectors it uses the part that is its own.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    /// The first of the variables.
    first: usize,
    /// Row by row: the diagonal, then what is left of it, nearest first.
    rows: Vec<[f64; WIDTH + 1]>,
}

impl Band {
    /// A matrix of zeros for these variables.
    pub(super) fn zero(variables: Range<usize>) -> Self {
        Self { first: variables.start, rows: vec![[0.0; WIDTH + 1]; variables.len()] }
    }

    /// The variables.
    pub(super) const fn variables(&self) -> Range<usize> {
        self.first..self.first + self.rows.len()
    }

    /// The entry of two variables; both are its own.
    pub(super) fn entry(&self, a: usize, b: usize) -> f64 {
        let (low, high) = (a.min(b), a.max(b));
        if high - low > WIDTH { 0.0 } else { self.rows[high - self.first][high - low] }
    }

    /// Makes every entry 0.
    pub(super) fn clear(&mut self) {
        self.rows.fill([0.0; WIDTH + 1]);
    }

    /// Adds to an entry and its mirror image.
    pub(super) fn add(&mut self, a: usize, b: usize, value: f64) {
        let (low, high) = (a.min(b), a.max(b));
        if low >= self.first
            && let Some(row) = self.rows.get_mut(high - self.first)
        {
            row[high - low] += value;
        }
    }

    /// Makes an entry and its mirror image a value; both variables are its own.
    pub(super) fn set(&mut self, a: usize, b: usize, value: f64) {
        let (low, high) = (a.min(b), a.max(b));
        self.rows[high - self.first][high - low] = value;
    }

    /// Makes this matrix a copy of another of the same variables.
    pub(super) fn copy_from(&mut self, other: &Self) {
        self.rows.copy_from_slice(&other.rows);
    }

    /// Takes a variable out: its row and column become those of the identity.
    pub(super) fn isolate(&mut self, variable: usize) {
        let place = variable - self.first;
        self.rows[place] = [0.0; WIDTH + 1];
        self.rows[place][0] = 1.0;
        for away in 1..=WIDTH {
            if let Some(row) = self.rows.get_mut(place + away) {
                row[away] = 0.0;
            }
        }
    }

    /// Adds the matrix times a vector to another vector.
    pub(super) fn add_product(&self, vector: &[f64], sum: &mut [f64]) {
        let (vector, sum) = (&vector[self.variables()], &mut sum[self.variables()]);
        for (place, row) in self.rows.iter().enumerate() {
            let mut own = row[0] * vector[place];
            for away in 1..=WIDTH.min(place) {
                own += row[away] * vector[place - away];
                sum[place - away] += row[away] * vector[place];
            }
            sum[place] += own;
        }
    }

    /// Factors the matrix in place into `L D Lᵀ`, with the inverse of `D` on the diagonal and `L` left of it.
    ///
    /// A pivot of which rounding has left nothing is raised to what rounding is: the step that is computed is then
    /// shorter in that direction, and refinement makes up for it.
    pub(super) fn factor(&mut self) {
        /// Of the diagonal: some times what a sum of the stiffest rows loses.
        const ROUNDING: f64 = 1e-13;
        let size = self.rows.len();
        for place in 0..size {
            let (before, rest) = self.rows.split_at_mut(place);
            let row = &mut rest[0];
            let reach = WIDTH.min(place);
            // Furthest first: each entry needs those further left. Entries are L·D until they are divided.
            for away in (1..=reach).rev() {
                let column = &before[place - away];
                let mut value = row[away];
                for further in away + 1..=reach {
                    value -= row[further] * column[further - away];
                }
                row[away] = value;
            }
            let (diagonal, mut pivot) = (row[0], row[0]);
            for away in 1..=reach {
                let scaled = row[away] * before[place - away][0];
                pivot -= row[away] * scaled;
                row[away] = scaled;
            }
            row[0] = 1.0 / pivot.max(ROUNDING * diagonal).max(f64::MIN_POSITIVE);
        }
    }

    /// Solves for a right-hand side in place, with the matrix factored.
    pub(super) fn solve(&self, values: &mut [f64]) {
        let values = &mut values[self.variables()];
        for place in 0..self.rows.len() {
            let row = &self.rows[place];
            let mut value = values[place];
            for away in 1..=WIDTH.min(place) {
                value -= row[away] * values[place - away];
            }
            values[place] = value;
        }
        for place in (0..self.rows.len()).rev() {
            let row = &self.rows[place];
            let value = values[place] * row[0];
            values[place] = value;
        }
        for place in (0..self.rows.len()).rev() {
            let (row, value) = (&self.rows[place], values[place]);
            for away in 1..=WIDTH.min(place) {
                values[place - away] -= row[away] * value;
            }
        }
    }
}

/// The variables at an end of a matrix as what they ask of the [`WIDTH`] next to them, which is all that meets them: if
/// they are where they cost least, whatever those do.
#[derive(Debug, Clone)]
pub(super) struct End {
    /// Of the variables from the outermost one inwards, the ones next to them last.
    factor: Band,
    /// What is left for those: row by row, outermost first.
    left: [[f64; WIDTH]; WIDTH],
}

impl End {
    /// The first so many variables of a matrix.
    pub(super) fn front(matrix: &Band, count: usize) -> Self {
        Self::of(count, |place, other| matrix.entry(matrix.first + place, matrix.first + other))
    }

    /// The last so many.
    pub(super) fn back(matrix: &Band, count: usize) -> Self {
        let last = matrix.variables().end - 1;
        Self::of(count, |place, other| matrix.entry(last - place, last - other))
    }

    fn of(count: usize, entry: impl Fn(usize, usize) -> f64) -> Self {
        let mut factor = Band::zero(0..count + WIDTH);
        for place in 0..count + WIDTH {
            for away in 0..=WIDTH.min(place) {
                factor.rows[place][away] = entry(place, place - away);
            }
        }
        factor.factor();
        // The lower right corner of L D Lᵀ is what elimination leaves there.
        let lower = |row: usize, column: usize| match row.cmp(&column) {
            Ordering::Less => 0.0,
            Ordering::Equal => 1.0,
            Ordering::Greater => factor.rows[count + row][row - column],
        };
        let pivot = |place: usize| 1.0 / factor.rows[count + place][0];
        let entry = |row: usize, column: usize| -> f64 {
            (0..WIDTH).map(|k| lower(row, k) * pivot(k) * lower(column, k)).sum()
        };
        let left = std::array::from_fn(|row| std::array::from_fn(|column| entry(row, column)));
        Self { factor, left }
    }

    /// What is left for two of the variables next to the end, by their distance from it.
    pub(super) const fn left(&self, row: usize, column: usize) -> f64 {
        self.left[row][column]
    }

    /// How the variables of the end go along, from the outermost one inwards, with those next to it.
    pub(super) fn gone_along(&self, beside: [f64; WIDTH]) -> Vec<f64> {
        let count = self.factor.rows.len() - WIDTH;
        let mut moved = vec![0.0; count + WIDTH];
        moved[count..].copy_from_slice(&beside);
        // Only what reaches outwards: those beside are where they are.
        for place in (count..count + WIDTH).rev() {
            for away in place - count + 1..=WIDTH.min(place) {
                moved[place - away] -= self.factor.rows[place][away] * moved[place];
            }
        }
        for place in (0..count).rev() {
            for away in 1..=WIDTH.min(place) {
                moved[place - away] -= self.factor.rows[place][away] * moved[place];
            }
        }
        moved.truncate(count);
        moved
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: usize = 23;

    /// A matrix as a path's program has it, stiff in some places and hardly held in others, and the same with every entry.
    fn matrix() -> (Band, Vec<Vec<f64>>) {
        let mut band = Band::zero(100..100 + SIZE);
        let mut full = vec![vec![0.0; SIZE]; SIZE];
        for first in 0..SIZE - WIDTH {
            let stiffness = [1e-3, 2.0, 1e4][first % 3];
            let entry = |k: usize| f64::from(u8::try_from((first * 7 + k * 5) % 11).unwrap()) - 5.0;
            let row: Vec<f64> = (0..=WIDTH).map(entry).collect();
            for a in 0..=WIDTH {
                for b in 0..=WIDTH {
                    full[first + a][first + b] += stiffness * row[a] * row[b];
                    if b <= a {
                        band.add(100 + first + a, 100 + first + b, stiffness * row[a] * row[b]);
                    }
                }
            }
        }
        for (place, row) in full.iter_mut().enumerate() {
            row[place] += 0.5;
            band.add(100 + place, 100 + place, 0.5);
        }
        (band, full)
    }

    /// Elimination without any thought of bands, of the places that are not kept, one after the other.
    fn eliminated(mut full: Vec<Vec<f64>>, out: impl Iterator<Item = usize>) -> Vec<Vec<f64>> {
        for pivot in out {
            let row = full[pivot].clone();
            for (_, other) in full.iter_mut().enumerate().filter(|(other, _)| *other != pivot) {
                let factor = other[pivot] / row[pivot];
                for (entry, from) in other.iter_mut().zip(&row) {
                    *entry -= factor * from;
                }
            }
        }
        full
    }

    #[test]
    fn what_an_end_leaves_is_what_elimination_leaves() {
        let (band, full) = matrix();
        let (front, back) = (End::front(&band, 9), End::back(&band, 8));
        let without_front = eliminated(full.clone(), 0..9);
        let without_back = eliminated(full, SIZE - 8..SIZE);
        for row in 0..WIDTH {
            for column in 0..WIDTH {
                let last = SIZE - 9;
                for (left, wanted) in [
                    (front.left(row, column), without_front[9 + row][9 + column]),
                    (back.left(row, column), without_back[last - row][last - column]),
                ] {
                    assert!(
                        (left - wanted).abs() <= 1e-9 * wanted.abs().max(1.0),
                        "{left} {wanted}"
                    );
                }
            }
        }
    }

    #[test]
    fn an_end_goes_along_so_that_nothing_pulls_at_it() {
        let (band, full) = matrix();
        let beside = [3.0, -1.0, 0.5, 2.0, -4.0, 1.5];
        for (is_back, count) in [(false, 9), (true, 8)] {
            let end = if is_back { End::back(&band, count) } else { End::front(&band, count) };
            let inwards: Vec<f64> = end.gone_along(beside).into_iter().chain(beside).collect();
            assert_eq!(inwards.len(), count + WIDTH);
            let at = |place: usize| if is_back { SIZE - 1 - place } else { place };
            for row in 0..count {
                let pull: f64 =
                    inwards.iter().enumerate().map(|(k, moved)| full[at(row)][at(k)] * moved).sum();
                let size: f64 = full[at(row)].iter().map(|entry| entry.abs()).sum();
                assert!(pull.abs() <= 1e-10 * size, "{pull} at {row}");
            }
        }
    }

    #[test]
    fn a_matrix_of_some_variables_passes_over_the_others() {
        let mut band = Band::zero(3..5);
        for (a, b) in [(3, 3), (4, 3), (4, 4), (2, 3), (5, 4), (7, 7)] {
            band.add(a, b, 1.0);
        }
        assert_eq!(band.entry(4, 3), 1.0);
        let mut sum = vec![0.0; 8];
        band.add_product(&[1.0; 8], &mut sum);
        assert_eq!(sum, [0.0, 0.0, 0.0, 2.0, 2.0, 0.0, 0.0, 0.0]);
    }
}
