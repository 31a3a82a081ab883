//! The cheapest plan of a lattice, by dynamic programming over time.
//!
//! A state is a window that has just come to stand: when, which, in which direction each axis went last, and
//! from when on it may turn round. Of two states at one time and window, one that costs no less and may do no
//! more is dropped, which loses nothing. Nor does it to drop a state whose cost, with a lower bound of what is
//! still to come, is no less than that of a plan that is known.

use super::{lattice::Lattice, leg::Leg};
use std::collections::VecDeque;

/// One hold of a plan: a candidate, and the places of the lattice from which to which it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stop {
    pub(super) candidate: usize,
    pub(super) from: usize,
    pub(super) to: usize,
}

/// The cheapest plan, and its cost.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    pub(super) cost: f64,
    pub(super) stops: Vec<Stop>,
    /// What it may cost more than the cheapest, where the search was broken off.
    pub(super) may_cost_more: Option<f64>,
}

/// Why there is no plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::pan) enum NoPlan {
    /// None keeps the hard limits.
    NoneKeepsLimits,
    /// The search was broken off before it found one.
    BrokenOff,
}

/// How much one search may do before it is broken off.
#[derive(Debug, Clone, Copy)]
struct Budget {
    /// Labels looked at.
    looks: usize,
    /// Labels kept.
    labels: usize,
}

impl Budget {
    /// Some ten seconds' work, and twenty-five times what a restless subject of a minute takes. Rules that hardly bind
    /// (moves that cost nothing, of any length) leave more plans than can be told apart.
    const MOST: Self = Self { looks: 300_000_000, labels: 10_000_000 };
}

/// The cheapest plan of the lattice. A search that is broken off gives the cheapest that was found.
pub(super) fn cheapest(lattice: &Lattice<'_>) -> Result<Found, NoPlan> {
    cheapest_within(lattice, Budget::MOST)
}

fn cheapest_within(lattice: &Lattice<'_>, budget: Budget) -> Result<Found, NoPlan> {
    /// A plan on every so manieth place is found soon, and bounds the search for a better one.
    const STRIDES: [usize; 3] = [12, 4, 1];
    let to_go = to_go(lattice);
    let mut best: Option<Found> = None;
    let mut is_broken_off = false;
    for stride in STRIDES {
        let bound = best.as_ref().map_or(f64::INFINITY, |found| found.cost);
        let mut search = Search::new(lattice, &to_go, (stride, bound), budget);
        best = search.run().or(best);
        // The last search is the one that tells which plan is the cheapest.
        is_broken_off = search.is_spent();
    }
    let least = to_go[..lattice.count()].iter().copied().fold(f64::INFINITY, f64::min);
    let found =
        best.ok_or(if is_broken_off { NoPlan::BrokenOff } else { NoPlan::NoneKeepsLimits })?;
    let may_cost_more = is_broken_off.then(|| (found.cost - least).max(0.0));
    Ok(Found { may_cost_more, ..found })
}

/// A window that came to stand.
#[derive(Debug, Clone, Copy)]
struct Label {
    /// Of everything before the frame at which it came to stand.
    cost: f64,
    candidate: usize,
    place: usize,
    headings: [i8; 2],
    free_from: [f64; 2],
    /// The label it came from, and the place it left there.
    from: Option<(usize, usize)>,
}

impl Label {
    /// Whether another label of the same place and window can do nothing that this one cannot do for less.
    fn is_no_worse(&self, other: &Self) -> bool {
        self.cost <= other.cost
            && (0..2).all(|axis| {
                self.headings[axis] == 0
                    || (self.headings[axis] == other.headings[axis]
                        && self.free_from[axis] <= other.free_from[axis])
            })
    }

    /// Where its axes go and from when on they may turn, after a move in these directions; `None` if it may
    /// not turn now.
    fn after(
        &self,
        headings: [i8; 2],
        (now, free_from): (f64, f64),
    ) -> Option<([i8; 2], [f64; 2])> {
        let mut next = (self.headings, self.free_from);
        for (axis, after) in headings.into_iter().enumerate() {
            let before = self.headings[axis];
            if after == 0 {
                continue;
            }
            if before == -after {
                if now < self.free_from[axis] {
                    return None;
                }
                next.1[axis] = free_from;
            }
            next.0[axis] = after;
        }
        Some(next)
    }
}

/// A search in progress.
struct Search<'a> {
    budget: Budget,
    lattice: &'a Lattice<'a>,
    to_go: &'a [f64],
    /// Moves start and end at every so manieth place only.
    stride: usize,
    labels: Vec<Label>,
    /// The labels by place and candidate, from the place in hand onwards.
    arrived: VecDeque<Vec<Vec<usize>>>,
    /// Labels that have not stood for long enough yet, by place.
    waiting: VecDeque<Vec<Vec<usize>>>,
    /// By candidate: labels that may leave. Their cost, less what the candidate costs up to where they came to
    /// stand, so that those of one candidate compare.
    ready: Vec<Vec<usize>>,
    /// The cost of the cheapest plan that is known.
    bound: f64,
    /// The last label of the cheapest plan that was found here.
    best: Option<usize>,
    /// How many labels were looked at.
    looks: usize,
}

