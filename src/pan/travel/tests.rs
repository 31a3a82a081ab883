use super::*;
use crate::{
    geometry::{Raster, Region, Shape},
    pan::{FrameWish, HardLimit, Outcome, Pace, Pin, Verdict, follow, plan, testing::RULES},
};
use std::cell::Cell;

/// A box of 400 x 400 px at these columns, each for a twenty-fifth of a second, for a 9:16 window 1687.5 px wide.
fn request(lefts: impl Iterator<Item = f64>) -> Request {
    let wish = |left| FrameWish::for_box(Region::new(left, 1300.0, 400.0, 400.0).unwrap());
    let raster = Raster::new(4000, 3000).unwrap();
    let (shape, pace) = (Shape::new(9, 16).unwrap(), Pace::even(0.04));
    let request = Request::plain((raster, shape), pace, lefts.map(wish).collect(), RULES);
    Request { least_width: request.greatest_width(), ..request }
}

/// It swings by so many px to either side of column 1800, ever quicker, for ten seconds.
fn swinging(px: f64) -> Request {
    request((0..250).map(|frame| {
        let secs = f64::from(frame) / 25.0;
        1800.0 + px * (secs * (0.5 + 0.12 * secs)).sin()
    }))
}

fn limited(request: &Request, greatest: f64) -> Request {
    let mut limited = request.clone();
    limited.rules.greatest_travel = Some(greatest);
    limited
}

fn within(request: &Request, greatest: f64) -> (Vec<Window>, Travel) {
    let within = follow_within(&limited(request, greatest), &[]).unwrap().unwrap();
    (within.windows, within.travel.unwrap())
}

fn planned(request: &Request) -> Planned {
    match plan(request).unwrap() {
        Outcome::Planned(planned) => planned,
        other => panic!("{other:?}"),
    }
}

const LIMIT: TravelLimit = TravelLimit { greatest: 1.1, least_px: 100.0 };

/// The factor that is found where a path by a factor travels so far, what it travels then, and by how many plans.
fn found(travels: impl Fn(f64) -> f64) -> (f64, f64, u32) {
    let plans = Cell::new(0);
    let at = |factor: f64| {
        plans.set(plans.get() + 1);
        Ok(Tried { factor, px: travels(factor), path: () })
    };
    let found = LIMIT.greatest_factor(travels(1.0), at).unwrap();
    (found.factor, found.px, plans.get())
}

/// By hand: 100 + 50 f is 110 at 0.2, and 100 + 50 √f at 0.04.
#[test]
fn the_greatest_factor_is_found_in_a_few_plans() {
    for (travels, greatest) in [
        ((|factor| 100.0 + 50.0 * factor) as fn(f64) -> f64, 0.2),
        (|factor| 100.0 + 50.0 * factor.sqrt(), 0.04),
        (|factor| 100.0 + 5e4 * factor, 0.0002),
    ] {
        let (factor, px, plans) = found(travels);
        assert!((109.0..=110.0).contains(&px), "{px} px at {factor}");
        assert!((0.8 * greatest..=greatest).contains(&factor), "{factor} for {greatest}");
        assert!(plans <= 8, "{plans} plans");
    }
}

#[test]
fn where_the_path_jumps_the_factor_is_the_one_before_the_jump() {
    let (factor, px, plans) = found(|factor| if factor <= 0.3 { 101.0 } else { 200.0 });
    assert!((0.3 / NEXT..=0.3).contains(&factor) && px < 102.0, "{factor}");
    assert!(plans <= MOST_BETWEEN + 1, "{plans} plans");
}

#[test]
fn a_limit_that_is_out_of_reach_is_told_to_be() {
    let (factor, px, plans) = found(|_| 200.0);
    assert!(factor <= LEAST_FACTOR && plans <= 5, "{factor}, {plans} plans");
    let told = LIMIT.told(px, factor, Beyond::NotReached);
    assert_eq!(told.beyond, Some(Beyond::NotReached));
}

