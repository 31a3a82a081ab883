//! Planned moves: windows that stand for at least a second, joined by a few eased moves, as a camera operator
//! works.
//!
//! *Where* a window may stand is a few dozen candidates, clustered from where the subject wants it
//! (`candidates`); *when* a move may start and end is a lattice of frames, and how long it takes one of a dozen
//! lengths (`lattice`). Over both, dynamic programming finds the sequence that costs least, exactly
//! (`search`). Then the windows are polished in real numbers with the timing fixed, a convex program where the
//! widths are alike (`polish`). The cost is the follow path's own [`super::Objective`], with a cost for each move.
//!
//! A move runs in the columns of a hand-off: picture offset and scale go by one eased share from one window
//! to the next (`framing`), so that each move is two keys there, a push included. Hard limits and boxes are
//! straight lines in those columns too (`left >= L` is `(W/2 − L)s − o >= 1/2`), so that what holds at both ends
//! of a move holds all the way.

mod candidates;
mod ease;
mod frame;
mod framing;
mod judge;
mod lattice;
mod leg;
mod member;
mod polish;
mod search;
mod stretches;
mod together;

pub use ease::Ease;

use super::{Objective, Request, Side, Way};
use crate::geometry::Window;
use frame::{edges_of, is_near, riding};
use framing::Framing;
use judge::Judge;
pub(super) use member::{Part, Scene};
use polish::Freedom;
pub(super) use search::NoPlan;
use serde::Serialize;

/// The limits and the cost of eased moves; each is one of the user's limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MoveRules {
    /// How long the window stands at least before, between and after moves, in timeline seconds.
    pub least_hold_secs: f64,
    /// The shortest move, in timeline seconds.
    pub least_move_secs: f64,
    /// The longest move, in timeline seconds.
    pub greatest_move_secs: f64,
    /// How far apart two changes of direction along an axis are at least, in timeline seconds from the start of
    /// one move to that of the other; `None` is off.
    pub reversal_secs: Option<f64>,
    /// How moves start and stop.
    pub ease: Ease,
    /// What a move costs, in window widths of travel.
    pub cost: f64,
    /// What each second of a move costs, in window widths of travel.
    pub cost_per_sec: f64,
    /// What one width off the wanted place costs, beyond the still zone, per second: in place of the follow
    /// path's [`super::Weights::place`]. A move comes late, and then all at once.
    pub place: f64,
}

/// A window that stands for a while.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// The first frame of the run on which it stands.
    pub first: usize,
    /// The last.
    pub last: usize,
    /// The window, with what it rides on taken off.
    pub window: Window,
}

/// A path of holds joined by eased moves. A move runs from the last frame of one hold to the first of the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Moves {
    /// The holds in order, at least one.
    pub holds: Vec<Hold>,
    /// How every move starts and stops.
    pub ease: Ease,
    /// What it may cost more than the cheapest of its lattice, in reference widths, where the search was broken off;
    /// `None` if it is that.
    pub may_cost_more: Option<f64>,
}

/// One move of a path.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Move {
    /// The last frame of the hold before it.
    pub first: usize,
    /// The first frame of the hold after it.
    pub last: usize,
}

/// The cheapest path of holds and eased moves, with the window staying on `sides` of the keep-outs (one a
/// keep-out). `None` if none keeps the hard limits, or none that does was found before the search was broken off.
#[must_use]
pub fn moves(request: &Request, sides: &[Side]) -> Option<Moves> {
    sought(request, sides).ok()
}

/// The same, or why there is none.
pub(super) fn sought(request: &Request, sides: &[Side]) -> Result<Moves, NoPlan> {
    let request = &with_weights_of_moves(request);
    let scene = Scene::of(request, sides);
    let plan = stretches::cheapest(&[scene], candidates::alone)?.pop();
    let plan = plan.ok_or(NoPlan::NoneKeepsLimits)?;
    let cost = Judge::of(request, sides).cost_if_sound(&plan).ok_or(NoPlan::NoneKeepsLimits)?;
    Ok(polish::polished(scene, (plan, cost), Freedom::All))
}

