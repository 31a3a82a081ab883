//! A banded matrix, eliminated from both of its ends to the middle.
//!
//! Elimination from one end is one long chain in which each variable waits for the one before it. From both ends it is two
//! chains that know nothing of each other until they meet, which a processor goes along at the same time. And each half is
//! what a part of a program needs to know of all that lies beyond it ([`super::part`]).

use super::band::{Band, ROW, Row, WIDTH};
use std::ops::Range;

/// Halves meet where this many variables of the front half are left: all that the back half meets.
const MEETING: usize = WIDTH;

/// Fewer variables than this are all in the front half: of fewer than two meetings in each half not enough would be left to
/// be eliminated at the same time.
const FEWEST_HALVED: usize = 4 * WIDTH;

/// `L D Lᵀ` of a [`Band`], its variables in the order in which they are eliminated: from the first one and from the last
/// one at once, then the last few of the front half.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    variables: Range<usize>,
    front: Half,
    /// Ends with what the front half's last variables have in the back half, nearest the back half first.
    back: Half,
}

impl Factor {
    /// Room for a matrix of these variables.
    pub(super) fn zero(variables: Range<usize>) -> Self {
        let middle = variables.len().midpoint(MEETING);
        Self::halved_at(variables, middle)
    }

    /// The same, the front half being of about so many variables.
    pub(super) fn halved_at(variables: Range<usize>, front: usize) -> Self {
        let count = variables.len();
        let is_halved = count >= FEWEST_HALVED;
        let front = if is_halved { front.clamp(2 * MEETING, count) } else { count };
        let back = if front < count { count - front + MEETING } else { 0 };
        Self { variables, front: Half::zero(front), back: Half::zero(back) }
    }

    /// Takes a matrix of its variables, and eliminates them.
    pub(super) fn take(&mut self, matrix: &Band) {
        let rows = matrix.rows();
        let (front, back) = (self.front.rows_mut(), self.back.rows_mut());
        let halved_at = front.len();
        front.copy_from_slice(&rows[..halved_at]);
        for (place, row) in back.iter_mut().enumerate() {
            let last = rows.len() - 1 - place;
            for (away, entry) in row.iter_mut().enumerate() {
                let other = last + away;
                // What the front half has in itself is its own.
                let is_of_back = other >= halved_at;
                *entry = if is_of_back && away <= place { rows[other][away] } else { 0.0 };
            }
        }
        self.eliminate();
    }

    /// How many of each half are eliminated before the halves meet.
    fn before_meeting(&self) -> (usize, usize) {
        match self.back.len().checked_sub(MEETING) {
            Some(back) => (self.front.len() - MEETING, back),
            None => (self.front.len(), 0),
        }
    }

    fn eliminate(&mut self) {
        let (front, back) = self.before_meeting();
        let both = front.min(back);
        for place in 0..both {
            eliminate(self.front.with_near(place));
            eliminate(self.back.with_near(place));
        }
        (both..front).for_each(|place| eliminate(self.front.with_near(place)));
        (both..back).for_each(|place| eliminate(self.back.with_near(place)));
        if back > 0 {
            let whole = self.meet();
            for (place, diagonal) in (front..).zip(whole) {
                eliminate_of(diagonal, self.front.with_near(place));
            }
        }
    }

    /// Leaves the front half what the back half asks of its last variables; the diagonal there as it was before.
    fn meet(&mut self) -> [f64; MEETING] {
        let (front, back) = (self.front.rows_mut(), self.back.len() - MEETING);
        let first = front.len() - MEETING;
        let whole = std::array::from_fn(|met| front[first + met][0]);
        for met in 0..MEETING {
            let left = eliminate_only_beyond(met, self.back.with_near(back + met));
            let place = front.len() - 1 - met;
            for (away, entry) in left.into_iter().enumerate().take(met + 1) {
                front[place + away][away] += entry;
            }
        }
        whole
    }

