use super::{
    ActionError, BackgroundStep, RigMask,
    consensus::{Consensus, consensus},
    corners::corners,
    correlation::shift,
    plane::{Plane, Pyramid},
    similarity::{Pair, Similarity},
    track::{REACH, tracked},
};
use crate::geometry::{Raster, Region};
use image::GrayImage;

/// How a step was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeasuredBy {
    /// By corners that were followed from the frame before.
    Corners,
    /// By correlating the whole pictures, where corners were lost, as in blur: a shift alone, with no roll or zoom.
    Correlation,
}

/// How the background was measured to move from the frame before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredStep {
    /// The step in px of the whole clip's raster.
    pub step: BackgroundStep,
    /// How many times larger the background became about the frame's centre; 1 where that was not measured.
    pub zoom: f64,
    /// From 0 to 1: the share of corners that agree, less where they are few or all in one part of the frame. A
    /// correlation has half of how far its peak stands out.
    pub confidence: f64,
    /// How it was measured.
    pub by: MeasuredBy,
}

/// Measures the way of the background frame by frame, from luma at a few hundred lines. It holds the frame before and
/// nothing else.
///
/// Corners outside the rig and outside what is marked are followed from the frame before, there and back; the
/// similarity that most of them agree on is the background's. Where too few agree, the pictures are correlated, and
/// the corners are followed once more from there. Nothing is drawn at random that is not the same the next time.
#[derive(Debug, Clone)]
pub struct BackgroundMeter {
    raster: Raster,
    size: Raster,
    /// The rig and what is near it, where no corner is taken.
    rig: Option<GrayImage>,
    before: Option<Before>,
    frame_count: u64,
}

#[derive(Debug, Clone)]
struct Before {
    pyramid: Pyramid,
    corners: Vec<(usize, usize)>,
    /// What was marked in it, in px of the luma.
    marked: Vec<Region>,
}

/// Levels of the pyramid: the square of 15 px is 120 px on the fourth.
const LEVELS: usize = 4;
/// Corners that must agree, and the share of those that were followed, for a step to be measured by them. Chosen: a
/// subject that is followed by the camera may well have half of all corners.
const LEAST_AGREEING: usize = 10;
const LEAST_AGREEING_SHARE: f64 = 0.3;
/// As many as this are all that is wanted.
const ENOUGH_AGREEING: f64 = 30.0;
/// A correlation whose peak stands out by less is no measurement. Strangers have up to 0.3; chosen.
const LEAST_CLEARNESS: f64 = 0.3;
/// Parts of the frame, across and down, in which agreeing corners are looked for.
const PARTS: (usize, usize) = (4, 3);

impl BackgroundMeter {
    /// A meter for a clip of a raster, whose luma comes in another size. Corners are kept off the rig.
    ///
    /// # Errors
    /// [`ActionError::RigSize`] if the rig was found at another size.
    pub fn new(raster: Raster, size: Raster, rig: Option<&RigMask>) -> Result<Self, ActionError> {
        if let Some(rig) = rig.filter(|rig| rig.size() != size) {
            return Err(ActionError::RigSize { rig: rig.size(), expected: size });
        }
        // A followed square must not touch the rig, or it goes half with it.
        let rig = rig.map(|rig| rig.grown(u8::try_from(REACH + 2).unwrap_or(u8::MAX)));
        Ok(Self { raster, size, rig, before: None, frame_count: 0 })
    }

    /// Begins anew: the next frame is the first after a cut.
    pub fn restart(&mut self) {
        self.before = None;
    }

    /// Takes the next frame, and says how the background moved to it. `None` for the first frame, and where nothing
    /// can be told. `marked` are boxes in this frame, in px of the clip, that are not of the background.
    ///
    /// # Errors
    /// [`ActionError::FrameSize`] if the luma has another size than was said.
    pub fn take(
        &mut self,
        luma: &GrayImage,
        marked: &[Region],
    ) -> Result<Option<MeasuredStep>, ActionError> {
        ActionError::check_size(luma, self.size)?;
        let (pyramid, smooth) = Pyramid::new(Plane::from_luma(luma), LEVELS);
        let step = self.before.as_ref().and_then(|before| self.measured(before, &pyramid));
        let scale =
            (self.size.width() / self.raster.width(), self.size.height() / self.raster.height());
        let marked: Vec<Region> =
            marked.iter().map(|region| region.stretched(scale.0, scale.1)).collect();
        // Smoothed once: the strength of a corner should not be that of the coding noise in it.
        let corners =
            corners(&smooth, REACH + 2, |column, row| self.is_world((column, row), &marked));
        self.before = Some(Before { pyramid, corners, marked });
        self.frame_count += 1;
        Ok(step)
    }

