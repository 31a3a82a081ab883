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
    rows::{Begun, Reach, Sums},
};

/// How a program ended.
#[derive(Debug, Clone)]
pub(in crate::pan) struct Solution {
    /// The best values of the variables.
    pub(in crate::pan) values: Vec<f64>,
    /// By how much, in px, the most broken limit is broken: 0 but for rounding unless limits contradict each other.
    pub(in crate::pan) broken_px: f64,
    /// What the values cost, in px.
    pub(in crate::pan) cost_px: f64,
    /// What the values may cost more than the best ones, in px.
    pub(in crate::pan) gap_px: f64,
    /// The pulls across the seam before each stage.
    pub(in crate::pan) seams: Vec<Seam>,
    /// The leeway of each variable.
    pub(in crate::pan) leeways: Vec<Leeway>,
    /// Steps taken.
    pub(in crate::pan) steps: u32,
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

/// The gap that is taken where rounding lets no step come nearer, and its floor: still far below anything that shows.
const NEAR_GAP: f64 = 1e-6;
const NEAR_FLOOR_PX: f64 = 1e-4;

/// Far more than was ever needed (at most about 60): what is best then is returned and said not to be optimal.
const MOST_STEPS: u32 = 150;

/// So many steps without a gap that is smaller by a tenth are in vain.
const STEPS_IN_VAIN: u32 = 30;

/// The μ to start with, in px for a unit of the steepest slope. Chosen: a tenth and ten times as much take as many
/// steps.
const START_PX: f64 = 250.0;

/// How near a step may come to the boundary.
const INSIDE: f64 = 0.995;

/// A limit broken by less than this is kept: it is what rounding leaves.
pub(in crate::pan) const KEPT_PX: f64 = 1e-6;

/// Solves a program.
pub(in crate::pan) fn solve(program: &Program) -> Solution {
    let mut solution = Method::of(program, program.rows.clone()).run();
    if solution.broken_px > KEPT_PX {
        // Either the limits contradict each other, or keeping them pulls harder than was thought possible: the
        // least that they can be broken by tells which.
        let alone = Program { squares: SquareFamilies::default(), ..program.clone() };
        let least = Method::of(&alone, program.rows.limits_alone(1.0)).run();
        if least.broken_px <= KEPT_PX {
            solution.is_optimal = false;
        }
        solution.broken_px = solution.broken_px.min(least.broken_px);
    }
    solution
}

/// The best values so far.
struct Best {
    values: Vec<f64>,
    cost_px: f64,
    gap_px: f64,
    /// The step at which the gap was last smaller by a tenth than ever before.
    at_step: u32,
}

impl Default for Best {
    fn default() -> Self {
        Self { values: Vec::new(), cost_px: f64::INFINITY, gap_px: f64::INFINITY, at_step: 0 }
    }
}

impl Best {
    fn note(&mut self, step: u32, gap_px: f64, cost_px: f64, values: &[f64]) {
        if gap_px < 0.9 * self.gap_px || self.values.is_empty() {
            values.clone_into(&mut self.values);
            (self.cost_px, self.gap_px, self.at_step) = (cost_px, gap_px, step);
        }
    }

    /// The gap may grow at first, while the limits are being reached.
    const fn is_stalled(&self, step: u32) -> bool {
        step == MOST_STEPS || step - self.at_step >= STEPS_IN_VAIN
    }
}

/// The method on one program, with room for its vectors.
struct Method<'p> {
    program: &'p Program,
    rows: Families,
    squares: SquareFamilies,
    values: Vec<f64>,
    matrix: Band,
    factor: Band,
    gradient: Vec<f64>,
    pull: Vec<f64>,
    step: Vec<f64>,
    spare: Vec<f64>,
}

impl<'p> Method<'p> {
    fn of(program: &'p Program, rows: Families) -> Self {
        let size = program.values.len();
        Self {
            program,
            rows,
            squares: program.squares.clone(),
            values: program.values.clone(),
            matrix: Band::zero(size),
            factor: Band::zero(size),
            gradient: vec![0.0; size],
            pull: vec![0.0; size],
            step: vec![0.0; size],
            spare: vec![0.0; size],
        }
    }

