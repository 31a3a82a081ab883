use super::{Horizon, clear::clear_places};
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
    /// Boxes of subjects, in px, through every lens; they may hang over the frame's edges, and then no window holds them.
    pub subjects: &'a [Region],
    /// The horizon through every lens, and the least share of the window's height above it, if it has to be inside: over the
    /// whole of the window's width.
    pub horizon: Option<(&'a [Horizon], f64)>,
    /// Boxes that have to be outside: parts of the rig.
    pub rig: &'a [Region],
}

/// The room that a window has: where it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WindowRoom {
    /// It keeps everything.
    Fits {
        /// The largest that does, as near to the frame's middle as it may be, not rounded.
        window: Window,
        /// From where to where its left edge may be, in px; a horizon that slopes or is bent apart.
        left: (f64, f64),
        /// From where to where its top edge may be in those columns, in px.
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
}

impl Lack {
    fn total(&self) -> f64 {
        self.across_px + self.down_px
    }

    /// What a window lacks where nothing of a frame is left for it.
    pub(super) fn everything(frame: Raster) -> Self {
        Self { across_px: 0.0, down_px: frame.height() }
    }
}

impl WindowRoom {
    /// The room of a window in a frame: in the place clear of the rig in which it can be largest.
    ///
    /// A horizon that is bent and slopes as well is tried at the ends and in the middle of the columns that a window may have,
    /// and not between.
    #[must_use]
    pub fn of(frame: Raster, wishes: &Wishes<'_>) -> Self {
        let places: Vec<Placing<'_>> = wishes.placings(frame);
        let mut best: Option<(Self, f64)> = None;
        for placing in &places {
            let Some((room, width)) = placing.room() else { continue };
            if best.is_none_or(|(_, other)| width > other) {
                best = Some((room, width));
            }
        }
        let least_lack = || {
            let lacks = places.iter().map(Placing::lack);
            // One that lacks nothing each way by itself lacks room both ways at once, which no px tell.
            let counted = |lack: &Lack| if lack.total() > 0.0 { lack.total() } else { f64::MAX };
            let least = lacks.reduce(|a, b| if counted(&b) < counted(&a) { b } else { a });
            Self::Lacks(least.unwrap_or(Lack::everything(frame)))
        };
        best.map_or_else(least_lack, |(room, _)| room)
    }

    /// Whether a window has room in a frame, and nothing else: as [`WindowRoom::of`], and much sooner.
    #[must_use]
    pub fn is_there(frame: Raster, wishes: &Wishes<'_>) -> bool {
        wishes.placings(frame).iter().any(Placing::has_room)
    }

    /// The window, if there is one.
    #[must_use]
    pub const fn window(&self) -> Option<&Window> {
        match self {
            Self::Fits { window, .. } => Some(window),
            Self::Lacks(_) => None,
        }
    }
}

impl Wishes<'_> {
    fn placings(&self, frame: Raster) -> Vec<Placing<'_>> {
        let placing = |place: &Region| Placing {
            wishes: self,
            frame,
            place: *place,
            columns: self.columns(place),
            rows: self.rows(place),
        };
        clear_places(frame, self.rig).iter().map(placing).collect()
    }

    fn columns(&self, place: &Region) -> AxisLimits {
        let within = AxisLimits::default().lying_within(place.left(), place.right());
        self.subjects.iter().fold(within, |limits, subject| {
            limits
                .leaving_before(subject.left(), self.blocked.left + self.margin_across)
                .leaving_after(subject.right(), self.blocked.right + self.margin_across)
        })
    }

    /// The horizon apart.
    fn rows(&self, place: &Region) -> AxisLimits {
        let within = AxisLimits::default().lying_within(place.top(), place.bottom());
        let above = self.headroom.max(self.blocked.top + self.margin_down);
        let below = self.blocked.bottom + self.margin_down;
        self.subjects.iter().fold(within, |limits, subject| {
            limits.leaving_before(subject.top(), above).leaving_after(subject.bottom(), below)
        })
    }
}

