//! How fine the detail is that a still really carries, without any chart.
//!
//! Two published facts are used. The power of a natural scene falls with frequency as a power law ("Relations between the
//! statistics of natural images and the response properties of cortical cells", Journal of the Optical Society of
//! America A, 1987; from memory); a picture that was enlarged, or that is soft, falls away from its own law where its
//! detail ends ([`spectrum`]). And a picture that was enlarged repeats how it was interpolated: its second differences are
//! stronger and weaker again with the period of the factor ("Detection of linear and cubic interpolation in JPEG
//! compressed images", Canadian Conference on Computer and Robot Vision, 2005; from memory) ([`trace`]). A factor of
//! exactly 2 with centred px leaves no such trace, since all its px lie alike between those they were made from; the blocks
//! of a coding before the enlargement do, at any factor.

mod spectrum;
#[cfg(test)]
mod tests;
mod trace;

use crate::picture::LumaPlane;
use serde::Serialize;
use spectrum::{AxisEnd, end_of_detail};

/// The least side of a picture that is looked at: two segments of the spectrum.
const LEAST_SIDE_PX: usize = 256;

/// How sure an estimate is, as it was found on stills that were enlarged by known factors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Confidence {
    /// Across and down disagree by more than a quarter, as a picture's two directions seldom do.
    Low,
    /// Across and down agree.
    Fair,
    /// The trace of an enlargement says the same.
    Good,
}

/// Why nothing can be said.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "kebab-case", tag = "reason")]
pub enum CannotTell {
    /// The picture is small.
    #[error("the picture is {width_px}x{height_px}, and {least_px} px a side are needed")]
    Small {
        /// Its width.
        width_px: usize,
        /// Its height.
        height_px: usize,
        /// The least side.
        least_px: usize,
    },
    /// Nothing in the picture is fine: sky, fog, or all of it out of focus.
    #[error(
        "the picture shows no fine detail (sky, fog or blur), so that nothing tells how much the camera could carry"
    )]
    NothingFine,
}

/// The finest detail that a still carries.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FineDetail {
    /// How many px across the picture's detail needs, at most its width.
    pub carried_across_px: f64,
    /// How many px down, at most its height.
    pub carried_down_px: f64,
    /// By how much it was enlarged, where it shows that it was.
    pub enlarged_by: Option<f64>,
    /// How sure both are.
    pub confidence: Confidence,
}

/// An estimate of the finest detail that a still carries.
///
/// It is the detail of *this* picture: a soft lens, a long exposure, thin bits or an enlargement end it alike, and only for
/// the last there is a trace.
///
/// # Errors
/// [`CannotTell`]: the picture is small, or shows nothing fine.
pub fn fine_detail(plane: &LumaPlane) -> Result<FineDetail, CannotTell> {
    let (width_px, height_px) = (plane.width_px(), plane.height_px());
    if width_px.min(height_px) < LEAST_SIDE_PX {
        return Err(CannotTell::Small { width_px, height_px, least_px: LEAST_SIDE_PX });
    }
    let turned = plane.transposed();
    let (across, down) = (end_of_detail(plane), end_of_detail(&turned));
    let (AxisEnd::At(across), AxisEnd::At(down)) = (across, down) else {
        return Err(CannotTell::NothingFine);
    };
    let shares = [2.0 * across, 2.0 * down];
    let enlarged_by = trace::enlargement(plane, &turned, shares);
    let [share_across, share_down] = enlarged_by.map_or(shares, |factor| [1.0 / factor; 2]);
    let confidence = if enlarged_by.is_some() {
        Confidence::Good
    } else if (across / down).ln().abs() < 0.25 {
        Confidence::Fair
    } else {
        Confidence::Low
    };
    Ok(FineDetail {
        carried_across_px: px(width_px) * share_across.min(1.0),
        carried_down_px: px(height_px) * share_down.min(1.0),
        enlarged_by,
        confidence,
    })
}

#[expect(clippy::cast_precision_loss, reason = "a picture's side is far below 2^53")]
const fn px(count: usize) -> f64 {
    count as f64
}
