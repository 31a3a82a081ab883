//! The lattice of plans: frames at which moves may start and end, windows that may stand, and what each hold and
//! each move costs.

use super::{
    super::{Request, Side, objective::FrameCosts},
    Framing, Hold, Moves,
    frame::{NOISE_PX, edges_of, keeps_limits, limits_stay, riding},
    leg::{Leg, NOISE_SECS, Times, headings},
    search::Stop,
};
use crate::geometry::Window;

/// The step between frames at which moves may start or end: a sixth of a second, or less where the run is
/// short, down to every frame. Chosen: shorter than anyone's reaction; on the tracks of a minute a step of a frame
/// costs twice the time and gains 0.3 % of the cost.
const GREATEST_STEP_SECS: f64 = 1.0 / 6.0;

/// How many steps a short run is cut into, as far as it has frames. Chosen with the step above: a minute has 360
/// of them and anything shorter no more.
const STEPS: f64 = 360.0;

/// How much longer each length of a move is than the one before. Chosen: an eighth more or less than what would
/// be best is not seen.
const LENGTHENING: f64 = 1.25;

/// A window that may stand.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub(super) window: Window,
    framing: Framing,
}

/// A move between two candidates, whenever it is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// What the way costs, in reference widths, the cost of the move included.
    pub(super) fixed: f64,
    /// The least length that the pan limit allows, in seconds.
    pub(super) least_secs: f64,
    /// The direction across and down: -1, 0 or 1.
    pub(super) headings: [i8; 2],
    /// The squares of the ways of the centre, where both are of one size.
    squares: Option<f64>,
}

/// A window that stands as the run begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beginning {
    /// For how long it has stood.
    pub(super) stood_secs: f64,
    /// The direction in which each axis went last: -1, 0 or 1.
    pub(super) headings: [i8; 2],
    /// From when on each axis may turn, in seconds from the first frame.
    pub(super) free_from: [f64; 2],
}

/// Frames, windows and costs.
pub(super) struct Lattice<'a> {
    request: &'a Request,
    sides: &'a [Side],
    /// The frames at which moves may start or end: the first, the last and some between.
    pub(super) frames: Vec<usize>,
    times: Times<'a>,
    pub(super) candidates: Vec<Candidate>,
    pairs: Vec<Pair>,
    lengths_secs: Vec<f64>,
    costs: FrameCosts,
    limits_stay: bool,
    /// Where the first candidate stands already as the run begins; without it any may stand from there on.
    pub(super) beginning: Option<Beginning>,
    /// What each candidate costs on all frames up to the one at each place.
    through: Vec<f64>,
    /// What it costs on that frame.
    at: Vec<f64>,
    /// One more than the last frame up to there on which it may not stand; 0 without any.
    barred: Vec<usize>,
}

impl<'a> Lattice<'a> {
    pub(super) fn new(request: &'a Request, sides: &'a [Side], windows: &[Window]) -> Self {
        let times = Times::of(request);
        let of = |window: &Window| Candidate {
            window: *window,
            framing: Framing::of(window, request.raster),
        };
        let candidates: Vec<Candidate> = windows.iter().map(of).collect();
        let pairs = candidates
            .iter()
            .flat_map(|from| candidates.iter().map(|to| pair(request, from, to)))
            .collect();
        let mut lattice = Self {
            request,
            sides,
            frames: places(request, &times),
            times,
            candidates,
            pairs,
            lengths_secs: lengths_secs(request),
            costs: FrameCosts::of(request),
            limits_stay: limits_stay(request),
            beginning: None,
            through: Vec::new(),
            at: Vec::new(),
            barred: Vec::new(),
        };
        lattice.fill();
        lattice
    }

    /// The plan of some stops.
    pub(super) fn plan(&self, stops: &[Stop]) -> Moves {
        let hold = |stop: &Stop| Hold {
            first: self.frames[stop.from],
            last: self.frames[stop.to],
            window: self.candidates[stop.candidate].window,
        };
        Moves { holds: stops.iter().map(hold).collect(), ease: self.request.rules.moves.ease }
    }

    /// Sums what standing costs.
    fn fill(&mut self) {
        let count = self.candidates.len();
        let (mut sums, mut barred) = (vec![0.0; count], vec![0; count]);
        let mut place = 0;
        for frame in 0..self.request.frame_count() {
            let is_place = self.frames[place] == frame;
            for (candidate, window) in self.candidates.iter().map(|c| &c.window).enumerate() {
                let cost = self.costs.at(frame, riding(self.request, frame, edges_of(window)));
                sums[candidate] += cost;
                if !self.may_stand(window, frame) {
                    barred[candidate] = frame + 1;
                }
                if is_place {
                    self.at.push(cost);
                }
            }
            if is_place {
                self.through.extend_from_slice(&sums);
                self.barred.extend_from_slice(&barred);
                place += 1;
            }
        }
    }

