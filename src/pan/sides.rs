use super::{KeepOut, PanError, Request, hold};
use crate::geometry::Window;
use serde::{Deserialize, Serialize};
use std::fmt;

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
}

impl Area {
    fn usable(request: &Request) -> Self {
        let usable = &request.usable;
        Self {
            left: usable.left(),
            top: usable.top(),
            right: usable.right(),
            bottom: usable.bottom(),
        }
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
        request.keep_outs.iter().zip(sides).fold(Self::usable(request), |area, (keep_out, side)| {
            area.beside(keep_out, *side, index)
        })
    }

    /// What one still window may use for the whole run.
    pub(super) fn still(request: &Request, sides: &[Side]) -> Self {
        if sides.is_empty() {
            return Self::usable(request);
        }
        (0..request.frame_count()).map(|index| Self::at(request, sides, index)).fold(
            Self::usable(request),
            |a, b| Self {
                left: a.left.max(b.left),
                top: a.top.max(b.top),
                right: a.right.min(b.right),
                bottom: a.bottom.min(b.bottom),
            },
        )
    }

    /// Whether a window lies in the area, but for what rounding a pin by hand may cost.
    pub(super) fn holds(&self, window: &Window) -> bool {
        const ROUNDING_PX: f64 = 1.0;
        window.left() >= self.left - ROUNDING_PX
            && window.top() >= self.top - ROUNDING_PX
            && window.right() <= self.right + ROUNDING_PX
            && window.bottom() <= self.bottom + ROUNDING_PX
    }

    /// The largest window width of the request's shape in the area; not above 0 if the area is empty.
    pub(super) fn greatest_width(&self, request: &Request) -> f64 {
        (self.right - self.left).min(request.shape.width_for(self.bottom - self.top))
    }
}

/// Each side costs one of four, so that this many keep-outs are 256 ways to try.
const MOST_KEEP_OUTS: usize = 4;

/// The sides on which the window stays, one a keep-out: those that let one still window do best, or where
/// none does, those that leave the largest window. `None` if no choice leaves a window of the least width beside
/// every keep-out and agrees with the pins.
///
/// # Errors
/// [`PanError::TooManyKeepOuts`].
pub(super) fn best(request: &Request) -> Result<Option<Vec<Side>>, PanError> {
    let count = request.keep_outs.len();
    if count > MOST_KEEP_OUTS {
        return Err(PanError::TooManyKeepOuts { count, limit: MOST_KEEP_OUTS });
    }
    let ways = Side::ALL.len().pow(u32::try_from(count).unwrap_or(u32::MAX));
    let scored = (0..ways).map(|way| sides_of(way, count)).filter_map(|sides| {
        let narrowest = (0..request.frame_count())
            .map(|index| Area::at(request, &sides, index).greatest_width(request))
            .fold(f64::INFINITY, f64::min);
        let pins_beside =
            request.pins.iter().all(|pin| Area::at(request, &sides, pin.index).holds(&pin.window));
        if narrowest < request.least_width || narrowest <= 0.0 || !pins_beside {
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
