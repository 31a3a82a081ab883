//! A solution that is kept, and found again from there when fixed variables are put elsewhere.
//!
//! Once a program is solved it is known of each row whether it lies off its bound or on it, and most go on doing so when
//! something changes far away. Those rest: straight lines and stiff springs, for which the method needs no steps; and
//! all that lies beyond the stages at work comes down to what it asks of the two stages next to it ([`Factor`]). At first
//! every row rests. Those that then do not go on as they ended, and those about what changed, are put to work, loosened
//! so that the method has room, unless they are so far off their bound that nothing brings them there: a step costs what
//! the rows at work cost, so that those of them that are off their bound for good rest again once μ is small. Where more
//! turn out not to rest once those are solved for, all begin again together, loosened less. (Found out on the way, from
//! steps that are far from the end, ever more rows would seem not to rest; and what is begun beside rows that are not
//! loosened again has no room.) The answer is at last held against the whole program, in which nothing rests.

use super::{
    Families, KEPT_PX, Program, VARIABLES,
    band::Band,
    factor::Factor,
    interior::{Method, Solution},
    part::Part,
    rows::{Exactness, Loosened, Moved, Tolerance},
};
use std::ops::Range;

/// What an answer may cost more than the best one, as a share of its cost, and the floor of that in px.
const ENOUGH: f64 = 4e-7;
const ENOUGH_FLOOR_PX: f64 = 1e-5;

/// Whatever is put further away than this is not looked for from here.
const FURTHEST_PX: f64 = 1e6;

/// The largest component of the gradient that counts as none: what the stiffest resting row makes of the rounding of values
/// of some thousand px.
const FLAT: f64 = 2e-4;

/// Stages on either side of one that changed, and of one with a row that does not rest, that are put to work; of the
/// latter twice as many each time that more is put to work. Chosen by trying.
const ABOUT_CHANGED: usize = 30;
const ABOUT_UNSETTLED: usize = 9;

/// With more steps than these, each counted as the share of the stages that are at work, a start from nothing is
/// the quicker way: each costs about half of what that share of a whole step does, and a start from nothing takes 25.
const MOST_STEPS: f64 = 40.0;

/// A program with its solution.
#[derive(Debug, Clone)]
pub(in crate::pan) struct Kept {
    program: Program,
    /// As they ended.
    rows: Families,
    values: Vec<f64>,
    /// How stiff everything is there, fixed variables included.
    matrix: Band,
    cost_px: f64,
}

impl Kept {
    /// Solves a program, and keeps the solution if it is the best and keeps all limits. The program's rows and
    /// squares have to be in the order of their stages.
    pub(in crate::pan) fn solve(program: Program) -> (Solution, Option<Self>) {
        let mut method = Method::of(&program, program.rows.clone());
        let solution = method.run();
        if solution.broken_px > KEPT_PX || !solution.is_optimal {
            return (super::solve(&program), None);
        }
        method.values.clone_from(&solution.values);
        let (_, cost_px) = method.begin_with_fixed(Exactness::AT_REST);
        let (rows, matrix, values) = (method.rows, method.matrix, method.values);
        (solution, Some(Self { program, rows, values, matrix, cost_px }))
    }

    /// The best values.
    pub(in crate::pan) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The solution with fixed variables put elsewhere, its gap proven to be within a millionth of its cost, with a gradient of
    /// 0 but for rounding. `None` where it is not found from here, or where there is none.
    pub(in crate::pan) fn again(self, fixed: &[(usize, f64)]) -> Option<Self> {
        let Self { mut program, rows, values, matrix, cost_px } = self;
        let squares = std::mem::take(&mut program.squares);
        let mut method = Method::resting(&program, (rows, squares), values, matrix);
        let put_px = |(variable, value): &(usize, f64)| (value - method.values[*variable]).abs();
        let put_px = fixed.iter().map(put_px).fold(0.0, f64::max);
        if put_px > FURTHEST_PX {
            return None;
        }
        let ends = displace(&mut method, fixed);
        let enough = enough_of(cost_px);
        let mut work = Work::about(fixed, method.values.len() / VARIABLES, put_px);
        work.put_unsettled_to_work(&method, Tolerance::final_of(enough));
        work.hold_back(&mut method);
        work.solve(&mut method, &ends, enough)?;
        method.settle_resting();
        method.put_all_to_work();
        let (sums, cost_px) = method.begin_with_fixed(Exactness::AT_REST);
        method.let_fixed_be();
        let is_proven = cost_px.is_finite()
            && sums.gap <= 2.0 * enough_of(cost_px)
            && method.is_flat(&sums, FLAT)
            && sums.broken_px <= KEPT_PX;
        let (rows, values, matrix) = (method.rows, method.values, method.matrix);
        program.squares = method.squares;
        is_proven.then_some(Self { program, rows, values, matrix, cost_px })
    }
}

/// What an answer of about this cost may cost more than the best one.
fn enough_of(cost_px: f64) -> f64 {
    ENOUGH * cost_px + ENOUGH_FLOOR_PX
}

/// Puts fixed variables elsewhere and everything else where it then goes if all rows rest. The matrix of that is returned,
/// eliminated from both ends to the first of those variables.
fn displace(method: &mut Method<'_>, fixed: &[(usize, f64)]) -> Factor {
    for (variable, value) in fixed {
        method.moved[*variable] = value - method.values[*variable];
        method.values[*variable] = *value;
    }
    method.matrix.add_product(&method.moved, &mut method.gradient);
    method.isolate_fixed();
    let first = fixed.iter().map(|(variable, _)| *variable).min().unwrap_or(0);
    method.factor = Factor::halved_at(method.matrix.variables(), first);
    method.factor.take(&method.matrix);
    method.solve_roughly();
    for (variable, step) in method.step.iter().enumerate() {
        method.values[variable] += step;
        method.moved[variable] += step;
    }
    std::mem::replace(&mut method.factor, Factor::zero(0..0))
}

