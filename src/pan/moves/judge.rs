//! Any plan of moves against every rule, read off the windows it is baked to.

use super::{
    super::{Objective, Request, Side, peak_speed},
    Framing, Moves,
    frame::{edges_of, keeps_limits},
    leg::{NOISE_SECS, Times, headings},
};
use crate::geometry::Window;

/// Reckons plans of one request.
pub(super) struct Judge<'a> {
    request: &'a Request,
    sides: &'a [Side],
    times: Times<'a>,
}

impl<'a> Judge<'a> {
    pub(super) fn of(request: &'a Request, sides: &'a [Side]) -> Self {
        Self { request, sides, times: Times::of(request) }
    }

    /// What a plan costs: the objective of its windows and the cost of its moves; `None` if it breaks a limit at
    /// any frame.
    pub(super) fn cost_if_sound(&self, plan: &Moves) -> Option<f64> {
        let windows = plan.windows(self.request)?;
        let is_sound = windows.iter().enumerate().all(|(frame, w)| self.may_stand(w, frame))
            && self.is_slow_enough(plan, &windows)
            && self.turns_are_far_apart(plan);
        is_sound.then(|| Objective::of(self.request, &windows).total() + self.moves_cost(plan))
    }

    /// What the moves of a plan cost beside the objective of its windows.
    #[expect(clippy::cast_precision_loss, reason = "a run has far fewer moves than 2^53")]
    pub(super) fn moves_cost(&self, plan: &Moves) -> f64 {
        let rules = &self.request.rules.moves;
        let secs: f64 =
            plan.moves().map(|m| self.times.secs(m.last) - self.times.secs(m.first)).sum();
        rules.cost * plan.moves().len() as f64 + rules.cost_per_sec * secs
    }

    fn may_stand(&self, window: &Window, frame: usize) -> bool {
        let pin = self.request.pins.iter().find(|pin| pin.index == frame);
        pin.map_or_else(
            || keeps_limits(self.request, self.sides, frame, edges_of(window)),
            |pin| pin.window == *window,
        )
    }

    /// Whether the pan limit holds at the true peak of each move, and from each frame to the next.
    fn is_slow_enough(&self, plan: &Moves, windows: &[Window]) -> bool {
        const NOISE: f64 = 1.0 + 1e-9;
        let Some(secs_per_width) = self.request.rules.pan_hard else { return true };
        let framing = |window: &Window| Framing::of(window, self.request.raster);
        let peaks = plan.holds.windows(2).map(|pair| {
            let secs = self.times.secs(pair[1].first) - self.times.secs(pair[0].last);
            framing(&pair[0].window).peak_widths(&framing(&pair[1].window), plan.ease) / secs
        });
        let (pace, ride) = (&self.request.pace, &self.request.ride);
        let baked = peak_speed(windows, pace, ride).widths_per_sec;
        peaks.fold(baked, f64::max) * secs_per_width <= NOISE
    }

    /// Whether no axis turns too soon after it has turned.
    fn turns_are_far_apart(&self, plan: &Moves) -> bool {
        let Some(least_secs) = self.request.rules.moves.reversal_secs else { return true };
        (0..2).all(|axis| {
            let (mut before, mut turned_at) = (0, f64::NEG_INFINITY);
            plan.holds.windows(2).all(|pair| {
                let heading = headings(&pair[0].window, &pair[1].window)[axis];
                let start = self.times.secs(pair[0].last);
                let is_turn = heading != 0 && heading == -before;
                let is_far = !is_turn || start - turned_at >= least_secs - NOISE_SECS;
                if is_turn {
                    turned_at = start;
                }
                if heading != 0 {
                    before = heading;
                }
                is_far
            })
        })
    }
}
