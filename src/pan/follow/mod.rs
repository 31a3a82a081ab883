//! A moving window: the path that costs least under every hard limit.

mod session;
mod stitched;
mod stretch;

use super::{PanError, Request, Side, program, sides::Area};
use crate::geometry::Window;
pub use session::Session;
use stretch::{Place, Stretch};

/// The path that costs least under every hard limit, with the window staying on `sides` of the keep-outs
/// (one a keep-out). `None` if the limits contradict each other. It is weighed by the weights as they are, whatever it travels:
/// [`super::follow_within`] keeps a limit on that.
///
/// A long run is solved a stretch at a time, each going on from the one before; that it costs at most 1e-4 of its
/// cost more than the best path is proven, or else the run is solved in one piece.
///
/// # Errors
/// [`PanError::Undecided`] or [`PanError::Unsound`] if the solver fails, which is a fault of ours.
pub fn follow(request: &Request, sides: &[Side]) -> Result<Option<Vec<Window>>, PanError> {
    Ok(followed(request, sides)?.map(|followed| followed.windows))
}

/// A path that keeps every hard limit.
#[derive(Clone)]
pub(super) struct Followed {
    pub(super) windows: Vec<Window>,
    /// What it may cost more than the best one, in reference widths, where the solver came no nearer; `None` if it is
    /// the best one to within a millionth of its cost.
    pub(super) may_cost_more: Option<f64>,
}

/// The same with what it may cost more than the best path.
pub(super) fn followed(request: &Request, sides: &[Side]) -> Result<Option<Followed>, PanError> {
    check(request)?;
    let Some((places, unproven_px)) = stitched::places(request, sides)? else { return Ok(None) };
    let windows = settled(request, sides, &places)?;
    let may_cost_more = unproven_px.map(|gap_px| gap_px / request.reference_width());
    Ok(Some(Followed { windows, may_cost_more }))
}

fn check(request: &Request) -> Result<(), PanError> {
    if request.frames.is_empty() {
        return Err(PanError::NoFrames);
    }
    request.pace.check(request.frame_count())
}

/// Whether there is a path that keeps every hard limit with the window staying on `sides` of the keep-outs, whatever it
/// costs: no wish and no weight has a say in that.
pub(super) fn is_possible(request: &Request, sides: &[Side]) -> Result<bool, PanError> {
    check(request)?;
    let program = Stretch::whole(request, sides).program();
    program::are_limits_kept(&program).ok_or(PanError::Undecided)
}

/// What a solution says, unless limits contradict each other. One that the solver could not prove to be the best is
/// the best there is.
fn answered(solution: program::Solution) -> Result<Option<program::Solution>, PanError> {
    if solution.broken_px <= program::KEPT_PX {
        return Ok(Some(solution));
    }
    if solution.is_contradiction { Ok(None) } else { Err(PanError::Undecided) }
}

/// The windows at these places.
fn settled(request: &Request, sides: &[Side], places: &[Place]) -> Result<Vec<Window>, PanError> {
    let settle = |(index, place)| settle(request, sides, index, place);
    places.iter().enumerate().map(settle).collect()
}

/// A window from the solver's values. They keep the limits but for rounding, which is taken off here; more
/// than that is a fault and not corrected. A pinned frame is the pin to the last bit.
fn settle(
    request: &Request,
    sides: &[Side],
    index: usize,
    place: &Place,
) -> Result<Window, PanError> {
    const GREATEST_NOISE_PX: f64 = 1e-4;
    if let Some(pin) = request.pin_at(index) {
        return Ok(pin.window);
    }
    let area = Area::at(request, sides, index);
    let (ride, greatest) = (request.ride_at(index), area.greatest_width(request));
    let solved = (place[0] + ride.0, place[1] + ride.1, place[2]);
    let width = onto_bounds(solved.2, request.least_width.min(greatest), greatest);
    let height = request.shape.height_for(width);
    let within = |centre: f64, size: f64, from: f64, to: f64| {
        let (low, high) = (from + size / 2.0, to - size / 2.0);
        if low <= high { onto_bounds(centre, low, high) } else { f64::midpoint(low, high) }
    };
    let x = within(solved.0, width, area.left, area.right);
    let y = within(solved.1, height, area.top, area.bottom);
    let excess_px = (width - solved.2).abs().max((x - solved.0).abs()).max((y - solved.1).abs());
    let unsound = PanError::Unsound { index, excess_px };
    // The larger of no number and a number is the number.
    let is_number = place.iter().all(|value| value.is_finite());
    if !is_number || excess_px > GREATEST_NOISE_PX {
        return Err(unsound);
    }
    Window::inside(request.raster, (x - width / 2.0, y - height / 2.0), (width, height))
        .map_err(|_| unsound)
}

/// A value between two bounds; one that is a solver's noise away from a bound is the bound, so that a window
/// as large as can be has one width and one scale on all its frames.
fn onto_bounds(value: f64, low: f64, high: f64) -> f64 {
    const NOISE_PX: f64 = 4e-7;
    let value = value.clamp(low, high);
    if value - low < NOISE_PX {
        low
    } else if high - value < NOISE_PX {
        high
    } else {
        value
    }
}
