//! Refusals and their remedies: what is promised holds when it is done.

use crate::real_clips::vertical;
use lookroom::{
    geometry::{Raster, Region, Rounding, Shape, SourcePoint, Window},
    pan::{
        Axis, Cause, FrameWish, HardLimit, Insets, KeepOut, Objective, Outcome, Pace, Pin, Place,
        PlacedPoint, Planned, Refusal, Remedy, Request, Verdict, Way, follow, plan,
    },
};

/// T6 of the trade study: a facing paddler in a 4000 x 3000 capture, helmet top at row 300, hands down to row
/// 1900, in 9:16 with the top 12 % and the bottom 20 % covered.
fn facing_paddler() -> Request {
    let raster = Raster::new(4000, 3000).unwrap();
    let paddler = Region::new(1700.0, 300.0, 600.0, 1600.0).unwrap();
    let mut wish = FrameWish::for_box(paddler);
    wish.point = wish.point.map(|point| {
        let place = Place { across: 0.5, down: 0.46 };
        PlacedPoint { place, ..point }
    });
    let request = Request {
        raster,
        usable: Region::whole(raster),
        least_width: 1080.0 / 2.0,
        rounding: Rounding::EvenExactShape,
        pace: Pace::even(0.04),
        blocked: Insets { top: 0.12, bottom: 0.20, ..Insets::default() },
        frames: vec![wish; 50],
        ..vertical(&[], (1080, 1920))
    };
    Request { preferred_width: request.greatest_width(), ..request }
}

/// A box that walks from left to right in a 1440 x 1080 frame, so many px a frame.
fn walker(step_px: f64, frame_count: u32) -> Request {
    let raster = Raster::new(1440, 1080).unwrap();
    let frames = (0..frame_count)
        .map(|frame| {
            let region =
                Region::new(20.0 + step_px * f64::from(frame), 400.0, 160.0, 200.0).unwrap();
            FrameWish::for_box(region)
        })
        .collect();
    let request = Request {
        raster,
        usable: Region::whole(raster),
        least_width: 200.0,
        pace: Pace::even(0.04),
        frames,
        ..vertical(&[], (1080, 1920))
    };
    Request { preferred_width: request.greatest_width(), ..request }
}

pub(crate) fn planned(request: &Request) -> Planned {
    match plan(request).unwrap() {
        Outcome::Planned(planned) => planned,
        other => panic!("not planned: {other:?}"),
    }
}

pub(crate) fn refused(request: &Request) -> Refusal {
    match plan(request).unwrap() {
        Outcome::DoesNotFit(refusal) => refusal,
        other => panic!("not refused: {other:?}"),
    }
}

#[test]
fn the_planner_finds_the_trades_answer_to_a_covered_top() {
    let planned = planned(&facing_paddler());
    assert_eq!((planned.way, planned.assessment.verdict), (Way::Hold, Verdict::Fits));
    let window = planned.windows[0];
    assert_eq!((window.width(), window.height()), (1404.0, 2496.0));
    assert_eq!((window.left(), window.top()), (1298.0, 0.0));
}

#[test]
fn with_the_deck_kept_out_the_planner_stays_above_it() {
    let deck = Region::new(0.0, 2400.0, 4000.0, 600.0).unwrap();
    let keep_outs = vec![KeepOut { regions: vec![Some(deck); 50] }];
    let planned = planned(&Request { keep_outs, ..facing_paddler() });
    let window = planned.windows[0];
    // 1350 x 2400 before rounding, and 1350 is a multiple of 18 already.
    assert_eq!((window.width(), window.height(), window.top()), (1350.0, 2400.0, 0.0));
    assert_eq!(planned.assessment.verdict, Verdict::Fits);
}

#[test]
fn a_subject_too_near_to_the_edge_fits_once_it_is_moved_as_the_remedy_says() {
    // No softer than full height: the helmet is covered by 60 px, as the trade study has it.
    let request = Request { least_width: 1687.5, rounding: Rounding::Exact, ..facing_paddler() };
    let refusal = refused(&request);
    let Cause::AtEdge { axis: Axis::Down, shift_px, .. } = refusal.cause else {
        panic!("{:?}", refusal.cause)
    };
    assert!((shift_px - 60.0).abs() < 1e-6, "{shift_px}");
    assert_eq!((refusal.first.index, refusal.first.missing_px.round()), (0, 60.0));
    let mut moved = request;
    for wish in &mut moved.frames {
        let region = wish.boxes[0].region;
        wish.boxes[0].region =
            Region::new(region.left(), region.top() + shift_px, region.width(), region.height())
                .unwrap();
    }
    assert_eq!(planned(&moved).assessment.verdict, Verdict::Fits);
}

#[test]
fn the_smaller_margin_that_is_offered_gives_the_verdict_that_is_promised() {
    let mut request = walker(0.0, 30);
    request.margins = (0.45, 0.05);
    let refusal = refused(&request);
    let offered = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::SmallerMargin { across, down, verdict } => Some((*across, *down, *verdict)),
        _ => None,
    });
    let (across, down, verdict) = offered.expect("a smaller margin");
    assert!(across < 0.45 && across > 0.0);
    request.margins = (across, down);
    assert_eq!(planned(&request).assessment.verdict, verdict);
}

#[test]
fn a_pan_that_is_too_fast_is_refused_and_the_pan_that_is_offered_lets_it_through() {
    let mut request = walker(12.0, 100);
    request.rules.pan_hard = Some(5.0);
    request.rules.least_inside_secs = None;
    let refusal = refused(&request);
    assert_eq!(refusal.cause, Cause::TooFast);
    let offered = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::FasterPan { secs_per_width, verdict, .. } => Some((*secs_per_width, *verdict)),
        _ => None,
    });
    let (secs_per_width, verdict) = offered.expect("a faster pan");
    assert!(secs_per_width < 5.0);
    request.rules.pan_hard = Some(secs_per_width);
    assert_eq!(planned(&request).assessment.verdict, verdict);
}

