use super::{
    PanError,
    program::{ConvexProgram, Rows},
};
use clarabel::{
    algebra::CscMatrix,
    solver::{DefaultSettingsBuilder, DefaultSolver, IPSolver, SolverStatus, SupportedConeT},
};

/// How a convex program ended.
#[derive(Debug)]
pub(super) enum Solved {
    /// The best values of the variables.
    Best(Vec<f64>),
    /// No values keep every limit.
    Infeasible,
}

/// Solves a convex program with a general interior-point method (clarabel), to a relative gap of 1e-9.
///
/// # Errors
/// [`PanError::Unsolved`] if the method stops short of an answer.
pub(super) fn solve(program: &ConvexProgram) -> Result<Solved, PanError> {
    let variables = program.linear.len();
    let quadratic = matrix(variables, variables, &program.quadratic);
    let equal_count = program.equal.bounds.len();
    let rows = equal_count + program.at_most.bounds.len();
    let shifted = program
        .at_most
        .entries
        .iter()
        .map(|(row, column, value)| (row + equal_count, *column, *value));
    let entries: Vec<_> = program.equal.entries.iter().copied().chain(shifted).collect();
    let bounds: Vec<f64> = stacked_bounds(&program.equal, &program.at_most);
    let cones = [
        SupportedConeT::ZeroConeT(equal_count),
        SupportedConeT::NonnegativeConeT(program.at_most.bounds.len()),
    ];
    let settings = DefaultSettingsBuilder::default()
        .verbose(false)
        .max_iter(400)
        .tol_gap_rel(1e-9)
        .tol_gap_abs(1e-9)
        .tol_feas(1e-9)
        // The rows of held and shared limits would be dropped and put back for nothing.
        .presolve_enable(false)
        // One thread: the same sums in the same order give the same bytes on every run.
        .max_threads(1)
        .build()
        .map_err(|error| unsolved(&error.to_string(), 0))?;
    let constraints = matrix(rows, variables, &entries);
    let mut solver =
        DefaultSolver::new(&quadratic, &program.linear, &constraints, &bounds, &cones, settings)
            .map_err(|error| unsolved(&error.to_string(), 0))?;
    solver.solve();
    match solver.solution.status {
        SolverStatus::Solved | SolverStatus::AlmostSolved => {
            Ok(Solved::Best(solver.solution.x.clone()))
        }
        SolverStatus::PrimalInfeasible | SolverStatus::AlmostPrimalInfeasible => {
            Ok(Solved::Infeasible)
        }
        status => Err(unsolved(&format!("{status:?}"), solver.solution.iterations)),
    }
}

fn stacked_bounds(equal: &Rows, at_most: &Rows) -> Vec<f64> {
    equal.bounds.iter().chain(&at_most.bounds).copied().collect()
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

fn unsolved(status: &str, iterations: u32) -> PanError {
    PanError::Unsolved { status: status.to_owned(), iterations }
}
