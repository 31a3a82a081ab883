use crate::{
    delivery::BlockedZones,
    geometry::{Allowed, AxisLimits, Raster, Region, Shape, Window},
};

/// What a window has to keep.
#[derive(Debug, Clone)]
pub struct Wishes<'a> {
    /// The window's shape.
    pub shape: Shape,
    /// The least width of a window in px: the delivered width within the greatest enlargement.
    pub least_width_px: f64,
    /// Room left and right of every subject, as a share of the window's width.
    pub margin_across: f64,
    /// Room above and below every subject, as a share of the window's height.
    pub margin_down: f64,
    /// Room above every subject, as a share of the window's height; 0 where no more than the margin is asked.
    pub headroom: f64,
    /// What will be covered: subjects and their margins stay clear of it.
    pub blocked: &'a BlockedZones,
    /// Boxes of subjects, in px; they may hang over the frame's edges, and then no window holds them.
    pub subjects: &'a [Region],
    /// The row of the horizon, and the least share of the window's height above it, if it has to be inside.
    pub horizon: Option<(f64, f64)>,
    /// Boxes that have to be outside: parts of the rig.
    pub rig: &'a [Region],
}

/// A side of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Its left.
    Left,
    /// Its top.
    Top,
    /// Its right.
    Right,
    /// Its bottom.
    Bottom,
}

/// The room that a window has: where it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WindowRoom {
    /// It keeps everything.
    Fits {
        /// The largest that does, as near to the frame's middle as it may be, not rounded.
        window: Window,
        /// From where to where its left edge may be, in px.
        left: (f64, f64),
        /// From where to where its top edge may be, in px.
        top: (f64, f64),
    },
    /// None does.
    Lacks(Lack),
}

/// What a window lacks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lack {
    /// How many px across the largest window of the shape lacks beside what it would have to keep; 0 if none.
    pub across_px: f64,
    /// How many px down it lacks; 0 if none.
    pub down_px: f64,
    /// The part of the rig that is kept out on which side in the best attempt; `None` without any.
    pub rig: Option<Side>,
}

impl Lack {
    fn total(&self) -> f64 {
        self.across_px + self.down_px
    }
}

impl WindowRoom {
    /// The room of a window in a frame.
    ///
    /// A part of the rig is kept out on the side of the window on which that costs least; what lies at an edge of the frame
    /// is nearly always kept out there.
    #[must_use]
    pub fn of(frame: Raster, wishes: &Wishes<'_>) -> Self {
        let attempts = sides_of(wishes.rig.len());
        let mut best: Option<Self> = None;
        for sides in attempts {
            let room = wishes.room(frame, &sides);
            if best.is_none_or(|best| room.is_better_than(&best)) {
                best = Some(room);
            }
        }
        best.unwrap_or(Self::Lacks(Lack { across_px: 0.0, down_px: 0.0, rig: None }))
    }

    /// The window, if there is one.
    #[must_use]
    pub const fn window(&self) -> Option<&Window> {
        match self {
            Self::Fits { window, .. } => Some(window),
            Self::Lacks(_) => None,
        }
    }

    fn is_better_than(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Fits { window, .. }, Self::Fits { window: other, .. }) => {
                window.width() > other.width()
            }
            (Self::Fits { .. }, Self::Lacks(_)) => true,
            (Self::Lacks(lack), Self::Lacks(other)) => lack.total() < other.total(),
            (Self::Lacks(_), Self::Fits { .. }) => false,
        }
    }
}

/// Every way to keep so many things out, a side each. More than four are kept out on one side together, since the ways
/// grow by four with each.
fn sides_of(count: usize) -> Vec<Vec<Side>> {
    const SIDES: [Side; 4] = [Side::Bottom, Side::Top, Side::Left, Side::Right];
    const MOST_APART: usize = 4;
    if count > MOST_APART {
        return SIDES.map(|side| vec![side; count]).to_vec();
    }
    let mut ways = vec![Vec::new()];
    for _ in 0..count {
        ways = ways
            .iter()
            .flat_map(|way: &Vec<Side>| SIDES.map(|side| [way.clone(), vec![side]].concat()))
            .collect();
    }
    ways
}

