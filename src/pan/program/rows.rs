use super::{
    band::Band,
    terms::{Leeway, Seam, Terms, push_shared, shared},
};

/// How far beyond a limit rounding may leave values.
const LIMIT_NOISE_PX: f64 = 1e-8;

/// Rows `cost(Σ coefficient × variable − bound)` of one kind, with the state of the interior-point method.
///
/// Every cost is the largest of two straight lines through 0, `max(least × r, greatest × r)`: a hinge is
/// `least` 0, a size `−least = greatest`, a limit a hinge so steep that it is never paid. With a multiplier
/// `least <= y <= greatest` and `r = u − v`, `u, v >= 0`, a row is at its best where `(greatest − y) u = 0` and
/// `(y − least) v = 0`; the method follows `… = μ` down to it.
#[derive(Debug, Clone)]
pub(super) struct Rows<const K: usize> {
    terms: Terms<K>,
    bounds: Vec<f64>,
    slopes: Vec<Slopes>,
    states: Vec<State>,
}

/// What a row costs below and above its bound, for each unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slopes {
    pub(super) least: f64,
    pub(super) greatest: f64,
}

/// A row's place in the method, and its last direction.
#[derive(Debug, Clone, Copy, Default)]
struct State {
    room: Room,
    above: f64,
    below: f64,
    step_multiplier: f64,
    step_above: f64,
    step_below: f64,
}

impl State {
    /// The residual that steps are reckoned from. Once it agrees with what is above less what is below to within
    /// rounding, it *is* that: a stiff row would make forces of the rest.
    fn clean(&self, residual: f64) -> f64 {
        const NOISE_PX: f64 = 1e-10;
        let split = self.above - self.below;
        if (residual - split).abs() < NOISE_PX { split } else { residual }
    }

    /// How far a residual is from what is above less what is below.
    fn primal_residual(&self, residual: f64) -> f64 {
        residual - self.above + self.below
    }

    fn products(&self) -> f64 {
        self.room.above * self.above + self.room.below * self.below
    }

    /// How softly the row gives way: the residual's change for a change of the multiplier.
    fn softness(&self) -> f64 {
        self.above / self.room.above + self.below / self.room.below
    }

    /// The inverse of the longest step, as a share of the present direction, that keeps everything above 0.
    fn tightest(&self) -> f64 {
        let shares = [
            -self.step_above / self.above,
            -self.step_below / self.below,
            self.step_multiplier / self.room.above,
            -self.step_multiplier / self.room.below,
        ];
        shares.into_iter().fold(0.0, f64::max)
    }
}

/// The room of a multiplier to the slope above and to the one below: kept and not reckoned from the multiplier,
/// which would lose all digits of a room that is nearly none.
#[derive(Debug, Clone, Copy, Default)]
struct Room {
    above: f64,
    below: f64,
}

impl Room {
    fn multiplier(self, slopes: Slopes) -> f64 {
        if self.above < self.below {
            slopes.greatest - self.above
        } else {
            slopes.least + self.below
        }
    }
}

/// Sums over rows at the beginning of a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    /// What all rows cost.
    pub(super) cost: f64,
    /// What they cost more than their multipliers prove: not below 0.
    pub(super) gap: f64,
    /// The products that the method drives to μ.
    pub(super) products: f64,
    /// The largest `|r − u + v|`.
    pub(super) primal: f64,
    /// The largest multiplier, without its sign.
    pub(super) largest_multiplier: f64,
    /// How many products there are.
    pub(super) count: f64,
}

impl Sums {
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            cost: self.cost + other.cost,
            gap: self.gap + other.gap,
            products: self.products + other.products,
            primal: self.primal.max(other.primal),
            largest_multiplier: self.largest_multiplier.max(other.largest_multiplier),
            count: self.count + other.count,
        }
    }
}

/// How far a direction can be followed, and what it does to the products.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Reach {
    /// The inverse of the longest step.
    pub(super) tightest: f64,
    /// The second-order part of the products' change.
    pub(super) bent: f64,
}

impl Reach {
    pub(super) fn and(self, other: Self) -> Self {
        Self { tightest: self.tightest.max(other.tightest), bent: self.bent + other.bent }
    }
}

