//! A convex program over stages of three variables each, in which nothing reaches further than two stages.
//!
//! Minimise the sum of `½ weight (Σ coefficient × variable − target)²` and of rows that cost nothing on one side
//! of a bound and so much a unit on the other. A path of windows is such a program with a frame for a stage, one still
//! window with a single stage, a path of moves with a hold for a stage. Costs and limits are in px.

mod band;
mod factor;
mod feasible;
mod interior;
mod kept;
mod part;
mod rows;
mod squares;
mod state;
mod terms;

#[cfg(test)]
pub(super) use feasible::solve_within;
pub(super) use feasible::{are_limits_kept, solve};
pub(super) use interior::{KEPT_PX, Solution};
pub(super) use kept::Kept;
use rows::{Block, Rows};
use squares::{SquareFamilies, Squares};
use state::Slopes;
pub(super) use terms::{Leeway, Seam, unmet};

/// Variables of a stage.
pub(super) const VARIABLES: usize = 3;

/// What breaking a limit costs, a px: far above what any wish can pull with, so that a limit is kept where it
/// can be kept at all.
const LIMIT_SLOPE: f64 = 1e8;

/// A convex program; see the head of this file.
#[derive(Debug, Clone)]
pub(super) struct Program {
    /// Where the method starts; a fixed variable stays there.
    values: Vec<f64>,
    is_fixed: Vec<bool>,
    rows: Families,
    squares: SquareFamilies,
}

/// Rows by how many variables they have and how far those are apart.
#[derive(Debug, Clone, Default)]
struct Families {
    of_one: Vec<Rows<1>>,
    of_two: Vec<Rows<2>>,
    of_three: Vec<Rows<3>>,
    of_four: Vec<Rows<4>>,
    of_six: Vec<Rows<6>>,
}

impl Families {
    fn each(&self) -> impl Iterator<Item = &dyn Block> {
        fn all<const K: usize>(rows: &[Rows<K>]) -> impl Iterator<Item = &dyn Block> {
            rows.iter().map(|rows| rows as &dyn Block)
        }
        all(&self.of_one)
            .chain(all(&self.of_two))
            .chain(all(&self.of_three))
            .chain(all(&self.of_four))
            .chain(all(&self.of_six))
    }

    fn each_mut(&mut self) -> impl Iterator<Item = &mut dyn Block> {
        fn all<const K: usize>(rows: &mut [Rows<K>]) -> impl Iterator<Item = &mut dyn Block> {
            rows.iter_mut().map(|rows| rows as &mut dyn Block)
        }
        all(&mut self.of_one)
            .chain(all(&mut self.of_two))
            .chain(all(&mut self.of_three))
            .chain(all(&mut self.of_four))
            .chain(all(&mut self.of_six))
    }

    /// The same limits without anything else.
    fn limits_alone(&self, slope: f64) -> Self {
        fn all<const K: usize>(rows: &[Rows<K>], slope: f64) -> Vec<Rows<K>> {
            rows.iter().map(|rows| rows.limits_alone(slope)).collect()
        }
        Self {
            of_one: all(&self.of_one, slope),
            of_two: all(&self.of_two, slope),
            of_three: all(&self.of_three, slope),
            of_four: all(&self.of_four, slope),
            of_six: all(&self.of_six, slope),
        }
    }
}

impl Program {
    /// A program of so many stages without costs, that starts at 0.
    pub(super) fn of(stages: usize) -> Self {
        Self {
            values: vec![0.0; VARIABLES * stages],
            is_fixed: vec![false; VARIABLES * stages],
            rows: Families::default(),
            squares: SquareFamilies::default(),
        }
    }

    /// Has the method start at this value of a variable.
    pub(super) fn start(&mut self, variable: usize, value: f64) {
        if !self.is_fixed[variable] {
            self.values[variable] = value;
        }
    }

    /// Fixes a variable.
    pub(super) fn fix(&mut self, variable: usize, value: f64) {
        self.values[variable] = value;
        self.is_fixed[variable] = true;
    }

    /// `Σ factor × variable <= bound`, to be kept.
    pub(super) fn at_most(&mut self, terms: &[(usize, f64)], bound: f64) {
        self.row(terms, bound, Slopes { least: 0.0, greatest: LIMIT_SLOPE });
    }

