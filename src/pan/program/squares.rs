use super::{
    band::Band,
    terms::{Seam, Terms, push_shared, shared},
};
use std::ops::Range;

/// Rows `½ weight (Σ coefficient × variable − target)²`.
///
/// The force `weight × (…)` is kept beside the values and not reckoned from them: at a weight of 1e11, as two
/// frames a hundredth of a millisecond apart have, it would be nothing but rounding.
#[derive(Debug, Clone)]
pub(super) struct Squares<const K: usize> {
    terms: Terms<K>,
    weights: Vec<f64>,
    targets: Vec<f64>,
    forces: Vec<f64>,
    steps: Vec<f64>,
}

impl<const K: usize> Squares<K> {
    pub(super) const fn at(offsets: [usize; K]) -> Self {
        Self {
            terms: Terms::at(offsets),
            weights: Vec::new(),
            targets: Vec::new(),
            forces: Vec::new(),
            steps: Vec::new(),
        }
    }

    pub(super) const fn offsets(&self) -> &[usize; K] {
        &self.terms.offsets
    }

    pub(super) fn push(&mut self, stage: u32, factors: [f64; K], target: f64, weight: f64) {
        let count = self.terms.len();
        push_shared(&mut self.weights, count, weight);
        push_shared(&mut self.targets, count, target);
        self.terms.push(stage, factors);
        self.forces.push(0.0);
        self.steps.push(0.0);
    }

    fn weight(&self, row: usize) -> f64 {
        *shared(&self.weights, row)
    }

    fn off(&self, row: usize, values: &[f64]) -> f64 {
        self.terms.value(row, values) - shared(&self.targets, row)
    }

    /// How far the values are from what the force says; nothing once that is rounding.
    fn residual(&self, row: usize, values: &[f64]) -> f64 {
        /// Of values of some thousand px, for each unit of a coefficient.
        const NOISE_PX: f64 = 3e-12;
        let residual = self.off(row, values) - self.forces[row] / self.weight(row);
        if residual.abs() < NOISE_PX * self.terms.size(row) { 0.0 } else { residual }
    }

    /// Takes the forces from the values.
    pub(super) fn begin(&mut self, values: &[f64]) {
        self.take_forces(0..self.terms.len(), values);
    }

    /// The same of rows that start in some stages. They have to be in the order of their stages.
    fn begin_in(&mut self, stages: &Range<usize>, values: &[f64]) {
        self.take_forces(self.terms.starting_in(stages), values);
    }

    fn take_forces(&mut self, rows: Range<usize>, values: &[f64]) {
        for row in rows {
            self.forces[row] = self.weight(row) * self.off(row, values);
        }
    }

    /// Adds the gradient, the curvature and the pull of the residuals; what the rows cost.
    pub(super) fn add_to(
        &self,
        values: &[f64],
        (gradient, pull): (&mut [f64], &mut [f64]),
        matrix: &mut Band,
    ) -> f64 {
        let mut cost = 0.0;
        for row in 0..self.terms.len() {
            let (force, weight) = (self.forces[row], self.weight(row));
            self.terms.scatter(row, force, gradient);
            self.terms.scatter(row, weight * self.residual(row, values), pull);
            self.terms.add_square(row, weight, matrix);
            cost += 0.5 * force * force / weight;
        }
        cost
    }

    /// Adds the gradient and the curvature of rows that start in some stages, the forces being taken from the values.
    fn add_in(&self, stages: &Range<usize>, gradient: &mut [f64], matrix: &mut Band) {
        for row in self.terms.starting_in(stages) {
            self.terms.scatter(row, self.forces[row], gradient);
            self.terms.add_square(row, self.weight(row), matrix);
        }
    }

    /// Adds the pull of the residuals alone.
    pub(super) fn add_pull(&self, values: &[f64], pull: &mut [f64]) {
        for row in 0..self.terms.len() {
            let pulled = self.weight(row) * self.residual(row, values);
            self.terms.scatter(row, pulled, pull);
        }
    }

    /// The change of the forces for a step of the values.
    pub(super) fn direct(&mut self, values: &[f64], step: &[f64]) {
        for row in 0..self.terms.len() {
            let moved = self.terms.value(row, step) + self.residual(row, values);
            self.steps[row] = self.weight(row) * moved;
        }
    }

    /// Goes along the direction.
    pub(super) fn advance(&mut self, share: f64) {
        for (force, step) in self.forces.iter_mut().zip(&self.steps) {
            *force += share * step;
        }
    }

    pub(super) fn add_seams(&self, seams: &mut [Seam]) {
        for (row, force) in self.forces.iter().enumerate() {
            self.terms.add_seams(row, *force, seams);
        }
    }
}

/// Squares by how many variables they have; what the method asks of them all.
#[derive(Debug, Clone, Default)]
pub(super) struct SquareFamilies {
    pub(super) of_three: Vec<Squares<3>>,
    pub(super) of_four: Vec<Squares<4>>,
}

impl SquareFamilies {
    /// See [`Squares::begin`].
    pub(super) fn begin(&mut self, values: &[f64]) {
        self.of_three.iter_mut().for_each(|squares| squares.begin(values));
        self.of_four.iter_mut().for_each(|squares| squares.begin(values));
    }

    /// See [`Squares::begin_in`].
    pub(super) fn begin_in(&mut self, stages: &Range<usize>, values: &[f64]) {
        self.of_three.iter_mut().for_each(|squares| squares.begin_in(stages, values));
        self.of_four.iter_mut().for_each(|squares| squares.begin_in(stages, values));
    }

    /// See [`Squares::add_in`].
    pub(super) fn add_in(&self, stages: &Range<usize>, gradient: &mut [f64], matrix: &mut Band) {
        self.of_three.iter().for_each(|squares| squares.add_in(stages, gradient, matrix));
        self.of_four.iter().for_each(|squares| squares.add_in(stages, gradient, matrix));
    }

    /// See [`Squares::add_to`].
    pub(super) fn add_to(
        &self,
        values: &[f64],
        (gradient, pull): (&mut [f64], &mut [f64]),
        matrix: &mut Band,
    ) -> f64 {
        let mut cost = 0.0;
        for squares in &self.of_three {
            cost += squares.add_to(values, (&mut *gradient, &mut *pull), matrix);
        }
        for squares in &self.of_four {
            cost += squares.add_to(values, (&mut *gradient, &mut *pull), matrix);
        }
        cost
    }

    /// See [`Squares::add_pull`].
    pub(super) fn add_pull(&self, values: &[f64], pull: &mut [f64]) {
        self.of_three.iter().for_each(|squares| squares.add_pull(values, pull));
        self.of_four.iter().for_each(|squares| squares.add_pull(values, pull));
    }

    /// See [`Squares::direct`].
    pub(super) fn direct(&mut self, values: &[f64], step: &[f64]) {
        self.of_three.iter_mut().for_each(|squares| squares.direct(values, step));
        self.of_four.iter_mut().for_each(|squares| squares.direct(values, step));
    }

    /// See [`Squares::advance`].
    pub(super) fn advance(&mut self, share: f64) {
        self.of_three.iter_mut().for_each(|squares| squares.advance(share));
        self.of_four.iter_mut().for_each(|squares| squares.advance(share));
    }

    pub(super) fn add_seams(&self, seams: &mut [Seam]) {
        self.of_three.iter().for_each(|squares| squares.add_seams(seams));
        self.of_four.iter().for_each(|squares| squares.add_seams(seams));
    }
}
