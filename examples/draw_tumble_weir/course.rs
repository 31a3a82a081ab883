//! The line the boat takes: through the gates, slower beside each one.

use std::f32::consts::PI;

use tiny_skia::Point;

use crate::camera::{FORESHORTEN, seconds};
use crate::canvas::pt;

/// How many gates the line goes through.
pub(crate) const GATES: usize = 5;

/// Where the boat's middle is in the first frame.
const START: (f32, f32) = (270.0, 446.0);
/// Where the boat's middle is in the last frame, leaving the weave aside.
const END: (f32, f32) = (1150.0, 776.0);
/// Where the first gate hangs.
const FIRST_GATE: f32 = 400.0;
/// From one gate to the next across the picture.
const GATE_STEP: f32 = 196.0;
/// How far the line weaves to either side, in pixels down the picture.
const WEAVE: f32 = 22.0;
/// The share of its speed the boat gives up beside a gate.
const SLOWING: f32 = 0.52;
/// How near a gate the boat slows, in pixels.
const SLOWING_REACH: f32 = 44.0;
/// Pixels between two points of the timetable.
const TABLE_STEP: f32 = 0.5;

/// The line on the water at `x`.
fn line_at(x: f32) -> f32 {
    let share = (x - START.0) / (END.0 - START.0);
    let weave = WEAVE * (0.8 + 0.4 * share) * (PI * (x - FIRST_GATE) / GATE_STEP).cos();
    START.1 + share * (END.1 - START.1) - weave
}

/// The middle of gate number `order`, counted from nought.
pub(crate) fn gate(order: u16) -> Point {
    let x = FIRST_GATE + f32::from(order) * GATE_STEP;
    pt(x, line_at(x))
}

/// Speed at `x` as a share of the boat's free speed.
fn pace(x: f32) -> f32 {
    let from_gate = (x - FIRST_GATE + GATE_STEP * 0.5).rem_euclid(GATE_STEP) - GATE_STEP * 0.5;
    1.0 - SLOWING * (-(from_gate / SLOWING_REACH).powi(2)).exp()
}

/// When the boat is where.
pub(crate) struct Course {
    /// Seconds and place across the picture, in order.
    table: Vec<(f32, f32)>,
}

impl Course {
    /// Sets the free speed so that the boat ends its line in frame `last`.
    pub(crate) fn new(last: u16) -> Self {
        let mut table = vec![(0.0, START.0)];
        let (mut clock, mut x) = (0.0, START.0);
        while x < END.0 {
            clock += TABLE_STEP / pace(x + TABLE_STEP * 0.5);
            x += TABLE_STEP;
            table.push((clock, x));
        }
        let scale = seconds(last) / clock;
        for row in &mut table {
            row.0 *= scale;
        }
        Self { table }
    }

    /// The boat's middle on the water at `time`; before the start it came straight in.
    pub(crate) fn at(&self, time: f32) -> Point {
        let next = self.table.partition_point(|row| row.0 < time).clamp(1, self.table.len() - 1);
        let (from, to) = (self.table[next - 1], self.table[next]);
        let x = from.1 + (time - from.0) / (to.0 - from.0) * (to.1 - from.1);
        pt(x, line_at(x))
    }

    /// The way the line leads at `time`, turned from straight across towards the camera.
    pub(crate) fn turn(&self, time: f32) -> f32 {
        let x = self.at(time).x;
        let slope = (line_at(x + 6.0) - line_at(x - 6.0)) / 12.0;
        (slope / FORESHORTEN).atan()
    }
}
