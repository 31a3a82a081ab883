//! A moving window: the convex program of the room's head, assembled in px.

use super::{
    Pace, PanError, Pin, Request, Side,
    objective::AxisRule,
    program::ConvexProgram,
    sides::Area,
    solver::{self, Solved},
};
use crate::geometry::Window;

/// The path that costs least under every hard limit, with the window staying on `sides` of the keep-outs
/// (one a keep-out). `None` if the limits contradict each other.
///
/// # Errors
/// [`PanError::Unsolved`] or [`PanError::Unsound`] if the solver fails, which is a fault of ours.
pub fn follow(request: &Request, sides: &[Side]) -> Result<Option<Vec<Window>>, PanError> {
    if request.frames.is_empty() {
        return Err(PanError::NoFrames);
    }
    request.pace.check(request.frame_count())?;
    let program = assemble(request, sides);
    match solver::solve(&program)? {
        Solved::Infeasible => Ok(None),
        Solved::Best(values) => values[..3 * request.frame_count()]
            .chunks_exact(3)
            .enumerate()
            .map(|(index, value)| settle(request, sides, index, value))
            .collect::<Result<Vec<_>, _>>()
            .map(Some),
    }
}

/// The variables of a frame: centre across, centre down, width.
#[derive(Clone, Copy)]
struct FrameVariables {
    x: usize,
    y: usize,
    width: usize,
}

impl FrameVariables {
    const fn of(index: usize) -> Self {
        Self { x: 3 * index, y: 3 * index + 1, width: 3 * index + 2 }
    }
}

/// One axis of a window in the program: where its centre is, and its size as a factor of the width.
#[derive(Clone, Copy)]
struct AxisVariables {
    centre: usize,
    width: usize,
    size_per_width: f64,
}

impl AxisVariables {
    /// The place at a share of the window from its near edge, as a sum of variables.
    fn at_share(self, share: f64) -> [(usize, f64); 2] {
        [(self.centre, 1.0), (self.width, (share - 0.5) * self.size_per_width)]
    }
}

fn axes_of(request: &Request, index: usize) -> (AxisVariables, AxisVariables) {
    let frame = FrameVariables::of(index);
    let across = AxisVariables { centre: frame.x, width: frame.width, size_per_width: 1.0 };
    let size_per_width = request.shape.height_for(1.0);
    (across, AxisVariables { centre: frame.y, size_per_width, ..across })
}

fn assemble(request: &Request, sides: &[Side]) -> ConvexProgram {
    let mut program = ConvexProgram::default();
    for _ in 0..3 * request.frame_count() {
        program.variable(0.0);
    }
    for index in 0..request.frame_count() {
        match request.pins.iter().find(|pin| pin.index == index) {
            Some(pin) => add_pin(&mut program, pin),
            None => add_limits(&mut program, request, index, &Area::at(request, sides, index)),
        }
        add_wishes(&mut program, request, index);
    }
    add_pan_limit(&mut program, request);
    add_motion(&mut program, request);
    program
}

/// The window is the pin. A pin rounded by hand may be off its exact shape by a fraction of a px, so that its
/// other limits are checked before and not here.
fn add_pin(program: &mut ConvexProgram, pin: &Pin) {
    let (frame, window) = (FrameVariables::of(pin.index), &pin.window);
    program.require_equal(&[(frame.x, 1.0)], window.centre_x());
    program.require_equal(&[(frame.y, 1.0)], window.centre_y());
    program.require_equal(&[(frame.width, 1.0)], window.width());
}

/// The window lies inside its area and its width between the limits.
fn add_limits(program: &mut ConvexProgram, request: &Request, index: usize, area: &Area) {
    let width = FrameVariables::of(index).width;
    let (across, down) = axes_of(request, index);
    add_range(program, &[(width, 1.0)], request.least_width, area.greatest_width(request));
    for (axis, from, to) in [(across, area.left, area.right), (down, area.top, area.bottom)] {
        // Without room to slide, two limits that meet leave an interior-point method no interior.
        if to - from - request.least_width * axis.size_per_width < 1e-6 {
            program.require_equal(&[(axis.centre, 1.0)], f64::midpoint(from, to));
        } else {
            program.require_at_least(&axis.at_share(0.0), from);
            program.require_at_most(&axis.at_share(1.0), to);
        }
    }
}

