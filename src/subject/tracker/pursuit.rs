//! A tracker that goes on from one box, a frame at a time.

use super::{
    colour::Colours,
    features::{CELL, features},
    filter::Filter,
    flow::{Levels, follow},
    frame::{Frame, Patch, Place},
    motion::{Affine, Stretch, background, median, stretch},
};

pub struct Tuning {
    pub cells: usize,
    pub padding: f64,
    pub rate: f32,
    pub rounds: usize,
    pub colour_rate: f32,
    pub pull: f64,
    pub grid: usize,
    pub scale_pull: f64,
    pub psr_min: f32,
    pub x: [f64; 8],
}

impl Default for Tuning {
    fn default() -> Self {
        Self { cells: 32, padding: 2.0, rate: 0.02, rounds: 2, colour_rate: 0.04, pull: 0.3, grid: 12, scale_pull: 1.0, psr_min: 7.0, x: [0.5, 0.3, 0.2, 0.0, 0.0, 0.0, 0.0, 0.0] }
    }
}

#[derive(Debug, Clone, Copy)]
pub struct Step {
    pub centre: [f64; 2],
    pub size: [f64; 2],
    pub psr: f32,
    pub agreed: f64,
    pub info: [f64; 6],
}

pub struct Pursuit<'t> {
    tuning: &'t Tuning,
    centre: [f64; 2],
    size: [f64; 2],
    /// The window over the box, an axis each.
    window_over_box: [f64; 2],
    filter: Filter,
    colours: Colours,
    first_colours: Colours,
    first_size: [f64; 2],
    age: usize,
    speed: [f64; 2],
    camera: Option<Affine>,
    last: Option<Frame>,
    mask: Vec<f32>,
}

impl<'t> Pursuit<'t> {
    pub fn new(picture: &image::RgbImage, centre: [f64; 2], size: [f64; 2], tuning: &'t Tuning) -> Self {
        let frame = Frame::new(picture);
        let side = (size[0] * size[1]).sqrt();
        let window_over_box = size.map(|s| (s + tuning.padding * side) / s);
        let mut filter = Filter::new(tuning.cells);
        let place = Place { centre, size: [size[0] * window_over_box[0], size[1] * window_over_box[1]] };
        let patch = frame.patch(place, tuning.cells * CELL);
        let half = half_px(&patch, window_over_box);
        let first = Colours::of(&patch, half, None);
        let chances = first.chances(&patch);
        let colours = Colours::of(&patch, half, Some(&chances));
        let mask = mask(&colours.chances(&patch), tuning.cells, window_over_box);
        filter.learn(&features(&patch), &mask, 1.0, tuning.rounds.max(4));
        Self { first_colours: colours.clone(), first_size: size, age: 0, tuning, centre, size, window_over_box, filter, colours, speed: [0.0; 2], camera: None, last: Some(frame), mask }
    }

    fn place(&self, centre: [f64; 2], size: [f64; 2]) -> Place {
        Place { centre, size: [0, 1].map(|a| size[a] * self.window_over_box[a]) }
    }

