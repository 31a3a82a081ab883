//! Slalom gates: pairs of striped poles that hang from wires across the river.

use tiny_skia::Point;

use crate::camera::{RISE, metre_at};
use crate::canvas::{Canvas, between, pt, rgb, rgba};
use crate::course;

/// Height of a pole's foot over the water, in metres.
const POLE_FOOT: f32 = 0.22;
/// Height of a pole's top over the water, in metres.
const POLE_TOP: f32 = 1.95;
/// Thickness of a pole, in metres.
const POLE_THICK: f32 = 0.075;
/// From a gate's middle to its near pole, in metres across and down the picture.
const HALF_SPREAD: (f32, f32) = (-0.52, 0.46);
/// Stripes on one pole.
const STRIPES: u16 = 6;
/// How far the middle of a wire hangs below a straight line, in pixels.
const SAG: f32 = 26.0;

/// Which way a gate is to be taken, shown by its stripes.
#[derive(Clone, Copy)]
enum Kind {
    Downstream,
    Upstream,
}

/// A wire from the far bank to the near one.
#[derive(Clone, Copy)]
struct Wire {
    far: (f32, f32),
    near: (f32, f32),
    /// The foot of the near post, if it stands in view.
    post_foot: Option<f32>,
}

impl Wire {
    fn ends(self) -> (Point, Point) {
        (pt(self.far.0, self.far.1), pt(self.near.0, self.near.1))
    }

    /// The picture line of the wire at `x`.
    fn height_at(self, x: f32) -> f32 {
        let (far, near) = self.ends();
        let share = (x - far.x) / (near.x - far.x);
        between(far, near, share).y + 4.0 * SAG * share * (1.0 - share)
    }

    fn draw(self, canvas: &mut Canvas) {
        let (far, near) = self.ends();
        let middle = between(far, near, 0.5);
        let pull = pt(middle.x, middle.y + 2.0 * SAG);
        canvas.curve(&[far, pull, near], 1.7, rgba(0x2c3436, 0.55));
        let mast = pt(far.x, far.y + 132.0);
        canvas.line(far, mast, 4.0, rgb(0x6b6557));
        if let Some(foot) = self.post_foot {
            canvas.line(near, pt(near.x, foot), 9.0, rgb(0x4d4a41));
            canvas.line(near, pt(near.x, foot - 30.0), 3.0, rgb(0x7b766a));
        }
    }
}

/// The wires of the course, upstream first.
const WIRES: [Wire; course::GATES] = [
    wire((500.0, 158.0), (-160.0, 650.0), None),
    wire((764.0, 206.0), (58.0, 742.0), Some(950.0)),
    wire((936.0, 232.0), (300.0, 782.0), Some(990.0)),
    wire((1136.0, 250.0), (548.0, 812.0), Some(1030.0)),
    wire((1338.0, 268.0), (812.0, 836.0), Some(1050.0)),
];

const fn wire(far: (f32, f32), near: (f32, f32), post_foot: Option<f32>) -> Wire {
    Wire { far, near, post_foot }
}

/// One gate.
struct Gate {
    middle: Point,
    wire: Wire,
    kind: Kind,
    start: f32,
}

/// Every gate of the course.
pub(crate) struct Gates(Vec<Gate>);

/// Which poles to draw: those beyond a line on the water, or those before it.
#[derive(Clone, Copy)]
pub(crate) enum Side {
    Beyond(f32),
    Before(f32),
}

impl Side {
    fn holds(self, y: f32) -> bool {
        match self {
            Self::Beyond(line) => y < line,
            Self::Before(line) => y >= line,
        }
    }
}

impl Gates {
    /// A gate on each wire for the paddler, and two to be taken upstream later on.
    pub(crate) fn new() -> Self {
        let gate = |middle, wire, kind, start| Gate { middle, wire, kind, start };
        let mut gates: Vec<Gate> = (0_u16..)
            .zip(WIRES)
            .map(|(order, wire)| {
                let middle = course::gate(order);
                gate(middle, wire, Kind::Downstream, f32::from(order) * 1.7)
            })
            .collect();
        gates.push(gate(pt(330.0, 776.0), WIRES[1], Kind::Upstream, 0.9));
        gates.push(gate(pt(782.0, 850.0), WIRES[3], Kind::Upstream, 3.1));
        Self(gates)
    }

    /// Draws the wires, which hang behind everything on the water.
    pub(crate) fn draw_wires(&self, canvas: &mut Canvas) {
        for gate in &self.0[..WIRES.len()] {
            gate.wire.draw(canvas);
        }
    }

    /// Draws the poles on one side of the paddler at `time` seconds.
    pub(crate) fn draw(&self, canvas: &mut Canvas, side: Side, time: f32) {
        for gate in &self.0 {
            for end in [-1.0, 1.0] {
                let water = gate.water_under(end);
                if side.holds(water.y) {
                    gate.draw_pole(canvas, water, time + end);
                }
            }
        }
    }
}

impl Gate {
    /// The point on the water under the far (-1) or near (1) pole.
    fn water_under(&self, end: f32) -> Point {
        let metre = metre_at(self.middle.y);
        let (across, down) = HALF_SPREAD;
        pt(self.middle.x + end * across * metre, self.middle.y + end * down * metre)
    }

    fn draw_pole(&self, canvas: &mut Canvas, water: Point, time: f32) {
        let metre = metre_at(water.y);
        let swing = 0.035 * (time * 1.6 + self.start).sin() + 0.02 * (time * 2.7).sin();
        let hook = pt(water.x, self.wire.height_at(water.x));
        let at = |up: f32| {
            let y = water.y - up * metre * RISE;
            pt(water.x + swing * (y - hook.y), y)
        };
        let (foot, top) = (at(POLE_FOOT), at(POLE_TOP));
        canvas.line(hook, top, 1.4, rgba(0x2c3436, 0.7));
        let paint = match self.kind {
            Kind::Downstream => 0x1f9d55,
            Kind::Upstream => 0xd8352f,
        };
        let thick = POLE_THICK * metre;
        let mirror = pt(foot.x, water.y + 0.7 * (water.y - foot.y));
        let dip = pt(mirror.x, mirror.y + metre * 0.5);
        canvas.line(mirror, dip, thick, rgba(paint, 0.22));
        canvas.line(foot, top, thick + 2.0, rgba(0x24302e, 0.35));
        for stripe in 0..STRIPES {
            let share = |step: u16| f32::from(step) / f32::from(STRIPES);
            let (low, high) = (share(stripe), share(stripe + 1));
            let tone = if stripe % 2 == 0 { paint } else { 0xf7f7f2 };
            let (low, high) = (between(foot, top, low), between(foot, top, high));
            canvas.line(low, high, thick, rgb(tone));
        }
    }
}
