//! Solid ground round the river: the far bank, the weir's piers, boulders and near rocks,
//! and the spectators on the far bank.

use tiny_skia::{Color, Path, Point};

use crate::canvas::{Canvas, blob, polygon, pt, rgb, rgba};
use crate::noise::Dice;

/// Left end of the far bank, where the weir meets it.
pub(crate) const BANK_LEFT: f32 = 742.0;
const BANK_RIGHT: f32 = 1480.0;

/// The boulders that stand in the stream: centre at the water and half width.
pub(crate) const BOULDERS: [(f32, f32, f32); 4] =
    [(1078.0, 520.0, 44.0), (222.0, 736.0, 50.0), (640.0, 830.0, 54.0), (706.0, 856.0, 28.0)];

/// The picture line where the far bank meets the water at `x`.
pub(crate) fn far_waterline(x: f32) -> f32 {
    392.0 + (x - BANK_LEFT) * 0.085
}

/// Draws all the ground that never moves but with the camera.
pub(crate) fn draw(canvas: &mut Canvas) {
    draw_far_bank(canvas);
    draw_pier(canvas, -30.0, 66.0);
    draw_pier(canvas, BANK_LEFT - 26.0, BANK_LEFT + 44.0);
    for (index, (x, y, half)) in (0_u32..).zip(BOULDERS) {
        draw_rock(canvas, pt(x, y), half, 300 + index);
    }
    draw_near_rocks(canvas);
}

/// A strip of the far bank between two heights over its waterline.
fn bank_strip(above: f32, below: f32) -> Option<Path> {
    let (left, right) = (far_waterline(BANK_LEFT), far_waterline(BANK_RIGHT));
    polygon(&[
        pt(BANK_LEFT, left - above),
        pt(BANK_RIGHT, right - above * 1.25),
        pt(BANK_RIGHT, right - below * 1.25),
        pt(BANK_LEFT, left - below),
    ])
}

fn draw_far_bank(canvas: &mut Canvas) {
    canvas.graded(bank_strip(66.0, 0.0), (330.0, rgb(0x7f9c55)), (430.0, rgb(0x58773f)));
    canvas.fill(bank_strip(46.0, 34.0), rgb(0xc9b991));
    canvas.graded(bank_strip(16.0, -3.0), (380.0, rgb(0x8a8d84)), (450.0, rgb(0x5d625e)));
    let mut dice = Dice::new(41);
    let mut x = BANK_LEFT + 40.0;
    while x < BANK_RIGHT {
        let size = dice.range(9.0, 19.0);
        let foot = pt(x, far_waterline(x) + 3.0);
        draw_rock(canvas, foot, size, x.to_bits());
        if dice.chance(0.4) {
            let bush = pt(x, far_waterline(x) - 20.0 - dice.range(0.0, 8.0));
            canvas.oval(bush, (size * 1.1, size * 0.6), rgb(0x4c6f3c));
            let lit = pt(bush.x - size * 0.2, bush.y - size * 0.2);
            canvas.oval(lit, (size * 0.7, size * 0.35), rgb(0x6f9150));
        }
        x += size * dice.range(1.5, 2.6);
    }
}

/// One of the two stone blocks that hold the weir's ends.
fn draw_pier(canvas: &mut Canvas, left: f32, right: f32) {
    let (top, cap, foot) = (312.0, 322.0, 408.0);
    let face =
        polygon(&[pt(left, cap), pt(right, cap), pt(right + 6.0, foot), pt(left - 6.0, foot)]);
    canvas.graded(face, (cap, rgb(0x9c9c92)), (foot, rgb(0x5f6461)));
    let lid = polygon(&[
        pt(left + 4.0, top),
        pt(right + 2.0, top),
        pt(right + 4.0, cap + 2.0),
        pt(left - 4.0, cap + 2.0),
    ]);
    canvas.fill(lid, rgb(0xbdbcae));
    for course in [342.0, 362.0, 382.0] {
        let joint = rgba(0x50544f, 0.5);
        canvas.line(pt(left, course), pt(right, course), 1.6, joint);
    }
}

/// A rock standing in water or on the shore, lit from the upper left.
fn draw_rock(canvas: &mut Canvas, foot: Point, half: f32, seed: u32) {
    let mut dice = Dice::new(seed);
    let mut bump = |low: f32, high: f32| dice.range(low, high) * half;
    let outline = [
        pt(foot.x - bump(1.0, 1.2), foot.y + half * 0.1),
        pt(foot.x - bump(0.8, 1.0), foot.y - bump(0.3, 0.6)),
        pt(foot.x - bump(0.1, 0.5), foot.y - bump(0.8, 1.1)),
        pt(foot.x + bump(0.2, 0.6), foot.y - bump(0.7, 1.0)),
        pt(foot.x + bump(0.8, 1.1), foot.y - bump(0.2, 0.5)),
        pt(foot.x + bump(1.0, 1.2), foot.y + half * 0.15),
        pt(foot.x, foot.y + half * 0.3),
    ];
    let (top, base) = (foot.y - half, foot.y + half * 0.2);
    canvas.graded(blob(&outline), (top, rgb(0x8f9089)), (base, rgb(0x3f4644)));
    let lit = [
        pt(foot.x - half * 0.75, foot.y - half * 0.3),
        outline[2],
        pt(foot.x + half * 0.25, foot.y - half * 0.75),
        pt(foot.x - half * 0.1, foot.y - half * 0.4),
    ];
    canvas.fill(blob(&lit), rgba(0xb9b8aa, 0.75));
}

