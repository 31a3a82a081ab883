use super::{GeometryError, Shape};
use std::{fmt, str::FromStr};

/// How the size and place of a held window are rounded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Rounding {
    /// Not at all. A fractional crop is resampled between pixels and loses sharpness.
    Exact,
    /// Whole even pixels, which a 4:2:0 crop needs; the shape is off by less than a pixel, and it is told.
    #[default]
    Even,
    /// Whole even pixels and the exact shape: the next smaller multiple of it (18 x 32 for 9:16).
    EvenExactShape,
}

impl Rounding {
    /// The name used in files, options and reports.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Exact => "exact",
            Self::Even => "even",
            Self::EvenExactShape => "even-exact-shape",
        }
    }
}

impl fmt::Display for Rounding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl FromStr for Rounding {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        [Self::Exact, Self::Even, Self::EvenExactShape]
            .into_iter()
            .find(|r| r.name() == text)
            .ok_or_else(|| {
                format!("`{text}` is not a rounding; write exact, even or even-exact-shape")
            })
    }
}

/// A window size after rounding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SnappedSize {
    /// Width in px.
    pub width_px: f64,
    /// Height in px.
    pub height_px: f64,
    /// Width over height against the exact shape, less one; 0 is exact.
    pub shape_error: f64,
}

/// Rounds a window of `width_px` of a shape down to what `rounding` allows, inside `greatest` (width and
/// height of the usable area). The rounded width is never above `width_px`.
///
/// Even pixels: a 4:2:0 picture has one colour sample for two by two pixels (Rec. ITU-T H.264, `SubWidthC`
/// and `SubHeightC` are 2; from a second-hand source), so that a plain crop at an odd place shifts colour.
///
/// # Errors
/// [`GeometryError::NoRoundedSize`] if nothing above 0 px is left.
///
/// ```
/// use lookroom::geometry::{Rounding, snap_size};
/// let vertical = "9:16".parse()?;
/// let even = snap_size(Rounding::Even, vertical, 1687.5, (4000.0, 3000.0))?;
/// assert_eq!((even.width_px, even.height_px), (1686.0, 2998.0));
/// let exact = snap_size(Rounding::EvenExactShape, vertical, 1687.5, (4000.0, 3000.0))?;
/// assert_eq!((exact.width_px, exact.height_px, exact.shape_error), (1674.0, 2976.0, 0.0));
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
pub fn snap_size(
    rounding: Rounding,
    shape: Shape,
    width_px: f64,
    greatest: (f64, f64),
) -> Result<SnappedSize, GeometryError> {
    let (width, height) = match rounding {
        Rounding::Exact => (width_px, shape.height_for(width_px)),
        Rounding::Even => {
            let width = even_at_most(width_px.min(greatest.0));
            let nearest = 2.0 * (shape.height_for(width) / 2.0).round();
            (width, nearest.min(even_at_most(greatest.1)))
        }
        Rounding::EvenExactShape => {
            let step = 2.0 * f64::from(shape.wide());
            let width = step * (width_px.min(greatest.0) / step).floor();
            (width, shape.height_for(width))
        }
    };
    if !(width > 0.0 && height > 0.0) {
        return Err(GeometryError::NoRoundedSize { rounding, shape, greatest_width_px: width_px });
    }
    let shape_error = match rounding {
        Rounding::Even => shape.error_of(width, height),
        Rounding::Exact | Rounding::EvenExactShape => 0.0,
    };
    Ok(SnappedSize { width_px: width, height_px: height, shape_error })
}

/// The greatest even number that is at most `px`. A thousandth of a px below an even number counts as that
/// number: it is what a sum of fractions leaves.
fn even_at_most(px: f64) -> f64 {
    2.0 * ((px + 1e-3) / 2.0).floor()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shape_of_too_large_numbers_has_no_exact_even_window() {
        let scope = Shape::new(2048, 858).unwrap();
        let refusal = snap_size(Rounding::EvenExactShape, scope, 1920.0, (1920.0, 1440.0));
        assert!(matches!(refusal, Err(GeometryError::NoRoundedSize { .. })));
    }

    #[test]
    fn an_odd_frame_is_rounded_down_to_even() {
        let size =
            snap_size(Rounding::Even, Shape::new(1, 1).unwrap(), 853.0, (853.0, 853.0)).unwrap();
        assert_eq!((size.width_px, size.height_px), (852.0, 852.0));
    }
}
