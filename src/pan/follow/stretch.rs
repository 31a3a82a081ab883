//! A stretch of a run as a convex program: the terms of the room's head, assembled in px.

use crate::pan::{
    Pin, Request, Side,
    frame_rows::{StageWindow, WishCosts},
    program::{Program, VARIABLES},
    sides::Area,
};
use std::ops::Range;

/// What the program knows of a frame: centre across, centre down, both less the ride, and width.
pub(super) type Place = [f64; VARIABLES];

/// Some frames of a run, and the places that frames beside them already have.
pub(super) struct Stretch<'a> {
    pub(super) request: &'a Request,
    pub(super) sides: &'a [Side],
    /// All frames of the program, held ones included.
    pub(super) frames: Range<usize>,
    /// Frames at the front that are where `places` says.
    pub(super) held_front: usize,
    /// A place for each frame where there is one to start from, in the run's numbering; empty if there is none.
    pub(super) places: &'a [Place],
}

impl Stretch<'_> {
    /// The whole run.
    pub(super) fn whole<'a>(request: &'a Request, sides: &'a [Side]) -> Stretch<'a> {
        let frames = 0..request.frame_count();
        Stretch { request, sides, frames, held_front: 0, places: &[] }
    }

    fn is_held(&self, index: usize) -> bool {
        index < self.frames.start + self.held_front
    }

    fn stage(&self, index: usize) -> StageWindow {
        StageWindow::of(self.request, index - self.frames.start, index)
    }

    /// The program of the stretch. What concerns held frames alone is left out: it belongs to the stretch beside.
    pub(super) fn program(&self) -> Program {
        let mut program = Program::of(self.frames.len());
        for index in self.frames.clone() {
            let stage = self.stage(index);
            if self.is_held(index) {
                for (coordinate, value) in self.places[index].into_iter().enumerate() {
                    program.fix(stage.x() + coordinate, value);
                }
            } else {
                self.add_frame(&mut program, stage, index);
            }
        }
        for index in self.frames.clone().skip(1) {
            self.limit_pan(&mut program, index);
            self.add_motion(&mut program, index);
        }
        program
    }

    /// What is asked of one frame by itself.
    fn add_frame(&self, program: &mut Program, stage: StageWindow, index: usize) {
        let request = self.request;
        match request.pin_at(index) {
            // A pin rounded by hand may be off its exact shape by a fraction of a px, so that its other limits
            // are checked before and not here.
            Some(pin) => {
                for (variable, value) in pinned(stage, pin) {
                    program.fix(variable, value);
                }
            }
            None => {
                let area = Area::at(request, self.sides, index);
                let start = match self.places.get(index) {
                    Some(place) => *place,
                    None => middle_of(request, stage, &area),
                };
                for (coordinate, value) in start.into_iter().enumerate() {
                    program.start(stage.x() + coordinate, value);
                }
                stage.keep_inside(program, request, &area);
                for required in &request.frames[index].required {
                    stage.require(program, required);
                }
            }
        }
        let (weights, step_secs) = (&request.rules.weights, request.pace.step_secs(index));
        let costs = WishCosts {
            containment: weights.containment * step_secs,
            place: weights.place * step_secs,
        };
        stage.wish(program, request, index, &costs);
        if request.width_share(index) > 0.0 {
            let cost = weights.width * step_secs;
            program.off(&[(stage.width(), 1.0)], request.preferred_width, cost);
        }
    }

    /// The step to a frame is no longer than the hard pan limit allows, across or down, in the mean of its two
    /// windows' widths.
    fn limit_pan(&self, program: &mut Program, index: usize) {
        let request = self.request;
        let Some(secs_per_width) = request.rules.pan_hard else { return };
        let share = request.pace.step_secs(index - 1) / secs_per_width;
        let (before, after) = (self.stage(index - 1), self.stage(index));
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

    /// What moving to a frame costs: speed in the first power, and the squared change of speed at the frame
    /// before. In px, so that the solver sees numbers of one size: everything is the objective times the
    /// reference width.
    fn add_motion(&self, program: &mut Program, index: usize) {
        let request = self.request;
        let now = self.stage(index).x();
        for coordinate in now..now + VARIABLES {
            program.off(&[(coordinate - VARIABLES, -1.0), (coordinate, 1.0)], 0.0, 1.0);
        }
        if index < self.frames.start + 2 {
            return;
        }
        let (bend, mean_secs) = (request.pace.bend(index - 1), request.pace.mean_step_secs());
        let cost = request.rules.weights.acceleration
            / (bend.secs * mean_secs * mean_secs * request.reference_width());
        let [before, here, after] = bend.factors();
        for coordinate in now..now + VARIABLES {
            let terms = [
                (coordinate - 2 * VARIABLES, before),
                (coordinate - VARIABLES, here),
                (coordinate, after),
            ];
            program.square(terms, 0.0, 2.0 * cost);
        }
    }
}

/// The variables of a run's frame at a pin, and what they are fixed to.
pub(super) fn pinned_at(request: &Request, pin: &Pin) -> [(usize, f64); VARIABLES] {
    pinned(StageWindow::of(request, pin.index, pin.index), pin)
}

fn pinned(stage: StageWindow, pin: &Pin) -> [(usize, f64); VARIABLES] {
    [
        (stage.x(), pin.window.centre_x() - stage.ride.0),
        (stage.y(), pin.window.centre_y() - stage.ride.1),
        (stage.width(), pin.window.width()),
    ]
}

/// A start well inside the limits: the preferred width in the middle of what may be used.
fn middle_of(request: &Request, stage: StageWindow, area: &Area) -> Place {
    let greatest = area.greatest_width(request);
    let width = request.preferred_width.clamp(request.least_width.min(greatest), greatest);
    let (x, y) = (f64::midpoint(area.left, area.right), f64::midpoint(area.top, area.bottom));
    [x - stage.ride.0, y - stage.ride.1, width]
}
