//! One still window for a whole run.
//!
//! The cost of a still window is convex in its centre and width, and for a given width it falls apart into
//! one sum for each axis. So the best one is found by a search over the width with a search along each axis
//! inside, without a solver; a held window is then rounded to whole even px and placed again.

use super::{
    FrameWish, PlacedPoint, Request,
    clause::RequiredSpans,
    objective::{AxisRule, Span},
    sides::Area,
};
use crate::geometry::{Allowed, AxisLimits, Rounding, Window, snap_size};

/// One thing wished along one axis at one frame.
enum Wish {
    Box {
        from: f64,
        to: f64,
        weight: f64,
    },
    /// The weight is times how long the frame stays, in mean steps.
    Point {
        at: f64,
        /// Where in the window it is wanted.
        share: f64,
        weight: f64,
    },
}

/// The point of one frame along one axis.
struct PointAt {
    at: f64,
    share: f64,
    weight: f64,
    /// How long the frame stays, in mean steps: 1 at an even pace.
    stays: f64,
}

/// All the wishes of a run along one axis.
struct AxisCost {
    wishes: Vec<Wish>,
    rule: AxisRule,
    containment: f64,
    place: f64,
    /// Where the points are on average, and where in the window they are wanted; of equally good windows the one
    /// nearest to that is taken.
    mean_point: (f64, f64),
    /// What the window may use, and what it has to hold.
    limits: AxisLimits,
}

impl AxisCost {
    fn across(request: &Request, area: &Area) -> Self {
        let boxes = request.frames.iter().enumerate().flat_map(|(index, wish)| {
            let ride = request.ride_at(index).0;
            wish.boxes
                .iter()
                .map(move |b| (b.region.left() - ride, b.region.right() - ride, b.weight))
        });
        let points = points_of(request, |point| (point.at.x, point.place.across), |ride| ride.0);
        Self::new(
            request,
            AxisRule::across(request),
            RequiredSpans::across(request).on((area.left, area.right)),
            boxes.collect(),
            points,
        )
    }

    fn down(request: &Request, area: &Area) -> Self {
        let boxes = request.frames.iter().enumerate().flat_map(|(index, wish)| {
            let ride = request.ride_at(index).1;
            wish.boxes
                .iter()
                .map(move |b| (b.region.top() - ride, b.region.bottom() - ride, b.weight))
        });
        let points = points_of(request, |point| (point.at.y, point.place.down), |ride| ride.1);
        Self::new(
            request,
            AxisRule::down(request),
            RequiredSpans::down(request).on((area.top, area.bottom)),
            boxes.collect(),
            points,
        )
    }

    fn new(
        request: &Request,
        rule: AxisRule,
        (limits, usable): (AxisLimits, (f64, f64)),
        boxes: Vec<(f64, f64, f64)>,
        points: Vec<PointAt>,
    ) -> Self {
        let weights = &request.rules.weights;
        // One frame that is short, however soon it is gone, counts as much as the whole run off its width: a
        // window that stands still and keeps everything is wanted before all else.
        let containment = per_run(request, weights.containment);
        let middle = f64::midpoint(usable.0, usable.1);
        let stays: f64 = points.iter().map(|point| point.stays).sum();
        let mean = |of: fn(&PointAt) -> f64| {
            points.iter().map(|point| of(point) * point.stays).sum::<f64>() / stays
        };
        let mean_point = if points.is_empty() {
            (middle, 0.5)
        } else {
            (mean(|point| point.at), mean(|point| point.share))
        };
        let boxes = boxes.into_iter().map(|(from, to, weight)| Wish::Box { from, to, weight });
        let points = points.into_iter().map(|PointAt { at, share, weight, stays }| Wish::Point {
            at,
            share,
            weight: weight * stays,
        });
        Self {
            wishes: boxes.chain(points).collect(),
            rule,
            containment,
            place: weights.place * request.pace.mean_step_secs(),
            mean_point,
            limits,
        }
    }

    /// What a window costs along this axis. The last term only decides between equals.
    fn of(&self, start: f64, size: f64) -> f64 {
        let span = Span { start, size, rule: self.rule };
        let wished: f64 = self
            .wishes
            .iter()
            .map(|wish| match wish {
                Wish::Box { from, to, weight } => {
                    self.containment * weight * span.lacking(*from, *to)
                }
                Wish::Point { at, share, weight } => {
                    self.place * weight * span.off_place(*at, *share)
                }
            })
            .sum();
        let off_mean = start + self.mean_point.1 * size - self.mean_point.0;
        wished + 1e-9 * off_mean * off_mean
    }

