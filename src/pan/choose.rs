//! Which way to move: the first that fits, simplest first, else the first that is tight.

use super::{
    Assessment, FrameWish, HardLimit, Moves, Objective, PanError, Peak, Pin, Refusal, Request,
    RequiredBox, Rules, ShortFrame, Side, Travel, Verdict, Visit, Weights, clause, conflict, hold,
    leave,
    moves::{self, NoPlan},
    moves_objective, peak_speed, refuse,
    sides::{self, Area},
    still,
    travel::{TravelLimit, planned_follow},
};
use crate::geometry::Window;
use serde::{Deserialize, Serialize};
use std::fmt;

/// How the window moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// It stands still.
    Hold,
    /// It stands still, and goes from one place to the next in a few eased moves.
    Moves,
    /// It follows the subject.
    Follow,
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Hold => "hold",
            Self::Moves => "moves",
            Self::Follow => "follow",
        })
    }
}

/// Why this way was taken: the one thing that decided.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum Reason {
    /// One still window keeps what is to be kept.
    HoldIsEnough,
    /// The best still window lacks too much.
    HoldIsShort {
        /// Where it lacks the most.
        worst: ShortFrame,
        /// The share of frames on which it keeps everything.
        share_inside: f64,
    },
    /// The best still windows joined by eased moves lack too much.
    MovesAreShort {
        /// How many moves there would be.
        moves: usize,
        /// Where they lack the most.
        worst: ShortFrame,
        /// The share of frames on which they keep everything.
        share_inside: f64,
    },
    /// The best still windows joined by eased moves travel further than they may.
    MovesTravelTooFar {
        /// How many moves there would be.
        moves: usize,
        /// How far they would travel by the weights as they were given, px.
        px: f64,
        /// How far a window must that keeps as much as can be kept.
        least_px: f64,
        /// How many times as far it may.
        greatest: f64,
    },
    /// The best still window is tight, and following is no better.
    HoldIsTight {
        /// Where the still window lacks the most.
        worst: ShortFrame,
    },
    /// Windows pinned by hand differ, so that none stands still.
    PinsDiffer {
        /// The run's frame with the first pin.
        first: usize,
        /// The run's frame with the first pin that differs from it.
        second: usize,
    },
    /// What is kept out leaves no place where a window could stand still.
    NoStillPlace,
    /// The subject crosses faster than a window may follow, and is let go.
    TooFastToFollow {
        /// What keeping it at its place would need where it is fastest: timeline seconds for one window width.
        secs_per_width: f64,
        /// What no pan goes below, the same way.
        limit_secs: f64,
    },
    /// The subject smears by so much that following would hold its blur still in mid-frame.
    TooSmearedToFollow {
        /// The run's frame where it smears the most.
        index: usize,
        /// How far it moves while that frame is exposed, px of the capture.
        px: f64,
        /// The same as a share of the window's width.
        share: f64,
        /// The share above which nothing is followed.
        limit: f64,
    },
    /// It looks like the clip's other shapes, with which it is planned.
    OneLook,
    /// The subject comes into the picture or leaves it, and is let go where it does.
    LeavesThePicture {
        /// The run's first frame on which it is at the picture's edge.
        index: usize,
    },
}

/// A window for each frame of the run, and how it came about. It keeps every hard limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    /// How the window moves.
    pub way: Way,
    /// Why it moves so.
    pub reason: Reason,
    /// One window a frame.
    pub windows: Vec<Window>,
    /// The holds and moves that they come from, where the way is [`Way::Moves`].
    pub moves: Option<Moves>,
    /// What they keep inside.
    pub assessment: Assessment,
    /// Their fastest step.
    pub peak: Peak,
    /// How far they travel, where there is a limit on that and they do.
    pub travel: Option<Travel>,
    /// What they cost, by the weights that they were planned by.
    pub objective: Objective,
    /// What they may cost more than the best path, in reference widths, where the solver came no nearer; `None` if
    /// they are the best of their way.
    pub may_cost_more: Option<f64>,
    /// Whether another way was taken after the search for eased moves was broken off, so that there may be some that do.
    pub moves_broken_off: bool,
    /// On which side of each keep-out they stay.
    pub sides: Vec<Side>,
    /// When the subject is inside, where it is let go; otherwise empty.
    pub visits: Vec<Visit>,
    /// The run's frames on which nothing was asked, since the subject comes into the picture or leaves it there;
    /// otherwise empty. What is outside on them counts in the assessment and costs nothing.
    pub let_go: Vec<usize>,
    /// What had to be inside at each of the run's frames, as hard limits.
    pub required: Vec<Vec<RequiredBox>>,
}