    fn run(&mut self) -> Solution {
        let values = &self.values;
        let steepest = self.rows.each().map(|rows| rows.steepest()).fold(1.0, f64::max);
        let start = START_PX * steepest;
        self.rows.each_mut().for_each(|rows| rows.centre(values, start));
        self.squares.begin(values);
        let (mut steps, mut best) = (0, Best::default());
        loop {
            let (sums, cost_px) = self.begin();
            let steepest = self.gradient.iter().fold(0.0_f64, |most, g| most.max(g.abs()));
            let flat = GRADIENT_NOISE + GRADIENT_ROUNDING * sums.largest_multiplier;
            let enough = RELATIVE_GAP * cost_px.abs() + GAP_FLOOR_PX;
            if sums.gap <= enough && steepest <= flat {
                return self.solution(cost_px, sums.gap, steps);
            }
            best.note(steps, sums.gap, cost_px, &self.values);
            if best.is_stalled(steps) || !cost_px.is_finite() {
                self.values = best.values;
                let mut solution = self.solution(best.cost_px, best.gap_px, steps);
                solution.is_optimal = best.gap_px <= NEAR_GAP * best.cost_px.abs() + NEAR_FLOOR_PX;
                return solution;
            }
            self.step(sums, enough);
            steps += 1;
        }
    }

    fn solution(&mut self, cost_px: f64, gap_px: f64, steps: u32) -> Solution {
        Solution {
            broken_px: self.broken_px(),
            seams: self.seams(),
            leeways: self.leeways(),
            values: std::mem::take(&mut self.values),
            cost_px,
            gap_px,
            steps,
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
    fn broken_px(&self) -> f64 {
        let kept = self.program.rows.each().filter(|rows| rows.is_kept());
        kept.map(|rows| rows.worst_beyond(&self.values)).fold(0.0, f64::max)
    }

    /// The sums, the gradient and the matrix at the present place.
    fn begin(&mut self) -> (Sums, f64) {
        self.matrix.clear();
        self.gradient.fill(0.0);
        self.pull.fill(0.0);
        let sums = (&mut self.gradient[..], &mut self.pull[..]);
        let cost = self.squares.add_to(&self.values, sums, &mut self.matrix);
        let mut at =
            Begun { matrix: &mut self.matrix, gradient: &mut self.gradient, pull: &mut self.pull };
        let sums = self
            .rows
            .each()
            .map(|rows| rows.begin(&self.values, &mut at))
            .fold(Sums::default(), Sums::and);
        for (variable, is_fixed) in self.program.is_fixed.iter().enumerate() {
            if *is_fixed {
                self.matrix.isolate(variable);
                self.gradient[variable] = 0.0;
            }
        }
        (sums, cost + sums.cost)
    }

    /// One step: predict, correct, go.
    fn step(&mut self, sums: Sums, enough: f64) {
        self.factor.copy_from(&self.matrix);
        self.factor.factor();
        self.solve_for_step();
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
        self.pull.fill(0.0);
        self.squares.add_pull(&self.values, &mut self.pull);
        for rows in self.rows.each_mut() {
            rows.correct(&self.values, target, &mut self.pull);
        }
        self.solve_for_step();
        let (values, step) = (&self.values, &self.step);
        let tightest =
            self.rows.each_mut().map(|rows| rows.direct(values, step)).fold(0.0, f64::max);
        let share = 1.0_f64.min(INSIDE / tightest);
        self.squares.direct(values, step);
        for (value, step) in self.values.iter_mut().zip(&self.step) {
            *value += share * step;
        }
        self.rows.each_mut().for_each(|rows| rows.advance(share));
        self.squares.advance(share);
    }

    /// Solves for the step that takes the gradient and the pull off, refined once.
    fn solve_for_step(&mut self) {
        for (variable, step) in self.step.iter_mut().enumerate() {
            let is_fixed = self.program.is_fixed[variable];
            *step = if is_fixed { 0.0 } else { -self.gradient[variable] - self.pull[variable] };
        }
        self.spare.copy_from_slice(&self.step);
        self.factor.solve(&mut self.step);
        // What rounding in the factors left of the right-hand side is solved for again.
        for value in &mut self.spare {
            *value = -*value;
        }
        self.matrix.add_product(&self.step, &mut self.spare);
        self.factor.solve(&mut self.spare);
        for (step, excess) in self.step.iter_mut().zip(&self.spare) {
            *step -= excess;
        }
    }
}
