use super::{
    ActionError, MeasuredStep, RigMask,
    conspicuity::{conspicuity, shared_out},
    plane::{Plane, narrowed},
    similarity::Similarity,
};
use crate::geometry::{Raster, Shape, Window};
use image::GrayImage;

/// What the parts of an action map count. They need not add up to 1; none is below 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActionWeights {
    /// What moves against the background.
    pub motion: f64,
    /// What is unlike the rest of the picture.
    pub conspicuity: f64,
    /// The middle of the frame, where whoever mounted the camera pointed it.
    pub centre: f64,
}

impl Default for ActionWeights {
    /// Chosen among nine on the six clips with true boxes that the tests read, so that the gain there is a little
    /// flattered: it is 15 points with these, 13 to 15 with any that count the middle, 9 to 13 without.
    fn default() -> Self {
        Self { motion: 1.0, conspicuity: 0.5, centre: 0.5 }
    }
}

/// Gathers where in the frame things happen, without any mark: a map a frame of what moves against the background, of
/// what is conspicuous in the picture alone, and of the middle, summed over time. It holds the frame before, the sums,
/// and at most 64 profiles, however long the clip is.
///
/// Such maps find where people look but little better than a plain blob in the middle does, on published sets; take what
/// comes of them as a hint, never as a decision.
///
/// Start a new one at each cut.
#[derive(Debug, Clone)]
pub struct ActionFinder {
    raster: Raster,
    size: Raster,
    weights: ActionWeights,
    /// 1 where the world is seen, 0 on the rig.
    world: Plane,
    centre: Plane,
    before: Option<Plane>,
    sum: Plane,
    spells: Vec<Spell>,
    frames_a_spell: u32,
    frame_count: u32,
    moving_count: u32,
}

/// The profiles of a stretch of frames: sums of columns and of rows.
#[derive(Debug, Clone)]
struct Spell {
    columns: Vec<f64>,
    rows: Vec<f64>,
    frame_count: u32,
}

/// Where in the frame things happened, and how surely a held window can be told from it.
#[derive(Debug, Clone, PartialEq)]
pub struct ActionMap {
    raster: Raster,
    width: usize,
    /// Shares of all action, row by row.
    shares: Vec<f32>,
    spells: Vec<(Vec<f64>, Vec<f64>)>,
    moving_share: f64,
}

/// A held window that keeps the most action, the largest of its shape.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldSuggestion {
    /// The window, in px of the clip.
    pub window: Window,
    /// The share of all action that is inside, 0 to 1.
    pub kept_share: f64,
    /// The same for the window in the middle of the frame.
    pub centred_share: f64,
    /// From 0 to 1: on what share of the clip's spells the window keeps more than the centred one, times the share of
    /// frames in which anything moves. Below a half the suggestion says little.
    pub confidence: f64,
}

/// Px across of the map; rows follow from the frame's shape. Chosen: finer than any window can be judged by.
const MAP_WIDTH: u32 = 160;
/// Grey levels that are added to the slope that a difference is held against: noise of coding.
const QUIET_SLOPE: f32 = 6.0;
/// A frame has motion of its own if so many pixels of a thousand differ by more than an edge moved by half a px.
const MOVING_PER_THOUSAND: usize = 1;
const MOVING_RESIDUAL: f32 = 0.5;
/// If anything moves in fewer frames than this share, nothing is suggested.
const LEAST_MOVING_SHARE: f64 = 0.05;
/// Profiles that are held before two and two are put together, and the frames of the first ones.
const MOST_SPELLS: usize = 64;
const FIRST_SPELL_FRAMES: u32 = 4;
/// Spread of the centre's bell, share of the frame's sides. Common practice is a quarter to a third.
const CENTRE_SPREAD: f64 = 0.25;

impl ActionFinder {
    /// One for a clip of a raster whose luma comes in another size; what is fixed to the rig counts for nothing.
    ///
    /// # Errors
    /// [`ActionError::RigSize`] if the rig was found at another size.
    pub fn new(
        raster: Raster,
        size: Raster,
        rig: Option<&RigMask>,
        weights: ActionWeights,
    ) -> Result<Self, ActionError> {
        if let Some(rig) = rig.filter(|rig| rig.size() != size) {
            return Err(ActionError::RigSize { rig: rig.size(), expected: size });
        }
        let (width, height) = map_size(size);
        let full = (size.width_px() as usize, size.height_px() as usize);
        let world = Plane::made(full, |column, row| {
            let place = (u32::try_from(column), u32::try_from(row));
            let fixed = rig.is_some_and(|rig| match place {
                (Ok(column), Ok(row)) => rig.is_fixed(column, row),
                _ => false,
            });
            if fixed { 0.0 } else { 1.0 }
        })
        .shrunk(width, height);
        let bell = |at: usize, side: usize| {
            (((at as f64 + 0.5) / side as f64 - 0.5) / CENTRE_SPREAD).powi(2) / -2.0
        };
        let centre = Plane::made((width, height), |column, row| {
            narrowed((bell(column, width) + bell(row, height)).exp())
        });
        Ok(Self {
            raster,
            size,
            weights,
            world,
            centre: shared_out(centre),
            before: None,
            sum: Plane::even(width, height, 0.0),
            spells: Vec::new(),
            frames_a_spell: FIRST_SPELL_FRAMES,
            frame_count: 0,
            moving_count: 0,
        })
    }

