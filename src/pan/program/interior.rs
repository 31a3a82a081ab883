//! The interior-point method: primal–dual, predictor–corrector, on a banded system.
//!
//! To be read beside "On the Implementation of a Primal-Dual Interior Point Method" (SIAM Journal on Optimization
//! 2(4), 1992), whose steps these are: an affine step to see how far one can go, the centring that this suggests,
//! and one corrected step with the same factors (equations from memory, held by tests against other solvers). Two
//! things are particular here. First, every multiplier lies between two slopes ([`super::rows`]), limits
//! included, so that a start always exists and contradicting limits end in a path that breaks one, not in a failure.
//! Second, with the multipliers eliminated the Newton system is `(H + Aᵀ D⁻¹ A) Δz = …`, which is as narrow as the
//! program: work and memory grow with the number of stages.
//!
//! An answer is checked and not believed: for multipliers within their slopes and `∇ = Hz + Aᵀy`, no values within
//! R of these can cost less than these by more than `gap + R Σ|∇|`.

use super::{
    Families, Leeway, Program, Seam, SquareFamilies, VARIABLES,
    band::Band,
    factor::Factor,
    rows::{Begun, Exactness, Moved, Reach, Sums},
    state::{Shares, Tightest},
};
use std::ops::Range;

/// How a program ended.
#[derive(Debug, Clone)]
pub(in crate::pan) struct Solution {
    /// The best values of the variables.
    pub(in crate::pan) values: Vec<f64>,
    /// By how much, in px, the most broken limit is broken: 0 but for rounding unless limits contradict each other.
    pub(in crate::pan) broken_px: f64,
    /// Whether it is proven that the limits contradict each other.
    pub(in crate::pan) is_contradiction: bool,
    /// What the values cost, in px.
    pub(in crate::pan) cost_px: f64,
    /// What the values may cost more than the best ones, in px.
    pub(in crate::pan) gap_px: f64,
    /// The pulls across the seam before each stage.
    pub(in crate::pan) seams: Vec<Seam>,
    /// The leeway of each variable.
    pub(in crate::pan) leeways: Vec<Leeway>,
    /// Whether the gap came below what was asked for.
    pub(in crate::pan) is_optimal: bool,
}

/// The gap that is asked for, as a share of the cost, and the floor that is added for costs of 0.
const RELATIVE_GAP: f64 = 1e-9;
const GAP_FLOOR_PX: f64 = 1e-6;

/// The largest component of the gradient that counts as none, and what rounding leaves for each unit of the largest
/// multiplier.
const GRADIENT_NOISE: f64 = 1e-6;
const GRADIENT_ROUNDING: f64 = 1e-10;

/// The gap that is taken where rounding lets no step come nearer, its floor, and the gradient that counts as none there:
/// still far below anything that shows.
const NEAR_GAP: f64 = 1e-6;
const NEAR_FLOOR_PX: f64 = 1e-4;
const NEAR_GRADIENT_NOISE: f64 = 5e-5;

/// Far more than was ever needed (at most about 60): what is best then is returned and said not to be optimal.
pub(super) const MOST_STEPS: u32 = 150;

/// So many steps without a gap that is smaller by a tenth are in vain.
const STEPS_IN_VAIN: u32 = 30;

/// The μ to start with, in px for a unit of the steepest slope. Chosen: a tenth and ten times as much take as many
/// steps.
const START_PX: f64 = 250.0;

/// How near a step may come to the boundary.
const INSIDE: f64 = 0.995;

/// A step of a part of which less than this can be gone is gone in two: the values as far as they can, and the multipliers
/// as far as they can. Those of a few rows that will be at their slope would hold up everything else for many steps.
/// (With one step for both the pull of squares and resting rows goes along exactly; with two some of it is left for the
/// next step.) Chosen by trying.
const LONG: f64 = 0.85;

/// A limit broken by less than this is kept: it is what rounding leaves.
pub(in crate::pan) const KEPT_PX: f64 = 1e-6;

