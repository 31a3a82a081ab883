use super::{Lens, Span};
use crate::geometry::{Levelling, Region, SourcePoint, Window};

/// Angles along the row and the column of the axis, and between points.
impl Lens {
    /// The field of view along a span, in radians; the wider of both diagonals. Where the span reaches beyond the image
    /// circle, from rim to rim.
    #[must_use]
    pub fn field_of_view(&self, span: Span) -> f64 {
        let (width, height) = (self.raster().width(), self.raster().height());
        let Span::Diagonal = span else {
            return match span {
                Span::Horizontal => self.column_within(width) - self.column_within(0.0),
                _ => self.row_within(height) - self.row_within(0.0),
            };
        };
        let rim = self.mapping().greatest_angle();
        let off_axis = |corner| self.off_axis(corner).map_or(rim, |off_axis| off_axis.angle);
        let [upper_left, upper_right, lower_right, lower_left] = self.corners().map(off_axis);
        (upper_left + lower_right).max(upper_right + lower_left)
    }

    /// The angle of a column off the axis, in radians: right positive. It holds on the row of the axis. `None` outside of
    /// the image circle.
    #[must_use]
    pub fn column_angle(&self, x: f64) -> Option<f64> {
        self.signed_angle((x - self.centre().x) / self.focal_px())
    }

    /// The angle of a row off the axis, in radians: down positive. It holds on the column of the axis. `None` outside of
    /// the image circle.
    #[must_use]
    pub fn row_angle(&self, y: f64) -> Option<f64> {
        self.signed_angle((y - self.centre().y) / self.focal_down_px())
    }

    fn signed_angle(&self, radius: f64) -> Option<f64> {
        self.mapping().angle(radius.abs()).map(|angle| angle.copysign(radius))
    }

    /// The angle of a column, or of the rim of the image circle where that is nearer.
    fn column_within(&self, x: f64) -> f64 {
        self.column_angle(x).unwrap_or_else(|| self.rim(x - self.centre().x))
    }

    /// The angle of a row, or of the rim of the image circle where that is nearer.
    fn row_within(&self, y: f64) -> f64 {
        self.row_angle(y).unwrap_or_else(|| self.rim(y - self.centre().y))
    }

    fn rim(&self, side: f64) -> f64 {
        self.mapping().greatest_angle().copysign(side)
    }

    /// The column, on the row of the axis, at which an angle right of the axis is seen, in radians; left is below 0.
    /// `None` where the lens draws nothing of it; a column may lie beyond the frame's edges.
    #[must_use]
    pub fn column_at(&self, angle: f64) -> Option<f64> {
        let radius = self.mapping().radius(angle.abs())?.copysign(angle);
        Some(self.centre().x + self.focal_px() * radius)
    }

    /// The row, on the column of the axis, at which an angle below the axis is seen, in radians; above is below 0. `None`
    /// where the lens draws nothing of it; a row may lie beyond the frame's edges.
    #[must_use]
    pub fn row_at(&self, angle: f64) -> Option<f64> {
        let radius = self.mapping().radius(angle.abs())?.copysign(angle);
        Some(self.centre().y + self.focal_down_px() * radius)
    }

    /// The angle from one column to another, in radians: right positive. `None` if one is outside of the image circle.
    #[must_use]
    pub fn angle_across(&self, from_x: f64, to_x: f64) -> Option<f64> {
        Some(self.column_angle(to_x)? - self.column_angle(from_x)?)
    }

    /// The angle from one row to another, in radians: down positive. `None` if one is outside of the image circle.
    #[must_use]
    pub fn angle_down(&self, from_y: f64, to_y: f64) -> Option<f64> {
        Some(self.row_angle(to_y)? - self.row_angle(from_y)?)
    }

    /// The angle between what is seen at two points, in radians from 0 to π. `None` if one is outside of the image circle.
    #[must_use]
    pub fn angle_between(&self, one: SourcePoint, other: SourcePoint) -> Option<f64> {
        let ([a, b, c], [x, y, z]) = (self.direction(one)?, self.direction(other)?);
        // The cosine alone would lose half of the digits of a small angle.
        let across = (b * z - c * y).hypot(c * x - a * z).hypot(a * y - b * x);
        Some(across.atan2(a * x + b * y + c * z))
    }

    /// The spare room on each side of a window of a levelled picture in radians: left, top, right, bottom of the
    /// displayed frame, each the difference of the angles of the frame's edge and of the window's corner that is
    /// nearest to it, on the row or the column of the axis. Nothing is spare beyond the rim of an image circle.
    #[must_use]
    pub fn spare_angles(&self, level: &Levelling, window: &Window) -> [f64; 4] {
        let room = level.room(&Region::whole(self.raster()), window);
        let (width, height) = (self.raster().width(), self.raster().height());
        [
            self.column_within(room.left_px) - self.column_within(0.0),
            self.row_within(room.top_px) - self.row_within(0.0),
            self.column_within(width) - self.column_within(width - room.right_px),
            self.row_within(height) - self.row_within(height - room.bottom_px),
        ]
    }
}
