//! One look over several shapes of a clip: they move at the same time, are equally high and have the subject equally
//! far down, as far as each can; a shape that cannot is named and left as it is by itself.

use super::{
    Planned, Reason, Request, ShortFrame, Side, Verdict, Way,
    clause::required_beside,
    moves::{NoPlan, Part, Scene, moves_together},
};
use crate::geometry::Window;
use serde::Serialize;

/// Why a shape is planned by itself and not with the others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "apart")]
pub enum Apart {
    /// Its window follows the subject, and so has no moves that start and end.
    Follows,
    /// Its subject is let go.
    LetsGo,
    /// Some of its windows are pinned by hand.
    Pinned,
    /// Its window rides with the shake of the world.
    Rides,
    /// Its moves start and stop in another way.
    OtherEase,
    /// With the others it would lack more than by itself.
    Short {
        /// Where it would lack the most.
        worst: ShortFrame,
        /// The share of frames on which it would keep everything.
        share_inside: f64,
    },
    /// There is no path with the others that keeps its hard limits.
    NoPath,
    /// The search for moves with the others was broken off before it found any.
    BrokenOff,
    /// No other shape is left to look alike with.
    NobodyElse,
}

/// What a shape comes to by itself, be there a limit on travel or not: a look does not go by one.
#[derive(Debug, Clone, PartialEq)]
pub struct Alone {
    /// How its window moves.
    pub way: Way,
    /// How well it keeps the subject.
    pub verdict: Verdict,
    /// On which side of each keep-out it stays.
    pub sides: Vec<Side>,
    /// Whether it rides with the shake of the world.
    pub is_riding: bool,
    /// One window a frame.
    pub windows: Vec<Window>,
}

/// The path of a shape that shares the look of others, and the request that it was planned by: with another preferred
/// width and other places than by itself, and with its clauses as required boxes.
#[derive(Debug, Clone, PartialEq)]
pub struct Shared {
    /// What the path was planned by.
    pub request: Request,
    /// The path.
    pub planned: Planned,
}

impl Alone {
    /// What a plan comes to that rides on nothing.
    #[must_use]
    pub fn of(planned: &Planned) -> Self {
        Self {
            way: planned.way,
            verdict: planned.assessment.verdict,
            sides: planned.sides.clone(),
            is_riding: false,
            windows: planned.windows.clone(),
        }
    }
}

/// The path of each shape that shares the look of the others, or why it does not; with what each was asked and what
/// it is by itself.
///
/// Shapes that share a look have every move from the same frame to the same frame; one may stand where others move.
/// If with the others a shape would be of a worse verdict than by itself, one is left out and the rest planned again:
/// the one without which the fewest others are in want. A shape's clauses are hard limits, at the times at which its
/// path keeps them that is planned by itself.
#[must_use]
pub fn share_look(shapes: &[(Request, Alone)]) -> Vec<Result<Shared, Apart>> {
    let with_clauses = shapes.iter().map(|(request, alone)| {
        let required = (!request.clauses.is_empty())
            .then(|| required_beside(request, (&alone.sides, &alone.windows)))
            .flatten();
        (required.unwrap_or_else(|| request.clone()), alone.clone())
    });
    let shapes: &[(Request, Alone)] = &with_clauses.collect::<Vec<_>>();
    let mut apart: Vec<Option<Apart>> = shapes.iter().map(apart_from_the_start).collect();
    let free = || shapes.iter().zip(&apart).filter(|(_, apart)| apart.is_none());
    let ease = free().map(|((request, _), _)| request.rules.moves.ease).next();
    let has_other_ease = |request: &Request| ease.is_some_and(|e| e != request.rules.moves.ease);
    let others: Vec<bool> = shapes.iter().map(|(request, _)| has_other_ease(request)).collect();
    for (apart, other) in apart.iter_mut().zip(others) {
        *apart = apart.or_else(|| other.then_some(Apart::OtherEase));
    }
    // Those that are larger than the others, since they keep the subject only so.
    let mut parts = vec![Part::Alike; shapes.len()];
    loop {
        let members: Vec<usize> = (0..shapes.len()).filter(|i| apart[*i].is_none()).collect();
        if let [only] = members[..] {
            apart[only] = Some(Apart::NobodyElse);
            continue;
        }
        let of = |members: &[usize], parts: &[Part]| {
            let all = members.iter().map(|i| (&shapes[*i], parts[*i]));
            attempt(&all.collect::<Vec<_>>())
        };
        let attempts = of(&members, &parts);
        let Some(leaver) = leaver(&members, &attempts, |rest| of(rest, &parts)) else {
            let mut attempts = attempts.into_iter();
            let all = apart.into_iter().map(|apart| {
                apart.map_or_else(|| attempts.next().unwrap_or(Err(Apart::NoPath)), Err)
            });
            return all.collect();
        };
        let member = members[leaver];
        if parts[member] == Part::Alike {
            parts[member] = Part::OwnSize;
        } else {
            apart[member] = attempts[leaver].as_ref().err().copied();
        }
    }
}

