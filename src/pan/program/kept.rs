//! A solution that is kept, and found again from there when fixed variables are put elsewhere.
//!
//! Once a program is solved it is known of each row whether it lies off its bound or on it, and most go on doing so when
//! something changes far away. Those rest: straight lines and stiff springs, for which the method needs no steps; and
//! all that lies beyond the stages at work comes down to what it asks of the two stages next to it ([`Factor`]). At first
//! every row rests. Those that then do not go on as they ended, and those about what changed, are put to work, loosened
//! so that the method has room, unless they are so far off their bound that nothing brings them there: a step costs what
//! the rows at work cost. Where more turn out not to rest once those are solved for, all begin again together, loosened less.
//! (Found out on the way, from steps that are far from the end, ever more rows would seem not to rest; and what is begun
//! beside rows that are not loosened again has no room.) The answer is at last held against the whole program, in which
//! nothing rests.

use super::{
    Families, KEPT_PX, Program, VARIABLES,
    band::Band,
    factor::Factor,
    interior::{Method, Solution},
    part::Part,
    rows::{Exactness, Loosened, Tolerance},
};
use std::ops::Range;

/// What an answer may cost more than the best one, as a share of its cost, and the floor of that in px.
const ENOUGH: f64 = 4e-7;
const ENOUGH_FLOOR_PX: f64 = 1e-5;

/// The largest component of the gradient that counts as none.
const FLAT: f64 = 2e-4;

/// Stages on either side of one that changed, and of one with a row that does not rest, that are put to work; of the
/// latter twice as many each time that more is put to work. Chosen by trying.
const ABOUT_CHANGED: usize = 16;
const ABOUT_UNSETTLED: usize = 8;

/// How far rows are loosened, as a share of the way to the central path, and the μ of that in px for a unit of the
/// steepest slope. Chosen by trying: with less there is no room for long steps, with more little is left of what was
/// known.
const LOOSENED: f64 = 0.3;
const LOOSENED_PX: f64 = 1.0;

/// The share of that μ with which all begin again, most of them being nearly where they end. Chosen by trying: with all of
/// it some steps more, with a thirtieth as many.
const AGAIN: f64 = 0.1;

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

    /// The solution with fixed variables put elsewhere: proven to cost at most a millionth more than the best one. `None`
    /// where it is not found from here, or where there is none.
    pub(in crate::pan) fn again(mut self, fixed: &[(usize, f64)]) -> Option<Self> {
        let mut method = Method::of(&self.program, std::mem::take(&mut self.rows));
        method.values = self.values;
        let ends = displace(&mut method, self.matrix, fixed);
        let enough = ENOUGH * self.cost_px + ENOUGH_FLOOR_PX;
        let mut work = Work::about(fixed, method.values.len() / VARIABLES);
        work.put_unsettled_to_work(&method, Tolerance::final_of(enough));
        work.solve(&mut method, &ends, enough)?;
        let moved = &method.moved;
        method.rows.each_mut().for_each(|rows| rows.settle_resting(moved));
        method.put_all_to_work();
        let (sums, cost_px) = method.begin_with_fixed(Exactness::AT_REST);
        method.let_fixed_be();
        let is_proven = sums.gap <= 2.0 * enough
            && method.is_flat(&sums, FLAT)
            && method.broken_px() <= KEPT_PX;
        let (rows, values, matrix) = (method.rows, method.values, method.matrix);
        is_proven.then_some(Self { program: self.program, rows, values, matrix, cost_px })
    }
}

/// Puts fixed variables elsewhere and everything else where it then goes if all rows rest. The matrix of that, eliminated from
/// both ends to the first of those variables.
fn displace(method: &mut Method<'_>, matrix: Band, fixed: &[(usize, f64)]) -> Factor {
    for (variable, value) in fixed {
        method.moved[*variable] = value - method.values[*variable];
        method.values[*variable] = *value;
    }
    method.rows.each_mut().for_each(|rows| rows.rest());
    method.gradient.fill(0.0);
    matrix.add_product(&method.moved, &mut method.gradient);
    method.matrix = matrix;
    method.isolate_fixed();
    let first = fixed.iter().map(|(variable, _)| *variable).min().unwrap_or(0);
    method.factor = Factor::halved_at(method.matrix.variables(), first);
    method.factor.take(&method.matrix);
    method.solve_for_step();
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

/// The stages whose rows are at work.
struct Work {
    stages: Vec<bool>,
    /// On either side of a row that does not rest.
    reach: usize,
}

impl Work {
    fn about(changed: &[(usize, f64)], count: usize) -> Self {
        let mut work = Self { stages: vec![false; count], reach: ABOUT_UNSETTLED };
        changed.iter().for_each(|(variable, _)| work.add(variable / VARIABLES, ABOUT_CHANGED));
        work
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
        let mut unsettled = Vec::new();
        for rows in method.rows.each() {
            rows.tell_unsettled(&method.moved, tolerance, &mut unsettled);
        }
        unsettled.iter().for_each(|stage| self.add(*stage, self.reach));
        !unsettled.is_empty()
    }

    /// The part of the program that has to be solved, with its rows at work and loosened.
    fn begin<'e>(&self, method: &mut Method<'_>, ends: &'e Factor, mu_px: f64) -> Part<'e> {
        let ranges = self.ranges();
        let mu = mu_px * method.steepest();
        let (values, moved) = (&method.values, &method.moved);
        let from = Loosened { values, moved, share: LOOSENED, mu };
        method.rows.each_mut().for_each(|rows| rows.put_to_work(&ranges, &from));
        let first = ranges.first().map_or(0, |range| range.start);
        let end = ranges.last().map_or(self.stages.len(), |range| range.end);
        Part::of(first..end, method, ends)
    }

    /// Solves for the stages at work, and for more where that is needed; `None` if it does not come to an end.
    fn solve(&mut self, method: &mut Method<'_>, ends: &Factor, enough: f64) -> Option<()> {
        let mut part = self.begin(method, ends, LOOSENED_PX);
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
                part = self.begin(method, ends, AGAIN * LOOSENED_PX);
                continue;
            }
            method.step(sums, enough);
        }
        None
    }
}