impl Planned {
    pub(super) fn new(
        request: &Request,
        way: Way,
        windows: Vec<Window>,
        reason: Reason,
        sides: &[Side],
    ) -> Self {
        Self {
            way,
            reason,
            assessment: Assessment::of(request, &windows),
            peak: peak_speed(&windows, &request.pace, &request.ride),
            travel: None,
            objective: Objective::of(request, &windows),
            windows,
            moves: None,
            may_cost_more: None,
            moves_broken_off: false,
            sides: sides.to_vec(),
            visits: Vec::new(),
            let_go: Vec::new(),
            required: request.frames.iter().map(|wish| wish.required.clone()).collect(),
        }
    }

    /// The path of a shape that shares its look with others, be it of moves or a hold; `None` if there is none.
    pub(super) fn of_look(request: &Request, moves: Option<Moves>, sides: &[Side]) -> Option<Self> {
        Self::of_moves_or_hold(request, moves?, Reason::OneLook, sides)
    }

    /// The path of some moves, or of the hold that they are; `None` if there is none.
    fn of_moves_or_hold(
        request: &Request,
        moves: Moves,
        reason: Reason,
        sides: &[Side],
    ) -> Option<Self> {
        if let [only] = moves.holds[..] {
            let windows = vec![only.window; request.frame_count()];
            return Some(Self::new(request, Way::Hold, windows, reason, sides));
        }
        Self::of_moves(request, Some(moves), reason, sides)
    }

    /// The path of some moves; `None` if there is none, or if it never moves and so is a hold.
    fn of_moves(
        request: &Request,
        moves: Option<Moves>,
        reason: Reason,
        sides: &[Side],
    ) -> Option<Self> {
        let moves = moves.filter(|plan| plan.holds.len() > 1)?;
        let windows = moves.windows(request)?;
        let objective = moves_objective(request, &moves, &windows);
        let planned = Self::new(request, Way::Moves, windows, reason, sides);
        let may_cost_more = moves.may_cost_more;
        Some(Self { objective, may_cost_more, moves: Some(moves), ..planned })
    }

    /// The weights that it was planned by, of the rules that were given.
    #[must_use]
    pub fn weights(&self, given: &Rules) -> Weights {
        let factor = self.travel.map_or(1.0, |travel| travel.factor);
        given.weights_of(self.way).with_wishes(factor)
    }

    /// Whether the search for its moves was broken off, so that there may be others that cost less.
    pub(super) fn is_of_broken_search(&self) -> bool {
        self.way == Way::Moves && self.may_cost_more.is_some()
    }

    pub(super) fn travels_too_far(&self) -> bool {
        self.travel.is_some_and(|travel| travel.beyond.is_some())
    }

    /// What the path costs by the weights as they were given, so that paths that were planned by others can be compared.
    pub(super) fn cost_as_given(&self) -> f64 {
        let factor = self.travel.map_or(1.0, |travel| travel.factor);
        let weighed = &self.objective;
        let as_given = Objective {
            acceleration: weighed.acceleration / factor,
            place: weighed.place / factor,
            width: weighed.width / factor,
            ..self.objective
        };
        as_given.total()
    }
}

/// What came of a request.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// A path that fits or is tight.
    Planned(Planned),
    /// The shape cannot be had.
    DoesNotFit(Refusal),
    /// Hard limits contradict each other: no path keeps them all.
    NoPath {
        /// The smallest set of limits that cannot be kept together.
        conflict: Vec<HardLimit>,
    },
}

/// Plans one run of frames in one shape.
///
/// # Errors
/// [`PanError`] for a request that makes no sense, and for faults of ours. A shape that cannot be had is an
/// [`Outcome`].
pub fn plan(request: &Request) -> Result<Outcome, PanError> {
    if request.clauses.is_empty() { plan_free(request) } else { clause::plan(request) }
}

/// The same for a request whose clauses, if there are any, are required boxes of its frames already.
pub(super) fn plan_free(request: &Request) -> Result<Outcome, PanError> {
    match decide(request)? {
        Decision::Planned(planned) => Ok(Outcome::Planned(planned)),
        Decision::NoPath { conflict } => Ok(Outcome::NoPath { conflict }),
        Decision::TooSoft => refuse::too_soft(request).map(Outcome::DoesNotFit),
        // A remedy says of what verdict the plan would be, which no limit on travel makes worse.
        Decision::Short(attempt) => {
            refuse::explain(&request.of_any_travel(), attempt).map(Outcome::DoesNotFit)
        }
    }
}

/// An outcome before its refusal is explained.
pub(super) enum Decision {
    Planned(Planned),
    NoPath { conflict: Vec<HardLimit> },
    TooSoft,
    Short(Planned),
}

