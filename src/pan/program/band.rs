/// Sub-diagonals of a band: a variable meets others at most two stages of three variables away.
pub(super) const WIDTH: usize = 6;

/// A symmetric matrix whose entries lie within [`WIDTH`] places of the diagonal.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Band {
    /// Row by row: the diagonal, then what is left of it, nearest first.
    rows: Vec<[f64; WIDTH + 1]>,
}

impl Band {
    /// A matrix of zeros.
    pub(super) fn zero(size: usize) -> Self {
        Self { rows: vec![[0.0; WIDTH + 1]; size] }
    }

    /// Makes every entry 0.
    pub(super) fn clear(&mut self) {
        self.rows.fill([0.0; WIDTH + 1]);
    }

    /// Adds to an entry and its mirror image.
    pub(super) fn add(&mut self, a: usize, b: usize, value: f64) {
        let (low, high) = (a.min(b), a.max(b));
        self.rows[high][high - low] += value;
    }

    /// Makes this matrix a copy of another of its size.
    pub(super) fn copy_from(&mut self, other: &Self) {
        self.rows.copy_from_slice(&other.rows);
    }

    /// Takes a variable out: its row and column become those of the identity.
    pub(super) fn isolate(&mut self, place: usize) {
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
