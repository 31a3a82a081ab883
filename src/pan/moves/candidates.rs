//! Where a window may stand: the windows that the frames want, thinned to a few dozen.

use super::{
    super::{Request, hold, sides::Area},
    member::Scene,
};
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

/// The candidates of a shape by itself: rounded as held windows are, the pinned windows and the best still window
/// among them, no two alike, and all with what they ride on taken off. Deterministic, and a mirrored request has the
/// mirrored candidates.
pub(super) fn alone(scenes: &[Scene<'_>]) -> Vec<Vec<Window>> {
    let Some(Scene { request, sides, .. }) = scenes.first().copied() else { return Vec::new() };
    let wanted: Vec<Vec<Wanted>> = (0..request.frame_count())
        .filter_map(|index| wanted_at(request, &Area::at(request, sides, index), index))
        .map(|wanted| vec![wanted])
        .collect();
    let usable = Area::usable(request, 0);
    let still = hold::best(request, &Area::still(request, sides));
    let clustered = clusters(&wanted, &[request.reference_width()]);
    let rounded = clustered.iter().filter_map(|wanted| rounded(request, &usable, &wanted[0]));
    let pinned = request.pins.iter().filter_map(|pin| {
        let (across, down) = request.ride_at(pin.index);
        let corner = (pin.window.left() - across, pin.window.top() - down);
        Window::inside(request.raster, corner, (pin.window.width(), pin.window.height())).ok()
    });
    let mut windows: Vec<Vec<Window>> = Vec::new();
    for window in pinned.chain(still).chain(rounded) {
        if !windows.iter().any(|other| other[0] == window) {
            windows.push(vec![window]);
        }
    }
    windows
}

/// A box along one axis: its ends, and the shares of the window that are to be clear before and after it.
pub(super) type Kept = (f64, f64, f64, f64);

/// The window that a frame wants by itself: the point at its place, the preferred width or what the boxes
/// need, the boxes inside, and all that in the area. `None` where nothing is wished.
fn wanted_at(request: &Request, area: &Area, index: usize) -> Option<Wanted> {
    let [across, down] = kept(request, index);
    let needed = needed_width(request, &across, &down);
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

/// The width at which a window has room for the boxes of a frame.
pub(super) fn needed_width(request: &Request, across: &[Kept], down: &[Kept]) -> f64 {
    let size = |kept: &[Kept]| {
        kept.iter()
            .map(|(from, to, before, after)| (to - from) / (1.0 - before - after))
            .fold(0.0, f64::max)
    };
    size(across).max(request.shape.width_for(size(down)))
}

/// The boxes of a frame along both axes, wished and required.
pub(super) fn kept(request: &Request, index: usize) -> [Vec<Kept>; 2] {
    let (wish, insets) = (&request.frames[index], request.insets());
    let wished = wish.boxes.iter().map(|wished| (&wished.region, &insets));
    let required = wish.required.iter().map(|required| (&required.region, &required.clear));
    let all: Vec<_> = wished.chain(required).collect();
    let across = all.iter().map(|(r, clear)| (r.left(), r.right(), clear.left, clear.right));
    let down = all.iter().map(|(r, clear)| (r.top(), r.bottom(), clear.top, clear.bottom));
    [across.collect(), down.collect()]
}

/// The middle of all boxes along an axis.
pub(super) fn middle(kept: &[Kept]) -> Option<f64> {
    let ends = kept.iter().map(|(from, to, ..)| (*from, *to));
    ends.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).map(|(from, to)| f64::midpoint(from, to))
}

/// The centre of a window along an axis that has a point at its place, boxes inside, and lies in its room.
pub(super) fn centre((at, place): (f64, f64), size: f64, kept: &[Kept], room: (f64, f64)) -> f64 {
    let (low, high) = starts(size, kept);
    let start = at - place * size;
    let start = if low <= high { start.clamp(low, high) } else { f64::midpoint(low, high) };
    start.min(room.1 - size).max(room.0) + size / 2.0
}

/// Where a window may start along an axis that has boxes inside, as first and last; in the wrong order if it is too
/// small.
pub(super) fn starts(size: f64, kept: &[Kept]) -> (f64, f64) {
    let bounds = kept
        .iter()
        .map(|(from, to, before, after)| (to - (1.0 - after) * size, from - before * size));
    bounds.fold((f64::NEG_INFINITY, f64::INFINITY), |all, next| {
        (all.0.max(next.0), all.1.min(next.1))
    })
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

/// Farthest first: each cluster starts at the windows that are farthest from all before, until none are far or
/// there are enough; then each is the mean of those nearest to it. Every entry has a window a shape, whose reference
/// widths are given; two entries are as far apart as the two windows of a shape that are the farthest.
pub(super) fn clusters(wanted: &[Vec<Wanted>], reference_widths: &[f64]) -> Vec<Vec<Wanted>> {
    let distance = |a: &[Wanted], b: &[Wanted]| {
        let apart = a.iter().zip(b).zip(reference_widths);
        apart.map(|((a, b), width)| a.distance(b) / width).fold(0.0, f64::max)
    };
    let Some(first) = wanted.first() else { return Vec::new() };
    let mut seeds = 1;
    let mut nearest: Vec<(f64, usize)> =
        wanted.iter().map(|windows| (distance(windows, first), 0)).collect();
    while seeds < MOST {
        let farthest = nearest.iter().enumerate().fold((0.0, 0), |far, (place, (distance, _))| {
            if *distance > far.0 { (*distance, place) } else { far }
        });
        if farthest.0 <= NEAR {
            break;
        }
        for (windows, nearest) in wanted.iter().zip(&mut nearest) {
            let distance = distance(windows, &wanted[farthest.1]);
            if distance < nearest.0 {
                *nearest = (distance, seeds);
            }
        }
        seeds += 1;
    }
    means(wanted, &nearest, seeds)
}

#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
fn means(wanted: &[Vec<Wanted>], nearest: &[(f64, usize)], count: usize) -> Vec<Vec<Wanted>> {
    let nothing = Wanted { x: 0.0, y: 0.0, width: 0.0 };
    let shapes = wanted.first().map_or(0, Vec::len);
    let mut sums = vec![(vec![nothing; shapes], 0_usize); count];
    for (windows, (_, cluster)) in wanted.iter().zip(nearest) {
        let (sums, frames) = &mut sums[*cluster];
        for (sum, window) in sums.iter_mut().zip(windows) {
            *sum = Wanted {
                x: sum.x + window.x,
                y: sum.y + window.y,
                width: sum.width + window.width,
            };
        }
        *frames += 1;
    }
    let mean = |(sums, frames): (Vec<Wanted>, usize)| {
        let of = |sum: Wanted| Wanted {
            x: sum.x / frames as f64,
            y: sum.y / frames as f64,
            width: sum.width / frames as f64,
        };
        sums.into_iter().map(of).collect()
    };
    sums.into_iter().filter(|(_, frames)| *frames > 0).map(mean).collect()
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
