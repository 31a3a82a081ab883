use super::{
    ActionError,
    plane::{Plane, narrowed},
};
use crate::geometry::Raster;
use border::{Evidence, claimed};
use image::{GrayImage, Luma};
use imageproc::{
    distance_transform::Norm,
    morphology::dilate,
    region_labelling::{Connectivity, connected_components},
};

mod border;

/// Which pixels of a clip are of what the camera is mounted on: bodywork, a helmet's rim, a boom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RigMask {
    size: Raster,
    /// 255 where fixed, else 0.
    fixed: GrayImage,
}

/// What a clip tells of a rig in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RigFinding {
    /// Something that reaches in from the frame's edge stays where it is while the rest moves.
    Rig(RigMask),
    /// Nothing does.
    Nothing,
    /// Nearly all that has edges stays: the camera stands still, and rig and world cannot be told apart.
    CameraStands,
    /// There are too few frames to tell.
    TooShort,
}

/// Gathers, frame by frame, what stays and what moves. It holds ten sums a pixel, however long the clip is.
///
/// For every pixel: the mean and the standard deviation `s` of its luma over time, the mean length of its slope, and how
/// much of that is left of the mean slope (the static-edge ratio: 1 for an edge that stays, towards 0 for texture that
/// passes). `s` over the mean slope is about how many px an edge wanders. What a rig is made of, and where it ends, is
/// then decided from each side of the frame (see the file `border`). No published method is known for this; it is
/// an own construction on two plain statistics.
///
/// Start a new one at each cut.
#[derive(Debug, Clone)]
pub struct RigFinder {
    size: Raster,
    frame_count: u32,
    /// Sums of the frames before the latest few.
    sums: Vec<[f64; SUMMED]>,
    /// Those of the latest, a plane for each, in few digits: adding to them takes a third of the time.
    latest: [Vec<f32>; SUMMED],
}

/// What is summed for a pixel: its luma and the square of that, its slope across and down, and the slope's length.
const SUMMED: usize = 5;
/// Frames whose sums are kept in few digits. So many squares of luma, up to 255, are exact in them.
const LATEST_FRAMES: u32 = 128;

/// A second at the slowest common rate. Over less, what passes slowly looks as if it stayed.
const LEAST_FRAMES: u32 = 24;
/// A slope that counts as an edge, in grey levels a px after smoothing: coding noise has up to 2. Chosen.
const EDGE_SLOPE: f32 = 3.0;
/// An edge that surely stays: most of its slope is left of the mean, and it wanders less than about a px.
const STAYS: EdgeBounds = EdgeBounds { least_ratio: 0.7, most_wander_px: 1.4 };
/// An edge that may stay while what is beside it changes, as a bonnet's does over lit and shaded road.
const MAY_STAY: EdgeBounds = EdgeBounds { least_ratio: 0.8, most_wander_px: 2.2 };
/// An edge below this ratio or wandering further is of the moving world.
const PASSES: EdgeBounds = EdgeBounds { least_ratio: 0.5, most_wander_px: 2.5 };
/// If more than this share of all edges stays, the camera does.
const STANDS_SHARE: f64 = 0.85;
/// The share of a rig's outline that lies on edges that stay. The outline of a sky or of a road has up to 0.54 in the
/// clips that this was chosen on, a bonnet's 0.78.
const LEAST_OUTLINE_SHARE: f64 = 0.65;
/// A rig smaller than this share of the frame does not mislead anything. Chosen.
const LEAST_RIG_SHARE: f64 = 0.003;

struct EdgeBounds {
    least_ratio: f32,
    most_wander_px: f32,
}

impl EdgeBounds {
    fn hold(&self, ratio: f32, wander_px: f32) -> bool {
        ratio >= self.least_ratio && wander_px <= self.most_wander_px
    }
}

impl RigFinder {
    /// One for luma of this size; a few hundred lines are enough.
    #[must_use]
    pub fn new(size: Raster) -> Self {
        let count = size.width_px() as usize * size.height_px() as usize;
        let latest = std::array::from_fn(|_| vec![0.0; count]);
        Self { size, frame_count: 0, sums: vec![[0.0; SUMMED]; count], latest }
    }

    /// Takes the next frame.
    ///
    /// # Errors
    /// [`ActionError::FrameSize`] if it has another size than was said.
    pub fn take(&mut self, luma: &GrayImage) -> Result<(), ActionError> {
        ActionError::check_size(luma, self.size)?;
        self.frame_count += 1;
        let plane = Plane::from_luma(luma);
        let [slopes_across, slopes_down] = plane.smoothed().slopes();
        let [lumas, squares, acrosses, downs, lengths] = &mut self.latest;
        for ((sum, square), value) in lumas.iter_mut().zip(squares).zip(plane.values()) {
            *sum += value;
            *square += value * value;
        }
        let slopes = slopes_across.iter().zip(&slopes_down);
        let sums = acrosses.iter_mut().zip(downs).zip(lengths);
        for (((sum_across, sum_down), length), (across, down)) in sums.zip(slopes) {
            *sum_across += across;
            *sum_down += down;
            *length += (across * across + down * down).sqrt();
        }
        if self.frame_count.is_multiple_of(LATEST_FRAMES) {
            self.sums = self.summed().collect();
            self.latest.iter_mut().for_each(|sums| sums.fill(0.0));
        }
        Ok(())
    }

    /// The sums of all frames so far, pixel by pixel.
    fn summed(&self) -> impl Iterator<Item = [f64; SUMMED]> {
        self.sums.iter().enumerate().map(|(at, before)| {
            std::array::from_fn(|which| before[which] + f64::from(self.latest[which][at]))
        })
    }

