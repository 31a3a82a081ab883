//! The river: its colour, the streaks and foam the current carries, and the weir.

use std::f32::consts::TAU;

use tiny_skia::{Color, Path, PathBuilder, Point};

use crate::camera::metre_at;
use crate::canvas::{Canvas, between, blob, oval, polygon, pt, rgb, rgba};
use crate::land::{BANK_LEFT, BOULDERS, far_waterline};
use crate::noise::{Dice, unit};

/// How far the current drops down the picture for each pixel it runs across.
const FLOW_SLOPE: f32 = 0.27;
/// Speed of the current in metres a second.
const FLOW_SPEED: f32 = 1.25;
/// Where carried things enter, left of the frame.
const FLOW_START: f32 = -160.0;
/// How far they are carried before they enter again.
const FLOW_LENGTH: f32 = 1760.0;

/// Where the water goes over the lip of the weir.
const CREST: f32 = 334.0;
/// Where the falling water lands.
const FALL_FOOT: f32 = 396.0;
/// Left and right edge of the smooth chute through the weir, at the lip.
const CHUTE: (f32, f32) = (196.0, 292.0);

/// Draws the river's still colour, which never moves but with the camera.
pub(crate) fn draw_bed(canvas: &mut Canvas) {
    let river = |top: f32| {
        polygon(&[pt(-40.0, top), pt(1480.0, top), pt(1480.0, 1120.0), pt(-40.0, 1120.0)])
    };
    canvas.graded(river(380.0), (390.0, rgb(0x8ab9b3)), (560.0, rgb(0x4a9194)));
    canvas.graded(river(560.0), (560.0, rgb(0x4a9194)), (1040.0, rgb(0x235f69)));
    for (x, y, rx, ry) in
        [(420.0, 640.0, 460.0, 90.0), (1180.0, 590.0, 380.0, 70.0), (1000.0, 900.0, 620.0, 110.0)]
    {
        canvas.glow(pt(x, y), (rx, ry), rgba(0x1f5a63, 0.45));
    }
    let sheen = pt(760.0, 520.0);
    canvas.glow(sheen, (560.0, 80.0), rgba(0xbfe3da, 0.30));
}

/// Something the current carries.
struct Drift {
    /// Where it would cross the left edge of the scene.
    lane: f32,
    /// How far along its lane it is at the start, in pixels.
    start: f32,
    /// Length and thickness, in metres.
    size: (f32, f32),
    colour: Color,
    seed: u32,
}

impl Drift {
    /// Pixels from the far shore over which it comes into view.
    const FADE: f32 = 36.0;

    /// A drift somewhere on the river, drawn in one of `tones` at up to `opacity`.
    fn scattered(dice: &mut Dice, tones: [u32; 4], opacity: f32) -> Self {
        let start = dice.range(0.0, FLOW_LENGTH);
        Self {
            lane: dice.range(20.0, 1040.0),
            start,
            size: (dice.range(0.7, 2.6), dice.range(0.03, 0.09)),
            colour: rgba(dice.pick(tones), opacity * dice.range(0.5, 1.0)),
            seed: start.to_bits(),
        }
    }

    /// Where it is at `time` and its colour there, fading in from the far shore; `None`
    /// while it is not on open water.
    fn at(&self, time: f32) -> Option<(Point, Color)> {
        let middle = self.lane + FLOW_SLOPE * 0.5 * FLOW_LENGTH;
        let speed = FLOW_SPEED * metre_at(middle.clamp(420.0, 1000.0));
        let x = FLOW_START + (self.start + speed * time).rem_euclid(FLOW_LENGTH);
        let wander = 4.0 * (time * 1.3 + unit(self.seed) * TAU + x * 0.01).sin();
        let place = pt(x, self.lane + FLOW_SLOPE * x + wander);
        let shore = if x < BANK_LEFT { FALL_FOOT } else { far_waterline(x) };
        let clear = (place.y - shore - 6.0) / Self::FADE;
        let mut colour = self.colour;
        colour.apply_opacity(clear.clamp(0.0, 1.0));
        (clear > 0.0).then_some((place, colour))
    }

