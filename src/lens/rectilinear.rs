use super::{FieldOfView, LensError, Span};
use crate::geometry::{Levelling, Orientation, Raster, Region, SourcePoint, Window};

/// A straight-line lens before a frame: its focal length in px, and its axis through the frame's centre.
///
/// ```
/// use lookroom::{geometry::Raster, lens::{FieldOfView, RectilinearLens, Span}};
/// let capture = Raster::new(4000, 3000)?;
/// let lens = RectilinearLens::new(capture, &[FieldOfView::from_degrees(Span::Diagonal, 102.68)?])?;
/// let degrees = |span| format!("{:.2}", lens.field_of_view(span).to_degrees());
/// assert_eq!((degrees(Span::Horizontal), degrees(Span::Vertical)), ("90.00".into(), "73.74".into()));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RectilinearLens {
    raster: Raster,
    focal_px: f64,
}

impl RectilinearLens {
    /// How far two focal lengths may differ and still be one lens: spec sheets round to whole degrees, which is
    /// about 1 % of a usual field of view. Chosen: two of it.
    const SAME_LENS: f64 = 0.02;

    /// The lens that has these fields of view over a frame. Of several, the first counts; the others must agree
    /// with it, within what rounding to whole degrees does.
    ///
    /// # Errors
    /// [`LensError::NoFieldOfView`] without any, [`LensError::Disagree`] if they are not of one lens.
    pub fn new(raster: Raster, fields: &[FieldOfView]) -> Result<Self, LensError> {
        let (first, others) = fields.split_first().ok_or(LensError::NoFieldOfView)?;
        let focal_of = |field: &FieldOfView| {
            let half = field.span().length_px(raster) / 2.0;
            half / (field.degrees().to_radians() / 2.0).tan()
        };
        let lens = Self { raster, focal_px: focal_of(first) };
        match others.iter().find(|o| (focal_of(o) / lens.focal_px - 1.0).abs() > Self::SAME_LENS) {
            None => Ok(lens),
            Some(other) => Err(LensError::Disagree {
                first: first.span(),
                first_degrees: first.degrees(),
                second: other.span(),
                second_degrees: other.degrees(),
                expected_degrees: lens.field_of_view(other.span()).to_degrees(),
            }),
        }
    }

    /// The same lens before the picture that a turn shows: the sides change places, the focal length stays.
    #[must_use]
    pub fn shown(&self, orientation: Orientation) -> Self {
        Self { raster: orientation.shown_raster(self.raster), ..*self }
    }

    /// The lens as a file shows it whose camera cropped inside, so that this share of the width is left: what is
    /// left fills the file's raster, and so each degree has more px: `tan(H'/2) = factor · tan(H/2)`.
    #[must_use]
    pub fn behind_inside_crop(&self, linear_factor: f64) -> Self {
        Self { focal_px: self.focal_px / linear_factor, ..*self }
    }

    /// The frame.
    #[must_use]
    pub const fn raster(&self) -> Raster {
        self.raster
    }

    /// The focal length in px of the frame.
    #[must_use]
    pub const fn focal_px(&self) -> f64 {
        self.focal_px
    }

    /// The field of view along a span, in radians.
    #[must_use]
    pub fn field_of_view(&self, span: Span) -> f64 {
        2.0 * (span.length_px(self.raster) / 2.0 / self.focal_px).atan()
    }

    /// The direction that is seen at a point, as a vector right, down and ahead of any length.
    #[must_use]
    pub fn direction(&self, point: SourcePoint) -> [f64; 3] {
        [point.x - self.raster.width() / 2.0, point.y - self.raster.height() / 2.0, self.focal_px]
    }

    /// Where a direction is seen; `None` if it is not ahead of the lens.
    #[must_use]
    pub fn point(&self, [right, down, ahead]: [f64; 3]) -> Option<SourcePoint> {
        /// Ahead by less than this share of the vector's length a point lies thousands of frames away.
        const LEAST_AHEAD: f64 = 1e-6;
        let length = right.hypot(down).hypot(ahead);
        (ahead > LEAST_AHEAD * length).then(|| SourcePoint {
            x: self.raster.width() / 2.0 + self.focal_px * right / ahead,
            y: self.raster.height() / 2.0 + self.focal_px * down / ahead,
        })
    }

    /// The angle of a column off the axis, in radians: right positive. It holds on the middle row.
    #[must_use]
    pub fn column_angle(&self, x: f64) -> f64 {
        ((x - self.raster.width() / 2.0) / self.focal_px).atan()
    }

    /// The angle of a row off the axis, in radians: down positive. It holds on the middle column.
    #[must_use]
    pub fn row_angle(&self, y: f64) -> f64 {
        ((y - self.raster.height() / 2.0) / self.focal_px).atan()
    }

    /// The angle from one column to another, in radians: right positive.
    #[must_use]
    pub fn angle_across(&self, from_x: f64, to_x: f64) -> f64 {
        self.column_angle(to_x) - self.column_angle(from_x)
    }

    /// The angle from one row to another, in radians: down positive.
    #[must_use]
    pub fn angle_down(&self, from_y: f64, to_y: f64) -> f64 {
        self.row_angle(to_y) - self.row_angle(from_y)
    }

