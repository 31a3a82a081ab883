use super::{ActionError, consensus::median, plane::Plane};
use crate::{geometry::Raster, timecode::FrameIndex};
use image::GrayImage;
use std::collections::VecDeque;

/// Finds hard cuts inside a clip, frame by frame. It holds a few thumbnails.
///
/// A frame begins a new shot if
/// - its difference from the frame before stands out from those round it, as in the rule of neighbouring differences that
///   does best of the unlearned ones on published sets;
/// - the picture does not come back within a few frames, before or after: it does in a flash;
/// - next to none of it can be found again in the frame before, even moved, while the frames before and after it go on
///   as they were. In a whip they do not.
///
/// A dissolve or a fade is no hard cut and is not found. Nor is a cut within two frames of another, or in the first or
/// last frame, which nothing beside it confirms.
#[derive(Debug, Clone)]
pub struct CutFinder {
    size: Raster,
    held: VecDeque<Seen>,
    /// The frame that comes next.
    next: u64,
    cuts: Vec<FrameIndex>,
}

#[derive(Debug, Clone)]
struct Seen {
    thumbnail: Plane,
    /// Mean absolute difference from the frame before, in grey levels; 0 for the first.
    difference: f64,
}

/// Size of thumbnails: blocks of 16 x 9 px of them are a sixth of the frame each way.
const THUMBNAIL: (usize, usize) = (96, 54);
const BLOCK: (usize, usize) = (16, 9);
/// Frames on each side that a difference is held against, and that a picture may come back in.
const BESIDE: usize = 5;
/// Frames that are held: those beside on both sides, the frame, and the one before the first of them.
const HELD: usize = 2 * BESIDE + 2;
/// The least difference of a cut, in grey levels. Published detectors take 15 of the mean of three channels of 255;
/// luma alone differs less. Chosen.
const LEAST_DIFFERENCE: f64 = 8.0;
/// How many times the median of the differences beside it, and each of its neighbours', a cut's is. Published detectors
/// take 3; where a camera follows a fast subject every frame differs by 45 levels and a cut by 60, so that this only
/// leaves out what needs no closer look.
const TIMES_BESIDE: f64 = 1.2;
/// A neighbour is calm that differs by less than this share of the cut's difference, or that is found again. Chosen.
const CALM_SHARE: f64 = 0.33;
/// A picture has come back if it differs from the one before by less than this share of the cut's difference. Chosen.
const COME_BACK_SHARE: f64 = 0.5;
/// How far a block is looked for, in px of the thumbnail: a tenth of the width, an eighth of the height.
const SEARCH: (isize, isize) = (10, 7);
/// A block is found again if it correlates by this much, and it is drawn if its values spread by so many grey levels.
const FOUND_CORRELATION: f32 = 0.85;
const DRAWN_SPREAD: f32 = 2.0;
/// A picture of which less than the first share of drawn blocks is found is of another scene; of which more than the
/// second is found, of the same. In the six clips that this was chosen on strangers have up to 0.14, and neighbours 0.45
/// and more.
const STRANGER_SHARE: f64 = 0.25;
const SAME_SHARE: f64 = 0.4;

impl CutFinder {
    /// One for luma of this size; a hundred lines are enough.
    #[must_use]
    pub const fn new(size: Raster) -> Self {
        Self { size, held: VecDeque::new(), next: 0, cuts: Vec::new() }
    }

    /// Takes the next frame.
    ///
    /// # Errors
    /// [`ActionError::FrameSize`] if it has another size than was said.
    pub fn take(&mut self, luma: &GrayImage) -> Result<(), ActionError> {
        ActionError::check_size(luma, self.size)?;
        let thumbnail = Plane::from_luma(luma).shrunk(THUMBNAIL.0, THUMBNAIL.1);
        let difference =
            self.held.back().map_or(0.0, |before| difference(&before.thumbnail, &thumbnail));
        self.held.push_back(Seen { thumbnail, difference });
        self.next += 1;
        if self.held.len() > HELD {
            self.held.pop_front();
        }
        if self.held.len() > BESIDE {
            self.judge(self.held.len() - 1 - BESIDE);
        }
        Ok(())
    }

    /// The first frames of the shots after the clip's first, rising.
    #[must_use]
    pub fn finish(mut self) -> Vec<FrameIndex> {
        let from = self.held.len().saturating_sub(BESIDE);
        for at in from..self.held.len() {
            self.judge(at);
        }
        self.cuts
    }

    /// Judges the held frame at a place, whose later neighbours are held as far as there are any.
    fn judge(&mut self, at: usize) {
        if at > 0 && self.stands_out(at) && !self.comes_back(at) && self.is_strange(at) {
            let frame = self.next - (self.held.len() - at) as u64;
            self.cuts.push(FrameIndex(frame));
        }
    }

