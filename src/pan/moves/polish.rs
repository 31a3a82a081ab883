//! The windows of a plan in real numbers, with its timing fixed.
//!
//! The variables are each hold's offsets and scale, in which moves run: edges, boxes, points and widths are then
//! straight lines at every frame of a hold and of a move alike, multiplied by the scale. What is left of that
//! factor, in costs and in ways, is taken from the plan before, so that the program is exact where no width
//! changes and near elsewhere. Values stay near that plan too, and a few rounds follow. A round counts only if
//! the windows it gives, rounded as held ones are, keep every limit at every frame and cost less.

use super::{
    super::{
        PanError, Request, Side,
        objective::AxisRule,
        program::ConvexProgram,
        sides::Area,
        solver::{self, Solved},
    },
    Framing, Hold, Moves,
    candidates::{Wanted, rounded},
    judge::Judge,
    leg::{Leg, STILL, Times, headings},
};

/// How far a round may go from the plan before, in reference widths. Chosen: more than from a candidate to the
/// next, so that one round mostly does.
const REACH: f64 = 0.15;

/// How many rounds there are at most. Chosen: the second already gains next to nothing.
const ROUNDS: usize = 3;

/// A plan with better windows, or as it was, and what it costs.
///
/// # Errors
/// [`PanError::Unsolved`] if the solver fails, which is a fault of ours.
pub(super) fn polished(
    request: &Request,
    sides: &[Side],
    (plan, cost): (Moves, f64),
) -> Result<(Moves, f64), PanError> {
    let judge = Judge::of(request, sides);
    let mut best = (plan, cost);
    for _ in 0..ROUNDS {
        let round = Round::about(request, sides, &best.0);
        let Some(values) = round.best_values()? else { break };
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
    Ok(best)
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
    moving_areas: Vec<(At, Area)>,
    /// The values of the plan before, three a hold.
    before: Vec<f64>,
    reference: f64,
    along: [Along; 2],
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
            moving_areas: Vec::new(),
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
        };
        if !request.keep_outs.is_empty() {
            // Without keep-outs, what holds at both ends of a move holds all the way.
            let moving = round.frames().into_iter().filter(|at| at.share > 0.0);
            round.moving_areas =
                moving.map(|at| (at, Area::at(request, sides, at.frame))).collect();
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
    fn best_values(&self) -> Result<Option<Vec<f64>>, PanError> {
        let mut program = ConvexProgram::default();
        for _ in 0..self.before.len() {
            program.variable(0.0);
        }
        self.add_limits(&mut program);
        self.add_moves(&mut program);
        for at in self.frames() {
            self.add_wishes(&mut program, at);
        }
        match solver::solve(&program)? {
            Solved::Best(values) => Ok(Some(values)),
            Solved::Infeasible => Ok(None),
        }
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

    /// How far a place of the window, as a share of it from its near edge, is beyond a px of the source: in px of
    /// a window of the reference width.
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
    fn add_limits(&self, program: &mut ConvexProgram) {
        let reach = REACH * self.reference;
        for (hold, area) in self.areas.iter().enumerate() {
            let at = At { frame: 0, hold, share: 0.0 };
            for variable in 3 * hold..3 * hold + 3 {
                let before = self.before[variable];
                if self.is_fixed(hold) {
                    program.require_equal(&[(variable, 1.0)], before);
                } else {
                    program.require_at_least(&[(variable, 1.0)], before - reach);
                    program.require_at_most(&[(variable, 1.0)], before + reach);
                }
            }
            if !self.is_fixed(hold) {
                let least = self.reference * self.reference / self.request.least_width;
                program.require_at_most(&[(3 * hold + 2, 1.0)], least);
                self.add_area(program, at, area);
            }
        }
        for (at, area) in &self.moving_areas {
            self.add_area(program, *at, area);
        }
    }

    fn add_area(&self, program: &mut ConvexProgram, at: At, area: &Area) {
        let edges = [(area.left, area.right), (area.top, area.bottom)];
        for (along, (from, to)) in self.along.iter().zip(edges) {
            let (near, far) =
                (self.beyond(along, at, (0.0, from)), self.beyond(along, at, (1.0, to)));
            program.require_at_least(&near.terms, -near.constant);
            program.require_at_most(&far.terms, -far.constant);
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
    fn add_moves(&self, program: &mut ConvexProgram) {
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
            for (axis, heading) in headings(from, to).into_iter().enumerate() {
                let way = self.add_way(program, (hold, leg), Some(&self.along[axis]));
                match heading {
                    0 => {
                        program.require_at_most(&[(way, 1.0)], STILL * width);
                        program.require_at_least(&[(way, 1.0)], -STILL * width);
                    }
                    _ => program.require_at_least(&[(way, f64::from(heading))], 0.0),
                }
                if let Some(secs_per_width) = self.request.rules.pan_hard {
                    let greatest = leg.secs / (secs_per_width * peak_per_px);
                    program.require_at_most(&[(way, 1.0)], greatest);
                    program.require_at_least(&[(way, 1.0)], -greatest);
                }
            }
            self.add_way(program, (hold, leg), None);
        }
    }

    /// A variable for the way of a number from a hold to the next, with what it costs.
    fn add_way(
        &self,
        program: &mut ConvexProgram,
        (hold, leg): (usize, &Leg),
        along: Option<&Along>,
    ) -> usize {
        let (from, to) = (self.number(hold, along).times(-1.0), self.number(hold + 1, along));
        let way = program.variable(0.0);
        let mut terms = from.terms;
        terms.extend(to.terms);
        terms.push((way, -1.0));
        program.require_equal(&terms, -(from.constant + to.constant));
        program.absolute_cost(&[(way, 1.0)], 0.0, 1.0);
        program.square_cost(&[(way, 1.0)], leg.bend / self.reference);
        way
    }

    /// What a frame costs, in px.
    fn add_wishes(&self, program: &mut ConvexProgram, at: At) {
        let (wish, weights) = (&self.request.frames[at.frame], &self.request.rules.weights);
        // Lines are in px of a reference window, costs in px of the source.
        let secs = self.request.pace.step_secs(at.frame) / self.scale_before(at);
        for along in &self.along {
            let (rule, px) = (along.rule, secs * along.size_per_width);
            for wished in &wish.boxes {
                let region = &wished.region;
                let (from, to) = match along.offset {
                    0 => (region.left(), region.right()),
                    _ => (region.top(), region.bottom()),
                };
                let cost = weights.containment * wished.weight * px;
                self.add_hinge(program, self.beyond(along, at, (rule.before, from)), cost);
                let after = self.beyond(along, at, (1.0 - rule.after, to));
                self.add_hinge(program, after.times(-1.0), cost);
            }
            if let Some(point) = wish.point {
                let px_at = if along.offset == 0 { point.x } else { point.y };
                let off = self.beyond(along, at, (rule.place, px_at));
                let (cost, still) =
                    (weights.place * wish.weight() * px, rule.still * self.reference);
                self.add_hinge(program, off.clone().plus(-still), cost);
                self.add_hinge(program, off.times(-1.0).plus(-still), cost);
            }
        }
        let scale = |weight: f64| -weight * self.request.preferred_width / self.reference;
        let mut terms = vec![(3 * at.hold + 2, scale(1.0 - at.share))];
        if at.share > 0.0 {
            terms.push((3 * at.hold + 5, scale(at.share)));
        }
        let wider = Line { terms, constant: self.reference };
        self.add_hinge(program, wider.clone(), weights.width * secs);
        self.add_hinge(program, wider.times(-1.0), weights.width * secs);
    }

    /// A cost for what a line is above 0; only a line that may be on either side needs a variable.
    fn add_hinge(&self, program: &mut ConvexProgram, line: Line, cost: f64) {
        let before: f64 = line.terms.iter().map(|(v, factor)| factor * self.before[*v]).sum();
        let spread: f64 = line.terms.iter().map(|(_, factor)| factor.abs()).sum();
        let (value, spread) = (before + line.constant, spread * REACH * self.reference);
        if cost <= 0.0 || value + spread <= 0.0 {
            return;
        }
        if value - spread >= 0.0 {
            for (variable, factor) in line.terms {
                program.linear[variable] += cost * factor;
            }
            return;
        }
        let mut terms = line.terms;
        let above = program.variable(cost);
        terms.push((above, -1.0));
        program.require_at_least(&[(above, 1.0)], 0.0);
        program.require_at_most(&terms, -line.constant);
    }
}