impl Tolerance {
    /// At the end nothing may be left that shows.
    fn final_of(enough_px: f64) -> Self {
        Self { slopes: 1e-6, gap_px: 1e-2 * enough_px }
    }
}

/// How rows begin that are put to work. All chosen by trying, on pins of two shapes that were put 2 to 100 px away.
#[derive(Debug, Clone, Copy)]
struct Beginning {
    /// How far rows are loosened, as a share of the way to the central path: with less there is no room for long steps, with
    /// more little is left of what was known.
    share: f64,
    /// The μ of that, in px for a unit of the steepest slope.
    mu_px: f64,
}

impl Beginning {
    /// With variables put so far away: the further, the more rows will end elsewhere.
    fn first(put_px: f64) -> Self {
        Self { share: 0.4, mu_px: 0.27 + 0.06 * put_px }
    }

    /// All together, most of them being nearly where they end.
    fn again(put_px: f64) -> Self {
        Self { share: 0.22, mu_px: 0.01 * Self::first(put_px).mu_px }
    }
}

/// Once μ is below this, in px for a unit of the steepest slope, rows that are far off their bounds rest again. Chosen by
/// trying: with more, rows rest that have to be put to work once more, with less all steps are dear.
const NEAR_PX: f64 = 0.12;

/// The stages whose rows are at work.
struct Work {
    stages: Vec<bool>,
    /// On either side of a row that does not rest.
    reach: usize,
    /// How far the variable was put that was put furthest.
    put_px: f64,
}

impl Work {
    fn about(changed: &[(usize, f64)], count: usize, put_px: f64) -> Self {
        let mut work = Self { stages: vec![false; count], reach: ABOUT_UNSETTLED, put_px };
        changed.iter().for_each(|(variable, _)| work.add(variable / VARIABLES, ABOUT_CHANGED));
        work
    }

    /// Lets nothing start further away than what was put elsewhere was put: nothing has to go much further, and straight
    /// lines lead anywhere.
    fn hold_back(&mut self, method: &mut Method<'_>) {
        for variable in 0..method.values.len() {
            let held = method.moved[variable].clamp(-self.put_px, self.put_px);
            let back = method.moved[variable] - held;
            if back != 0.0 && !method.program.is_fixed[variable] {
                method.values[variable] -= back;
                method.moved[variable] = held;
                self.add(variable / VARIABLES, 2);
            }
        }
    }

    fn add(&mut self, stage: usize, reach: usize) {
        let end = (stage + reach + 1).min(self.stages.len());
        self.stages[stage.saturating_sub(reach)..end].fill(true);
    }

    fn ranges(&self) -> Vec<Range<usize>> {
        let mut start = 0;
        let runs = self.stages.chunk_by(|a, b| a == b).filter_map(|run| {
            let range = start..start + run.len();
            start = range.end;
            run[0].then_some(range)
        });
        runs.collect()
    }

    /// The share of all stages that is at work.
    fn share(&self) -> f64 {
        /// What a step costs in any case.
        const LEAST: f64 = 0.05;
        let at_work = self.stages.iter().filter(|is| **is).count();
        (at_work as f64 / self.stages.len() as f64).max(LEAST)
    }

    /// Whether there was anything that ought not to rest.
    fn put_unsettled_to_work(&mut self, method: &Method<'_>, tolerance: Tolerance) -> bool {
        let (moved, mut unsettled) = (Moved::by(&method.moved), Vec::new());
        for rows in method.rows.each() {
            rows.tell_unsettled(&moved, tolerance, &mut unsettled);
        }
        unsettled.iter().for_each(|stage| self.add(*stage, self.reach));
        !unsettled.is_empty()
    }

    /// The part of the program that has to be solved, with its rows at work and loosened.
    fn begin<'e>(&self, method: &mut Method<'_>, ends: &'e Factor, as_said: Beginning) -> Part<'e> {
        /// Off their bound by so many px, and by so many times what was put elsewhere was put, rows can rest.
        const FAR_PX: f64 = 5.0;
        const TIMES_PUT: f64 = 0.4;
        let ranges = self.ranges();
        let mu = as_said.mu_px * method.steepest();
        let (values, moved) = (&method.values, &method.moved);
        let far_px = FAR_PX + TIMES_PUT * self.put_px;
        let from = Loosened { values, moved, share: as_said.share, mu, far_px };
        method.rows.each_mut().for_each(|rows| rows.put_to_work(&ranges, &from));
        let first = ranges.first().map_or(0, |range| range.start);
        let end = ranges.last().map_or(self.stages.len(), |range| range.end);
        Part::of(first..end, method, ends)
    }

    /// Solves for the stages at work, and for more where that is needed; `None` if it does not come to an end.
    fn solve(&mut self, method: &mut Method<'_>, ends: &Factor, enough: f64) -> Option<()> {
        let mut part = self.begin(method, ends, Beginning::first(self.put_px));
        let mut is_near = false;
        let mut steps = 0.0;
        while steps < MOST_STEPS {
            steps += self.share();
            let (sums, _) = method.begin();
            if sums.gap <= enough && method.is_flat(&sums, FLAT) {
                part.take_along(method);
                if !self.put_unsettled_to_work(method, Tolerance::final_of(enough)) {
                    return Some(());
                }
                self.reach *= 2;
                part = self.begin(method, ends, Beginning::again(self.put_px));
                is_near = false;
                continue;
            }
            let mu = sums.products / sums.count;
            method.step(sums, enough);
            if !is_near && mu < NEAR_PX * method.steepest() {
                is_near = true;
                method.let_far_rest();
            }
        }
        None
    }
}
