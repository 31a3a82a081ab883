//! Clips whose speed is changed on the timeline: the trade study's ramp (T9), by hand and through the command.
//!
//! Its numbers are arithmetic: 100 source frames of a 100 frames/s clip are 1 s and 25 timeline frames at real
//! time; a ramp from 100 % to 25 % lasts 25 / 0.625 = 40 of them if the speed falls evenly in time, and
//! (25 / 0.75) ln 4 = 46.21 if it falls evenly with the source.

use crate::ride::{Ride, number};
use lookroom::{
    geometry::{Raster, Window},
    pan::{Pace, peak_speed},
    timecode::{FrameIndex, FrameRange, FrameRate, RampLaw, Retime, RetimeStretch, Speed},
};

fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected}");
}

fn stretch(first: u64, end: u64, speed: Speed) -> RetimeStretch {
    let frames = FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap();
    RetimeStretch { frames, speed }
}

/// T9: 0 to 200 at real time, a ramp to a quarter up to 300, a quarter up to 500.
fn t9(law: RampLaw) -> Retime {
    let ramp = Speed::Ramp { from: 1.0, to: 0.25, law };
    let stretches =
        [(0, 200, Speed::Constant(1.0)), (200, 300, ramp), (300, 500, Speed::Constant(0.25))];
    Retime::new(stretches.into_iter().map(|(a, b, speed)| stretch(a, b, speed)).collect()).unwrap()
}

/// Timeline frames of a 100 frames/s clip on a timeline of 25.
fn timeline_frames(retime: &Retime, from: u64, to: u64) -> f64 {
    let capture = FrameRate::new(100, 1).unwrap();
    let secs = retime.played(FrameIndex(from), FrameIndex(to)) * capture.frame_secs();
    secs * FrameRate::new(25, 1).unwrap().per_second()
}

/// T9 with its correction: 15.67 is for the ramp linear in source, 14.46 for the one linear in time.
#[test]
fn t9_ramps_of_both_laws() {
    let (source, timeline) = (t9(RampLaw::LinearInSource), t9(RampLaw::LinearInTimeline));
    close(timeline_frames(&timeline, 200, 300), 40.0, 1e-9);
    close(timeline_frames(&timeline, 0, 500), 290.0, 1e-9);
    close(timeline_frames(&timeline, 200, 250), 14.46, 0.005);
    close(timeline_frames(&source, 200, 300), 46.21, 0.005);
    close(timeline_frames(&source, 0, 500), 296.2, 0.05);
    close(timeline_frames(&source, 200, 250), 15.67, 0.005);
    // By hand: half-way the speed is 0.625, and (25 / 0.75) ln(1 / 0.625) = 15.667; in time it is
    // sqrt((1 + 0.0625) / 2) = 0.72887, and 12.5 / ((1 + 0.72887) / 2) = 14.460.
    close(timeline_frames(&source, 200, 250), 25.0 / 0.75 * (1.0 / 0.625_f64).ln(), 1e-9);
    close(timeline_frames(&timeline, 200, 250), 25.0 / 1.728_868_988, 1e-6);
}

/// T9: 612 px over source 300 to 500 in a window 1147.5 px wide, as fast as the retime has it.
#[test]
fn t9_the_same_pan_at_a_quarter_passes_and_at_real_time_does_not() {
    let raster = Raster::new(2720, 2040).unwrap();
    let window = |left: f64| Window::inside(raster, (left, 0.0), (1147.5, 2040.0)).unwrap();
    let path = |ease: fn(f64) -> f64| -> Vec<Window> {
        (0..=200).map(|step| window(100.0 + 612.0 * ease(f64::from(step) / 200.0))).collect()
    };
    let steps = |retime: Option<&Retime>| {
        let step = |frame: u64| {
            let frame = FrameIndex(frame);
            let next = FrameIndex(frame.0 + 1);
            0.01 * retime.map_or(1.0, |retime| retime.played(frame, next))
        };
        Pace::uneven((300..=500).map(step).collect())
    };
    let secs_per_width =
        |windows: &[Window], pace: &Pace| 1.0 / peak_speed(windows, pace, &[]).widths_per_sec;
    let (straight, eased) = (path(|u| u), path(|u| u * u * (3.0 - 2.0 * u)));
    for law in RampLaw::ALL {
        let slowed = steps(Some(&t9(law)));
        close(secs_per_width(&straight, &slowed), 15.0, 1e-9);
        // The peak of 3u² - 2u³ is 1.5 times the mean; between two of 200 frames a hair less.
        close(secs_per_width(&eased, &slowed), 10.0, 1e-3);
    }
    close(secs_per_width(&straight, &steps(None)), 3.75, 1e-9);
}

