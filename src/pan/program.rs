/// A convex program: minimise `½ xᵀQx + cᵀx` under straight-line equalities and upper limits.
///
/// What the path planner needs of a general solver, and no more, so that another solver can take its place.
#[derive(Debug, Clone, Default)]
pub(super) struct ConvexProgram {
    /// `c`: one cost a variable.
    pub(super) linear: Vec<f64>,
    /// Upper triangle of `Q` as row, column, value; entries of one place are added.
    pub(super) quadratic: Vec<(usize, usize, f64)>,
    /// Sums that equal their bound.
    pub(super) equal: Rows,
    /// Sums that are at most their bound.
    pub(super) at_most: Rows,
}

/// Weighted sums of variables, each with a bound.
#[derive(Debug, Clone, Default)]
pub(super) struct Rows {
    /// Row, column, value.
    pub(super) entries: Vec<(usize, usize, f64)>,
    /// One bound a row.
    pub(super) bounds: Vec<f64>,
}

impl Rows {
    fn add(&mut self, terms: &[(usize, f64)], bound: f64) {
        let row = self.bounds.len();
        self.entries.extend(terms.iter().map(|(variable, factor)| (row, *variable, *factor)));
        self.bounds.push(bound);
    }
}

impl ConvexProgram {
    /// A new variable with this cost; its number.
    pub(super) fn variable(&mut self, cost: f64) -> usize {
        self.linear.push(cost);
        self.linear.len() - 1
    }

    /// `Σ factor × variable = bound`.
    pub(super) fn require_equal(&mut self, terms: &[(usize, f64)], bound: f64) {
        self.equal.add(terms, bound);
    }

    /// `Σ factor × variable <= bound`.
    pub(super) fn require_at_most(&mut self, terms: &[(usize, f64)], bound: f64) {
        self.at_most.add(terms, bound);
    }

    /// `Σ factor × variable >= bound`.
    pub(super) fn require_at_least(&mut self, terms: &[(usize, f64)], bound: f64) {
        let negated: Vec<_> = terms.iter().map(|(variable, factor)| (*variable, -factor)).collect();
        self.at_most.add(&negated, -bound);
    }

    /// A new variable of this cost that is at least 0 and at least `|Σ factor × variable − target|`.
    pub(super) fn absolute_cost(&mut self, terms: &[(usize, f64)], target: f64, cost: f64) {
        let size = self.variable(cost);
        let with_size = |factor: f64| -> Vec<(usize, f64)> {
            terms
                .iter()
                .map(|(variable, f)| (*variable, f * factor))
                .chain([(size, -1.0)])
                .collect()
        };
        self.at_most.add(&with_size(1.0), target);
        self.at_most.add(&with_size(-1.0), -target);
    }

    /// Adds `cost × (Σ factor × variable)²` to what is minimised.
    pub(super) fn square_cost(&mut self, terms: &[(usize, f64)], cost: f64) {
        for (place, (row, row_factor)) in terms.iter().enumerate() {
            for (column, column_factor) in &terms[place..] {
                let (low, high) = (*row.min(column), *row.max(column));
                self.quadratic.push((low, high, 2.0 * cost * row_factor * column_factor));
            }
        }
    }
}
