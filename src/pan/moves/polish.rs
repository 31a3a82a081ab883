//! The windows of a plan in real numbers, with its timing fixed.
//!
//! The variables are each hold's offsets and scale, in which moves run: edges, boxes, points and widths are then
//! straight lines at every frame of a hold and of a move alike, multiplied by the scale. What is left of that
//! factor, in costs and in ways, is taken from the plan before, so that the program is exact where no width
//! changes and near elsewhere. Values stay near that plan too, and a few rounds follow. A round counts only if
//! the windows it gives, rounded as held ones are, keep every limit at every frame and cost less.

use super::{
    super::{
        Request, RequiredBox, Side,
        objective::AxisRule,
        program::{self, Program, VARIABLES},
        sides::Area,
    },
    Framing, Hold, Moves,
    candidates::{Wanted, rounded},
    frame::limits_stay,
    judge::Judge,
    leg::{Leg, STILL, Times, headings},
    member::Scene,
};
use crate::geometry::Region;

/// How far a round may go from the plan before, in reference widths. Chosen: more than from a candidate to the
/// next, so that one round mostly does.
const REACH: f64 = 0.15;

/// How many rounds there are at most. Chosen: the second already gains next to nothing.
const ROUNDS: usize = 3;

/// What of the windows may change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Freedom {
    /// Everything.
    All,
    /// Where they are across: what is down and how large they are is shared with other shapes.
    Across,
}

/// A plan with better windows, or as it was; with what it costs.
pub(super) fn polished(scene: Scene<'_>, (plan, cost): (Moves, f64), freedom: Freedom) -> Moves {
    let Scene { request, sides, .. } = scene;
    let judge = Judge::of(request, sides);
    let mut best = (plan, cost);
    for _ in 0..ROUNDS {
        let round = Round { freedom, ..Round::about(request, sides, &best.0) };
        let Some(values) = round.best_values() else { break };
        // What breaks a limit all the same, where widths change, may keep it nearer to the plan before.
        let better = [1.0, 0.5, 0.25].into_iter().find_map(|share| {
            let plan = round.plan_at(&values, share)?;
            let cost = judge.cost_if_sound(&plan)?;
            (cost < best.1 - 1e-9).then_some((plan, cost))
        });
        let Some(better) = better else { break };
        let is_best = round.is_exact_at(&values);
        best = better;
        if is_best {
            break;
        }
    }
    best.0
}

/// One of the two axes.
#[derive(Clone, Copy)]
struct Along {
    /// Of a hold's three variables, the one with its offset.
    offset: usize,
    rule: AxisRule,
    /// The window's size along it over its width.
    size_per_width: f64,
    /// The frame's middle, px.
    middle: f64,
}

/// A weighted sum of variables, and a constant.
#[derive(Clone)]
struct Line {
    terms: Vec<(usize, f64)>,
    constant: f64,
}

impl Line {
    fn times(mut self, factor: f64) -> Self {
        self.terms.iter_mut().for_each(|term| term.1 *= factor);
        Self { terms: self.terms, constant: self.constant * factor }
    }

    fn plus(self, constant: f64) -> Self {
        Self { constant: self.constant + constant, ..self }
    }
}

/// A frame of the plan: what stands there, or moves.
#[derive(Clone, Copy)]
struct At {
    frame: usize,
    /// The hold, or the one before the move.
    hold: usize,
    /// The share of the way to the next hold.
    share: f64,
}

/// A round about a plan. Each hold has three variables, in px of a window of the reference width: the offsets
/// across and down, and the reference width times the scale over that of such a window.
struct Round<'a> {
    request: &'a Request,
    plan: &'a Moves,
    legs: Vec<Leg>,
    /// What a window may use for the whole of each hold.
    areas: Vec<Area>,
    /// Frames at which the hard limits are their own, with what a window may use there.
    changing_areas: Vec<(At, Area)>,
    /// The values of the plan before, three a hold.
    before: Vec<f64>,
    reference: f64,
    along: [Along; 2],
    freedom: Freedom,
}

