//! Frames that are not evenly spaced in time.

use crate::{
    real_clips::vertical,
    refusals::{planned, refused},
};
use lookroom::{
    geometry::{Raster, Region, Window},
    keyframe::reduce,
    pan::{
        Cause, FrameWish, Objective, Pace, PanError, Remedy, Request, Verdict, follow, peak_speed,
        plan,
    },
};

const STALLING: [f64; 5] = [0.04, 0.004, 0.304, 0.036, 0.04];

/// When each frame starts, and the last one ends.
fn times(steps_secs: &[f64]) -> Vec<f64> {
    let ends = steps_secs.iter().scan(0.0, |end, step_secs| {
        *end += step_secs;
        Some(*end)
    });
    std::iter::once(0.0).chain(ends).collect()
}

fn over_and_over(steps_secs: &[f64], frame_count: usize) -> Vec<f64> {
    steps_secs.iter().copied().cycle().take(frame_count).collect()
}

/// A subject whose middle across is a function of time, in a 1440 x 1080 frame, in 9:16.
fn seen(steps_secs: &[f64], across: impl Fn(f64) -> f64) -> Request {
    let raster = Raster::new(1440, 1080).unwrap();
    let frames = times(steps_secs)[..steps_secs.len()]
        .iter()
        .map(|time| Region::new(across(*time) - 80.0, 400.0, 160.0, 200.0).unwrap())
        .map(FrameWish::for_box)
        .collect();
    let request = Request {
        raster,
        usable: Region::whole(raster),
        least_width: 300.0,
        pace: Pace::uneven(steps_secs.to_vec()),
        frames,
        ..vertical(&[], (1080, 1920))
    };
    Request { preferred_width: request.greatest_width(), ..request }
}

fn swinging(time: f64) -> f64 {
    720.0 + 450.0 * (0.7 * time).sin() + 25.0 * (4.1 * time).sin()
}

fn followed(request: &Request) -> Vec<Window> {
    follow(request, &[]).unwrap().expect("a path")
}

/// The largest distance between two paths' centres, at the frames of each that are named.
fn greatest_gap_px(pairs: impl Iterator<Item = (Window, Window)>) -> f64 {
    pairs.map(|(a, b)| (a.centre_x() - b.centre_x()).abs()).fold(0.0, f64::max)
}

#[test]
fn a_step_for_each_frame_that_is_the_same_is_an_even_pace() {
    let steps = vec![0.04; 200];
    let uneven = seen(&steps, swinging);
    let even = Request { pace: Pace::even(0.04), ..uneven.clone() };
    let (a, b) = (followed(&uneven), followed(&even));
    let gap_px = greatest_gap_px(a.iter().copied().zip(b.iter().copied()));
    assert!(gap_px < 1e-3, "{gap_px} px");
    let cost = |request, windows| Objective::of(request, windows).total();
    assert!((cost(&uneven, &a) - cost(&even, &b)).abs() < 1e-9);
    let rasters = (uneven.raster, Raster::new(1080, 1920).unwrap());
    let keys = |pace| reduce(&a, pace, &[], rasters, 0.5).keys;
    assert_eq!(keys(&uneven.pace), keys(&even.pace));
}