impl Wishes<'_> {
    fn room(&self, frame: Raster, sides: &[Side]) -> WindowRoom {
        let (columns, rows) = (self.columns(frame, sides), self.rows(frame, sides));
        let greatest = frame.width().min(self.shape.width_for(frame.height()));
        // What sums of px lose is no lack.
        let least = (self.least_width_px.min(greatest) - NOISE_PX).max(NOISE_PX);
        let widths = columns.sizes(least, greatest);
        let heights = rows.sizes(self.shape.height_for(least), self.shape.height_for(greatest));
        let width = widths.zip(heights).and_then(|((least, greatest), (low, high))| {
            let width = greatest.min(self.shape.width_for(high));
            (width >= least.max(self.shape.width_for(low))).then_some(width)
        });
        let placed = width.and_then(|width| {
            let height = self.shape.height_for(width);
            let (left, top) = (between(&columns, width)?, between(&rows, height)?);
            let corner = (
                ((frame.width() - width) / 2.0).clamp(left.0, left.1),
                ((frame.height() - height) / 2.0).clamp(top.0, top.1),
            );
            let window = Window::inside(frame, corner, (width, height)).ok()?;
            Some(WindowRoom::Fits { window, left, top })
        });
        let is_large_enough = self.least_width_px <= greatest + NOISE_PX;
        placed.filter(|_| is_large_enough).unwrap_or_else(|| {
            WindowRoom::Lacks(Lack {
                across_px: missing(&columns, least, greatest)
                    .max(self.least_width_px - greatest)
                    .max(0.0),
                down_px: missing(
                    &rows,
                    self.shape.height_for(least),
                    self.shape.height_for(greatest),
                ),
                rig: sides.first().copied(),
            })
        })
    }

    fn columns(&self, frame: Raster, sides: &[Side]) -> AxisLimits {
        let mut limits = AxisLimits::default().lying_within(0.0, frame.width());
        for subject in self.subjects {
            limits = limits
                .leaving_before(subject.left(), self.blocked.left + self.margin_across)
                .leaving_after(subject.right(), self.blocked.right + self.margin_across);
        }
        for (part, side) in self.rig.iter().zip(sides) {
            match side {
                Side::Left => limits = limits.starting_after(part.right()),
                Side::Right => limits = limits.ending_before(part.left()),
                Side::Top | Side::Bottom => {}
            }
        }
        limits
    }

    fn rows(&self, frame: Raster, sides: &[Side]) -> AxisLimits {
        let mut limits = AxisLimits::default().lying_within(0.0, frame.height());
        for subject in self.subjects {
            limits = limits
                .leaving_before(
                    subject.top(),
                    self.headroom.max(self.blocked.top + self.margin_down),
                )
                .leaving_after(subject.bottom(), self.blocked.bottom + self.margin_down);
        }
        if let Some((row, above)) = self.horizon {
            limits = limits.leaving_before(row, above).leaving_after(row, 0.0);
        }
        for (part, side) in self.rig.iter().zip(sides) {
            match side {
                Side::Top => limits = limits.starting_after(part.bottom()),
                Side::Bottom => limits = limits.ending_before(part.top()),
                Side::Left | Side::Right => {}
            }
        }
        limits
    }
}

/// What sums of px lose.
const NOISE_PX: f64 = 1e-6;

/// From where to where a window of a size may start; where rounding alone makes that nowhere, the place between.
fn between(limits: &AxisLimits, size: f64) -> Option<(f64, f64)> {
    match limits.allowed(size) {
        Allowed::Between { from_px, to_px } => Some((from_px, to_px)),
        Allowed::Nowhere { missing_px, wanted_from_px, wanted_to_px } => {
            let middle = f64::midpoint(wanted_from_px, wanted_to_px);
            (missing_px <= NOISE_PX).then_some((middle, middle))
        }
    }
}

