//! The plan of a request with clauses.

use super::{
    super::{
        Axis, Cause, HardLimit, Outcome, PanError, Planned, Refusal, Remedy, Request, ShortFrame,
        Side,
        choose::{self, Decision, decide},
    },
    Clause, ClauseFailing, is_good,
    room::clash_at,
    stretch::{Least, chosen},
};
use crate::geometry::Window;

/// Plans a request with its clauses: without them if they are kept by the way, else with each kept at the time at
/// which that loses least.
pub(in crate::pan) fn plan(request: &Request) -> Result<Outcome, PanError> {
    let free = Request { clauses: Vec::new(), ..request.clone() };
    let planned = match choose::plan_free(&free)? {
        Outcome::Planned(planned) => planned,
        // What cannot be had without the clauses is not their fault.
        refused => return Ok(refused),
    };
    let keeps = |planned: &Planned| {
        request.clauses.iter().all(|clause| clause.kept(&request.pace, &planned.windows).is_kept)
    };
    if keeps(&planned) {
        return Ok(Outcome::Planned(planned));
    }
    if let Some(conflict) = pinned_apart(request, &planned) {
        return Ok(Outcome::NoPath { conflict });
    }
    let (mut best, mut short, mut conflict): (Option<Planned>, _, _) = (None, None, None);
    let mut tried: Vec<Request> = Vec::new();
    for least in [Least::Lacking, Least::Way] {
        let beside = (&planned.sides[..], &planned.windows[..]);
        let with = match with_required(request, &free, beside, least) {
            Ok(with) => with,
            Err((clause, failing)) => {
                let cause = Cause::Clause { clause, failing };
                return Ok(Outcome::DoesNotFit(refusal(request, cause, &planned, &planned)));
            }
        };
        if tried.contains(&with) {
            continue;
        }
        match decide(&with)? {
            Decision::Planned(planned) if keeps(&planned) => {
                let is_better = |best: &Planned| {
                    let verdicts = planned.assessment.verdict.cmp(&best.assessment.verdict);
                    let costs = planned.cost_as_given().total_cmp(&best.cost_as_given());
                    verdicts.then(costs).is_lt()
                };
                if best.as_ref().is_none_or(is_better) {
                    best = Some(planned);
                }
            }
            Decision::Planned(attempt) | Decision::Short(attempt) => {
                short.get_or_insert((attempt, with.clone()));
            }
            Decision::NoPath { conflict: found } => _ = conflict.get_or_insert(found),
            Decision::TooSoft => {}
        }
        tried.push(with);
    }
    Ok(match (best, short, conflict) {
        (Some(best), ..) => Outcome::Planned(best),
        (None, Some((attempt, with)), _) => {
            let cause = against_subject(&with, &attempt);
            Outcome::DoesNotFit(refusal(request, cause, &attempt, &planned))
        }
        (None, None, conflict) => Outcome::NoPath { conflict: conflict.unwrap_or_default() },
    })
}

/// The request with its clauses as required boxes, each at the time chosen for it, and without those for which there is
/// none: for those who plan without choosing such times.
pub(in crate::pan) fn as_required(request: &Request) -> Result<Request, PanError> {
    let mut free = Request { clauses: Vec::new(), ..request.clone() };
    if request.clauses.is_empty() {
        return Ok(free);
    }
    let Outcome::Planned(planned) = choose::plan_free(&free)? else { return Ok(free) };
    for (number, clause) in request.clauses.iter().enumerate() {
        let on = (&free, &planned.sides[..]);
        let Ok(frames) = time_of(on, (number, clause), &planned.windows, Least::Lacking) else {
            continue;
        };
        for (index, wish) in free.frames.iter_mut().enumerate() {
            wish.required.extend(clause.required(number, index).filter(|_| frames[index]));
        }
    }
    Ok(free)
}

/// The request with each clause required as a path keeps it that stays on these sides: for another path that is planned
/// beside that one. `None` if the path keeps none of the times that could be chosen.
pub(in crate::pan) fn required_beside(
    request: &Request,
    path: (&[Side], &[Window]),
) -> Option<Request> {
    let free = Request { clauses: Vec::new(), ..request.clone() };
    let with = with_required(request, &free, path, Least::Way).ok()?;
    Some(Request { clauses: request.clauses.clone(), ..with })
}

/// The request with each clause required at the time chosen for it beside a path.
fn with_required(
    request: &Request,
    free: &Request,
    (sides, windows): (&[Side], &[Window]),
    least: Least,
) -> Result<Request, (usize, ClauseFailing)> {
    let mut with = free.clone();
    for (number, clause) in request.clauses.iter().enumerate() {
        let frames = time_of((free, sides), (number, clause), windows, least)
            .map_err(|failing| (number, failing))?;
        for (index, wish) in with.frames.iter_mut().enumerate() {
            wish.required.extend(clause.required(number, index).filter(|_| frames[index]));
        }
    }
    Ok(with)
}

