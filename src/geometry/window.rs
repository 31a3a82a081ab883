use super::{GeometryError, Raster, Region, Shape, SpareRoom};

/// The part of a frame that is delivered: a box that lies inside its frame.
///
/// In capture pixels, real numbers; a held window is snapped to whole even pixels elsewhere
/// ([`super::snap_size`]). Two windows are compared to the last bit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    region: Region,
}

impl Window {
    /// How far a computed edge may lie over the frame and still be taken for the edge itself. It is above
    /// what double precision loses in these sums and far below what anything can show.
    const EDGE_NOISE_PX: f64 = 1e-6;

    /// A window from its corner and size.
    ///
    /// # Errors
    /// [`GeometryError::OutsideFrame`] if any part of it is outside `[0, W] x [0, H]` or it has no size.
    pub fn inside(
        raster: Raster,
        (left, top): (f64, f64),
        (width, height): (f64, f64),
    ) -> Result<Self, GeometryError> {
        let outside = GeometryError::OutsideFrame {
            left_px: left,
            top_px: top,
            width_px: width,
            height_px: height,
            raster,
        };
        let noise = Self::EDGE_NOISE_PX;
        let region = Region::new(left, top, width, height).ok_or_else(|| outside.clone())?;
        let fits = left >= -noise
            && top >= -noise
            && region.right() <= raster.width() + noise
            && region.bottom() <= raster.height() + noise;
        if !fits {
            return Err(outside);
        }
        let (width, height) = (width.min(raster.width()), height.min(raster.height()));
        let left = left.clamp(0.0, raster.width() - width);
        let top = top.clamp(0.0, raster.height() - height);
        Region::new(left, top, width, height).map(|region| Self { region }).ok_or(outside)
    }

    /// The window of this shape and width about a centre.
    ///
    /// # Errors
    /// As [`Window::inside`].
    pub fn about(
        raster: Raster,
        shape: Shape,
        (centre_x, centre_y): (f64, f64),
        width: f64,
    ) -> Result<Self, GeometryError> {
        let height = shape.height_for(width);
        Self::inside(raster, (centre_x - width / 2.0, centre_y - height / 2.0), (width, height))
    }

    /// The largest window of this shape, in the middle of a frame.
    ///
    /// # Panics
    /// Never: it lies in its frame.
    #[must_use]
    pub fn largest_in_the_middle(raster: Raster, shape: Shape) -> Self {
        let (width, _) = largest_window(raster, shape);
        Self::about(raster, shape, (raster.width() / 2.0, raster.height() / 2.0), width)
            .expect("the largest window lies in the middle of its frame")
    }

    /// The window as a box.
    #[must_use]
    pub const fn region(&self) -> &Region {
        &self.region
    }

    /// Left edge.
    #[must_use]
    pub const fn left(&self) -> f64 {
        self.region.left()
    }

    /// Top edge.
    #[must_use]
    pub const fn top(&self) -> f64 {
        self.region.top()
    }

    /// Width.
    #[must_use]
    pub const fn width(&self) -> f64 {
        self.region.width()
    }

    /// Height.
    #[must_use]
    pub const fn height(&self) -> f64 {
        self.region.height()
    }

    /// Right edge, the first coordinate outside.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.region.right()
    }

    /// Bottom edge, the first coordinate outside.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.region.bottom()
    }

    /// Horizontal centre.
    #[must_use]
    pub fn centre_x(&self) -> f64 {
        self.region.centre_x()
    }

    /// Vertical centre.
    #[must_use]
    pub fn centre_y(&self) -> f64 {
        self.region.centre_y()
    }

    /// What is left of the frame outside the window.
    #[must_use]
    pub fn spare_room(&self, raster: Raster) -> SpareRoom {
        SpareRoom {
            left_px: self.left(),
            top_px: self.top(),
            right_px: raster.width() - self.right(),
            bottom_px: raster.height() - self.bottom(),
        }
    }
}

/// The size of the largest window of a shape inside a frame, as width and height in px, before rounding.
///
/// ```
/// use lookroom::geometry::{Raster, Shape, largest_window};
/// let capture = Raster::new(4000, 3000)?;
/// assert_eq!(largest_window(capture, "16:9".parse()?), (4000.0, 2250.0));
/// assert_eq!(largest_window(capture, "9:16".parse()?), (1687.5, 3000.0));
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[must_use]
pub fn largest_window(raster: Raster, shape: Shape) -> (f64, f64) {
    if raster.shape().width_over_height() <= shape.width_over_height() {
        (raster.width(), shape.height_for(raster.width()))
    } else {
        (shape.width_for(raster.height()), raster.height())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_over_the_edge_is_refused_not_clamped() {
        let raster = Raster::new(4000, 3000).unwrap();
        assert!(Window::inside(raster, (2312.6, 0.0), (1687.5, 3000.0)).is_err());
        assert!(Window::inside(raster, (2312.5, 0.0), (1687.5, 3000.0)).is_ok());
    }

    #[test]
    fn spare_room_and_window_add_up_to_the_frame() {
        let raster = Raster::new(4000, 3000).unwrap();
        let window = Window::inside(raster, (0.0, 375.0), (4000.0, 2250.0)).unwrap();
        let spare = window.spare_room(raster);
        assert_eq!(spare.top_px + window.height() + spare.bottom_px, 3000.0);
    }
}
