//! A subject that is let go: it crosses faster than a window may follow, or it comes into the picture or leaves it.
//! The window stands, or moves as it would for the frames on which the subject can be had, and says when it is inside.

use super::{
    Assessment, Beyond, PanError, Planned, Reason, Request, Side, Verdict,
    choose::{Decision, ladder, still},
    missing_px,
    travel::travel_told,
};
use crate::geometry::{Region, Window};
use serde::Serialize;

/// One stay of a subject in the window. Frames are counted from the run's first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Visit {
    /// The first frame with any of it in the window; none if it is in where it is first seen.
    pub nose_in: Option<usize>,
    /// The first and the last frame on which all of it is inside, margins not counted.
    pub inside: (usize, usize),
    /// The first and the last frame on which its middle is inside.
    pub middle_inside: (usize, usize),
    /// The first frame with nothing of it left in the window; none if it is in where it is last seen.
    pub tail_out: Option<usize>,
    /// How long all of it is inside without a break, in seconds of timeline: the longest time if there are several.
    pub inside_secs: f64,
}

/// The plan that lets the subject go, if that is allowed and it is wholly inside for long enough.
///
/// Only for a single wished box a frame that is nowhere too large for the shape: of several, some can be kept. A path that
/// travels less may have it inside for less long: where none within the limit on travel has it inside for long enough, it is
/// planned without that limit.
pub(super) fn let_go(request: &Request, sides: &[Side]) -> Result<Option<Planned>, PanError> {
    let Some(least_secs) = request.rules.least_inside_secs else { return Ok(None) };
    let is_for_others = |index: usize| is_too_large(request, index);
    if request.frames.iter().any(|wish| wish.boxes.len() > 1)
        || (0..request.frame_count()).any(is_for_others)
    {
        return Ok(None);
    }
    let at_edge = at_edge(request);
    let kept = kept(request, &at_edge);
    let asked = Asked { request, at_edge: &at_edge, least_secs };
    let planned = asked.planned(&kept, sides)?;
    if planned.is_some() || request.rules.greatest_travel.is_none() {
        return Ok(planned);
    }
    let Some(planned) = asked.planned(&kept.of_any_travel(), sides)? else { return Ok(None) };
    let travel = travel_told(&kept, &planned, Beyond::KeepsMore)?;
    Ok(Some(Planned { travel, ..planned }))
}

/// What is asked of a path that lets the subject go.
struct Asked<'r> {
    request: &'r Request,
    /// The frames on which the subject comes into the picture or leaves it.
    at_edge: &'r [bool],
    /// How long all of it is inside, at least.
    least_secs: f64,
}

impl Asked<'_> {
    /// The plan of a request that wishes nothing at the edge, if the subject is inside for long enough.
    fn planned(&self, kept: &Request, sides: &[Side]) -> Result<Option<Planned>, PanError> {
        let Self { request, at_edge, least_secs } = *self;
        let Some((planned, reason)) = self.any_planned(kept, sides)? else { return Ok(None) };
        let visits = visits(request, &planned.windows);
        Ok(visits.iter().any(|visit| visit.inside_secs >= least_secs - 1e-9).then(|| {
            let assessment = Assessment {
                verdict: Verdict::Leaves,
                ..Assessment::of(request, &planned.windows)
            };
            let let_go = (0..at_edge.len()).filter(|index| at_edge[*index]).collect();
            Planned { reason, visits, assessment, let_go, ..planned }
        }))
    }

    /// The same for however short a time it is inside, and why it is let go.
    fn any_planned(
        &self,
        kept: &Request,
        sides: &[Side],
    ) -> Result<Option<(Planned, Reason)>, PanError> {
        let request = self.request;
        let first_at_edge = self.at_edge.iter().position(|at_edge| *at_edge);
        let too_fast = |width: f64| {
            let limit_secs = request.rules.pan_hard?;
            let secs_per_width = crossing_secs(request, width)?;
            (secs_per_width < limit_secs)
                .then_some(Reason::TooFastToFollow { secs_per_width, limit_secs })
        };
        let too_fast = |width: f64| too_fast(width).or_else(|| request.too_smeared(width));
        let fastest = too_fast(request.reference_width());
        Ok(match (first_at_edge, fastest) {
            (None, None) => None,
            (Some(index), None) => match ladder(kept, sides)? {
                Decision::Planned(planned) => Some((planned, Reason::LeavesThePicture { index })),
                _ => None,
            },
            // It may stay where it is once it is in, and only come and go in haste.
            (_, Some(_)) => still(kept, sides).ok().and_then(|held| {
                let fits = held.assessment.verdict <= Verdict::Tight;
                let leaves = first_at_edge.map(|index| Reason::LeavesThePicture { index });
                let too_fast = too_fast(held.windows[0].width());
                let reason = if fits { leaves.or(too_fast) } else { too_fast };
                reason.map(|reason| (held, reason))
            }),
        })
    }
}

/// The request with nothing wished on these frames.
fn kept(request: &Request, let_go: &[bool]) -> Request {
    let mut kept = request.clone();
    for (wish, let_go) in kept.frames.iter_mut().zip(let_go) {
        if *let_go {
            wish.boxes.clear();
            wish.point = None;
        }
    }
    kept
}

fn box_at(request: &Request, index: usize) -> Option<&Region> {
    request.frames[index].boxes.first().map(|wished| &wished.region)
}