    /// A ragged patch of foam that slowly changes shape, with flecks trailing behind it.
    fn draw_foam(&self, canvas: &mut Canvas, (middle, colour): (Point, Color), time: f32) {
        let metre = metre_at(middle.y);
        let (long, flat) = (self.size.0 * 0.26 * metre, self.size.1 * 1.5 * metre);
        let mut outline = [middle; 9];
        for (corner, point) in (0_u16..).zip(&mut outline) {
            let turn = f32::from(corner) / 9.0 * TAU;
            let seed = self.seed.wrapping_add(u32::from(corner));
            let reach = 0.6 + 0.7 * unit(seed) + 0.15 * (time * 2.4 + turn * 3.0).sin();
            let across = turn.cos() * long * reach;
            point.x += across;
            point.y += across * FLOW_SLOPE + turn.sin() * flat * reach;
        }
        canvas.fill(blob(&outline), colour);
        let mut dice = Dice::new(self.seed);
        for _ in 0..4 {
            let back = long * dice.range(1.1, 2.6);
            let off = flat * dice.range(-1.8, 1.8);
            let fleck = pt(middle.x - back, middle.y - back * FLOW_SLOPE + off);
            let radius = flat * dice.range(0.2, 0.45);
            canvas.oval(fleck, (radius * 2.2, radius), colour);
        }
    }
}

/// Everything that moves on the water.
pub(crate) struct Water {
    swells: Vec<Drift>,
    streaks: Vec<Drift>,
    foam: Vec<Drift>,
}

impl Water {
    const SWELLS: u16 = 60;
    const STREAKS: u16 = 200;
    const FOAM: u16 = 64;

    /// The river of this clip.
    pub(crate) fn new() -> Self {
        let mut dice = Dice::new(3);
        let ripple = [0x9fd3cb, 0xc6e8e0, 0x1c5660, 0x17505c];
        let white = [0xffffff, 0xf2faf8, 0xe6f4f2, 0xffffff];
        let depth = [0x8fcac4, 0x14474f, 0x174d56, 0x7dbfba];
        let swells = (0..Self::SWELLS).map(|_| Drift::scattered(&mut dice, depth, 0.40)).collect();
        let streaks =
            (0..Self::STREAKS).map(|_| Drift::scattered(&mut dice, ripple, 0.42)).collect();
        let foam = (0..Self::FOAM).map(|_| Drift::scattered(&mut dice, white, 0.62)).collect();
        Self { swells, streaks, foam }
    }

    /// Draws everything the current carries at `time` seconds.
    pub(crate) fn draw(&self, canvas: &mut Canvas, time: f32) {
        for swell in &self.swells {
            if let Some((middle, colour)) = swell.at(time) {
                let metre = metre_at(middle.y);
                let radius = (0.9 * swell.size.0 * metre, 3.2 * swell.size.1 * metre);
                canvas.glow(middle, radius, colour);
            }
        }
        for streak in &self.streaks {
            if let Some((middle, colour)) = streak.at(time) {
                let metre = metre_at(middle.y);
                let (length, thick) = (streak.size.0 * metre, streak.size.1 * metre);
                canvas.fill(sliver(middle, length, thick), colour);
            }
        }
        for patch in &self.foam {
            if let Some((middle, colour)) = patch.at(time) {
                patch.draw_foam(canvas, (middle, colour), time);
            }
        }
    }
}

/// A thin leaf of light or shade, lying along the current.
fn sliver(middle: Point, length: f32, thick: f32) -> Option<Path> {
    let half = pt(length * 0.5, length * 0.5 * FLOW_SLOPE);
    let (from, to) = (middle - half, middle + half);
    let mut path = PathBuilder::new();
    path.move_to(from.x, from.y);
    path.quad_to(middle.x, middle.y - thick * 1.6, to.x, to.y);
    path.quad_to(middle.x, middle.y + thick * 0.6, from.x, from.y);
    path.finish()
}