    /// Takes the next frame and how the background moved to it; a frame whose step is not known adds nothing.
    ///
    /// # Errors
    /// [`ActionError::FrameSize`] if the luma has another size than was said.
    pub fn take(
        &mut self,
        luma: &GrayImage,
        step: Option<&MeasuredStep>,
    ) -> Result<(), ActionError> {
        ActionError::check_size(luma, self.size)?;
        let full = Plane::from_luma(luma);
        let now = full.shrunk(self.sum.width(), self.sum.height());
        let before = self.before.replace(now);
        let (Some(before), Some(step), Some(now)) = (before, step, &self.before) else {
            return Ok(());
        };
        let residual = self.residual(&before, now, &self.on_map(step));
        let moving = residual.values().iter().filter(|value| **value > MOVING_RESIDUAL).count();
        self.frame_count += 1;
        // A frame in which nothing moves tells of its pictures alone, which is not action.
        if moving * 1000 >= MOVING_PER_THOUSAND * residual.values().len() {
            self.moving_count += 1;
            let conspicuity = conspicuity(&full);
            let frame = self.weighed(&shared_out(residual.smoothed().smoothed()), &conspicuity);
            self.add(&frame);
        }
        Ok(())
    }

    /// What happened so far.
    #[must_use]
    pub fn finish(self) -> ActionMap {
        let moving_share = f64::from(self.moving_count) / f64::from(self.frame_count.max(1));
        let spells = self.spells.into_iter().map(|spell| (spell.columns, spell.rows)).collect();
        let width = self.sum.width();
        let shares = shared_out(self.sum).values().to_vec();
        ActionMap { raster: self.raster, width, shares, spells, moving_share }
    }

    /// A step of the clip in px of the map.
    fn on_map(&self, measured: &MeasuredStep) -> Similarity {
        let step = &measured.step;
        let (sine, cosine) = step.roll_radians.sin_cos();
        Similarity {
            a: measured.zoom * cosine,
            b: measured.zoom * sine,
            right: step.across_px * self.sum.width() as f64 / self.raster.width(),
            down: step.down_px * self.sum.height() as f64 / self.raster.height(),
        }
    }

    /// How far each pixel differs from the frame before, moved with the background, in about px that an edge moved.
    ///
    /// The best of the nine px about the place counts, so that the background's depth and the step's error are no action.
    fn residual(&self, before: &Plane, now: &Plane, similarity: &Similarity) -> Plane {
        let (width, height) = (now.width(), now.height());
        let centre = ((width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0);
        Plane::made((width, height), |column, row| {
            let place = (column as f64 - centre.0, row as f64 - centre.1);
            let (x, y) = similarity.moved_back(place);
            let here = now.at(column, row);
            let mut least = f32::INFINITY;
            for (right, down) in NEAR {
                let Some(was) = before.sampled(x + centre.0 + right, y + centre.1 + down) else {
                    // What comes into the frame was nowhere before.
                    return 0.0;
                };
                least = least.min((here - was).abs());
            }
            let (across, down) = now.slope(column, row);
            self.world.at(column, row) * least / (across.hypot(down) + QUIET_SLOPE)
        })
    }

    fn weighed(&self, motion: &Plane, conspicuity: &Plane) -> Plane {
        let size = (motion.width(), motion.height());
        // The smaller map is read at the same place of the frame, and shared out over the larger.
        let (across, down) = (
            conspicuity.width() as f64 / size.0 as f64,
            conspicuity.height() as f64 / size.1 as f64,
        );
        let area = narrowed(across * down);
        let of = [self.weights.motion, self.weights.conspicuity, self.weights.centre].map(narrowed);
        Plane::made(size, |column, row| {
            let at = |place: usize, scale: f64| super::plane::floored((place as f64 + 0.5) * scale);
            let still = area * conspicuity.at(at(column, across), at(row, down));
            let sum = of[1] * still + of[2] * self.centre.at(column, row);
            of[0] * motion.at(column, row) + self.world.at(column, row) * sum
        })
    }

    fn add(&mut self, frame: &Plane) {
        for (sum, value) in self.sum.values_mut().iter_mut().zip(frame.values()) {
            *sum += value;
        }
        if self.spells.last().is_none_or(|spell| spell.frame_count >= self.frames_a_spell) {
            if self.spells.len() == MOST_SPELLS {
                self.spells = self.spells.chunks(2).map(Spell::together).collect();
                self.frames_a_spell *= 2;
            }
            self.spells.push(Spell {
                columns: vec![0.0; frame.width()],
                rows: vec![0.0; frame.height()],
                frame_count: 0,
            });
        }
        if let Some(spell) = self.spells.last_mut() {
            spell.frame_count += 1;
            for row in 0..frame.height() {
                for (column, value) in frame.row(row).iter().enumerate() {
                    spell.columns[column] += f64::from(*value);
                    spell.rows[row] += f64::from(*value);
                }
            }
        }
    }
}

/// The place itself and the eight about it.
const NEAR: [(f64, f64); 9] = [
    (0.0, 0.0),
    (-1.0, 0.0),
    (1.0, 0.0),
    (0.0, -1.0),
    (0.0, 1.0),
    (-1.0, -1.0),
    (1.0, -1.0),
    (-1.0, 1.0),
    (1.0, 1.0),
];

fn map_size(size: Raster) -> (usize, usize) {
    let width = size.width_px().min(MAP_WIDTH);
    let height = f64::from(width) * size.height() / size.width();
    (width as usize, super::plane::floored(height.round()).max(1))
}

impl Spell {
    fn together(pair: &[Self]) -> Self {
        let mut spell = pair[0].clone();
        for other in &pair[1..] {
            spell.frame_count += other.frame_count;
            spell.columns.iter_mut().zip(&other.columns).for_each(|(sum, value)| *sum += value);
            spell.rows.iter_mut().zip(&other.rows).for_each(|(sum, value)| *sum += value);
        }
        spell
    }
}

impl ActionMap {
    /// The map: its width in px, and the share of all action in each, row by row.
    #[must_use]
    pub fn shares(&self) -> (usize, &[f32]) {
        (self.width, &self.shares)
    }

