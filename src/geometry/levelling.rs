use super::{
    GeometryError, HalfPlane, Raster, Region, Rounding, Shape, SnappedSize, SourcePoint, SpareRoom,
    Window, snap_size,
};

/// A displayed picture turned about its centre by a few degrees, so that it stands level.
///
/// Clockwise as seen is positive: a picture whose horizon falls to the left is turned by a positive roll. The
/// levelled picture has the px of the displayed one and the same centre, `(W/2, H/2)`; the displayed frame lies in
/// it as a turned rectangle, and windows are upright in it.
///
/// ```
/// use lookroom::geometry::{Levelling, Raster, Region};
/// let capture = Raster::new(4000, 3000)?;
/// let level = Levelling::from_degrees(capture, 6.0)?;
/// let (width, height) = level.largest_window(&Region::whole(capture), "16:9".parse()?);
/// assert_eq!((format!("{width:.1}"), format!("{height:.1}")), ("3797.5".into(), "2136.1".into()));
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levelling {
    raster: Raster,
    radians: f64,
    /// Cosine and sine of the angle.
    turn: (f64, f64),
}

impl Levelling {
    /// The greatest roll, either way: beyond it a quarter turn is nearer to level.
    pub const GREATEST_DEGREES: f64 = 45.0;

    /// What the sums lose, far below what anything can show.
    const EDGE_NOISE_PX: f64 = 1e-6;

    /// No roll: the levelled picture is the displayed one.
    #[must_use]
    pub const fn none(raster: Raster) -> Self {
        Self { raster, radians: 0.0, turn: (1.0, 0.0) }
    }

    /// The roll by so many radians, clockwise positive.
    ///
    /// # Errors
    /// [`GeometryError::Level`] if it is not a number or beyond [`Self::GREATEST_DEGREES`] either way.
    pub fn new(raster: Raster, radians: f64) -> Result<Self, GeometryError> {
        let limit = Self::GREATEST_DEGREES.to_radians();
        if radians.is_nan() || radians.abs() > limit {
            return Err(GeometryError::Level { degrees: radians.to_degrees() });
        }
        Ok(Self { raster, radians, turn: (radians.cos(), radians.sin()) })
    }

    /// The roll by so many degrees, clockwise positive.
    ///
    /// # Errors
    /// As [`Levelling::new`].
    pub fn from_degrees(raster: Raster, degrees: f64) -> Result<Self, GeometryError> {
        if degrees.abs() > Self::GREATEST_DEGREES {
            return Err(GeometryError::Level { degrees });
        }
        Self::new(raster, degrees.to_radians())
    }

    /// The displayed frame.
    #[must_use]
    pub const fn raster(&self) -> Raster {
        self.raster
    }

    /// By how much the picture is turned, in radians, clockwise positive.
    #[must_use]
    pub const fn radians(&self) -> f64 {
        self.radians
    }

