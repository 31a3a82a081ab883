//! Long runs, a stretch at a time.
//!
//! Up to about a minute, a plan is the cheapest of its lattice. A longer run is planned as an operator would: a minute
//! ahead, of which the first two thirds are kept, then on from the window that stands there. Time and memory
//! then grow with the length of the run alone. Every rule holds across the seams; what is lost is what a
//! choice can gain from knowing more than twenty seconds ahead.

use super::{
    super::Request,
    Hold, MoveRules, Moves,
    frame::is_near,
    lattice::{Beginning, Lattice, shared_rules},
    leg::{Times, headings},
    member::Scene,
    search::{self, NoPlan},
};
use crate::geometry::Window;
use std::ops::Range;

/// How far ahead a stretch is planned beyond what is kept of it, at least. Chosen: three of the longest moves, with
/// their holds.
const AHEAD_SECS: f64 = 22.0;

/// The windows that may stand in some frames: each a window a scene.
pub(super) type Candidates = fn(&[Scene<'_>]) -> Vec<Vec<Window>>;

/// The cheapest plan of a run, or of each stretch of it: a path a scene, all of which move at the same time; at least one
/// scene.
pub(super) fn cheapest(scenes: &[Scene<'_>], candidates: Candidates) -> Result<Vec<Moves>, NoPlan> {
    let times = Times::of(scenes[0].request);
    let rules = shared_rules(scenes);
    let ahead_secs = AHEAD_SECS.max(3.0 * (rules.least_hold_secs + rules.greatest_move_secs));
    let (kept_secs, frame_count) = (2.0 * ahead_secs, times.frame_count());
    let empty = Moves { holds: Vec::new(), ease: rules.ease, may_cost_more: None };
    let mut plans = vec![empty; scenes.len()];
    loop {
        let first = plans[0].holds.last().map_or(0, |hold| hold.last);
        let from_secs = times.secs(first);
        let end = (first..frame_count)
            .find(|frame| times.secs(*frame) >= from_secs + kept_secs + ahead_secs)
            .unwrap_or(frame_count);
        let stretch = stretch(scenes, candidates, &plans, first..end)?;
        if end == frame_count {
            take(&mut plans, &stretch, first, end - 1);
            return Ok(plans);
        }
        // Up to where a window stands, and a frame on at least, so that it never stays where it is.
        let kept = stretch[0].holds.iter().find_map(|hold| {
            let is_late = times.secs(first + hold.last) >= from_secs + kept_secs;
            let due = (first + 1..end).find(|frame| times.secs(*frame) >= from_secs + kept_secs);
            is_late.then(|| due.unwrap_or(end - 1).max(first + hold.first))
        });
        let kept = kept.ok_or(NoPlan::NoneKeepsLimits)?;
        take(&mut plans, &stretch, first, kept);
    }
}

/// The cheapest plans of some frames, from the windows on that stand there; their frames count from the first of
/// them.
fn stretch(
    scenes: &[Scene<'_>],
    candidates: Candidates,
    before: &[Moves],
    frames: Range<usize>,
) -> Result<Vec<Moves>, NoPlan> {
    let whole = (Times::of(scenes[0].request), shared_rules(scenes));
    let is_whole = frames == (0..scenes[0].request.frame_count());
    let part = |scene: &Scene<'_>| scene.request.part(frames.clone());
    let parts: Vec<Request> = if is_whole { Vec::new() } else { scenes.iter().map(part).collect() };
    let requests = parts.iter().chain(scenes.iter().map(|scene| scene.request));
    let scenes: Vec<Scene<'_>> =
        requests.zip(scenes).map(|(request, scene)| Scene { request, ..*scene }).collect();
    let mut windows = candidates(&scenes);
    let standing: Option<Vec<Window>> =
        before.iter().map(|plan| plan.holds.last().map(|hold| hold.window)).collect();
    if let Some(standing) = &standing {
        windows.retain(|windows| !windows.iter().zip(standing).all(|(a, b)| is_near(a, b)));
        windows.insert(0, standing.clone());
    }
    let mut lattice = Lattice::new(&scenes, &windows);
    lattice.beginning = standing.map(|_| beginning(before, &whole));
    search::cheapest(&lattice).map(|found| lattice.plans(&found))
}

/// How windows stand at the last frame of their plans so far.
fn beginning(before: &[Moves], (times, rules): &(Times<'_>, MoveRules)) -> Beginning {
    let standing = before[0].holds.last();
    let now = standing.map_or(0.0, |hold| times.secs(hold.last));
    let mut beginning = Beginning {
        stood_secs: standing.map_or(0.0, |hold| now - times.secs(hold.first)),
        headings: [0; 2],
        free_from: [f64::NEG_INFINITY; 2],
    };
    for (place, pair) in before[0].holds.windows(2).enumerate() {
        let holds = before.iter().map(|plan| (&plan.holds[place], &plan.holds[place + 1]));
        for (axis, heading) in shared_headings(holds).into_iter().enumerate() {
            if heading == 0 {
                continue;
            }
            if heading == -beginning.headings[axis] {
                let turned_at = times.secs(pair[0].last);
                beginning.free_from[axis] = turned_at + rules.reversal_secs.unwrap_or(0.0) - now;
            }
            beginning.headings[axis] = heading;
        }
    }
    beginning
}

/// The direction of a move of several windows: that of the one that goes the furthest, in its widths.
fn shared_headings<'a>(holds: impl Iterator<Item = (&'a Hold, &'a Hold)>) -> [i8; 2] {
    let widths = |from: &Window, to: &Window| {
        let across = (to.centre_x() - from.centre_x()).abs();
        across.max((to.centre_y() - from.centre_y()).abs()) / from.width()
    };
    let windows = holds.map(|(from, to)| (from.window, to.window));
    let furthest =
        windows.reduce(|a, b| if widths(&b.0, &b.1) > widths(&a.0, &a.1) { b } else { a });
    furthest.map_or([0; 2], |(from, to)| headings(&from, &to))
}

/// Takes what a stretch has up to a frame of the run, at which windows stand.
fn take(plans: &mut [Moves], stretch: &[Moves], first: usize, last: usize) {
    for (plan, stretch) in plans.iter_mut().zip(stretch) {
        if let Some(more) = stretch.may_cost_more {
            *plan.may_cost_more.get_or_insert(0.0) += more;
        }
        for hold in &stretch.holds {
            let hold = Hold { first: first + hold.first, last: first + hold.last, ..*hold };
            if hold.first > last {
                break;
            }
            let until = hold.last.min(last);
            match plan.holds.last_mut() {
                Some(standing) if hold.first == first => standing.last = until,
                _ => plan.holds.push(Hold { last: until, ..hold }),
            }
        }
    }
}
