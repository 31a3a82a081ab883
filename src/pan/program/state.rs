//! A row's place in the interior-point method.

/// No row is stiffer than this at rest, px of pull a px. Chosen: with more, what rounding leaves of values that have moved by
/// 100 px pulls with more than counts as none; with less, limits that are pulled at harder than before give way visibly.
pub(super) const STIFFEST_AT_REST: f64 = 2e8;

/// What a row costs below and above its bound, for each unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slopes {
    pub(super) least: f64,
    pub(super) greatest: f64,
}

/// A row's place in the method, and its last direction.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct State {
    pub(super) room: Room,
    pub(super) above: f64,
    pub(super) below: f64,
    pub(super) step_multiplier: f64,
    pub(super) step_above: f64,
    pub(super) step_below: f64,
}

impl State {
    /// On the central path, where `(greatest − y) u = (y − least) v = μ` and `u − v = r` meet: without differences of
    /// like numbers.
    pub(super) fn centred(slopes: Slopes, residual: f64, mu: f64) -> Self {
        let half = (slopes.greatest - slopes.least) / 2.0;
        let scaled = (residual * half).abs();
        // Nothing here is so large or small that its square is not a number, for which a root is the quicker way.
        let root = (mu * mu + scaled * scaled).sqrt();
        let wide = half * (1.0 + scaled / (mu + root));
        let narrow = half * (mu + mu * mu / (root + scaled)) / (mu + root);
        let (above, below) = if residual > 0.0 { (narrow, wide) } else { (wide, narrow) };
        let room = Room { above, below };
        Self { room, above: mu / room.above, below: mu / room.below, ..Self::default() }
    }

    /// The residual that steps are reckoned from. Once it agrees with what is above less what is below to within
    /// rounding, it *is* that: a stiff row would make forces of the rest.
    pub(super) fn clean(&self, residual: f64) -> f64 {
        const NOISE_PX: f64 = 1e-10;
        let split = self.above - self.below;
        if (residual - split).abs() < NOISE_PX { split } else { residual }
    }

    /// How far a residual is from what is above less what is below.
    pub(super) fn primal_residual(&self, residual: f64) -> f64 {
        residual - self.above + self.below
    }

    /// How stiff the row is at rest: not at all if that is next to nothing, which most rows are told by without a division.
    pub(super) fn resting_stiffness(&self) -> f64 {
        /// Over a hundred px it pulls with far less than what counts as none.
        const SOFTEST: f64 = 1e-9;
        let is_soft =
            self.room.above < SOFTEST * self.above || self.room.below < SOFTEST * self.below;
        if is_soft { 0.0 } else { (1.0 / self.softness()).min(STIFFEST_AT_REST) }
    }

    /// The room once the residual has moved by so much, the row going on as it ended.
    pub(super) fn moved_room(&self, moved: f64) -> Room {
        let change = moved * self.resting_stiffness();
        Room { above: self.room.above - change, below: self.room.below + change }
    }

    /// Whether a row moves by so little, at most half of how far it is off its bound, that it surely keeps to its slopes and
    /// costs at most so much more than it proves: told without a division. False says nothing.
    pub(super) fn hardly_moves(&self, moved: f64, gap_px: f64) -> bool {
        let is_above = self.above > self.below;
        let (off, room, other) = if is_above {
            (self.above, self.room.above, self.room.below)
        } else {
            (self.below, self.room.below, self.room.above)
        };
        // Half of the narrower room at most is used up, as no row is stiffer than that room over how far it is off. The gap
        // then is at most one and a half times the room as much times off.
        2.0 * moved.abs() <= off && room <= other && 2.25 * room * off <= gap_px
    }

    /// Ends where a residual has moved to, with products no larger than they were, and above less below exactly there: next
    /// to no room, products as they were would say that the row is far from where it is.
    pub(super) fn settle(&mut self, moved: f64) {
        /// Nothing is ever without room.
        const LEAST: f64 = 1e-12;
        let products = (self.room.above * self.above, self.room.below * self.below);
        let residual = self.above - self.below + moved;
        let room = self.moved_room(moved);
        self.room = Room { above: room.above.max(LEAST), below: room.below.max(LEAST) };
        let least = (products.0 / self.room.above).min(products.1 / self.room.below);
        self.above = residual.max(0.0) + least;
        self.below = (-residual).max(0.0) + least;
    }

    /// Goes a share of the way to another state.
    pub(super) fn loosen(&mut self, other: &Self, share: f64) {
        let between = |own: f64, other: f64| own + share * (other - own);
        self.room.above = between(self.room.above, other.room.above);
        self.room.below = between(self.room.below, other.room.below);
        self.above = between(self.above, other.above);
        self.below = between(self.below, other.below);
    }

