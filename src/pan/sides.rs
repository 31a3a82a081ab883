use super::{FrameWish, KeepOut, PanError, Request, clause::no_place, hold};
use crate::geometry::{Region, Window};
use serde::{Deserialize, Serialize};
use std::{fmt, ops::Range};

/// The side of a kept-out thing that the window stays on for a whole run: what makes a keep-out convex.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The window is left of it.
    Left,
    /// The window is above it.
    Above,
    /// The window is right of it.
    Right,
    /// The window is below it.
    Below,
}

impl Side {
    const ALL: [Self; 4] = [Self::Above, Self::Below, Self::Left, Self::Right];
}

impl fmt::Display for Side {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Left => "left of",
            Self::Above => "above",
            Self::Right => "right of",
            Self::Below => "below",
        })
    }
}

/// What a window may use at a frame, as edges; it may be empty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
    /// The usable part of a picture that is turned to be level.
    turned: Option<Turned>,
}

/// A turned rectangle: the usable part of the displayed frame, seen in the levelled picture.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Turned {
    angle: f64,
    /// What everything is turned about: the frame's centre.
    about: (f64, f64),
    usable: Region,
}

/// An edge of a turned area: `normal · centre + per_width × width <= bound` for a window that lies inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SlantedEdge {
    pub(super) normal: (f64, f64),
    pub(super) per_width: f64,
    pub(super) bound: f64,
}

impl Turned {
    /// Of the four edges, the two that bound the same direction stand together.
    fn edges(&self, height_per_width: f64) -> [SlantedEdge; 4] {
        let (sine, cosine) = self.angle.sin_cos();
        // A point of the levelled picture, turned back, lies in the usable part.
        let across = (cosine, sine);
        let down = (-sine, cosine);
        let half = |normal: (f64, f64)| (normal.0.abs() + height_per_width * normal.1.abs()) / 2.0;
        let usable = &self.usable;
        let edge = |normal: (f64, f64), sign: f64, limit: f64, about: f64| {
            let normal_out = (sign * normal.0, sign * normal.1);
            let at_centre = normal.0 * self.about.0 + normal.1 * self.about.1;
            SlantedEdge {
                normal: normal_out,
                per_width: half(normal),
                bound: sign * (limit - about + at_centre),
            }
        };
        [
            edge(across, -1.0, usable.left(), self.about.0),
            edge(across, 1.0, usable.right(), self.about.0),
            edge(down, -1.0, usable.top(), self.about.1),
            edge(down, 1.0, usable.bottom(), self.about.1),
        ]
    }

    /// The largest window width that fits between both pairs of edges.
    fn greatest_width(&self, height_per_width: f64) -> f64 {
        let [left, right, top, bottom] = self.edges(height_per_width);
        let between =
            |a: SlantedEdge, b: SlantedEdge| (a.bound + b.bound) / (a.per_width + b.per_width);
        between(left, right).min(between(top, bottom))
    }
}

impl Area {
    /// What may be used of the picture at a frame, keep-outs aside. A levelled picture has the frame's own
    /// raster, and what is turned out of it is not used.
    pub(super) fn usable(request: &Request, index: usize) -> Self {
        let (usable, angle) = (request.usable, request.roll.at(index));
        let is_level = angle == 0.0;
        let bounds = if is_level { usable } else { Region::whole(request.raster) };
        let about = (request.raster.width() / 2.0, request.raster.height() / 2.0);
        Self {
            left: bounds.left(),
            top: bounds.top(),
            right: bounds.right(),
            bottom: bounds.bottom(),
            turned: (!is_level).then_some(Turned { angle, about, usable }),
        }
    }

    /// The edges of a turned area; none of an upright one.
    pub(super) fn slanted_edges(&self, height_per_width: f64) -> impl Iterator<Item = SlantedEdge> {
        self.turned.into_iter().flat_map(move |turned| turned.edges(height_per_width))
    }

    fn beside(self, keep_out: &KeepOut, side: Side, index: usize) -> Self {
        let Some(region) = keep_out.regions.get(index).copied().flatten() else { return self };
        match side {
            Side::Left => Self { right: self.right.min(region.left()), ..self },
            Side::Above => Self { bottom: self.bottom.min(region.top()), ..self },
            Side::Right => Self { left: self.left.max(region.right()), ..self },
            Side::Below => Self { top: self.top.max(region.bottom()), ..self },
        }
    }

    /// What a window may use at one frame if it stays on these sides of the keep-outs.
    pub(super) fn at(request: &Request, sides: &[Side], index: usize) -> Self {
        let usable = Self::usable(request, index);
        request
            .keep_outs
            .iter()
            .zip(sides)
            .fold(usable, |area, (keep_out, side)| area.beside(keep_out, *side, index))
    }

    /// What one still window may use for the whole run, with the ride taken off. Slanted edges are those of
    /// the first frame only: others have to be held frame by frame.
    pub(super) fn still(request: &Request, sides: &[Side]) -> Self {
        Self::over(request, sides, 0..request.frame_count())
    }