impl<'a> Round<'a> {
    fn about(request: &'a Request, sides: &[Side], plan: &'a Moves) -> Self {
        let (times, reference) = (Times::of(request), request.reference_width());
        let legs: Vec<Leg> = plan.moves().map(|m| times.leg(m.first, m.last)).collect();
        let values = |hold: &Hold| {
            let framing = Framing::of(&hold.window, request.raster);
            let (across, down) = (framing.across, framing.down);
            [
                reference * across.offset,
                reference * down.offset,
                reference * reference * across.scale,
            ]
        };
        let over = |hold: &Hold| Area::over(request, sides, hold.first..hold.last + 1);
        let mut round = Self {
            request,
            plan,
            legs,
            areas: plan.holds.iter().map(over).collect(),
            changing_areas: Vec::new(),
            before: plan.holds.iter().flat_map(values).collect(),
            reference,
            along: [
                Along {
                    offset: 0,
                    rule: AxisRule::across(request),
                    size_per_width: 1.0,
                    middle: request.raster.width() / 2.0,
                },
                Along {
                    offset: 1,
                    rule: AxisRule::down(request),
                    size_per_width: request.shape.height_for(1.0),
                    middle: request.raster.height() / 2.0,
                },
            ],
            freedom: Freedom::All,
        };
        if !limits_stay(request) {
            let area = |at: &At| Area::at(request, sides, at.frame).moved_back(request, at.frame);
            round.changing_areas = round.frames().into_iter().map(|at| (at, area(&at))).collect();
        }
        round
    }

    /// Every frame of the run.
    fn frames(&self) -> Vec<At> {
        let mut frames = Vec::with_capacity(self.request.frame_count());
        for (hold, stop) in self.plan.holds.iter().enumerate() {
            frames.extend((stop.first..=stop.last).map(|frame| At { frame, hold, share: 0.0 }));
            if let Some(leg) = self.legs.get(hold) {
                let moving = (leg.first + 1..leg.last).zip(&leg.shares);
                frames.extend(moving.map(|(frame, share)| At { frame, hold, share: *share }));
            }
        }
        frames
    }

    fn is_fixed(&self, hold: usize) -> bool {
        let Hold { first, last, .. } = self.plan.holds[hold];
        self.request.pins.iter().any(|pin| (first..=last).contains(&pin.index))
    }

    /// The best values of the variables near the plan before; `None` if the limits leave none.
    fn best_values(&self) -> Option<Vec<f64>> {
        let mut program = Program::of(self.plan.holds.len());
        self.add_limits(&mut program);
        self.add_moves(&mut program);
        for at in self.frames() {
            self.add_wishes(&mut program, at);
        }
        let solution = program::solve(&program);
        // Whether they are optimal does not matter: what they give is judged.
        (solution.broken_px <= program::KEPT_PX).then_some(solution.values)
    }

    /// Whether these values are the best of all, since no width changes and none went as far as it may.
    fn is_exact_at(&self, values: &[f64]) -> bool {
        const SAME_PX: f64 = 1e-3;
        let reach = REACH * self.reference - SAME_PX;
        let scales = self.before.iter().skip(2).step_by(3);
        let is_alike = scales.clone().all(|scale| (scale - self.before[2]).abs() < SAME_PX);
        let went = self.before.iter().zip(values).map(|(before, value)| (value - before).abs());
        is_alike && went.enumerate().all(|(v, px)| px < if v % 3 == 2 { SAME_PX } else { reach })
    }

    /// The plan with the values a share of the way to these; `None` if a window has no place.
    fn plan_at(&self, values: &[f64], share: f64) -> Option<Moves> {
        const SAME_PX: f64 = 1e-6;
        let mix = |variable: usize| {
            self.before[variable] + (values[variable] - self.before[variable]) * share
        };
        let mut plan = self.plan.clone();
        for (hold, stop) in plan.holds.iter_mut().enumerate() {
            let variables = 3 * hold..3 * hold + 3;
            let is_same = variables.clone().all(|v| (mix(v) - self.before[v]).abs() < SAME_PX);
            if is_same || self.is_fixed(hold) {
                continue;
            }
            let width = self.reference * self.reference / mix(3 * hold + 2);
            let centre = |along: &Along| {
                let offset = mix(3 * hold + along.offset) / self.reference;
                along.middle - offset * along.size_per_width * width
            };
            let wanted = Wanted { x: centre(&self.along[0]), y: centre(&self.along[1]), width };
            stop.window = rounded(self.request, &self.areas[hold], &wanted)?;
        }
        Some(plan)
    }

