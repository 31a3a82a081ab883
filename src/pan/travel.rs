//! How far a path travels in all, held against the least that keeps as much inside.
//!
//! Where a path travels further than it may, all that it wishes beside travel and containment (place, width, soft starts and
//! stops) counts for less, by one factor. Minimising `travel + containment + factor × wishes` is minimising the wishes with a
//! multiplier of 1 / factor on the rest: no path meets the wishes better that travels as little and keeps as much. The
//! factor is searched by bracketing its logarithm, a plan each time.

use super::{
    Objective, PanError, Planned, Reason, Request, Side, Way, Weights,
    follow::{Followed, followed},
};
use crate::geometry::Window;
use serde::Serialize;

/// How far a path travels, and what the limit on that came to. Travel is what centre x, centre y and width change by, less
/// the ride, each step's three sizes added up over the run, in px.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Travel {
    /// How far the path travels.
    pub px: f64,
    /// How far it must: the travel of the path that costs least under the same hard limits if nothing counts but what is
    /// outside the window and travel, to within what the solver can prove.
    pub least_px: f64,
    /// How many times as far it may travel.
    pub greatest: f64,
    /// What the weights of acceleration, place and width are multiplied by so that it does: 1 where they are as they were
    /// given, and always where it travels further all the same.
    pub factor: f64,
    /// Why it travels further all the same; `None` if it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beyond: Option<Beyond>,
}

/// Why a path travels further than it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Beyond {
    /// No such path was found that keeps as much: even with next to no weight on anything else, or since a search for moves
    /// was broken off.
    NotReached,
    /// Those that do not are of a worse verdict, or have a subject that is let go inside for less long than they must.
    KeepsMore,
    /// It is planned together with the clip's other shapes, which goes by their moves.
    OneLook,
}

impl Travel {
    /// Times the least; `None` where nothing has to move.
    #[must_use]
    pub fn times_least(&self) -> Option<f64> {
        (self.least_px >= NOTHING_PX).then(|| self.px / self.least_px)
    }
}

/// Less than this in all is no travel. Chosen: nobody sees it, and the solver proves more.
const NOTHING_PX: f64 = 0.05;

/// How far a path may travel.
#[derive(Debug, Clone, Copy)]
pub(super) struct TravelLimit {
    greatest: f64,
    least_px: f64,
}

impl TravelLimit {
    /// The limit of a request; `None` if it is off, or if the hard limits contradict each other.
    pub(super) fn of(request: &Request, sides: &[Side]) -> Result<Option<Self>, PanError> {
        let Some(greatest) = request.rules.greatest_travel else { return Ok(None) };
        let least = followed(&weighed(request, 0.0), sides)?;
        let of = |least: Followed| Self { greatest, least_px: travel_px(request, &least.windows) };
        Ok(least.map(of))
    }

    fn allowed_px(&self) -> f64 {
        (self.greatest * self.least_px).max(NOTHING_PX)
    }

    /// By how much less than it may a path can travel so that no greater factor is looked for: a hundredth of it, or a tenth
    /// of what is left above the least, whichever is less.
    fn tolerance_px(&self) -> f64 {
        let allowed = self.allowed_px();
        (0.01 * allowed).min(0.1 * (allowed - self.least_px))
    }

    /// What is told of a path that travels so far.
    fn told(&self, px: f64, factor: f64, beyond: Beyond) -> Travel {
        let beyond = (px > self.allowed_px()).then_some(beyond);
        Travel { px, least_px: self.least_px, greatest: self.greatest, factor, beyond }
    }

    /// A path within the limit that is of no worse verdict: as it is, or planned again by the greatest factor with which there
    /// is one. Else it is as it is, and told to be beyond. `again` plans it by other weights; it gives `None` where nothing was
    /// found, which says nothing of what there is.
    pub(super) fn kept(
        &self,
        request: &Request,
        given: Planned,
        again: impl Fn(&Request) -> Result<Option<Planned>, PanError>,
    ) -> Result<Planned, PanError> {
        let px = travel_px(request, &given.windows);
        // Each search for moves would be broken off as well, after as long.
        if px <= self.allowed_px() || given.is_of_broken_search() {
            let travel = Some(self.told(px, 1.0, Beyond::NotReached));
            return Ok(Planned { travel, ..given });
        }
        let is_as_good = |path: &Planned| {
            path.way == given.way && path.assessment.verdict <= given.assessment.verdict
        };
        let mut is_unknown = false;
        let at = |factor: f64| {
            let path = again(&weighed(request, factor))?;
            is_unknown |= path.as_ref().is_none_or(Planned::is_of_broken_search);
            let path = path.filter(is_as_good);
            let px = path.as_ref().map_or(f64::INFINITY, |path| travel_px(request, &path.windows));
            Ok(Tried { factor, px, path })
        };
        let found = self.greatest_factor(px, at)?;
        let is_as_good = found.path.is_some();
        if let Some(path) = found.path.filter(|_| found.px <= self.allowed_px()) {
            let travel = Some(self.told(found.px, found.factor, Beyond::NotReached));
            return Ok(Planned { travel, ..path });
        }
        let is_open = is_unknown || is_as_good;
        let beyond = if is_open { Beyond::NotReached } else { Beyond::KeepsMore };
        Ok(Planned { travel: Some(self.told(px, 1.0, beyond)), ..given })
    }

