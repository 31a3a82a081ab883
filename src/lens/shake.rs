use super::{Lens, LensError, Mapping};
use crate::geometry::{Levelling, SourcePoint, SpareRoom, Window};

/// How far a mount shakes each way: the camera is turned by up to so much about each of its three axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shake {
    yaw: f64,
    pitch: f64,
    roll: f64,
}

impl Shake {
    /// The greatest angle, each way. Chosen: an arm that swings further carries no shot.
    pub const GREATEST_DEGREES: f64 = 30.0;

    /// Sideways, up and down, and about the axis, in degrees each way.
    ///
    /// # Errors
    /// [`LensError::Shake`] if one is below 0, not a number or above [`Self::GREATEST_DEGREES`].
    pub fn from_degrees(yaw: f64, pitch: f64, roll: f64) -> Result<Self, LensError> {
        let limit = Self::GREATEST_DEGREES;
        for (name, degrees) in [("yaw", yaw), ("pitch", pitch), ("roll", roll)] {
            if !(0.0..=limit).contains(&degrees) {
                return Err(LensError::Shake { name, degrees, limit });
            }
        }
        let [yaw, pitch, roll] = [yaw, pitch, roll].map(f64::to_radians);
        Ok(Self { yaw, pitch, roll })
    }

    /// Only what is turned sideways of it, and only what is turned up and down.
    const fn one_turn_each(&self) -> [Self; 2] {
        [Self { pitch: 0.0, roll: 0.0, ..*self }, Self { yaw: 0.0, roll: 0.0, ..*self }]
    }

    /// The turns that are tried: every combination of all three, each way at its greatest and at steps between.
    /// The greatest ones decide for small shakes; a large roll carries a corner furthest before its end.
    fn turns(&self) -> impl Iterator<Item = Turn> + '_ {
        /// Steps to each side of none.
        const STEPS: i32 = 4;
        let shares = || (-STEPS..=STEPS).map(|step| f64::from(step) / f64::from(STEPS));
        shares().flat_map(move |yaw| {
            shares().flat_map(move |pitch| {
                shares().map(move |roll| {
                    Turn::about([pitch * self.pitch, yaw * self.yaw, roll * self.roll])
                })
            })
        })
    }
}

/// A turn of all directions about one axis, as the rows of a matrix.
struct Turn([[f64; 3]; 3]);

impl Turn {
    /// The turn about one axis whose parts are the three angles, in radians: it has no order in which the three
    /// come, as a sequence of three turns would. (The rotation formula of every mechanics text: `cos·1 + sin·[a]× +
    /// (1 − cos)·aaᵀ`.)
    fn about([x, y, z]: [f64; 3]) -> Self {
        let angle = x.hypot(y).hypot(z);
        if angle <= 0.0 {
            return Self([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]);
        }
        let (x, y, z) = (x / angle, y / angle, z / angle);
        let (sine, cosine) = angle.sin_cos();
        let rest = 1.0 - cosine;
        Self([
            [cosine + rest * x * x, rest * x * y - sine * z, rest * x * z + sine * y],
            [rest * x * y + sine * z, cosine + rest * y * y, rest * y * z - sine * x],
            [rest * x * z - sine * y, rest * y * z + sine * x, cosine + rest * z * z],
        ])
    }

    fn of(&self, direction: [f64; 3]) -> [f64; 3] {
        self.0.map(|row| row[0] * direction[0] + row[1] * direction[1] + row[2] * direction[2])
    }
}

/// What a shake takes of the room round a window, if the shot is to be steady afterwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShakeBudget {
    /// How far the window's outline is carried beyond where it stands, on each side of the displayed frame, in
    /// px; infinite where it is carried out of what the lens can see.
    pub needed: SpareRoom,
    /// The same by one turn alone: sideways for left and right, up and down for top and bottom.
    pub needed_by_one_turn: SpareRoom,
    /// The room there is on each side.
    pub available: SpareRoom,
    /// What the side that lacks the most lacks; 0 or less if the window passes.
    pub missing_px: f64,
    /// The width of the largest window of the same shape and centre that passes; `None` if even a window of 2 px
    /// does not.
    pub largest_width_px: Option<f64>,
    /// The same reckoned at the centre only: a comparison, not an answer.
    pub centre_only: CentreOnly,
}