    /// Whether a pixel is neither of the rig nor of what is marked, nor near either.
    fn is_world(&self, (column, row): (usize, usize), marked: &[Region]) -> bool {
        let (x, y, margin) = (column as f64 + 0.5, row as f64 + 0.5, REACH as f64);
        let is_marked = |region: &Region| {
            x > region.left() - margin
                && x < region.right() + margin
                && y > region.top() - margin
                && y < region.bottom() + margin
        };
        let at = row * self.size.width_px() as usize + column;
        let is_rig = self.rig.as_ref().is_some_and(|rig| rig.as_raw()[at] > 0);
        !is_rig && !marked.iter().any(is_marked)
    }

    fn measured(&self, before: &Before, now: &Pyramid) -> Option<MeasuredStep> {
        if let Some(step) = self.by_corners(before, now, (0.0, 0.0)) {
            return Some(step);
        }
        let size = (self.size.width_px() as usize, self.size.height_px() as usize);
        let weights =
            Plane::made(
                size,
                |column, row| {
                    if self.is_world((column, row), &before.marked) { 1.0 } else { 0.0 }
                },
            );
        let shift = shift(before.pyramid.largest(), now.largest(), &weights)
            .filter(|shift| shift.clearness >= LEAST_CLEARNESS)?;
        self.by_corners(before, now, (shift.right, shift.down)).or_else(|| {
            let similarity =
                Similarity { right: shift.right, down: shift.down, ..Similarity::NONE };
            Some(self.step(&similarity, 0.5 * shift.clearness, MeasuredBy::Correlation))
        })
    }

    fn by_corners(
        &self,
        before: &Before,
        now: &Pyramid,
        guess: (f64, f64),
    ) -> Option<MeasuredStep> {
        let centre = self.centre();
        let from_centre = |place: (f64, f64)| (place.0 - centre.0, place.1 - centre.1);
        let pairs: Vec<Pair> = before
            .corners
            .iter()
            .filter_map(|(column, row)| {
                let from = (*column as f64, *row as f64);
                let to = tracked(&before.pyramid, now, from, guess)?;
                Some(Pair { from: from_centre(from), to: from_centre(to) })
            })
            .collect();
        let found = consensus(&pairs, self.frame_count)?;
        let share = found.agreeing.len() as f64 / pairs.len() as f64;
        if found.agreeing.len() < LEAST_AGREEING || share < LEAST_AGREEING_SHARE {
            return None;
        }
        let confidence = self.confidence(&pairs, &found, share);
        Some(self.step(&found.similarity, confidence, MeasuredBy::Corners))
    }

    fn confidence(&self, pairs: &[Pair], found: &Consensus, share: f64) -> f64 {
        let mut parts = [false; PARTS.0 * PARTS.1];
        for at in &found.agreeing {
            let (x, y) = pairs[*at].from;
            let part = |place: f64, side: f64, count: usize| {
                super::plane::floored((place / side + 0.5) * count as f64).min(count - 1)
            };
            let column = part(x, self.size.width(), PARTS.0);
            let row = part(y, self.size.height(), PARTS.1);
            parts[row * PARTS.0 + column] = true;
        }
        let with_any = parts.iter().filter(|part| **part).count() as f64;
        // Half of the parts are enough to tell a turn from a shift.
        let spread = (with_any / (0.5 * parts.len() as f64)).min(1.0);
        share * spread * (found.agreeing.len() as f64 / ENOUGH_AGREEING).min(1.0)
    }

    fn step(&self, similarity: &Similarity, confidence: f64, by: MeasuredBy) -> MeasuredStep {
        let step = BackgroundStep {
            across_px: similarity.right * self.raster.width() / self.size.width(),
            down_px: similarity.down * self.raster.height() / self.size.height(),
            roll_radians: similarity.roll_radians(),
        };
        MeasuredStep { step, zoom: similarity.zoom(), confidence, by }
    }

    /// The frame's centre, in places of pixels.
    fn centre(&self) -> (f64, f64) {
        ((self.size.width() - 1.0) / 2.0, (self.size.height() - 1.0) / 2.0)
    }
}

#[cfg(test)]
mod tests;