    /// What a window may use that stands still on some frames, at least one; on the same terms.
    pub(super) fn over(request: &Request, sides: &[Side], frames: Range<usize>) -> Self {
        let first = Self::at(request, sides, frames.start).moved_back(request, frames.start);
        if sides.is_empty() && request.ride.is_empty() {
            return first;
        }
        let others = (frames.start + 1..frames.end)
            .map(|index| Self::at(request, sides, index).moved_back(request, index));
        others.fold(first, |a, b| Self {
            left: a.left.max(b.left),
            top: a.top.max(b.top),
            right: a.right.min(b.right),
            bottom: a.bottom.min(b.bottom),
            ..a
        })
    }

    /// The upright edges with a frame's ride taken off.
    pub(super) fn moved_back(self, request: &Request, index: usize) -> Self {
        let (across, down) = request.ride_at(index);
        Self {
            left: self.left - across,
            top: self.top - down,
            right: self.right - across,
            bottom: self.bottom - down,
            ..self
        }
    }

    /// Whether a window lies in the area, but for what rounding a pin by hand may cost.
    pub(super) fn holds(&self, window: &Window) -> bool {
        const ROUNDING_PX: f64 = 1.0;
        window.left() >= self.left - ROUNDING_PX
            && window.top() >= self.top - ROUNDING_PX
            && window.right() <= self.right + ROUNDING_PX
            && window.bottom() <= self.bottom + ROUNDING_PX
            && self.is_between_slants(window, ROUNDING_PX)
    }

    /// Whether a window lies between the slanted edges, but for so many px.
    pub(super) fn is_between_slants(&self, window: &Window, noise_px: f64) -> bool {
        let height_per_width = window.height() / window.width();
        self.slanted_edges(height_per_width).all(|edge| {
            let centre = edge.normal.0 * window.centre_x() + edge.normal.1 * window.centre_y();
            centre + edge.per_width * window.width() <= edge.bound + noise_px
        })
    }

    /// Whether a window lies in the area, but for what double precision loses: left, top, width and height.
    pub(super) fn contains(&self, [left, top, width, height]: [f64; 4]) -> bool {
        const NOISE_PX: f64 = 1e-6;
        left >= self.left - NOISE_PX
            && top >= self.top - NOISE_PX
            && left + width <= self.right + NOISE_PX
            && top + height <= self.bottom + NOISE_PX
            && self.slanted_edges(height / width).all(|edge| {
                let centre = (left + width / 2.0, top + height / 2.0);
                let along = edge.normal.0 * centre.0 + edge.normal.1 * centre.1;
                along + edge.per_width * width <= edge.bound + NOISE_PX
            })
    }

    /// The largest window width of the request's shape in the area that is no more than it wants; not above 0 if the
    /// area is empty.
    pub(super) fn greatest_width(&self, request: &Request) -> f64 {
        let upright = (self.right - self.left).min(request.shape.width_for(self.bottom - self.top));
        let turned = self.turned.map(|turned| turned.greatest_width(request.shape.height_for(1.0)));
        turned.map_or(upright, |turned| turned.min(upright)).min(request.most_width)
    }
}

/// The most keep-outs that a request may have: a window passes each on one of four sides, so that these are 256 ways to try.
pub const MOST_KEEP_OUTS: usize = 4;

/// Every choice of a side for each of so many keep-outs.
pub(super) fn choices(count: usize) -> impl Iterator<Item = Vec<Side>> {
    let ways = Side::ALL.len().pow(u32::try_from(count).unwrap_or(u32::MAX));
    (0..ways).map(move |way| sides_of(way, count))
}

/// The sides on which the window stays, one a keep-out: those that let one still window do best, or where
/// none does, those that leave the largest window. `None` if no choice leaves a window of the least width beside
/// every keep-out, and a place for each required box, and agrees with the pins.
///
/// # Errors
/// [`PanError::TooManyKeepOuts`].
pub(super) fn best(request: &Request) -> Result<Option<Vec<Side>>, PanError> {
    let count = request.keep_outs.len();
    if count > MOST_KEEP_OUTS {
        return Err(PanError::TooManyKeepOuts { count, limit: MOST_KEEP_OUTS });
    }
    let scored = choices(count).filter_map(|sides| {
        let narrowest = (0..request.frame_count())
            .map(|index| Area::at(request, &sides, index).greatest_width(request))
            .fold(f64::INFINITY, f64::min);
        let pins_beside =
            request.pins.iter().all(|pin| Area::at(request, &sides, pin.index).holds(&pin.window));
        if narrowest < request.least_width || narrowest <= 0.0 || !pins_beside {
            return None;
        }
        let has_places = |(index, wish): (usize, &FrameWish)| {
            wish.required
                .iter()
                .all(|required| no_place(request, &sides, required, index).is_none())
        };
        // Without keep-outs there is one choice only, and what it lacks is told elsewhere.
        if count > 0 && !request.frames.iter().enumerate().all(has_places) {
            return None;
        }
        let still = Area::still(request, &sides);
        // Holds are all better than no hold; without one, a larger window is better.
        let score = hold::quick_cost(request, &still).map_or((1, -narrowest), |cost| (0, cost));
        Some((score, sides))
    });
    Ok(scored
        .min_by(|(a, _), (b, _)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(_, sides)| sides))
}

fn sides_of(way: usize, count: usize) -> Vec<Side> {
    (0..count)
        .map(|place| Side::ALL[way / 4_usize.pow(u32::try_from(place).unwrap_or(0)) % 4])
        .collect()
}
