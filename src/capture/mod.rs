//! Capture modes, and what a camera that nobody attends runs out of: card, battery, light.
//!
//! Everything here is arithmetic on what a manual, a label and a watch say. Where it rests on more than that, the
//! published source or the practice is named beside the constant.

mod battery;
mod card;
mod exposure;
mod flicker;
mod mode;
mod rounds;

pub use battery::{Battery, ColdShare, ColdSource};
pub use card::Card;
pub use exposure::{
    Exposure, FilterChoice, FilterForSet, Light, shutter_angle_degrees, shutter_secs,
};
pub use flicker::{LampHertz, flicker_free_secs};
pub use mode::{CaptureMode, SlowMotion, WayUp};
pub use rounds::{Round, Rounds, Stop};

/// What can be wrong with a figure of a capture.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CaptureError {
    /// A figure outside what such a figure can be.
    #[error("{what} of {value} {unit} is out of range, expected {least} to {greatest}")]
    OutOfRange {
        /// What it is a figure of.
        what: &'static str,
        /// What was said.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// The least.
        least: f64,
        /// The greatest.
        greatest: f64,
    },
    /// Colder than any cell was measured.
    #[error(
        "nothing is published here on cells at {celsius} degrees Celsius, only down to {coldest}: measure your own, and say what share of its time is left"
    )]
    TooCold {
        /// What was said.
        celsius: f64,
        /// The coldest that is known.
        coldest: f64,
    },
}

/// A figure within its limits.
fn within(
    what: &'static str,
    unit: &'static str,
    value: f64,
    (least, greatest): (f64, f64),
) -> Result<f64, CaptureError> {
    if (least..=greatest).contains(&value) {
        Ok(value)
    } else {
        Err(CaptureError::OutOfRange { what, value, unit, least, greatest })
    }
}
