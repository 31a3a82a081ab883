use std::ops::Range;

/// Sub-diagonals of a band: a variable meets others at most two stages of three variables away.
pub(super) const WIDTH: usize = 6;

/// Entries of a row: the diagonal, then what is left of it, nearest first.
pub(super) const ROW: usize = WIDTH + 1;
pub(super) type Row = [f64; ROW];

/// A symmetric matrix whose entries lie within [`WIDTH`] places of the diagonal, for some variables in a row. What it is
/// told of others it passes over, and of vectors it uses the part that is its own.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    /// The first of the variables.
    first: usize,
    rows: Vec<Row>,
}

impl Band {
    /// A matrix of zeros for these variables.
    pub(super) fn zero(variables: Range<usize>) -> Self {
        Self { first: variables.start, rows: vec![[0.0; ROW]; variables.len()] }
    }

    /// The variables.
    pub(super) const fn variables(&self) -> Range<usize> {
        self.first..self.first + self.rows.len()
    }

    pub(super) fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Makes every entry 0.
    pub(super) fn clear(&mut self) {
        self.rows.fill([0.0; ROW]);
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
        self.rows[place] = [0.0; ROW];
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
        // What comes from the rows that follow is carried along, nearest row last, so that nothing is added to what was
        // only just stored.
        let mut due = [0.0; WIDTH];
        for (place, row) in self.rows.iter().enumerate().rev() {
            let mut own = row[0] * vector[place] + due[0];
            for away in 1..WIDTH {
                due[away - 1] = due[away] + row[away] * vector[place];
            }
            due[WIDTH - 1] = row[WIDTH] * vector[place];
            for away in 1..=WIDTH.min(place) {
                own += row[away] * vector[place - away];
            }
            sum[place] += own;
        }
    }
}

#[cfg(test)]
pub(super) mod testing {
    use super::*;

    /// A matrix as a path's program has it, stiff in some places and hardly held in others, and the same with every entry.
    pub(in super::super) fn matrix(variables: Range<usize>) -> (Band, Vec<Vec<f64>>) {
        let (first, size) = (variables.start, variables.len());
        let mut band = Band::zero(variables);
        let mut full = vec![vec![0.0; size]; size];
        for row in 0..size.saturating_sub(WIDTH) {
            let stiffness = [1e-3, 2.0, 1e4][row % 3];
            let entry = |k: usize| f64::from(u8::try_from((row * 7 + k * 5) % 11).unwrap()) - 5.0;
            let coefficients: Row = std::array::from_fn(entry);
            band.add_square(std::array::from_fn(|k| first + row + k), &coefficients, stiffness);
            for a in 0..=WIDTH {
                for b in 0..=WIDTH {
                    full[row + a][row + b] += stiffness * coefficients[a] * coefficients[b];
                }
            }
        }
        for (place, row) in full.iter_mut().enumerate() {
            row[place] += 0.5;
            band.add_square([first + place], &[1.0], 0.5);
        }
        (band, full)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_matrix_of_some_variables_passes_over_the_others() {
        let mut band = Band::zero(3..5);
        band.add_square([2, 3, 4, 5, 7], &[1.0; 5], 1.0);
        assert_eq!(band.rows[1][1], 1.0);
        let mut sum = vec![0.0; 8];
        band.add_product(&[1.0; 8], &mut sum);
        assert_eq!(sum, [0.0, 0.0, 0.0, 2.0, 2.0, 0.0, 0.0, 0.0]);
    }

    #[test]
    fn a_product_is_what_every_entry_makes_of_it() {
        for size in [1, 5, 6, 7, 23] {
            let (band, full) = testing::matrix(4..4 + size);
            let vector: Vec<f64> = (0..4 + size).map(|k| (k as f64 * 0.7).sin()).collect();
            let mut sum = vec![1.0; 4 + size];
            band.add_product(&vector, &mut sum);
            for (place, row) in full.iter().enumerate() {
                let product: f64 = row.iter().zip(&vector[4..]).map(|(a, b)| a * b).sum();
                let most: f64 = row.iter().map(|entry| entry.abs()).sum();
                assert!((sum[4 + place] - 1.0 - product).abs() <= 1e-14 * (1.0 + most));
            }
        }
    }
}
