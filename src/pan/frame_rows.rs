//! What one frame's limits and wishes are in a program: rows on the window of a stage.

use super::{
    Request, RequiredBox,
    objective::AxisRule,
    program::{Program, VARIABLES},
    sides::Area,
};
use crate::geometry::Region;

/// The window of a stage, as a frame sees it: moved by what it rides on.
#[derive(Clone, Copy)]
pub(super) struct StageWindow {
    pub(super) stage: usize,
    pub(super) ride: (f64, f64),
    /// Height over width.
    pub(super) height_per_width: f64,
}

/// One axis of it: the centre's variable, the width's, and the size as a factor of the width.
#[derive(Clone, Copy)]
pub(super) struct AxisVariables {
    centre: usize,
    width: usize,
    size_per_width: f64,
    ride: f64,
}

/// A place on an axis as a sum of two variables, and how far the ride moves it.
#[derive(Clone, Copy)]
struct Sum {
    terms: [(usize, f64); 2],
    ride: f64,
}

impl AxisVariables {
    /// The place at a share of the window from its near edge.
    fn at_share(self, share: f64) -> Sum {
        let terms = [(self.centre, 1.0), (self.width, (share - 0.5) * self.size_per_width)];
        Sum { terms, ride: self.ride }
    }
}

impl StageWindow {
    pub(super) fn of(request: &Request, stage: usize, index: usize) -> Self {
        let height_per_width = request.shape.height_for(1.0);
        Self { stage, ride: request.ride_at(index), height_per_width }
    }

    pub(super) const fn x(self) -> usize {
        VARIABLES * self.stage
    }

    pub(super) const fn y(self) -> usize {
        VARIABLES * self.stage + 1
    }

    pub(super) const fn width(self) -> usize {
        VARIABLES * self.stage + 2
    }

    fn axes(self) -> [AxisVariables; 2] {
        let (across, down) = self.ride;
        [(self.x(), 1.0, across), (self.y(), self.height_per_width, down)].map(
            |(centre, size_per_width, ride)| AxisVariables {
                centre,
                width: self.width(),
                size_per_width,
                ride,
            },
        )
    }

    /// The width lies between the limits and the window inside the area.
    pub(super) fn keep_inside(self, program: &mut Program, request: &Request, area: &Area) {
        let (least, greatest) = (request.least_width, area.greatest_width(request));
        if greatest - least < NO_ROOM_PX {
            program.fix(self.width(), f64::midpoint(least, greatest));
        } else {
            program.at_least([(self.width(), 1.0)], least);
            program.at_most(&[(self.width(), 1.0)], greatest);
        }
        let spans = [(area.left, area.right), (area.top, area.bottom)];
        for (axis, (from, to)) in self.axes().into_iter().zip(spans) {
            if to - from - least * axis.size_per_width < NO_ROOM_PX {
                // Two limits that meet leave nothing to search in between.
                program.fix(axis.centre, f64::midpoint(from, to) - axis.ride);
            } else {
                program.at_least(axis.at_share(0.0).terms, from - axis.ride);
                program.at_most(&axis.at_share(1.0).terms, to - axis.ride);
            }
        }
        for edge in area.slanted_edges(self.height_per_width) {
            let (across, down) = edge.normal;
            let terms = [(self.x(), across), (self.y(), down), (self.width(), edge.per_width)];
            let ride = across * self.ride.0 + down * self.ride.1;
            program.at_most(&terms, edge.bound - ride);
        }
    }

    /// A box lies inside, whatever it costs.
    pub(super) fn require(self, program: &mut Program, required: &RequiredBox) {
        let (region, clear) = (&required.region, &required.clear);
        let spans = [
            (region.left(), region.right(), clear.left, clear.right),
            (region.top(), region.bottom(), clear.top, clear.bottom),
        ];
        for (axis, (from, to, before, after)) in self.axes().into_iter().zip(spans) {
            program.at_most(&axis.at_share(before).terms, from - axis.ride);
            program.at_least(axis.at_share(1.0 - after).terms, to - axis.ride);
        }
        if let Some(greatest) = required.greatest_width {
            program.at_most(&[(self.width(), 1.0)], greatest);
        }
    }

    /// Costs what a box lacks at both ends of each axis.
    pub(super) fn wish_inside(
        self,
        program: &mut Program,
        request: &Request,
        region: &Region,
        cost: f64,
    ) {
        let rules = [AxisRule::across(request), AxisRule::down(request)];
        let spans = [(region.left(), region.right()), (region.top(), region.bottom())];
        for ((axis, rule), (from, to)) in self.axes().into_iter().zip(rules).zip(spans) {
            let (near, far) = (axis.at_share(rule.before), axis.at_share(1.0 - rule.after));
            program.above(&near.terms, from - near.ride, cost);
            program.below(far.terms, to - far.ride, cost);
        }
    }

    /// Costs how far a point is off its place, beyond the still zone.
    pub(super) fn wish_at(
        self,
        program: &mut Program,
        request: &Request,
        (point, place): ((f64, f64), (f64, f64)),
        cost: f64,
    ) {
        let still = request.rules.still_zone;
        let wanted = [(point.0, place.0), (point.1, place.1)];
        for (axis, (at, share)) in self.axes().into_iter().zip(wanted) {
            let (near, far) = (axis.at_share(share - still), axis.at_share(share + still));
            program.above(&near.terms, at - near.ride, cost);
            program.below(far.terms, at - far.ride, cost);
        }
    }

    /// All that is wished of one frame, at its costs a px.
    pub(super) fn wish(
        self,
        program: &mut Program,
        request: &Request,
        index: usize,
        costs: &WishCosts,
    ) {
        let wish = &request.frames[index];
        for wished in &wish.boxes {
            let cost = costs.containment * wished.weight;
            self.wish_inside(program, request, &wished.region, cost);
        }
        if let Some(point) = wish.point {
            let at = ((point.at.x, point.at.y), (point.place.across, point.place.down));
            self.wish_at(program, request, at, costs.place * wish.weight());
        }
    }
}

/// A range of less than this is one value.
const NO_ROOM_PX: f64 = 1e-6;

/// What a px of each wish costs.
pub(super) struct WishCosts {
    pub(super) containment: f64,
    pub(super) place: f64,
}
