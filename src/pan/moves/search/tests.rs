//! The search against an enumeration of every plan, which knows nothing of its tables: a plan is a list of holds,
//! its cost that of the windows it is baked to, and its rules are read off those.

use super::{
    super::{lattice::Lattice, member::Scene},
    Budget, NoPlan, cheapest, cheapest_within,
};
use crate::{
    geometry::{Raster, Region, Rounding, Shape, SourcePoint, Window},
    pan::{
        FrameWish, Hold, Insets, KeepOut, MoveRules, Moves, Objective, Pace, Pin, Place,
        PlacedPoint, Request, RequiredBox, Roll, Rules, Side, Weights, WishedBox, moves::Ease,
        peak_speed, testing,
    },
};

const NOISE: f64 = 1e-6;

/// Numbers that look like chance and are the same on every machine (`SplitMix64`, from memory).
struct Dice(u64);

impl Dice {
    fn throw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut value = self.0;
        value = (value ^ (value >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        value = (value ^ (value >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        value ^ (value >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = f64::from(u32::try_from(self.throw() >> 32).unwrap()) / f64::from(u32::MAX);
        low + (high - low) * share
    }

    fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[usize::try_from(self.throw() % choices.len() as u64).unwrap()]
    }
}

fn raster() -> Raster {
    Raster::new(1000, 500).unwrap()
}

fn rules(dice: &mut Dice) -> Rules {
    Rules {
        still_zone: 0.1,
        pan_hard: dice.one_of(&[None, None, Some(0.15), Some(0.3)]),
        weights: Weights {
            acceleration: dice.one_of(&[0.0, 0.001, 0.15]),
            containment: dice.one_of(&[20.0, 200.0]),
            place: 3.0,
            width: 1.0,
        },
        moves: MoveRules {
            least_hold_secs: 0.5,
            least_move_secs: 0.25,
            greatest_move_secs: 0.75,
            reversal_secs: dice.one_of(&[None, Some(0.8), Some(1.0), Some(1.3)]),
            ease: dice.one_of(&[Ease::SMOOTH, Ease::with_peak(2.0).unwrap()]),
            cost: dice.between(0.0, 0.4),
            cost_per_sec: dice.one_of(&[0.0, 0.2]),
            place: 3.0,
        },
        ..testing::RULES
    }
}

/// 12 steps.
const FRAMES: usize = 13;

/// A subject that jumps about, or swings.
fn jumping(dice: &mut Dice) -> Vec<FrameWish> {
    let swings = dice.one_of(&[false, true]);
    let mut at = (500.0, 250.0);
    (0..FRAMES)
        .map(|frame| {
            if swings {
                let across = if (frame / 3).is_multiple_of(2) { 150.0 } else { 850.0 };
                at = (across + dice.between(-60.0, 60.0), dice.between(80.0, 420.0));
            } else if dice.between(0.0, 1.0) < 0.35 {
                at = (dice.between(100.0, 900.0), dice.between(80.0, 420.0));
            }
            let region = Region::new(at.0 - 40.0, at.1 - 30.0, 80.0, 60.0).unwrap();
            let weight = dice.between(0.3, 1.0);
            FrameWish {
                boxes: vec![WishedBox { region, weight }],
                required: Vec::new(),
                point: Some(PlacedPoint {
                    at: SourcePoint { x: at.0, y: at.1 },
                    place: Place { across: dice.between(0.4, 0.6), down: 0.5 },
                }),
            }
        })
        .collect()
}

/// 12 steps of about a quarter second, six windows, a subject that jumps about, and now and then uneven steps,
/// something kept out that comes and goes, and a pinned window.
fn instance(seed: u64) -> (Request, Vec<Side>, Vec<Window>) {
    let mut dice = Dice(seed);
    let size = dice.between(150.0, 300.0);
    let has_sizes = dice.one_of(&[false, true]);
    let windows: Vec<Window> = (0..6)
        .map(|_| {
            let width = if has_sizes { dice.between(150.0, 400.0) } else { size };
            let left = dice.between(0.0, 1000.0 - width);
            let top = dice.between(0.0, 500.0 - width);
            Window::inside(raster(), (left, top), (width, width)).unwrap()
        })
        .collect();
    let frames = jumping(&mut dice);
    let pace = if dice.one_of(&[true, false]) {
        Pace::even(0.25)
    } else {
        Pace::uneven((0..FRAMES).map(|_| dice.between(0.2, 0.3)).collect())
    };
    let shape = Shape::new(1, 1).unwrap();
    let mut request = Request::plain((raster(), shape), pace, frames, rules(&mut dice));
    request.rounding = Rounding::Exact;
    request.least_width = 150.0;
    request.preferred_width = size;
    if dice.between(0.0, 1.0) < 0.25 {
        request.pins = vec![Pin { index: dice.one_of(&[0, 4, 7, 12]), window: windows[0] }];
    }
    let mut sides = Vec::new();
    if dice.between(0.0, 1.0) < 0.25 {
        let strip = Region::new(900.0, 0.0, 100.0, 500.0);
        let regions = (0..FRAMES).map(|frame| strip.filter(|_| (3..9).contains(&frame))).collect();
        request.keep_outs = vec![KeepOut { regions }];
        sides = vec![Side::Left];
    }
    if dice.between(0.0, 1.0) < 0.15 {
        let region = Region::new(dice.between(200.0, 700.0), 240.0, 20.0, 20.0).unwrap();
        let clear = Insets { left: 0.1, ..Insets::default() };
        let greatest_width = dice.one_of(&[None, Some(380.0)]);
        request.frames[8].required = vec![RequiredBox { region, clear, greatest_width, clause: 0 }];
    }
    if dice.between(0.0, 1.0) < 0.15 {
        request.roll = Roll::Fixed(dice.between(-0.1, 0.1));
    }
    if dice.between(0.0, 1.0) < 0.15 {
        let mut shake = || dice.between(-20.0, 20.0);
        request.ride = (0..FRAMES).map(|_| (shake(), shake())).collect();
    }
    (request, sides, windows)
}

/// Every plan, one after the other.
struct Enumeration<'a> {
    request: &'a Request,
    windows: &'a [Window],
    secs: Vec<f64>,
    /// The greatest speed of a way of one second, by pair, sampled.
    peaks: Vec<Vec<f64>>,
    best: f64,
    /// The same if the window may turn as often as it likes.
    best_turning: f64,
    plans: usize,
}

impl<'a> Enumeration<'a> {
    fn new(request: &'a Request, windows: &'a [Window]) -> Self {
        let mut secs = vec![0.0];
        for frame in 0..request.frame_count() {
            secs.push(secs[frame] + request.pace.step_secs(frame));
        }
        let peak = |from: &Window, to: &Window| sampled_peak(from, to, request.rules.moves.ease);
        let peaks = windows.iter().map(|a| windows.iter().map(|b| peak(a, b)).collect()).collect();
        Self {
            request,
            windows,
            secs,
            peaks,
            best: f64::INFINITY,
            best_turning: f64::INFINITY,
            plans: 0,
        }
    }

    fn run(&mut self) {
        for candidate in 0..self.windows.len() {
            self.go_on(&mut vec![(candidate, 0, 0)]);
        }
    }

    /// Ends the plan here, and then goes on from its last hold in every way.
    fn go_on(&mut self, holds: &mut Vec<(usize, usize, usize)>) {
        let last = self.request.frame_count() - 1;
        let rules = &self.request.rules.moves;
        let (candidate, first, _) = *holds.last().unwrap();
        let is_last_long = self.secs[last + 1] - self.secs[first] >= rules.least_hold_secs - NOISE;
        if holds.len() == 1 || is_last_long {
            let place = holds.len() - 1;
            holds[place].2 = last;
            self.weigh(holds);
        }
        for leave in first..last {
            if self.secs[leave] - self.secs[first] < rules.least_hold_secs - NOISE {
                continue;
            }
            for arrive in leave + 1..=last {
                let length = self.secs[arrive] - self.secs[leave];
                let (least, greatest) = (rules.least_move_secs, rules.greatest_move_secs);
                if length < least - NOISE || length > greatest + NOISE {
                    continue;
                }
                for next in 0..self.windows.len() {
                    let limit =
                        self.request.rules.pan_hard.map_or(f64::INFINITY, |secs| 1.0 / secs);
                    if next != candidate && self.peaks[candidate][next] / length <= limit {
                        let place = holds.len() - 1;
                        holds[place].2 = leave;
                        holds.push((next, arrive, arrive));
                        self.go_on(holds);
                        holds.pop();
                    }
                }
            }
        }
    }

    /// The cost of a whole plan, if its windows keep every rule.
    fn weigh(&mut self, holds: &[(usize, usize, usize)]) {
        self.plans += 1;
        let hold = |(candidate, first, last): &(usize, usize, usize)| Hold {
            first: *first,
            last: *last,
            window: self.windows[*candidate],
        };
        let rules = &self.request.rules.moves;
        let moves = Moves {
            holds: holds.iter().map(hold).collect(),
            ease: rules.ease,
            may_cost_more: None,
        };
        let Some(windows) = moves.windows(self.request).filter(|w| self.keeps_limits(w)) else {
            return;
        };
        let moving: f64 =
            moves.moves().map(|m| self.secs[m.last] - self.secs[m.first]).sum::<f64>();
        let count = f64::from(u32::try_from(holds.len() - 1).unwrap());
        let cost = Objective::of(self.request, &windows).total()
            + rules.cost * count
            + rules.cost_per_sec * moving;
        self.best_turning = self.best_turning.min(cost);
        if self.turns_are_far_apart(holds) {
            self.best = self.best.min(cost);
        }
    }

    /// Whether every corner of a window, turned back, is in the frame.
    fn is_in_the_turned_frame(&self, frame: usize, window: &Window) -> bool {
        let (sine, cosine) = self.request.roll.at(frame).sin_cos();
        [window.left(), window.right()].into_iter().all(|x| {
            [window.top(), window.bottom()].into_iter().all(|y| {
                let (dx, dy) = (x - 500.0, y - 250.0);
                let (back_x, back_y) = (cosine * dx + sine * dy, cosine * dy - sine * dx);
                back_x.abs() <= 500.0 + NOISE && back_y.abs() <= 250.0 + NOISE
            })
        })
    }

    fn keeps_required(&self, frame: usize, window: &Window) -> bool {
        self.request.frames[frame].required.iter().all(|required| {
            let region = &required.region;
            region.left() >= window.left() + required.clear.left * window.width() - NOISE
                && region.right() <= window.right() + NOISE
                && region.top() >= window.top() - NOISE
                && region.bottom() <= window.bottom() + NOISE
                && required.greatest_width.is_none_or(|most| window.width() <= most + NOISE)
        })
    }

    fn turns_are_far_apart(&self, holds: &[(usize, usize, usize)]) -> bool {
        let Some(least) = self.request.rules.moves.reversal_secs else { return true };
        [Window::centre_x, Window::centre_y].into_iter().all(|centre| {
            let (mut heading, mut turned_at) = (0.0_f64, f64::NEG_INFINITY);
            for pair in holds.windows(2) {
                let (from, to) = (&self.windows[pair[0].0], &self.windows[pair[1].0]);
                let way = centre(to) - centre(from);
                if way.abs() <= 0.005 * f64::midpoint(from.width(), to.width()) {
                    continue;
                }
                let start = self.secs[pair[0].2];
                if heading * way < 0.0 {
                    if start - turned_at < least - NOISE {
                        return false;
                    }
                    turned_at = start;
                }
                heading = way.signum();
            }
            true
        })
    }

    fn keeps_limits(&self, windows: &[Window]) -> bool {
        let inside = windows.iter().enumerate().all(|(frame, window)| {
            let pin = self.request.pins.iter().find(|pin| pin.index == frame);
            let kept_out = self.request.keep_outs.iter().filter_map(|out| out.regions[frame]);
            pin.is_none_or(|pin| pin.window == *window)
                && (pin.is_some()
                    || (kept_out.map(|out| out.left()).all(|left| window.right() <= left + NOISE)
                        && self.is_in_the_turned_frame(frame, window)
                        && self.keeps_required(frame, window)))
        });
        let limit = self.request.rules.pan_hard.map_or(f64::INFINITY, |secs| 1.0 / secs);
        inside
            && peak_speed(windows, &self.request.pace, &self.request.ride).widths_per_sec
                <= limit + 1e-6
    }
}

/// The speed in widths at the fastest of many small steps of an eased move of one second.
fn sampled_peak(from: &Window, to: &Window, ease: Ease) -> f64 {
    const STEPS: u32 = 1000;
    let (source, columns) = (raster(), |window: &Window| {
        let scale = 1.0 / window.width();
        let offset = |centre: f64, size: f64| (size / 2.0 - centre) * scale;
        [
            scale,
            offset(window.centre_x(), raster().width()),
            offset(window.centre_y(), raster().height()),
        ]
    });
    let (start, end) = (columns(from), columns(to));
    let at = |step: u32| {
        let share = ease.share(f64::from(step) / f64::from(STEPS));
        let mixed: Vec<f64> = start.iter().zip(end).map(|(a, b)| a + (b - a) * share).collect();
        let width = 1.0 / mixed[0];
        let centre = |offset: f64, size: f64| size / 2.0 - offset * width;
        (centre(mixed[1], source.width()), centre(mixed[2], source.height()), width)
    };
    (0..STEPS)
        .map(|step| {
            let (a, b) = (at(step), at(step + 1));
            let way = (b.0 - a.0).abs().max((b.1 - a.1).abs());
            way * f64::from(STEPS) / f64::midpoint(a.2, b.2)
        })
        .fold(0.0, f64::max)
}

#[test]
fn the_cheapest_plan_is_that_of_an_enumeration_of_all() {
    let (mut moved, mut often, mut none, mut held_back) = (0, 0, 0, 0);
    for seed in 0..120 {
        let (request, sides, windows) = instance(seed);
        let mut all = Enumeration::new(&request, &windows);
        all.run();
        assert!(all.plans > 100, "seed {seed}: {} plans", all.plans);
        let scene = Scene::of(&request, &sides);
        let candidates: Vec<Vec<Window>> = windows.iter().map(|window| vec![*window]).collect();
        let found = cheapest(&Lattice::new(&[scene], &candidates));
        let Ok(found) = found else {
            assert_eq!(all.best, f64::INFINITY, "seed {seed}");
            none += 1;
            continue;
        };
        assert_eq!(found.may_cost_more, None, "seed {seed}");
        let off = (found.cost - all.best).abs();
        assert!(off <= 1e-9 * all.best.max(1.0), "seed {seed}: {} and {}", found.cost, all.best);
        moved += usize::from(found.stops.len() > 1);
        often += usize::from(found.stops.len() > 2);
        held_back += usize::from(all.best_turning < all.best - 1e-9);
    }
    let counts =
        format!("{moved} move, {often} twice, {none} not at all, {held_back} may not turn");
    assert!(moved > 80 && often > 30 && none < 10 && held_back > 10, "{counts}");
}

/// A search that is broken off has a plan all the same, or none; what it may cost more than the cheapest is no less than what
/// it does.
#[test]
fn a_search_that_is_broken_off_says_how_far_off_it_may_be() {
    let (mut broken_off, mut dearer) = (0, 0);
    for (seed, looks) in (0..60).zip([20, 100, 500].into_iter().cycle()) {
        let (request, sides, windows) = instance(seed);
        let candidates: Vec<Vec<Window>> = windows.iter().map(|window| vec![*window]).collect();
        let scenes = [Scene::of(&request, &sides)];
        let lattice = Lattice::new(&scenes, &candidates);
        let budget = Budget { looks, labels: 1_000_000 };
        let (Ok(best), Ok(found)) = (cheapest(&lattice), cheapest_within(&lattice, budget)) else {
            continue;
        };
        let more = found.cost - best.cost;
        assert!(more >= -1e-9, "seed {seed}: {more}");
        match found.may_cost_more {
            Some(bound) => assert!(more <= bound + 1e-9, "seed {seed}: {more} and {bound}"),
            None => assert!(more <= 1e-9, "seed {seed}: {more}"),
        }
        broken_off += usize::from(found.may_cost_more.is_some());
        dearer += usize::from(more > 1e-6);
    }
    assert!(broken_off > 20 && dearer > 3, "{broken_off} broken off, {dearer} dearer");
}

/// Pins that differ rule out one window for all frames, so that a search that may look at nothing finds no plan: that is not
/// to be taken for a proof that there is none.
#[test]
fn a_search_that_finds_nothing_says_whether_it_was_broken_off() {
    let (mut broken_off, mut without) = (0, 0);
    for seed in 0..120 {
        let (request, sides, windows) = instance(seed);
        let candidates: Vec<Vec<Window>> = windows.iter().map(|window| vec![*window]).collect();
        let scenes = [Scene::of(&request, &sides)];
        let lattice = Lattice::new(&scenes, &candidates);
        let within = cheapest_within(&lattice, Budget { looks: 0, labels: 0 });
        match (cheapest(&lattice), within) {
            (Ok(_), Err(why)) => {
                assert_eq!(why, NoPlan::BrokenOff, "seed {seed}");
                broken_off += 1;
            }
            (Err(why), _) => {
                assert_eq!(why, NoPlan::NoneKeepsLimits, "seed {seed}");
                without += 1;
            }
            (Ok(_), Ok(_)) => {}
        }
    }
    assert!(broken_off > 3 && without > 3, "{broken_off} broken off, {without} without a plan");
}