/// What is had by moving the whole picture as far as its centre moves, `f·tan(shake)` for a straight-line lens. Towards
/// the edge of a wide straight-line picture the same shake moves about twice as far, so that this passes windows that do
/// not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentreOnly {
    /// `w cos r + h sin r + 2 m`, with what the yaw moves the centre by, `m`.
    pub needed_width_px: f64,
    /// `w sin r + h cos r + 2 m`, with what the pitch moves the centre by, `m`.
    pub needed_height_px: f64,
    /// What the frame has over the needed width, a side; below 0 it is too narrow.
    pub spare_across_px: f64,
    /// What the frame has over the needed height, a side.
    pub spare_down_px: f64,
    /// The width of the largest window that would pass by it; below 0 if there is none.
    pub largest_width_px: f64,
}

impl CentreOnly {
    /// Whether the window would pass by it.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.spare_across_px >= 0.0 && self.spare_down_px >= 0.0
    }

    fn of(lens: &Lens, level: &Levelling, window: &Window, shake: &Shake) -> Self {
        let (sine, cosine) = (level.radians().abs() + shake.roll).sin_cos();
        let frame = lens.raster();
        // A shake is far within what any mapping draws of a picture's middle.
        let radius = |angle| lens.mapping().radius(angle).unwrap_or(f64::INFINITY);
        let (move_across, move_down) = (
            2.0 * lens.focal_px() * radius(shake.yaw),
            2.0 * lens.focal_down_px() * radius(shake.pitch),
        );
        let (width, height) = (window.width(), window.height());
        let needed_width_px = width * cosine + height * sine + move_across;
        let needed_height_px = width * sine + height * cosine + move_down;
        let high = height / width;
        Self {
            needed_width_px,
            needed_height_px,
            spare_across_px: (frame.width() - needed_width_px) / 2.0,
            spare_down_px: (frame.height() - needed_height_px) / 2.0,
            largest_width_px: ((frame.width() - move_across) / (cosine + high * sine))
                .min((frame.height() - move_down) / (sine + high * cosine)),
        }
    }
}

impl ShakeBudget {
    /// The budget of a window of a levelled picture, or of the displayed one where nothing is levelled.
    ///
    /// The whole picture is turned through the lens, and stays of its mapping.
    #[must_use]
    pub fn of(lens: &Lens, level: &Levelling, window: &Window, shake: &Shake) -> Self {
        let outline = outline(lens, &level.displayed_corners(window));
        let still = Extent::of(&outline);
        let needed_for = |shake| still.room_to(&Extent::shaken(lens, &outline, &shake));
        let [sideways, up_and_down] = shake.one_turn_each().map(needed_for);
        let frame = lens.raster();
        let available = still.room_to(&Extent {
            left: 0.0,
            top: 0.0,
            right: frame.width(),
            bottom: frame.height(),
        });
        let needed = needed_for(*shake);
        let missing_px = [
            needed.left_px - available.left_px,
            needed.top_px - available.top_px,
            needed.right_px - available.right_px,
            needed.bottom_px - available.bottom_px,
        ]
        .into_iter()
        .fold(f64::NEG_INFINITY, f64::max);
        Self {
            needed,
            needed_by_one_turn: SpareRoom {
                top_px: up_and_down.top_px,
                bottom_px: up_and_down.bottom_px,
                ..sideways
            },
            available,
            missing_px,
            largest_width_px: largest_width(lens, level, window, shake),
            centre_only: CentreOnly::of(lens, level, window, shake),
        }
    }

    /// What a float's last digits may be over the edge and still pass.
    const NOISE_PX: f64 = 1e-6;

    /// Whether the window has the room.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.missing_px <= Self::NOISE_PX
    }
}

