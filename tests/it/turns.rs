//! At most one change of direction in two seconds, common practice without a source, unless the subject forces it: a path
//! that follows tells where it turns back sooner.

use crate::ride::{HEAD, Ride, clip};
use serde_json::Value;

/// One clip of 500 frames, 25 a second, with a box of this width at these left edges: what is printed, and the plan.
fn planned(limits: &str, width: u32, lefts: &[(u32, u32)]) -> (String, Value) {
    let head = HEAD.replacen("[[deliverable]]", &format!("[limits]\n{limits}\n[[deliverable]]"), 1);
    let marks: String = lefts
        .iter()
        .map(|(frame, left)| format!("ride,{frame},{left},800,{width},400\n"))
        .collect();
    let clip = clip("ride", "").replace("rate = 100", "rate = 25");
    let ride = Ride::new(&format!("{head}{clip}"), &marks);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let segment = &ride.report()["clips"][0]["entries"][0]["segments"][0];
    (text, segment["outcome"]["planned"].clone())
}

/// Right for 4 s, back for one second and right again: from frame 100 to frame 125.
const BACK_FOR_A_SECOND: [(u32, u32); 5] =
    [(0, 300), (100, 500), (125, 450), (325, 850), (499, 850)];

fn assert_turn(turns: &Value, is_forced: &Value) {
    let turns = turns.as_array().unwrap_or_else(|| panic!("no turns: {turns}"));
    assert_eq!(turns.len(), 1, "{turns:?}");
    let (frame, secs) = (turns[0]["frame"].as_u64().unwrap(), turns[0]["secs"].as_f64().unwrap());
    assert!(frame.abs_diff(125) <= 4 && (secs - 1.0).abs() < 0.3, "{turns:?}");
    assert_eq!((&turns[0]["axis"], &turns[0]["is_forced"]), (&"across".into(), is_forced));
}

/// A box of 1030 px leaves 2.75 of the 1032.75 px inside the margins of a window of 1147.5: it has to go along.
#[test]
fn where_the_subject_forces_it_that_is_told() {
    let (text, planned) = planned("", 1030, &BACK_FOR_A_SECOND);
    assert_eq!(planned["way"], "follow", "{text}");
    assert_turn(&planned["turns"], &true.into());
    let told = |text: &str| {
        text.contains("the window turns back after 1.") || text.contains("turns back after 0.")
    };
    assert!(
        told(&text) && text.contains("across (reversal_secs): the subject forces it"),
        "{text}"
    );
    // Half a second is far enough apart for who says so.
    let (text, planned) = self::planned("reversal_secs = 0.5", 1030, &BACK_FOR_A_SECOND);
    assert!(planned.get("turns").is_none() && !told(&text), "{text}");
}

/// A box of 200 px on a long way, wanted in the very middle at any price: a window that stood for the second had it too.
#[test]
fn where_it_does_not_that_is_told_too() {
    let lefts = [(0, 200), (100, 600), (125, 500), (425, 2300), (499, 2300)];
    let limits = "still_zone = 0.0\nleast_hold = 20.0\nweight_place = 1000.0";
    let (text, planned) = planned(limits, 200, &lefts);
    assert_eq!(planned["way"], "follow", "{text}");
    assert_turn(&planned["turns"], &false.into());
    assert!(
        text.contains(": a window that stood still there would keep the subject too"),
        "{text}"
    );
}

/// Eased moves keep the limit themselves.
#[test]
fn holds_and_eased_moves_have_no_such_turn() {
    for lefts in [&[(0, 1000), (499, 1300)][..], &[(0, 200), (100, 200), (300, 1500), (499, 1500)]]
    {
        let (text, planned) = planned("", 200, lefts);
        assert_ne!(planned["way"], "follow", "{text}");
        assert!(planned.get("turns").is_none(), "{text}");
    }
}