fn add_range(program: &mut ConvexProgram, terms: &[(usize, f64)], from: f64, to: f64) {
    if (to - from).abs() < 1e-6 {
        program.require_equal(terms, f64::midpoint(from, to));
    } else {
        program.require_at_least(terms, from);
        program.require_at_most(terms, to);
    }
}

/// Boxes inside, the point at its place, the preferred width: each a cost once it is missed, for as long as
/// the frame stays.
fn add_wishes(program: &mut ConvexProgram, request: &Request, index: usize) {
    let (weights, step) = (&request.rules.weights, request.pace.step_secs(index));
    let wish = &request.frames[index];
    let (across, down) = axes_of(request, index);
    let (across_rule, down_rule) = (AxisRule::across(request), AxisRule::down(request));
    for wished in &wish.boxes {
        let cost = weights.containment * step * wished.weight;
        let region = &wished.region;
        add_containment(program, (across, across_rule), (region.left(), region.right()), cost);
        add_containment(program, (down, down_rule), (region.top(), region.bottom()), cost);
    }
    if let Some(point) = wish.point {
        let cost = weights.place * step * wish.weight();
        add_place(program, (across, across_rule), point.x, cost);
        add_place(program, (down, down_rule), point.y, cost);
    }
    let width = FrameVariables::of(index).width;
    program.absolute_cost(&[(width, 1.0)], request.preferred_width, weights.width * step);
}

/// What a box lacks at both ends together: `max(0, near, far, near + far)`, which is convex.
fn add_containment(
    program: &mut ConvexProgram,
    (axis, rule): (AxisVariables, AxisRule),
    (from, to): (f64, f64),
    cost: f64,
) {
    let lacking = program.variable(cost);
    program.require_at_least(&[(lacking, 1.0)], 0.0);
    let [near, far] = [axis.at_share(rule.before), axis.at_share(1.0 - rule.after)];
    program.require_at_most(&[near[0], near[1], (lacking, -1.0)], from);
    program.require_at_least(&[far[0], far[1], (lacking, 1.0)], to);
    let clear = (1.0 - rule.before - rule.after) * axis.size_per_width;
    program.require_at_least(&[(axis.width, clear), (lacking, 1.0)], to - from);
}

/// How far the point is off its place, beyond the still zone.
fn add_place(
    program: &mut ConvexProgram,
    (axis, rule): (AxisVariables, AxisRule),
    point: f64,
    cost: f64,
) {
    let off = program.variable(cost);
    program.require_at_least(&[(off, 1.0)], 0.0);
    let [far, near] =
        [axis.at_share(rule.place + rule.still), axis.at_share(rule.place - rule.still)];
    program.require_at_least(&[far[0], far[1], (off, 1.0)], point);
    program.require_at_most(&[near[0], near[1], (off, -1.0)], point);
}

/// No step is longer than the hard pan limit allows, across or down, in the mean of its two windows' widths.
fn add_pan_limit(program: &mut ConvexProgram, request: &Request) {
    let Some(secs_per_width) = request.rules.pan_hard else { return };
    for index in 1..request.frame_count() {
        let share = request.pace.step_secs(index - 1) / secs_per_width;
        let (before, after) = (FrameVariables::of(index - 1), FrameVariables::of(index));
        for (from, to) in [(before.x, after.x), (before.y, after.y)] {
            for direction in [1.0, -1.0] {
                let widths = [(before.width, -share / 2.0), (after.width, -share / 2.0)];
                let step = [(to, direction), (from, -direction)];
                program.require_at_most(&[step[0], step[1], widths[0], widths[1]], 0.0);
            }
        }
    }
}