    /// Whether a window keeps every hard limit at a frame, pins included.
    fn may_stand(&self, window: &Window, frame: usize) -> bool {
        let edges = riding(self.request, frame, edges_of(window));
        let is_pin = |pin: &Window| {
            edges_of(pin).into_iter().zip(edges).all(|(a, b)| (a - b).abs() < NOISE_PX)
        };
        let pin = self.request.pins.iter().find(|pin| pin.index == frame);
        pin.map_or_else(
            || keeps_limits(self.request, self.sides, frame, edges),
            |pin| is_pin(&pin.window),
        )
    }

    pub(super) fn count(&self) -> usize {
        self.candidates.len()
    }

    /// The last place.
    pub(super) fn last(&self) -> usize {
        self.frames.len() - 1
    }

    /// When the frame at a place starts.
    pub(super) fn secs(&self, place: usize) -> f64 {
        self.times.secs(self.frames[place])
    }

    /// Whether a window that comes to stand at a place and leaves at another has stood long enough.
    pub(super) fn is_long_enough(&self, from: usize, to: usize) -> bool {
        let stood_secs = self.beginning.map_or(0.0, |beginning| beginning.stood_secs);
        let before = if from == 0 { stood_secs } else { 0.0 };
        let least_secs = self.request.rules.moves.least_hold_secs - NOISE_SECS;
        before + self.secs(to) - self.secs(from) >= least_secs
    }

    /// Whether a window that comes to stand at a place stands long enough until the run ends.
    pub(super) fn may_end(&self, from: usize) -> bool {
        let end = self.times.end_secs();
        end - self.secs(from) >= self.request.rules.moves.least_hold_secs - NOISE_SECS
    }

    /// What a candidate costs on the frames from one place to another, both included; `None` if it may not
    /// stand on one of them.
    pub(super) fn hold_cost(&self, candidate: usize, from: usize, to: usize) -> Option<f64> {
        let (from_cell, to_cell) = (from * self.count() + candidate, to * self.count() + candidate);
        (self.barred[to_cell] <= self.frames[from])
            .then(|| self.through[to_cell] - self.through[from_cell] + self.at[from_cell])
    }

    /// What a candidate costs on all frames before a place.
    pub(super) fn cost_before(&self, candidate: usize, place: usize) -> f64 {
        let cell = place * self.count() + candidate;
        self.through[cell] - self.at[cell]
    }

    /// What a candidate costs on the frame at a place.
    pub(super) fn cost_at(&self, candidate: usize, place: usize) -> f64 {
        self.at[place * self.count() + candidate]
    }

    pub(super) fn pair(&self, from: usize, to: usize) -> &Pair {
        &self.pairs[from * self.count() + to]
    }

    /// The earliest moment at which an axis may turn again after a move that starts and ends at these places
    /// and turns it; minus infinity if the hold after the move lasts until then anyhow.
    pub(super) fn free_from(&self, start: usize, end: usize) -> f64 {
        let rules = &self.request.rules.moves;
        let free = self.secs(start) + rules.reversal_secs.unwrap_or(0.0) - NOISE_SECS;
        let earliest = self.secs(end) + rules.least_hold_secs - NOISE_SECS;
        if free <= earliest { f64::NEG_INFINITY } else { free }
    }

    /// The places at which a move that starts at a place may end: one for each length, no pin on its way and
    /// room for a hold after it.
    pub(super) fn ends(&self, start: usize) -> Vec<usize> {
        let (from, greatest) = (self.secs(start), self.request.rules.moves.greatest_move_secs);
        let next_pin =
            self.request.pins.iter().map(|pin| pin.index).find(|p| *p > self.frames[start]);
        let mut ends: Vec<usize> = Vec::new();
        for length in &self.lengths_secs {
            let end = start
                + 1
                + self.frames[start + 1..]
                    .partition_point(|frame| self.times.secs(*frame) - from < length - NOISE_SECS);
            let is_new = ends.last() != Some(&end);
            let is_short = end <= self.last() && self.secs(end) - from <= greatest + NOISE_SECS;
            if is_new
                && is_short
                && self.may_end(end)
                && next_pin.is_none_or(|pin| pin >= self.frames[end])
            {
                ends.push(end);
            }
        }
        ends
    }

    /// What is common to all moves from one place to another.
    pub(super) fn leg(&self, start: usize, end: usize) -> Leg {
        self.times.leg(self.frames[start], self.frames[end])
    }

