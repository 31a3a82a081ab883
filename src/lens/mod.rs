//! What a lens makes of directions: px to angle and back, room in degrees, and what a shaking mount takes.
//!
//! Only the straight-line (rectilinear) mapping, in which straight edges of the scene stay straight: a point at
//! the angle `t` off the axis lies `f tan t` px from the frame's centre, with the focal length `f` in px from a field
//! of view. The axis is taken to pass through the frame's centre and the pixels to be square. An angle between two
//! rows is the difference of their own angles; a field of view shared out evenly over the px is never used. Other
//! mappings, and measured distortion, come later.

mod apparent;
mod field_of_view;
mod rectilinear;
mod shake;

pub use apparent::GroundSpeed;
pub use field_of_view::{FieldOfView, Span};
pub use rectilinear::RectilinearLens;
pub use shake::{CentreOnly, Shake, ShakeBudget};

/// What can be wrong with a lens or a shake.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LensError {
    /// A field of view that no straight-line lens has.
    #[error(
        "a {span} field of view of {degrees} degrees is out of range, expected {} to {} degrees",
        FieldOfView::LIMITS_DEGREES.0,
        FieldOfView::LIMITS_DEGREES.1
    )]
    FieldOfView {
        /// Across, down or corner to corner.
        span: Span,
        /// What was said.
        degrees: f64,
    },
    /// No field of view at all.
    #[error("no field of view is known; say the horizontal, the vertical or the diagonal one")]
    NoFieldOfView,
    /// Fields of view that are not those of one lens.
    #[error(
        "a {first} field of view of {first_degrees} degrees makes the {second} one {expected_degrees:.2} degrees, and it is said to be {second_degrees}: \
         leave one out, or see whether one of them is the diagonal"
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
        expected_degrees: f64,
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