/// What moving costs: speed in the first power, acceleration squared. In px, so that the solver sees
/// numbers of one size: everything is the objective times the reference width.
fn add_motion(program: &mut ConvexProgram, request: &Request) {
    for first in 0..3 {
        let mut speed_before = None;
        for index in 1..request.frame_count() {
            let (before, now) = (first + 3 * (index - 1), first + 3 * index);
            program.absolute_cost(&[(now, 1.0), (before, -1.0)], 0.0, 1.0);
            let speed = speed_of_short_step(program, &request.pace, index - 1, (before, now));
            if index > 1 {
                add_bend(program, request, (index - 1, before), [speed_before, speed]);
            }
            speed_before = speed;
        }
    }
}

/// A variable for the speed in a step, in px a mean step, if the step is so short that its speed is a tiny
/// difference over a tiny time: squared twice, that is more than the solver's numbers can tell apart.
fn speed_of_short_step(
    program: &mut ConvexProgram,
    pace: &Pace,
    index: usize,
    (from, to): (usize, usize),
) -> Option<usize> {
    /// In mean steps. Chosen: far below the mixed rates of ordinary clips, which need no more variables.
    const SHORT: f64 = 0.125;
    let length = pace.step_secs(index) / pace.mean_step_secs();
    (length < SHORT).then(|| {
        let speed = program.variable(0.0);
        program.require_equal(&[(to, 1.0), (from, -1.0), (speed, -length)], 0.0);
        speed
    })
}

/// What one coordinate of a frame costs for the change of speed there.
fn add_bend(
    program: &mut ConvexProgram,
    request: &Request,
    (index, now): (usize, usize),
    speeds: [Option<usize>; 2],
) {
    let (bend, mean_secs) = (request.pace.bend(index), request.pace.mean_step_secs());
    let cost = request.rules.weights.acceleration
        / (bend.secs * mean_secs * mean_secs * request.reference_width());
    let (before, after, [a, b, c]) = (now - 3, now + 3, bend.factors());
    match speeds {
        [None, None] => program.square_cost(&[(before, a), (now, b), (after, c)], cost),
        [Some(speed), None] => {
            program.square_cost(&[(speed, -1.0), (now, -bend.after), (after, bend.after)], cost);
        }
        [None, Some(speed)] => {
            program.square_cost(&[(before, bend.before), (now, -bend.before), (speed, 1.0)], cost);
        }
        [Some(from), Some(to)] => program.square_cost(&[(from, -1.0), (to, 1.0)], cost),
    }
}

/// A window from the solver's values. They keep the limits but for rounding, which is taken off here; more
/// than that is a fault and not corrected. A pinned frame is the pin to the last bit.
fn settle(
    request: &Request,
    sides: &[Side],
    index: usize,
    value: &[f64],
) -> Result<Window, PanError> {
    const GREATEST_NOISE_PX: f64 = 1e-3;
    if let Some(pin) = request.pins.iter().find(|pin| pin.index == index) {
        return Ok(pin.window);
    }
    let area = Area::at(request, sides, index);
    let greatest = area.greatest_width(request);
    let width = onto_bounds(value[2], request.least_width.min(greatest), greatest);
    let height = request.shape.height_for(width);
    let within = |centre: f64, size: f64, from: f64, to: f64| {
        let (low, high) = (from + size / 2.0, to - size / 2.0);
        if low <= high { onto_bounds(centre, low, high) } else { f64::midpoint(low, high) }
    };
    let x = within(value[0], width, area.left, area.right);
    let y = within(value[1], height, area.top, area.bottom);
    let excess_px = (width - value[2]).abs().max((x - value[0]).abs()).max((y - value[1]).abs());
    let unsound = PanError::Unsound { index, excess_px };
    if excess_px.is_nan() || excess_px > GREATEST_NOISE_PX {
        return Err(unsound);
    }
    Window::inside(request.raster, (x - width / 2.0, y - height / 2.0), (width, height))
        .map_err(|_| unsound)
}

/// A value between two bounds; one that is a solver's noise away from a bound is the bound, so that a window
/// as large as can be has one width and one scale on all its frames.
fn onto_bounds(value: f64, low: f64, high: f64) -> f64 {
    const NOISE_PX: f64 = 1e-5;
    let value = value.clamp(low, high);
    if value - low < NOISE_PX {
        low
    } else if high - value < NOISE_PX {
        high
    } else {
        value
    }
}
