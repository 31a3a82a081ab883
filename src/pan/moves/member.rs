//! One shape in a lattice: its windows that may stand, and what standing and moving cost it. Shapes of one look
//! are members of one lattice; a shape that is planned by itself is the only one of its own.

use super::{
    super::{Request, Side, objective::FrameCosts},
    Framing,
    frame::{NOISE_PX, edges_of, keeps_limits, limits_stay, riding},
    leg::{Leg, NOISE_SECS, Times, headings},
};
use crate::geometry::Window;

/// A shape's request, on which side of each keep-out its window stays, and how it takes part in a look.
#[derive(Clone, Copy)]
pub(in crate::pan) struct Scene<'a> {
    pub(in crate::pan) request: &'a Request,
    pub(in crate::pan) sides: &'a [Side],
    pub(in crate::pan) part: Part,
}

/// How a shape takes part in a look that it shares with others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(in crate::pan) enum Part {
    /// It moves with them and is as high as they are.
    #[default]
    Alike,
    /// It stands still, as high as they are; they then move across only.
    Standing,
    /// It moves with them, and is as high as it wants itself.
    OwnSize,
}

impl<'a> Scene<'a> {
    /// A shape that is planned by itself, or in all things like others.
    pub(in crate::pan) const fn of(request: &'a Request, sides: &'a [Side]) -> Self {
        Self { request, sides, part: Part::Alike }
    }
}

/// A window that may stand.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    window: Window,
    framing: Framing,
}

/// What a move between two windows is to one member, whenever it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Change {
    /// What the way costs, in reference widths, the cost of the move included; 0 for no way at all.
    pub(super) fixed: f64,
    /// What each second of it costs.
    pub(super) per_sec: f64,
    /// The least length that the pan limit allows, in seconds.
    pub(super) least_secs: f64,
    /// The direction across and down: -1, 0 or 1.
    pub(super) headings: [i8; 2],
    /// How far the centre goes, in reference widths.
    pub(super) way: f64,
    /// The squares of the ways of the centre, where both are of one size.
    squares: Option<f64>,
}

/// A shape, its candidates and its costs.
pub(super) struct Member<'a> {
    pub(super) scene: Scene<'a>,
    candidates: Vec<Candidate>,
    changes: Vec<Change>,
    costs: FrameCosts,
    limits_stay: bool,
}

impl<'a> Member<'a> {
    pub(super) fn new(scene: Scene<'a>, windows: impl Iterator<Item = Window>) -> Self {
        let request = scene.request;
        let of = |window| Candidate { window, framing: Framing::of(&window, request.raster) };
        let candidates: Vec<Candidate> = windows.map(of).collect();
        let changes = candidates
            .iter()
            .flat_map(|from| candidates.iter().map(|to| change(request, from, to)))
            .collect();
        Self {
            scene,
            candidates,
            changes,
            costs: FrameCosts::of(request),
            limits_stay: limits_stay(request),
        }
    }

    pub(super) fn window(&self, candidate: usize) -> Window {
        self.candidates[candidate].window
    }

    pub(super) fn change(&self, from: usize, to: usize) -> &Change {
        &self.changes[from * self.candidates.len() + to]
    }

    /// What a candidate costs that stands at a frame.
    pub(super) fn cost_at(&self, candidate: usize, frame: usize) -> f64 {
        let edges = edges_of(&self.candidates[candidate].window);
        self.costs.at(frame, riding(self.scene.request, frame, edges))
    }

    /// Whether a candidate keeps every hard limit at a frame, pins included.
    pub(super) fn may_stand(&self, candidate: usize, frame: usize) -> bool {
        let Scene { request, sides, .. } = self.scene;
        let edges = riding(request, frame, edges_of(&self.candidates[candidate].window));
        let is_pin = |pin: &Window| {
            edges_of(pin).into_iter().zip(edges).all(|(a, b)| (a - b).abs() < NOISE_PX)
        };
        let pin = request.pins.iter().find(|pin| pin.index == frame);
        pin.map_or_else(|| keeps_limits(request, sides, frame, edges), |pin| is_pin(&pin.window))
    }