impl<'a> Search<'a> {
    fn new(
        lattice: &'a Lattice<'a>,
        to_go: &'a [f64],
        (stride, bound): (usize, f64),
        budget: Budget,
    ) -> Self {
        Self {
            budget,
            lattice,
            to_go,
            stride,
            labels: Vec::new(),
            arrived: VecDeque::new(),
            waiting: VecDeque::new(),
            ready: vec![Vec::new(); lattice.count()],
            bound,
            best: None,
            looks: 0,
        }
    }

    /// The cheapest plan below the bound.
    fn run(&mut self) -> Option<Found> {
        let (beginning, count) = (self.lattice.beginning, self.lattice.count());
        let first = |candidate| Label {
            cost: 0.0,
            candidate,
            place: 0,
            headings: beginning.map_or([0; 2], |beginning| beginning.headings),
            free_from: beginning.map_or([f64::NEG_INFINITY; 2], |beginning| beginning.free_from),
            from: None,
        };
        let starts = if beginning.is_some() { count.min(1) } else { count };
        self.labels = (0..starts).map(first).collect();
        let arrive = |candidate| if candidate < starts { vec![candidate] } else { Vec::new() };
        self.arrived.push_back((0..count).map(arrive).collect());
        let mut oldest = 0;
        for place in 0..=self.lattice.last() {
            let now = self.arrived.pop_front().unwrap_or_default();
            for label in now.iter().flatten() {
                self.finish(*label);
            }
            self.waiting.push_back(now);
            while oldest <= place && self.lattice.is_long_enough(oldest, place) {
                for label in self.waiting.pop_front().unwrap_or_default().into_iter().flatten() {
                    self.make_ready(label, place);
                }
                oldest += 1;
            }
            if self.is_place(place) && place < self.lattice.last() && !self.is_spent() {
                self.depart(place);
            }
        }
        self.best.map(|label| Found {
            cost: self.bound,
            stops: self.stops(label),
            may_cost_more: None,
        })
    }

    /// Whether it is broken off: what was found by then is what there is.
    const fn is_spent(&self) -> bool {
        self.looks > self.budget.looks || self.labels.len() > self.budget.labels
    }

    fn is_place(&self, place: usize) -> bool {
        place.is_multiple_of(self.stride)
    }

    /// Takes the plan that stays until the run ends into account.
    fn finish(&mut self, label: usize) {
        let Label { cost, candidate, place, .. } = self.labels[label];
        if place > 0 && !self.lattice.may_end(place) {
            return;
        }
        if let Some(held) = self.lattice.hold_cost(candidate, place, self.lattice.last())
            && cost + held < self.bound
        {
            (self.bound, self.best) = (cost + held, Some(label));
        }
    }

    /// Lets a label leave from a place on, unless another may that is no worse.
    fn make_ready(&mut self, label: usize, place: usize) {
        let new = self.since_start(label, place);
        let ready = &self.ready[new.candidate];
        if ready.iter().any(|other| self.since_start(*other, place).is_no_worse(&new)) {
            return;
        }
        let is_kept = |other: &usize| !new.is_no_worse(&self.since_start(*other, place));
        self.ready[new.candidate] = ready.iter().copied().filter(is_kept).chain([label]).collect();
    }

    /// A label as it is at a place, with the cost it would have if its window had stood since the start.
    fn since_start(&self, label: usize, place: usize) -> Label {
        let (label, now) = (self.labels[label], self.lattice.secs(place));
        let cost = label.cost - self.lattice.cost_before(label.candidate, label.place);
        let free_from =
            label.free_from.map(|free| if free <= now { f64::NEG_INFINITY } else { free });
        Label { cost, free_from, ..label }
    }

    /// Every move that starts at a place.
    fn depart(&mut self, place: usize) {
        let legs: Vec<(usize, Leg)> = self
            .lattice
            .ends(place)
            .into_iter()
            .filter(|end| self.is_place(*end))
            .map(|end| (end, self.lattice.leg(place, end)))
            .collect();
        for candidate in 0..self.lattice.count() {
            let ready = self.leaving(candidate, place);
            let Some(least) = ready.iter().map(|(cost, _)| *cost).reduce(f64::min) else {
                continue;
            };
            for (end, leg) in &legs {
                for target in (0..self.lattice.count()).filter(|target| *target != candidate) {
                    let pair = self.lattice.pair(candidate, target);
                    let rest = self.to_go[end * self.lattice.count() + target];
                    if leg.secs < pair.least_secs || least + pair.fixed + rest >= self.bound {
                        continue;
                    }
                    if self.is_spent() {
                        return;
                    }
                    let limits = (least, self.bound - rest);
                    self.travel((place, *end), (candidate, target), (leg, &ready), limits);
                }
            }
        }
    }

