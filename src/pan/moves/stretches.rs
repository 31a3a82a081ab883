//! Long runs, a stretch at a time.
//!
//! Up to about a minute, a plan is the cheapest of its lattice. A longer run is planned as an operator would: a minute
//! ahead, of which the first two thirds are kept, then on from the window that stands there. Time and memory
//! then grow with the length of the run alone. Every rule holds across the seams; what is lost is what a
//! choice can gain from knowing more than twenty seconds ahead.

use super::{
    super::{Request, Side},
    Hold, Moves, candidates,
    frame::is_near,
    lattice::{Beginning, Lattice},
    leg::{Times, headings},
    search,
};

/// How far ahead a stretch is planned beyond what is kept of it, at least. Chosen: three of the longest moves, with
/// their holds.
const AHEAD_SECS: f64 = 22.0;

/// The cheapest plan of a run, or of each stretch of it; `None` if none keeps the hard limits.
pub(super) fn cheapest(request: &Request, sides: &[Side]) -> Option<Moves> {
    let (rules, times) = (&request.rules.moves, Times::of(request));
    let ahead_secs = AHEAD_SECS.max(3.0 * (rules.least_hold_secs + rules.greatest_move_secs));
    let kept_secs = 2.0 * ahead_secs;
    let mut plan = Moves { holds: Vec::new(), ease: rules.ease };
    loop {
        let first = plan.holds.last().map_or(0, |hold| hold.last);
        let from_secs = times.secs(first);
        let end = (first..request.frame_count())
            .find(|frame| times.secs(*frame) >= from_secs + kept_secs + ahead_secs)
            .unwrap_or(request.frame_count());
        let stretch = stretch(request, sides, &plan, first..end)?;
        if end == request.frame_count() {
            take(&mut plan, &stretch, first, end - 1);
            return Some(plan);
        }
        // Up to where a window stands, and a frame on at least, so that it never stays where it is.
        let kept = stretch.holds.iter().find_map(|hold| {
            let is_late = times.secs(first + hold.last) >= from_secs + kept_secs;
            let due = (first + 1..end).find(|frame| times.secs(*frame) >= from_secs + kept_secs);
            is_late.then(|| due.unwrap_or(end - 1).max(first + hold.first))
        })?;
        take(&mut plan, &stretch, first, kept);
    }
}

/// The cheapest plan of some frames, from the window on that stands there; its frames count from the first of
/// them.
fn stretch(
    request: &Request,
    sides: &[Side],
    before: &Moves,
    frames: std::ops::Range<usize>,
) -> Option<Moves> {
    let first = frames.start;
    let whole = first == 0 && frames.end == request.frame_count();
    let part = if whole { None } else { Some(request.part(frames)) };
    let part = part.as_ref().unwrap_or(request);
    let mut windows = candidates::candidates(part, sides);
    let standing = before.holds.last();
    if let Some(hold) = standing {
        windows.retain(|window| !is_near(window, &hold.window));
        windows.insert(0, hold.window);
    }
    let mut lattice = Lattice::new(part, sides, &windows);
    lattice.beginning = standing.map(|hold| beginning(request, before, hold));
    search::cheapest(&lattice).map(|found| lattice.plan(&found.stops))
}

/// How a window stands at the last frame of a plan so far.
fn beginning(request: &Request, before: &Moves, standing: &Hold) -> Beginning {
    let times = Times::of(request);
    let now = times.secs(standing.last);
    let least_secs = request.rules.moves.reversal_secs.unwrap_or(0.0);
    let mut beginning = Beginning {
        stood_secs: now - times.secs(standing.first),
        headings: [0; 2],
        free_from: [f64::NEG_INFINITY; 2],
    };
    for pair in before.holds.windows(2) {
        let headings = headings(&pair[0].window, &pair[1].window);
        for (axis, heading) in headings.into_iter().enumerate().filter(|(_, heading)| *heading != 0)
        {
            if heading == -beginning.headings[axis] {
                beginning.free_from[axis] = times.secs(pair[0].last) + least_secs - now;
            }
            beginning.headings[axis] = heading;
        }
    }
    beginning
}

/// Takes what a stretch has up to a frame of the run, at which a window stands.
fn take(plan: &mut Moves, stretch: &Moves, first: usize, last: usize) {
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
