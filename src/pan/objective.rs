use super::{PlacedPoint, Request};
use crate::geometry::{Region, Window};
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// What a path costs, part by part, in reference window widths and timeline seconds, so that neither raster
/// nor rate matters. An outside solver can check the total.
///
/// With `u = p / reference width`, `hᵢ` the timeline step from frame i to the next and every sum over the frames
/// of the run: speed `Σ|Δu|`, containment `λ Σ shortfallᵢ hᵢ`, place and width likewise (width but for the frames at which
/// the subject is unseen), where the shortfall of a
/// box along an axis is what it lacks at both ends together. Acceleration is `β Σ (vᵢ − vᵢ₋₁)² / h` over the inner
/// frames, with the speeds `vᵢ = (uᵢ₊₁ − uᵢ) / hᵢ` and `h = (hᵢ₋₁ + hᵢ) / 2`: at an even pace `β Σ(Δ²u)² / h³`. There a step
/// of less than a 64th of the mean one is taken for that long.
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
    /// What eased moves cost beside all that, for their number and their length.
    pub moves: f64,
}

impl Objective {
    /// The sum that a path minimises.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.speed + self.acceleration + self.containment + self.place + self.width + self.moves
    }

    /// What these windows cost, one a frame of the run.
    #[must_use]
    pub fn of(request: &Request, windows: &[Window]) -> Self {
        let (weights, step) = (&request.rules.weights, request.pace.mean_step_secs());
        let mut cost = Self::default();
        // What is moved is what is left of the ride.
        let across =
            |(index, window): (usize, &Window)| window.centre_x() - request.ride_at(index).0;
        let down = |(index, window): (usize, &Window)| window.centre_y() - request.ride_at(index).1;
        let coordinates: [Vec<f64>; 3] = [
            windows.iter().enumerate().map(across).collect(),
            windows.iter().enumerate().map(down).collect(),
            windows.iter().map(Window::width).collect(),
        ];
        for values in coordinates {
            cost.speed += values.windows(2).map(|v| (v[1] - v[0]).abs()).sum::<f64>();
            cost.acceleration += bending(request, &values, step);
        }
        for (index, (wish, window)) in request.frames.iter().zip(windows).enumerate() {
            // In mean steps, so that an even pace sums ones and rounds nothing.
            let stays = request.pace.step_secs(index) / step;
            for wished in &wish.boxes {
                let (across, down) = (Span::across(request, window), Span::down(request, window));
                let region = &wished.region;
                let lacking = across.lacking(region.left(), region.right())
                    + down.lacking(region.top(), region.bottom());
                cost.containment += stays * wished.weight * lacking;
            }
            if let Some(point) = wish.point {
                let (across, down) = (Span::across(request, window), Span::down(request, window));
                let off = across.off_place(point.at.x, point.place.across)
                    + down.off_place(point.at.y, point.place.down);
                cost.place += stays * wish.weight() * off;
            }
            let off_width = (window.width() - request.preferred_width).abs();
            cost.width += stays * request.width_share(index) * off_width;
        }
        let width = request.reference_width();
        Self {
            speed: cost.speed / width,
            acceleration: weights.acceleration * cost.acceleration
                / (width * width * step * step * step),
            containment: weights.containment * step * cost.containment / width,
            place: weights.place * step * cost.place / width,
            width: weights.width * step * cost.width / width,
            moves: 0.0,
        }
    }
}

/// The squared acceleration of one coordinate over the run, with time in mean steps.
fn bending(request: &Request, values: &[f64], mean_step_secs: f64) -> f64 {
    let squared = values.windows(3).enumerate().map(|(before, v)| {
        let bend = request.pace.bend(before + 1);
        let [a, b, c] = bend.factors();
        let speed_change = a * v[0] + b * v[1] + c * v[2];
        speed_change * speed_change * (mean_step_secs / bend.secs)
    });
    squared.sum()
}

/// What standing costs: the terms of the objective that each frame has by itself, with everything that can be
/// reckoned before a window is known.
pub(super) struct FrameCosts {
    across: AxisRule,
    down: AxisRule,
    preferred_width: f64,
    frames: Vec<FrameCost>,
    boxes: Vec<BoxCost>,
}

/// One frame's costs, of each px and in reference widths, for as long as it stays.
struct FrameCost {
    boxes: Range<usize>,
    point: Option<PlacedPoint>,
    place: f64,
    width: f64,
}

/// What a box costs for each px outside.
struct BoxCost {
    region: Region,
    outside: f64,
}

impl FrameCosts {
    pub(super) fn of(request: &Request) -> Self {
        let mut costs = Self {
            across: AxisRule::across(request),
            down: AxisRule::down(request),
            preferred_width: request.preferred_width,
            frames: Vec::with_capacity(request.frame_count()),
            boxes: Vec::new(),
        };
        let weights = &request.rules.weights;
        for (index, wish) in request.frames.iter().enumerate() {
            let stays = request.pace.step_secs(index) / request.reference_width();
            let first = costs.boxes.len();
            costs.boxes.extend(wish.boxes.iter().map(|wished| BoxCost {
                region: wished.region,
                outside: weights.containment * wished.weight * stays,
            }));
            costs.frames.push(FrameCost {
                boxes: first..costs.boxes.len(),
                point: wish.point,
                place: weights.place * wish.weight() * stays,
                width: weights.width * request.width_share(index) * stays,
            });
        }
        costs
    }

    /// What a window costs at a frame, where it is there, for as long as the frame stays: left, top, width and
    /// height in px.
    pub(super) fn at(&self, index: usize, [left, top, width, height]: [f64; 4]) -> f64 {
        let frame = &self.frames[index];
        let across = Span { start: left, size: width, rule: self.across };
        let down = Span { start: top, size: height, rule: self.down };
        let mut cost = frame.width * (width - self.preferred_width).abs();
        for BoxCost { region, outside } in &self.boxes[frame.boxes.clone()] {
            let lacking = across.lacking(region.left(), region.right())
                + down.lacking(region.top(), region.bottom());
            cost += outside * lacking;
        }
        if let Some(point) = &frame.point {
            let off = across.off_place(point.at.x, point.place.across)
                + down.off_place(point.at.y, point.place.down);
            cost += frame.place * off;
        }
        cost
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
    /// How far the point may be off, each way.
    pub(super) still: f64,
}

impl AxisRule {
    pub(super) fn across(request: &Request) -> Self {
        let (insets, rules) = (request.insets(), &request.rules);
        Self { before: insets.left, after: insets.right, still: rules.still_zone }
    }

    pub(super) fn down(request: &Request) -> Self {
        let (insets, rules) = (request.insets(), &request.rules);
        Self { before: insets.top, after: insets.bottom, still: rules.still_zone }
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

    /// How far a point is off its place, a share of the window, beyond the still zone.
    pub(super) fn off_place(&self, point: f64, place: f64) -> f64 {
        let off = (point - (self.start + place * self.size)).abs();
        (off - self.rule.still * self.size).max(0.0)
    }
}