/// What the variables at work meet that is at rest: how stiff it is, and what it pulls with.
pub(super) struct Base {
    pub(super) matrix: Band,
    pub(super) gradient: Vec<f64>,
}

/// The best values so far.
struct Best {
    values: Vec<f64>,
    cost_px: f64,
    /// What they may cost more than the best ones.
    gap_px: f64,
    /// Whether the gradient was 0 there but for rounding: a gap proves nothing without that.
    is_flat: bool,
    /// The step at which they were found.
    at_step: u32,
}

impl Best {
    /// Nothing yet but where the method starts.
    fn of(start: &[f64]) -> Self {
        let (cost_px, gap_px) = (f64::INFINITY, f64::INFINITY);
        Self { values: start.to_vec(), cost_px, gap_px, is_flat: false, at_step: 0 }
    }

    /// Takes values that are better: proven where nothing was so far, or with a gap that is smaller by a tenth.
    fn note(&mut self, step: u32, (gap_px, cost_px, is_flat): (f64, f64, bool), values: &[f64]) {
        let is_proof = is_flat && !self.is_flat;
        if is_proof || (is_flat == self.is_flat && gap_px < 0.9 * self.gap_px) {
            values.clone_into(&mut self.values);
            (self.cost_px, self.gap_px, self.is_flat) = (cost_px, gap_px, is_flat);
            self.at_step = step;
        }
    }

    /// The gap may grow at first, while the limits are being reached.
    const fn is_stalled(&self, step: u32) -> bool {
        step - self.at_step >= STEPS_IN_VAIN
    }
}

/// The method on one program or on some stages of it, with room for its vectors.
pub(super) struct Method<'p> {
    pub(super) program: &'p Program,
    pub(super) rows: Families,
    pub(super) squares: SquareFamilies,
    pub(super) values: Vec<f64>,
    /// What the part that is at work meets, if not all of the program is.
    pub(super) base: Option<Base>,
    /// Of the variables that are at work.
    pub(super) matrix: Band,
    pub(super) factor: Factor,
    pub(super) gradient: Vec<f64>,
    pull: Vec<f64>,
    pub(super) step: Vec<f64>,
    /// How far the values have moved by steps, exact where the values themselves have rounded.
    pub(super) moved: Vec<f64>,
    spare: Vec<f64>,
}

impl<'p> Method<'p> {
    /// Where the program says, with all rows at work.
    pub(super) fn of(program: &'p Program, mut rows: Families) -> Self {
        let size = program.values.len();
        rows.each_mut().for_each(|rows| rows.put_all_to_work());
        let (factor, matrix) = (Factor::zero(0..size), Band::zero(0..size));
        let both = (rows, program.squares.clone());
        Self { factor, ..Self::at(program, both, program.values.clone(), matrix) }
    }

    /// At these values, with all rows resting and this matrix of all variables.
    pub(super) fn resting(
        program: &'p Program,
        (mut rows, squares): (Families, SquareFamilies),
        values: Vec<f64>,
        matrix: Band,
    ) -> Self {
        rows.each_mut().for_each(|rows| rows.rest());
        Self::at(program, (rows, squares), values, matrix)
    }

    fn at(
        program: &'p Program,
        (rows, squares): (Families, SquareFamilies),
        values: Vec<f64>,
        matrix: Band,
    ) -> Self {
        let size = values.len();
        Self {
            base: None,
            program,
            rows,
            squares,
            values,
            matrix,
            factor: Factor::zero(0..0),
            gradient: vec![0.0; size],
            pull: vec![0.0; size],
            step: vec![0.0; size],
            moved: vec![0.0; size],
            spare: vec![0.0; size],
        }
    }

    pub(super) fn run(&mut self) -> Solution {
        self.run_within(MOST_STEPS)
    }