    fn stands_out(&self, at: usize) -> bool {
        let here = self.held[at].difference;
        let first = self.first_with_a_difference();
        let beside: Vec<f64> = (at.saturating_sub(BESIDE).max(first)..self.held.len())
            .filter(|other| *other != at)
            .map(|other| self.held[other].difference)
            .take(2 * BESIDE)
            .collect();
        let greatest = self.neighbours(at).map(|at| self.held[at].difference).fold(0.0, f64::max);
        here >= LEAST_DIFFERENCE
            && !beside.is_empty()
            && here >= TIMES_BESIDE * median(beside).max(greatest)
    }

    /// The first of all frames has no difference from one before.
    fn first_with_a_difference(&self) -> usize {
        usize::from(self.next <= self.held.len() as u64)
    }

    /// The places of the frames before and after, where there is one before them too.
    fn neighbours(&self, at: usize) -> impl Iterator<Item = usize> + use<> {
        let end = self.held.len();
        [at - 1, at + 1].into_iter().filter(move |place| (1..end).contains(place))
    }

    /// Whether a frame after this one is like the one before it, or one before like this one.
    fn comes_back(&self, at: usize) -> bool {
        let least = COME_BACK_SHARE * self.held[at].difference;
        let alike = |one: usize, other: usize| {
            difference(&self.held[one].thumbnail, &self.held[other].thumbnail) < least
        };
        let after = (at + 1..self.held.len()).any(|later| alike(at - 1, later));
        after || (0..at - 1).any(|earlier| alike(earlier, at))
    }

    /// Whether a frame is of another scene than the one before, while those beside it go on as they were.
    fn is_strange(&self, at: usize) -> bool {
        let is_calm = |neighbour: usize| {
            self.held[neighbour].difference <= CALM_SHARE * self.held[at].difference
                || self.found_at(neighbour) >= SAME_SHARE
        };
        self.found_at(at) < STRANGER_SHARE && self.neighbours(at).all(is_calm)
    }

    /// The share of a held frame that is found again in the one before it.
    fn found_at(&self, at: usize) -> f64 {
        found_share(&self.held[at].thumbnail, &self.held[at - 1].thumbnail)
    }
}

fn difference(one: &Plane, other: &Plane) -> f64 {
    let sum: f32 = one.values().iter().zip(other.values()).map(|(a, b)| (a - b).abs()).sum();
    f64::from(sum) / one.values().len() as f64
}

/// The share of a picture's drawn blocks that are found again in another; 0 if none is drawn.
fn found_share(picture: &Plane, other: &Plane) -> f64 {
    let (mut drawn, mut found) = (0.0, 0.0);
    for row in (0..picture.height().saturating_sub(BLOCK.1 - 1)).step_by(BLOCK.1) {
        for column in (0..picture.width().saturating_sub(BLOCK.0 - 1)).step_by(BLOCK.0) {
            let block = block(picture, column, row);
            if block.spread >= DRAWN_SPREAD {
                drawn += 1.0;
                found += f64::from(u8::from(is_found(&block, other, (column, row))));
            }
        }
    }
    if drawn > 0.0 { found / drawn } else { 0.0 }
}

/// The values of a block without their mean, and their standard deviation.
struct Block {
    values: Vec<f32>,
    spread: f32,
}

fn block(plane: &Plane, column: usize, row: usize) -> Block {
    let mut values: Vec<f32> = (row..row + BLOCK.1)
        .flat_map(|row| plane.row(row)[column..column + BLOCK.0].iter().copied())
        .collect();
    let count = values.len() as f32;
    let mean = values.iter().sum::<f32>() / count;
    values.iter_mut().for_each(|value| *value -= mean);
    let spread = (values.iter().map(|value| value * value).sum::<f32>() / count).sqrt();
    Block { values, spread }
}

fn is_found(wanted: &Block, plane: &Plane, (column, row): (usize, usize)) -> bool {
    let places = |at: usize, reach: isize, side: usize, block: usize| {
        (-reach..=reach)
            .filter_map(move |step| at.checked_add_signed(step))
            .filter(move |place| place + block <= side)
    };
    places(row, SEARCH.1, plane.height(), BLOCK.1).any(|row| {
        places(column, SEARCH.0, plane.width(), BLOCK.0).any(|column| {
            let here = block(plane, column, row);
            let product: f32 = wanted.values.iter().zip(&here.values).map(|(a, b)| a * b).sum();
            let scale = wanted.spread * here.spread * wanted.values.len() as f32;
            scale > 0.0 && product >= FOUND_CORRELATION * scale
        })
    })
}

#[cfg(test)]
mod tests;
