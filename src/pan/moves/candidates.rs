//! Where a window may stand: the windows that the frames want, thinned to a few dozen.

use super::super::{Request, Side, hold, sides::Area};
use crate::geometry::{Rounding, Window};

/// How many clusters there are at most. Chosen: the work grows with its square, and polishing makes up for what
/// lies between them.
const MOST: usize = 40;

/// How near every wanted window has a candidate, in reference widths, if there are not too many. Chosen: half
/// of the default still zone.
const NEAR: f64 = 0.06;

/// A window before rounding: centre and width, px.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
}

impl Wanted {
    /// Left, top, width and height, px.
    fn edges(&self, request: &Request) -> [f64; 4] {
        let height = request.shape.height_for(self.width);
        [self.x - self.width / 2.0, self.y - height / 2.0, self.width, height]
    }

    fn distance(&self, other: &Self) -> f64 {
        (self.x - other.x).abs().max((self.y - other.y).abs()).max((self.width - other.width).abs())
    }
}

/// The candidates: rounded as held windows are, the pinned windows and the best still window among them, no two
/// alike, and all with what they ride on taken off. Deterministic, and a mirrored request has the mirrored
/// candidates.
pub(super) fn candidates(request: &Request, sides: &[Side]) -> Vec<Window> {
    let wanted: Vec<Wanted> = (0..request.frame_count())
        .filter_map(|index| wanted_at(request, &Area::at(request, sides, index), index))
        .collect();
    let usable = Area::usable(request, 0);
    let still = hold::best(request, &Area::still(request, sides));
    let clustered = clusters(&wanted, NEAR * request.reference_width());
    let rounded = clustered.iter().filter_map(|wanted| rounded(request, &usable, wanted));
    let pinned = request.pins.iter().filter_map(|pin| {
        let (across, down) = request.ride_at(pin.index);
        let corner = (pin.window.left() - across, pin.window.top() - down);
        Window::inside(request.raster, corner, (pin.window.width(), pin.window.height())).ok()
    });
    let mut windows: Vec<Window> = Vec::new();
    for window in pinned.chain(still).chain(rounded) {
        if !windows.contains(&window) {
            windows.push(window);
        }
    }
    windows
}

/// A box along one axis: its ends, and the shares of the window that are to be clear before and after it.
type Kept = (f64, f64, f64, f64);

/// The window that a frame wants by itself: the point at its place, the preferred width or what the boxes
/// need, the boxes inside, and all that in the area. `None` where nothing is wished.
fn wanted_at(request: &Request, area: &Area, index: usize) -> Option<Wanted> {
    let [across, down] = kept(request, index);
    let needed = |kept: &[Kept]| {
        kept.iter()
            .map(|(from, to, before, after)| (to - from) / (1.0 - before - after))
            .fold(0.0, f64::max)
    };
    let needed = needed(&across).max(request.shape.width_for(needed(&down)));
    let wish = &request.frames[index];
    let greatest = wish.required.iter().filter_map(|required| required.greatest_width);
    let greatest = greatest.fold(area.greatest_width(request), f64::min);
    let width = request.preferred_width.max(needed).min(greatest).max(request.least_width);
    let height = request.shape.height_for(width);
    let point = wish.point.map_or_else(
        || middle(&across).zip(middle(&down)).map(|(x, y)| ((x, 0.5), (y, 0.5))),
        |point| Some(((point.at.x, point.place.across), (point.at.y, point.place.down))),
    )?;
    let wanted = Wanted {
        x: centre(point.0, width, &across, (area.left, area.right)),
        y: centre(point.1, height, &down, (area.top, area.bottom)),
        width,
    };
    let (ride, wanted) = (request.ride_at(index), between_slants(request, area, wanted));
    Some(Wanted { x: wanted.x - ride.0, y: wanted.y - ride.1, ..wanted })
}

/// The boxes of a frame along both axes, wished and required.
fn kept(request: &Request, index: usize) -> [Vec<Kept>; 2] {
    let (wish, insets) = (&request.frames[index], request.insets());
    let wished = wish.boxes.iter().map(|wished| (&wished.region, &insets));
    let required = wish.required.iter().map(|required| (&required.region, &required.clear));
    let all: Vec<_> = wished.chain(required).collect();
    let across = all.iter().map(|(r, clear)| (r.left(), r.right(), clear.left, clear.right));
    let down = all.iter().map(|(r, clear)| (r.top(), r.bottom(), clear.top, clear.bottom));
    [across.collect(), down.collect()]
}

