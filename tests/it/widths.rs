//! The greatest width of a window: a limit of the user, kept by every way to move, and told where it contradicts another.
//! Every number is worked out by hand.

use crate::{
    recomputed::{going, recomputed, swinging},
    ride::{HEAD, Ride, clip_of, number},
};
use serde_json::Value;

/// A window of full height is 1687.5 px of 4000 wide.
const FULL: f64 = 1687.5;

fn ride(limits: &str, marks: &str) -> Ride {
    let clip = clip_of("bow", ("4000x3000", 25), "ranges = [{ from = 0, to = 500 }]");
    let head = "clip,frame,left,top,width,height,kind,name\n";
    Ride::new(&format!("{HEAD}[limits]\n{limits}\n{clip}"), &format!("{head}{marks}"))
}

fn face(width: u32) -> String {
    let row = |frame: u32| format!("bow,{frame},1800,1200,{width},300,,face\n");
    row(0) + &row(499)
}

fn outcome(ride: &Ride) -> Value {
    ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"].clone()
}

fn widths(ride: &Ride) -> Vec<f64> {
    ride.rows("bow_vertical_every-frame.csv").iter().map(|row| number(row, "width_px")).collect()
}

#[test]
fn no_window_is_wider_however_it_moves() {
    // 0.6 of it is 1012.5 px; a held window is rounded to even px.
    let still = ride("greatest_width = 0.6", &face(300));
    let (text, status) = still.plan();
    assert_eq!(status, Some(0), "{text}");
    assert_eq!(outcome(&still)["planned"]["way"], "hold", "{text}");
    let held = widths(&still);
    assert!(held.iter().all(|width| *width <= 0.6 * FULL + 1e-6 && *width > 1000.0), "{held:?}");

    let over = going("bow", &[(0, 500), (150, 500), (300, 1500), (499, 1500)]);
    // With its margins the subject has 459 px of room, so that the window swings 470 px each way at least, at up to 197 px a
    // second; an eased move peaks at half as much again, and one width in 3.6 s are 234.
    for (way, pan_hard, marks) in [("follow", 3.6, swinging("bow")), ("moves", 2.0, over)] {
        let marks = marks.replace(",subject,rider", ",,face");
        let limits = format!("greatest_width = 0.5\npan_hard = {pan_hard}\npan_caution = 5\n");
        let moving = ride(&limits, &marks);
        let (text, status) = moving.plan();
        assert_eq!(status, Some(0), "{text}");
        let planned = &outcome(&moving)["planned"];
        assert_eq!(planned["way"], way, "{text}");
        let found = widths(&moving);
        assert!(found.iter().all(|width| *width <= 0.5 * FULL + 1e-6), "{way}: {found:?}");
        if let Some((agrees, told)) = recomputed(&moving.out()) {
            assert!(agrees, "{way}: {told}");
        }
    }
}

/// With margins of 5 % on both sides, 1000 px need 1111.2 px of width; 0.6 of the full one are 1012.5.
#[test]
fn a_subject_that_needs_more_is_refused_with_the_width_that_keeps_it() {
    let narrow = ride("greatest_width = 0.6", &face(1000));
    let (text, status) = narrow.plan();
    assert_eq!(status, Some(3), "{text}");
    // 1111.2 of 1687.5 are 0.6585; a still window may lack a fiftieth of its width and fit, which 1089.3 px do: 0.6456.
    let share = text.split("(greatest_width ").nth(1).and_then(|rest| rest.split(')').next());
    let share: f64 = share.and_then(|share| share.parse().ok()).expect("a width is offered");
    assert!((0.62..=0.66).contains(&share), "{share}: {text}");
    let (text, status) = ride(&format!("greatest_width = {share}"), &face(1000)).plan();
    assert_eq!(status, Some(0), "what is offered lets it through: {text}");
    let less = format!("greatest_width = {}", share - 0.002);
    assert_eq!(ride(&less, &face(1000)).plan().1, Some(3), "less does not");
}

#[test]
fn a_pin_that_is_wider_contradicts_it() {
    let pinned = ride("greatest_width = 0.6", &face(300)).pinned("bow,vertical,10,1000,0,1687.5\n");
    let (text, status) = pinned.plan();
    assert_eq!(status, Some(3), "{text}");
    let says = "no path: the greatest width of 1012.5 px (greatest_width) and the window pinned at frame 10 (line 2 of the \
                pins file, 1687.5 px wide at 1000,0) cannot all be kept";
    assert!(text.contains(says), "{text}");
    assert!(
        text.contains("leave out the pin at frame 10 (line 2 of the pins file): it then fits"),
        "{text}"
    );
    assert!(
        text.contains("allow windows up to 1687.5 px wide (greatest_width 1): it then fits"),
        "{text}"
    );
}

/// 1080 px at enlargement 0.64 are 1687.5 px of width, and 0.5 of the largest are 843.75; the enlargement that is offered
/// is reckoned from a width that was tried, in tenths.
#[test]
fn it_contradicts_the_least_width_by_what_is_missing() {
    let (text, status) =
        ride("greatest_width = 0.5\ngreatest_enlargement = 0.64", &face(300)).plan();
    assert_eq!(status, Some(3), "{text}");
    let says = "no path: the greatest enlargement 0.64 (a window 1687.5 px wide at least) and the greatest width of 843.8 px \
                (greatest_width) cannot all be kept: 843.8 px of width, 1500.1 px of height missing";
    assert!(text.contains(says), "{text}");
}