pub(super) fn decide(request: &Request) -> Result<Decision, PanError> {
    let frame_count = request.frame_count();
    if frame_count == 0 {
        return Err(PanError::NoFrames);
    }
    request.pace.check(frame_count)?;
    if let Some(pin) = request.pins.iter().find(|pin| pin.index >= frame_count) {
        return Err(PanError::PinBeyondRun { index: pin.index, frame_count });
    }
    if request.least_width > request.greatest_width() + 1e-6 {
        if request.least_width > request.of_any_width().greatest_width() + 1e-6 {
            return Ok(Decision::TooSoft);
        }
        let conflict = vec![HardLimit::LeastWidth, HardLimit::MostWidth];
        return Ok(Decision::NoPath { conflict });
    }
    let widths = (request.least_width, request.most_width);
    if let Some(conflict) = request.pins.iter().find_map(|pin| pin_off_widths(pin, widths)) {
        return Ok(Decision::NoPath { conflict });
    }
    let Some(sides) = sides::best(request)? else {
        let conflict = conflict::smallest_without_side(request)?;
        return Ok(Decision::NoPath { conflict });
    };
    match ladder(request, &sides)? {
        Decision::Short(nearest) => {
            Ok(leave::let_go(request, &sides)?.map_or(Decision::Short(nearest), Decision::Planned))
        }
        decision => Ok(decision),
    }
}

/// What a pin contradicts that is not between the least and the most width.
fn pin_off_widths(pin: &Pin, (least, most): (f64, f64)) -> Option<Vec<HardLimit>> {
    const ROUNDING_PX: f64 = 1e-6;
    let width = pin.window.width();
    let broken = if width < least - ROUNDING_PX {
        HardLimit::LeastWidth
    } else if width > most + ROUNDING_PX {
        HardLimit::MostWidth
    } else {
        return None;
    };
    Some(vec![broken, HardLimit::Pin { index: pin.index }])
}

/// The best still window, or why there is none.
pub(super) fn still(request: &Request, sides: &[Side]) -> Result<Planned, Reason> {
    let held = if request.is_upright_and_fixed() {
        still_window(request, sides).map(|window| (vec![window; request.frame_count()], None))
    } else {
        still::held(request, sides)
    };
    held.map(|(windows, may_cost_more)| {
        let planned = Planned::new(request, Way::Hold, windows, Reason::HoldIsEnough, sides);
        Planned { may_cost_more, ..planned }
    })
}

/// The ways, simplest first, for a request that can be had as far as its sizes and pins go.
pub(super) fn ladder(request: &Request, sides: &[Side]) -> Result<Decision, PanError> {
    let held = still(request, sides);
    if let Ok(held) = &held
        && held.assessment.verdict == Verdict::Fits
    {
        return Ok(Decision::Planned(held.clone()));
    }
    // Pins that differ, and keep-outs that leave no still place, make it move all the same.
    if let (Ok(held), Some(reason)) = (&held, request.too_smeared(request.reference_width())) {
        let held = Planned { reason, ..held.clone() };
        let is_tight = held.assessment.verdict == Verdict::Tight;
        return Ok(if is_tight { Decision::Planned(held) } else { Decision::Short(held) });
    }
    let reason = match &held {
        Ok(held) => short_reason(held),
        Err(reason) => *reason,
    };
    let sought = moves::sought(request, sides);
    let is_broken_off = match &sought {
        Ok(plan) => plan.may_cost_more.is_some(),
        Err(why) => *why == NoPlan::BrokenOff,
    };
    let moved = Planned::of_moves(request, sought.ok(), reason, sides);
    let limit = TravelLimit::of(request, sides)?;
    let moved = moves_within(request, moved, limit.as_ref())?;
    if let Some(moved) = &moved
        && moved.assessment.verdict == Verdict::Fits
        && !moved.travels_too_far()
    {
        return Ok(Decision::Planned(moved.clone()));
    }
    let reason = moved.as_ref().map_or(reason, short_reason);
    let followed = planned_follow(request, (sides, reason))?;
    let followed = followed.map(|planned| match &moved {
        Some(moved) => Planned { reason: reason_beside(moved, &planned), ..planned },
        None => planned,
    });
    let is_too_far = moved.as_ref().is_some_and(Planned::travels_too_far);
    let (too_far, moved) = if is_too_far { (moved, None) } else { (None, moved) };
    let decision = better_of(request, [held.ok(), moved, followed], sides)?;
    Ok(match unless_better(decision, too_far) {
        Decision::Planned(planned) if planned.way != Way::Moves => {
            let planned = followed_within(request, planned, limit.as_ref())?;
            Decision::Planned(Planned { moves_broken_off: is_broken_off, ..planned })
        }
        decision => decision,
    })
}