    /// What each label that may leave a candidate at a place costs up to there.
    fn leaving(&mut self, candidate: usize, place: usize) -> Vec<(f64, usize)> {
        let (lattice, labels) = (self.lattice, &self.labels);
        let cost = |label: usize| {
            let held = lattice.hold_cost(candidate, labels[label].place, place)?;
            Some((labels[label].cost + held, label))
        };
        // What may not stand now will not later either.
        self.ready[candidate].retain(|label| cost(*label).is_some());
        self.ready[candidate].iter().filter_map(|label| cost(*label)).collect()
    }

    /// One move, for every label that may make it.
    fn travel(
        &mut self,
        (place, end): (usize, usize),
        (candidate, target): (usize, usize),
        (leg, ready): (&Leg, &[(f64, usize)]),
        (least, bound): (f64, f64),
    ) {
        let lattice = self.lattice;
        let pair = lattice.pair(candidate, target);
        let times = (lattice.secs(place), lattice.free_from(place, end));
        let ahead = end - place - 1;
        if self.arrived.len() <= ahead {
            self.arrived.resize(ahead + 1, vec![Vec::new(); lattice.count()]);
        }
        let mut moved = None;
        self.looks += ready.len();
        for (cost, label) in ready {
            let Some((headings, free_from)) = self.labels[*label].after(pair.headings, times)
            else {
                continue;
            };
            let arrival = |cost: f64| Label {
                cost,
                candidate: target,
                place: end,
                headings,
                free_from,
                from: Some((*label, place)),
            };
            self.looks += self.arrived[ahead][target].len();
            let is_beaten = |new: &Label, search: &Self| {
                new.cost >= bound
                    || search.arrived[ahead][target]
                        .iter()
                        .any(|other| search.labels[*other].is_no_worse(new))
            };
            if is_beaten(&arrival(cost + pair.fixed), self) {
                continue;
            }
            // The frames of the move are summed once, and only as far as the cheapest label can pay.
            let way = *moved
                .get_or_insert_with(|| lattice.move_cost(leg, (candidate, target), bound - least));
            let Some(way) = way else { return };
            let new = arrival(cost + way);
            if !is_beaten(&new, self) {
                let labels = &self.labels;
                self.arrived[ahead][target].retain(|other| !new.is_no_worse(&labels[*other]));
                self.arrived[ahead][target].push(self.labels.len());
                self.labels.push(new);
            }
        }
    }

    fn stops(&self, last: usize) -> Vec<Stop> {
        let mut stops = Vec::new();
        let (mut label, mut to) = (self.labels[last], self.lattice.last());
        loop {
            stops.push(Stop { candidate: label.candidate, from: label.place, to });
            let Some((before, left)) = label.from else { break };
            (label, to) = (self.labels[before], left);
        }
        stops.reverse();
        stops
    }
}

/// A lower bound of what is still to come once a candidate has come to stand at a place, by place and candidate:
/// the cheapest way on if the frames of moves cost nothing and any turn is allowed.
fn to_go(lattice: &Lattice<'_>) -> Vec<f64> {
    let (count, last) = (lattice.count(), lattice.last());
    let mut to_go = vec![f64::INFINITY; (last + 1) * count];
    // What it costs to leave at a place, and the least that it costs to stand from there and leave later.
    let mut leave_later = vec![f64::INFINITY; (last + 1) * count];
    for place in (0..=last).rev() {
        let legs: Vec<(usize, f64)> = if place < last {
            let ends = lattice.ends(place).into_iter();
            ends.map(|end| (end, lattice.secs(end) - lattice.secs(place))).collect()
        } else {
            Vec::new()
        };
        let earliest = (place..=last).find(|later| lattice.is_long_enough(place, *later));
        for candidate in 0..count {
            let mut leave = f64::INFINITY;
            for (end, secs) in &legs {
                for target in (0..count).filter(|target| *target != candidate) {
                    let pair = lattice.pair(candidate, target);
                    let moving = pair.per_sec * secs;
                    if *secs >= pair.least_secs {
                        leave = leave.min(pair.fixed + moving + to_go[end * count + target]);
                    }
                }
            }
            let cell = place * count + candidate;
            let stay = (place < last).then(|| lattice.hold_cost(candidate, place, place + 1));
            let later = stay.flatten().map_or(f64::INFINITY, |held| {
                held - lattice.cost_at(candidate, place + 1) + leave_later[cell + count]
            });
            let now =
                lattice.hold_cost(candidate, place, place).map_or(f64::INFINITY, |at| at + leave);
            leave_later[cell] = later.min(now);
            let end = lattice.hold_cost(candidate, place, last);
            let end = end.filter(|_| place == 0 || lattice.may_end(place));
            let left = earliest.and_then(|later| {
                let held = lattice.hold_cost(candidate, place, later)?;
                Some(
                    held - lattice.cost_at(candidate, later)
                        + leave_later[later * count + candidate],
                )
            });
            to_go[cell] = end.unwrap_or(f64::INFINITY).min(left.unwrap_or(f64::INFINITY));
        }
    }
    to_go
}

#[cfg(test)]
mod tests;
