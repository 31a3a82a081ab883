//! Where a window may stand: the windows that the frames want, thinned to a few dozen.

use super::super::{Request, Side, hold, objective::AxisRule, sides::Area};
use crate::geometry::{Region, Rounding, Window};

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
    fn distance(&self, other: &Self) -> f64 {
        (self.x - other.x).abs().max((self.y - other.y).abs()).max((self.width - other.width).abs())
    }
}

/// The candidates: rounded as held windows are, the pinned windows and the best still window among them, no two
/// alike. Deterministic, and a mirrored request has the mirrored candidates.
pub(super) fn candidates(request: &Request, sides: &[Side]) -> Vec<Window> {
    let wanted: Vec<Wanted> = (0..request.frame_count())
        .filter_map(|index| wanted_at(request, &Area::at(request, sides, index), index))
        .collect();
    let usable = Area::usable(request);
    let still = hold::best(request, &Area::still(request, sides));
    let clustered = clusters(&wanted, NEAR * request.reference_width());
    let rounded = clustered.iter().filter_map(|wanted| rounded(request, &usable, wanted));
    let mut windows: Vec<Window> = Vec::new();
    for window in request.pins.iter().map(|pin| pin.window).chain(still).chain(rounded) {
        if !windows.contains(&window) {
            windows.push(window);
        }
    }
    windows
}

/// The window that a frame wants by itself: the point at its place, the preferred width or what the boxes
/// need, the boxes inside, and all that in the area. `None` where nothing is wished.
fn wanted_at(request: &Request, area: &Area, index: usize) -> Option<Wanted> {
    let wish = &request.frames[index];
    let boxes = hull(wish.boxes.iter().map(|wished| wished.region));
    let (across, down) = (AxisRule::across(request), AxisRule::down(request));
    let greatest = area.greatest_width(request);
    let needed = boxes.map_or(0.0, |hull| {
        let height = hull.height() / (1.0 - down.before - down.after);
        (hull.width() / (1.0 - across.before - across.after)).max(request.shape.width_for(height))
    });
    let width = request.preferred_width.max(needed).min(greatest).max(request.least_width);
    let height = request.shape.height_for(width);
    let point = wish
        .point
        .map(|point| (point.x, point.y))
        .or_else(|| boxes.map(|hull| (hull.centre_x(), hull.centre_y())))?;
    let place = |at: f64, rule: AxisRule, size: f64, held: Option<(f64, f64)>, room: (f64, f64)| {
        let start = at - rule.place * size;
        let start = held.map_or(start, |(from, to)| {
            let (low, high) = (to - (1.0 - rule.after) * size, from - rule.before * size);
            if low <= high { start.clamp(low, high) } else { f64::midpoint(low, high) }
        });
        start.min(room.1 - size).max(room.0) + size / 2.0
    };
    let held = boxes.map(|hull| ((hull.left(), hull.right()), (hull.top(), hull.bottom())));
    Some(Wanted {
        x: place(point.0, across, width, held.map(|h| h.0), (area.left, area.right)),
        y: place(point.1, down, height, held.map(|h| h.1), (area.top, area.bottom)),
        width,
    })
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
    let sizes = hold::rounded_sizes(request, area, wanted.width);
    let (width, height) = *sizes.first()?;
    let even = request.rounding != Rounding::Exact;
    let place = |centre: f64, size: f64, from: f64, to: f64| {
        let start = (centre - size / 2.0).min(to - size).max(from);
        let nearest = 2.0 * (start / 2.0).round();
        let inside = [nearest, nearest - 2.0, nearest + 2.0]
            .into_iter()
            .find(|start| *start >= from && *start + size <= to);
        if even { inside.unwrap_or(start) } else { start }
    };
    let corner = (
        place(wanted.x, width, area.left, area.right),
        place(wanted.y, height, area.top, area.bottom),
    );
    Window::inside(request.raster, corner, (width, height)).ok()
}

/// The smallest box round all of them; `None` without any.
fn hull(regions: impl Iterator<Item = Region>) -> Option<Region> {
    let edges = regions
        .map(|region| (region.left(), region.top(), region.right(), region.bottom()))
        .reduce(|a, b| (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3)))?;
    Region::new(edges.0, edges.1, edges.2 - edges.0, edges.3 - edges.1)
}
