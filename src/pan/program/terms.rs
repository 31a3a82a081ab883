use super::{VARIABLES, band::Band};
use std::ops::Range;

/// How many variables on either side of a seam its rows can reach: those of two stages.
const REACH: usize = 2 * VARIABLES;

/// With what the rows that cross from one stage to the next pull at the two stages on either side: where one program
/// ends and another goes on, both have to say the same.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::pan) struct Seam {
    /// At the two stages before it.
    pub(in crate::pan) before: [f64; REACH],
    /// At the two stages after it.
    pub(in crate::pan) after: [f64; REACH],
}

/// How much pull a variable's own rows could take over at no cost, towards smaller and towards larger pulls: those
/// that are at their bound can have any multiplier between their slopes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::pan) struct Leeway {
    pub(in crate::pan) down: f64,
    pub(in crate::pan) up: f64,
}

/// What is left of the differences between two pulls at the same variables once their own rows have taken over what
/// they can.
pub(in crate::pan) fn unmet(
    old: &[f64; REACH],
    new: &[f64; REACH],
    leeway: [Leeway; REACH],
) -> f64 {
    (0..REACH)
        .map(|k| {
            let change = new[k] - old[k];
            if change > 0.0 {
                (change - leeway[k].down).max(0.0)
            } else {
                (-change - leeway[k].up).max(0.0)
            }
        })
        .sum()
}

/// Weighted sums of the same variables in many stages: `Σ coefficient × variable`.
///
/// A sum starts at a stage and reaches `K` variables at fixed distances from that stage's first one. Where every
/// sum has the same coefficients they are kept once.
#[derive(Debug, Clone)]
pub(super) struct Terms<const K: usize> {
    /// Distances from the first variable of the stage, ascending.
    pub(super) offsets: [usize; K],
    stages: Vec<u32>,
    coefficients: Vec<[f64; K]>,
}

impl<const K: usize> Terms<K> {
    pub(super) const fn at(offsets: [usize; K]) -> Self {
        Self { offsets, stages: Vec::new(), coefficients: Vec::new() }
    }

    pub(super) fn push(&mut self, stage: u32, coefficients: [f64; K]) {
        let count = self.stages.len();
        push_shared(&mut self.coefficients, count, coefficients);
        self.stages.push(stage);
    }

    /// The stage that a sum starts in.
    pub(super) fn stage(&self, row: usize) -> usize {
        self.stages[row] as usize
    }

    /// The sums that start in these stages. They are in order of their stages.
    pub(super) fn starting_in(&self, stages: &Range<usize>) -> Range<usize> {
        let before = |end: usize| self.stages.partition_point(|stage| (*stage as usize) < end);
        before(stages.start)..before(stages.end)
    }

    pub(super) const fn len(&self) -> usize {
        self.stages.len()
    }

    fn coefficients(&self, row: usize) -> &[f64; K] {
        shared(&self.coefficients, row)
    }

    fn first(&self, row: usize) -> usize {
        VARIABLES * self.stages[row] as usize
    }

    /// The sum at these values of all the variables.
    pub(super) fn value(&self, row: usize, values: &[f64]) -> f64 {
        let (first, coefficients) = (self.first(row), self.coefficients(row));
        let mut sum = 0.0;
        for k in 0..K {
            sum += coefficients[k] * values[first + self.offsets[k]];
        }
        sum
    }

    /// The sum of the coefficients' sizes.
    pub(super) fn size(&self, row: usize) -> f64 {
        self.coefficients(row).iter().map(|coefficient| coefficient.abs()).sum()
    }

    /// Adds `factor × coefficient` to the place of each of its variables.
    pub(super) fn scatter(&self, row: usize, factor: f64, sums: &mut [f64]) {
        let (first, coefficients) = (self.first(row), self.coefficients(row));
        for k in 0..K {
            sums[first + self.offsets[k]] += factor * coefficients[k];
        }
    }

    /// Adds to the leeway of a row's variable, if it has but one.
    pub(super) fn add_leeway(&self, row: usize, (down, up): (f64, f64), leeways: &mut [Leeway]) {
        if K > 1 {
            return;
        }
        let factor = self.coefficients(row)[0];
        let leeway = &mut leeways[self.first(row) + self.offsets[0]];
        let (down, up) = if factor < 0.0 { (up, down) } else { (down, up) };
        leeway.down += factor.abs() * down;
        leeway.up += factor.abs() * up;
    }

    /// Adds what a row of this force pulls with across each seam between stages that it crosses.
    pub(super) fn add_seams(&self, row: usize, force: f64, seams: &mut [Seam]) {
        let (first, coefficients) = (self.stages[row] as usize, self.coefficients(row));
        let last = first + self.offsets[K - 1] / VARIABLES;
        for (stage, seam) in seams.iter_mut().enumerate().take(last + 1).skip(first + 1) {
            for (offset, coefficient) in self.offsets.iter().zip(coefficients) {
                let place = offset + VARIABLES * first;
                match place.checked_sub(VARIABLES * stage) {
                    Some(after) => seam.after[after] += force * coefficient,
                    None => {
                        seam.before[place + REACH - VARIABLES * stage] += force * coefficient;
                    }
                }
            }
        }
    }

    /// Adds `factor × coefficient × coefficientᵀ`.
    pub(super) fn add_square(&self, row: usize, factor: f64, matrix: &mut Band) {
        let (first, coefficients) = (self.first(row), self.coefficients(row));
        matrix.add_square(self.offsets.map(|offset| first + offset), coefficients, factor);
    }
}

/// Adds a value to a list in which one value stands for all rows as long as they agree.
pub(super) fn push_shared<T: Copy + PartialEq>(list: &mut Vec<T>, count: usize, value: T) {
    match list[..] {
        [only] if only == value => {}
        [only] if count > 1 => {
            list.resize(count, only);
            list.push(value);
        }
        _ => list.push(value),
    }
}

/// The value of a row in such a list.
pub(super) fn shared<T>(list: &[T], row: usize) -> &T {
    if list.len() == 1 { &list[0] } else { &list[row] }
}
