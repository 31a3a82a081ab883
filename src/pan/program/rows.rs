use super::{
    KEPT_PX, VARIABLES,
    band::Band,
    state::{Shares, Slopes, State, Tightest},
    terms::{Leeway, Seam, Terms, push_shared, shared},
};
use std::ops::Range;

/// A residual that has moved by less than this has not: far less than anything shows.
const MOVED_PX: f64 = 1e-13;

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
    /// Those at work, by their places in these lists; the others rest.
    at_work: Vec<Range<usize>>,
    /// How each of those at work ended before, one after the other, where only some are at work.
    ended: Vec<State>,
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
    /// The largest multiplier, without its sign.
    pub(super) largest_multiplier: f64,
    /// How many products there are.
    pub(super) count: f64,
    /// By how much the most broken limit is broken.
    pub(super) broken_px: f64,
}

impl Sums {
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            cost: self.cost + other.cost,
            gap: self.gap + other.gap,
            products: self.products + other.products,
            largest_multiplier: self.largest_multiplier.max(other.largest_multiplier),
            count: self.count + other.count,
            broken_px: self.broken_px.max(other.broken_px),
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

/// What the method asks of rows of any length. Where nothing else is said it concerns the rows that are at work.
///
/// Rows that rest go on as they ended: straight lines, or stiff springs where they are at their bound.
pub(super) trait Block {
    /// Puts every row to work.
    fn put_all_to_work(&mut self);
    /// Has every row rest.
    fn rest(&mut self);
    /// Puts the rows that start in these stages to work, but for those that are so far off their bound that they can go on
    /// resting; a start for them. The others rest. The rows have to be in the order of their stages.
    fn put_to_work(&mut self, stages: &[Range<usize>], from: &Loosened<'_>);
    /// Has those rest again that are so far off the bound, on the side where they ended, that the present steps will not
    /// bring them there, and adds what they pull with.
    fn rest_again(&mut self, moved: &[f64], step: &[f64], at: &mut Begun<'_>);
    /// Adds what resting rows of some stages pull with, and how stiff they are, once the values have moved by so much
    /// since the rows ended.
    fn begin_resting(&self, moved: &[f64], stages: &Range<usize>, at: &mut Begun<'_>);
    /// Tells the stages of resting rows that do not go on as they ended, the values having moved by so much: whose
    /// multiplier would leave its slopes, or which would cost more than it proves.
    fn tell_unsettled(&self, moved: &Moved<'_>, tolerance: Tolerance, unsettled: &mut Vec<usize>);
    /// Has resting rows end where the values have moved to.
    fn settle_resting(&mut self, moved: &Moved<'_>);
    /// Puts every row on the central path for these values and this μ.
    fn centre(&mut self, values: &[f64], mu: f64);
    /// Adds `Aᵀy` to the gradient, `Aᵀ D⁻¹ A` to the matrix and `Aᵀ D⁻¹ r` to the pull.
    fn begin(&self, values: &[f64], at: &mut Begun<'_>) -> Sums;
    /// The direction that would bring every product to 0, for a step of the values.
    fn predict(&mut self, values: &[f64], step: &[f64]) -> Reach;
    /// Aims at products of `target`, second order included, and adds `Aᵀ D⁻¹ (…)` to the pull.
    fn correct(&mut self, values: &[f64], target: f64, pull: &mut [f64]);
    /// The direction to that aim, for a step of the values; how far it can be followed.
    fn direct(&mut self, values: &[f64], step: &[f64]) -> Tightest;
    /// Goes along the direction.
    fn advance(&mut self, shares: Shares);
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

/// Where rows that are put to work begin: a share of the way from where they ended to the central path for these values and
/// this μ.
#[derive(Debug, Clone, Copy)]
pub(super) struct Loosened<'a> {
    pub(super) values: &'a [f64],
    /// By how much the values have moved since the rows ended.
    pub(super) moved: &'a [f64],
    pub(super) share: f64,
    pub(super) mu: f64,
    /// Rows that ended and are further off their bound than this can go on resting, if they moved by far less than that.
    pub(super) far_px: f64,
}

/// How far values have moved since rows ended.
#[derive(Debug, Clone)]
pub(super) struct Moved<'a> {
    values: &'a [f64],
    /// The stages that rows start in that may meet any that has moved.
    stages: Range<usize>,
}

impl<'a> Moved<'a> {
    pub(super) fn by(values: &'a [f64]) -> Self {
        /// Rows reach so many stages further than the one that they start in.
        const REACH: usize = 2;
        let has_moved = |moved: &f64| moved.abs() >= MOVED_PX;
        let first = values.iter().position(has_moved).unwrap_or(0) / VARIABLES;
        let last = values.iter().rposition(has_moved).unwrap_or(0) / VARIABLES;
        Self { values, stages: first.saturating_sub(REACH)..last + 1 }
    }
}

/// How far resting rows may be from going on as they ended.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tolerance {
    /// Beyond its slopes, as a share of how far those are apart (of one, if they are further apart).
    pub(super) slopes: f64,
    /// What a row may cost more than is proven, px.
    pub(super) gap_px: f64,
}

/// Where the sums of the beginning of a step go.
pub(super) struct Begun<'a> {
    pub(super) matrix: &'a mut Band,
    pub(super) gradient: &'a mut [f64],
    pub(super) pull: &'a mut [f64],
    pub(super) exactness: Exactness,
}

/// How exactly rows are taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Exactness {
    /// Whether rows are as stiff as they are at rest.
    is_resting: bool,
    /// By how much a limit is broken that is not paid for: at its slope it would outweigh everything else.
    noise_px: f64,
}

impl Exactness {
    /// Limits as exactly as rounding lets values keep them.
    pub(super) const AT_WORK: Self = Self { is_resting: false, noise_px: 1e-8 };

    /// Limits as exactly as springs of that stiffness keep them.
    pub(super) const AT_REST: Self = Self { is_resting: true, noise_px: KEPT_PX };

    fn stiffness(self, state: &State) -> f64 {
        if self.is_resting { state.resting_stiffness() } else { 1.0 / state.softness() }
    }
}

impl<const K: usize> Rows<K> {
    pub(super) const fn at(offsets: [usize; K]) -> Self {
        Self {
            terms: Terms::at(offsets),
            bounds: Vec::new(),
            slopes: Vec::new(),
            states: Vec::new(),
            at_work: Vec::new(),
            ended: Vec::new(),
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

    /// How far off its bound a row is now, if it ended at least so far off and on the same side.
    fn still_off(&self, row: usize, ended: &State, moved: &[f64], least_px: f64) -> Option<f64> {
        let before = ended.above - ended.below;
        let now = before + self.terms.value(row, moved);
        (before * now > 0.0 && before.abs() > least_px).then_some(now.abs())
    }

    /// Whether a resting row is so far off its bound that it hardly comes there.
    fn is_far_off(&self, row: usize, moved: &[f64], far_px: f64) -> bool {
        /// Further than so many px it has to be off by so many times what it moved. Chosen by trying: with more, rows are at
        /// work for nothing; with less, more is found out too late.
        const TIMES_MOVED: f64 = 1.9;
        let off = self.still_off(row, &self.states[row], moved, far_px);
        off.is_some_and(|off| off > far_px + TIMES_MOVED * self.terms.value(row, moved).abs())
    }

    /// Whether a resting row goes on as it ended.
    fn is_settled(&self, row: usize, moved: &[f64], tolerance: Tolerance) -> bool {
        let moved = self.terms.value(row, moved);
        let state = &self.states[row];
        if moved.abs() < MOVED_PX || state.hardly_moves(moved, tolerance.gap_px) {
            return true;
        }
        let noise_px = if self.is_limit() { KEPT_PX } else { 0.0 };
        let residual = state.above - state.below + moved;
        let room = state.moved_room(moved);
        let slopes = self.slopes(row);
        let least = -tolerance.slopes * (slopes.greatest - slopes.least).min(1.0);
        let (over, under) = ((residual - noise_px).max(0.0), (-residual).max(0.0));
        let gap = room.above.max(0.0) * over + room.below.max(0.0) * under;
        room.above >= least && room.below >= least && gap <= tolerance.gap_px
    }

    fn keep_at_work(&mut self, row: usize, ended: State) {
        self.ended.push(ended);
        match self.at_work.last_mut() {
            Some(rows) if rows.end == row => rows.end += 1,
            _ => self.at_work.push(row..row + 1),
        }
    }

    fn begin_row(&self, row: usize, values: &[f64], at: &mut Begun<'_>, sums: &mut Sums) {
        let state = &self.states[row];
        let (slopes, residual) = (self.slopes(row), self.residual(row, values));
        let multiplier = state.room.multiplier(slopes);
        self.terms.scatter(row, multiplier, at.gradient);
        let stiffness = at.exactness.stiffness(state);
        if stiffness > 0.0 {
            self.terms.scatter(row, stiffness * state.clean(residual), at.pull);
            self.terms.add_square(row, stiffness, at.matrix);
        }
        let noise_px = if self.is_limit() { at.exactness.noise_px } else { 0.0 };
        if self.is_limit() {
            sums.broken_px = sums.broken_px.max(residual);
        }
        let (over, under) = ((residual - noise_px).max(0.0), (-residual).max(0.0));
        sums.count += 2.0;
        sums.largest_multiplier = sums.largest_multiplier.max(multiplier.abs());
        sums.cost += slopes.greatest * over - slopes.least * under;
        sums.gap += state.room.above * over + state.room.below * under;
        sums.products += state.products();
    }

    /// Adds what a resting row pulls with, and how stiff it is.
    fn add_resting(&self, row: usize, moved: &[f64], at: &mut Begun<'_>) {
        let state = &self.states[row];
        let stiffness = state.resting_stiffness();
        let mut multiplier = state.room.multiplier(self.slopes(row));
        if stiffness > 0.0 {
            multiplier += stiffness * self.terms.value(row, moved);
            self.terms.add_square(row, stiffness, at.matrix);
        }
        if multiplier != 0.0 {
            self.terms.scatter(row, multiplier, at.gradient);
        }
    }

    /// The resting ones of some rows.
    fn rest_of(&self, rows: Range<usize>) -> impl Iterator<Item = Range<usize>> + '_ {
        let starts = std::iter::once(0).chain(self.at_work.iter().map(|rows| rows.end));
        let ends = self.at_work.iter().map(|rows| rows.start).chain([self.bounds.len()]);
        starts.zip(ends).map(move |(start, end)| start.max(rows.start)..end.min(rows.end))
    }

    /// Does something with each row that is at work.
    fn each_working(&mut self, mut each: impl FnMut(&mut Self, usize)) {
        let at_work = std::mem::take(&mut self.at_work);
        for rows in &at_work {
            for row in rows.clone() {
                each(self, row);
            }
        }
        self.at_work = at_work;
    }

    /// The state on the central path at these values.
    fn centred(&self, row: usize, values: &[f64], mu: f64) -> State {
        /// A limit starts as if it were kept by this much: the multiplier of a broken one would be immense.
        const KEPT_BY_PX: f64 = 1.0;
        let most = if self.is_limit() { -KEPT_BY_PX } else { f64::INFINITY };
        State::centred(self.slopes(row), self.residual(row, values).min(most), mu)
    }
}

impl<const K: usize> Block for Rows<K> {
    fn put_all_to_work(&mut self) {
        self.ended.clear();
        self.at_work = std::iter::once(0..self.bounds.len()).collect();
    }

    fn rest(&mut self) {
        self.ended.clear();
        self.at_work.clear();
    }

    fn put_to_work(&mut self, stages: &[Range<usize>], from: &Loosened<'_>) {
        let before = std::mem::take(&mut self.at_work).into_iter().flatten();
        let mut before = before.zip(std::mem::take(&mut self.ended)).peekable();
        let starting: Vec<_> = stages.iter().map(|s| self.terms.starting_in(s)).collect();
        for row in starting.into_iter().flatten() {
            let ended = before.next_if(|(before, _)| *before == row).map(|(_, ended)| ended);
            if ended.is_none() && self.is_far_off(row, from.moved, from.far_px) {
                continue;
            }
            self.keep_at_work(row, ended.unwrap_or(self.states[row]));
            let centred = self.centred(row, from.values, from.mu);
            self.states[row].loosen(&centred, from.share);
        }
    }

    fn rest_again(&mut self, moved: &[f64], step: &[f64], at: &mut Begun<'_>) {
        /// Off by so much, and by so many times what the last step did, a row rests. Chosen by trying.
        const OFF_PX: f64 = 1.0;
        const TIMES_STEPPED: f64 = 2.8;
        let ended = std::mem::take(&mut self.ended);
        let at_work = std::mem::take(&mut self.at_work).into_iter().flatten();
        for (row, ended) in at_work.zip(ended) {
            let stepped = self.terms.value(row, step).abs();
            let off = self.still_off(row, &ended, moved, OFF_PX);
            // What would not keep to its slopes would be put to work again, and again.
            let keeps_to_slopes = || {
                let room = ended.moved_room(self.terms.value(row, moved));
                room.above >= 0.0 && room.below >= 0.0
            };
            if off.is_some_and(|off| off > OFF_PX + TIMES_STEPPED * stepped) && keeps_to_slopes() {
                self.states[row] = ended;
                self.add_resting(row, moved, at);
            } else {
                self.keep_at_work(row, ended);
            }
        }
    }

    fn begin_resting(&self, moved: &[f64], stages: &Range<usize>, at: &mut Begun<'_>) {
        for rows in self.rest_of(self.terms.starting_in(stages)) {
            rows.for_each(|row| self.add_resting(row, moved, at));
        }
    }

    fn tell_unsettled(&self, moved: &Moved<'_>, tolerance: Tolerance, unsettled: &mut Vec<usize>) {
        for rows in self.rest_of(self.terms.starting_in(&moved.stages)) {
            let told = rows.filter(|row| !self.is_settled(*row, moved.values, tolerance));
            unsettled.extend(told.map(|row| self.terms.stage(row)));
        }
    }

    fn settle_resting(&mut self, moved: &Moved<'_>) {
        let starting = self.terms.starting_in(&moved.stages);
        let resting: Vec<Range<usize>> = self.rest_of(starting).collect();
        for row in resting.into_iter().flatten() {
            let moved = self.terms.value(row, moved.values);
            if moved != 0.0 {
                self.states[row].settle(moved);
            }
        }
    }

    fn centre(&mut self, values: &[f64], mu: f64) {
        self.each_working(|rows, row| {
            rows.states[row] = rows.centred(row, values, mu);
        });
    }

    fn begin(&self, values: &[f64], at: &mut Begun<'_>) -> Sums {
        let mut sums = Sums::default();
        for rows in &self.at_work {
            for row in rows.clone() {
                self.begin_row(row, values, at, &mut sums);
            }
        }
        sums
    }

    fn predict(&mut self, values: &[f64], step: &[f64]) -> Reach {
        let mut reach = Reach::default();
        self.each_working(|rows, row| {
            let residual = rows.residual(row, values);
            let moved = rows.terms.value(row, step);
            let state = &mut rows.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let (per_above, per_below) = (state.above / room.above, state.below / room.below);
            state.step_multiplier = (moved + residual) / (per_above + per_below);
            state.step_above = per_above * state.step_multiplier - state.above;
            state.step_below = -per_below * state.step_multiplier - state.below;
            reach.tightest = reach.tightest.max(state.tightest().common());
            reach.bent += state.step_multiplier * (state.step_below - state.step_above);
        });
        reach
    }

    fn correct(&mut self, values: &[f64], target: f64, pull: &mut [f64]) {
        self.each_working(|rows, row| {
            let residual = rows.residual(row, values);
            let state = &mut rows.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let bent = state.step_multiplier;
            let above = (target + bent * state.step_above) / room.above - state.above;
            let below = (target - bent * state.step_below) / room.below - state.below;
            (state.step_above, state.step_below) = (above, below);
            let aim = state.primal_residual(residual) - above + below;
            let factor = aim / state.softness();
            rows.terms.scatter(row, factor, pull);
        });
    }

    fn direct(&mut self, values: &[f64], step: &[f64]) -> Tightest {
        let mut tightest = Tightest::default();
        self.each_working(|rows, row| {
            let residual = rows.residual(row, values);
            let moved = rows.terms.value(row, step);
            let state = &mut rows.states[row];
            let (room, residual) = (state.room, state.clean(residual));
            let (per_above, per_below) = (state.above / room.above, state.below / room.below);
            let aim = state.primal_residual(residual) - state.step_above + state.step_below;
            state.step_multiplier = (moved + aim) / (per_above + per_below);
            state.step_above += per_above * state.step_multiplier;
            state.step_below -= per_below * state.step_multiplier;
            tightest = tightest.and(state.tightest());
        });
        tightest
    }

    fn advance(&mut self, shares: Shares) {
        self.each_working(|rows, row| rows.states[row].advance(shares));
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