    /// How far a place of the window, as a share of it from its near edge, is beyond a px of the source with the
    /// ride taken off: in px of a window of the reference width.
    fn beyond(&self, along: &Along, at: At, (share, px): (f64, f64)) -> Line {
        let scale_factor = (along.middle - px) / (along.size_per_width * self.reference);
        let of = |hold: usize, weight: f64| {
            [(3 * hold + along.offset, -weight), (3 * hold + 2, scale_factor * weight)]
        };
        let mut terms = of(at.hold, 1.0 - at.share).to_vec();
        if at.share > 0.0 {
            terms.extend(of(at.hold + 1, at.share));
        }
        Line { terms, constant: (share - 0.5) * self.reference }
    }

    /// The window's scale over that of a window of the reference width, at a frame of the plan before.
    fn scale_before(&self, at: At) -> f64 {
        let scale = |hold: usize| self.before[3 * hold + 2] / self.reference;
        let now = scale(at.hold);
        if at.share > 0.0 { now + (scale(at.hold + 1) - now) * at.share } else { now }
    }

    /// The windows lie in their areas, have widths that are allowed, and are near those of the plan before.
    fn add_limits(&self, program: &mut Program) {
        let reach = REACH * self.reference;
        for (hold, area) in self.areas.iter().enumerate() {
            let first = VARIABLES * hold;
            let (least, greatest) = (self.request.least_width, area.greatest_width(self.request));
            for variable in first..first + VARIABLES {
                let before = self.before[variable];
                let is_shared = self.freedom == Freedom::Across && variable != first;
                let has_no_room = self.has_no_room(area, variable - first);
                if self.is_fixed(hold) || is_shared || has_no_room {
                    program.fix(variable, before);
                } else {
                    program.start(variable, before);
                    program.at_least([(variable, 1.0)], before - reach);
                    program.at_most(&[(variable, 1.0)], before + reach);
                }
            }
            if !self.is_fixed(hold) && least < greatest {
                let smallest = self.reference * self.reference / least;
                program.at_most(&[(first + 2, 1.0)], smallest);
                if self.request.most_width.is_finite() {
                    let largest = self.reference * self.reference / self.request.most_width;
                    program.at_least([(first + 2, 1.0)], largest);
                }
                if self.changing_areas.is_empty() {
                    let frame = self.plan.holds[hold].first;
                    self.add_area(program, At { frame, hold, share: 0.0 }, area);
                }
            }
        }
        for (at, area) in &self.changing_areas {
            self.add_area(program, *at, area);
            for required in &self.request.frames[at.frame].required {
                self.add_required(program, *at, required);
            }
        }
    }

    /// Whether two limits of a variable meet, which leaves nothing to search between them.
    fn has_no_room(&self, area: &Area, variable: usize) -> bool {
        const NO_ROOM_PX: f64 = 1e-6;
        let (least, greatest) = (self.request.least_width, area.greatest_width(self.request));
        let room = match variable {
            0 => area.right - area.left - least,
            1 => area.bottom - area.top - self.request.shape.height_for(least),
            _ => greatest - least,
        };
        room < NO_ROOM_PX
    }