/// What the method asks of rows of any length.
pub(super) trait Block {
    /// Puts every row on the central path for these values and this μ.
    fn centre(&mut self, values: &[f64], mu: f64);
    /// Adds `Aᵀy` to the gradient, `Aᵀ D⁻¹ A` to the matrix and `Aᵀ D⁻¹ r` to the pull.
    fn begin(&self, values: &[f64], at: &mut Begun<'_>) -> Sums;
    /// The direction that would bring every product to 0, for a step of the values.
    fn predict(&mut self, values: &[f64], step: &[f64]) -> Reach;
    /// Aims at products of `target`, second order included, and adds `Aᵀ D⁻¹ (…)` to the pull.
    fn correct(&mut self, values: &[f64], target: f64, pull: &mut [f64]);
    /// The direction to that aim, for a step of the values; the inverse of its longest step.
    fn direct(&mut self, values: &[f64], step: &[f64]) -> f64;
    /// Goes along the direction.
    fn advance(&mut self, share: f64);
    /// Adds what the rows pull with across seams.
    fn add_seams(&self, seams: &mut [Seam]);
    /// Adds the leeway of rows of one variable that are at their bound.
    fn add_leeways(&self, values: &[f64], leeways: &mut [Leeway]);
    /// The steepest slope of rows that may be paid for; 0 of limits.
    fn steepest(&self) -> f64;
    /// Whether the rows are to be kept.
    fn is_kept(&self) -> bool;
    /// By how much the row that is furthest beyond its bound is beyond it; 0 if none is.
    fn worst_beyond(&self, values: &[f64]) -> f64;
}

/// Where the sums of the beginning of a step go.
pub(super) struct Begun<'a> {
    pub(super) matrix: &'a mut Band,
    pub(super) gradient: &'a mut [f64],
    pub(super) pull: &'a mut [f64],
}

impl<const K: usize> Rows<K> {
    pub(super) const fn at(offsets: [usize; K]) -> Self {
        Self {
            terms: Terms::at(offsets),
            bounds: Vec::new(),
            slopes: Vec::new(),
            states: Vec::new(),
        }
    }

    pub(super) const fn offsets(&self) -> &[usize; K] {
        &self.terms.offsets
    }

    /// Whether these rows are to be kept; empty rows are not.
    pub(super) fn is_limit(&self) -> bool {
        self.slopes.first().is_some_and(|slopes| super::is_limit(*slopes))
    }

    /// The same rows, if they are to be kept, at another cost of breaking them; none otherwise.
    pub(super) fn limits_alone(&self, slope: f64) -> Self {
        if !self.is_limit() {
            return Self::at(*self.offsets());
        }
        Self { slopes: vec![Slopes { least: 0.0, greatest: slope }], ..self.clone() }
    }

    pub(super) fn push(&mut self, stage: u32, coefficients: [f64; K], bound: f64, slopes: Slopes) {
        push_shared(&mut self.slopes, self.bounds.len(), slopes);
        self.terms.push(stage, coefficients);
        self.bounds.push(bound);
        self.states.push(State::default());
    }

    fn slopes(&self, row: usize) -> Slopes {
        *shared(&self.slopes, row)
    }

    fn residual(&self, row: usize, values: &[f64]) -> f64 {
        self.terms.value(row, values) - self.bounds[row]
    }
}

impl<const K: usize> Block for Rows<K> {
    fn centre(&mut self, values: &[f64], mu: f64) {
        // A limit starts as if it were kept by this much: the multiplier of a broken one would be immense.
        const KEPT_BY_PX: f64 = 1.0;
        let most = if self.is_limit() { -KEPT_BY_PX } else { f64::INFINITY };
        for row in 0..self.bounds.len() {
            let (slopes, residual) = (self.slopes(row), self.residual(row, values).min(most));
            let half = (slopes.greatest - slopes.least) / 2.0;
            // Where (greatest − y) u = (y − least) v = μ and u − v = r meet, without differences of like numbers.
            let scaled = (residual * half).abs();
            let root = mu.hypot(scaled);
            let wide = half * (1.0 + scaled / (mu + root));
            let narrow = half * (mu + mu * mu / (root + scaled)) / (mu + root);
            let (above, below) = if residual > 0.0 { (narrow, wide) } else { (wide, narrow) };
            let room = Room { above, below };
            self.states[row] =
                State { room, above: mu / room.above, below: mu / room.below, ..State::default() };
        }
    }