#[test]
fn a_path_that_travels_no_further_than_it_may_is_left_as_it_is() {
    let request = swinging(1500.0);
    let (windows, travel) = within(&request, 100.0);
    assert_eq!(windows, follow(&request, &[]).unwrap().unwrap());
    assert_eq!((travel.factor, travel.beyond), (1.0, None));
    assert!(travel.px >= travel.least_px && travel.least_px > 1000.0, "{travel:?}");
    let (free, limited) = (planned(&request), planned(&limited(&request, 100.0)));
    assert_eq!(limited.travel, Some(travel));
    assert_eq!(Planned { travel: None, ..limited }, free);
}

/// The less it may travel the less it does, and the further the subject is off its place.
#[test]
fn a_smaller_limit_is_less_travel_and_a_worse_place_with_as_much_inside() {
    let request = swinging(1500.0);
    let mut before: Option<(f64, f64)> = None;
    for greatest in [3.0, 1.5, 1.2, 1.1, 1.05, 1.01] {
        let (windows, travel) = within(&request, greatest);
        assert!(travel.px <= greatest * travel.least_px && travel.beyond.is_none(), "{travel:?}");
        let cost = Objective::of(&request, &windows);
        assert!(cost.containment < 1e-6, "{cost:?}");
        let wished = cost.place + cost.acceleration + cost.width;
        if let Some((px, less)) = before {
            assert!(travel.px <= px && wished >= less - 1e-6, "{greatest}: {travel:?}, {wished}");
        }
        before = Some((travel.px, wished));
    }
}

/// All of it is in one window 1687.5 px wide, and a place in the middle is still worth following it for.
#[test]
fn where_a_window_that_stands_keeps_it_nothing_travels() {
    let request = swinging(600.0);
    let free = follow(&request, &[]).unwrap().unwrap();
    assert!(travel_px(&request, &free) > 100.0, "or there is nothing to be kept from");
    let (windows, travel) = within(&request, 1.1);
    assert!(travel.least_px < NOTHING_PX && travel.px <= NOTHING_PX, "{travel:?}");
    assert!(travel.times_least().is_none() && travel.factor < 1.0 && travel.beyond.is_none());
    assert!(Objective::of(&request, &windows).containment < 1e-6);
}

/// From one pin to the next it is 800 px, and from there back 300: no path travels less.
#[test]
fn pins_are_kept_and_what_they_force_is_no_excess() {
    let mut request = swinging(700.0);
    let size = (1687.5, 3000.0);
    let pin = |(index, left)| {
        let window = Window::inside(request.raster, (left, 0.0), size).unwrap();
        Pin { index, window }
    };
    request.pins = [(0, 800.0), (120, 1600.0), (249, 1300.0)].map(pin).into();
    let (windows, travel) = within(&request, 1.05);
    assert!(travel.least_px >= 1100.0 - 1e-3, "{travel:?}");
    assert!(travel.px <= 1.05 * travel.least_px, "{travel:?}");
    assert!(request.pins.iter().all(|pin| windows[pin.index] == pin.window));
}

#[test]
fn limits_that_contradict_each_other_do_so_with_a_limit_on_travel_too() {
    let mut request = swinging(700.0);
    request.rules.pan_hard = Some(60.0);
    let size = (1687.5, 3000.0);
    let pin = |(index, left)| {
        let window = Window::inside(request.raster, (left, 0.0), size).unwrap();
        Pin { index, window }
    };
    request.pins = [(0, 0.0), (5, 2000.0)].map(pin).into();
    let request = limited(&request, 1.1);
    assert_eq!(follow_within(&request, &[]).unwrap(), None);
    let Outcome::NoPath { conflict } = plan(&request).unwrap() else { panic!("there is none") };
    assert!(conflict.contains(&HardLimit::Pin { index: 5 }), "{conflict:?}");
}

/// It goes from column 300 to 2300 and on to 2700: moves that place it well go to its middle each time.
#[test]
fn moves_are_planned_by_the_same_rule() {
    let lefts = (0..300).map(|frame| match frame {
        0..80 => 300.0,
        80..130 => 300.0 + 40.0 * f64::from(frame - 80),
        _ => 2300.0,
    });
    let request = request(lefts);
    let free = planned(&request);
    assert_eq!((free.way, free.assessment.verdict), (Way::Moves, Verdict::Fits));
    let kept = planned(&limited(&request, 1.1));
    let travel = kept.travel.unwrap();
    assert_eq!((kept.way, kept.assessment.verdict), (Way::Moves, Verdict::Fits));
    assert!(travel.factor < 1.0 && travel.px <= 1.1 * travel.least_px, "{travel:?}");
    assert!(travel_px(&request, &free.windows) > 1.1 * travel.least_px);
    let weights = kept.weights(&RULES);
    assert_eq!(weights.place, travel.factor * RULES.moves.place);
    assert_eq!(weights.containment, RULES.weights.containment);
}

