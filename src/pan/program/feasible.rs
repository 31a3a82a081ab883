//! Whether limits can be kept at all, asked by itself, and what is best where the method came to no end.
//!
//! In the whole program a broken limit costs far more than any wish, and yet no more than so much: wishes of extreme
//! weights could pull as hard, and numbers of such different sizes lose each other. In the program of the limits alone
//! nothing else pulls, so that no weight can hide that limits contradict each other.

use super::{
    Program, SquareFamilies,
    interior::{KEPT_PX, MOST_STEPS, Method, Solution},
};

/// Solves a program. What keeps the limits is given even where it could not be proven to be the best.
pub(in crate::pan) fn solve(program: &Program) -> Solution {
    solve_within(program, MOST_STEPS)
}

/// The same, broken off after so many steps.
pub(in crate::pan) fn solve_within(program: &Program, most_steps: u32) -> Solution {
    let solution = Method::of(program, program.rows.clone()).run_within(most_steps);
    if solution.broken_px <= KEPT_PX {
        return solution;
    }
    let least = least_broken(program);
    if least.broken_px <= KEPT_PX {
        return brought_inside(program, solution, &least);
    }
    // What is lacking is proven where it is more than the gap.
    let is_contradiction = least.is_optimal || least.cost_px > least.gap_px;
    let broken_px = solution.broken_px.min(least.broken_px);
    Solution { broken_px, is_contradiction, is_optimal: false, ..solution }
}

/// Whether there are values that keep every limit, whatever they cost; `None` if that could not be told.
pub(in crate::pan) fn are_limits_kept(program: &Program) -> Option<bool> {
    let least = least_broken(program);
    let is_kept = least.broken_px <= KEPT_PX;
    (is_kept || least.is_optimal || least.cost_px > least.gap_px).then_some(is_kept)
}

/// The values that break limits by the least px in all, with nothing else that pulls.
fn least_broken(program: &Program) -> Solution {
    let alone = Program { squares: SquareFamilies::default(), ..program.clone() };
    Method::of(&alone, program.rows.limits_alone(1.0)).run()
}

/// A solution that breaks limits, moved towards values that keep them by no more than is needed.
fn brought_inside(program: &Program, solution: Solution, inside: &Solution) -> Solution {
    const HALVINGS: u32 = 40;
    let mut method = Method::of(program, program.rows.clone());
    let pairs = || solution.values.iter().zip(&inside.values);
    let at = |share: f64| pairs().map(|(a, b)| a + share * (b - a)).collect::<Vec<f64>>();
    let (mut too_little, mut enough) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(too_little, enough);
        method.values = at(middle);
        if method.broken_px() <= KEPT_PX { enough = middle } else { too_little = middle }
    }
    let values = if enough < 1.0 { at(enough) } else { inside.values.clone() };
    let cost_px = method.cost_of(&values);
    method.values.clone_from(&values);
    let broken_px = method.broken_px();
    // Nothing costs less than what was proven before.
    let proven_px = (solution.cost_px - solution.gap_px).max(0.0);
    let gap_px = if proven_px.is_finite() { (cost_px - proven_px).max(0.0) } else { cost_px };
    Solution { values, cost_px, gap_px, broken_px, is_optimal: false, ..solution }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cost of squares of one variable at each stage, all off a line, under limits of how far neighbours are apart.
    fn program(stages: usize, weight: f64) -> Program {
        let mut program = Program::of(stages);
        for stage in 0..stages {
            for variable in 3 * stage..3 * stage + 3 {
                program.start(variable, 500.0);
                program.at_least([(variable, 1.0)], 0.0);
                program.at_most(&[(variable, 1.0)], 1000.0);
            }
            program.off(&[(3 * stage, 1.0)], if stage % 7 < 3 { 300.0 } else { 620.0 }, 4.0);
            if stage >= 2 {
                let terms = [(3 * stage - 6, 1.0), (3 * stage - 3, -2.0), (3 * stage, 1.0)];
                program.square(terms, 0.0, weight);
            }
            if stage >= 1 {
                program.at_most(&[(3 * stage - 3, -1.0), (3 * stage, 1.0)], 5.0);
                program.at_most(&[(3 * stage - 3, 1.0), (3 * stage, -1.0)], 5.0);
            }
        }
        program
    }

    #[test]
    fn broken_off_at_any_step_it_keeps_the_limits_and_says_by_how_much_it_is_off() {
        let mut program = program(60, 0.5);
        program.fix(0, 100.0);
        program.fix(3 * 59, 390.0);
        let best = solve(&program);
        assert!(best.is_optimal && best.broken_px <= KEPT_PX);
        let mut unproven = 0;
        for most_steps in 0..40 {
            let off = solve_within(&program, most_steps);
            assert!(off.broken_px <= KEPT_PX, "{most_steps}: {}", off.broken_px);
            assert!(off.cost_px >= best.cost_px - best.gap_px, "{most_steps}: {}", off.cost_px);
            let more_px = off.cost_px - best.cost_px;
            assert!(more_px <= off.gap_px + 1e-6, "{most_steps}: {more_px} {}", off.gap_px);
            assert!(!off.is_optimal || more_px <= 1e-6 * best.cost_px + 1e-4, "{most_steps}");
            unproven += u32::from(!off.is_optimal);
        }
        assert!(unproven > 4, "{unproven}");
    }

    #[test]
    fn no_weight_hides_that_limits_contradict_each_other() {
        // 60 stages may come 295 px far, and 700 are between the first and the last.
        for weight in [0.0, 1.0, 1e4, 1e8, 1e12] {
            let mut program = program(60, weight);
            program.fix(0, 100.0);
            program.fix(3 * 59, 800.0);
            let solution = solve(&program);
            assert!(solution.is_contradiction, "{weight}: {}", solution.broken_px);
            assert!(solution.broken_px > 1.0, "{weight}: {}", solution.broken_px);
            assert_eq!(are_limits_kept(&program), Some(false), "{weight}");
            program.fix(3 * 59, 390.0);
            assert_eq!(are_limits_kept(&program), Some(true), "{weight}");
            let solution = solve(&program);
            assert!(solution.broken_px <= KEPT_PX, "{weight}: {}", solution.broken_px);
            assert!(solution.values.iter().all(|value| value.is_finite()));
        }
    }

    #[test]
    fn a_gap_without_a_gradient_of_0_proves_nothing() {
        let program = program(30, 0.5);
        let mut method = Method::of(&program, program.rows.clone());
        let first = method.run_within(1);
        assert!(!first.is_optimal);
        assert!(first.gap_px.to_bits() == first.cost_px.to_bits(), "all it costs may be too much");
    }
}