    /// `Σ factor × variable >= bound`, to be kept.
    pub(super) fn at_least<const N: usize>(&mut self, terms: [(usize, f64); N], bound: f64) {
        self.at_most(&terms.map(|(variable, factor)| (variable, -factor)), -bound);
    }

    /// Costs `cost × max(0, Σ factor × variable − bound)`.
    pub(super) fn above(&mut self, terms: &[(usize, f64)], bound: f64, cost: f64) {
        if cost > 0.0 {
            self.row(terms, bound, Slopes { least: 0.0, greatest: cost });
        }
    }

    /// Costs `cost × max(0, bound − Σ factor × variable)`.
    pub(super) fn below<const N: usize>(
        &mut self,
        terms: [(usize, f64); N],
        bound: f64,
        cost: f64,
    ) {
        self.above(&terms.map(|(variable, factor)| (variable, -factor)), -bound, cost);
    }

    /// Costs `cost × |Σ factor × variable − target|`.
    pub(super) fn off(&mut self, terms: &[(usize, f64)], target: f64, cost: f64) {
        if cost > 0.0 {
            self.row(terms, target, Slopes { least: -cost, greatest: cost });
        }
    }

    /// Costs `½ weight × (Σ factor × variable − target)²`.
    pub(super) fn square(&mut self, terms: [(usize, f64); 3], target: f64, weight: f64) {
        push_square(&mut self.squares.of_three, terms, (target, weight));
    }

    /// The same for four variables.
    pub(super) fn square_of_four(&mut self, terms: [(usize, f64); 4], target: f64, weight: f64) {
        push_square(&mut self.squares.of_four, terms, (target, weight));
    }

    fn row(&mut self, terms: &[(usize, f64)], bound: f64, slopes: Slopes) {
        let rows = &mut self.rows;
        match *terms {
            [a] => push(&mut rows.of_one, [a], bound, slopes),
            [a, b] => push(&mut rows.of_two, [a, b], bound, slopes),
            [a, b, c] => push(&mut rows.of_three, [a, b, c], bound, slopes),
            [a, b, c, d] => push(&mut rows.of_four, [a, b, c, d], bound, slopes),
            [a, b, c, d, e, f] => push(&mut rows.of_six, [a, b, c, d, e, f], bound, slopes),
            _ => unreachable!("a row of this room has one to four variables, or six"),
        }
    }
}

/// Adds a square to those of its kind.
fn push_square<const K: usize>(
    kinds: &mut Vec<Squares<K>>,
    terms: [(usize, f64); K],
    (target, weight): (f64, f64),
) {
    if weight <= 0.0 {
        return;
    }
    let (stage, offsets, factors) = placed(terms);
    let kind = kinds.iter().position(|squares| *squares.offsets() == offsets);
    let kind = kind.unwrap_or_else(|| {
        kinds.push(Squares::at(offsets));
        kinds.len() - 1
    });
    kinds[kind].push(stage, factors, target, weight);
}

/// Adds a row to those of its kind.
fn push<const K: usize>(
    kinds: &mut Vec<Rows<K>>,
    terms: [(usize, f64); K],
    bound: f64,
    slopes: Slopes,
) {
    let (stage, offsets, factors) = placed(terms);
    // The newest kinds are the likeliest: one frame's rows come one after the other.
    let kind = kinds
        .iter()
        .position(|rows| *rows.offsets() == offsets && rows.is_limit() == is_limit(slopes));
    let kind = kind.unwrap_or_else(|| {
        kinds.push(Rows::at(offsets));
        kinds.len() - 1
    });
    kinds[kind].push(stage, factors, bound, slopes);
}

const fn is_limit(slopes: Slopes) -> bool {
    slopes.greatest >= LIMIT_SLOPE
}

/// The stage that terms start in, their distances from its first variable, and their factors, in order.
fn placed<const K: usize>(mut terms: [(usize, f64); K]) -> (u32, [usize; K], [f64; K]) {
    terms.sort_unstable_by_key(|(variable, _)| *variable);
    let stage = terms[0].0 / VARIABLES;
    let first = stage * VARIABLES;
    let stage = u32::try_from(stage).unwrap_or(u32::MAX);
    (stage, terms.map(|(variable, _)| variable - first), terms.map(|(_, factor)| factor))
}