/// The px that are missing along an axis at the size at which that is least.
///
/// What two limits lack is a straight line in the size, and the most that any two lack falls and then rises: so that thirds
/// close in on the least.
fn missing(limits: &AxisLimits, mut least: f64, mut greatest: f64) -> f64 {
    /// Each leaves two thirds: nothing of any frame is left after so many.
    const THIRDS: usize = 80;
    let at = |size| match limits.allowed(size) {
        Allowed::Between { .. } => 0.0,
        Allowed::Nowhere { missing_px, .. } => missing_px,
    };
    for _ in 0..THIRDS {
        let third = (greatest - least) / 3.0;
        if at(least + third) > at(greatest - third) {
            least += third;
        } else {
            greatest -= third;
        }
    }
    at(f64::midpoint(least, greatest))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TALL: (u32, u32) = (4000, 3000);

    fn region(left: f64, top: f64, right: f64, bottom: f64) -> Region {
        Region::new(left, top, right - left, bottom - top).unwrap()
    }

    fn wishes<'a>(
        shape: (u32, u32),
        blocked: &'a BlockedZones,
        subjects: &'a [Region],
        rig: &'a [Region],
    ) -> Wishes<'a> {
        Wishes {
            shape: Shape::new(shape.0, shape.1).unwrap(),
            least_width_px: 100.0,
            margin_across: 0.0,
            margin_down: 0.0,
            headroom: 0.0,
            blocked,
            subjects,
            horizon: None,
            rig,
        }
    }

    fn room(wishes: &Wishes<'_>) -> WindowRoom {
        WindowRoom::of(Raster::new(TALL.0, TALL.1).unwrap(), wishes)
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-6, "{a} is not {b}");
    }

    /// A paddler who faces the camera: helmet from row 300, hands down to row 1900, the deck from row 2400 down.
    fn paddler() -> ([Region; 1], [Region; 1]) {
        ([region(1900.0, 300.0, 2100.0, 1900.0)], [region(0.0, 2400.0, 4000.0, 3000.0)])
    }

    #[test]
    fn the_deck_is_kept_out_below_and_the_room_above_is_what_is_left() {
        // By hand: the deck out asks for a top of at most 150, 8 % headroom for at most 300 - 180 = 120.
        let ((subject, deck), none) = (paddler(), BlockedZones::default());
        let film = Wishes { headroom: 0.08, ..wishes((16, 9), &none, &subject, &deck) };
        let WindowRoom::Fits { window, top, .. } = room(&film) else { panic!("there is room") };
        near(window.width(), 4000.0);
        near(top.0, 0.0);
        near(top.1, 120.0);
        // 4:5 with the deck out: 1920 x 2400 from the top, headroom 12.5 %.
        let portrait = wishes((4, 5), &none, &subject, &deck);
        let WindowRoom::Fits { window, .. } = room(&portrait) else { panic!("there is room") };
        near(window.width(), 1920.0);
        near(window.top(), 0.0);
    }

    #[test]
    fn blocked_zones_make_the_largest_window_that_passes_smaller() {
        // By hand: 12 % blocked above a helmet at row 300 is a height of 2500 from the top, 1406.25 wide; with the deck out
        // 2400 and 1350, helmet at 12.5 %, hands at 79.2 % of 80.
        let (subject, deck) = paddler();
        let blocked = BlockedZones { top: 0.12, bottom: 0.20, ..BlockedZones::default() };
        let WindowRoom::Fits { window, .. } = room(&wishes((9, 16), &blocked, &subject, &[]))
        else {
            panic!("there is room")
        };
        near(window.height(), 2500.0);
        near(window.width(), 1406.25);
        let WindowRoom::Fits { window, .. } = room(&wishes((9, 16), &blocked, &subject, &deck))
        else {
            panic!("there is room")
        };
        near(window.height(), 2400.0);
        near(300.0 / window.height(), 0.125);
        assert!(1900.0 / window.height() < 0.80);
        // The full height fails by 60 px of the capture: 0.12 · 3000 = 360 against 300.
        let full = Wishes { least_width_px: 1687.5, ..wishes((9, 16), &blocked, &subject, &[]) };
        let WindowRoom::Lacks(lack) = room(&full) else { panic!("the full height does not fit") };
        near(lack.down_px, 60.0);
        near(lack.across_px, 0.0);
    }

    #[test]
    fn a_horizon_asks_for_room_above_it() {
        // T3: the horizon at row 345.3 with 5 % of 2250 above it asks for a top of at most 232.8.
        let none = BlockedZones::default();
        let film = Wishes { horizon: Some((345.3, 0.05)), ..wishes((16, 9), &none, &[], &[]) };
        let WindowRoom::Fits { top, .. } = room(&film) else { panic!("there is room") };
        near(top.1, 232.8);
    }

    #[test]
    fn what_is_missing_is_told_of_the_size_that_lacks_least() {
        // By hand: rows 787 to 2015 with 17 % above and 25 % below, and a deck from 2400 down. At the height h the top has to be at
        // least 2015 - 0.75 h and at most 787 - 0.17 h and 2400 - h: these meet at h = 1943.4, and there 100.8 px are missing;
        // 215 at 2400, and more below.
        let (subject, deck) =
            ([region(1900.0, 787.0, 2100.0, 2015.0)], [region(0.0, 2400.0, 4000.0, 3000.0)]);
        let blocked = BlockedZones { top: 0.12, bottom: 0.20, ..BlockedZones::default() };
        let vertical = Wishes { margin_down: 0.05, ..wishes((9, 16), &blocked, &subject, &deck) };
        let WindowRoom::Lacks(lack) = room(&vertical) else { panic!("there is no room") };
        assert!((lack.down_px - 100.845).abs() < 0.01, "{lack:?}");
        assert_eq!(lack.rig, Some(Side::Bottom));
    }

    #[test]
    fn two_that_are_too_far_apart_are_told_with_what_is_missing() {
        // T5: 1500 apart, each 300 wide, span 1800: 9:16 is 1687.5, 112.5 short before margins; 4:5 has 300 a side.
        let two = [region(1000.0, 1000.0, 1300.0, 1500.0), region(2500.0, 1000.0, 2800.0, 1500.0)];
        let none = BlockedZones::default();
        let WindowRoom::Lacks(lack) = room(&wishes((9, 16), &none, &two, &[])) else {
            panic!("they do not fit")
        };
        near(lack.across_px, 112.5);
        let WindowRoom::Fits { left, .. } = room(&wishes((4, 5), &none, &two, &[])) else {
            panic!("they fit")
        };
        near(left.1 - left.0, 600.0);
    }

    #[test]
    fn a_shape_that_needs_more_px_than_the_frame_has_lacks_them() {
        let none = BlockedZones::default();
        let large = Wishes { least_width_px: 5000.0, ..wishes((16, 9), &none, &[], &[]) };
        let WindowRoom::Lacks(lack) = room(&large) else { panic!("there are only 4000 px") };
        near(lack.across_px, 1000.0);
    }
}