    /// Whether nothing is turned.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.turn.1.abs() <= 0.0
    }

    /// Where a point of the displayed picture is in the levelled one.
    #[must_use]
    pub fn levelled(&self, displayed: SourcePoint) -> SourcePoint {
        self.turned(displayed, self.turn.1)
    }

    /// Where a point of the levelled picture is in the displayed one.
    #[must_use]
    pub fn displayed(&self, levelled: SourcePoint) -> SourcePoint {
        self.turned(levelled, -self.turn.1)
    }

    fn turned(&self, point: SourcePoint, sine: f64) -> SourcePoint {
        if self.is_none() {
            return point;
        }
        let (middle_x, middle_y) = self.middle();
        let (across, down) = (point.x - middle_x, point.y - middle_y);
        // With y down, this turns clockwise as seen.
        SourcePoint {
            x: middle_x + across * self.turn.0 - down * sine,
            y: middle_y + across * sine + down * self.turn.0,
        }
    }

    fn middle(&self) -> (f64, f64) {
        (self.raster.width() / 2.0, self.raster.height() / 2.0)
    }

    /// The way of a step in the displayed picture, as it is in the levelled one.
    #[must_use]
    pub fn levelled_step(&self, (across, down): (f64, f64)) -> (f64, f64) {
        let (cosine, sine) = self.turn;
        (across * cosine - down * sine, across * sine + down * cosine)
    }

    /// The upright box in the levelled picture round a box of the displayed one: the hull of its four corners,
    /// so that nothing of the box is outside it.
    #[must_use]
    pub fn levelled_hull(&self, displayed: &Region) -> Region {
        if self.is_none() {
            return *displayed;
        }
        let (cosine, sine) = (self.turn.0.abs(), self.turn.1.abs());
        let width = displayed.width() * cosine + displayed.height() * sine;
        let height = displayed.width() * sine + displayed.height() * cosine;
        let centre = self.levelled(displayed.centre());
        Region::new(centre.x - width / 2.0, centre.y - height / 2.0, width, height)
            .unwrap_or(*displayed)
    }

    /// The corners of a window of the levelled picture as they lie in the displayed one: clockwise from the
    /// upper left.
    #[must_use]
    pub fn displayed_corners(&self, window: &Window) -> [SourcePoint; 4] {
        [
            (window.left(), window.top()),
            (window.right(), window.top()),
            (window.right(), window.bottom()),
            (window.left(), window.bottom()),
        ]
        .map(|(x, y)| self.displayed(SourcePoint { x, y }))
    }

    /// What windows of the levelled picture may use, where a box of the displayed one may be used: left, top,
    /// right and bottom edge of that box, turned.
    #[must_use]
    pub fn edges(&self, usable: &Region) -> [HalfPlane; 4] {
        let (middle_x, middle_y) = self.middle();
        let (cosine, sine) = self.turn;
        let edge = |(across, down): (f64, f64), reach: f64| {
            let (turned_across, turned_down) =
                (across * cosine - down * sine, across * sine + down * cosine);
            let from_middle = reach - across * middle_x - down * middle_y;
            HalfPlane {
                across: turned_across,
                down: turned_down,
                reach_px: from_middle + turned_across * middle_x + turned_down * middle_y,
            }
        };
        [
            edge((-1.0, 0.0), -usable.left()),
            edge((0.0, -1.0), -usable.top()),
            edge((1.0, 0.0), usable.right()),
            edge((0.0, 1.0), usable.bottom()),
        ]
    }

    /// The size of the largest window of a shape in the levelled picture, as width and height in px before
    /// rounding: `s·(a, b)` with `s = min(W / (a cos + b sin), H / (a sin + b cos))` for a shape of `a` by `b` and a
    /// usable box of `W` by `H`. Its centre is where the usable box's is.
    #[must_use]
    pub fn largest_window(&self, usable: &Region, shape: Shape) -> (f64, f64) {
        let (cosine, sine) = (self.turn.0.abs(), self.turn.1.abs());
        let high = shape.height_for(1.0);
        let width =
            (usable.width() / (cosine + high * sine)).min(usable.height() / (sine + high * cosine));
        (width, shape.height_for(width))
    }

    /// The size of a window of a shape in the levelled picture after rounding: that of [`snap_size`], and two px
    /// less while a side that was rounded up hangs over the turned edge.
    ///
    /// # Errors
    /// [`GeometryError::NoRoundedSize`] if nothing above 0 px is left.
    pub fn snapped_size(
        &self,
        rounding: Rounding,
        shape: Shape,
        width_px: f64,
    ) -> Result<SnappedSize, GeometryError> {
        let greatest = (self.raster.width(), self.raster.height());
        let (cosine, sine) = (self.turn.0.abs(), self.turn.1.abs());
        let mut size = snap_size(rounding, shape, width_px, greatest)?;
        let has_room = |size: &SnappedSize| {
            let (width, height) = (size.width_px, size.height_px);
            width * cosine + height * sine <= greatest.0 + Self::EDGE_NOISE_PX
                && width * sine + height * cosine <= greatest.1 + Self::EDGE_NOISE_PX
        };
        while !has_room(&size) {
            size = snap_size(rounding, shape, size.width_px - 2.0, greatest)?;
        }
        Ok(size)
    }

    /// The window of the levelled picture with this corner and size.
    ///
    /// # Errors
    /// [`GeometryError::OutsideFrame`] as [`Window::inside`], and [`GeometryError::OutsideTurnedFrame`] if it hangs
    /// over an edge of the turned frame.
    pub fn window(&self, corner: (f64, f64), size: (f64, f64)) -> Result<Window, GeometryError> {
        let window = Window::inside(self.raster, corner, size)?;
        let over_px = -self.room(&Region::whole(self.raster), &window).least_px();
        if over_px > Self::EDGE_NOISE_PX {
            return Err(GeometryError::OutsideTurnedFrame {
                left_px: corner.0,
                top_px: corner.1,
                width_px: size.0,
                height_px: size.1,
                raster: self.raster,
                degrees: self.radians.to_degrees(),
                over_px,
            });
        }
        Ok(window)
    }

    /// The room between a window of the levelled picture and each edge of the turned box that may be used, in
    /// px at right angles to the edge. Below 0 the window hangs over that edge.
    #[must_use]
    pub fn room(&self, usable: &Region, window: &Window) -> SpareRoom {
        let [left_px, top_px, right_px, bottom_px] =
            self.edges(usable).map(|edge| edge.room_px(window));
        SpareRoom { left_px, top_px, right_px, bottom_px }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn capture() -> Raster {
        Raster::new(4000, 3000).unwrap()
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9, "{a} is not {b}");
    }

    #[test]
    fn a_positive_roll_turns_the_picture_clockwise_as_seen() {
        let level = Levelling::from_degrees(capture(), 30.0).unwrap();
        // 1000 px right of the centre goes down by half of that: by hand, sin 30° = 1/2.
        let right = level.levelled(SourcePoint { x: 3000.0, y: 1500.0 });
        near(right.y, 2000.0);
        near(right.x, 2000.0 + 1000.0 * 0.75_f64.sqrt());
        let back = level.displayed(right);
        near(back.x, 3000.0);
        near(back.y, 1500.0);
    }

    #[test]
    fn a_window_is_inside_the_turned_edges_exactly_where_its_corners_are_inside_the_frame() {
        let whole = Region::whole(capture());
        // A grid of places and rolls with fixed steps: some inside, some not.
        let (mut inside, mut outside) = (0, 0);
        for degrees in [-20.0, -6.0, 0.0, 1.0, 6.0, 44.0] {
            let level = Levelling::from_degrees(capture(), degrees).unwrap();
            for step in 0..400_u32 {
                let left = f64::from(step % 20) * 130.0;
                let top = f64::from(step / 20) * 90.0;
                let window = Window::inside(capture(), (left, top), (1400.0, 1000.0)).unwrap();
                let least = level.room(&whole, &window).least_px();
                let corners_inside = level.displayed_corners(&window).iter().all(|corner| {
                    (0.0..=4000.0).contains(&corner.x) && (0.0..=3000.0).contains(&corner.y)
                });
                if least.abs() > 1e-6 {
                    assert_eq!(least > 0.0, corners_inside, "{degrees} {window:?}");
                    if corners_inside { inside += 1 } else { outside += 1 }
                }
            }
        }
        assert!(inside > 100 && outside > 100, "{inside} {outside}");
    }

    #[test]
    fn the_largest_window_touches_two_edges_and_no_larger_one_fits_anywhere() {
        let whole = Region::whole(capture());
        for (shape, degrees) in [("16:9", 6.0), ("9:16", 6.0), ("1:1", -10.0), ("4:5", 3.0)] {
            let (shape, level) =
                (shape.parse().unwrap(), Levelling::from_degrees(capture(), degrees).unwrap());
            let (width, _) = level.largest_window(&whole, shape);
            let window = Window::about(capture(), shape, (2000.0, 1500.0), width).unwrap();
            let room = level.room(&whole, &window);
            near(room.left_px.min(room.top_px), 0.0);
            near(room.left_px, room.right_px);
            near(room.top_px, room.bottom_px);
        }
    }

    #[test]
    fn the_hull_of_a_box_holds_its_corners_and_touches_them() {
        let level = Levelling::from_degrees(capture(), 6.0).unwrap();
        let mark = Region::new(500.0, 700.0, 300.0, 900.0).unwrap();
        let hull = level.levelled_hull(&mark);
        let corners = [(500.0, 700.0), (800.0, 700.0), (800.0, 1600.0), (500.0, 1600.0)]
            .map(|(x, y)| level.levelled(SourcePoint { x, y }));
        let least = |of: fn(&SourcePoint) -> f64| corners.iter().map(of).fold(f64::MAX, f64::min);
        let most = |of: fn(&SourcePoint) -> f64| corners.iter().map(of).fold(f64::MIN, f64::max);
        near(hull.left(), least(|p| p.x));
        near(hull.top(), least(|p| p.y));
        near(hull.right(), most(|p| p.x));
        near(hull.bottom(), most(|p| p.y));
        assert_eq!(Levelling::none(capture()).levelled_hull(&mark), mark);
    }

    #[test]
    fn a_roll_beyond_half_a_quarter_is_refused_with_its_limit() {
        for degrees in [45.1, -46.0, f64::NAN, f64::INFINITY] {
            let refusal = Levelling::from_degrees(capture(), degrees).unwrap_err().to_string();
            assert!(refusal.contains("-45 to 45"), "{refusal}");
        }
        assert!(Levelling::from_degrees(capture(), -45.0).is_ok());
    }
}