/// What sums of px lose.
const NOISE_PX: f64 = 1e-6;

/// A window in one place that is clear of the rig.
struct Placing<'a> {
    wishes: &'a Wishes<'a>,
    frame: Raster,
    place: Region,
    columns: AxisLimits,
    /// The horizon apart.
    rows: AxisLimits,
}

/// Which of the columns that it may have a window takes.
#[derive(Clone, Copy)]
enum Lean {
    Middle,
    Left,
    Right,
}

impl Placing<'_> {
    /// The least and the greatest width that is looked at; the least may be the greater.
    fn widths(&self) -> (f64, f64) {
        let greatest = self.frame.width().min(self.height_to_width(self.frame.height()));
        // What sums of px lose is no lack.
        ((self.wishes.least_width_px - NOISE_PX).max(NOISE_PX), greatest)
    }

    fn height_to_width(&self, height: f64) -> f64 {
        self.wishes.shape.width_for(height)
    }

    fn height(&self, width: f64) -> f64 {
        self.wishes.shape.height_for(width)
    }

    fn has_room(&self) -> bool {
        let Some((all, wide)) = self.horizon_anywhere() else {
            return self.largest(&self.rows).is_some();
        };
        // Where it is level all over the place, or leaves room even so, the columns need not be known.
        self.largest(&all).is_some() || (self.largest(&wide).is_some() && self.room().is_some())
    }

    /// Rows that keep the horizon of every column of the place, and rows that keep at least that of some column.
    fn horizon_anywhere(&self) -> Option<(AxisLimits, AxisLimits)> {
        let (horizons, above) = self.wishes.horizon?;
        let (from, to) = (self.place.left(), self.place.right());
        let (mut all, mut wide) = (self.rows.clone(), self.rows.clone());
        for horizon in horizons {
            let (highest, lowest) = horizon.rows(from, to).unwrap_or(BEYOND_PX);
            all = all.leaving_before(highest, above).leaving_after(lowest, 0.0);
            wide = wide.leaving_before(lowest, above).leaving_after(highest, 0.0);
        }
        Some((all, wide))
    }

    /// The largest width that columns and rows leave a window.
    fn largest(&self, rows: &AxisLimits) -> Option<f64> {
        let (least, greatest) = self.widths();
        if least > greatest {
            return None;
        }
        let widths = self.columns.sizes(least, greatest);
        let heights = rows.sizes(self.height(least), self.height(greatest));
        let ((least, greatest), (low, high)) = (widths?, heights?);
        let width = greatest.min(self.height_to_width(high));
        (width >= least.max(self.height_to_width(low))).then_some(width)
    }

    /// The room of the largest window, and its width.
    fn room(&self) -> Option<(WindowRoom, f64)> {
        match self.horizon_anywhere() {
            None => self.placed(self.largest(&self.rows)?, Lean::Middle),
            Some((all, wide)) => {
                // The least that is to be kept bounds the width; that it can be had is looked at first.
                let bound = self.largest(&wide)?;
                if self.largest(&all).is_some_and(|width| width >= bound) {
                    return self.placed(bound, Lean::Middle);
                }
                let leans = [Lean::Middle, Lean::Left, Lean::Right].into_iter();
                let found = leans.filter_map(|lean| self.placed(self.widest(bound, lean)?, lean));
                found.reduce(|best, other| if other.1 > best.1 + NOISE_PX { other } else { best })
            }
        }
    }

    /// The largest width up to a bound at which the horizon lies inside over all of it.
    ///
    /// What is missing falls and then rises with the width: so that thirds find the least of it, and halves from there how far
    /// nothing is missing.
    fn widest(&self, bound: f64, lean: Lean) -> Option<f64> {
        const HALVINGS: usize = 50;
        let missing = |width: f64| {
            missing_at(&self.columns, width)
                + missing_at(&self.rows_at(width, lean), self.height(width))
        };
        if missing(bound) <= NOISE_PX {
            return Some(bound);
        }
        let mut fitting = least_of(self.widths().0, bound, &missing);
        if missing(fitting) > NOISE_PX {
            return None;
        }
        let mut beyond = bound;
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(fitting, beyond);
            if missing(middle) <= NOISE_PX { fitting = middle } else { beyond = middle }
        }
        Some(fitting)
    }

    /// Where a window of a width begins.
    fn left(&self, width: f64, lean: Lean) -> f64 {
        let (from, to) = match self.columns.allowed(width) {
            Allowed::Between { from_px, to_px } => (from_px, to_px),
            Allowed::Nowhere { wanted_from_px, wanted_to_px, .. } => {
                let middle = f64::midpoint(wanted_from_px, wanted_to_px);
                (middle, middle)
            }
        };
        match lean {
            Lean::Middle => ((self.frame.width() - width) / 2.0).clamp(from, to),
            Lean::Left => from,
            Lean::Right => to,
        }
    }

    /// The rows with the horizon of the columns that a window of a width has.
    fn rows_at(&self, width: f64, lean: Lean) -> AxisLimits {
        let Some((horizons, above)) = self.wishes.horizon else { return self.rows.clone() };
        let left = self.left(width, lean);
        horizons.iter().fold(self.rows.clone(), |limits, horizon| {
            // Where the lens draws it in none of these columns, it cannot lie inside.
            let (highest, lowest) = horizon.rows(left, left + width).unwrap_or(BEYOND_PX);
            limits.leaving_before(highest, above).leaving_after(lowest, 0.0)
        })
    }

    fn placed(&self, width: f64, lean: Lean) -> Option<(WindowRoom, f64)> {
        let height = self.height(width);
        let left = between(&self.columns, width)?;
        let top = between(&self.rows_at(width, lean), height)?;
        let corner = (
            self.left(width, lean).clamp(left.0, left.1),
            ((self.frame.height() - height) / 2.0).clamp(top.0, top.1),
        );
        let window = Window::inside(self.frame, corner, (width, height)).ok()?;
        Some((WindowRoom::Fits { window, left, top }, width))
    }

    fn lack(&self) -> Lack {
        let (wanted, greatest) = self.widths();
        let least = wanted.min(greatest);
        let across = |width: f64| missing_at(&self.columns, width);
        let down = |width: f64| missing_at(&self.rows_at(width, Lean::Middle), self.height(width));
        let too_few = (self.wishes.least_width_px - greatest).max(0.0);
        Lack {
            across_px: across(least_of(least, greatest, &across)).max(too_few),
            down_px: down(least_of(least, greatest, &down)).min(self.frame.height()),
        }
    }
}

