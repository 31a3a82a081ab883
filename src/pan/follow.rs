//! A moving window: the convex program of the room's head, assembled in px.

use super::{
    PanError, Request, Side,
    frame_rows::{StageWindow, WishCosts},
    program::{self, Program, VARIABLES},
    sides::Area,
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
    let solution = program::solve(&assemble(request, sides));
    if solution.broken_px > program::KEPT_PX {
        return Ok(None);
    }
    if !solution.is_optimal {
        let status = format!("a gap of {:.2e} px is left", solution.gap_px);
        return Err(PanError::Unsolved { status, iterations: solution.steps });
    }
    solution
        .values
        .chunks_exact(VARIABLES)
        .enumerate()
        .map(|(index, value)| settle(request, sides, index, value))
        .collect::<Result<Vec<_>, _>>()
        .map(Some)
}

fn assemble(request: &Request, sides: &[Side]) -> Program {
    let mut program = Program::of(request.frame_count());
    for index in 0..request.frame_count() {
        let stage = StageWindow::of(request, index, index);
        match request.pins.iter().find(|pin| pin.index == index) {
            Some(pin) => pin_down(&mut program, stage, &pin.window),
            None => {
                let area = Area::at(request, sides, index);
                begin_in_the_middle(&mut program, request, stage, &area);
                stage.keep_inside(&mut program, request, &area);
                for required in &request.frames[index].required {
                    stage.require(&mut program, required);
                }
            }
        }
        let (weights, step_secs) = (&request.rules.weights, request.pace.step_secs(index));
        let costs = WishCosts {
            containment: weights.containment * step_secs,
            place: weights.place * step_secs,
        };
        stage.wish(&mut program, request, index, &costs);
        let width_cost = weights.width * step_secs;
        program.off(&[(stage.width(), 1.0)], request.preferred_width, width_cost);
    }
    limit_pans(&mut program, request);
    add_motion(&mut program, request);
    program
}

/// The window is the pin. A pin rounded by hand may be off its exact shape by a fraction of a px, so that its
/// other limits are checked before and not here.
fn pin_down(program: &mut Program, stage: StageWindow, window: &Window) {
    program.fix(stage.x(), window.centre_x() - stage.ride.0);
    program.fix(stage.y(), window.centre_y() - stage.ride.1);
    program.fix(stage.width(), window.width());
}

/// A start well inside the limits: the preferred width about the wanted point, as far as there is room.
fn begin_in_the_middle(program: &mut Program, request: &Request, stage: StageWindow, area: &Area) {
    let greatest = area.greatest_width(request);
    let least = request.least_width.min(greatest);
    let width = request.preferred_width.clamp(least, greatest);
    program.start(stage.x(), f64::midpoint(area.left, area.right) - stage.ride.0);
    program.start(stage.y(), f64::midpoint(area.top, area.bottom) - stage.ride.1);
    program.start(stage.width(), width);
}

/// No step is longer than the hard pan limit allows, across or down, in the mean of its two windows' widths.
fn limit_pans(program: &mut Program, request: &Request) {
    let Some(secs_per_width) = request.rules.pan_hard else { return };
    let stage = |index| StageWindow::of(request, index, index);
    for index in 1..request.frame_count() {
        let share = request.pace.step_secs(index - 1) / secs_per_width;
        let (before, after) = (stage(index - 1), stage(index));
        for (from, to) in [(before.x(), after.x()), (before.y(), after.y())] {
            for direction in [1.0, -1.0] {
                let terms = [
                    (to, direction),
                    (from, -direction),
                    (before.width(), -share / 2.0),
                    (after.width(), -share / 2.0),
                ];
                program.at_most(&terms, 0.0);
            }
        }
    }
}

/// What moving costs: speed in the first power, acceleration squared. In px, so that the solver sees
/// numbers of one size: everything is the objective times the reference width.
fn add_motion(program: &mut Program, request: &Request) {
    for coordinate in 0..VARIABLES {
        for index in 1..request.frame_count() {
            let now = coordinate + VARIABLES * index;
            program.off(&[(now - VARIABLES, -1.0), (now, 1.0)], 0.0, 1.0);
            if index > 1 {
                add_bend(program, request, index - 1, now - VARIABLES);
            }
        }
    }
}

/// What one coordinate of a frame costs for the change of speed there.
fn add_bend(program: &mut Program, request: &Request, index: usize, now: usize) {
    let (bend, mean_secs) = (request.pace.bend(index), request.pace.mean_step_secs());
    let cost = request.rules.weights.acceleration
        / (bend.secs * mean_secs * mean_secs * request.reference_width());
    let [before, here, after] = bend.factors();
    let terms = [(now - VARIABLES, before), (now, here), (now + VARIABLES, after)];
    program.square(terms, 0.0, 2.0 * cost);
}

/// A window from the solver's values. They keep the limits but for rounding, which is taken off here; more
/// than that is a fault and not corrected. A pinned frame is the pin to the last bit.
fn settle(
    request: &Request,
    sides: &[Side],
    index: usize,
    value: &[f64],
) -> Result<Window, PanError> {
    const GREATEST_NOISE_PX: f64 = 1e-4;
    if let Some(pin) = request.pins.iter().find(|pin| pin.index == index) {
        return Ok(pin.window);
    }
    let area = Area::at(request, sides, index);
    let (ride, greatest) = (request.ride_at(index), area.greatest_width(request));
    let solved = (value[0] + ride.0, value[1] + ride.1, value[2]);
    let width = onto_bounds(solved.2, request.least_width.min(greatest), greatest);
    let height = request.shape.height_for(width);
    let within = |centre: f64, size: f64, from: f64, to: f64| {
        let (low, high) = (from + size / 2.0, to - size / 2.0);
        if low <= high { onto_bounds(centre, low, high) } else { f64::midpoint(low, high) }
    };
    let x = within(solved.0, width, area.left, area.right);
    let y = within(solved.1, height, area.top, area.bottom);
    let excess_px = (width - solved.2).abs().max((x - solved.0).abs()).max((y - solved.1).abs());
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
