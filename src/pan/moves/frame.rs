//! A window as one frame sees it, and the hard limits there: what is usable, kept out and required. The one place
//! where these enter moves, but for the rows of the polish.

use super::super::{Request, RequiredBox, Roll, Side, sides::Area};
use crate::geometry::Window;

/// What double precision loses.
pub(super) const NOISE_PX: f64 = 1e-6;

/// Left, top, width and height of a window, px.
pub(super) fn edges_of(window: &Window) -> [f64; 4] {
    [window.left(), window.top(), window.width(), window.height()]
}

/// Whether two windows are the same but for what double precision loses.
pub(super) fn is_near(a: &Window, b: &Window) -> bool {
    edges_of(a).into_iter().zip(edges_of(b)).all(|(a, b)| (a - b).abs() < NOISE_PX)
}

/// The edges of a window where it is at a frame, moved by what it rides on.
pub(super) fn riding(
    request: &Request,
    frame: usize,
    [left, top, width, height]: [f64; 4],
) -> [f64; 4] {
    let (across, down) = request.ride_at(frame);
    [left + across, top + down, width, height]
}

/// Whether a window, where it is at a frame, keeps every hard limit there but pins.
pub(super) fn keeps_limits(
    request: &Request,
    sides: &[Side],
    frame: usize,
    edges: [f64; 4],
) -> bool {
    edges[2] >= request.least_width - NOISE_PX
        && edges[2] <= request.most_width + NOISE_PX
        && Area::at(request, sides, frame).contains(edges)
        && request.frames[frame].required.iter().all(|required| keeps_in(required, edges))
}

fn keeps_in(required: &RequiredBox, [left, top, width, height]: [f64; 4]) -> bool {
    let (region, clear) = (&required.region, &required.clear);
    left + clear.left * width <= region.left() + NOISE_PX
        && top + clear.top * height <= region.top() + NOISE_PX
        && left + (1.0 - clear.right) * width >= region.right() - NOISE_PX
        && top + (1.0 - clear.bottom) * height >= region.bottom() - NOISE_PX
        && required.greatest_width.is_none_or(|greatest| width <= greatest + NOISE_PX)
}

/// Whether the hard limits are the same at every frame, so that what holds at both ends of a move holds all the
/// way.
pub(super) fn limits_stay(request: &Request) -> bool {
    request.keep_outs.is_empty()
        && request.ride.is_empty()
        && !matches!(request.roll, Roll::EachFrame(_))
        && request.frames.iter().all(|wish| wish.required.is_empty())
}