    pub(super) fn products(&self) -> f64 {
        self.room.above * self.above + self.room.below * self.below
    }

    /// How softly the row gives way: the residual's change for a change of the multiplier.
    pub(super) fn softness(&self) -> f64 {
        self.above / self.room.above + self.below / self.room.below
    }

    /// How far the present direction can be followed.
    pub(super) fn tightest(&self) -> Tightest {
        let off = (-self.step_above / self.above).max(-self.step_below / self.below);
        let (above, below) = (self.room.above, self.room.below);
        let room = (self.step_multiplier / above).max(-self.step_multiplier / below);
        Tightest { values: off.max(0.0), multipliers: room.max(0.0) }
    }

    /// Goes along the present direction.
    pub(super) fn advance(&mut self, shares: Shares) {
        self.room.above -= shares.multipliers * self.step_multiplier;
        self.room.below += shares.multipliers * self.step_multiplier;
        self.above += shares.values * self.step_above;
        self.below += shares.values * self.step_below;
    }
}

/// The inverses of the longest steps, as shares of a direction, that keep everything above 0.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Tightest {
    /// Of the values, and with them of how far rows are off their bounds.
    pub(super) values: f64,
    /// Of the multipliers, and with them of their rooms.
    pub(super) multipliers: f64,
}

impl Tightest {
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            values: self.values.max(other.values),
            multipliers: self.multipliers.max(other.multipliers),
        }
    }

    /// Of both together.
    pub(super) fn common(self) -> f64 {
        self.values.max(self.multipliers)
    }
}

/// How much of a direction is gone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shares {
    pub(super) values: f64,
    pub(super) multipliers: f64,
}

impl Shares {
    /// The same of both.
    pub(super) const fn common(share: f64) -> Self {
        Self { values: share, multipliers: share }
    }
}

/// The room of a multiplier to the slope above and to the one below: kept and not reckoned from the multiplier,
/// which would lose all digits of a room that is nearly none.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Room {
    pub(super) above: f64,
    pub(super) below: f64,
}

impl Room {
    pub(super) fn multiplier(self, slopes: Slopes) -> f64 {
        if self.above < self.below {
            slopes.greatest - self.above
        } else {
            slopes.least + self.below
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is passed over without a division would have been passed over with one.
    #[test]
    fn a_row_that_hardly_moves_keeps_to_its_slopes_and_costs_what_it_proves() {
        const GAP_PX: f64 = 1e-6;
        let slopes = Slopes { least: -0.5, greatest: 3.0 };
        let mut passed_over = 0;
        for residual in [-40.0, -0.3, -1e-4, 0.0, 1e-7, 2e-3, 6.0] {
            for mu in [1e-12, 1e-9, 1e-7, 1e-4] {
                let state = State::centred(slopes, residual, mu);
                for moved in [-50.0, -3.0, -0.16, -1e-3, -1e-8, 1e-9, 5e-4, 0.14, 2.9, 21.0] {
                    if !state.hardly_moves(moved, GAP_PX) {
                        continue;
                    }
                    passed_over += 1;
                    let room = state.moved_room(moved);
                    let now = state.above - state.below + moved;
                    assert!(room.above > 0.0 && room.below > 0.0, "{residual} {mu} {moved}");
                    let gap = room.above * now.max(0.0) + room.below * (-now).max(0.0);
                    assert!(gap <= GAP_PX, "{residual} {mu} {moved}: {gap}");
                }
            }
        }
        assert!(passed_over > 50, "{passed_over}");
    }

    /// A row that is pulled until its multiplier is at its slope, and on: what it says of where it is must stay true, or
    /// limits that it breaks later are not seen.
    #[test]
    fn a_row_that_settles_with_no_room_left_says_where_it_is() {
        let slopes = Slopes { least: 0.0, greatest: 4.0 };
        for beyond in [-1e-3, 0.0, 1e-9, 1e-7] {
            let mut state = State::centred(slopes, 1e-9, 1e-8);
            let before = state.above - state.below;
            let moved = (state.room.above + beyond) / state.resting_stiffness();
            state.settle(moved);
            let off = (state.above - state.below) - (before + moved);
            assert!(off.abs() < 1e-15, "{beyond}: {off}");
            assert!(state.above > 0.0 && state.below > 0.0);
            assert!(state.room.above > 0.0 && state.room.above <= 1e-3 + 1e-9);
        }
    }
}