/// Which of the members is in want: of several, the one without which the fewest others are, and of those the one
/// that would lack the most.
fn leaver(
    members: &[usize],
    attempts: &[Result<Shared, Apart>],
    of: impl Fn(&[usize]) -> Vec<Result<Shared, Apart>>,
) -> Option<usize> {
    let in_want =
        || attempts.iter().enumerate().filter_map(|(place, a)| Some((place, a.as_ref().err()?)));
    if in_want().count() == 1 {
        return in_want().map(|(place, _)| place).next();
    }
    let scored = in_want().map(|(place, apart)| {
        let rest: Vec<usize> = members.iter().copied().filter(|i| *i != members[place]).collect();
        let left = if rest.len() < 2 { 0 } else { of(&rest).iter().filter(|a| a.is_err()).count() };
        (left, -lack(apart), place)
    });
    scored.min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))).map(|(_, _, place)| place)
}

/// Why a shape cannot share a look whatever the others do.
fn apart_from_the_start((request, alone): &(Request, Alone)) -> Option<Apart> {
    if alone.is_riding || !request.ride.is_empty() {
        Some(Apart::Rides)
    } else if alone.verdict == Verdict::Leaves {
        Some(Apart::LetsGo)
    } else if !request.pins.is_empty() {
        Some(Apart::Pinned)
    } else {
        (alone.way == Way::Follow).then_some(Apart::Follows)
    }
}

/// How much a shape lacks, to be compared: no path at all is the most.
fn lack(apart: &Apart) -> f64 {
    if let Apart::Short { worst, .. } = apart { worst.missing_px } else { f64::INFINITY }
}

/// All of these shapes together. Those that stand still by themselves do so here too, if nobody is then in want.
fn attempt(shapes: &[(&(Request, Alone), Part)]) -> Vec<Result<Shared, Apart>> {
    let holds = |(shape, part): &(&(Request, Alone), Part)| {
        shape.1.way == Way::Hold && *part == Part::Alike
    };
    if shapes.iter().any(holds) {
        let standing: Vec<_> = shapes
            .iter()
            .map(|shape| (shape.0, if holds(shape) { Part::Standing } else { shape.1 }))
            .collect();
        let attempts = attempt_as(&standing);
        if attempts.iter().all(Result::is_ok) {
            return attempts;
        }
    }
    attempt_as(shapes)
}

/// All of these shapes together, each taking part as it says.
fn attempt_as(shapes: &[(&(Request, Alone), Part)]) -> Vec<Result<Shared, Apart>> {
    let scenes: Vec<Scene<'_>> = shapes
        .iter()
        .map(|((request, alone), part)| Scene { request, sides: &alone.sides, part: *part })
        .collect();
    if scenes.is_empty() {
        return Vec::new();
    }
    let plans = match moves_together(&scenes) {
        Ok(plans) => plans,
        Err(NoPlan::NoneKeepsLimits) => return vec![Err(Apart::NoPath); shapes.len()],
        Err(NoPlan::BrokenOff) => return vec![Err(Apart::BrokenOff); shapes.len()],
    };
    let judge =
        |((request, moves), ((_, alone), _)): ((Request, _), &(&(Request, Alone), Part))| {
            let planned = Planned::of_look(&request, moves, &alone.sides).ok_or(Apart::NoPath)?;
            match planned.assessment.worst() {
                Some(worst) if planned.assessment.verdict > alone.verdict => {
                    let share_inside = planned.assessment.share_inside;
                    Err(Apart::Short { worst, share_inside })
                }
                _ if !keeps_clauses(&request, &planned) => Err(Apart::NoPath),
                _ => {
                    Ok(Shared { planned: Planned { reason: Reason::OneLook, ..planned }, request })
                }
            }
        };
    plans.into_iter().zip(shapes).map(judge).collect()
}

fn keeps_clauses(request: &Request, planned: &Planned) -> bool {
    request.clauses.iter().all(|clause| clause.kept(&request.pace, &planned.windows).is_kept)
}

#[cfg(test)]
mod tests;