    /// On what share of the frames anything moved against the background.
    #[must_use]
    pub const fn moving_share(&self) -> f64 {
        self.moving_share
    }

    /// The held window of a shape that keeps the most action, as large as the frame lets it be. `None` if next to
    /// nothing moves, as in a still picture.
    #[must_use]
    pub fn held_window(&self, shape: Shape) -> Option<HeldSuggestion> {
        if self.moving_share < LEAST_MOVING_SHARE {
            return None;
        }
        let (frame_width, frame_height) = (self.raster.width(), self.raster.height());
        let width = frame_width.min(shape.width_for(frame_height));
        let height = frame_height.min(shape.height_for(frame_width));
        let is_narrow = width < frame_width;
        let (room, length) = if is_narrow { (frame_width, width) } else { (frame_height, height) };
        let profiles: Vec<Profile> = self
            .spells
            .iter()
            .map(|(columns, rows)| Profile::new(if is_narrow { columns } else { rows }))
            .collect();
        let share = length / room;
        let kept =
            |from: f64| profiles.iter().map(|profile| profile.between(from, share)).sum::<f64>();
        let centred_from = (1.0 - share) / 2.0;
        let (mut from, mut most) = (centred_from, kept(centred_from));
        let steps = 2 * if is_narrow { self.width } else { self.shares.len() / self.width };
        for step in 0..=steps {
            let place = (1.0 - share) * step as f64 / steps as f64;
            let here = kept(place);
            // Equally good places further from the middle are not better.
            if here > most * (1.0 + 1e-9) {
                (from, most) = (place, here);
            }
        }
        let total: f64 = profiles.iter().map(Profile::total).sum();
        let better = profiles
            .iter()
            .filter(|profile| profile.between(from, share) > profile.between(centred_from, share))
            .count();
        let corner = if is_narrow { (from * room, 0.0) } else { (0.0, from * room) };
        let window = Window::inside(self.raster, corner, (width, height)).ok()?;
        Some(HeldSuggestion {
            window,
            kept_share: most / total,
            centred_share: kept(centred_from) / total,
            confidence: self.moving_share * better as f64 / profiles.len().max(1) as f64,
        })
    }
}

/// Sums of a profile from its start.
struct Profile {
    sums: Vec<f64>,
}

impl Profile {
    fn new(values: &[f64]) -> Self {
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for value in values {
            sum += value;
            sums.push(sum);
        }
        Self { sums }
    }

    fn total(&self) -> f64 {
        self.sums.last().copied().unwrap_or(0.0)
    }

    /// What is from a place on over a length, both shares of the whole.
    fn between(&self, from: f64, length: f64) -> f64 {
        let up_to = |share: f64| {
            let place = share.clamp(0.0, 1.0) * (self.sums.len() - 1) as f64;
            let whole = super::plane::floored(place).min(self.sums.len() - 1);
            let next = self.sums.get(whole + 1).copied().unwrap_or(self.sums[whole]);
            self.sums[whole] + (place - whole as f64) * (next - self.sums[whole])
        };
        up_to(from + length) - up_to(from)
    }
}

#[cfg(test)]
mod tests;
