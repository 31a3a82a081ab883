//! What a camera will see from where it is fixed, before anything is fixed.
//!
//! The world is level: the ground or the water is a plane, the camera stands so high above it ([`Pose`]), pitched down and
//! rolled by so much, and looks along a heading. A subject ([`Subject`]) is an upright board that passes at a distance. Through
//! the lens that gives places and sizes in the frame ([`Pose::see`]), the room that each shape's window has ([`WindowRoom`]),
//! how fast things pass ([`Passing`]), the lines that all this is drawn with ([`SeenLines`]), and by how much the camera has to be tilted or moved so that all of it fits
//! ([`Remedy`]). What one still shows can be asked without any of it ([`StillRows`]).

mod cautions;
mod clear;
mod horizon;
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
pub use horizon::Horizon;
pub use outlook::{AskedOf, Outlook, Scene, SeenSubject, ShapeOutlook};
pub use passing::{Crossing, Passing, ground_across_m};
pub use pose::Pose;
pub use remedy::{Remedy, remedies};
pub use room::{Lack, WindowRoom, Wishes};
pub use seen_lines::{GroundLine, SeenBoard, SeenLines};
pub use still_rows::{StillAnswer, StillRows};
pub use subject::{Subject, Way};
pub use trace::Run;

use crate::{geometry::Raster, lens::Between};

/// What can be wrong with a mount.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MountError {
    /// A figure outside what it can be.
    #[error(
        "{what} of {value} {unit} is out of range, expected {least} to {greatest}; mend the figure, or give it in {unit}"
    )]
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
    #[error(
        "row {row} of {what} is not in the picture, which has rows 0 to {height}; count them from the top of the still as it is shown"
    )]
    RowOutside {
        /// What is there.
        what: &'static str,
        /// The row.
        row: f64,
        /// The frame's height.
        height: f64,
    },
    /// A subject that comes as near to the camera as it is far away.
    #[error(
        "a drift of {drift_m} m reaches the camera, which is {distance_m} m away from the subject where it passes nearest; make one smaller or the other larger"
    )]
    DriftReaches {
        /// How far it may be off, in metres.
        drift_m: f64,
        /// Its least distance, in metres.
        distance_m: f64,
    },
    /// A subject whose top lies below its bottom.
    #[error(
        "the subject's top at row {top} is not above its bottom at row {bottom}; rows count from the top down"
    )]
    UpsideDown {
        /// The row of its top.
        top: f64,
        /// The row of its bottom.
        bottom: f64,
    },
    /// A horizon that is not where the tilt has it.
    #[error(
        "the horizon at row {row} is that of a camera tilted {by_horizon:.1} degrees down, and {said:.1} degrees are said; read both again, or leave one out"
    )]
    TiltsDisagree {
        /// The row of the horizon.
        row: f64,
        /// The tilt that the row tells, in degrees below level, of every lens that it may be.
        by_horizon: Between,
        /// The tilt that is said, in degrees below level.
        said: f64,
    },
    /// A part of the rig that the picture does not show.
    #[error(
        "the part of the rig from {left},{top} to {right},{bottom} is not in the picture, which is {frame}; give it in px of the frame as it is shown, or leave it out"
    )]
    RigOutside {
        /// Its left edge, px.
        left: f64,
        /// Its top edge, px.
        top: f64,
        /// Its right edge, px.
        right: f64,
        /// Its bottom edge, px.
        bottom: f64,
        /// The frame as it is shown.
        frame: Raster,
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