    pub fn step(&mut self, picture: &image::RgbImage) -> Step {
        let frame = Frame::new(picture);
        let before = self.last.take().expect("kept after each step");
        let t = self.tuning;
        self.camera = self.camera_motion([&before, &frame]);
        let found = self.subject_motion([&before, &frame]);
        let (mut centre, mut size) = (self.centre, self.size);
        let mut agreed = 0.0;
        match &found {
            Some(stretch) => {
                let sure = (stretch.agreed / t.x[1].max(1e-9)).clamp(0.0, 1.0);
                let scale = stretch.scale.map(|s| 1.0 + sure * (s.clamp(0.85, 1.18) - 1.0));
                let mid = stretch.apply(self.centre);
                centre = mid;
                size = [0, 1].map(|a| (size[a] * (1.0 + t.scale_pull * (scale[a] - 1.0))).clamp(8.0, 2.0 * frame.size()[a]));
                agreed = stretch.agreed;
            }
            None => {
                centre = [0, 1].map(|a| centre[a] + self.speed[a]);
            }
        }
        let patch_side = t.cells * CELL;
        let place = self.place(centre, size);
        let patch = frame.patch(place, patch_side);
        let [response, first] = self.filter.answer(&features(&patch));
        let first_peak = first.peak();
        let first_psr = first.peak_to_sidelobe(&first_peak);
        let peak = response.peak();
        let psr = response.peak_to_sidelobe(&peak);
        let pull = t.pull;
        let cell = place.size.map(|s| s / t.cells as f64);
        let off = [0, 1].map(|a| peak.offset[a] * cell[a]);
        // Where few points agree the filter has the say.
        let doubt = (1.0 - agreed / t.x[0].max(1e-9)).clamp(0.0, 1.0);
        let trust = (f64::from(psr) / 10.0).clamp(0.0, 1.0);
        let pull = pull + (1.0 - pull) * doubt * trust;
        centre = [0, 1].map(|a| centre[a] + pull * off[a]);
        for a in 0..2 {
            centre[a] = centre[a].clamp(0.0, frame.size()[a]);
        }
        self.speed = [0, 1].map(|a| centre[a] - self.centre[a]);
        self.centre = centre;
        self.size = size;
        self.age += 1;
        let seen = self.seen(&frame);
        if psr > t.psr_min {
            self.learn(&frame);
        }
        self.last = Some(frame);
        let off_size = (off[0] / size[0]).hypot(off[1] / size[1]);
        let grown = [0, 1].map(|a| (size[a] / self.first_size[a]).ln().abs());
        Step { centre, size, psr, agreed, info: [first_psr.into(), peak.height.into(), off_size, seen[0], seen[1], grown[0].max(grown[1])] }
    }

    /// The mean chance of colours inside against around, and how alike the colours are to the first ones.
    fn seen(&self, frame: &Frame) -> [f64; 2] {
        let t = self.tuning;
        let patch = frame.patch(self.place(self.centre, self.size), t.cells * CELL);
        let half = half_px(&patch, self.window_over_box);
        let chances = self.colours.chances(&patch);
        let fresh = Colours::of(&patch, half, Some(&chances));
        let middle = t.cells as f32 / 2.0;
        let (mut inside, mut n, mut outside, mut m) = (0.0, 0.0, 0.0, 0.0);
        for y in 0..t.cells {
            for x in 0..t.cells {
                let across = ((x as f32 + 0.5 - middle) * CELL as f32 / half[0]).abs();
                let down = ((y as f32 + 0.5 - middle) * CELL as f32 / half[1]).abs();
                let far = across.max(down);
                let chance = chances[y * t.cells + x];
                if far < 1.0 { inside += chance; n += 1.0; } else if far < 1.8 { outside += chance; m += 1.0; }
            }
        }
        [f64::from(inside / n - outside / m), f64::from(self.first_colours.alike(&fresh))]
    }

    fn mask_at(&self, point: [f64; 2]) -> f64 {
        let cells = self.tuning.cells;
        let at = [0, 1].map(|a| {
            let window = self.size[a] * self.window_over_box[a];
            (((point[a] - self.centre[a]) / window + 0.5) * cells as f64).clamp(0.0, cells as f64 - 1.0) as usize
        });
        f64::from(self.mask[at[1] * cells + at[0]])
    }

    fn learn(&mut self, frame: &Frame) {
        let t = self.tuning;
        let place = self.place(self.centre, self.size);
        let patch = frame.patch(place, t.cells * CELL);
        let chances = self.colours.chances(&patch);
        self.mask = mask(&chances, t.cells, self.window_over_box);
        self.filter.learn(&features(&patch), &self.mask, t.rate, t.rounds);
        let half = half_px(&patch, self.window_over_box);
        let fresh = Colours::of(&patch, half, Some(&chances));
        self.colours.learn(&fresh, t.colour_rate);
    }

    fn camera_motion(&self, frames: [&Frame; 2]) -> Option<Affine> {
        let [width, height] = frames[0].size();
        let mut points = Vec::new();
        for row in 0..9 {
            for column in 0..14 {
                let point = [(column as f64 + 0.5) / 14.0 * width, (row as f64 + 0.5) / 9.0 * height];
                let outside = (0..2).any(|a| (point[a] - self.centre[a]).abs() > 0.55 * self.size[a]);
                if outside {
                    points.push(point);
                }
            }
        }
        let finest = frames[0].level_for(width / 240.0).0;
        let camera = self.camera;
        let guess = move |p: [f64; 2]| camera.map_or(p, |c| c.apply(p));
        let mut moved = follow(frames, &points, guess, Levels { finest, count: 3 });
        moved.retain(|m| m.miss < 1.5);
        background(&moved)
    }