    /// What a move costs beside what its change costs; `None` if it breaks a hard limit or costs more than the
    /// bound.
    pub(super) fn move_cost(
        &self,
        times: &Times<'_>,
        leg: &Leg,
        (from, to): (usize, usize),
        bound: f64,
    ) -> Option<f64> {
        const PHASES: [usize; 8] = [4, 0, 2, 6, 1, 3, 5, 7];
        let (request, squares) = (self.scene.request, self.change(from, to).squares);
        let (from, to) = (&self.candidates[from], &self.candidates[to]);
        let mut cost = match squares {
            Some(squares) => request.rules.weights.acceleration * squares * leg.bend,
            None => self.push_cost(times, leg, (&from.framing, &to.framing))?,
        };
        let (start, end) = (edges_of(&from.window), edges_of(&to.window));
        let way = |share: f64| match squares {
            // Windows of one size go straight.
            Some(_) => [
                start[0] + (end[0] - start[0]) * share,
                start[1] + (end[1] - start[1]) * share,
                start[2],
                start[3],
            ],
            None => from.framing.towards(&to.framing, share).edges(request.raster),
        };
        // A few frames all over the move first: a bad one is then soon known to be too dear.
        for phase in PHASES {
            for place in (phase..leg.shares.len()).step_by(PHASES.len()) {
                if cost > bound {
                    return None;
                }
                let (frame, share) = (leg.first + 1 + place, leg.shares[place]);
                let edges = riding(request, frame, way(share));
                if !self.limits_stay && !keeps_limits(request, self.scene.sides, frame, edges) {
                    return None;
                }
                cost += self.costs.at(frame, edges);
            }
        }
        (cost <= bound).then_some(cost)
    }

    /// What the acceleration of a move costs that changes the window's size; `None` if a step of it is faster
    /// than the pan limit.
    fn push_cost(
        &self,
        times: &Times<'_>,
        leg: &Leg,
        (from, to): (&Framing, &Framing),
    ) -> Option<f64> {
        let (request, first, last) = (self.scene.request, leg.first, leg.last);
        let at: Vec<[f64; 3]> = (first..=last)
            .map(|frame| {
                let share = leg.share_at(frame);
                let [left, top, width, height] = from.towards(to, share).edges(request.raster);
                [left + width / 2.0, top + height / 2.0, width]
            })
            .collect();
        if let Some(secs_per_width) = request.rules.pan_hard {
            let is_slow = |(step, pair): (usize, &[[f64; 3]])| {
                let way = (pair[1][0] - pair[0][0]).abs().max((pair[1][1] - pair[0][1]).abs());
                let width = f64::midpoint(pair[0][2], pair[1][2]);
                way <= width * request.pace.step_secs(first + step) / secs_per_width + 1e-9
            };
            if !at.windows(2).enumerate().all(is_slow) {
                return None;
            }
        }
        let reference = request.reference_width();
        let of = |number: usize| {
            let value = |frame: usize| at[frame.clamp(first, last) - first][number] / reference;
            times.bending(leg, value)
        };
        Some(request.rules.weights.acceleration * (of(0) + of(1) + of(2)))
    }
}

fn change(request: &Request, from: &Candidate, to: &Candidate) -> Change {
    let (rules, reference) = (&request.rules, request.reference_width());
    let (a, b) = (&from.window, &to.window);
    let ways = [b.centre_x() - a.centre_x(), b.centre_y() - a.centre_y()];
    let is_alike = from.framing.is_as_large_as(&to.framing);
    let travel = ways[0].abs() + ways[1].abs() + (b.width() - a.width()).abs();
    let peak = from.framing.peak_widths(&to.framing, rules.moves.ease);
    // In a look that several shapes share, one may stand while others move.
    let (cost, per_sec) =
        if a == b { (0.0, 0.0) } else { (rules.moves.cost, rules.moves.cost_per_sec) };
    Change {
        fixed: cost + travel / reference,
        per_sec,
        least_secs: rules.pan_hard.map_or(0.0, |secs_per_width| peak * secs_per_width) - NOISE_SECS,
        headings: headings(a, b),
        way: ways[0].abs().max(ways[1].abs()) / reference,
        squares: is_alike
            .then(|| (ways[0] * ways[0] + ways[1] * ways[1]) / (reference * reference)),
    }
}
