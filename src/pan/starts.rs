use super::{Axis, Request, Side, clause::RequiredSpans, refuse::hull, sides::Area};
use crate::geometry::Allowed;
use serde::Serialize;

/// Where a still window of one size may start along an axis, so that all that is asked for is kept: limits, keep-outs,
/// clauses, and the subject with its margins on every frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StillStarts {
    /// Along which axis.
    pub axis: Axis,
    /// The window's size along it.
    pub size_px: f64,
    /// The start that the limits before the window ask for at least.
    pub from_px: f64,
    /// The start that those behind it allow at most; below `from_px` where they contradict each other.
    pub to_px: f64,
    /// How far the two are then apart; 0 where there is a place.
    pub missing_px: f64,
}

impl StillStarts {
    fn of(axis: Axis, size_px: f64, allowed: Allowed) -> Self {
        let (from_px, to_px, missing_px) = match allowed {
            Allowed::Between { from_px, to_px } => (from_px, to_px, 0.0),
            Allowed::Nowhere { missing_px, wanted_from_px, wanted_to_px } => {
                (wanted_from_px, wanted_to_px, missing_px)
            }
        };
        Self { axis, size_px, from_px, to_px, missing_px }
    }
}

/// Where a still window of this width may start, across and down, on these sides of the keep-outs. `None` in a picture
/// that is levelled or ridden on, where that is no interval.
#[must_use]
pub fn still_starts(request: &Request, sides: &[Side], width_px: f64) -> Option<[StillStarts; 2]> {
    if !request.is_upright_and_fixed() {
        return None;
    }
    let (area, insets) = (Area::still(request, sides), request.insets());
    let mut across = RequiredSpans::across(request).on((area.left, area.right)).0;
    let mut down = RequiredSpans::down(request).on((area.top, area.bottom)).0;
    for all in request.frames.iter().filter_map(hull) {
        across =
            across.leaving_before(all.left(), insets.left).leaving_after(all.right(), insets.right);
        down =
            down.leaving_before(all.top(), insets.top).leaving_after(all.bottom(), insets.bottom);
    }
    let height_px = request.shape.height_for(width_px);
    Some([
        StillStarts::of(Axis::Across, width_px, across.allowed(width_px)),
        StillStarts::of(Axis::Down, height_px, down.allowed(height_px)),
    ])
}