/// Plans that keep less are none, however little they travel.
#[test]
fn no_verdict_is_worse_for_a_limit_on_travel() {
    let request = limited(&swinging(1500.0), 1.1);
    let limit = TravelLimit::of(&request, &[]).unwrap().unwrap();
    let reason = Reason::HoldIsEnough;
    let given = planned_follow(&request, (&[], reason)).unwrap().unwrap();
    let still = vec![given.windows[0]; given.windows.len()];
    let worse = Planned::new(&request, Way::Hold, still, reason, &[]);
    assert!(worse.assessment.verdict > given.assessment.verdict);
    let kept = limit.kept(&request, given.clone(), |_| Ok(Some(worse.clone()))).unwrap();
    assert_eq!(kept.windows, given.windows);
    let travel = kept.travel.unwrap();
    assert_eq!((travel.beyond, travel.factor), (Some(Beyond::KeepsMore), 1.0));
}

/// A search that found nothing, or was broken off before it found what is as good, says nothing of what there is; nor does what
/// is as good and travels as far.
#[test]
fn what_was_not_found_is_not_said_to_keep_less() {
    let request = limited(&swinging(1500.0), 1.1);
    let limit = TravelLimit::of(&request, &[]).unwrap().unwrap();
    let given = planned_follow(&request, (&[], Reason::HoldIsEnough)).unwrap().unwrap();
    let given = Planned { way: Way::Moves, may_cost_more: None, ..given };
    let still = vec![given.windows[0]; given.windows.len()];
    let worse = Planned::new(&request, Way::Moves, still, Reason::HoldIsEnough, &[]);
    let broken_off = Planned { may_cost_more: Some(0.1), ..worse.clone() };
    for (again, beyond) in [
        (Some(worse), Beyond::KeepsMore),
        (None, Beyond::NotReached),
        (Some(broken_off), Beyond::NotReached),
        (Some(given.clone()), Beyond::NotReached),
    ] {
        let kept = limit.kept(&request, given.clone(), |_| Ok(again.clone())).unwrap();
        let travel = kept.travel.unwrap();
        assert_eq!((travel.beyond, travel.factor), (Some(beyond), 1.0));
        assert_eq!(travel.px, travel_px(&request, &given.windows));
        assert_eq!(Planned { travel: None, ..kept }, given);
    }
}

#[test]
fn a_search_for_moves_that_was_broken_off_is_not_made_again() {
    let request = limited(&swinging(1500.0), 1.1);
    let limit = TravelLimit::of(&request, &[]).unwrap().unwrap();
    let given = planned_follow(&request, (&[], Reason::HoldIsEnough)).unwrap().unwrap();
    let given = Planned { way: Way::Moves, may_cost_more: Some(0.1), ..given };
    let kept = limit.kept(&request, given, |_| panic!("it is not made again")).unwrap();
    assert!(kept.travels_too_far());
}

#[test]
fn costs_of_paths_that_were_planned_by_other_weights_are_compared_by_those_given() {
    let request = swinging(1500.0);
    let following = |request: &Request| planned_follow(request, (&[], Reason::HoldIsEnough));
    let limit = TravelLimit::of(&limited(&request, 1.1), &[]).unwrap().unwrap();
    let free = following(&request).unwrap().unwrap();
    let kept = limit.kept(&request, free.clone(), following).unwrap();
    assert!(kept.travel.unwrap().factor < 1.0, "{:?}", kept.travel);
    assert_eq!(free.cost_as_given(), free.objective.total());
    let given = Objective::of(&request, &kept.windows).total();
    assert!((kept.cost_as_given() - given).abs() < 1e-9 * given);
    assert!(kept.objective.total() < given - 1e-3 && free.objective.total() < given);
}
