//! T4 and stories 14 and 15 of the trade study: hold or follow, and a subject that is let go. A boat of 350 px abeam at 20 m
//! and 5 m/s, through a lens of 2000 px: 5 / 20 x 2000 = 500 px/s, in a 4000 x 3000 capture.

use crate::{
    recomputed::recomputed,
    ride::{Ride, clip_of},
};
use lookroom::{
    delivery::Limits,
    geometry::{Raster, Region, Rounding, Shape, Window},
    pan::{
        FrameWish, Outcome, Pace, Pin, Planned, Reason, Request, Rules, Verdict, Way,
        crossing_secs, plan,
    },
    plan::why_words,
    tasks::pan_rules,
    timecode::{FrameIndex, FrameRange},
};

/// Its middle is at `first_x` on the first frame.
fn boat(frames: u32, px_a_frame: f64, first_x: f64, step_secs: f64) -> Request {
    let boxes = (0..frames).map(|frame| {
        let middle = first_x + px_a_frame * f64::from(frame);
        FrameWish::for_box(Region::new(middle - 175.0, 1400.0, 350.0, 200.0).unwrap())
    });
    let request = Request::plain(
        (Raster::new(4000, 3000).unwrap(), Shape::new(9, 16).unwrap()),
        Pace::even(step_secs),
        boxes.collect(),
        pan_rules(&Limits::default()),
    );
    Request { rounding: Rounding::Exact, margins: (0.05, 0.05), least_width: 540.0, ..request }
}

fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} within {tolerance}"
    );
}

fn with_rules(request: &Request, change: impl Fn(&mut Rules)) -> Request {
    let mut request = request.clone();
    change(&mut request.rules);
    request
}

fn planned(request: &Request) -> Planned {
    match plan(request).unwrap() {
        Outcome::Planned(planned) => planned,
        other => panic!("not planned: {other:?}"),
    }
}

/// At 80 frames a second every moment of the trade's sum is a frame; it crosses the whole picture in 8 s.
/// The window is that of the sum, pinned by hand.
#[test]
fn t4_entry_and_exit() {
    let mut request = boat(641, 6.25, 0.0, 1.0 / 80.0);
    let window = Window::inside(request.raster, (1156.25, 0.0), (1687.5, 3000.0)).unwrap();
    request.pins = vec![Pin { index: 0, window }];
    let planned = planned(&request);
    assert_eq!(planned.windows[640], window);
    let [visit] = planned.visits[..] else { panic!("{:?}", planned.visits) };
    // 1.9625 s is frame 157, on which its nose touches the edge: the first frame with any of it is the next.
    assert_eq!(visit.nose_in, Some(158));
    // By hand: (1156.25 + 175) / 500 = 2.6625 s and (2843.75 - 175) / 500 = 5.3375 s.
    assert_eq!(visit.inside, (213, 427));
    // 2.3125 s and 5.6875 s.
    assert_eq!(visit.middle_inside, (185, 455));
    // 6.0375 s.
    assert_eq!(visit.tail_out, Some(483));
    close(visit.inside_secs, 215.0 / 80.0, 1e-9);
}

#[test]
fn t4_at_real_time_it_is_held_for_and_let_go() {
    let planned = planned(&boat(641, 6.25, 0.0, 1.0 / 80.0));
    assert_eq!((planned.way, planned.assessment.verdict), (Way::Hold, Verdict::Leaves));
    let Reason::TooFastToFollow { secs_per_width, limit_secs } = planned.reason else {
        panic!("{:?}", planned.reason)
    };
    close(secs_per_width, 3.375, 1e-9);
    assert_eq!(limit_secs, 5.0);
    // Story 14 in words: 3.375 is printed with the two decimals that it deserves.
    let used = FrameRange::new(FrameIndex(0), FrameIndex(641)).unwrap();
    assert_eq!(
        why_words(&planned.reason, used),
        "hold and let it leave: following would need one width in 3.38 s, the limit is 5 s"
    );
    let window = planned.windows[0];
    // The best is flat over a few px: its sum goes by whole frames.
    close(window.left(), 1156.25, 1.0);
    close(window.width(), 1687.5, 1e-9);
    let [visit] = planned.visits[..] else { panic!("{:?}", planned.visits) };
    assert_eq!(visit.nose_in, Some(158));
    assert!(visit.inside.0.abs_diff(213) <= 1 && visit.inside.1.abs_diff(427) <= 1);
}

/// Story 15: 50 frames a second, each played once on a timeline of 25. The same boat may be followed, and only with
/// caution.
#[test]
fn t4_in_slow_motion_it_is_followed_with_caution() {
    let real = boat(401, 10.0, 0.0, 1.0 / 50.0);
    assert!(matches!(planned(&real).reason, Reason::TooFastToFollow { .. }));
    let slow = Request { pace: Pace::even(1.0 / 25.0), ..real };
    close(crossing_secs(&slow, 1687.5).unwrap(), 6.75, 1e-9);
    let followed = planned(&slow);
    assert_eq!(followed.assessment.verdict, Verdict::Leaves);
    assert_ne!(followed.way, Way::Hold);
    let secs = followed.peak.secs_per_width().unwrap();
    let limits = (slow.rules.pan_hard.unwrap(), slow.rules.pan_caution.unwrap());
    assert_eq!(limits, (5.0, 7.0));
    assert!((5.0..7.0).contains(&secs), "{secs}");
    // It is seen whole wherever the picture has it whole and its margin, but for a few frames.
    let [visit] = followed.visits[..] else { panic!("{:?}", followed.visits) };
    assert_eq!((visit.nose_in, visit.tail_out), (None, None));
    assert_eq!(visit.inside, (18, 382));
}