    /// What the frames so far tell.
    #[must_use]
    pub fn finding(&self) -> RigFinding {
        if self.frame_count < LEAST_FRAMES {
            return RigFinding::TooShort;
        }
        let evidence = self.evidence();
        let (edges, stay) = (evidence.edge_count, evidence.staying_count());
        if edges == 0 || stay as f64 > STANDS_SHARE * edges as f64 {
            return RigFinding::CameraStands;
        }
        let fixed = supported(&claimed(&evidence), &evidence.stays);
        if fixed.as_raw().iter().all(|value| *value == 0) {
            return RigFinding::Nothing;
        }
        RigFinding::Rig(RigMask { size: self.size, fixed })
    }

    fn evidence(&self) -> Evidence {
        let (width, height) = (self.size.width_px(), self.size.height_px());
        let count = f64::from(self.frame_count);
        let mut stays = GrayImage::new(width, height);
        let mut weights = Vec::with_capacity(self.sums.len());
        let mut outlines = Vec::with_capacity(self.sums.len());
        let (mut means, mut edge_count) = (Vec::with_capacity(self.sums.len()), 0);
        for (sums, stays) in self.summed().zip(stays.pixels_mut()) {
            let [luma, luma_square, slope_across, slope_down, slope_length] = sums;
            let mean = luma / count;
            let spread = (luma_square / count - mean * mean).max(0.0).sqrt();
            let slope = slope_length / count;
            let ratio = narrowed(slope_across.hypot(slope_down) / slope_length.max(1e-9));
            let wander = narrowed(spread / slope.max(1e-9));
            let is_edge = narrowed(slope) > EDGE_SLOPE;
            edge_count += usize::from(is_edge);
            let (sure, may) = (STAYS.hold(ratio, wander), MAY_STAY.hold(ratio, wander));
            *stays = Luma([if is_edge && sure { 255 } else { 0 }]);
            weights.push(match (is_edge, sure) {
                (true, true) => border::STAYING,
                (true, false) if !PASSES.hold(ratio, wander) => border::PASSING,
                _ => border::PLAIN,
            });
            outlines.push(match (is_edge, sure, may) {
                (true, true, _) => border::SURE_OUTLINE,
                (true, false, true) => border::LIKELY_OUTLINE,
                _ => border::NO_OUTLINE,
            });
            means.push(narrowed(mean));
        }
        let size = (width as usize, height as usize);
        Evidence { mean: Plane::of(size.0, size.1, means), weights, outlines, stays, edge_count }
    }
}

/// What of the claimed pixels has enough of its outline on edges that stay.
fn supported(claimed: &GrayImage, stays: &GrayImage) -> GrayImage {
    let labels = connected_components(claimed, Connectivity::Four, Luma([0]));
    let near = dilate(stays, Norm::LInf, 2);
    let parts = labels.pixels().map(|label| label.0[0]).max().unwrap_or(0) as usize + 1;
    let mut sizes = vec![0_u64; parts];
    let mut outlines = vec![(0_u64, 0_u64); parts];
    let (width, height) = claimed.dimensions();
    for (column, row, label) in labels.enumerate_pixels() {
        let part = label.0[0];
        sizes[part as usize] += 1;
        let beside = [(-1, 0), (1, 0), (0, -1), (0, 1)];
        let is_outline = beside.into_iter().any(|(across, down)| {
            let place = (column.checked_add_signed(across), row.checked_add_signed(down));
            let (Some(column), Some(row)) = place else { return false };
            column < width && row < height && labels.get_pixel(column, row).0[0] != part
        });
        if is_outline {
            outlines[part as usize].0 += 1;
            outlines[part as usize].1 += u64::from(near.get_pixel(column, row).0[0] > 0);
        }
    }
    let least = LEAST_RIG_SHARE * f64::from(width) * f64::from(height);
    let is_rig = |part: usize| {
        let (all, on_edges) = outlines[part];
        part > 0
            && sizes[part] as f64 >= least
            && on_edges as f64 >= LEAST_OUTLINE_SHARE * all as f64
            && all > 0
    };
    let mut fixed = claimed.clone();
    for (pixel, label) in fixed.pixels_mut().zip(labels.pixels()) {
        if !is_rig(label.0[0] as usize) {
            *pixel = Luma([0]);
        }
    }
    fixed
}

impl RigMask {
    /// The size that it was found at.
    #[must_use]
    pub const fn size(&self) -> Raster {
        self.size
    }

    /// Whether a pixel is fixed to the rig; none outside is.
    #[must_use]
    pub fn is_fixed(&self, column: u32, row: u32) -> bool {
        self.fixed.get_pixel_checked(column, row).is_some_and(|pixel| pixel.0[0] > 0)
    }

    /// The share of the frame that is fixed to the rig.
    #[must_use]
    pub fn share(&self) -> f64 {
        let count = self.fixed.as_raw().iter().filter(|value| **value > 0).count();
        count as f64 / self.fixed.as_raw().len() as f64
    }

    /// The mask with so many px more on every side.
    pub(super) fn grown(&self, px: u8) -> GrayImage {
        dilate(&self.fixed, Norm::LInf, px)
    }
}

impl RigFinding {
    /// The mask, where there is a rig.
    #[must_use]
    pub const fn mask(&self) -> Option<&RigMask> {
        match self {
            Self::Rig(mask) => Some(mask),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests;