/// The width of the largest window about the same centre that stays in the frame: a smaller one lies within a
/// larger one and so do their shaken outlines, so that halving finds it.
fn largest_width(lens: &Lens, level: &Levelling, window: &Window, shake: &Shake) -> Option<f64> {
    const LEAST_WIDTH_PX: f64 = 2.0;
    const HALVINGS: usize = 40;
    let (frame, high) = (lens.raster(), window.height() / window.width());
    let centre = (window.centre_x(), window.centre_y());
    let turns: Vec<Turn> = shake.turns().collect();
    let passes = |width: f64| {
        let (half_width, half_height) = (width / 2.0, width * high / 2.0);
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(right, down)| {
            level.displayed(SourcePoint {
                x: centre.0 + right * half_width,
                y: centre.1 + down * half_height,
            })
        });
        outline(lens, &corners).into_iter().all(|point| {
            let Some(direction) = lens.direction(point) else { return false };
            turns.iter().all(|turn| {
                lens.point(turn.of(direction)).is_some_and(|point| {
                    (0.0..=frame.width()).contains(&point.x)
                        && (0.0..=frame.height()).contains(&point.y)
                })
            })
        })
    };
    let (mut enough, mut too_much) = (LEAST_WIDTH_PX, frame.width().hypot(frame.height()));
    if !passes(enough) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(enough, too_much);
        if passes(middle) { enough = middle } else { too_much = middle }
    }
    Some(enough)
}

/// The points of an outline that are carried, and stand for all of it.
///
/// A straight-line lens carries straight lines to straight lines, so that the corners are carried furthest. Through
/// any other they bow, and the outline is carried point by point along its edges.
fn outline(lens: &Lens, corners: &[SourcePoint; 4]) -> Vec<SourcePoint> {
    /// Steps along an edge. Chosen: what is missed between two points of an edge that bows by its whole length is some
    /// thousandth of that.
    const STEPS: i32 = 32;
    if matches!(lens.mapping(), Mapping::Rectilinear) {
        return corners.to_vec();
    }
    let next = corners.iter().cycle().skip(1);
    let edges = corners.iter().zip(next).flat_map(|(from, to)| {
        (0..STEPS).map(move |step| {
            let share = f64::from(step) / f64::from(STEPS);
            SourcePoint { x: from.x + share * (to.x - from.x), y: from.y + share * (to.y - from.y) }
        })
    });
    edges.collect()
}

/// The upright box round some points.
struct Extent {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

impl Extent {
    fn of(points: &[SourcePoint]) -> Self {
        let none = Self {
            left: f64::INFINITY,
            top: f64::INFINITY,
            right: f64::NEG_INFINITY,
            bottom: f64::NEG_INFINITY,
        };
        points.iter().fold(none, |extent, point| Self {
            left: extent.left.min(point.x),
            top: extent.top.min(point.y),
            right: extent.right.max(point.x),
            bottom: extent.bottom.max(point.y),
        })
    }

    /// Round all places to which a shake carries the points; without end if one is carried out of sight.
    fn shaken(lens: &Lens, points: &[SourcePoint], shake: &Shake) -> Self {
        let directions: Option<Vec<[f64; 3]>> =
            points.iter().map(|point| lens.direction(*point)).collect();
        let carried: Option<Vec<SourcePoint>> = directions.and_then(|directions| {
            let turned = |turn: Turn| directions.iter().map(move |at| turn.of(*at));
            shake.turns().flat_map(turned).map(|direction| lens.point(direction)).collect()
        });
        let endless = Self {
            left: f64::NEG_INFINITY,
            top: f64::NEG_INFINITY,
            right: f64::INFINITY,
            bottom: f64::INFINITY,
        };
        carried.map_or(endless, |points| Self::of(&points))
    }

    /// How far another box reaches beyond this one on each side.
    fn room_to(&self, other: &Self) -> SpareRoom {
        SpareRoom {
            left_px: self.left - other.left,
            top_px: self.top - other.top,
            right_px: other.right - self.right,
            bottom_px: other.bottom - self.bottom,
        }
    }
}

#[cfg(test)]
mod tests;