    /// The first and the last start that a window of this size may have; the first alone if there is none.
    fn starts(&self, size: f64) -> (f64, f64) {
        match self.limits.allowed(size) {
            Allowed::Between { from_px, to_px } => (from_px, to_px),
            Allowed::Nowhere { wanted_from_px, .. } => (wanted_from_px, wanted_from_px),
        }
    }

    /// Whether a window of this size has a place.
    fn has_place(&self, size: f64) -> bool {
        matches!(self.limits.allowed(size), Allowed::Between { .. })
    }

    /// The best start of a window of this size, and its cost.
    fn best(&self, size: f64) -> (f64, f64) {
        let (first, last) = self.starts(size);
        least_on(first, last, |start| self.of(start, size))
    }

    /// The best even start of a window of this size; the best start of all if there is no even one.
    fn best_even(&self, size: f64) -> f64 {
        let (best, _) = self.best(size);
        let below = 2.0 * (best / 2.0).floor();
        let (first, last) = self.starts(size);
        // Convex: the best even start is one of the two beside the best start.
        [below, below + 2.0]
            .into_iter()
            .filter(|start| (first..=last).contains(start))
            .min_by(|a, b| self.of(*a, size).total_cmp(&self.of(*b, size)))
            .unwrap_or(best)
    }
}