    /// The same with another limit of steps.
    pub(super) fn run_within(&mut self, most_steps: u32) -> Solution {
        let values = &self.values;
        let start = START_PX * self.steepest();
        self.rows.each_mut().for_each(|rows| rows.centre(values, start));
        self.squares.begin(values);
        let (mut steps, mut best) = (0, Best::of(&self.values));
        loop {
            let (sums, cost_px) = self.begin();
            if !self.is_finite(cost_px) {
                return self.broken_off(best);
            }
            let enough = RELATIVE_GAP * cost_px.abs() + GAP_FLOOR_PX;
            if sums.gap <= enough && self.is_flat(&sums, GRADIENT_NOISE) {
                return self.solution(cost_px, sums.gap);
            }
            let is_flat = self.is_flat(&sums, NEAR_GRADIENT_NOISE);
            best.note(steps, (sums.gap, cost_px, is_flat), &self.values);
            if steps >= most_steps || best.is_stalled(steps) {
                return self.broken_off(best);
            }
            self.step(sums, enough);
            steps += 1;
        }
    }

    /// Whether nothing has come to be no number: where limits contradict each other by far, rows get stiffer than numbers
    /// can tell. Largest and least of such values would pass it over.
    fn is_finite(&self, cost_px: f64) -> bool {
        cost_px.is_finite()
            && [&self.values, &self.gradient].iter().all(|list| list.iter().all(|v| v.is_finite()))
    }

    /// The best so far. It is proven to be the best of all only with a gradient of 0 and next to no gap. No cost is below 0,
    /// so that nothing costs more than the best by more than all it costs.
    fn broken_off(&mut self, best: Best) -> Solution {
        self.values = best.values;
        let near = NEAR_GAP * best.cost_px.abs() + NEAR_FLOOR_PX;
        let is_optimal = best.is_flat && best.gap_px <= near;
        let gap_px = if best.is_flat { best.gap_px.min(best.cost_px) } else { best.cost_px };
        Solution { is_optimal, ..self.solution(best.cost_px, gap_px) }
    }

    /// What values cost, px.
    pub(super) fn cost_of(&mut self, values: &[f64]) -> f64 {
        values.clone_into(&mut self.values);
        self.rows.each_mut().for_each(|rows| rows.centre(values, START_PX));
        self.squares.begin(values);
        self.begin().1
    }

    /// The steepest slope of rows that may be paid for, at least 1.
    pub(super) fn steepest(&self) -> f64 {
        self.rows.each().map(|rows| rows.steepest()).fold(1.0, f64::max)
    }

    /// Whether the gradient is 0 but for rounding.
    pub(super) fn is_flat(&self, sums: &Sums, noise: f64) -> bool {
        let gradient = &self.gradient[self.matrix.variables()];
        let steepest = gradient.iter().fold(0.0_f64, |most, g| most.max(g.abs()));
        steepest <= noise + GRADIENT_ROUNDING * sums.largest_multiplier
    }

    pub(super) fn solution(&mut self, cost_px: f64, gap_px: f64) -> Solution {
        Solution {
            broken_px: self.broken_px(),
            is_contradiction: false,
            seams: self.seams(),
            leeways: self.leeways(),
            values: std::mem::take(&mut self.values),
            cost_px,
            gap_px,
            is_optimal: true,
        }
    }

    fn seams(&self) -> Vec<Seam> {
        let mut seams = vec![Seam::default(); self.values.len() / VARIABLES];
        self.squares.add_seams(&mut seams);
        self.rows.each().for_each(|rows| rows.add_seams(&mut seams));
        seams
    }

    fn leeways(&self) -> Vec<Leeway> {
        let mut leeways = vec![Leeway::default(); self.values.len()];
        self.rows.each().for_each(|rows| rows.add_leeways(&self.values, &mut leeways));
        leeways
    }

    /// By how much the most broken limit is broken.
    pub(super) fn broken_px(&self) -> f64 {
        let kept = self.program.rows.each().filter(|rows| rows.is_kept());
        kept.map(|rows| rows.worst_beyond(&self.values)).fold(0.0, f64::max)
    }