    /// Solves for a right-hand side in place: of a vector of all variables the part that is its own.
    pub(super) fn solve(&self, values: &mut [f64]) {
        let values = &mut values[self.variables.clone()];
        let (front, back) = self.before_meeting();
        let both = front.min(back);
        let count = values.len();
        let (mut ahead, mut behind) = ([0.0; WIDTH], [0.0; WIDTH]);
        for place in 0..both {
            take_off(self.front.row(place), &mut ahead, &mut values[place]);
            take_off(self.back.row(place), &mut behind, &mut values[count - 1 - place]);
        }
        for (place, value) in values.iter_mut().enumerate().take(front).skip(both) {
            take_off(self.front.row(place), &mut ahead, value);
        }
        for place in both..self.back.len() {
            take_off(self.back.row(place), &mut behind, &mut values[count - 1 - place]);
        }
        for (place, value) in values.iter_mut().enumerate().take(self.front.len()).skip(front) {
            take_off(self.front.row(place), &mut ahead, value);
        }
        (ahead, behind) = ([0.0; WIDTH], [0.0; WIDTH]);
        for place in (front..self.front.len()).rev() {
            put_back(self.front.row(place), &mut ahead, &mut values[place]);
        }
        for place in (back..self.back.len()).rev() {
            pass_on(self.back.row(place), &mut behind, values[count - 1 - place]);
        }
        for place in (both..front).rev() {
            put_back(self.front.row(place), &mut ahead, &mut values[place]);
        }
        for place in (both..back).rev() {
            put_back(self.back.row(place), &mut behind, &mut values[count - 1 - place]);
        }
        for place in (0..both).rev() {
            put_back(self.front.row(place), &mut ahead, &mut values[place]);
            put_back(self.back.row(place), &mut behind, &mut values[count - 1 - place]);
        }
    }

    /// What the first so many variables ask of the [`WIDTH`] next to them, if they are where they cost least whatever
    /// those do: row by row, from the outermost of these inwards. So many and twice [`WIDTH`] have to be in the front half.
    pub(super) fn left_by_first(&self, count: usize) -> [[f64; WIDTH]; WIDTH] {
        debug_assert!(count + 2 * WIDTH <= self.front.len(), "{count} first ones have met others");
        self.front.left(count)
    }

    /// The same of the last so many, which have to be in the back half with those next to them.
    pub(super) fn left_by_last(&self, count: usize) -> [[f64; WIDTH]; WIDTH] {
        debug_assert!(count + 2 * WIDTH <= self.back.len(), "{count} last ones have met others");
        self.back.left(count)
    }

    /// How the first so many variables go along with those next to them, from the outermost one inwards.
    pub(super) fn first_going_along(&self, count: usize, beside: [f64; WIDTH]) -> Vec<f64> {
        self.front.gone_along(count, beside)
    }

    /// The same of the last so many.
    pub(super) fn last_going_along(&self, count: usize, beside: [f64; WIDTH]) -> Vec<f64> {
        self.back.gone_along(count, beside)
    }
}

/// Variables from the outermost one inwards: of each the inverse of its pivot, then its row of `L`, nearest first.
#[derive(Debug, Clone)]
struct Half {
    /// With rows of nothing in front, so that the first ones have others before them.
    rows: Vec<Row>,
}

impl Half {
    fn zero(count: usize) -> Self {
        Self { rows: vec![[0.0; ROW]; WIDTH + count] }
    }

    fn len(&self) -> usize {
        self.rows.len() - WIDTH
    }

    fn row(&self, place: usize) -> &Row {
        &self.rows[WIDTH + place]
    }

    fn rows_mut(&mut self) -> &mut [Row] {
        &mut self.rows[WIDTH..]
    }

    /// A row after those that are near enough to meet it.
    fn with_near(&mut self, place: usize) -> &mut [Row] {
        &mut self.rows[place..=place + WIDTH]
    }

    fn left(&self, count: usize) -> [[f64; WIDTH]; WIDTH] {
        // The lower right corner of L D Lᵀ, as far as it is eliminated, is what elimination leaves there.
        let lower = |row: usize, column: usize| match row.checked_sub(column) {
            None => 0.0,
            Some(0) => 1.0,
            Some(away) => self.row(count + row)[away],
        };
        let pivot = |place: usize| 1.0 / self.row(count + place)[0];
        let entry = |row: usize, column: usize| -> f64 {
            (0..WIDTH).map(|k| lower(row, k) * pivot(k) * lower(column, k)).sum()
        };
        std::array::from_fn(|row| std::array::from_fn(|column| entry(row, column)))
    }