#[test]
fn the_frames_that_are_offered_give_the_verdict_that_is_promised() {
    // It walks out of the picture over the right edge.
    let mut request = walker(14.0, 110);
    request.rules.least_inside_secs = None;
    let refusal = refused(&request);
    let offered = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::FewerFrames { front, back, verdict } => Some((*front, *back, *verdict)),
        _ => None,
    });
    let (front, back, verdict) = offered.expect("fewer frames");
    assert!(front == 0 && back > 0);
    let frames = request.frames[..request.frames.len() - back].to_vec();
    assert_eq!(planned(&Request { frames, ..request }).assessment.verdict, verdict);
}

#[test]
fn a_subject_too_large_fits_once_it_is_as_small_as_the_remedy_says() {
    // In the middle of the frame, where nothing but its size counts.
    let centred = |factor: f64| {
        let (width, height) = (160.0 * factor, 200.0 * factor);
        let region = Region::new(720.0 - width / 2.0, 540.0 - height / 2.0, width, height).unwrap();
        vec![FrameWish::for_box(region); 30]
    };
    let request = Request {
        margins: (0.40, 0.05),
        rounding: Rounding::Exact,
        frames: centred(1.0),
        ..walker(0.0, 1)
    };
    let refusal = refused(&request);
    let Cause::TooLarge { axis: Axis::Across, needed_px, available_px, .. } = refusal.cause else {
        panic!("{:?}", refusal.cause)
    };
    // 160 px and 40 % of a 607.5 px wide window on both sides.
    assert!((needed_px - 646.0).abs() < 1e-9 && (available_px - 607.5).abs() < 1e-9);
    assert!((refusal.worst.missing_px - 38.5).abs() < 1e-6, "{:?}", refusal.worst);
    let factor = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::SmallerSubject { factor } => Some(*factor),
        _ => None,
    });
    let factor = factor.expect("a smaller subject");
    assert!((factor - 121.5 / 160.0).abs() < 1e-9);
    let smaller = Request { frames: centred(factor - 1e-9), ..request };
    assert_eq!(planned(&smaller).assessment.verdict, Verdict::Fits);
}

#[test]
fn a_shape_that_is_too_soft_says_how_wide_the_largest_window_is() {
    let request = Request { least_width: 1920.0, ..walker(1.0, 10) };
    let refusal = refused(&request);
    assert_eq!(refusal.cause, Cause::TooSoft { least_width_px: 1920.0, greatest_width_px: 607.5 });
    assert_eq!(refusal.remedies, [Remedy::AcceptWidth { width_px: 607.5 }]);
}

#[test]
fn pins_that_no_allowed_pan_can_join_are_named_with_the_limit_they_break() {
    let mut request = walker(1.0, 20);
    let window = |left: f64| {
        Window::about(request.raster, request.shape, (left + 303.75, 540.0), 607.5).unwrap()
    };
    request.pins =
        vec![Pin { index: 0, window: window(0.0) }, Pin { index: 10, window: window(500.0) }];
    request.rules.pan_hard = Some(5.0);
    let Outcome::NoPath { conflict } = plan(&request).unwrap() else { panic!("a path") };
    assert_eq!(
        conflict,
        [HardLimit::PanLimit, HardLimit::Pin { index: 0 }, HardLimit::Pin { index: 10 }]
    );
    request.rules.pan_hard = None;
    assert_eq!(plan(&request).map(|outcome| matches!(outcome, Outcome::NoPath { .. })), Ok(false));
}

#[test]
fn one_frame_is_a_run_and_none_is_not() {
    let mut request = walker(1.0, 1);
    assert_eq!(planned(&request).windows.len(), 1);
    request.frames.clear();
    assert!(plan(&request).is_err());
}

#[test]
fn a_mirrored_subject_gets_the_mirrored_path() {
    let request = walker(8.0, 90);
    let mut mirrored = request.clone();
    for wish in &mut mirrored.frames {
        let region = wish.boxes[0].region;
        let left = 1440.0 - region.right();
        wish.boxes[0].region =
            Region::new(left, region.top(), region.width(), region.height()).unwrap();
        wish.point = wish.point.map(|point| {
            let at = SourcePoint { x: 1440.0 - point.at.x, ..point.at };
            PlacedPoint { at, ..point }
        });
    }
    let path = |request| follow(request, &[]).unwrap().expect("a path");
    for (window, twin) in path(&request).iter().zip(&path(&mirrored)) {
        // The optimum is flat here and there; a tenth of a px is far below the bound of the keys.
        assert!((window.left() - (1440.0 - twin.right())).abs() < 0.1, "{window:?} {twin:?}");
    }
}

#[test]
fn the_frame_rate_does_not_change_what_a_path_costs_by_much() {
    // The same walk over the same seconds at 25 and at 50 frames a second.
    let slow = walker(8.0, 90);
    let fast = Request { pace: Pace::even(0.02), ..walker(4.0, 179) };
    let path = |request| follow(request, &[]).unwrap().expect("a path");
    let (slow_path, fast_path) = (path(&slow), path(&fast));
    let a = Objective::of(&slow, &slow_path).total();
    let b = Objective::of(&fast, &fast_path).total();
    assert!((a - b).abs() < 0.05 * a, "{a} against {b}");
    let shape = Shape::new(9, 16).unwrap();
    assert!(fast_path.iter().all(|w| shape.error_of(w.width(), w.height()).abs() < 1e-9));
}
