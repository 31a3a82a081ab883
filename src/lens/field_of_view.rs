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

/// An angle of view, and what it is measured along; degrees alone say too little. Which are possible is a matter of
/// the mapping ([`super::Mapping::admit`]).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOfView {
    span: Span,
    degrees: f64,
    by_tape: bool,
}

impl FieldOfView {
    /// All round: no lens has more.
    pub const GREATEST_DEGREES: f64 = 360.0;

    /// A field of view along a span, in degrees.
    ///
    /// # Errors
    /// [`LensError::NotAnAngle`] if it is not above 0, or beyond [`Self::GREATEST_DEGREES`].
    pub fn from_degrees(span: Span, degrees: f64) -> Result<Self, LensError> {
        if degrees > 0.0 && degrees <= Self::GREATEST_DEGREES {
            Ok(Self { span, degrees, by_tape: false })
        } else {
            Err(LensError::NotAnAngle { span, degrees })
        }
    }

    /// The field of view that a tape measures: so much of a flat wall fills the span, with the camera so far from the wall,
    /// square to it and its axis on the middle: `2·atan(width / (2·distance))`. Both in the same unit, the distance from
    /// the lens. That is the angle itself, whatever the lens makes of it.
    ///
    /// # Errors
    /// [`LensError::Tape`] if one is not a length above 0.
    pub fn by_tape(span: Span, seen: f64, distance: f64) -> Result<Self, LensError> {
        let is_length = |length: f64| length > 0.0 && length.is_finite();
        let degrees = 2.0 * (seen / distance / 2.0).atan().to_degrees();
        if is_length(seen) && is_length(distance) && degrees > 0.0 {
            Ok(Self { span, degrees, by_tape: true })
        } else {
            Err(LensError::Tape { seen, distance })
        }
    }

    /// Whether a tape measured it.
    #[must_use]
    pub const fn is_by_tape(&self) -> bool {
        self.by_tape
    }

    /// What it is measured along.
    #[must_use]
    pub const fn span(&self) -> Span {
        self.span
    }

    /// The angle, in degrees.
    #[must_use]
    pub const fn degrees(&self) -> f64 {
        self.degrees
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tape_before_a_wall_gives_the_angle() {
        // By hand: 4.00 m seen from 2.00 m are 2·atan(1) = 90 degrees; 3.00 m from 2.00 m are 2·atan(0.75) = 73.74.
        let degrees = |seen, distance| {
            FieldOfView::by_tape(Span::Horizontal, seen, distance).unwrap().degrees()
        };
        assert!((degrees(4.0, 2.0) - 90.0).abs() < 1e-12);
        assert!((degrees(3.0, 2.0) - 73.739_795).abs() < 1e-6);
    }

    #[test]
    fn what_is_no_angle_or_no_length_is_refused() {
        for degrees in [0.0, -90.0, 360.1, f64::NAN] {
            let refusal = FieldOfView::from_degrees(Span::Diagonal, degrees).unwrap_err();
            assert!(refusal.to_string().contains("above 0 and at most 360"), "{refusal}");
        }
        for (seen, distance) in [
            (0.0, 2.0),
            (2.0, 0.0),
            (-1.0, 2.0),
            (f64::NAN, 1.0),
            (1.0, f64::INFINITY),
            (1e-300, 1e300),
        ] {
            assert!(FieldOfView::by_tape(Span::Vertical, seen, distance).is_err());
        }
    }
}
