//! What a lens makes of directions: px to angle and back, room in degrees, what it does to shapes at each place, and
//! what a shaking mount takes.
//!
//! A [`Lens`] knows one [`Mapping`]: the straight-line (rectilinear) one, in which straight edges of the scene stay
//! straight, the four named fisheyes, or a calibration's polynomial; its focal length in px comes from a field of view, a
//! tape before a wall or that calibration. Where the mapping is not known, [`PossibleLenses`] holds what it may be, and
//! every answer is a range. An angle between two rows is the difference of their own angles; a field of view shared out
//! evenly over the px is never used. Tangential distortion, and a lens whose rays do not meet in one point, are left out.

mod angles;
mod apparent;
mod between;
mod field_of_view;
mod local;
mod mapping;
mod model;
mod polynomial;
mod possible;
mod said;
mod shake;
mod straight_view;

pub use apparent::GroundSpeed;
pub use between::Between;
pub use field_of_view::{FieldOfView, Span};
pub use local::LocalScale;
pub use mapping::Mapping;
pub use model::{Calibrated, Lens};
pub use polynomial::FisheyePolynomial;
pub use possible::PossibleLenses;
pub use said::{SaidLens, SaidMapping, SaidScale};
pub use shake::{CentreOnly, Shake, ShakeBudget};
pub use straight_view::{Sampling, StraightView};

use crate::geometry::Raster;

/// What can be wrong with a lens or a shake.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LensError {
    /// A field of view that no lens of the mapping has.
    #[error(
        "a {span} field of view of {degrees} degrees is out of range, expected {} to {greatest} degrees for {lens}",
        Mapping::LEAST_FIELD_DEGREES
    )]
    FieldOfView {
        /// Across, down or corner to corner.
        span: Span,
        /// What was said.
        degrees: f64,
        /// The greatest that the mapping has.
        greatest: f64,
        /// The lens in words, with its article.
        lens: &'static str,
    },
    /// A field of view that is none.
    #[error(
        "a {span} field of view of {degrees} degrees is none, expected above 0 and at most {} degrees",
        FieldOfView::GREATEST_DEGREES
    )]
    NotAnAngle {
        /// Across, down or corner to corner.
        span: Span,
        /// What was said.
        degrees: f64,
    },
    /// A tape test without a length.
    #[error(
        "{seen} seen at a distance of {distance} is no view; both are lengths above 0, in the same unit"
    )]
    Tape {
        /// How much of the wall was seen.
        seen: f64,
        /// From how far.
        distance: f64,
    },
    /// No field of view at all.
    #[error("no field of view is known; say the horizontal, the vertical or the diagonal one")]
    NoFieldOfView,
    /// Fields of view that are not those of one lens.
    #[error(
        "a {first} field of view of {} degrees makes the {second} one {expected_degrees:.2} degrees, and it is said to be {}: \
         leave one out, or see whether one of them is the diagonal",
        two_decimals(*first_degrees),
        two_decimals(*second_degrees)
    )]
    Disagree {
        /// The one that is said first.
        first: Span,
        /// Its angle.
        first_degrees: f64,
        /// The other.
        second: Span,
        /// Its angle.
        second_degrees: f64,
        /// What the first makes of it.
        expected_degrees: Between,
    },
    /// A text that should be a mapping is not one.
    #[error(
        "`{text}` is no mapping; write {}, {}, or polynomial: and its four coefficients, for example polynomial:-0.02,0.01,-0.003,0.0005",
        Mapping::NAMED.map(|mapping| mapping.name()).join(", "),
        SaidMapping::UNKNOWN
    )]
    NotAMapping {
        /// What was read.
        text: String,
    },
    /// A text that should be a polynomial is not one.
    #[error(
        "`{text}` is no polynomial; write k1 to k4 with commas between them, for example -0.02,0.01,-0.003,0.0005"
    )]
    NotAPolynomial {
        /// What was read.
        text: String,
    },
    /// A coefficient that no calibration finds.
    #[error("{name} of {value} is out of range, expected -{limit} to {limit}")]
    Coefficient {
        /// `k1` to `k4`.
        name: &'static str,
        /// What was said.
        value: f64,
        /// The greatest, either way.
        limit: f64,
    },
    /// A polynomial whose picture folds over within the frame.
    #[error(
        "the polynomial turns back at {degrees:.2} degrees off the axis, {turn_px:.1} px from it, and the frame's furthest corner is \
         {corner_px:.1} px from it; see whether k1 to k4 are those of this lens and the angle is in radians"
    )]
    TurnsBack {
        /// The angle off the axis at which it does.
        degrees: f64,
        /// How far out that is, px across.
        turn_px: f64,
        /// How far out the furthest corner is, px across.
        corner_px: f64,
    },
    /// A field of view that reaches beyond where a polynomial turns back.
    #[error(
        "the polynomial turns back at {turn_degrees:.2} degrees off the axis, and a {span} field of view of {degrees} degrees reaches \
         further than that; see whether k1 to k4 are those of this lens"
    )]
    FieldTurnsBack {
        /// Across, down or corner to corner.
        span: Span,
        /// What was said.
        degrees: f64,
        /// The angle off the axis at which it does.
        turn_degrees: f64,
    },
    /// A view whose middle the lens does not draw.
    #[error(
        "the lens draws nothing at {x:.1},{y:.1}, where the view should have its middle or an edge; it is outside of the image circle"
    )]
    NothingSeen {
        /// Px from the left edge.
        x: f64,
        /// Px from the top edge.
        y: f64,
    },
    /// A focal length that no calibration finds.
    #[error(
        "a focal length of {focal_px} px is out of range, expected {} to {} px",
        Lens::FOCAL_LIMITS_PX.0,
        Lens::FOCAL_LIMITS_PX.1
    )]
    FocalLength {
        /// What was said.
        focal_px: f64,
    },
    /// An axis that does not meet the frame.
    #[error("an axis at {x},{y} does not meet the {raster} frame")]
    Centre {
        /// Px from the left edge.
        x: f64,
        /// Px from the top edge.
        y: f64,
        /// The frame.
        raster: Raster,
    },
    /// A calibration of a picture that shows another part of what the lens draws.
    #[error(
        "the calibration is of a {calibrated} picture, and this one is {raster}, of another shape: calibrate in the mode that is recorded, or \
         write a field of view"
    )]
    CalibratedShape {
        /// The raster of the calibration.
        calibrated: Raster,
        /// The raster of the recording.
        raster: Raster,
    },
    /// A shake beyond what is reckoned with.
    #[error("a {name} of {degrees} degrees each way is out of range, expected 0 to {limit}")]
    Shake {
        /// Yaw, pitch or roll.
        name: &'static str,
        /// What was said.
        degrees: f64,
        /// The greatest.
        limit: f64,
    },
}

/// Degrees as they were said, and of what a tape gave no more than two decimals.
fn two_decimals(degrees: f64) -> f64 {
    (degrees * 100.0).round() / 100.0
}