    fn add_area(&self, program: &mut Program, at: At, area: &Area) {
        let edges = [(area.left, area.right), (area.top, area.bottom)];
        for (along, (from, to)) in self.along.iter().zip(edges) {
            let near = self.beyond(along, at, (0.0, from)).times(-1.0);
            program.at_most(&near.terms, -near.constant);
            let far = self.beyond(along, at, (1.0, to));
            program.at_most(&far.terms, -far.constant);
        }
        let height_per_width = self.request.shape.height_for(1.0);
        for edge in area.slanted_edges(height_per_width) {
            // `normal · centre + per_width × width <= bound`, times the scale.
            let ([across, down], ride) = (&self.along, self.request.ride_at(at.frame));
            let at_middle =
                edge.normal.0 * (across.middle + ride.0) + edge.normal.1 * (down.middle + ride.1);
            let factors = [
                -edge.normal.0,
                -edge.normal.1 * down.size_per_width,
                (at_middle - edge.bound) / self.reference,
            ];
            let terms = |hold: usize, weight: f64| {
                [0, 1, 2].map(|number| (VARIABLES * hold + number, factors[number] * weight))
            };
            let mut all = terms(at.hold, 1.0 - at.share).to_vec();
            if at.share > 0.0 {
                all.extend(terms(at.hold + 1, at.share));
            }
            program.at_most(&all, -edge.per_width * self.reference);
        }
    }

    /// A box lies inside, whatever it costs.
    fn add_required(&self, program: &mut Program, at: At, required: &RequiredBox) {
        let (region, clear) = (&required.region, &required.clear);
        let shares = [(clear.left, clear.right), (clear.top, clear.bottom)];
        for (along, (before, after)) in self.along.iter().zip(shares) {
            let (from, to) = self.ends(along, at, region);
            let near = self.beyond(along, at, (before, from));
            program.at_most(&near.terms, -near.constant);
            let far = self.beyond(along, at, (1.0 - after, to)).times(-1.0);
            program.at_most(&far.terms, -far.constant);
        }
        if let Some(greatest) = required.greatest_width {
            let least = self.reference * self.reference / greatest;
            let scale = self.scale_terms(at, -1.0);
            program.at_most(&scale, -least);
        }
    }

    /// What a number of a hold's window is near the plan before, in px: the centre along an axis, or the width.
    fn number(&self, hold: usize, along: Option<&Along>) -> Line {
        let (reference, scale) = (self.reference, self.before[3 * hold + 2] / self.reference);
        let width = reference / scale;
        let Some(along) = along else {
            // 1/s at s₀ is (2s₀ − s)/s₀².
            return Line {
                terms: vec![(3 * hold + 2, -1.0 / (scale * scale))],
                constant: 2.0 * width,
            };
        };
        let size = along.size_per_width;
        let offset = self.before[3 * hold + along.offset];
        Line {
            terms: vec![
                (3 * hold + along.offset, -size / scale),
                (3 * hold + 2, size * offset / (reference * scale * scale)),
            ],
            constant: along.middle - size * offset / scale,
        }
    }

    /// What the ways of the moves cost, how fast they may be, and that none turns round.
    fn add_moves(&self, program: &mut Program) {
        for (hold, leg) in self.legs.iter().enumerate() {
            let (from, to) = (&self.plan.holds[hold].window, &self.plan.holds[hold + 1].window);
            let width = f64::midpoint(from.width(), to.width());
            let framing = |window| Framing::of(window, self.request.raster);
            let peak = framing(from).peak_widths(&framing(to), self.plan.ease);
            let ways = [to.centre_x() - from.centre_x(), to.centre_y() - from.centre_y()];
            let way = ways[0].abs().max(ways[1].abs());
            // Widths at the peak for each px of way: that of the plan before, or of equal windows.
            let peak_per_px =
                if way > 1.0 { peak / way } else { self.plan.ease.peak_over_mean() / width };
            let limit = self.request.rules.pan_hard;
            let greatest = limit.map(|secs_per_width| leg.secs / (secs_per_width * peak_per_px));
            for (along, heading) in self.along.iter().zip(headings(from, to)) {
                let way = self.add_way(program, (hold, leg), Some(along));
                let still = Some(STILL * width);
                let (forth, back) = match heading {
                    0 => (still, still),
                    1 => (greatest, Some(0.0)),
                    _ => (Some(0.0), greatest),
                };
                for (line, most) in [(way.clone(), forth), (way.times(-1.0), back)] {
                    if let Some(most) = most {
                        program.at_most(&line.terms, most - line.constant);
                    }
                }
            }
            self.add_way(program, (hold, leg), None);
        }
    }

