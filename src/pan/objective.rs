use super::Request;
use crate::geometry::Window;
use serde::{Deserialize, Serialize};

/// What a path costs, part by part, in reference window widths and timeline seconds, so that neither raster
/// nor rate matters. An outside solver can check the total.
///
/// With `u = p / reference width`, `dt` the timeline step and every sum over the frames of the run:
/// speed `Σ|Δu|`, acceleration `β Σ(Δ²u)² / dt³`, containment `λ Σ shortfall dt`, and so on, where the shortfall of a box
/// along an axis is what it lacks at both ends together.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Objective {
    /// Travel of centre and width, in widths.
    pub speed: f64,
    /// Squared acceleration of centre and width.
    pub acceleration: f64,
    /// Boxes outside the window.
    pub containment: f64,
    /// Points off their place beyond the still zone.
    pub place: f64,
    /// Width off the preferred width.
    pub width: f64,
}

impl Objective {
    /// The sum that a follow path minimises.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.speed + self.acceleration + self.containment + self.place + self.width
    }

    /// What these windows cost, one a frame of the run.
    #[must_use]
    pub fn of(request: &Request, windows: &[Window]) -> Self {
        let (weights, step) = (&request.rules.weights, request.step_secs);
        let mut cost = Self::default();
        for coordinate in [Window::centre_x, Window::centre_y, Window::width] {
            let values: Vec<f64> = windows.iter().map(coordinate).collect();
            cost.speed += values.windows(2).map(|v| (v[1] - v[0]).abs()).sum::<f64>();
            cost.acceleration += values
                .windows(3)
                .map(|v| (v[0] - 2.0 * v[1] + v[2]) * (v[0] - 2.0 * v[1] + v[2]))
                .sum::<f64>();
        }
        for (wish, window) in request.frames.iter().zip(windows) {
            for wished in &wish.boxes {
                let (across, down) = (Span::across(request, window), Span::down(request, window));
                let region = &wished.region;
                let lacking = across.lacking(region.left(), region.right())
                    + down.lacking(region.top(), region.bottom());
                cost.containment += wished.weight * lacking;
            }
            if let Some(point) = wish.point {
                let (across, down) = (Span::across(request, window), Span::down(request, window));
                cost.place += wish.weight() * (across.off_place(point.x) + down.off_place(point.y));
            }
            cost.width += (window.width() - request.preferred_width).abs();
        }
        let width = request.reference_width();
        Self {
            speed: cost.speed / width,
            acceleration: weights.acceleration * cost.acceleration
                / (width * width * step * step * step),
            containment: weights.containment * step * cost.containment / width,
            place: weights.place * step * cost.place / width,
            width: weights.width * step * cost.width / width,
        }
    }
}

/// A window along one axis, with what its wishes need to know.
pub(super) struct Span {
    pub(super) start: f64,
    pub(super) size: f64,
    pub(super) rule: AxisRule,
}

/// The shares of a window along one axis that wishes refer to.
#[derive(Clone, Copy)]
pub(super) struct AxisRule {
    /// Clear of boxes at the near end.
    pub(super) before: f64,
    /// Clear of boxes at the far end.
    pub(super) after: f64,
    /// Where the point is wanted.
    pub(super) place: f64,
    /// How far the point may be off, each way.
    pub(super) still: f64,
}

impl AxisRule {
    pub(super) fn across(request: &Request) -> Self {
        let (insets, place, rules) = (request.insets(), &request.place, &request.rules);
        Self {
            before: insets.left,
            after: insets.right,
            place: place.across,
            still: rules.still_zone,
        }
    }

    pub(super) fn down(request: &Request) -> Self {
        let (insets, place, rules) = (request.insets(), &request.place, &request.rules);
        Self {
            before: insets.top,
            after: insets.bottom,
            place: place.down,
            still: rules.still_zone,
        }
    }
}

impl Span {
    fn across(request: &Request, window: &Window) -> Self {
        Self { start: window.left(), size: window.width(), rule: AxisRule::across(request) }
    }

    fn down(request: &Request, window: &Window) -> Self {
        Self { start: window.top(), size: window.height(), rule: AxisRule::down(request) }
    }

    /// What a box lacks at both ends together; 0 inside.
    pub(super) fn lacking(&self, from: f64, to: f64) -> f64 {
        let near = self.start + self.rule.before * self.size - from;
        let far = to - (self.start + self.size - self.rule.after * self.size);
        near.max(0.0) + far.max(0.0)
    }

    /// How far a point is off its place, beyond the still zone.
    pub(super) fn off_place(&self, point: f64) -> f64 {
        let off = (point - (self.start + self.rule.place * self.size)).abs();
        (off - self.rule.still * self.size).max(0.0)
    }
}
