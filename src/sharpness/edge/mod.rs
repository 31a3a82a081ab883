//! The spatial frequency response of a slanted edge (e-SFR), as ISO 12233 measures it.
//!
//! An edge that stands a few degrees off the picture's columns crosses each row at another part of a pixel, so
//! that all rows together sample it far more finely than pixels are: four bins a px here. The derivative of that
//! edge is the line that a camera makes of a point's width of light, and its spectrum is how much contrast each
//! fineness of detail keeps. Steps: ISO 12233:2014, the clause before 6.2.5 and 6.2.5, as quoted by others; the text
//! itself was not at hand. What the quarter-px bins take, sinc(f / 4), is left in, as the standard leaves it:
//! 2.6 % at half a cycle a px.

mod fault;
mod light;
mod line;
mod region;
mod response;
#[cfg(test)]
mod tests;

pub use fault::EdgeFault;
pub use region::{EdgeRegion, EdgeRegionError};
pub use response::{EdgeDirection, EdgeResponse, ResponsePoint};

use super::ToneCurve;
use crate::picture::LumaPlane;
use light::LightGrid;
use line::EdgeLine;

/// Measures the slanted edge in a part of a picture. The part holds one straight edge, dark on one side and light
/// on the other, and nothing else; which side, and whether it stands or lies, is found.
///
/// # Errors
/// [`EdgeFault`]: what about the region or its edge cannot be measured.
pub fn edge_response(
    plane: &LumaPlane,
    region: EdgeRegion,
    curve: &ToneCurve,
) -> Result<EdgeResponse, EdgeFault> {
    let (grid, direction) = LightGrid::of(plane, region, curve)?;
    let line = EdgeLine::through(&grid)?;
    grid.check_clipping(&line)?;
    response::response_of(&grid, &line, direction)
}
