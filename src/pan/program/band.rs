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

    /// Makes every entry 0.
    pub(super) fn clear(&mut self) {
        self.rows.fill([0.0; WIDTH + 1]);
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

    /// Adds `factor × coefficients × coefficientsᵀ` at some variables in ascending order.
    pub(super) fn add_square<const K: usize>(
        &mut self,
        variables: [usize; K],
        coefficients: &[f64; K],
        factor: f64,
    ) {
        for (k, high) in variables.into_iter().enumerate() {
            let place = high.checked_sub(self.first);
            let Some(row) = place.and_then(|place| self.rows.get_mut(place)) else { continue };
            let scaled = factor * coefficients[k];
            for (low, coefficient) in variables.into_iter().zip(coefficients).take(k + 1) {
                if low >= self.first {
                    row[high - low] += scaled * coefficient;
                }
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
        for place in 0..self.rows.len() {
            let (before, rest) = self.rows.split_at_mut(place);
            let mut beyond = [[0.0; WIDTH + 1]; WIDTH];
            let near = before.last_chunk().unwrap_or_else(|| {
                beyond[WIDTH - place..].copy_from_slice(before);
                &beyond
            });
            let row = &mut rest[0];
            // Furthest first: each entry needs those further left, the newest last. Entries are L·D until they are divided.
            for away in (1..WIDTH).rev() {
                for further in (away + 1..=WIDTH).rev() {
                    row[away] -= row[further] * near[WIDTH - away][further - away];
                }
            }
            let (diagonal, mut pivot) = (row[0], row[0]);
            for away in 1..=WIDTH {
                let scaled = row[away] * near[WIDTH - away][0];
                pivot -= row[away] * scaled;
                row[away] = scaled;
            }
            row[0] = 1.0 / pivot.max(ROUNDING * diagonal).max(f64::MIN_POSITIVE);
        }
    }

    /// Solves for a right-hand side in place, with the matrix factored.
    pub(super) fn solve(&self, values: &mut [f64]) {
        let values = &mut values[self.variables()];
        // Nearest first: the variables before, then what the next ones have coming to them.
        let mut last = [0.0; WIDTH];
        for (row, value) in self.rows.iter().zip(values.iter_mut()) {
            let mut own = *value;
            // The newest last, so that the next need not wait for the others.
            for away in (1..=WIDTH).rev() {
                own -= row[away] * last[away - 1];
            }
            last.copy_within(..WIDTH - 1, 1);
            last[0] = own;
            *value = own;
        }
        let mut due = [0.0; WIDTH];
        for (row, value) in self.rows.iter().zip(values).rev() {
            let own = *value * row[0] - due[0];
            for away in 1..WIDTH {
                due[away - 1] = due[away] + row[away] * own;
            }
            due[WIDTH - 1] = row[WIDTH] * own;
            *value = own;
        }
    }
}

/// A matrix whose variables are eliminated from one end of it: what the outermost of them ask of the [`WIDTH`] next to
/// them, which is all that meets them, if they are where they cost least, whatever those do.
#[derive(Debug, Clone)]
pub(super) struct End {
    /// Of the variables from the outermost one inwards.
    factor: Band,
}

impl End {
    /// The front of a matrix that is factored.
    pub(super) const fn front(factor: Band) -> Self {
        Self { factor }
    }

    /// The back of a matrix, as far as is needed to eliminate at most so many variables.
    pub(super) fn back(matrix: &Band, most: usize) -> Self {
        let mut factor = Band::zero(0..matrix.rows.len().min(most + WIDTH));
        for (place, row) in factor.rows.iter_mut().enumerate() {
            let last = matrix.rows.len() - 1 - place;
            for (away, entry) in row.iter_mut().enumerate().take(place + 1) {
                *entry = matrix.rows[last + away][away];
            }
        }
        factor.factor();
        Self { factor }
    }

    /// What the outermost so many leave for those next to them: row by row, outermost first.
    pub(super) fn left(&self, count: usize) -> [[f64; WIDTH]; WIDTH] {
        // The lower right corner of L D Lᵀ, as far as it is factored, is what elimination leaves there.
        let lower = |row: usize, column: usize| match row.cmp(&column) {
            Ordering::Less => 0.0,
            Ordering::Equal => 1.0,
            Ordering::Greater => self.factor.rows[count + row][row - column],
        };
        let pivot = |place: usize| 1.0 / self.factor.rows[count + place][0];
        let entry = |row: usize, column: usize| -> f64 {
            (0..WIDTH).map(|k| lower(row, k) * pivot(k) * lower(column, k)).sum()
        };
        std::array::from_fn(|row| std::array::from_fn(|column| entry(row, column)))
    }

    /// How the outermost so many go along, from the outermost one inwards, with those next to them.
    pub(super) fn gone_along(&self, count: usize, beside: [f64; WIDTH]) -> Vec<f64> {
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
            let row: [f64; WIDTH + 1] = std::array::from_fn(entry);
            band.add_square(std::array::from_fn(|k| 100 + first + k), &row, stiffness);
            for a in 0..=WIDTH {
                for b in 0..=WIDTH {
                    full[first + a][first + b] += stiffness * row[a] * row[b];
                }
            }
        }
        for (place, row) in full.iter_mut().enumerate() {
            row[place] += 0.5;
            band.add_square([100 + place], &[1.0], 0.5);
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

    fn front(matrix: &Band) -> End {
        let mut factor = matrix.clone();
        factor.factor();
        End::front(factor)
    }

    #[test]
    fn what_an_end_leaves_is_what_elimination_leaves() {
        let (band, full) = matrix();
        let (front, back) = (front(&band).left(9), End::back(&band, 8).left(8));
        let without_front = eliminated(full.clone(), 0..9);
        let without_back = eliminated(full, SIZE - 8..SIZE);
        for row in 0..WIDTH {
            for column in 0..WIDTH {
                let last = SIZE - 9;
                for (left, wanted) in [
                    (front[row][column], without_front[9 + row][9 + column]),
                    (back[row][column], without_back[last - row][last - column]),
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
            let end = if is_back { End::back(&band, count) } else { front(&band) };
            let inwards: Vec<f64> =
                end.gone_along(count, beside).into_iter().chain(beside).collect();
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
        band.add_square([2, 3, 4, 5, 7], &[1.0; 5], 1.0);
        assert_eq!(band.rows[1][1], 1.0);
        let mut sum = vec![0.0; 8];
        band.add_product(&[1.0; 8], &mut sum);
        assert_eq!(sum, [0.0, 0.0, 0.0, 2.0, 2.0, 0.0, 0.0, 0.0]);
    }
}