    /// The way of a number from a hold to the next, with what it costs.
    fn add_way(
        &self,
        program: &mut Program,
        (hold, leg): (usize, &Leg),
        along: Option<&Along>,
    ) -> Line {
        let (from, to) = (self.number(hold, along).times(-1.0), self.number(hold + 1, along));
        let constant = from.constant + to.constant;
        let terms: Vec<_> = from.terms.into_iter().chain(to.terms).collect();
        program.off(&terms, -constant, 1.0);
        let weight = 2.0 * self.request.rules.weights.acceleration * leg.bend / self.reference;
        match terms[..] {
            [a, b, c, d] => program.square_of_four([a, b, c, d], -constant, weight),
            [a, b] => {
                // The width has no offset: a third variable without a factor makes up the three.
                program.square([a, b, (b.0 - 1, 0.0)], -constant, weight);
            }
            _ => {}
        }
        Line { terms, constant }
    }

    /// What a frame costs, in px.
    fn add_wishes(&self, program: &mut Program, at: At) {
        let (wish, weights) = (&self.request.frames[at.frame], &self.request.rules.weights);
        // Lines are in px of a reference window, costs in px of the source.
        let secs = self.request.pace.step_secs(at.frame) / self.scale_before(at);
        for along in &self.along {
            let (rule, px) = (along.rule, secs * along.size_per_width);
            for wished in &wish.boxes {
                let (from, to) = self.ends(along, at, &wished.region);
                let cost = weights.containment * wished.weight * px;
                self.add_hinge(program, self.beyond(along, at, (rule.before, from)), cost);
                let after = self.beyond(along, at, (1.0 - rule.after, to));
                self.add_hinge(program, after.times(-1.0), cost);
            }
            if let Some(point) = wish.point {
                let (px_at, place) = match along.offset {
                    0 => (point.at.x, point.place.across),
                    _ => (point.at.y, point.place.down),
                };
                let off = self.beyond(along, at, (place, px_at - self.ride(along, at)));
                let (cost, still) =
                    (weights.place * wish.weight() * px, rule.still * self.reference);
                self.add_hinge(program, off.clone().plus(-still), cost);
                self.add_hinge(program, off.times(-1.0).plus(-still), cost);
            }
        }
        let cost = weights.width * self.request.width_share(at.frame) * secs;
        let terms = self.scale_terms(at, -self.request.preferred_width / self.reference);
        let wider = Line { terms, constant: self.reference };
        self.add_hinge(program, wider.clone(), cost);
        self.add_hinge(program, wider.times(-1.0), cost);
    }

    /// Where a box begins and ends along an axis, with a frame's ride taken off.
    fn ends(&self, along: &Along, at: At, region: &Region) -> (f64, f64) {
        let ride = self.ride(along, at);
        match along.offset {
            0 => (region.left() - ride, region.right() - ride),
            _ => (region.top() - ride, region.bottom() - ride),
        }
    }

    fn ride(&self, along: &Along, at: At) -> f64 {
        let (across, down) = self.request.ride_at(at.frame);
        if along.offset == 0 { across } else { down }
    }

    /// The scale at a frame, times a factor.
    fn scale_terms(&self, at: At, factor: f64) -> Vec<(usize, f64)> {
        let mut terms = vec![(VARIABLES * at.hold + 2, factor * (1.0 - at.share))];
        if at.share > 0.0 {
            terms.push((VARIABLES * at.hold + VARIABLES + 2, factor * at.share));
        }
        terms
    }

    /// A cost for what a line is above 0, unless it is below all over where the round may go.
    fn add_hinge(&self, program: &mut Program, line: Line, cost: f64) {
        let before: f64 = line.terms.iter().map(|(v, factor)| factor * self.before[*v]).sum();
        let spread: f64 = line.terms.iter().map(|(_, factor)| factor.abs()).sum();
        if before + line.constant + spread * REACH * self.reference > 0.0 {
            program.above(&line.terms, -line.constant, cost);
        }
    }
}