/// Draws the white water round the boulders at `time` seconds.
pub(crate) fn draw_boulder_foam(canvas: &mut Canvas, time: f32) {
    for (index, (x, y, half)) in (500_u32..).step_by(40).zip(BOULDERS) {
        let mut dice = Dice::new(index);
        for _ in 0..11 {
            let along = dice.range(-1.25, 1.15);
            let pulse = 1.0 + 0.25 * (time * 4.0 + dice.range(0.0, TAU)).sin();
            let size = half * dice.range(0.13, 0.24) * pulse;
            let place = pt(x + along * half, y + half * (0.2 + 0.1 * (1.0 - along * along)));
            canvas.oval(place, (size * 1.5, size * 0.6), rgba(0xf6fcfb, 0.8));
        }
        for tail in [0.0_f32, 1.0, 2.0, 3.0, 4.0] {
            let share = (time * 0.45 + tail * 0.2 + unit(index)).fract();
            let fade = 0.6 * (share * 6.0).min(1.0) * (1.0 - share);
            let spread = if (tail % 2.0) > 0.5 { 0.32 } else { 0.02 };
            let ahead = half * (0.9 + 3.0 * share);
            let middle = pt(x + ahead, y + half * 0.1 + ahead * (FLOW_SLOPE * 0.5 + spread));
            let leaf = sliver(middle, half * 1.5, half * 0.12);
            canvas.fill(leaf, rgba(0xf0faf8, fade));
        }
    }
}

/// The weir: a lip, a curtain of falling water, a smooth chute and the boil below.
pub(crate) struct Weir {
    threads: Vec<Thread>,
    boil: Vec<Thread>,
}

/// One thread of the curtain or one puff of the boil.
struct Thread {
    x: f32,
    start: f32,
    rate: f32,
    size: f32,
}

impl Weir {
    const THREADS: u16 = 170;
    const BOIL: u16 = 90;

    /// The weir of this clip.
    pub(crate) fn new() -> Self {
        let mut dice = Dice::new(17);
        let mut threads = |count: u16| -> Vec<Thread> {
            let spread = (BANK_LEFT + 40.0) / f32::from(count);
            (0..count)
                .map(|place| Thread {
                    x: -30.0 + spread * (f32::from(place) + dice.range(-0.4, 0.4)),
                    start: dice.range(0.0, 1.0),
                    rate: dice.range(1.1, 1.7),
                    size: dice.range(0.6, 1.3),
                })
                .collect()
        };
        Self { threads: threads(Self::THREADS), boil: threads(Self::BOIL) }
    }

    /// Draws the weir at `time` seconds.
    pub(crate) fn draw(&self, canvas: &mut Canvas, time: f32) {
        draw_curtain(canvas);
        for thread in &self.threads {
            thread.draw_fall(canvas, time);
        }
        draw_chute(canvas, time);
        let mist = pt(BANK_LEFT * 0.5, FALL_FOOT + 14.0);
        canvas.glow(mist, (BANK_LEFT * 0.62, 56.0), rgba(0xffffff, 0.55));
        for puff in &self.boil {
            puff.draw_boil(canvas, time);
        }
    }
}

/// The sheet of falling water and the lip it pours over.
fn draw_curtain(canvas: &mut Canvas) {
    let sheet = polygon(&[
        pt(-40.0, CREST),
        pt(BANK_LEFT, CREST - 4.0),
        pt(BANK_LEFT, FALL_FOOT + 6.0),
        pt(-40.0, FALL_FOOT + 6.0),
    ]);
    canvas.graded(sheet, (CREST, rgb(0x9cc7c4)), (FALL_FOOT, rgb(0xe4f2f1)));
    let (left, right) = (pt(-40.0, CREST), pt(BANK_LEFT, CREST - 4.0));
    canvas.line(left, right, 5.0, rgb(0x7fb3ad));
    let shine = pt(0.0, -3.0);
    canvas.line(left + shine, right + shine, 2.0, rgba(0xf4fbf9, 0.9));
}

