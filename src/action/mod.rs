//! What the camera's own motion did to the picture, and where in it things happen.
//!
//! The way of the background is measured from frame to frame ([`BackgroundMeter`]), with what the camera is mounted on
//! kept out of it ([`RigFinder`]), or read from what someone else measured. It is cumulated and split in two by a
//! filter without delay ([`high_passed`]): what is slower than a cut-off is the camera's own journey and left alone,
//! what is quicker is shake.
//!
//! Everything that looks at pictures takes them one at a time, forward, as luma of a few hundred lines, and holds a
//! few frames at most. Nothing learned is in it.

mod action_map;
mod background;
mod consensus;
mod conspicuity;
mod corners;
mod correlation;
mod cuts;
mod high_pass;
mod measured;
mod meter;
mod plane;
mod rig;
mod similarity;
mod spectrum;
mod track;

pub use action_map::{ActionFinder, ActionMap, ActionWeights, HeldSuggestion};
pub use background::{BackgroundMotion, BackgroundStep, Shaking};
pub use cuts::CutFinder;
pub use high_pass::high_passed;
pub use measured::MeasuredMotion;
pub use meter::{BackgroundMeter, MeasuredBy, MeasuredStep};
pub use rig::{RigFinder, RigFinding, RigMask};

use crate::geometry::Raster;
use image::GrayImage;

/// What can be wrong with pictures that are to be measured.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ActionError {
    /// A frame has another size than those before it.
    #[error("a frame of {found} px came where frames of {expected} px were said to come")]
    FrameSize {
        /// Its width and height, as `WIDTHxHEIGHT`.
        found: String,
        /// The size that was said.
        expected: Raster,
    },
    /// A rig was found at another size than it is used at.
    #[error(
        "the rig was found in frames of {rig} px and cannot be used for frames of {expected} px"
    )]
    RigSize {
        /// The size it was found at.
        rig: Raster,
        /// The size it is used at.
        expected: Raster,
    },
}

impl ActionError {
    fn check_size(luma: &GrayImage, expected: Raster) -> Result<(), Self> {
        let (width, height) = luma.dimensions();
        if (width, height) == (expected.width_px(), expected.height_px()) {
            return Ok(());
        }
        Err(Self::FrameSize { found: format!("{width}x{height}"), expected })
    }
}