    /// The path by the greatest factor with which it travels no further than it may, which is less than 1, where it travels
    /// `far_px`; or by the least factor that is tried.
    fn greatest_factor<P>(
        &self,
        far_px: f64,
        mut at: impl FnMut(f64) -> Result<Tried<P>, PanError>,
    ) -> Result<Tried<P>, PanError> {
        let mut far = (1.0, far_px);
        let mut near = at(STRIDE)?;
        while near.px > self.allowed_px() {
            if near.factor <= LEAST_FACTOR {
                return Ok(near);
            }
            far = (near.factor, near.px);
            near = at(near.factor * STRIDE)?;
        }
        // Twice the same side, and the other one would stand for ever: then the middle is taken.
        let (mut before, mut is_same) = (None, false);
        for _ in 0..MOST_BETWEEN {
            let is_near = near.px >= self.allowed_px() - self.tolerance_px();
            if is_near || far.0 <= NEXT * near.factor {
                break;
            }
            let aim = self.allowed_px() - 0.5 * self.tolerance_px();
            let share = (aim - near.px) / (far.1 - near.px);
            let share = if is_same { 0.5 } else { share.clamp(0.2, 0.8) };
            let tried = at(near.factor * (far.0 / near.factor).powf(share))?;
            let is_within = tried.px <= self.allowed_px();
            is_same = before == Some(is_within);
            before = Some(is_within);
            if is_within { near = tried } else { far = (tried.factor, tried.px) }
        }
        Ok(near)
    }
}

/// A path by a factor, and how far it travels.
struct Tried<P> {
    factor: f64,
    px: f64,
    path: P,
}

/// What a factor is first tried smaller by, time after time. Chosen: on real clips the first or the second is small enough.
const STRIDE: f64 = 1.0 / 16.0;

/// The factor below which none is looked for: the costs then differ by less than what the solver proves.
const LEAST_FACTOR: f64 = 1e-6;

/// Factors this near to each other are one: what is wished jumps there from one path to another.
const NEXT: f64 = 1.05;

/// Plans between two factors, at most. Chosen: some more than it takes to halve a stride down to [`NEXT`] on one side alone.
const MOST_BETWEEN: u32 = 12;

impl Weights {
    /// The same with what is wished beside travel and containment counting for so much of itself.
    #[must_use]
    pub const fn with_wishes(self, factor: f64) -> Self {
        Self {
            acceleration: factor * self.acceleration,
            containment: self.containment,
            place: factor * self.place,
            width: factor * self.width,
        }
    }
}

/// The request with its wishes counting for so much of themselves, in follow paths and in moves.
fn weighed(request: &Request, factor: f64) -> Request {
    let mut weighed = request.clone();
    weighed.rules.weights = request.rules.weights.with_wishes(factor);
    weighed.rules.moves.place = factor * request.rules.moves.place;
    weighed
}

fn travel_px(request: &Request, windows: &[Window]) -> f64 {
    Objective::of(request, windows).speed * request.reference_width()
}

/// A path that follows.
#[derive(Debug, Clone, PartialEq)]
pub struct Within {
    /// One window a frame.
    pub windows: Vec<Window>,
    /// How far it travels, where there is a limit on that.
    pub travel: Option<Travel>,
}

/// The path that costs least, and within the limit on its travel where there is one. `None` if hard limits contradict each
/// other.
///
/// # Errors
/// As [`super::follow`].
pub fn follow_within(request: &Request, sides: &[Side]) -> Result<Option<Within>, PanError> {
    // Why it follows is nobody's question here.
    let following = |request: &Request| planned_follow(request, (sides, Reason::NoStillPlace));
    let Some(given) = following(request)? else { return Ok(None) };
    let kept = match TravelLimit::of(request, sides)? {
        Some(limit) => limit.kept(request, given, following)?,
        None => given,
    };
    Ok(Some(Within { windows: kept.windows, travel: kept.travel }))
}

/// The plan of the path that follows at the least cost, whatever it travels.
pub(super) fn planned_follow(
    request: &Request,
    (sides, reason): (&[Side], Reason),
) -> Result<Option<Planned>, PanError> {
    let planned = |Followed { windows, may_cost_more }: Followed| {
        let planned = Planned::new(request, Way::Follow, windows, reason, sides);
        Planned { may_cost_more, ..planned }
    };
    Ok(followed(request, sides)?.map(planned))
}

/// How far a path travels that shares its look with others, where its request has a limit on that: it is not planned by it.
/// `None` without a limit, and for a window that stands still.
///
/// # Errors
/// As [`super::follow`].
pub fn travel_of_look(request: &Request, planned: &Planned) -> Result<Option<Travel>, PanError> {
    travel_told(request, planned, Beyond::OneLook)
}

/// How far a path travels that was not planned by its request's limit on that, and why not if it travels further. `None`
/// without a limit, and for a window that stands still.
pub(super) fn travel_told(
    request: &Request,
    planned: &Planned,
    beyond: Beyond,
) -> Result<Option<Travel>, PanError> {
    if planned.way == Way::Hold {
        return Ok(None);
    }
    let limit = TravelLimit::of(request, &planned.sides)?;
    let px = travel_px(request, &planned.windows);
    Ok(limit.map(|limit| limit.told(px, 1.0, beyond)))
}

#[cfg(test)]
mod tests;
