use super::{GeometryError, Raster, SourcePoint};

/// A box in capture pixels, in edge coordinates. It may hang over the frame: a subject that leaves does.
///
/// Width and height are above zero and every edge is a finite number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    left: f64,
    top: f64,
    width: f64,
    height: f64,
}

impl Region {
    /// A box from its corner and size. `None` if a size is not above zero or a number is not finite.
    #[must_use]
    pub fn new(left: f64, top: f64, width: f64, height: f64) -> Option<Self> {
        let finite = [left, top, width, height].iter().all(|v| v.is_finite());
        (finite && width > 0.0 && height > 0.0).then_some(Self { left, top, width, height })
    }

    /// The whole of a frame.
    #[must_use]
    pub fn whole(raster: Raster) -> Self {
        Self { left: 0.0, top: 0.0, width: raster.width(), height: raster.height() }
    }

    /// Left edge.
    #[must_use]
    pub const fn left(&self) -> f64 {
        self.left
    }

    /// Top edge.
    #[must_use]
    pub const fn top(&self) -> f64 {
        self.top
    }

    /// Width, above zero.
    #[must_use]
    pub const fn width(&self) -> f64 {
        self.width
    }

    /// Height, above zero.
    #[must_use]
    pub const fn height(&self) -> f64 {
        self.height
    }

    /// Right edge, the first coordinate outside.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// Bottom edge, the first coordinate outside.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Horizontal centre.
    #[must_use]
    pub fn centre_x(&self) -> f64 {
        self.left + self.width / 2.0
    }

    /// Vertical centre.
    #[must_use]
    pub fn centre_y(&self) -> f64 {
        self.top + self.height / 2.0
    }

    /// The middle of the box.
    #[must_use]
    pub fn centre(&self) -> SourcePoint {
        SourcePoint { x: self.centre_x(), y: self.centre_y() }
    }

    /// The box between this one (`share` 0) and another (`share` 1), each edge moved in a straight line.
    #[must_use]
    pub fn between(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + (b - a) * share;
        Self {
            left: mix(self.left, other.left),
            top: mix(self.top, other.top),
            width: mix(self.width, other.width),
            height: mix(self.height, other.height),
        }
    }

    /// The box with the same centre and its sides multiplied by `factor`, which is above zero.
    #[must_use]
    pub fn scaled_about_centre(&self, factor: f64) -> Self {
        let (width, height) = (self.width * factor, self.height * factor);
        Self {
            left: self.centre_x() - width / 2.0,
            top: self.centre_y() - height / 2.0,
            width,
            height,
        }
    }

    /// The box in px that are so many times smaller across and down; both are above zero.
    #[must_use]
    pub fn stretched(&self, across: f64, down: f64) -> Self {
        Self {
            left: self.left * across,
            top: self.top * down,
            width: self.width * across,
            height: self.height * down,
        }
    }

    /// What is left of a frame after so many pixels are trimmed off its edges.
    ///
    /// # Errors
    /// [`GeometryError::OutsideFrame`] if a trim is negative or nothing is left.
    pub fn trimmed(
        raster: Raster,
        left: f64,
        top: f64,
        right: f64,
        bottom: f64,
    ) -> Result<Self, GeometryError> {
        let (width_px, height_px) = (raster.width() - left - right, raster.height() - top - bottom);
        let all_positive = [left, top, right, bottom].iter().all(|trim| *trim >= 0.0);
        Self::new(left, top, width_px, height_px).filter(|_| all_positive).ok_or(
            GeometryError::OutsideFrame { left_px: left, top_px: top, width_px, height_px, raster },
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_without_size_cannot_be_made() {
        assert!(Region::new(0.0, 0.0, 0.0, 5.0).is_none());
        assert!(Region::new(0.0, f64::NAN, 4.0, 5.0).is_none());
    }

    #[test]
    fn halfway_between_two_boxes_is_the_mean_of_their_edges() {
        let (a, b) = (
            Region::new(0.0, 10.0, 10.0, 20.0).unwrap(),
            Region::new(10.0, 20.0, 30.0, 10.0).unwrap(),
        );
        assert_eq!(a.between(&b, 0.5), Region::new(5.0, 15.0, 20.0, 15.0).unwrap());
    }
}