/// Where the picture has it whole from the first frame to the last, there is nothing to let go.
#[test]
fn a_boat_that_stays_in_the_picture_is_followed_to_its_end() {
    let slow = planned(&boat(301, 10.0, 500.0, 1.0 / 25.0));
    assert_eq!(slow.assessment.verdict, Verdict::Fits);
    assert_ne!(slow.way, Way::Hold);
    assert!(slow.peak.secs_per_width().unwrap() >= 5.0);
    assert!(slow.visits.is_empty());
}

#[test]
fn who_is_not_inside_for_long_enough_or_may_not_be_let_go_is_refused() {
    let crossing = boat(201, 20.0, 0.0, 1.0 / 25.0);
    // It is wholly inside for 2.68 s.
    for (least_secs, is_let_go) in [(Some(2.6), true), (Some(2.7), false), (None, false)] {
        let request = with_rules(&crossing, |rules| rules.least_inside_secs = least_secs);
        let outcome = plan(&request).unwrap();
        assert_eq!(matches!(outcome, Outcome::Planned(_)), is_let_go, "{least_secs:?}");
    }
    let Outcome::DoesNotFit(refusal) =
        plan(&with_rules(&crossing, |rules| rules.least_inside_secs = None)).unwrap()
    else {
        panic!("planned")
    };
    // Wholly inside for 2.68 of the seconds for which it is seen at all: that is no nine tenths.
    assert!(refusal.share_inside > 0.1 && refusal.share_inside < 0.9, "{}", refusal.share_inside);
}

/// A boat that comes in, stays where it is and leaves again is held for where it stays.
#[test]
fn who_comes_stays_and_leaves_is_held_for_where_it_stays() {
    let middle = |frame: u32| match frame {
        0..100 => -400.0 + 20.0 * f64::from(frame),
        100..250 => 1600.0,
        _ => 1600.0 - 20.0 * f64::from(frame - 250),
    };
    let mut request = boat(351, 0.0, 0.0, 1.0 / 25.0);
    request.frames = (0..351)
        .map(|frame| {
            let left = middle(frame) - 175.0;
            FrameWish::for_box(Region::new(left, 1400.0, 350.0, 200.0).unwrap())
        })
        .collect();
    let planned = planned(&request);
    assert_eq!((planned.way, planned.assessment.verdict), (Way::Hold, Verdict::Leaves));
    let Reason::LeavesThePicture { index } = planned.reason else { panic!("{:?}", planned.reason) };
    assert_eq!(index, 0);
    let [visit] = planned.visits[..] else { panic!("{:?}", planned.visits) };
    assert!(visit.inside.0 <= 100 && visit.inside.1 >= 250, "{visit:?}");
}

/// Without a limit on travel it is inside for 38 frames of a twenty-fifth of a second, 1.52 s of the 1.5 s that are asked for;
/// a window that travels less has it inside for less long.
#[test]
fn a_limit_on_travel_refuses_nobody_who_is_let_go_without_it() {
    let shoot = |limits: &str| {
        let limits = format!(
            "[limits]\nmargin_across = 0.15\nmargin_down = 0\npan_hard = \"off\"\npan_caution = \"off\"\n\
             least_inside = 1.5\nleast_hold = 0.2\n{limits}\n"
        );
        let deliverable = "[[deliverable]]\nname = \"vertical\"\nraster = \"1080x1920\"\n\
            [deliverable.limits]\ngreatest_enlargement = 0.9\n";
        let clip = clip_of("ride", ("4000x3000", 25), "ranges = [{ from = 0, to = 300 }]");
        format!(
            "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\n{limits}{deliverable}{clip}"
        )
    };
    let marks = "clip,frame,left,top,width,height,kind,name\nride,10,-174,1200,200,500,subject,a\n\
        ride,18,580,1200,200,500,subject,a\nride,26,1248,1200,200,500,subject,a\n\
        ride,34,2427,1200,200,500,subject,a\nride,42,3081,1200,200,500,subject,a\n\
        ride,51,3949,1200,200,500,subject,a\nride,54,,,,,gone,a\n";
    let planned = |limits: &str| {
        let ride = Ride::new(&shoot(limits), marks);
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{text}");
        let segment = &ride.report()["clips"][0]["entries"][0]["segments"][0];
        (ride, segment["outcome"]["planned"].clone())
    };
    let ((_, free), (ride, limited)) = (planned(""), planned("greatest_travel = 1.01"));
    assert_eq!((&free["verdict"], &free["way"]), (&"leaves".into(), &"moves".into()));
    assert!((free["visits"][0]["inside_secs"].as_f64().unwrap() - 1.52).abs() < 1e-9, "{free}");
    for told in ["verdict", "way", "visits", "objective", "moves"] {
        assert_eq!(limited[told], free[told], "{told}");
    }
    let travel = &limited["travel"];
    let px = |key: &str| travel[key].as_f64().unwrap();
    assert!(px("px") > 1.01 * px("least_px"), "{travel}");
    assert_eq!((px("factor"), &travel["beyond"]), (1.0, &"keeps-more".into()));
    let report = ride.read("report.txt");
    assert!(report.contains("since what travels less keeps less of the subject"), "{report}");
    let Some((agrees, text)) = recomputed(&ride.out()) else { return };
    assert!(agrees, "{text}");
}
