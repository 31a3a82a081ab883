use super::{GeometryError, Shape};
use std::{fmt, str::FromStr};

/// The size of a whole frame in pixels; neither side is zero.
///
/// ```
/// use lookroom::geometry::Raster;
/// let capture: Raster = "4000x3000".parse()?;
/// assert_eq!(capture.shape().to_string(), "4:3");
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Raster {
    width_px: u32,
    height_px: u32,
}

impl Raster {
    /// The longest side that is read: four times an 8K frame, far below where arithmetic could suffer.
    pub const GREATEST_SIDE_PX: u32 = 32_768;

    /// A raster of this size.
    ///
    /// # Errors
    /// [`GeometryError::RasterSide`] if a side is 0 or above [`Self::GREATEST_SIDE_PX`].
    pub fn new(width_px: u32, height_px: u32) -> Result<Self, GeometryError> {
        for side_px in [width_px, height_px] {
            if side_px == 0 || side_px > Self::GREATEST_SIDE_PX {
                return Err(GeometryError::RasterSide {
                    side_px: side_px.into(),
                    limit_px: Self::GREATEST_SIDE_PX,
                });
            }
        }
        Ok(Self { width_px, height_px })
    }

    /// Width in whole pixels.
    #[must_use]
    pub const fn width_px(self) -> u32 {
        self.width_px
    }

    /// Height in whole pixels.
    #[must_use]
    pub const fn height_px(self) -> u32 {
        self.height_px
    }

    /// Width in pixels, for geometry.
    #[must_use]
    pub fn width(self) -> f64 {
        f64::from(self.width_px)
    }

    /// Height in pixels, for geometry.
    #[must_use]
    pub fn height(self) -> f64 {
        f64::from(self.height_px)
    }

    /// The exact shape.
    ///
    /// # Panics
    /// Never: neither side is zero.
    #[must_use]
    pub fn shape(self) -> Shape {
        Shape::new(self.width_px, self.height_px).expect("a raster has no zero side")
    }
}

impl fmt::Display for Raster {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}x{}", self.width_px, self.height_px)
    }
}

impl FromStr for Raster {
    type Err = GeometryError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let not_a_raster = || GeometryError::NotARaster { text: text.to_owned() };
        let (width, height) = text.trim().split_once(['x', 'X', '×']).ok_or_else(not_a_raster)?;
        let side = |part: &str| part.trim().parse::<u32>().map_err(|_| not_a_raster());
        Self::new(side(width)?, side(height)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_raster_reads_back_as_it_prints() {
        let raster = Raster::new(2704, 2028).unwrap();
        assert_eq!(raster.to_string().parse::<Raster>().unwrap(), raster);
    }

    #[test]
    fn empty_and_endless_sides_are_refused() {
        for text in ["0x100", "100x0", "40000x10", "4000", "x", "4000x", "-1x5", "1e3x5"] {
            assert!(text.parse::<Raster>().is_err(), "{text}");
        }
    }
}