/// The rocky near bank along the bottom of the picture, tallest at the left.
fn draw_near_rocks(canvas: &mut Canvas) {
    let ground = blob(&[
        pt(-60.0, 880.0),
        pt(150.0, 930.0),
        pt(420.0, 1000.0),
        pt(760.0, 1046.0),
        pt(1500.0, 1020.0),
        pt(1560.0, 1160.0),
        pt(-60.0, 1160.0),
    ]);
    canvas.graded(ground, (900.0, rgb(0x565b55)), (1080.0, rgb(0x30353a)));
    let mut dice = Dice::new(63);
    for row in [0.0_f32, 1.0, 2.0] {
        let mut x = -30.0_f32;
        while x < 1500.0 {
            let shore = (900.0 + x * 0.19).min(1046.0) - ((x - 1100.0) * 0.1).max(0.0);
            let size = dice.range(30.0, 62.0) * (1.0 + row * 0.2) * (1.15 - x * 0.000_25);
            let foot = pt(x, shore + row * 62.0 + dice.range(-4.0, 26.0));
            draw_rock(canvas, foot, size, x.to_bits() ^ 0x51);
            x += size * dice.range(1.1, 1.7);
        }
    }
}

/// Somebody watching from the far bank.
struct Spectator {
    feet: Point,
    height: f32,
    coat: Color,
    trousers: Color,
    skin: Color,
    /// How high the arms go: 0 hanging, 1 over the head.
    cheer: f32,
    /// Where in its sway this figure starts.
    start: f32,
}

/// Everybody watching from the far bank.
pub(crate) struct Crowd(Vec<Spectator>);

impl Crowd {
    /// The crowd of this clip, in loose groups along the path.
    pub(crate) fn new() -> Self {
        let mut dice = Dice::new(29);
        let mut people = Vec::new();
        let groups = [(830.0, 3_u8), (960.0, 2), (1090.0, 4), (1225.0, 2), (1340.0, 3)];
        for (middle, count) in groups {
            for place in 0..count {
                let x = middle + f32::from(place) * dice.range(20.0, 30.0);
                people.push(Spectator::new(x, &mut dice));
            }
        }
        Self(people)
    }

    /// Draws the crowd at `time` seconds.
    pub(crate) fn draw(&self, canvas: &mut Canvas, time: f32) {
        for person in &self.0 {
            person.draw(canvas, time);
        }
    }
}

impl Spectator {
    fn new(x: f32, dice: &mut Dice) -> Self {
        let coats = [0xb5493c, 0x2f5d8a, 0xd9a441, 0xe6e2d6, 0x5a6f4c, 0x6d4b74];
        Self {
            feet: pt(x, far_waterline(x) - 42.0 + dice.range(0.0, 8.0)),
            height: dice.range(46.0, 54.0),
            coat: rgb(dice.pick(coats)),
            trousers: rgb(dice.pick([0x2b3038, 0x3a4a5e, 0x5b5246])),
            skin: rgb(dice.pick([0xe3b896, 0xb98260, 0x7d5640])),
            cheer: if dice.chance(0.35) { 1.0 } else { 0.0 },
            start: dice.range(0.0, 6.0),
        }
    }

    fn draw(&self, canvas: &mut Canvas, time: f32) {
        let tall = self.height;
        let sway = (time * 1.9 + self.start).sin();
        let at = |x: f32, up: f32| pt(self.feet.x + x * tall, self.feet.y - up * tall);
        let lean = sway * 0.02;
        canvas.glow(at(0.1, 0.0), (tall * 0.3, tall * 0.07), rgba(0x2b3a20, 0.5));
        for leg in [-0.06, 0.06] {
            canvas.line(at(leg, 0.03), at(leg * 0.8, 0.46), tall * 0.1, self.trousers);
        }
        let wave = self.cheer * (0.42 + 0.06 * (time * 9.0 + self.start).sin());
        for side in [-1.0, 1.0] {
            let (shoulder, hand) = (at(side * 0.12 + lean, 0.76), 0.42 + wave * 1.3);
            let reach = side * (0.19 + 0.04 * self.cheer);
            canvas.line(shoulder, at(reach + lean, hand), tall * 0.07, self.coat);
        }
        let coat = blob(&[
            at(-0.15, 0.4),
            at(-0.17 + lean, 0.7),
            at(-0.08 + lean, 0.85),
            at(0.08 + lean, 0.85),
            at(0.17 + lean, 0.7),
            at(0.15, 0.4),
        ]);
        canvas.fill(coat, self.coat);
        canvas.oval(at(lean * 1.3, 0.92), (tall * 0.075, tall * 0.085), self.skin);
        let hair = at(lean * 1.3, 0.96);
        canvas.oval(hair, (tall * 0.08, tall * 0.055), self.trousers);
    }
}