/// Moves that could be delivered, within the limit on travel if there are such.
fn moves_within(
    request: &Request,
    moved: Option<Planned>,
    limit: Option<&TravelLimit>,
) -> Result<Option<Planned>, PanError> {
    let (Some(given), Some(limit)) = (&moved, limit) else { return Ok(moved) };
    if given.assessment.verdict > Verdict::Tight {
        return Ok(moved);
    }
    let (reason, sides) = (given.reason, given.sides.clone());
    let again = |weighed: &Request| {
        // That a search came to no more than a hold before it was broken off says nothing of what there is.
        let is_known = |moves: &Moves| moves.holds.len() > 1 || moves.may_cost_more.is_none();
        let sought = moves::sought(weighed, &sides).ok().filter(is_known);
        Ok(sought.and_then(|moves| Planned::of_moves_or_hold(weighed, moves, reason, &sides)))
    };
    limit.kept(request, given.clone(), again).map(Some)
}

/// A path that follows, within the limit on travel if there is such. One that stands still is as it was.
fn followed_within(
    request: &Request,
    planned: Planned,
    limit: Option<&TravelLimit>,
) -> Result<Planned, PanError> {
    let Some(limit) = limit.filter(|_| planned.way == Way::Follow) else { return Ok(planned) };
    let (reason, sides) = (planned.reason, planned.sides.clone());
    limit.kept(request, planned, |weighed| planned_follow(weighed, (&sides, reason)))
}

/// What was decided, unless moves that were passed over since they travel too far are of a better verdict: a limit on travel
/// loses nothing that is kept without it.
fn unless_better(decision: Decision, too_far: Option<Planned>) -> Decision {
    let verdict = match &decision {
        Decision::Planned(planned) | Decision::Short(planned) => planned.assessment.verdict,
        Decision::NoPath { .. } | Decision::TooSoft => Verdict::DoesNotFit,
    };
    match too_far {
        Some(moved) if moved.assessment.verdict < verdict => Decision::Planned(moved),
        _ => decision,
    }
}

/// Of the ways, simplest first: the first that fits, else the first that is tight; else the last of them is how
/// near one comes.
fn better_of(
    request: &Request,
    ways: [Option<Planned>; 3],
    sides: &[Side],
) -> Result<Decision, PanError> {
    let ways: Vec<Planned> = ways.into_iter().flatten().collect();
    let first = |verdict| ways.iter().find(|planned| planned.assessment.verdict == verdict);
    let Some(planned) = first(Verdict::Fits).or_else(|| first(Verdict::Tight)) else {
        return match ways.into_iter().next_back() {
            Some(nearest) => Ok(Decision::Short(nearest)),
            None => Ok(Decision::NoPath { conflict: conflict::smallest_conflict(request, sides)? }),
        };
    };
    let mut planned = planned.clone();
    if let (Way::Hold, Some(worst)) = (planned.way, planned.assessment.worst()) {
        planned.reason = Reason::HoldIsTight { worst };
    }
    Ok(Decision::Planned(planned))
}

/// Why moves are not taken beside a path that follows.
fn reason_beside(moved: &Planned, followed: &Planned) -> Reason {
    let is_as_good = moved.assessment.verdict <= followed.assessment.verdict;
    let too_far = moved.travel.filter(|travel| is_as_good && travel.beyond.is_some());
    match (&moved.moves, too_far) {
        (Some(plan), Some(Travel { px, least_px, greatest, .. })) => {
            Reason::MovesTravelTooFar { moves: plan.moves().len(), px, least_px, greatest }
        }
        _ => short_reason(moved),
    }
}

/// Why a way is not taken that does not fit.
fn short_reason(planned: &Planned) -> Reason {
    let share_inside = planned.assessment.share_inside;
    match (planned.assessment.worst(), &planned.moves) {
        (None, _) => planned.reason,
        (Some(worst), None) => Reason::HoldIsShort { worst, share_inside },
        (Some(worst), Some(plan)) => {
            Reason::MovesAreShort { moves: plan.moves().len(), worst, share_inside }
        }
    }
}

/// The best still window: the pins if there are any and they are all the same.
fn still_window(request: &Request, sides: &[Side]) -> Result<Window, Reason> {
    let Some(first) = request.pins.first() else {
        return hold::best(request, &Area::still(request, sides)).ok_or(Reason::NoStillPlace);
    };
    if let Some(second) = request.pins.iter().find(|pin| pin.window != first.window) {
        return Err(Reason::PinsDiffer { first: first.index, second: second.index });
    }
    let still = Area::still(request, sides);
    let keeps =
        |wish: &FrameWish| wish.required.iter().all(|required| required.is_kept(&first.window));
    if still.holds(&first.window) && request.frames.iter().all(keeps) {
        Ok(first.window)
    } else {
        Err(Reason::NoStillPlace)
    }
}