    /// The sums, the gradient and the matrix at the present place.
    pub(super) fn begin(&mut self) -> (Sums, f64) {
        let begun = self.begin_with_fixed(Exactness::AT_WORK);
        self.isolate_fixed();
        begun
    }

    /// The same with what fixed variables would be pulled with.
    pub(super) fn begin_with_fixed(&mut self, exactness: Exactness) -> (Sums, f64) {
        let variables = self.matrix.variables();
        self.pull[variables.clone()].fill(0.0);
        let cost = if let Some(base) = &self.base {
            self.matrix.copy_from(&base.matrix);
            self.gradient[variables.clone()].copy_from_slice(&base.gradient[variables]);
            0.0
        } else {
            self.matrix.clear();
            self.gradient.fill(0.0);
            let sums = (&mut self.gradient[..], &mut self.pull[..]);
            self.squares.add_to(&self.values, sums, &mut self.matrix)
        };
        let mut at = Begun {
            matrix: &mut self.matrix,
            gradient: &mut self.gradient,
            pull: &mut self.pull,
            exactness,
        };
        let sums = self
            .rows
            .each()
            .map(|rows| rows.begin(&self.values, &mut at))
            .fold(Sums::default(), Sums::and);
        (sums, cost + sums.cost)
    }

    /// Goes on with some variables alone, and with what squares and the resting rows of these stages ask of them.
    pub(super) fn put_on(&mut self, variables: Range<usize>, stages: Range<usize>) {
        self.matrix = Band::zero(variables.clone());
        self.factor = Factor::zero(variables);
        self.gradient.fill(0.0);
        self.squares.begin_in(&stages, &self.values);
        self.squares.add_in(&stages, &mut self.gradient, &mut self.matrix);
        let mut at = Begun {
            matrix: &mut self.matrix,
            gradient: &mut self.gradient,
            pull: &mut self.pull,
            exactness: Exactness::AT_REST,
        };
        self.rows.each().for_each(|rows| rows.begin_resting(&self.moved, &stages, &mut at));
        self.isolate_fixed();
        self.base = Some(Base { matrix: self.matrix.clone(), gradient: self.gradient.clone() });
    }

    /// Has resting rows end where the values have moved to.
    pub(super) fn settle_resting(&mut self) {
        let moved = Moved::by(&self.moved);
        self.rows.each_mut().for_each(|rows| rows.settle_resting(&moved));
    }

    /// Goes on with all variables and all rows.
    pub(super) fn put_all_to_work(&mut self) {
        self.rows.each_mut().for_each(|rows| rows.put_all_to_work());
        self.base = None;
        self.matrix = Band::zero(0..self.values.len());
        self.squares.begin(&self.values);
    }

    /// Takes fixed variables out of the matrix and the gradient.
    pub(super) fn isolate_fixed(&mut self) {
        isolate(&self.program.is_fixed, &mut self.matrix, &mut self.gradient);
    }

    /// Takes what fixed variables are pulled with out of the gradient.
    pub(super) fn let_fixed_be(&mut self) {
        for (gradient, is_fixed) in self.gradient.iter_mut().zip(&self.program.is_fixed) {
            if *is_fixed {
                *gradient = 0.0;
            }
        }
    }