/// The best still window in an area, rounded; `None` if no window of the least width is inside.
pub(super) fn best(request: &Request, area: &Area) -> Option<Window> {
    let greatest = area.greatest_width(request);
    if greatest < request.least_width || greatest <= 0.0 {
        return None;
    }
    let (across, down) = (AxisCost::across(request, area), AxisCost::down(request, area));
    let (least, greatest) = widths(request, (&across, &down), greatest)?;
    let width_cost = width_cost(request);
    let cost = |width: f64| {
        let height = request.shape.height_for(width);
        across.best(width).1
            + down.best(height).1
            + width_cost * (width - request.preferred_width).abs()
    };
    let preferred = request.preferred_width.clamp(least.min(greatest), greatest);
    let searched = least_on(least, greatest, cost);
    let at_preferred = (preferred, cost(preferred));
    // The preferred width is a corner of the cost, which a search only comes near to.
    let (width, _) = if at_preferred.1 <= searched.1 + 1e-6 { at_preferred } else { searched };
    let is_allowed = |(width, height): &(f64, f64)| {
        // Without boxes that have to be inside, a rounded size was held to the area already.
        !has_required(request)
            || (*width <= greatest + 1e-9 && across.has_place(*width) && down.has_place(*height))
    };
    let rounded = rounded_sizes(request, area, width).into_iter().filter(is_allowed);
    let mut sizes: Vec<(f64, f64)> = rounded.collect();
    if sizes.is_empty() {
        sizes.push((width, request.shape.height_for(width)));
    }
    sizes
        .into_iter()
        .map(|(width, height)| {
            let (left, top) = match request.rounding {
                Rounding::Exact => (across.best(width).0, down.best(height).0),
                Rounding::Even | Rounding::EvenExactShape => {
                    (across.best_even(width), down.best_even(height))
                }
            };
            let off_width = (width - request.preferred_width).abs();
            let cost = across.of(left, width) + down.of(top, height) + width_cost * off_width;
            (cost, (left, top), (width, height))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .and_then(|(_, corner, size)| Window::inside(request.raster, corner, size).ok())
}

/// The best corner of a still window of this width in an area, before rounding: left and top.
pub(super) fn place(request: &Request, area: &Area, width: f64) -> (f64, f64) {
    let height = request.shape.height_for(width);
    (AxisCost::across(request, area).best(width).0, AxisCost::down(request, area).best(height).0)
}

/// The least and the greatest width of a still window that has a place; `None` if there is none.
fn widths(
    request: &Request,
    (across, down): (&AxisCost, &AxisCost),
    greatest: f64,
) -> Option<(f64, f64)> {
    if !has_required(request) {
        return Some((request.least_width, greatest));
    }
    let required = request.frames.iter().flat_map(|wish| &wish.required);
    let greatest = required.filter_map(|required| required.greatest_width).fold(greatest, f64::min);
    let (least, greatest) = across.limits.sizes(request.least_width, greatest)?;
    let shape = request.shape;
    let heights = (shape.height_for(least), shape.height_for(greatest));
    let (lowest, highest) = down.limits.sizes(heights.0, heights.1)?;
    Some((shape.width_for(lowest), shape.width_for(highest)))
}

fn has_required(request: &Request) -> bool {
    request.frames.iter().any(|wish| !wish.required.is_empty())
}

/// What the best still window of the largest size costs: enough to compare areas. `None` if no window of the
/// least width is inside.
pub(super) fn quick_cost(request: &Request, area: &Area) -> Option<f64> {
    let width = area.greatest_width(request);
    (width >= request.least_width && width > 0.0).then(|| {
        let height = request.shape.height_for(width);
        AxisCost::across(request, area).best(width).1
            + AxisCost::down(request, area).best(height).1
            + width_cost(request) * (width - request.preferred_width).abs()
    })
}

/// What a px off the preferred width costs over the whole run.
pub(super) fn width_cost(request: &Request) -> f64 {
    let cost = per_run(request, request.rules.weights.width);
    if request.unseen.is_empty() {
        return cost;
    }
    let steps = || (0..request.frame_count()).map(|index| (index, request.pace.step_secs(index)));
    let seen: f64 = steps().map(|(index, secs)| request.width_share(index) * secs).sum();
    cost * seen / steps().map(|(_, secs)| secs).sum::<f64>()
}

/// A cost per second, over the whole run.
#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
pub(super) fn per_run(request: &Request, per_sec: f64) -> f64 {
    per_sec * request.pace.mean_step_secs() * request.frame_count() as f64
}

fn points_of(
    request: &Request,
    along: fn(&PlacedPoint) -> (f64, f64),
    ride_along: fn((f64, f64)) -> f64,
) -> Vec<PointAt> {
    let mean_step_secs = request.pace.mean_step_secs();
    let point = |(index, wish): (usize, &FrameWish)| {
        let stays = request.pace.step_secs(index) / mean_step_secs;
        let ride = ride_along(request.ride_at(index));
        wish.point.as_ref().map(|point| {
            let (at, share) = along(point);
            PointAt { at: at - ride, share, weight: wish.weight(), stays }
        })
    };
    request.frames.iter().enumerate().filter_map(point).collect()
}

/// The sizes after rounding, down and up, that lie between the widths that are allowed. If there is none, the
/// size is left as it is.
pub(super) fn rounded_sizes(request: &Request, area: &Area, width: f64) -> Vec<(f64, f64)> {
    let room = (area.right - area.left, area.bottom - area.top);
    let step = match request.rounding {
        Rounding::EvenExactShape => 2.0 * f64::from(request.shape.wide()),
        Rounding::Even | Rounding::Exact => 2.0,
    };
    let up = if request.rounding == Rounding::Exact { width } else { width + step };
    let sizes: Vec<(f64, f64)> = [width, up]
        .into_iter()
        .filter_map(|width| snap_size(request.rounding, request.shape, width, room).ok())
        .map(|size| (size.width_px, size.height_px))
        .filter(|(snapped, height)| {
            *snapped >= request.least_width - 1e-9
                && *snapped <= area.greatest_width(request) + 1e-9
                && *height <= room.1 + 1e-9
        })
        .collect();
    if sizes.is_empty() { vec![(width, request.shape.height_for(width))] } else { sizes }
}

/// Where a convex cost is least between two bounds, and that cost: golden section, then the bounds.
fn least_on(from: f64, to: f64, cost: impl Fn(f64) -> f64) -> (f64, f64) {
    /// One less than the golden ratio.
    const SECTION: f64 = 0.618_033_988_749_894_9;
    /// 32,768 px shrink to less than a ten-thousandth in this many steps.
    const STEPS: usize = 44;
    let (mut low, mut high) = (from, to.max(from));
    let (mut left, mut right) = (high - SECTION * (high - low), low + SECTION * (high - low));
    let (mut cost_left, mut cost_right) = (cost(left), cost(right));
    for _ in 0..STEPS {
        if cost_left <= cost_right {
            (high, right, cost_right) = (right, left, cost_left);
            left = high - SECTION * (high - low);
            cost_left = cost(left);
        } else {
            (low, left, cost_left) = (left, right, cost_right);
            right = low + SECTION * (high - low);
            cost_right = cost(right);
        }
    }
    let middle = f64::midpoint(low, high);
    [(from, cost(from)), (to.max(from), cost(to.max(from))), (middle, cost(middle))]
        .into_iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((middle, cost(middle)))
}