    fn gone_along(&self, count: usize, beside: [f64; WIDTH]) -> Vec<f64> {
        let mut moved = vec![0.0; count + WIDTH];
        moved[count..].copy_from_slice(&beside);
        // Only what reaches outwards: those beside are where they are.
        for place in (count..count + WIDTH).rev() {
            for away in place - count + 1..=WIDTH.min(place) {
                moved[place - away] -= self.row(place)[away] * moved[place];
            }
        }
        for place in (0..count).rev() {
            for away in 1..=WIDTH.min(place) {
                moved[place - away] -= self.row(place)[away] * moved[place];
            }
        }
        moved.truncate(count);
        moved
    }
}

/// Eliminates the last of some rows, those before it being eliminated.
///
/// A pivot of which rounding has left nothing is raised to what rounding is: the step that is computed is then shorter in
/// that direction, and refinement makes up for it.
fn eliminate(rows: &mut [Row]) {
    let diagonal = rows.last().map_or(0.0, |row| row[0]);
    eliminate_of(diagonal, rows);
}

/// The same of a row whose diagonal was this before anything was taken off it.
fn eliminate_of(diagonal: f64, rows: &mut [Row]) {
    /// Of the diagonal: some times what a sum of the stiffest rows loses.
    const ROUNDING: f64 = 1e-13;
    let Some([near @ .., row]) = rows.first_chunk_mut::<ROW>() else { return };
    // Furthest first: each entry needs those further left, the newest last. Entries are L·D until they are divided.
    for away in (1..WIDTH).rev() {
        for further in (away + 1..=WIDTH).rev() {
            row[away] -= row[further] * near[WIDTH - away][further - away];
        }
    }
    let mut pivot = row[0];
    for away in 1..=WIDTH {
        let scaled = row[away] * near[WIDTH - away][0];
        pivot -= row[away] * scaled;
        row[away] = scaled;
    }
    row[0] = 1.0 / pivot.max(ROUNDING * diagonal).max(f64::MIN_POSITIVE);
}

/// Eliminates of the last of some rows what lies beyond so many of those before it, and returns what that leaves of the
/// others.
fn eliminate_only_beyond(kept: usize, rows: &mut [Row]) -> Row {
    let mut left = [0.0; ROW];
    let Some([near @ .., row]) = rows.first_chunk_mut::<ROW>() else { return left };
    for away in (1..=WIDTH).rev() {
        for further in (away.max(kept) + 1..=WIDTH).rev() {
            row[away] -= row[further] * near[WIDTH - away][further - away];
        }
    }
    for away in kept + 1..=WIDTH {
        let scaled = row[away] * near[WIDTH - away][0];
        row[0] -= row[away] * scaled;
        row[away] = scaled;
    }
    left[..=kept].copy_from_slice(&row[..=kept]);
    row[..=kept].fill(0.0);
    left
}

/// Takes off a value what the variables before it have in it. `last` are those, nearest first.
fn take_off(row: &Row, last: &mut [f64; WIDTH], value: &mut f64) {
    // The newest last, so that the next need not wait for the others.
    for away in (1..=WIDTH).rev() {
        *value -= row[away] * last[away - 1];
    }
    // Not as a copy within the list: that would go through memory, and wait for it.
    let [nearest, second, third, fourth, fifth, _] = *last;
    *last = [*value, nearest, second, third, fourth, fifth];
}

/// Turns a value into the solution, and passes on what it has in the variables before it. `due` is what those have coming to
/// them, nearest first.
fn put_back(row: &Row, due: &mut [f64; WIDTH], value: &mut f64) {
    *value = *value * row[0] - due[0];
    pass_on(row, due, *value);
}

fn pass_on(row: &Row, due: &mut [f64; WIDTH], solved: f64) {
    for away in 1..WIDTH {
        due[away - 1] = due[away] + row[away] * solved;
    }
    due[WIDTH - 1] = row[WIDTH] * solved;
}

