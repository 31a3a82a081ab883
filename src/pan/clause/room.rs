//! What one frame by itself has for a clause: whether it can be kept there, and what that costs the subject.

use super::{
    super::{Axis, Request, RequiredBox, Side, refuse::hull, sides::Area},
    ClauseFailing,
};
use crate::geometry::{Allowed, AxisLimits};
use serde::{Deserialize, Serialize};

/// Where a clause and the subject ask for the window to start along an axis, and that these do not meet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Clash {
    /// The run's frame.
    pub index: usize,
    /// Along which axis.
    pub axis: Axis,
    /// How far the two are apart, px.
    pub missing_px: f64,
    /// The size along the axis of the window, the largest one that may be taken.
    pub size_px: f64,
    /// The first and the last start with which the clause is kept.
    pub clause_starts: (f64, f64),
    /// The first and the last start with which the subject and its margins are inside; the first is the larger where the
    /// subject is too large.
    pub subject_starts: (f64, f64),
    /// Of the starts that keep the clause, the one nearest to the subject's.
    pub nearest_start: f64,
    /// Where the subject's middle then is, as a share of the window from its start.
    pub subject_at: f64,
}

/// One axis of a frame: what the window may use, what it has to hold, and what is wished.
struct Line {
    axis: Axis,
    usable: (f64, f64),
    required: (f64, f64),
    clear: (f64, f64),
    subject: Option<(f64, f64)>,
    insets: (f64, f64),
}

impl Line {
    fn both(request: &Request, area: &Area, required: &RequiredBox, index: usize) -> [Self; 2] {
        let (region, clear, insets) = (&required.region, &required.clear, request.insets());
        let subject = hull(&request.frames[index]);
        [
            Self {
                axis: Axis::Across,
                usable: (area.left, area.right),
                required: (region.left(), region.right()),
                clear: (clear.left, clear.right),
                subject: subject.map(|all| (all.left(), all.right())),
                insets: (insets.left, insets.right),
            },
            Self {
                axis: Axis::Down,
                usable: (area.top, area.bottom),
                required: (region.top(), region.bottom()),
                clear: (clear.top, clear.bottom),
                subject: subject.map(|all| (all.top(), all.bottom())),
                insets: (insets.top, insets.bottom),
            },
        ]
    }

    fn limits(&self) -> AxisLimits {
        AxisLimits::default()
            .lying_within(self.usable.0, self.usable.1)
            .leaving_before(self.required.0, self.clear.0)
            .leaving_after(self.required.1, self.clear.1)
    }

    fn clash(&self, index: usize, size_px: f64) -> Option<Clash> {
        let Allowed::Between { from_px, to_px } = self.limits().allowed(size_px) else {
            return None;
        };
        let (first, last) = self.subject?;
        let wanted = (last - (1.0 - self.insets.1) * size_px, first - self.insets.0 * size_px);
        // Of a subject that is too large for itself, only what the clause adds is counted.
        let (low, high) = (wanted.0.min(wanted.1), wanted.0.max(wanted.1));
        let missing_px = (low - to_px).max(from_px - high).max(0.0);
        let nearest_start = f64::midpoint(low, high).clamp(from_px, to_px);
        let nearest_start =
            if missing_px > 0.0 { nearest_start } else { nearest_start.clamp(low, high) };
        Some(Clash {
            index,
            axis: self.axis,
            missing_px,
            size_px,
            clause_starts: (from_px, to_px),
            subject_starts: wanted,
            nearest_start,
            subject_at: (f64::midpoint(first, last) - nearest_start) / size_px,
        })
    }
}

/// The largest window width that may be taken at a frame, the clause's own limit with it.
fn greatest_width(request: &Request, area: &Area, required: &RequiredBox) -> f64 {
    let greatest = area.greatest_width(request);
    required.greatest_width.map_or(greatest, |most| most.min(greatest))
}

/// Why a clause cannot be kept at a frame, whatever becomes of the subject; `None` if it can.
pub(super) fn failing_at(
    request: &Request,
    sides: &[Side],
    required: &RequiredBox,
    index: usize,
) -> Option<ClauseFailing> {
    let area = Area::at(request, sides, index);
    let greatest = greatest_width(request, &area, required);
    if let Some(most) = required.greatest_width.filter(|most| *most < request.least_width - 1e-6) {
        return Some(ClauseFailing::TooSmall {
            index,
            box_px: required.region.width(),
            greatest_width_px: most,
            least_width_px: request.least_width,
        });
    }
    let [across, down] = Line::both(request, &area, required, index);
    let shape = request.shape;
    let sized = |line: &Line, size: f64| match line.limits().allowed(size) {
        Allowed::Between { .. } => None,
        Allowed::Nowhere { missing_px, .. } => {
            Some(ClauseFailing::NoPlace { index, axis: line.axis, missing_px })
        }
    };
    let Some((least, most)) = across.limits().sizes(request.least_width.min(greatest), greatest)
    else {
        return sized(&across, greatest);
    };
    let heights = (shape.height_for(least), shape.height_for(most));
    match down.limits().sizes(heights.0, heights.1) {
        Some(_) => None,
        None => sized(&down, heights.1).or_else(|| sized(&across, greatest)),
    }
}

/// Why a required box has no place at a frame beside the keep-outs: along which axis, and how many px are missing.
pub(in crate::pan) fn no_place(
    request: &Request,
    sides: &[Side],
    required: &RequiredBox,
    index: usize,
) -> Option<(Axis, f64)> {
    match failing_at(request, sides, required, index)? {
        ClauseFailing::NoPlace { axis, missing_px, .. } => Some((axis, missing_px)),
        _ => None,
    }
}

/// How far a clause and the subject are apart at a frame, along the axis where that is more; `None` if the clause has
/// no place in the largest window.
pub(super) fn clash_at(
    request: &Request,
    sides: &[Side],
    required: &RequiredBox,
    index: usize,
) -> Option<Clash> {
    let area = Area::at(request, sides, index);
    let width = greatest_width(request, &area, required);
    let [across, down] = Line::both(request, &area, required, index);
    let clashes = [across.clash(index, width), down.clash(index, request.shape.height_for(width))];
    clashes.into_iter().flatten().max_by(|a, b| a.missing_px.total_cmp(&b.missing_px))
}