/// The same subject at 40 frames a second and in pairs of 33.3 and 16.7 ms: every second frame is of the same
/// time, and there the window is at the same place.
#[test]
fn a_two_to_one_alternation_gives_the_even_path_in_time() {
    for swing in [0.4, 0.7, 1.1] {
        let across = |time: f64| 720.0 + 430.0 * (swing * time).sin() + 20.0 * (3.3 * time).sin();
        let even = seen(&vec![0.025; 320], across);
        let pairs = seen(&over_and_over(&[1.0 / 30.0, 1.0 / 60.0], 320), across);
        let (a, b) = (followed(&even), followed(&pairs));
        let same_time = a.iter().copied().zip(b.iter().copied()).step_by(2);
        let gap_px = greatest_gap_px(same_time);
        let travel_px = greatest_gap_px(a.iter().copied().zip(std::iter::repeat(a[0])));
        let parts = [(&even, &a), (&pairs, &b)].map(|(r, w)| Objective::of(r, w));
        // A planner that took the steps for even would pay some hundred times as much here.
        let bends = parts.map(|part| part.acceleration);
        assert!((bends[0] - bends[1]).abs() < 0.05 * bends[0], "{bends:?}");
        let costs = parts.map(|part| part.total());
        let apart = (costs[0] - costs[1]).abs() / costs[0];
        eprintln!(
            "swing {swing}: {gap_px:.3} px of {travel_px:.0} px, cost {:.4} %",
            100.0 * apart
        );
        // The subject is seen at other times in between, so that the two problems are not quite one.
        assert!(gap_px < 0.01 * travel_px, "{gap_px} px of {travel_px} px");
        assert!(apart < 0.01, "{costs:?}");
    }
}

#[test]
fn gaps_of_4_and_304_ms_are_solved_and_the_pan_limit_holds_in_each() {
    for (frame_count, pan_hard) in [(500, None), (500, Some(4.0)), (60, Some(2.0))] {
        let steps = over_and_over(&STALLING, frame_count);
        let mut request = seen(&steps, swinging);
        request.rules.pan_hard = pan_hard;
        let windows = followed(&request);
        for (pair, step_secs) in windows.windows(2).zip(&steps) {
            let width = (pair[0].width() + pair[1].width()) / 2.0;
            let most = pan_hard.map_or(f64::INFINITY, |limit| width * step_secs / limit + 1e-4);
            assert!((pair[1].centre_x() - pair[0].centre_x()).abs() <= most);
        }
    }
}

#[test]
fn a_recording_in_bursts_is_solved() {
    // Two frames a hundredth of a millisecond apart, about the least that a 90 kHz clock can tell, and a pause.
    let bursts = over_and_over(&[0.033, 0.000_011, 0.000_011, 0.05, 0.9], 400);
    let windows = followed(&seen(&bursts, swinging));
    for (index, pair) in windows.windows(2).enumerate().filter(|(index, _)| index % 5 == 1) {
        let moved_px = (pair[1].centre_x() - pair[0].centre_x()).abs();
        assert!(moved_px < 1.0, "{moved_px} px in a hundredth of a millisecond at {index}");
    }
}

#[test]
fn the_peak_is_the_fastest_step_in_time_and_not_the_longest() {
    let raster = Raster::new(1440, 1080).unwrap();
    let window = |left: f64| Window::inside(raster, (left, 0.0), (540.0, 960.0)).unwrap();
    // 54 px in 0.2 s are half a width a second, 27 px in 0.01 s are five.
    let windows = [window(0.0), window(54.0), window(81.0), window(81.0)];
    let peak = peak_speed(&windows, &Pace::uneven(vec![0.2, 0.01, 0.04, 0.04]), &[]);
    assert_eq!(peak.index, 1);
    assert!((peak.widths_per_sec - 5.0).abs() < 1e-12, "{peak:?}");
}

#[test]
fn a_move_straight_in_time_is_two_keys_and_one_straight_in_frames_is_not() {
    let raster = Raster::new(4000, 3000).unwrap();
    let rasters = (raster, Raster::new(1080, 1920).unwrap());
    let window = |left: f64| Window::inside(raster, (left, 0.0), (1404.0, 2496.0)).unwrap();
    let steps = over_and_over(&STALLING, 60);
    let pace = Pace::uneven(steps.clone());
    let in_time: Vec<_> =
        times(&steps)[..60].iter().map(|time| window(100.0 + 300.0 * time)).collect();
    assert_eq!(reduce(&in_time, &pace, &[], rasters, 0.01).keys, [0, 59]);
    assert!(reduce(&in_time, &Pace::even(0.08), &[], rasters, 0.01).keys.len() > 20);
    let in_frames: Vec<_> = (0..60).map(|frame| window(100.0 + 20.0 * f64::from(frame))).collect();
    assert!(reduce(&in_frames, &pace, &[], rasters, 0.01).keys.len() > 20);
}