fn t9_keys(law: &str) -> String {
    format!(
        "retimes = [{{ from = 0, to = 200, speed = 1.0 }}, \
         {{ from = 200, to = 300, speed = [1.0, 0.25], law = \"{law}\" }}, \
         {{ from = 300, to = 500, speed = 0.25 }}]"
    )
}

/// Story 16: both clocks, both laws, and the pan limit held on the timeline.
#[test]
fn a_ramp_is_planned_on_the_timeline_and_declared_in_every_file() {
    for (law, total, into_ramp) in
        [("linear-in-source", 296.2098, 15.6668), ("linear-in-timeline", 290.0, 14.4603)]
    {
        let ride = Ride::walking(&t9_keys(law));
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{text}");
        let ramp = format!("frames 200 to 299 from 1 to 0.25 of real time, {law}: ");
        assert!(text.contains(&ramp), "{text}");
        assert!(text.contains(&format!("; {total:.2} together; beside them")), "{text}");

        let all = ride.rows("ride_vertical_every-frame.csv");
        assert_eq!(all.len(), 500);
        let at = |frame: usize, column: &str| number(&all[frame], column);
        close(at(250, "timeline_frame") - at(200, "timeline_frame"), into_ramp, 2e-4);
        close(at(499, "timeline_frame") + 1.0, total, 2e-4);
        for row in &all {
            close(number(row, "timeline_frame") / 25.0, number(row, "timeline_seconds"), 3e-6);
            close(number(row, "frame") / 100.0, number(row, "source_seconds"), 1e-6);
        }

        let clip = &ride.report()["clips"][0];
        let ramp = &clip["retimes"][1];
        assert_eq!(ramp["frames"], serde_json::json!([200, 300]));
        assert_eq!(ramp["speed"], serde_json::json!([1.0, 0.25]));
        assert_eq!(ramp["law"], law);
        let lasts: f64 =
            (0..3).map(|n| clip["retimes"][n]["timeline_frames"].as_f64().unwrap()).sum();
        close(lasts, total, 1e-4);
        assert!(clip["timeline_step_secs"].is_null());

        let conventions = ride.read("ride_vertical_conventions.txt");
        assert!(
            conventions.contains(&format!("[200, 300) from 1 to 0.25, {law}, ")),
            "{conventions}"
        );
        assert!(
            conventions.contains(&format!("{law}: the speed changes by the same amount with each"))
        );
        assert!(conventions.contains("straight lines in timeline time"), "{conventions}");

        let peak = &clip["entries"][0]["segments"][0]["outcome"]["planned"]["peak"];
        let secs_per_width = peak["secs_per_width"].as_f64().unwrap();
        // At an even speed it takes 8 s x 1147.5 / 612 = 15.0 s for one width; it starts and stops softly within that.
        assert!((14.5..15.1).contains(&secs_per_width), "{secs_per_width}");
        assert!(peak["frame"].as_u64().unwrap() >= 290);
    }
}

#[test]
fn the_same_pan_at_real_time_is_refused_by_the_hard_limit() {
    let (text, status) = Ride::walking("").plan();
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("move faster than the hard pan limit allows"), "{text}");
    assert!(!text.contains("retimed"), "{text}");
}

#[test]
fn a_ramp_without_a_law_ends_the_plan_with_both_lengths() {
    let ride = Ride::walking("retimes = [{ from = 200, to = 300, speed = [1.0, 0.25] }]");
    let (text, status) = ride.plan();
    assert_eq!(status, Some(1), "{text}");
    for length in ["\"linear-in-source\" makes it 46.21", "\"linear-in-timeline\" 40.00"] {
        assert!(text.contains(length), "{text}");
    }
}
