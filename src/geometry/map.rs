use super::{Raster, Window};
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
/// Pictures, hand-off and sharpness all take this map, never a bare rectangle, so that levelling and
/// re-projection can join it. Today it is an upright window and a scale: the window's corners land on the
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
    source: Raster,
    delivered: Raster,
}

impl OutputFromSource {
    /// The map of an upright window.
    #[must_use]
    pub fn upright(source: Raster, window: &Window, delivered: Raster) -> Self {
        let (scale_x, scale_y) =
            (delivered.width() / window.width(), delivered.height() / window.height());
        let affine = Affine::new([
            scale_x,
            0.0,
            0.0,
            scale_y,
            -window.left() * scale_x,
            -window.top() * scale_y,
        ]);
        Self { affine, source, delivered }
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

    /// Delivered px for each source px, across and down.
    #[must_use]
    pub fn scale(&self) -> (f64, f64) {
        let [scale_x, _, _, scale_y, ..] = self.affine.as_coeffs();
        (scale_x, scale_y)
    }

    /// Where the source frame's centre lands, from the delivered picture's centre, in delivered px: how far
    /// the *picture* is moved (right and down positive) after it is scaled about the source centre.
    #[must_use]
    pub fn picture_offset_px(&self) -> (f64, f64) {
        let centre =
            self.map(SourcePoint { x: self.source.width() / 2.0, y: self.source.height() / 2.0 });
        (centre.x - self.delivered.width() / 2.0, centre.y - self.delivered.height() / 2.0)
    }

    /// The scale across, relative to that which shows the whole source frame inside the delivered raster.
    #[must_use]
    pub fn scale_from_fit(&self) -> f64 {
        let fit = (self.delivered.width() / self.source.width())
            .min(self.delivered.height() / self.source.height());
        self.scale().0 / fit
    }
}