/// Paths for several shapes of one clip that look alike: as high as each other and with the subject equally far down
/// where that can be had, and with every move from the same frame to the same frame. A shape that stands where
/// others move has no move there.
///
/// The requests that come back are those that the paths were planned by: with other preferred widths and places. A
/// shape's path is `None` if it breaks a hard limit by itself. There is at least one scene.
pub(super) fn moves_together(
    scenes: &[Scene<'_>],
) -> Result<Vec<(Request, Option<Moves>)>, NoPlan> {
    let alike = together::alike(scenes);
    let weighed: Vec<Request> = alike.iter().map(with_weights_of_moves).collect();
    let scenes: Vec<Scene<'_>> =
        weighed.iter().zip(scenes).map(|(request, scene)| Scene { request, ..*scene }).collect();
    let plans = stretches::cheapest(&scenes, together::together)?;
    let finish = |(scene, plan): (&Scene<'_>, Moves)| {
        let cost = Judge::of(scene.request, scene.sides).cost_if_sound(&plan)?;
        Some(polish::polished(*scene, (plan, cost), Freedom::Across).without_rests())
    };
    let finished: Vec<Option<Moves>> = scenes.iter().zip(plans).map(finish).collect();
    Ok(alike.into_iter().zip(finished).collect())
}

/// What a path of moves costs: the objective of its windows, one a frame, with what its moves cost and with the
/// weights that moves are planned by.
#[must_use]
pub fn moves_objective(request: &Request, plan: &Moves, windows: &[Window]) -> Objective {
    let cost = Judge::of(request, &[]).moves_cost(plan);
    Objective { moves: cost, ..Objective::of(&with_weights_of_moves(request), windows) }
}

fn with_weights_of_moves(request: &Request) -> Request {
    let mut request = request.clone();
    request.rules.weights = request.rules.weights_of(Way::Moves);
    request
}

impl Moves {
    /// The same path, with moves from a window to the same window taken for the holds that they are.
    fn without_rests(self) -> Self {
        let mut holds: Vec<Hold> = Vec::new();
        for hold in self.holds {
            match holds.last_mut() {
                Some(standing) if standing.window == hold.window => standing.last = hold.last,
                _ => holds.push(hold),
            }
        }
        Self { holds, ..self }
    }

    /// The moves in order: one fewer than the holds.
    pub fn moves(&self) -> impl ExactSizeIterator<Item = Move> + '_ {
        self.holds.windows(2).map(|pair| Move { first: pair[0].last, last: pair[1].first })
    }

    /// A window for each frame of the run; `None` if one does not lie inside the frame.
    #[must_use]
    pub fn windows(&self, request: &Request) -> Option<Vec<Window>> {
        let starts = request.pace.starts(request.frame_count());
        let mut windows = Vec::with_capacity(request.frame_count());
        for (place, hold) in self.holds.iter().enumerate() {
            windows.resize(windows.len() + hold.last + 1 - hold.first, hold.window);
            let Some(next) = self.holds.get(place + 1) else { break };
            let (from, to) = (
                Framing::of(&hold.window, request.raster),
                Framing::of(&next.window, request.raster),
            );
            let (start, length) = (starts[hold.last], starts[next.first] - starts[hold.last]);
            for time in &starts[hold.last + 1..next.first] {
                let share = self.ease.share((time - start) / length);
                windows.push(from.towards(&to, share).window(request.raster).ok()?);
            }
        }
        if !request.ride.is_empty() {
            for (frame, window) in windows.iter_mut().enumerate() {
                let [left, top, width, height] = riding(request, frame, edges_of(window));
                *window = Window::inside(request.raster, (left, top), (width, height)).ok()?;
            }
            // What a pin rides on was taken off it and is put back here: it is the same to the last bit.
            for pin in &request.pins {
                if is_near(&pin.window, &windows[pin.index]) {
                    windows[pin.index] = pin.window;
                }
            }
        }
        Some(windows)
    }
}
