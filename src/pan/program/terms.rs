use super::{VARIABLES, band::Band};

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

    /// Adds `factor × coefficient` to the place of each of its variables.
    pub(super) fn scatter(&self, row: usize, factor: f64, sums: &mut [f64]) {
        let (first, coefficients) = (self.first(row), self.coefficients(row));
        for k in 0..K {
            sums[first + self.offsets[k]] += factor * coefficients[k];
        }
    }

    /// Adds `factor × coefficient × coefficientᵀ`.
    pub(super) fn add_square(&self, row: usize, factor: f64, matrix: &mut Band) {
        let (first, coefficients) = (self.first(row), self.coefficients(row));
        for k in 0..K {
            let scaled = factor * coefficients[k];
            for other in 0..=k {
                let (a, b) = (first + self.offsets[k], first + self.offsets[other]);
                matrix.add(a, b, scaled * coefficients[other]);
            }
        }
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