    /// What a move costs, the ways of the pair included; `None` if it breaks a hard limit or costs more than
    /// the bound.
    pub(super) fn move_cost(
        &self,
        leg: &Leg,
        (from, to): (usize, usize),
        bound: f64,
    ) -> Option<f64> {
        const PHASES: [usize; 8] = [4, 0, 2, 6, 1, 3, 5, 7];
        let pair = self.pair(from, to);
        let (from, to) = (&self.candidates[from], &self.candidates[to]);
        let mut cost = pair.fixed + self.moving_cost(leg.secs);
        if let Some(squares) = pair.squares {
            cost += squares * leg.bend;
        } else {
            cost += self.push_cost(leg, (&from.framing, &to.framing))?;
        }
        let (start, end) = (edges_of(&from.window), edges_of(&to.window));
        let way = |share: f64| match pair.squares {
            // Windows of one size go straight.
            Some(_) => [
                start[0] + (end[0] - start[0]) * share,
                start[1] + (end[1] - start[1]) * share,
                start[2],
                start[3],
            ],
            None => from.framing.towards(&to.framing, share).edges(self.request.raster),
        };
        // A few frames all over the move first: a bad one is then soon known to be too dear.
        for phase in PHASES {
            for place in (phase..leg.shares.len()).step_by(PHASES.len()) {
                if cost > bound {
                    return None;
                }
                let (frame, share) = (leg.first + 1 + place, leg.shares[place]);
                let edges = riding(self.request, frame, way(share));
                if !self.limits_stay && !keeps_limits(self.request, self.sides, frame, edges) {
                    return None;
                }
                cost += self.costs.at(frame, edges);
            }
        }
        (cost <= bound).then_some(cost)
    }

    /// What a move costs for being so long.
    pub(super) fn moving_cost(&self, secs: f64) -> f64 {
        self.request.rules.moves.cost_per_sec * secs
    }

    /// What the acceleration of a move costs that changes the window's size; `None` if a step of it is faster
    /// than the pan limit.
    fn push_cost(&self, leg: &Leg, (from, to): (&Framing, &Framing)) -> Option<f64> {
        let (first, last) = (leg.first, leg.last);
        let at: Vec<[f64; 3]> = (first..=last)
            .map(|frame| {
                let share = leg.share_at(frame);
                let [left, top, width, height] = from.towards(to, share).edges(self.request.raster);
                [left + width / 2.0, top + height / 2.0, width]
            })
            .collect();
        if let Some(secs_per_width) = self.request.rules.pan_hard {
            let is_slow = |(step, pair): (usize, &[[f64; 3]])| {
                let way = (pair[1][0] - pair[0][0]).abs().max((pair[1][1] - pair[0][1]).abs());
                let width = f64::midpoint(pair[0][2], pair[1][2]);
                way <= width * self.request.pace.step_secs(first + step) / secs_per_width + 1e-9
            };
            if !at.windows(2).enumerate().all(is_slow) {
                return None;
            }
        }
        let reference = self.request.reference_width();
        let of = |number: usize| {
            let value = |frame: usize| at[frame.clamp(first, last) - first][number] / reference;
            self.times.bending(leg, value)
        };
        Some(of(0) + of(1) + of(2))
    }
}

fn pair(request: &Request, from: &Candidate, to: &Candidate) -> Pair {
    let (rules, reference) = (&request.rules, request.reference_width());
    let (a, b) = (&from.window, &to.window);
    let ways = [b.centre_x() - a.centre_x(), b.centre_y() - a.centre_y()];
    let is_alike = from.framing.is_as_large_as(&to.framing);
    let travel = ways[0].abs() + ways[1].abs() + (b.width() - a.width()).abs();
    let peak = from.framing.peak_widths(&to.framing, rules.moves.ease);
    Pair {
        fixed: rules.moves.cost + travel / reference,
        least_secs: rules.pan_hard.map_or(0.0, |secs_per_width| peak * secs_per_width) - NOISE_SECS,
        headings: headings(a, b),
        squares: is_alike
            .then(|| (ways[0] * ways[0] + ways[1] * ways[1]) / (reference * reference)),
    }
}

/// The frames at which moves may start or end: about a step apart, with the pinned ones and the last.
fn places(request: &Request, times: &Times<'_>) -> Vec<usize> {
    let frame_count = request.frame_count();
    let step = (times.end_secs() / STEPS).min(GREATEST_STEP_SECS);
    let mut next = 0.0;
    let mut places: Vec<usize> = (0..frame_count)
        .filter(|frame| {
            let is_due = times.secs(*frame) >= next - NOISE_SECS;
            if is_due {
                next += step;
                next = next.max(times.secs(*frame) + NOISE_SECS);
            }
            is_due
        })
        .chain(request.pins.iter().map(|pin| pin.index))
        .chain([frame_count - 1])
        .collect();
    places.sort_unstable();
    places.dedup();
    places
}

/// The lengths of moves, shortest first.
fn lengths_secs(request: &Request) -> Vec<f64> {
    let rules = &request.rules.moves;
    let mut lengths = Vec::new();
    let mut length = rules.least_move_secs;
    while length < rules.greatest_move_secs {
        lengths.push(length);
        length *= LENGTHENING;
    }
    lengths.push(rules.greatest_move_secs);
    lengths
}