fn is_too_large(request: &Request, index: usize) -> bool {
    let (insets, greatest) = (request.insets(), request.greatest_width());
    let across = greatest * (1.0 - insets.left - insets.right);
    let down = request.shape.height_for(greatest) * (1.0 - insets.top - insets.bottom);
    box_at(request, index).is_some_and(|region| {
        region.width() > across + Assessment::NOISE_PX
            || region.height() > down + Assessment::NOISE_PX
    })
}

/// The frames on which the subject comes into the picture or leaves it: those with less than its margin between it
/// and the edge, in a row that reaches over the edge or up to a frame where it is not tracked.
fn at_edge(request: &Request) -> Vec<bool> {
    /// Marks are set to whole px.
    const TOUCHES_PX: f64 = 1.0;
    let usable = &request.usable;
    let width = request.reference_width();
    let margins = (request.margins.0 * width, request.margins.1 * request.shape.height_for(width));
    // Room across and down beyond the margins, each the less of its two sides.
    let room = |region: &Region, (across, down): (f64, f64)| {
        let x = (region.left() - usable.left()).min(usable.right() - region.right()) - across;
        let y = (region.top() - usable.top()).min(usable.bottom() - region.bottom()) - down;
        x.min(y)
    };
    let count = request.frame_count();
    let touches = |index: usize| {
        box_at(request, index).is_some_and(|region| room(region, (0.0, 0.0)) < TOUCHES_PX)
    };
    let is_near = |index: usize| {
        let has_no_room = |region: &Region| room(region, margins) < 0.0;
        touches(index) || box_at(request, index).is_some_and(has_no_room)
    };
    let is_untracked = |index: usize| index < count && box_at(request, index).is_none();
    let mut at_edge = vec![false; count];
    let mut start = 0;
    for end in 0..=count {
        if end < count && is_near(end) {
            continue;
        }
        let ends_there = start > 0 && is_untracked(start - 1) || is_untracked(end);
        if start < end && (ends_there || (start..end).any(touches)) {
            at_edge[start..end].fill(true);
        }
        start = end + 1;
    }
    at_edge
}

/// The pan that would keep the subject at its place in a window of this width: seconds of timeline for one width, where
/// it crosses so much soonest. `None` if it never crosses as much while it is tracked. Of several wished boxes it is
/// the first.
#[must_use]
pub fn crossing_secs(request: &Request, width: f64) -> Option<f64> {
    let starts = request.pace.starts(request.frame_count());
    let place = |index: usize| {
        let (across, down) = request.ride_at(index);
        box_at(request, index).map(|b| (b.centre_x() - across, b.centre_y() - down))
    };
    let places: Vec<_> = (0..request.frame_count()).map(place).collect();
    let crossing = |start: usize| {
        let from = places[start]?;
        let tracked = places[start..].iter().map_while(|place| *place);
        let ways = tracked.map(|to| (to.0 - from.0).abs().max((to.1 - from.1).abs()));
        let (steps, way) = ways.enumerate().find(|(_, way)| *way >= width)?;
        let secs = (starts[start + steps] - starts[start]) * request.pace.mean_step_secs();
        Some(secs * width / way)
    };
    (0..places.len()).filter_map(crossing).min_by(f64::total_cmp)
}

/// What a window sees of the subject at a frame.
struct Sight {
    index: usize,
    any: bool,
    middle: bool,
    all: bool,
}

impl Sight {
    fn of(index: usize, region: &Region, window: &Window) -> Self {
        let between = |from: f64, at: f64, to: f64| from <= at && at <= to;
        let (across, down) = missing_px(region, window, &super::Insets::default());
        Self {
            index,
            any: region.right() > window.left()
                && region.left() < window.right()
                && region.bottom() > window.top()
                && region.top() < window.bottom(),
            middle: between(window.left(), region.centre_x(), window.right())
                && between(window.top(), region.centre_y(), window.bottom()),
            all: across <= Assessment::NOISE_PX && down <= Assessment::NOISE_PX,
        }
    }
}

/// The stays of the subject in the window, those on which all of it is inside at some frame; of several boxes at a
/// frame the first one counts.
#[must_use]
pub fn visits(request: &Request, windows: &[Window]) -> Vec<Visit> {
    let sights: Vec<Sight> = windows
        .iter()
        .enumerate()
        .filter_map(|(index, window)| Some(Sight::of(index, box_at(request, index)?, window)))
        .collect();
    let mut visits = Vec::new();
    let mut start = 0;
    for stay in sights.chunk_by(|a, b| a.any == b.any) {
        let end = start + stay.len();
        let nose_in = start.checked_sub(1).map(|_| stay[0].index);
        let tail_out = sights.get(end).map(|sight| sight.index);
        start = end;
        let ends = |seen: fn(&Sight) -> bool| {
            let mut all = stay.iter().filter(|sight| seen(sight)).map(|sight| sight.index);
            let first = all.next()?;
            Some((first, all.next_back().unwrap_or(first)))
        };
        if let (true, Some(inside), Some(middle_inside)) =
            (stay[0].any, ends(|sight| sight.all), ends(|sight| sight.middle))
        {
            let inside_secs = longest_secs(request, stay);
            visits.push(Visit { nose_in, inside, middle_inside, tail_out, inside_secs });
        }
    }
    visits
}

/// The longest time without a break on which all of it is inside: each frame counts for as long as it stays.
fn longest_secs(request: &Request, stay: &[Sight]) -> f64 {
    stay.chunk_by(|a, b| a.all && b.all && a.index + 1 == b.index)
        .filter(|whole| whole[0].all)
        .map(|whole| whole.iter().map(|sight| request.pace.step_secs(sight.index)).sum())
        .fold(0.0, f64::max)
}