    fn begin(&self, values: &[f64], at: &mut Begun<'_>) -> Sums {
        let mut sums = Sums { count: 2.0 * self.bounds.len() as f64, ..Sums::default() };
        // What rounding leaves of a limit is not paid for: at its slope it would outweigh everything else.
        let noise_px = if self.is_limit() { LIMIT_NOISE_PX } else { 0.0 };
        for (row, state) in self.states.iter().enumerate() {
            let (slopes, residual) = (self.slopes(row), self.residual(row, values));
            let stiffness = 1.0 / state.softness();
            let multiplier = state.room.multiplier(slopes);
            sums.largest_multiplier = sums.largest_multiplier.max(multiplier.abs());
            self.terms.scatter(row, multiplier, at.gradient);
            self.terms.scatter(row, stiffness * state.clean(residual), at.pull);
            self.terms.add_square(row, stiffness, at.matrix);
            let (over, under) = ((residual - noise_px).max(0.0), (-residual).max(0.0));
            sums.cost += slopes.greatest * over - slopes.least * under;
            sums.gap += state.room.above * over + state.room.below * under;
            sums.products += state.products();
            sums.primal = sums.primal.max(state.primal_residual(residual).abs());
        }
        sums
    }

    fn predict(&mut self, values: &[f64], step: &[f64]) -> Reach {
        let mut reach = Reach::default();
        for row in 0..self.states.len() {
            let residual = self.residual(row, values);
            let moved = self.terms.value(row, step);
            let state = &mut self.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let (per_above, per_below) = (state.above / room.above, state.below / room.below);
            state.step_multiplier = (moved + residual) / (per_above + per_below);
            state.step_above = per_above * state.step_multiplier - state.above;
            state.step_below = -per_below * state.step_multiplier - state.below;
            reach.tightest = reach.tightest.max(state.tightest());
            reach.bent += state.step_multiplier * (state.step_below - state.step_above);
        }
        reach
    }

    fn correct(&mut self, values: &[f64], target: f64, pull: &mut [f64]) {
        for row in 0..self.states.len() {
            let residual = self.residual(row, values);
            let state = &mut self.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let bent = state.step_multiplier;
            let above = (target + bent * state.step_above) / room.above - state.above;
            let below = (target - bent * state.step_below) / room.below - state.below;
            (state.step_above, state.step_below) = (above, below);
            let aim = state.primal_residual(residual) - above + below;
            let factor = aim / state.softness();
            self.terms.scatter(row, factor, pull);
        }
    }

    fn direct(&mut self, values: &[f64], step: &[f64]) -> f64 {
        let mut tightest = 0.0_f64;
        for row in 0..self.states.len() {
            let residual = self.residual(row, values);
            let moved = self.terms.value(row, step);
            let state = &mut self.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let (per_above, per_below) = (state.above / room.above, state.below / room.below);
            let aim = state.primal_residual(residual) - state.step_above + state.step_below;
            state.step_multiplier = (moved + aim) / (per_above + per_below);
            state.step_above += per_above * state.step_multiplier;
            state.step_below -= per_below * state.step_multiplier;
            tightest = tightest.max(state.tightest());
        }
        tightest
    }

    fn advance(&mut self, share: f64) {
        for state in &mut self.states {
            state.room.above -= share * state.step_multiplier;
            state.room.below += share * state.step_multiplier;
            state.above += share * state.step_above;
            state.below += share * state.step_below;
        }
    }

    fn add_seams(&self, seams: &mut [Seam]) {
        for (row, state) in self.states.iter().enumerate() {
            self.terms.add_seams(row, state.room.multiplier(self.slopes(row)), seams);
        }
    }

    fn add_leeways(&self, values: &[f64], leeways: &mut [Leeway]) {
        const AT_BOUND_PX: f64 = 1e-5;
        if K > 1 {
            return;
        }
        for (row, state) in self.states.iter().enumerate() {
            if self.residual(row, values).abs() < AT_BOUND_PX {
                self.terms.add_leeway(row, (state.room.below, state.room.above), leeways);
            }
        }
    }

    fn steepest(&self) -> f64 {
        let paid = if self.is_limit() { &[] } else { &self.slopes[..] };
        paid.iter().map(|slopes| slopes.greatest).fold(0.0, f64::max)
    }

    fn is_kept(&self) -> bool {
        self.is_limit()
    }

    fn worst_beyond(&self, values: &[f64]) -> f64 {
        (0..self.bounds.len()).map(|row| self.residual(row, values)).fold(0.0, f64::max)
    }
}