#[cfg(test)]
mod tests {
    use super::{super::band::testing::matrix, *};

    const SIZE: usize = 53;

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

    fn factor_of(matrix: &Band, front: usize) -> Factor {
        let mut factor = Factor::halved_at(matrix.variables(), front);
        factor.take(matrix);
        factor
    }

    /// Halves of every length, and none.
    #[test]
    fn a_solution_makes_the_right_hand_side() {
        for size in [1, 6, 13, 23, 24, 25, SIZE] {
            let (band, full) = matrix(100..100 + size);
            for front in 0..=size {
                let right: Vec<f64> = (0..size).map(|k| (k as f64).cos()).collect();
                let mut values = vec![7.0; 100 + size + 3];
                values[100..100 + size].copy_from_slice(&right);
                factor_of(&band, front).solve(&mut values);
                let solved = &values[100..100 + size];
                for (row, right) in full.iter().zip(&right) {
                    let made: f64 = row.iter().zip(solved).map(|(a, b)| a * b).sum();
                    let most: f64 = row.iter().zip(solved).map(|(a, b)| (a * b).abs()).sum();
                    assert!((made - right).abs() <= 1e-12 * (1.0 + most), "{size} {front}");
                }
                let others = values[..100].iter().chain(&values[100 + size..]);
                assert!(others.into_iter().all(|value| *value == 7.0));
            }
        }
    }

    /// Where the halves meet, a tie that is so stiff that rounding leaves nothing of what else holds its ends.
    #[test]
    fn a_tie_across_the_meeting_leaves_pivots_that_are_numbers() {
        for stiffness in [1e9, 1e11, 1e14] {
            for seed in 0..20 {
                let mut band = Band::zero(0..60);
                for place in 0..60_u32 {
                    band.add_square(
                        [place as usize],
                        &[1.0],
                        1e-5 * f64::from(1 + (seed + place) % 7),
                    );
                }
                let tie = [1.0, 0.3, 0.7, -1.1, 0.2, -0.9].map(|k| k + 0.01 * f64::from(seed));
                band.add_square([30, 31, 32, 33, 34, 35], &tie, stiffness);
                let mut values: Vec<f64> = (0..60).map(|k| f64::from(k).sin()).collect();
                factor_of(&band, 33).solve(&mut values);
                let most = values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
                assert!(most < 1e7, "{stiffness} {seed}: {most}");
            }
        }
    }

    #[test]
    fn what_outer_variables_leave_is_what_elimination_leaves() {
        let (band, full) = matrix(100..100 + SIZE);
        let factor = factor_of(&band, 27);
        let (first, last) = (factor.left_by_first(9), factor.left_by_last(8));
        let without_first = eliminated(full.clone(), 0..9);
        let without_last = eliminated(full, SIZE - 8..SIZE);
        for row in 0..WIDTH {
            for column in 0..WIDTH {
                let end = SIZE - 9;
                for (left, wanted) in [
                    (first[row][column], without_first[9 + row][9 + column]),
                    (last[row][column], without_last[end - row][end - column]),
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
    fn outer_variables_go_along_so_that_nothing_pulls_at_them() {
        let (band, full) = matrix(100..100 + SIZE);
        let factor = factor_of(&band, 27);
        let beside = [3.0, -1.0, 0.5, 2.0, -4.0, 1.5];
        for (is_last, count) in [(false, 9), (true, 8)] {
            let along = if is_last {
                factor.last_going_along(count, beside)
            } else {
                factor.first_going_along(count, beside)
            };
            let inwards: Vec<f64> = along.into_iter().chain(beside).collect();
            assert_eq!(inwards.len(), count + WIDTH);
            let at = |place: usize| if is_last { SIZE - 1 - place } else { place };
            for row in 0..count {
                let pull: f64 =
                    inwards.iter().enumerate().map(|(k, moved)| full[at(row)][at(k)] * moved).sum();
                let size: f64 = full[at(row)].iter().map(|entry| entry.abs()).sum();
                assert!(pull.abs() <= 1e-10 * size, "{pull} at {row}");
            }
        }
    }
}
