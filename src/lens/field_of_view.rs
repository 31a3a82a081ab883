use super::LensError;
use crate::geometry::Raster;
use std::fmt;

/// What a field of view is measured along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Span {
    /// From the left edge to the right.
    Horizontal,
    /// From the top edge to the bottom.
    Vertical,
    /// From corner to corner; what spec sheets often give without saying so.
    Diagonal,
}

impl Span {
    /// Every span.
    pub const ALL: [Self; 3] = [Self::Horizontal, Self::Vertical, Self::Diagonal];

    /// How long it is in a frame, in px.
    #[must_use]
    pub fn length_px(self, raster: Raster) -> f64 {
        match self {
            Self::Horizontal => raster.width(),
            Self::Vertical => raster.height(),
            Self::Diagonal => raster.width().hypot(raster.height()),
        }
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Horizontal => "horizontal",
            Self::Vertical => "vertical",
            Self::Diagonal => "diagonal",
        })
    }
}

/// An angle of view, and what it is measured along; degrees alone say too little.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOfView {
    span: Span,
    degrees: f64,
}

impl FieldOfView {
    /// The least and the greatest angle, in degrees. Chosen: a 1 degree lens is a telescope, and beyond 170 a
    /// straight-line picture is all edge. They catch slips of the pen.
    pub const LIMITS_DEGREES: (f64, f64) = (1.0, 170.0);

    /// A field of view along a span, in degrees.
    ///
    /// # Errors
    /// [`LensError::FieldOfView`] if it is outside [`Self::LIMITS_DEGREES`].
    pub fn from_degrees(span: Span, degrees: f64) -> Result<Self, LensError> {
        let (least, greatest) = Self::LIMITS_DEGREES;
        if (least..=greatest).contains(&degrees) {
            Ok(Self { span, degrees })
        } else {
            Err(LensError::FieldOfView { span, degrees })
        }
    }

    /// What it is measured along.
    #[must_use]
    pub const fn span(&self) -> Span {
        self.span
    }

    /// The angle as it was said, in degrees.
    #[must_use]
    pub const fn degrees(&self) -> f64 {
        self.degrees
    }
}