    fn subject_motion(&self, frames: [&Frame; 2]) -> Option<Stretch> {
        let [width, height] = frames[0].size();
        let grid = self.tuning.grid;
        let mut points = Vec::new();
        for row in 0..grid {
            for column in 0..grid {
                let at = |index: usize, a: usize| self.centre[a] + ((index as f64 + 0.5) / grid as f64 - 0.5) * self.size[a];
                let point = [at(column, 0), at(row, 1)];
                if point[0] > 1.0 && point[0] < width - 1.0 && point[1] > 1.0 && point[1] < height - 1.0 {
                    points.push(point);
                }
            }
        }
        let wide = (self.size[0] * self.size[1]).sqrt();
        let finest = frames[0].level_for(wide / 100.0).0;
        let speed = self.speed;
        let guess = move |p: [f64; 2]| [p[0] + speed[0], p[1] + speed[1]];
        let moved = follow(frames, &points, guess, Levels { finest, count: 3 });
        let mut misses: Vec<f64> = moved.iter().map(|m| m.miss).collect();
        let step = (1 << finest) as f64;
        let allowed = median(&mut misses)?.max(step);
        let good: Vec<_> = moved.into_iter().filter(|m| m.miss < allowed).collect();
        let apart: Vec<_> = good
            .iter()
            .copied()
            .filter(|m| {
                self.camera.is_none_or(|camera| {
                    let there = camera.apply(m.from);
                    (there[0] - m.to[0]).hypot(there[1] - m.to[1]) > 1.5
                })
            })
            .collect();
        let apart = if self.tuning.x[2] > 0.0 {
            let own: Vec<_> = apart.iter().copied().filter(|m| self.mask_at(m.from) > self.tuning.x[2]).collect();
            if own.len() as f64 > 0.15 * points.len() as f64 { own } else { apart }
        } else { apart };
        let used = if apart.len() as f64 > 0.15 * points.len() as f64 { apart } else { good };
        let mut found = stretch(&used, self.size, 0.03 * wide)?;
        found.agreed *= used.len() as f64 / points.len().max(1) as f64;
        Some(found)
    }
}

fn half_px(patch: &Patch, window_over_box: [f64; 2]) -> [f32; 2] {
    window_over_box.map(|over| patch.side as f32 / 2.0 / over as f32)
}

/// The share of each cell that is the subject's: by its colour, and by where it lies in the box.
fn mask(chances: &[f32], cells: usize, window_over_box: [f64; 2]) -> Vec<f32> {
    let half = window_over_box.map(|over| (cells as f64 / 2.0 / over) as f32);
    let middle = cells as f32 / 2.0;
    let mut mask = vec![0.0; cells * cells];
    let (mut sum, mut count) = (0.0, 0.0);
    for y in 0..cells {
        for x in 0..cells {
            let across = (x as f32 + 0.5 - middle).abs() - half[0];
            let down = (y as f32 + 0.5 - middle).abs() - half[1];
            let inside = (0.5 - across.max(down)).clamp(0.0, 1.0);
            if inside > 0.0 {
                let mut mean = 0.0;
                let mut n = 0.0;
                for yy in y.saturating_sub(1)..(y + 2).min(cells) {
                    for xx in x.saturating_sub(1)..(x + 2).min(cells) {
                        mean += chances[yy * cells + xx];
                        n += 1.0;
                    }
                }
                let share = ((mean / n - 0.3) / 0.3).clamp(0.0, 1.0);
                mask[y * cells + x] = inside * share;
                sum += inside * share;
                count += inside;
            }
        }
    }
    if sum < 0.2 * count {
        // Colours that do not tell: the whole box.
        for y in 0..cells {
            for x in 0..cells {
                let across = (x as f32 + 0.5 - middle).abs() - half[0];
                let down = (y as f32 + 0.5 - middle).abs() - half[1];
                mask[y * cells + x] = (0.5 - across.max(down)).clamp(0.0, 1.0);
            }
        }
    }
    mask
}