    /// The spare room on each side of a window of a levelled picture in radians: left, top, right, bottom of the
    /// displayed frame, each the difference of the angles of the frame's edge and of the window's corner that is
    /// nearest to it.
    #[must_use]
    pub fn spare_angles(&self, level: &Levelling, window: &Window) -> [f64; 4] {
        let room = level.room(&Region::whole(self.raster), window);
        let (width, height) = (self.raster.width(), self.raster.height());
        [
            self.angle_across(0.0, room.left_px),
            self.angle_down(0.0, room.top_px),
            self.angle_across(width - room.right_px, width),
            self.angle_down(height - room.bottom_px, height),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::QuarterTurn;

    fn lens(raster: Raster, span: Span, degrees: f64) -> Result<RectilinearLens, LensError> {
        RectilinearLens::new(raster, &[FieldOfView::from_degrees(span, degrees)?])
    }

    fn tall() -> RectilinearLens {
        lens(Raster::new(4000, 3000).unwrap(), Span::Horizontal, 90.0).unwrap()
    }

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    #[test]
    fn fields_of_view_are_those_of_the_handbook() {
        // 2·atan(w / 2f) for a 36 mm wide picture: f 18, 24, 50 mm (computed; the formula is the textbook's).
        for (focal, degrees) in [(18.0, 90.0), (24.0, 73.7398), (50.0, 39.5978)] {
            let lens = RectilinearLens { raster: Raster::new(36, 24).unwrap(), focal_px: focal };
            near(lens.field_of_view(Span::Horizontal).to_degrees(), degrees, 5e-5);
        }
        // 90 degrees corner to corner: 16:9 is 82.1492 x 52.2338, 4:3 is 77.3196 x 61.9275 (computed).
        for ((wide, high), across, down) in
            [((1600, 900), 82.1492, 52.2338), ((4000, 3000), 77.3196, 61.9275)]
        {
            let lens = lens(Raster::new(wide, high).unwrap(), Span::Diagonal, 90.0).unwrap();
            near(lens.field_of_view(Span::Horizontal).to_degrees(), across, 5e-5);
            near(lens.field_of_view(Span::Vertical).to_degrees(), down, 5e-5);
        }
    }

    #[test]
    fn points_and_directions_return() {
        let lens = tall();
        near(lens.focal_px(), 2000.0, 1e-9);
        for (x, y) in [(0.0, 0.0), (2000.0, 1500.0), (3999.0, 12.5)] {
            let back = lens.point(lens.direction(SourcePoint { x, y })).unwrap();
            near(back.x, x, 1e-9);
            near(back.y, y, 1e-9);
        }
        assert_eq!(lens.point([1.0, 0.0, 0.0]), None);
        assert_eq!(lens.point([1.0, 0.0, -1.0]), None);
    }

    #[test]
    fn spare_room_in_degrees_is_a_difference_of_edge_angles() {
        // By hand: 36.870 - 29.358 = 7.512 up and down, 45 - 22.874 = 22.126 to the sides.
        let raster = tall().raster();
        let upright = Levelling::none(raster);
        let film = Window::inside(raster, (0.0, 375.0), (4000.0, 2250.0)).unwrap();
        let [left, top, right, bottom] = tall().spare_angles(&upright, &film).map(f64::to_degrees);
        assert_eq!((left, right), (0.0, 0.0));
        near(top, 7.512, 5e-4);
        near(bottom, 7.512, 5e-4);
        let vertical = Window::inside(raster, (1156.25, 0.0), (1687.5, 3000.0)).unwrap();
        near(tall().spare_angles(&upright, &vertical)[0].to_degrees(), 22.126, 5e-4);
        // The shortcut of so many degrees for each px would say 9.22, which is wrong.
        assert!((top - 73.74 / 3000.0 * 375.0).abs() > 1.5);
    }

    #[test]
    fn a_tilt_is_the_angle_between_the_two_rows_themselves() {
        // By hand: atan(0.600) - atan(0.570) = 30.9638 - 29.6831, the rows 1200 and 1140 px above the middle.
        near(tall().angle_down(300.0, 360.0).to_degrees(), 1.2806, 5e-5);
        assert!(tall().angle_down(360.0, 300.0) < 0.0);
    }

    #[test]
    fn a_diagonal_that_is_given_for_a_horizontal_is_told() {
        let raster = Raster::new(4000, 3000).unwrap();
        let field = |span, degrees| FieldOfView::from_degrees(span, degrees).unwrap();
        let (wide, high) = (field(Span::Horizontal, 102.68), field(Span::Vertical, 73.74));
        let told = RectilinearLens::new(raster, &[wide, high]).unwrap_err().to_string();
        assert!(told.contains("makes the vertical one 86.30 degrees"), "{told}");
        let all = [
            field(Span::Horizontal, 90.0),
            field(Span::Vertical, 74.0),
            field(Span::Diagonal, 103.0),
        ];
        assert_eq!(RectilinearLens::new(raster, &all).unwrap(), tall());
        assert_eq!(RectilinearLens::new(raster, &[]), Err(LensError::NoFieldOfView));
    }

    #[test]
    fn a_turn_changes_the_sides_and_an_inside_crop_the_focal_length() {
        let on_its_side = Orientation { turn: QuarterTurn::Clockwise, is_mirrored: false };
        let turned = tall().shown(on_its_side);
        assert_eq!(turned.raster().to_string(), "3000x4000");
        near(turned.field_of_view(Span::Vertical).to_degrees(), 90.0, 1e-9);
        // By hand: 2·atan(0.9·tan 45°) = 83.97.
        let cropped = tall().behind_inside_crop(0.9);
        near(cropped.field_of_view(Span::Horizontal).to_degrees(), 83.97, 5e-3);
    }

    #[test]
    fn an_impossible_field_of_view_is_refused_with_its_range() {
        for degrees in [0.0, -90.0, 180.0, f64::NAN] {
            let refusal =
                FieldOfView::from_degrees(Span::Diagonal, degrees).unwrap_err().to_string();
            assert!(refusal.contains("expected 1 to 170 degrees"), "{refusal}");
        }
    }
}
