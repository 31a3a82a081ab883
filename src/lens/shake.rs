use super::{LensError, RectilinearLens};
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

/// What is had by moving the whole picture as far as its centre moves, `f·tan(shake)`. Towards the edge of a wide
/// picture the same shake moves about twice as far, so that this passes windows that do not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentreOnly {
    /// `w cos r + h sin r + 2 f tan(yaw)`.
    pub needed_width_px: f64,
    /// `w sin r + h cos r + 2 f tan(pitch)`.
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

    fn of(lens: &RectilinearLens, level: &Levelling, window: &Window, shake: &Shake) -> Self {
        let (sine, cosine) = (level.radians().abs() + shake.roll).sin_cos();
        let (frame, focal) = (lens.raster(), lens.focal_px());
        let (move_across, move_down) =
            (2.0 * focal * shake.yaw.tan(), 2.0 * focal * shake.pitch.tan());
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
    /// The whole picture is turned through the lens. A straight-line lens carries straight lines to straight
    /// lines, so that the corners of the outline are carried furthest and stand for all of it.
    #[must_use]
    pub fn of(lens: &RectilinearLens, level: &Levelling, window: &Window, shake: &Shake) -> Self {
        let corners = level.displayed_corners(window);
        let still = Extent::of(&corners);
        let needed_for = |shake| still.room_to(&Extent::shaken(lens, &corners, &shake));
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
fn largest_width(
    lens: &RectilinearLens,
    level: &Levelling,
    window: &Window,
    shake: &Shake,
) -> Option<f64> {
    const LEAST_WIDTH_PX: f64 = 2.0;
    const HALVINGS: usize = 40;
    let (frame, high) = (lens.raster(), window.height() / window.width());
    let centre = (window.centre_x(), window.centre_y());
    let turns: Vec<Turn> = shake.turns().collect();
    let passes = |width: f64| {
        let (half_width, half_height) = (width / 2.0, width * high / 2.0);
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].into_iter().all(|(right, down)| {
            let corner = level.displayed(SourcePoint {
                x: centre.0 + right * half_width,
                y: centre.1 + down * half_height,
            });
            let direction = lens.direction(corner);
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
    fn shaken(lens: &RectilinearLens, points: &[SourcePoint], shake: &Shake) -> Self {
        let directions: Vec<[f64; 3]> = points.iter().map(|point| lens.direction(*point)).collect();
        let carried: Option<Vec<SourcePoint>> = shake
            .turns()
            .flat_map(|turn| {
                directions.iter().map(move |direction| turn.of(*direction)).collect::<Vec<_>>()
            })
            .map(|direction| lens.point(direction))
            .collect();
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
mod tests {
    use super::*;
    use crate::{
        geometry::Raster,
        lens::{FieldOfView, Span},
    };

    fn lens() -> RectilinearLens {
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        RectilinearLens::new(Raster::new(4000, 3000).unwrap(), &[field]).unwrap()
    }

    fn uhd() -> Window {
        Window::inside(lens().raster(), (80.0, 420.0), (3840.0, 2160.0)).unwrap()
    }

    fn budget(yaw: f64, pitch: f64, roll: f64) -> ShakeBudget {
        let shake = Shake::from_degrees(yaw, pitch, roll).unwrap();
        ShakeBudget::of(&lens(), &Levelling::none(lens().raster()), &uhd(), &shake)
    }

    /// Three turns one after the other, written out: yaw about the vertical, pitch about the horizontal, roll
    /// about the axis, in one of the six orders.
    fn in_turn(order: [usize; 3], [pitch, yaw, roll]: [f64; 3], at: [f64; 3]) -> [f64; 3] {
        order.into_iter().fold(at, |[x, y, z], axis| match axis {
            0 => [x, y * pitch.cos() - z * pitch.sin(), y * pitch.sin() + z * pitch.cos()],
            1 => [x * yaw.cos() + z * yaw.sin(), y, z * yaw.cos() - x * yaw.sin()],
            _ => [x * roll.cos() - y * roll.sin(), x * roll.sin() + y * roll.cos(), z],
        })
    }

    /// The furthest that any point of a dense outline is carried to the right, over dense angles, by three turns
    /// in an order.
    fn furthest_right(width: f64, amplitudes: [f64; 3], order: [usize; 3]) -> f64 {
        let (half_width, half_height) = (width / 2.0, width * 9.0 / 32.0);
        let share = |step: i32, of: i32| f64::from(2 * step - of) / f64::from(of);
        let mut furthest = f64::NEG_INFINITY;
        for along in 0..=40 {
            let along = share(along, 40);
            let outline = [
                [half_width, along * half_height],
                [-half_width, along * half_height],
                [along * half_width, half_height],
                [along * half_width, -half_height],
            ];
            for step in 0..343 {
                let angles = [
                    amplitudes[0] * share(step % 7, 6),
                    amplitudes[1] * share(step / 7 % 7, 6),
                    amplitudes[2] * share(step / 49, 6),
                ];
                for [x, y] in outline {
                    let [x, _, z] = in_turn(order, angles, [x, y, 2000.0]);
                    furthest = furthest.max(2000.0 * x / z);
                }
            }
        }
        furthest
    }

    const ORDERS: [[usize; 3]; 6] =
        [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

    #[test]
    fn yaw_alone_moves_the_middle_of_the_edge_by_the_difference_of_tangents() {
        // By hand: atan(1920/2000) = 43.8309; 2000 tan 45.3309 - 1920 = 103.23 px, against 80.
        let budget = budget(1.5, 0.0, 0.0);
        let by_hand = 2000.0 * ((0.96_f64).atan() + 1.5_f64.to_radians()).tan() - 1920.0;
        assert!((by_hand - 103.23).abs() < 0.005);
        assert!((budget.needed.right_px - by_hand).abs() < 1e-6, "{budget:?}");
        let of_all = self::budget(1.5, 1.5, 1.0).needed_by_one_turn;
        assert!((of_all.left_px - by_hand).abs() < 1e-6, "{of_all:?}");
        // Up and down: atan(1080/2000) = 28.3690; 2000 tan 29.8690 - 1080 = 68.6.
        assert!((of_all.top_px - 68.6).abs() < 0.05, "{of_all:?}");
        assert!((budget.available.right_px - 80.0).abs() < 1e-9);
        assert!(!budget.passes());
        // Twice the centre's 52.37 px, as the secant squared at 45 degrees says.
        let centre = 2000.0 * 1.5_f64.to_radians().tan();
        assert!((centre - 52.37).abs() < 0.005 && by_hand / centre > 1.9, "{centre}");
    }

    #[test]
    fn the_whole_shake_is_what_turns_in_any_order_give() {
        // Three turns in six orders, on a dense outline and at dense angles: the orders differ among themselves
        // by two px and more, and the one turn about one axis lies among them.
        for (degrees, least_px, most_px) in [(1.5, 151.0, 155.0), (2.0, 198.0, 203.0)] {
            let amplitudes = [degrees, degrees, 1.0].map(f64::to_radians);
            let needed = ORDERS.map(|order| furthest_right(3840.0, amplitudes, order) - 1920.0);
            let least = needed.into_iter().fold(f64::INFINITY, f64::min);
            let most = needed.into_iter().fold(f64::NEG_INFINITY, f64::max);
            let found = budget(degrees, degrees, 1.0);
            assert!(least_px < least && most < most_px, "{least} {most}");
            let needed = found.needed.right_px;
            assert!((least..=most).contains(&needed), "{needed} in {least} to {most}");
            assert!((found.missing_px - (needed - 80.0)).abs() < 1e-9);
            assert!((found.needed.left_px - needed).abs() < 1e-6, "the same on the left");
        }
    }

    #[test]
    fn a_small_shake_moves_a_point_as_the_derivative_says() {
        // x' = f·x/z: a yaw a moves x by a (f + x²/f), a pitch b by b x y / f, a roll c by c y. At the corner of the
        // window (1920, 1080), f 2000, all signs at their worst: a·3843.2 + b·1036.8 + c·1080.
        let (a, b, c) = (0.015_f64, 0.012_f64, 0.01_f64);
        let by_hand = (a * 3843.2 + b * 1036.8 + c * 1080.0).to_radians();
        let found = budget(a, b, c).needed.right_px;
        assert!((found - by_hand).abs() < 1e-3 * by_hand, "{found} {by_hand}");
    }

    #[test]
    fn the_least_enlargement_is_that_of_the_corrected_study() {
        for (degrees, width, enlargement) in [(1.5, 3706.0, 1.036), (2.0, 3626.0, 1.059)] {
            let found = budget(degrees, degrees, 1.0).largest_width_px.unwrap();
            assert!((found - width).abs() < 2.0, "{found}");
            assert!((3840.0 / found - enlargement).abs() < 0.0005, "{}", 3840.0 / found);
            // Just at the frame's edge by the brute force too, as far as the orders agree.
            let amplitudes = [degrees, degrees, 1.0].map(f64::to_radians);
            let reach = ORDERS.map(|order| furthest_right(found, amplitudes, order));
            assert!(reach.iter().any(|reach| *reach <= 2000.0), "{reach:?}");
            assert!(reach.iter().any(|reach| *reach >= 2000.0), "{reach:?}");
        }
    }

    #[test]
    fn the_centre_only_figures_are_a_comparison_that_passes_too_much() {
        // By hand: 3840 cos 1° + 2160 sin 1° + 104.74 = 3981.86, 9.07 px a side; the height 2331.43, 668.6 spare.
        let narrow = budget(1.5, 1.5, 1.0).centre_only;
        assert!((narrow.needed_width_px - 3981.86).abs() < 0.005, "{narrow:?}");
        assert!((narrow.spare_across_px - 9.07).abs() < 0.005, "{narrow:?}");
        assert!((narrow.needed_height_px - 2331.43).abs() < 0.005, "{narrow:?}");
        assert!((2.0 * narrow.spare_down_px - 668.6).abs() < 0.05, "{narrow:?}");
        assert!(narrow.passes() && !budget(1.5, 1.5, 1.0).passes());
        let wide = budget(2.0, 2.0, 1.0).centre_only;
        assert!((wide.needed_width_px - 4016.80).abs() < 0.005, "{wide:?}");
        assert!(!wide.passes());
        assert!((3840.0 / wide.largest_width_px - 1.0044).abs() < 0.00005, "{wide:?}");
        assert!((wide.largest_width_px - 3823.4).abs() < 0.06, "{wide:?}");
    }

    #[test]
    fn without_a_shake_nothing_is_needed_and_a_wild_one_is_out_of_sight() {
        let still = budget(0.0, 0.0, 0.0);
        assert!(still.passes() && still.needed.least_px().abs() < 1e-9, "{still:?}");
        assert!((still.largest_width_px.unwrap() - 4000.0).abs() < 1e-6);
        let field = FieldOfView::from_degrees(Span::Horizontal, 170.0).unwrap();
        let wide = RectilinearLens::new(lens().raster(), &[field]).unwrap();
        let shake = Shake::from_degrees(30.0, 30.0, 30.0).unwrap();
        let level = Levelling::none(wide.raster());
        assert!(!ShakeBudget::of(&wide, &level, &uhd(), &shake).passes());
        for (yaw, pitch, roll) in [(-1.0, 0.0, 0.0), (0.0, 31.0, 0.0), (0.0, 0.0, f64::NAN)] {
            assert!(Shake::from_degrees(yaw, pitch, roll).is_err());
        }
    }
}
