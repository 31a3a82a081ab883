//! How blurred a part of a picture is, in px, and which way: measured at its edges.
//!
//! An edge that is blurred once more by a known Gaussian loses the less of its slope the more blurred it was: with a slope `g1`
//! after a Gaussian of variance `a` and `g2` after one of variance `b`, its own variance along its normal is
//! `(b − r·a) / (r − 1)` with `r = (g1/g2)²`. That is the method of "Defocus map estimation from a single image", Pattern
//! Recognition 44 (2011), doi:10.1016/j.patcog.2011.03.009 (title and DOI from memory). It has the contrast of
//! the edge on both sides of the fraction, so that it compares frames in which the subject is lit or turned differently.
//!
//! A blur whose spread is a matrix `C` gives an edge of normal `n` the variance `n·C·n`, which is
//! `mean + half difference · cos 2(angle − direction)`: fitted to the edges by their direction it tells defocus, the
//! same every way, from motion, which is along one.
//!
//! On real boxed frames with known blur laid over them it orders 99.9 % of pairs of one frame rightly, where the energy of the
//! gradient orders 96.6 % and the variance of the Laplacian 86.9 %; of two frames of a clip 97.6 %, and they 97.6 and 92.4 %
//! (`tests/it/still_blur.rs`).

use crate::{geometry::Region, picture::GrayImage};

mod fit;
mod patch;
#[cfg(test)]
mod tests;

use fit::Spread;
use patch::Patch;

/// How blurred the edges of a part of a picture are. Lengths are px of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeBlur {
    spread: Spread,
    edge_px: usize,
}

impl EdgeBlur {
    /// The variance that a px itself and the difference of its two neighbours give a perfectly sharp edge: that of a box of 1 px
    /// and of one of 2 px, 1/12 + 4/12.
    const SHARP_PX2: f64 = 5.0 / 12.0;

    /// How far things moved while the frame was exposed: the length of a straight even motion, whose variance is its square
    /// over 12. 0 where all directions are equally blurred or too few are seen to tell.
    ///
    /// Of 3 to 10 px laid over 108 real pictures, 0.6 to 1.5 of them is measured in 104, 0.86 in the middle; longer ones are told
    /// too short, and texture that runs one way reads as a px or two.
    #[must_use]
    pub fn motion_px(&self) -> f64 {
        (12.0 * (self.spread.most_px2 - self.spread.least_px2).max(0.0)).sqrt()
    }

    /// The direction of that motion in degrees from across, clockwise as seen, 0 to below 180; it has no sign.
    #[must_use]
    pub fn motion_degrees(&self) -> f64 {
        self.spread.degrees
    }

    /// How wide a point is because of focus, lens and processing: the diameter of an even disc, whose variance along a line is
    /// its square over 16. 0 for what is as sharp as px can be.
    #[must_use]
    pub fn focus_px(&self) -> f64 {
        4.0 * (self.spread.least_px2 - Self::SHARP_PX2).max(0.0).sqrt()
    }

    /// How far an edge is smeared the way it is smeared most, by motion and focus together, as the length of an even smear; 0
    /// for what is as sharp as px can be.
    #[must_use]
    pub fn extent_px(&self) -> f64 {
        (12.0 * (self.spread.most_px2 - Self::SHARP_PX2).max(0.0)).sqrt()
    }

    /// The radius of the blur over all directions and of a px itself: the root of the sum of their variances, 0.65 px at
    /// least. Frames are ordered by it; the px is in it so that frames which are all as sharp as px can be differ little.
    #[must_use]
    pub fn radius_px(&self) -> f64 {
        (f64::midpoint(self.spread.most_px2, self.spread.least_px2) + Self::SHARP_PX2).sqrt()
    }

    /// How many px of edges it was measured at.
    #[must_use]
    pub const fn edge_px(&self) -> usize {
        self.edge_px
    }

    /// The same blur in px that are so many times smaller: measured in a picture of half size, it is `in_px_of(2.0)` in the
    /// whole one. The factor is above 0.
    #[must_use]
    pub fn in_px_of(self, factor: f64) -> Self {
        Self { spread: self.spread.scaled(factor * factor), ..self }
    }
}

/// Of a box its middle is measured, since its corners show the background. Chosen.
const MIDDLE_SHARE: f64 = 0.9;
/// Of larger parts, evenly spread pieces of this area together are measured: edges enough, and quick. Chosen.
const MOST_PX: f64 = 400_000.0;
/// Pieces of a large part, each way.
const PIECES: u32 = 4;
/// Fewer px of edges than this say nothing. Chosen.
const LEAST_EDGE_PX: usize = 40;

/// Measures the blur of what is in a box. It may hang over the picture.
///
/// `None` where too little of it is in the picture, or there are too few edges of at least two codes a px in it.
#[must_use]
pub fn edge_blur(luma: &GrayImage, region: &Region) -> Option<EdgeBlur> {
    let middle = region.scaled_about_centre(MIDDLE_SHARE);
    let (width, height) = (f64::from(luma.width()), f64::from(luma.height()));
    let (left, top) = (middle.left().max(0.0), middle.top().max(0.0));
    let inside = Region::new(
        left,
        top,
        middle.right().min(width) - left,
        middle.bottom().min(height) - top,
    )?;
    let mut edges = Vec::new();
    for piece in pieces(&inside) {
        if let Some(patch) = Patch::of(luma, &piece) {
            patch.add_edges(&mut edges);
        }
    }
    if edges.len() < LEAST_EDGE_PX {
        return None;
    }
    Some(EdgeBlur { edge_px: edges.len(), spread: Spread::of(&edges)? })
}

/// The parts of a box that are measured: itself, or of a large one a piece in the middle of each of some cells.
fn pieces(inside: &Region) -> Vec<Region> {
    let share = (MOST_PX / (inside.width() * inside.height())).sqrt();
    if share >= 1.0 {
        return vec![*inside];
    }
    let count = f64::from(PIECES);
    let (width, height) = (inside.width() / count, inside.height() / count);
    let cells = (0..PIECES * PIECES).filter_map(|cell| {
        let (column, row) = (f64::from(cell % PIECES), f64::from(cell / PIECES));
        Region::new(inside.left() + column * width, inside.top() + row * height, width, height)
    });
    cells.map(|cell| cell.scaled_about_centre(share)).collect()
}
