//! The lattice of plans: frames at which moves may start and end, windows that may stand, and what each hold and
//! each move costs, for one shape or for several that share a look.

use super::{
    Hold, MoveRules, Moves,
    leg::{Leg, NOISE_SECS, Times},
    member::{Member, Scene},
    search::{Found, Stop},
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

/// A move between two candidates, whenever it is: the members' changes together.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// What the ways cost, in reference widths, the cost of the moves included.
    pub(super) fixed: f64,
    /// What each second costs.
    pub(super) per_sec: f64,
    /// The least length that the pan limits allow, in seconds.
    pub(super) least_secs: f64,
    /// The direction across and down: -1, 0 or 1.
    pub(super) headings: [i8; 2],
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

/// Frames, windows and costs. A candidate is a window for each member.
pub(super) struct Lattice<'a> {
    members: Vec<Member<'a>>,
    rules: MoveRules,
    /// The frames at which moves may start or end: the first, the last and some between.
    pub(super) frames: Vec<usize>,
    times: Times<'a>,
    count: usize,
    pairs: Vec<Pair>,
    lengths_secs: Vec<f64>,
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
    /// The lattice of some scenes of the same frames, at least one, and of these candidates: each a window a scene.
    pub(super) fn new(scenes: &[Scene<'a>], candidates: &[Vec<Window>]) -> Self {
        let times = Times::of(scenes[0].request);
        let member = |(place, scene): (usize, &Scene<'a>)| {
            Member::new(*scene, candidates.iter().map(move |windows| windows[place]))
        };
        let members: Vec<Member<'a>> = scenes.iter().enumerate().map(member).collect();
        let (rules, count) = (shared_rules(scenes), candidates.len());
        let pairs = (0..count * count).map(|cell| pair(&members, (cell / count, cell % count)));
        let mut lattice = Self {
            frames: places(scenes, &times),
            lengths_secs: lengths_secs(&rules),
            pairs: pairs.collect(),
            members,
            rules,
            times,
            count,
            beginning: None,
            through: Vec::new(),
            at: Vec::new(),
            barred: Vec::new(),
        };
        lattice.fill();
        lattice
    }

    /// The plan that was found, a member each.
    pub(super) fn plans(&self, found: &Found) -> Vec<Moves> {
        let plan = |member: &Member<'_>| {
            let hold = |stop: &Stop| Hold {
                first: self.frames[stop.from],
                last: self.frames[stop.to],
                window: member.window(stop.candidate),
            };
            Moves {
                holds: found.stops.iter().map(hold).collect(),
                ease: self.rules.ease,
                may_cost_more: found.may_cost_more,
            }
        };
        self.members.iter().map(plan).collect()
    }

    /// Sums what standing costs.
    fn fill(&mut self) {
        let (mut sums, mut barred) = (vec![0.0; self.count], vec![0; self.count]);
        let mut place = 0;
        for frame in 0..self.times.frame_count() {
            let is_place = self.frames[place] == frame;
            for candidate in 0..self.count {
                let cost: f64 = self.members.iter().map(|m| m.cost_at(candidate, frame)).sum();
                sums[candidate] += cost;
                if !self.members.iter().all(|member| member.may_stand(candidate, frame)) {
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

    pub(super) const fn count(&self) -> usize {
        self.count
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
        let least_secs = self.rules.least_hold_secs - NOISE_SECS;
        before + self.secs(to) - self.secs(from) >= least_secs
    }

    /// Whether a window that comes to stand at a place stands long enough until the run ends.
    pub(super) fn may_end(&self, from: usize) -> bool {
        let end = self.times.end_secs();
        end - self.secs(from) >= self.rules.least_hold_secs - NOISE_SECS
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
        let rules = &self.rules;
        let free = self.secs(start) + rules.reversal_secs.unwrap_or(0.0) - NOISE_SECS;
        let earliest = self.secs(end) + rules.least_hold_secs - NOISE_SECS;
        if free <= earliest { f64::NEG_INFINITY } else { free }
    }

    /// The places at which a move that starts at a place may end: one for each length, no pin on its way and
    /// room for a hold after it.
    pub(super) fn ends(&self, start: usize) -> Vec<usize> {
        let (from, greatest) = (self.secs(start), self.rules.greatest_move_secs);
        let pins = self.members.iter().flat_map(|member| &member.scene.request.pins);
        let later = pins.map(|pin| pin.index).filter(|pin| *pin > self.frames[start]);
        let next_pin = later.min();
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
        let pair = self.pair(from, to);
        let mut cost = pair.fixed + pair.per_sec * leg.secs;
        for member in &self.members {
            cost += member.move_cost(&self.times, leg, (from, to), bound - cost)?;
        }
        Some(cost)
    }
}

/// The changes of all members together. They turn with the one that goes the furthest, in its widths: shapes of one
/// look follow one subject.
fn pair(members: &[Member<'_>], (from, to): (usize, usize)) -> Pair {
    let changes = || members.iter().map(|member| member.change(from, to));
    let furthest = changes().reduce(|a, b| if b.way > a.way { b } else { a });
    Pair {
        fixed: changes().map(|change| change.fixed).sum(),
        per_sec: changes().map(|change| change.per_sec).sum(),
        least_secs: changes().map(|change| change.least_secs).fold(0.0, f64::max),
        headings: furthest.map_or([0; 2], |change| change.headings),
    }
}

/// The strictest of the members' rules; the ease is that of the first.
pub(super) fn shared_rules(scenes: &[Scene<'_>]) -> MoveRules {
    let rules = || scenes.iter().map(|scene| scene.request.rules.moves);
    let most = |of: fn(&MoveRules) -> f64| rules().map(|rules| of(&rules)).fold(0.0, f64::max);
    MoveRules {
        least_hold_secs: most(|rules| rules.least_hold_secs),
        least_move_secs: most(|rules| rules.least_move_secs),
        greatest_move_secs: rules().map(|r| r.greatest_move_secs).fold(f64::INFINITY, f64::min),
        reversal_secs: rules().filter_map(|rules| rules.reversal_secs).reduce(f64::max),
        ..scenes[0].request.rules.moves
    }
}

/// The frames at which moves may start or end: about a step apart, with the pinned ones and the last.
fn places(scenes: &[Scene<'_>], times: &Times<'_>) -> Vec<usize> {
    let frame_count = times.frame_count();
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
        .chain(scenes.iter().flat_map(|scene| &scene.request.pins).map(|pin| pin.index))
        .chain([frame_count - 1])
        .collect();
    places.sort_unstable();
    places.dedup();
    places
}

/// The lengths of moves, shortest first.
fn lengths_secs(rules: &MoveRules) -> Vec<f64> {
    let mut lengths = Vec::new();
    let mut length = rules.least_move_secs;
    while length < rules.greatest_move_secs {
        lengths.push(length);
        length *= LENGTHENING;
    }
    lengths.push(rules.greatest_move_secs);
    lengths
}
