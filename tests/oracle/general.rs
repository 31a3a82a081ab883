//! The follow program once more, from its own words, for a general solver (crate `clarabel`, Apache-2.0).
//!
//! Stated apart from the planner: every hinge and every size has a variable of its own, and nothing is banded.
//! Shared by the tests of the optimum and the bench.

use clarabel::{
    algebra::CscMatrix,
    solver::{DefaultSettingsBuilder, DefaultSolver, IPSolver, SolverStatus, SupportedConeT},
};
use lookroom::pan::Request;

/// What a general solver makes of a request.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Answer {
    /// The least cost, in reference window widths.
    Least(f64),
    /// No path keeps every limit.
    NoPath,
    /// The solver gave up.
    GaveUp(String),
}

#[derive(Default)]
struct Rows {
    entries: Vec<(usize, usize, f64)>,
    bounds: Vec<f64>,
}

impl Rows {
    fn add(&mut self, terms: &[(usize, f64)], bound: f64) {
        let row = self.bounds.len();
        self.entries.extend(terms.iter().map(|(variable, factor)| (row, *variable, *factor)));
        self.bounds.push(bound);
    }
}

/// `½ xᵀQx + cᵀx` under equalities and upper limits.
#[derive(Default)]
struct General {
    linear: Vec<f64>,
    quadratic: Vec<(usize, usize, f64)>,
    equal: Rows,
    at_most: Rows,
}

impl General {
    fn variable(&mut self, cost: f64) -> usize {
        self.linear.push(cost);
        self.linear.len() - 1
    }

    fn at_least(&mut self, terms: &[(usize, f64)], bound: f64) {
        let negated: Vec<_> = terms.iter().map(|(variable, factor)| (*variable, -factor)).collect();
        self.at_most.add(&negated, -bound);
    }

    /// `cost × max(0, Σ − bound)`.
    fn pay_above(&mut self, terms: &[(usize, f64)], bound: f64, cost: f64) {
        let slack = self.variable(cost);
        self.at_least(&[(slack, 1.0)], 0.0);
        let with: Vec<_> = terms.iter().copied().chain([(slack, -1.0)]).collect();
        self.at_most.add(&with, bound);
    }

    fn pay_size(&mut self, terms: &[(usize, f64)], target: f64, cost: f64) {
        let slack = self.variable(cost);
        for sign in [1.0, -1.0] {
            let with: Vec<_> =
                terms.iter().map(|(v, f)| (*v, sign * f)).chain([(slack, -1.0)]).collect();
            self.at_most.add(&with, sign * target);
        }
    }

    fn pay_square(&mut self, terms: &[(usize, f64)], cost: f64) {
        for (place, (row, row_factor)) in terms.iter().enumerate() {
            for (column, column_factor) in &terms[place..] {
                let (low, high) = (*row.min(column), *row.max(column));
                self.quadratic.push((low, high, 2.0 * cost * row_factor * column_factor));
            }
        }
    }
}

/// Solves a request without keep-outs or roll by clarabel, to this relative gap.
pub(crate) fn least_cost(request: &Request, tolerance: f64) -> Answer {
    let program = stated(request);
    let variables = program.linear.len();
    let equal = program.equal.bounds.len();
    let shifted = program.at_most.entries.iter().map(|(row, v, f)| (row + equal, *v, *f));
    let entries: Vec<_> = program.equal.entries.iter().copied().chain(shifted).collect();
    let bounds: Vec<f64> =
        program.equal.bounds.iter().chain(&program.at_most.bounds).copied().collect();
    let cones = [
        SupportedConeT::ZeroConeT(equal),
        SupportedConeT::NonnegativeConeT(program.at_most.bounds.len()),
    ];
    let settings = DefaultSettingsBuilder::default()
        .verbose(false)
        .max_iter(500)
        .tol_gap_rel(tolerance)
        .tol_gap_abs(tolerance)
        .tol_feas(tolerance)
        .presolve_enable(false)
        .max_threads(1)
        .build()
        .unwrap();
    let quadratic = matrix(variables, variables, &program.quadratic);
    let constraints = matrix(bounds.len(), variables, &entries);
    let mut solver =
        DefaultSolver::new(&quadratic, &program.linear, &constraints, &bounds, &cones, settings)
            .unwrap();
    solver.solve();
    match solver.solution.status {
        SolverStatus::Solved => Answer::Least(solver.solution.obj_val / request.reference_width()),
        SolverStatus::PrimalInfeasible | SolverStatus::AlmostPrimalInfeasible => Answer::NoPath,
        status => Answer::GaveUp(format!("{status:?}")),
    }
}

fn matrix(rows: usize, columns: usize, entries: &[(usize, usize, f64)]) -> CscMatrix<f64> {
    CscMatrix::new_from_triplets(
        rows,
        columns,
        entries.iter().map(|entry| entry.0).collect(),
        entries.iter().map(|entry| entry.1).collect(),
        entries.iter().map(|entry| entry.2).collect(),
    )
}

/// A place on an axis at a share of the window from its near edge: its terms, in the window's own px.
struct AxisOf {
    centre: usize,
    width: usize,
    size: f64,
    ride: f64,
}

impl AxisOf {
    fn at(&self, share: f64) -> [(usize, f64); 2] {
        [(self.centre, 1.0), (self.width, (share - 0.5) * self.size)]
    }
}

