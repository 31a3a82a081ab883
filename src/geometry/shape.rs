use super::{GeometryError, Raster};
use std::{fmt, str::FromStr};

/// A picture shape: the ratio of two whole numbers, in lowest terms.
///
/// The shape of a deliverable is that of its raster: "2.39" is only a label of 2048x858, whose exact shape
/// is 1024:429.
///
/// ```
/// use lookroom::geometry::Shape;
/// let film: Shape = "16:9".parse()?;
/// assert_eq!(Shape::new(3840, 2160), Some(film));
/// assert_eq!(film.width_over_height(), 16.0 / 9.0);
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape {
    wide: u32,
    high: u32,
}

impl Shape {
    /// The shape of `wide` by `high`, in lowest terms. `None` if either is zero.
    #[must_use]
    pub const fn new(wide: u32, high: u32) -> Option<Self> {
        if wide == 0 || high == 0 {
            return None;
        }
        let divisor = greatest_common_divisor(wide, high);
        Some(Self { wide: wide / divisor, high: high / divisor })
    }

    /// The first number of the ratio, in lowest terms.
    #[must_use]
    pub const fn wide(self) -> u32 {
        self.wide
    }

    /// The second number of the ratio, in lowest terms.
    #[must_use]
    pub const fn high(self) -> u32 {
        self.high
    }

    /// Width divided by height: 16:9 gives 1.777…
    #[must_use]
    pub fn width_over_height(self) -> f64 {
        f64::from(self.wide) / f64::from(self.high)
    }

    /// The height in pixels of a window this wide.
    #[must_use]
    pub fn height_for(self, width_px: f64) -> f64 {
        width_px * f64::from(self.high) / f64::from(self.wide)
    }

    /// The width in pixels of a window this high.
    #[must_use]
    pub fn width_for(self, height_px: f64) -> f64 {
        height_px * f64::from(self.wide) / f64::from(self.high)
    }

    /// How far a size is from this shape: `width / height` over the exact ratio, less one. 0 is exact,
    /// positive is too wide.
    #[must_use]
    pub fn error_of(self, width_px: f64, height_px: f64) -> f64 {
        width_px / self.width_for(height_px) - 1.0
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.wide, self.high)
    }
}

impl FromStr for Shape {
    type Err = GeometryError;

    /// Reads `16:9`, or the shape of a raster such as `1080x1920`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let not_a_shape = || GeometryError::NotAShape { text: text.to_owned() };
        if text.contains(['x', 'X', '×']) {
            return Ok(text.parse::<Raster>()?.shape());
        }
        if text.parse::<f64>().is_ok() {
            return Err(GeometryError::DecimalShape { text: text.to_owned() });
        }
        let (wide, high) = text.split_once(':').ok_or_else(not_a_shape)?;
        let number = |part: &str| part.trim().parse::<u32>().map_err(|_| not_a_shape());
        Self::new(number(wide)?, number(high)?).ok_or_else(not_a_shape)
    }
}

const fn greatest_common_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shape_is_held_in_lowest_terms() {
        let scope = Shape::new(2048, 858).unwrap();
        assert_eq!((scope.wide(), scope.high()), (1024, 429));
        assert_eq!("1080x1920".parse::<Shape>().unwrap().to_string(), "9:16");
    }

    #[test]
    fn a_decimal_label_is_refused_with_the_exact_way_to_write_it() {
        let refusal = "2.39".parse::<Shape>().unwrap_err().to_string();
        assert!(refusal.contains("2048x858"), "{refusal}");
    }

    #[test]
    fn nonsense_is_refused() {
        for text in ["", "16:", ":9", "0:9", "16:9:4", "-16:9", "wide", "99999999999:1"] {
            assert!(text.parse::<Shape>().is_err(), "{text}");
        }
    }
}