    /// One step: predict, correct, go.
    pub(super) fn step(&mut self, sums: Sums, enough: f64) {
        self.factor.take(&self.matrix);
        self.solve_for_newton_step();
        let (values, step) = (&self.values, &self.step);
        let reach = self
            .rows
            .each_mut()
            .map(|rows| rows.predict(values, step))
            .fold(Reach::default(), Reach::and);
        let share = 1.0_f64.min(1.0 / reach.tightest);
        let predicted = (1.0 - share) * sums.products + share * share * reach.bent;
        let centring = (predicted / sums.products).clamp(0.0, 1.0).powi(3);
        // Products far below what is asked for would only make the rows stiffer than numbers can tell.
        let target = (centring * sums.products).max(0.01 * enough) / sums.count;
        let variables = self.matrix.variables();
        self.pull[variables.clone()].fill(0.0);
        if self.base.is_none() {
            self.squares.add_pull(&self.values, &mut self.pull);
        }
        for rows in self.rows.each_mut() {
            rows.correct(&self.values, target, &mut self.pull);
        }
        self.solve_for_newton_step();
        let (values, step) = (&self.values, &self.step);
        let each = self.rows.each_mut().map(|rows| rows.direct(values, step));
        let tightest = each.fold(Tightest::default(), Tightest::and);
        if self.base.is_none() {
            self.squares.direct(values, step);
        }
        let shares = self.shares(tightest);
        for variable in variables {
            self.step[variable] *= shares.values;
            self.values[variable] += self.step[variable];
            self.moved[variable] += self.step[variable];
        }
        self.rows.each_mut().for_each(|rows| rows.advance(shares));
        match &mut self.base {
            None => self.squares.advance(shares.values),
            Some(base) => base.matrix.add_product(&self.step, &mut base.gradient),
        }
    }

    /// How much of a direction is gone.
    fn shares(&self, tightest: Tightest) -> Shares {
        let longest = |tightest: f64| 1.0_f64.min(INSIDE / tightest);
        let common = longest(tightest.common());
        if self.base.is_none() || common > LONG {
            return Shares::common(common);
        }
        let (values, multipliers) = (longest(tightest.values), longest(tightest.multipliers));
        Shares { values, multipliers }
    }

    /// Has rows of a part rest again that are far off their bounds.
    pub(super) fn let_far_rest(&mut self) {
        let Some(base) = &mut self.base else { return };
        let mut at = Begun {
            matrix: &mut base.matrix,
            gradient: &mut base.gradient,
            pull: &mut self.pull,
            exactness: Exactness::AT_REST,
        };
        for rows in self.rows.each_mut() {
            rows.rest_again(&self.moved, &self.step, &mut at);
        }
        isolate(&self.program.is_fixed, &mut base.matrix, &mut base.gradient);
    }

    /// Solves for the step, refined unless a part is solved: what rounding leaves of a step there shows in the gradient, the
    /// next one takes it off (there are no more steps for it), and the end is held against the whole program.
    fn solve_for_newton_step(&mut self) {
        if self.base.is_none() {
            self.solve_for_step();
        } else {
            self.solve_roughly();
        }
    }

    /// Solves for the step that takes the gradient and the pull off.
    pub(super) fn solve_roughly(&mut self) {
        self.set_wanted();
        self.factor.solve(&mut self.step);
    }

    /// What a step has to take off.
    fn set_wanted(&mut self) {
        for variable in self.matrix.variables() {
            let is_fixed = self.program.is_fixed[variable];
            let wanted = -self.gradient[variable] - self.pull[variable];
            self.step[variable] = if is_fixed { 0.0 } else { wanted };
        }
    }

    /// The same, refined once.
    fn solve_for_step(&mut self) {
        let variables = self.matrix.variables();
        self.set_wanted();
        for variable in variables.clone() {
            self.spare[variable] = -self.step[variable];
        }
        self.factor.solve(&mut self.step);
        // What rounding in the factors left of the right-hand side is solved for again.
        self.matrix.add_product(&self.step, &mut self.spare);
        self.factor.solve(&mut self.spare);
        for variable in variables {
            self.step[variable] -= self.spare[variable];
        }
    }
}

/// Takes fixed variables out of a matrix and a gradient.
fn isolate(is_fixed: &[bool], matrix: &mut Band, gradient: &mut [f64]) {
    for variable in matrix.variables().filter(|variable| is_fixed[*variable]) {
        matrix.isolate(variable);
        gradient[variable] = 0.0;
    }
}