fn stated(request: &Request) -> General {
    let mut program = General::default();
    let count = request.frame_count();
    for _ in 0..3 * count {
        program.variable(0.0);
    }
    for index in 0..count {
        let ride = request.ride.get(index).copied().unwrap_or_default();
        let high = f64::from(request.shape.high()) / f64::from(request.shape.wide());
        let width = 3 * index + 2;
        let axes = [
            AxisOf { centre: 3 * index, width, size: 1.0, ride: ride.0 },
            AxisOf { centre: 3 * index + 1, width, size: high, ride: ride.1 },
        ];
        match request.pins.iter().find(|pin| pin.index == index) {
            Some(pin) => {
                program.equal.add(&[(3 * index, 1.0)], pin.window.centre_x() - ride.0);
                program.equal.add(&[(3 * index + 1, 1.0)], pin.window.centre_y() - ride.1);
                program.equal.add(&[(width, 1.0)], pin.window.width());
            }
            None => limits(&mut program, request, index, &axes),
        }
        wishes(&mut program, request, index, &axes);
    }
    motion(&mut program, request);
    program
}

fn limits(program: &mut General, request: &Request, index: usize, axes: &[AxisOf; 2]) {
    let usable = &request.usable;
    let greatest = request.greatest_width();
    let width = axes[0].width;
    if greatest - request.least_width < 1e-6 {
        program.equal.add(&[(width, 1.0)], f64::midpoint(request.least_width, greatest));
    } else {
        program.at_least(&[(width, 1.0)], request.least_width);
        program.at_most.add(&[(width, 1.0)], greatest);
    }
    let spans = [(usable.left(), usable.right()), (usable.top(), usable.bottom())];
    for (axis, (from, to)) in axes.iter().zip(spans) {
        if to - from - request.least_width * axis.size < 1e-6 {
            program.equal.add(&[(axis.centre, 1.0)], f64::midpoint(from, to) - axis.ride);
        } else {
            program.at_least(&axis.at(0.0), from - axis.ride);
            program.at_most.add(&axis.at(1.0), to - axis.ride);
        }
    }
    for required in &request.frames[index].required {
        let (region, clear) = (&required.region, &required.clear);
        let ends = [
            (region.left(), region.right(), clear.left, clear.right),
            (region.top(), region.bottom(), clear.top, clear.bottom),
        ];
        for (axis, (from, to, before, after)) in axes.iter().zip(ends) {
            program.at_most.add(&axis.at(before), from - axis.ride);
            program.at_least(&axis.at(1.0 - after), to - axis.ride);
        }
        if let Some(greatest) = required.greatest_width {
            program.at_most.add(&[(width, 1.0)], greatest);
        }
    }
}

fn wishes(program: &mut General, request: &Request, index: usize, axes: &[AxisOf; 2]) {
    let (weights, step) = (&request.rules.weights, request.pace.step_secs(index));
    let (wish, insets) = (&request.frames[index], request.insets());
    for wished in &wish.boxes {
        let (region, cost) = (&wished.region, weights.containment * step * wished.weight);
        let ends = [
            (region.left(), region.right(), insets.left, insets.right),
            (region.top(), region.bottom(), insets.top, insets.bottom),
        ];
        for (axis, (from, to, before, after)) in axes.iter().zip(ends) {
            program.pay_above(&axis.at(before), from - axis.ride, cost);
            let far: Vec<_> = axis.at(1.0 - after).iter().map(|(v, f)| (*v, -f)).collect();
            program.pay_above(&far, axis.ride - to, cost);
        }
    }
    if let Some(point) = wish.point {
        let cost = weights.place * step * wish.weight();
        let still = request.rules.still_zone;
        let wanted = [(point.at.x, point.place.across), (point.at.y, point.place.down)];
        for (axis, (at, share)) in axes.iter().zip(wanted) {
            program.pay_above(&axis.at(share - still), at - axis.ride, cost);
            let far: Vec<_> = axis.at(share + still).iter().map(|(v, f)| (*v, -f)).collect();
            program.pay_above(&far, axis.ride - at, cost);
        }
    }
    if !request.unseen.get(index).copied().unwrap_or(false) {
        program.pay_size(&[(axes[0].width, 1.0)], request.preferred_width, weights.width * step);
    }
}

#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
fn motion(program: &mut General, request: &Request) {
    let count = request.frame_count();
    let steps: Vec<f64> = (0..count).map(|index| request.pace.step_secs(index)).collect();
    for index in 1..count {
        if let Some(secs_per_width) = request.rules.pan_hard {
            let share = steps[index - 1] / secs_per_width / 2.0;
            let (width_before, width) = (3 * index - 1, 3 * index + 2);
            for (before, now) in [(3 * index - 3, 3 * index), (3 * index - 2, 3 * index + 1)] {
                for sign in [1.0, -1.0] {
                    let terms =
                        [(now, sign), (before, -sign), (width_before, -share), (width, -share)];
                    program.at_most.add(&terms, 0.0);
                }
            }
        }
        for now in 3 * index..3 * index + 3 {
            program.pay_size(&[(now, 1.0), (now - 3, -1.0)], 0.0, 1.0);
            if index > 1 {
                // A step of less than a 64th of the mean one is taken for that long.
                let shortest = steps.iter().sum::<f64>() / count as f64 / 64.0;
                let (before, after) =
                    (steps[index - 2].max(shortest), steps[index - 1].max(shortest));
                // β ((v⁺ − v⁻) / h)² h, in px: everything is the objective times the reference width.
                let cost = request.rules.weights.acceleration
                    / (f64::midpoint(before, after) * request.reference_width());
                let terms = [
                    (now - 6, 1.0 / before),
                    (now - 3, -1.0 / before - 1.0 / after),
                    (now, 1.0 / after),
                ];
                program.pay_square(&terms, cost);
            }
        }
    }
}
