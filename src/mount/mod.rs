//! What a camera will see from where it is fixed, before anything is fixed.
//!
//! The world is level: the ground or the water is a plane, the camera stands so high above it ([`Pose`]), pitched down and
//! rolled by so much, and looks along a heading. A subject ([`Subject`]) is an upright board that passes at a distance. Through
//! the lens that gives places and sizes in the frame ([`Pose::see`]), the room that each shape's window has ([`WindowRoom`]),
//! how fast things pass ([`Passing`]), the lines that all this is drawn with ([`SeenLines`]), and by how much the camera has to be tilted or moved so that all of it fits
//! ([`Remedy`]). What one still shows can be asked without any of it ([`StillRows`]).

mod cautions;
mod outlook;
mod passing;
mod pose;
mod remedy;
mod room;
mod seen_lines;
mod still_rows;
mod subject;
mod trace;

pub use cautions::CAUTIONS;
pub use outlook::{Outlook, Scene, SeenSubject, ShapeOutlook};
pub use passing::{Crossing, Passing};
pub use pose::Pose;
pub use remedy::{Remedy, remedies};
pub use room::{Lack, Side, WindowRoom, Wishes};
pub use seen_lines::{GroundLine, SeenBoard, SeenLines};
pub use still_rows::{StillAnswer, StillRows};
pub use subject::{Subject, Way};
pub use trace::Run;

/// What can be wrong with a mount.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MountError {
    /// A figure outside what it can be.
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
    /// A row of a still that the lens draws nothing at, or that is not in the frame.
    #[error("row {row} of {what} is not in the picture, which has rows 0 to {height}")]
    RowOutside {
        /// What is there.
        what: &'static str,
        /// The row.
        row: f64,
        /// The frame's height.
        height: f64,
    },
}

/// A figure within its limits.
fn within(
    what: &'static str,
    unit: &'static str,
    value: f64,
    (least, greatest): (f64, f64),
) -> Result<f64, MountError> {
    if (least..=greatest).contains(&value) {
        Ok(value)
    } else {
        Err(MountError::OutOfRange { what, value, unit, least, greatest })
    }
}