#[test]
fn a_path_longer_than_its_pace_has_a_key_on_every_frame() {
    let raster = Raster::new(4000, 3000).unwrap();
    let rasters = (raster, Raster::new(1080, 1920).unwrap());
    let held = vec![Window::inside(raster, (100.0, 0.0), (1404.0, 2496.0)).unwrap(); 5];
    let keys = |pace| reduce(&held, &pace, &[], rasters, 0.5).keys;
    assert_eq!(keys(Pace::uneven(Vec::new())), [0, 1, 2, 3, 4]);
}

/// It walks out of the picture over the right edge. The steps that are left are those of the frames left.
#[test]
fn the_frames_that_are_offered_of_an_uneven_run_give_the_verdict_that_is_promised() {
    let steps = over_and_over(&STALLING, 60);
    let mut request = seen(&steps, |time| 100.0 + 270.0 * time);
    request.rules.pan_hard = Some(2.0);
    // Not held for and let go: the refusal is what is asked about.
    request.rules.least_inside_secs = None;
    let refusal = refused(&request);
    let offered = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::FewerFrames { front, back, verdict } => Some((*front, *back, *verdict)),
        _ => None,
    });
    let (front, back, verdict) = offered.expect("fewer frames");
    assert!(back > 0, "{refusal:?}");
    let range = front..steps.len() - back;
    let fewer = Request {
        frames: request.frames[range.clone()].to_vec(),
        pace: Pace::uneven(steps[range.clone()].to_vec()),
        ..request.clone()
    };
    assert_eq!(request.pace.part(range), fewer.pace);
    assert_eq!(planned(&fewer).assessment.verdict, verdict);
}

#[test]
fn a_pan_that_is_too_fast_for_an_uneven_run_is_offered_as_fast_as_it_has_to_be() {
    let mut request = seen(&over_and_over(&STALLING, 50), |time| 100.0 + 290.0 * time);
    request.rules.pan_hard = Some(5.0);
    request.rules.least_inside_secs = None;
    let refusal = refused(&request);
    assert_eq!(refusal.cause, Cause::TooFast);
    let offered = refusal.remedies.iter().find_map(|remedy| match remedy {
        Remedy::FasterPan { secs_per_width, verdict, .. } => Some((*secs_per_width, *verdict)),
        _ => None,
    });
    let (secs_per_width, verdict) = offered.expect("a faster pan");
    request.rules.pan_hard = Some(secs_per_width);
    let planned = planned(&request);
    assert_eq!(planned.assessment.verdict, verdict);
    assert_ne!(verdict, Verdict::DoesNotFit);
    assert!(planned.peak.widths_per_sec <= 1.0 / secs_per_width + 1e-6, "{:?}", planned.peak);
}

#[test]
fn steps_that_no_timeline_can_take_are_named() {
    let request = seen(&[0.04; 10], swinging);
    let ask = |pace| plan(&Request { pace, ..request.clone() });
    for bad in [0.0, -0.04, f64::NAN, f64::INFINITY] {
        let mut steps = vec![0.04; 10];
        steps[7] = bad;
        let Err(PanError::Step { index, .. }) = ask(Pace::uneven(steps)) else { panic!("{bad}") };
        assert_eq!(index, 7);
        assert!(matches!(ask(Pace::even(bad)), Err(PanError::Step { index: 0, .. })), "{bad}");
    }
    let few = ask(Pace::uneven(vec![0.04; 9]));
    assert_eq!(few, Err(PanError::StepCount { steps: 9, frame_count: 10 }));
    assert_eq!(
        ask(Pace::uneven(vec![-1.0; 10])).unwrap_err().to_string(),
        "the step after frame 0 of the run is -1 s; expected above 0 s and finite"
    );
}
