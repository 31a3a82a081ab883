//! Where things are in a frame: shapes, rasters, windows, the places a window may take, and the one map
//! that carries a source point to the delivered picture.
//!
//! Edge coordinates throughout: the origin is the top left corner, y points down, a frame spans
//! `[0, W] x [0, H]`, and pixel `(i, j)` covers `[i, i + 1) x [j, j + 1)`. All of it is on the *displayed*
//! frame: rotation flag applied, pixel shape made square. Lengths are capture pixels unless the name says
//! otherwise. A levelled picture is the displayed one turned about its centre ([`Levelling`]); lenses are left to
//! another room.

mod half_plane;
mod inside_crop;
mod levelling;
mod map;
mod orientation;
mod placement;
mod raster;
mod region;
mod rounding;
mod shape;
mod spare;
mod window;

pub use half_plane::HalfPlane;
pub use inside_crop::{CropReading, InsideCrop};
pub use levelling::Levelling;
pub use map::{DeliveredPoint, OutputFromSource, SourcePoint};
pub use orientation::{Orientation, QuarterTurn};
pub use placement::{Allowed, AxisLimits, Bound};
pub use raster::Raster;
pub use region::Region;
pub use rounding::{Rounding, SnappedSize, snap_size};
pub use shape::Shape;
pub use spare::SpareRoom;
pub use window::{Window, largest_window};

/// What can be wrong with a shape, a raster or a window.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GeometryError {
    /// A text that should be a raster is not one.
    #[error(
        "`{text}` is not a raster; write width x height in whole pixels, for example 4000x3000"
    )]
    NotARaster {
        /// What was read.
        text: String,
    },
    /// A raster side is zero or beyond what any frame has.
    #[error("a raster side of {side_px} px is outside 1 to {limit_px} px")]
    RasterSide {
        /// The side in pixels.
        side_px: u64,
        /// The largest side that is read.
        limit_px: u32,
    },
    /// A text that should be a shape is not one.
    #[error(
        "`{text}` is not a shape; write two whole numbers, for example 16:9, or the delivered raster"
    )]
    NotAShape {
        /// What was read.
        text: String,
    },
    /// A shape was written as a decimal label.
    #[error(
        "`{text}` is a label, not an exact shape; write the delivered raster, for example 2048x858 for 2.39"
    )]
    DecimalShape {
        /// What was read.
        text: String,
    },
    /// A window does not lie inside its frame.
    #[error(
        "a {width_px} x {height_px} px window at {left_px},{top_px} does not lie inside the {raster} frame; {}",
        inside_remedy((*width_px, *height_px), *raster)
    )]
    OutsideFrame {
        /// Left edge.
        left_px: f64,
        /// Top edge.
        top_px: f64,
        /// Width.
        width_px: f64,
        /// Height.
        height_px: f64,
        /// The frame.
        raster: Raster,
    },
    /// A window hangs over an edge of a frame that is turned level.
    #[error(
        "a {width_px} x {height_px} px window at {left_px},{top_px} of the picture levelled by {degrees:.2} degrees hangs over the edge of the turned {raster} frame by {over_px:.1} px"
    )]
    OutsideTurnedFrame {
        /// Left edge.
        left_px: f64,
        /// Top edge.
        top_px: f64,
        /// Width.
        width_px: f64,
        /// Height.
        height_px: f64,
        /// The frame.
        raster: Raster,
        /// How far it is turned, clockwise positive.
        degrees: f64,
        /// How far the window hangs over at most.
        over_px: f64,
    },
    /// No rounded size of the shape fits between the limits.
    #[error("no {rounding} window of {shape} is at most {greatest_width_px} px wide")]
    NoRoundedSize {
        /// The rule asked for.
        rounding: Rounding,
        /// The shape asked for.
        shape: Shape,
        /// The room there was.
        greatest_width_px: f64,
    },
    /// A roll that is no levelling.
    #[error(
        "a level of {degrees} degrees is out of range, expected -{limit} to {limit}, clockwise positive; turn the picture by quarters first",
        limit = Levelling::GREATEST_DEGREES
    )]
    Level {
        /// The roll asked for.
        degrees: f64,
    },
    /// An inside crop that leaves nothing, or adds something.
    #[error(
        "an inside crop of {share} {} is out of range, expected 0 up to below {}",
        reading.words(),
        reading.limit()
    )]
    InsideCropShare {
        /// The share asked for.
        share: f64,
        /// What it is a share of.
        reading: CropReading,
    },
    /// An inside crop that does not say what it is a share of.
    #[error(
        "{share} can mean three things: {}; write {}",
        CropReading::compared(*share),
        CropReading::choices(*share, |reading| format!("{}:{share}", reading.name()))
    )]
    BareInsideCrop {
        /// What was read.
        text: String,
        /// The share that it stands for.
        share: f64,
    },
    /// A text that should be an inside crop is not one.
    #[error(
        "`{text}` is not an inside crop; write per-side:, of-width: or of-area: and a share, for example per-side:0.1"
    )]
    NotAnInsideCrop {
        /// What was read.
        text: String,
    },
}

/// Where a window of this size can lie, or that it is too large.
fn inside_remedy((width_px, height_px): (f64, f64), raster: Raster) -> String {
    let (across, down) = (raster.width() - width_px, raster.height() - height_px);
    if across < 0.0 || down < 0.0 {
        format!("make it no larger than {raster}")
    } else {
        format!("its left edge can be from 0 to {across}, its top edge from 0 to {down}")
    }
}