/// The frames on which a clause is required. Where the sides of the keep-outs that are best without it leave none, others
/// may: then it is chosen as if there were no keep-outs, and the planner finds the sides or tells that there are none.
fn time_of(
    (request, sides): (&Request, &[Side]),
    clause: (usize, &Clause),
    path: &[Window],
    least: Least,
) -> Result<Vec<bool>, ClauseFailing> {
    chosen((request, sides), clause, path, least).or_else(|failing| {
        if sides.is_empty() { Err(failing) } else { chosen((request, &[]), clause, path, least) }
    })
}

/// A pin and a clause that cannot both be kept: one that holds throughout, and a pin in its time that breaks it.
fn pinned_apart(request: &Request, planned: &Planned) -> Option<Vec<HardLimit>> {
    let throughout = request.clauses.iter().enumerate().filter(|(_, c)| c.least_secs.is_none());
    throughout.into_iter().find_map(|(number, clause)| {
        let breaks = |index: usize| {
            clause.required(number, index).is_some()
                && !clause.is_kept_at(index, &planned.windows[index])
        };
        let pin = request.pins.iter().find(|pin| breaks(pin.index))?;
        Some(vec![HardLimit::Pin { index: pin.index }, HardLimit::Clause { clause: number }])
    })
}

/// Which clause stands against the subject, and by how much where that is the most.
fn against_subject(with: &Request, attempt: &Planned) -> Cause {
    let sides: &[Side] = &attempt.sides;
    let clashes = with.frames.iter().enumerate().flat_map(|(index, wish)| {
        wish.required.iter().filter_map(move |required| {
            Some((required.clause, clash_at(with, sides, required, index)?))
        })
    });
    let worst = clashes.fold(None, |worst: Option<(usize, super::Clash)>, next| match worst {
        Some(worst) if worst.1.missing_px >= next.1.missing_px => Some(worst),
        _ => Some(next),
    });
    match worst.filter(|(_, clash)| clash.missing_px > 0.0) {
        Some((clause, clash)) => {
            Cause::Clause { clause, failing: ClauseFailing::AgainstSubject(clash) }
        }
        None => {
            let worst = attempt.assessment.worst();
            let (index, missing_px) = worst.map_or((0, 0.0), |s| (s.index, s.missing_px));
            let clause = first_required(with);
            Cause::Clause { clause, failing: ClauseFailing::NotReached { index, missing_px } }
        }
    }
}

fn first_required(with: &Request) -> usize {
    with.frames.iter().flat_map(|wish| &wish.required).map(|r| r.clause).next().unwrap_or(0)
}

/// A refusal because of a clause: `attempt` keeps what can be kept of it, `free` is the plan without it.
fn refusal(request: &Request, cause: Cause, attempt: &Planned, free: &Planned) -> Refusal {
    let (at, missing) = match cause {
        Cause::Clause { failing, .. } => match failing {
            ClauseFailing::TooShort { index, .. } => (index.unwrap_or(0), 0.0),
            ClauseFailing::TooSmall { index, greatest_width_px, least_width_px, .. } => {
                (index, least_width_px - greatest_width_px)
            }
            ClauseFailing::NoPlace { index, missing_px, .. }
            | ClauseFailing::NotReached { index, missing_px } => (index, missing_px),
            ClauseFailing::AgainstSubject(clash) => (clash.index, clash.missing_px),
        },
        _ => (0, 0.0),
    };
    let axis = match cause {
        Cause::Clause { failing: ClauseFailing::NoPlace { axis, .. }, .. } => axis,
        Cause::Clause { failing: ClauseFailing::AgainstSubject(clash), .. } => clash.axis,
        _ => Axis::Across,
    };
    let here = ShortFrame { index: at, missing_px: missing, axis };
    let mut remedies = Vec::new();
    if let Cause::Clause { clause, failing } = cause {
        if let ClauseFailing::TooShort { longest_secs, .. } = failing
            && longest_secs > 0.0
        {
            remedies.push(Remedy::ShorterClause { clause, secs: longest_secs });
        }
        // With several, each of them may stand in the way.
        if request.clauses.len() == 1 && is_good(free.assessment.verdict) {
            remedies.push(Remedy::DropClause { clause, verdict: free.assessment.verdict });
        }
    }
    Refusal {
        cause,
        sides: attempt.sides.clone(),
        first: attempt.assessment.first_short().unwrap_or(here),
        worst: attempt.assessment.worst().unwrap_or(here),
        share_inside: attempt.assessment.share_inside,
        attempt: attempt.windows.clone(),
        remedies,
    }
}