/// Rows of a horizon that is drawn nowhere.
const BEYOND_PX: (f64, f64) = (-1e9, 1e9);

/// From where to where a window of a size may start; where rounding alone makes that nowhere, the place between.
fn between(limits: &AxisLimits, size: f64) -> Option<(f64, f64)> {
    match limits.allowed(size) {
        Allowed::Between { from_px, to_px } => Some((from_px, to_px)),
        Allowed::Nowhere { missing_px, wanted_from_px, wanted_to_px } => {
            let middle = f64::midpoint(wanted_from_px, wanted_to_px);
            (missing_px <= 2.0 * NOISE_PX).then_some((middle, middle))
        }
    }
}

/// The px that are missing along an axis at a size.
fn missing_at(limits: &AxisLimits, size: f64) -> f64 {
    match limits.allowed(size) {
        Allowed::Between { .. } => 0.0,
        Allowed::Nowhere { missing_px, .. } => missing_px,
    }
}

/// The size at which least is missing.
///
/// What two limits lack is a straight line in the size, and the most that any two lack falls and then rises: so that thirds
/// close in on the least.
fn least_of(mut least: f64, mut greatest: f64, missing: &impl Fn(f64) -> f64) -> f64 {
    /// Each leaves two thirds: nothing of any frame is left after so many.
    const THIRDS: usize = 80;
    for _ in 0..THIRDS {
        let third = (greatest - least) / 3.0;
        if third <= NOISE_PX / 10.0 {
            break;
        }
        if missing(least + third) > missing(greatest - third) {
            least += third;
        } else {
            greatest -= third;
        }
    }
    f64::midpoint(least, greatest)
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
        let (none, level) = (BlockedZones::default(), [Horizon::level(345.3)]);
        let film = Wishes { horizon: Some((&level, 0.05)), ..wishes((16, 9), &none, &[], &[]) };
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

    #[test]
    fn a_sloping_horizon_lies_inside_over_all_of_the_width() {
        // By hand: 300 px down in the middle of a 4000 px wide frame, 0.05 lower for each px to the right: 200 to 400. Over the
        // whole width 2 % of 2250 above the highest row is a top of at most 200 - 45 = 155, not the 255 of the middle.
        let sloping = [Horizon::through((0.0, 200.0), (4000.0, 400.0))];
        let none = BlockedZones::default();
        let film = Wishes { horizon: Some((&sloping, 0.02)), ..wishes((16, 9), &none, &[], &[]) };
        let WindowRoom::Fits { window, top, .. } = room(&film) else { panic!("there is room") };
        near(window.width(), 4000.0);
        near(top.1, 155.0);
        // In 9:16 only 1687.5 columns count: 300 - 0.05 · 843.75 = 257.8 less 2 % of 3000, which leaves a top of 197.8; the frame
        // leaves 0.
        let tall = Wishes { horizon: Some((&sloping, 0.02)), ..wishes((9, 16), &none, &[], &[]) };
        let WindowRoom::Fits { top, .. } = room(&tall) else { panic!("there is room") };
        near(top.1, 0.0);
        assert!(WindowRoom::is_there(Raster::new(4000, 3000).unwrap(), &tall));
    }

    #[test]
    fn a_window_is_made_smaller_until_a_sloping_horizon_lies_inside() {
        // By hand: 50 px down in the middle, 0.05 lower for each px to the right: over a window of the width w about the middle
        // its highest row is 50 - 0.025 w. With a twentieth of the height 9/16 w above it the top is at 50 - 0.053125 w, which is
        // inside up to w = 941.18.
        let sloping = [Horizon::through((0.0, -50.0), (4000.0, 150.0))];
        let none = BlockedZones::default();
        let film = Wishes { horizon: Some((&sloping, 0.05)), ..wishes((16, 9), &none, &[], &[]) };
        // Leaning to the right, where it lies lower, the window may be wider: its left edge at 4000 - w has the row 150 - 0.05 w,
        // less 0.028125 w: w = 1920.
        let WindowRoom::Fits { window, .. } = room(&film) else { panic!("there is room") };
        assert!((window.width() - 1920.0).abs() < 1e-3, "{window:?}");
        assert!((window.right() - 4000.0).abs() < 1e-3, "{window:?}");
        let large = Wishes { least_width_px: 1921.0, ..film };
        assert!(matches!(room(&large), WindowRoom::Lacks(lack) if lack.down_px > 0.0));
        assert!(!WindowRoom::is_there(Raster::new(4000, 3000).unwrap(), &large));
    }

    #[test]
    fn any_number_of_parts_is_kept_out_on_its_own_side() {
        // Four strips of the deck below and the edge of a visor above: 100 to 2600 are left, 16:9 as wide as the frame.
        let strip = |place: u32| {
            let left = 1000.0 * f64::from(place);
            region(left, 2600.0, left + 1000.0, 3000.0)
        };
        let mut rig: Vec<Region> = (0..4).map(strip).collect();
        rig.push(region(0.0, 0.0, 4000.0, 100.0));
        let none = BlockedZones::default();
        let WindowRoom::Fits { window, top, .. } = room(&wishes((16, 9), &none, &[], &rig)) else {
            panic!("there is room")
        };
        near(window.width(), 4000.0);
        near(top.0, 100.0);
        near(top.1, 350.0);
    }
}