/// The smooth green tongue of water that the boats come down.
fn draw_chute(canvas: &mut Canvas, time: f32) {
    let sway = 3.0 * (time * 2.0).sin();
    let (left, right) = CHUTE;
    let tongue = polygon(&[
        pt(left, CREST - 5.0),
        pt(right, CREST - 5.0),
        pt(right - 4.0, FALL_FOOT),
        pt(right - 30.0 + sway, FALL_FOOT + 64.0),
        pt(left + 46.0 + sway, FALL_FOOT + 64.0),
        pt(left + 8.0, FALL_FOOT),
    ]);
    let (lip, end) = (CREST, FALL_FOOT + 64.0);
    canvas.graded(tongue, (lip, rgb(0x7fb3ad)), (end, rgba(0x5aa0a2, 0.0)));
    for (edge, lean, seed) in [(left + 4.0, 26.0, 610), (right, -24.0, 640)] {
        let mut dice = Dice::new(seed);
        for _ in 0..16 {
            let share = (dice.range(0.0, 1.0) + time * 0.8).fract();
            let down = (FALL_FOOT + 60.0 - CREST) * share;
            let across = edge + lean * share * share + dice.range(-5.0, 5.0);
            let size = dice.range(2.0, 4.0) + 6.0 * share;
            let fade = 0.6 * (1.0 - share * share);
            let radius = (size, size * (1.9 - share));
            canvas.oval(pt(across, CREST + down), radius, rgba(0xffffff, fade));
        }
    }
}

impl Thread {
    fn in_chute(&self) -> bool {
        self.x > CHUTE.0 + 6.0 && self.x < CHUTE.1 - 2.0
    }

    /// A thread of the curtain, gaining speed as it falls.
    fn draw_fall(&self, canvas: &mut Canvas, time: f32) {
        let share = (self.start + time * self.rate).fract();
        let drop = (FALL_FOOT - CREST) * share * share;
        let length = (10.0 + 26.0 * share) * self.size;
        let top = pt(self.x, CREST + 2.0 + drop);
        let foot = pt(self.x, (top.y + length).min(FALL_FOOT + 4.0));
        let middle = between(top, foot, 0.5);
        let radius = (2.6 * self.size, (foot.y - top.y) * 0.5);
        let tone = if self.size > 1.05 { 0x86b5b6 } else { 0xffffff };
        canvas.fill(oval(middle, radius), rgba(tone, 0.6));
    }

    /// A puff of the boil where the curtain lands, carried off as it fades.
    fn draw_boil(&self, canvas: &mut Canvas, time: f32) {
        if self.in_chute() {
            return;
        }
        let share = (self.start + time * self.rate * 0.35).fract();
        let ahead = 46.0 * share * self.size;
        let place =
            pt(self.x + ahead * 0.5, FALL_FOOT - 2.0 + ahead + 5.0 * (self.start * TAU).sin());
        let grow = (share * 5.0).min(1.0) * self.size;
        let pulse = self.size * (1.0 + 0.2 * (time * 5.0 + self.start * TAU).sin());
        let foot = pt(self.x, FALL_FOOT + 1.0);
        canvas.oval(foot, (13.0 * pulse, 9.0 * pulse), rgba(0xf4fbfb, 0.8));
        let shadow = pt(place.x + 2.0, place.y + 5.0 * grow);
        let fade = (1.0 - share) * 0.9;
        canvas.oval(shadow, (19.0 * grow, 7.0 * grow), rgba(0xa9cfce, fade * 0.7));
        canvas.oval(place, (17.0 * grow, 7.5 * grow), rgba(0xfafefe, fade));
    }
}