/// The middle of all boxes along an axis.
fn middle(kept: &[Kept]) -> Option<f64> {
    let ends = kept.iter().map(|(from, to, ..)| (*from, *to));
    ends.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).map(|(from, to)| f64::midpoint(from, to))
}

/// The centre of a window along an axis that has a point at its place, boxes inside, and lies in its room.
fn centre((at, place): (f64, f64), size: f64, kept: &[Kept], room: (f64, f64)) -> f64 {
    let bounds = kept
        .iter()
        .map(|(from, to, before, after)| (to - (1.0 - after) * size, from - before * size));
    let (low, high) = bounds.fold((f64::NEG_INFINITY, f64::INFINITY), |all, next| {
        (all.0.max(next.0), all.1.min(next.1))
    });
    let start = at - place * size;
    let start = if low <= high { start.clamp(low, high) } else { f64::midpoint(low, high) };
    start.min(room.1 - size).max(room.0) + size / 2.0
}

/// The window, moved towards the frame's middle until it lies between the slanted edges of its area.
fn between_slants(request: &Request, area: &Area, wanted: Wanted) -> Wanted {
    const STEPS: usize = 30;
    let middle = (request.raster.width() / 2.0, request.raster.height() / 2.0);
    let at = |share: f64| Wanted {
        x: wanted.x + (middle.0 - wanted.x) * share,
        y: wanted.y + (middle.1 - wanted.y) * share,
        width: wanted.width,
    };
    if area.contains(at(0.0).edges(request)) {
        return wanted;
    }
    let (mut outside, mut inside) = (0.0, 1.0);
    for _ in 0..STEPS {
        let share = f64::midpoint(outside, inside);
        if area.contains(at(share).edges(request)) { inside = share } else { outside = share }
    }
    at(inside)
}

/// Farthest first: each cluster starts at the window that is farthest from all before, until none is far or
/// there are enough; then each is the mean of the windows nearest to it.
fn clusters(wanted: &[Wanted], near: f64) -> Vec<Wanted> {
    let Some(first) = wanted.first() else { return Vec::new() };
    let mut seeds = vec![*first];
    let mut nearest: Vec<(f64, usize)> =
        wanted.iter().map(|window| (window.distance(first), 0)).collect();
    while seeds.len() < MOST {
        let farthest = nearest.iter().enumerate().fold((0.0, 0), |far, (place, (distance, _))| {
            if *distance > far.0 { (*distance, place) } else { far }
        });
        if farthest.0 <= near {
            break;
        }
        let seed = wanted[farthest.1];
        for (window, nearest) in wanted.iter().zip(&mut nearest) {
            let distance = window.distance(&seed);
            if distance < nearest.0 {
                *nearest = (distance, seeds.len());
            }
        }
        seeds.push(seed);
    }
    means(wanted, &nearest, seeds.len())
}

#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
fn means(wanted: &[Wanted], nearest: &[(f64, usize)], count: usize) -> Vec<Wanted> {
    let mut sums = vec![(0.0, 0.0, 0.0, 0_usize); count];
    for (window, (_, cluster)) in wanted.iter().zip(nearest) {
        let sum = &mut sums[*cluster];
        *sum = (sum.0 + window.x, sum.1 + window.y, sum.2 + window.width, sum.3 + 1);
    }
    let mean = |(x, y, width, frames): (f64, f64, f64, usize)| Wanted {
        x: x / frames as f64,
        y: y / frames as f64,
        width: width / frames as f64,
    };
    sums.into_iter().filter(|sum| sum.3 > 0).map(mean).collect()
}

/// The window as a held one is rounded, in the area; `None` if it has no place there.
pub(super) fn rounded(request: &Request, area: &Area, wanted: &Wanted) -> Option<Window> {
    let (width, height) = *hold::rounded_sizes(request, area, wanted.width).first()?;
    let starts = |centre: f64, size: f64, from: f64, to: f64| {
        let start = (centre - size / 2.0).min(to - size).max(from);
        let even = 2.0 * (start / 2.0).round();
        let all = match request.rounding {
            Rounding::Exact => vec![start],
            Rounding::Even | Rounding::EvenExactShape => vec![even, even - 2.0, even + 2.0, start],
        };
        all.into_iter().filter(move |start| *start >= from && *start + size <= to)
    };
    let corners = starts(wanted.x, width, area.left, area.right).flat_map(|left| {
        let tops = starts(wanted.y, height, area.top, area.bottom);
        tops.map(move |top| (left, top))
    });
    let corner =
        corners.into_iter().find(|(left, top)| area.contains([*left, *top, width, height]));
    Window::inside(request.raster, corner?, (width, height)).ok()
}
