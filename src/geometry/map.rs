use super::{Levelling, Raster, Window};
use kurbo::{Affine, Point};

/// A place in the displayed source frame, in px from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SourcePoint {
    /// Px from the left edge.
    pub x: f64,
    /// Px from the top edge.
    pub y: f64,
}

/// A place in the delivered picture, in px from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeliveredPoint {
    /// Px from the left edge.
    pub x: f64,
    /// Px from the top edge.
    pub y: f64,
}

/// Where each point of the displayed source frame lands in the delivered picture at one frame.
///
/// Pictures, hand-off and sharpness all take this map, never a bare rectangle, so that re-projection can join it.
/// Today it is a roll about the source centre, an upright window and a scale: the window's corners land on the
/// delivered picture's corners. The two scales differ only where a window was rounded to whole pixels.
///
/// ```
/// use lookroom::geometry::{DeliveredPoint, OutputFromSource, Raster, SourcePoint, Window};
/// let (capture, vertical) = (Raster::new(4000, 3000)?, Raster::new(1080, 1920)?);
/// let window = Window::inside(capture, (2312.5, 0.0), (1687.5, 3000.0))?;
/// let output_from_source = OutputFromSource::upright(capture, &window, vertical);
/// let centre = output_from_source.map(SourcePoint { x: 3156.25, y: 1500.0 });
/// assert_eq!(centre, DeliveredPoint { x: 540.0, y: 960.0 });
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OutputFromSource {
    affine: Affine,
    scale: (f64, f64),
    levelling: Levelling,
    delivered: Raster,
}

impl OutputFromSource {
    /// The map of an upright window of the displayed picture.
    #[must_use]
    pub fn upright(source: Raster, window: &Window, delivered: Raster) -> Self {
        Self::levelled(&Levelling::none(source), window, delivered)
    }

    /// The map of a window of a levelled picture: rotate about the source centre, scale, move.
    #[must_use]
    pub fn levelled(levelling: &Levelling, window: &Window, delivered: Raster) -> Self {
        let scale @ (scale_x, scale_y) =
            (delivered.width() / window.width(), delivered.height() / window.height());
        let of_window = Affine::new([
            scale_x,
            0.0,
            0.0,
            scale_y,
            -window.left() * scale_x,
            -window.top() * scale_y,
        ]);
        let affine = if levelling.is_none() {
            of_window
        } else {
            let source = levelling.raster();
            let centre = Point::new(source.width() / 2.0, source.height() / 2.0);
            // With y down, a positive angle is clockwise as seen here as well.
            of_window * Affine::rotate_about(levelling.radians(), centre)
        };
        Self { affine, scale, levelling: *levelling, delivered }
    }

    /// Where a source point lands; outside the delivered raster if it is outside the window.
    #[must_use]
    pub fn map(&self, point: SourcePoint) -> DeliveredPoint {
        let mapped = self.affine * Point::new(point.x, point.y);
        DeliveredPoint { x: mapped.x, y: mapped.y }
    }

    /// Which source point is shown at a place of the delivered picture.
    #[must_use]
    pub fn source_of(&self, point: DeliveredPoint) -> SourcePoint {
        let mapped = self.affine.inverse() * Point::new(point.x, point.y);
        SourcePoint { x: mapped.x, y: mapped.y }
    }

    /// Delivered px for each source px, across and down the window.
    #[must_use]
    pub const fn scale(&self) -> (f64, f64) {
        self.scale
    }

    /// By how much the picture is turned about the source centre before it is scaled, in radians, clockwise
    /// positive.
    #[must_use]
    pub const fn roll_radians(&self) -> f64 {
        self.levelling.radians()
    }

    /// Where the source frame's centre lands, from the delivered picture's centre, in delivered px: how far
    /// the *picture* is moved (right and down positive) after it is scaled about the source centre.
    #[must_use]
    pub fn picture_offset_px(&self) -> (f64, f64) {
        let source = self.levelling.raster();
        let centre = self.map(SourcePoint { x: source.width() / 2.0, y: source.height() / 2.0 });
        (centre.x - self.delivered.width() / 2.0, centre.y - self.delivered.height() / 2.0)
    }

    /// The scale across, relative to that which shows the whole source frame inside the delivered raster.
    #[must_use]
    pub fn scale_from_fit(&self) -> f64 {
        let source = self.levelling.raster();
        let fit = (self.delivered.width() / source.width())
            .min(self.delivered.height() / source.height());
        self.scale().0 / fit
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_levelled_map_is_rotate_scale_and_move_in_that_order() {
        let (source, delivered) =
            (Raster::new(4000, 3000).unwrap(), Raster::new(1920, 1080).unwrap());
        let levelling = Levelling::from_degrees(source, 6.0).unwrap();
        let window = Window::inside(source, (500.0, 600.0), (3000.0, 1687.5)).unwrap();
        let map = OutputFromSource::levelled(&levelling, &window, delivered);
        let point = SourcePoint { x: 1234.0, y: 987.0 };
        let (angle, scale, offset) = (map.roll_radians(), map.scale(), map.picture_offset_px());
        // As an editor does it, about the middle of the source and then of the delivered picture.
        let (x, y) = (point.x - 2000.0, point.y - 1500.0);
        let (x, y) = (x * angle.cos() - y * angle.sin(), x * angle.sin() + y * angle.cos());
        let by_hand = (960.0 + x * scale.0 + offset.0, 540.0 + y * scale.1 + offset.1);
        let mapped = map.map(point);
        assert!((mapped.x - by_hand.0).abs() < 1e-9 && (mapped.y - by_hand.1).abs() < 1e-9);
        let back = map.source_of(mapped);
        assert!((back.x - point.x).abs() < 1e-9 && (back.y - point.y).abs() < 1e-9);
        let corner = map.source_of(DeliveredPoint { x: 1920.0, y: 0.0 });
        let expected = levelling.displayed_corners(&window)[1];
        assert!((corner.x - expected.x).abs() < 1e-9 && (corner.y - expected.y).abs() < 1e-9);
    }
}
