//! Limits that contradict each other, from the shoot file to the report: the fewest that do, each with its value and where
//! it is, what is missing, and what then really lets a path through. Every number is worked out by hand.

use crate::ride::{HEAD, Ride, clip_of};
use serde_json::Value;

const MARKS: &str = "clip,frame,left,top,width,height,kind,name\n\
    bow,0,2100,1200,100,300,,face\nbow,499,2100,1200,100,300,,face\n";

/// Pins at columns 1000 and 1500 of full height, 1687.5 px wide, ten frames apart.
const PINS: &str = "bow,vertical,0,1000,0,1687.5\nbow,vertical,10,1500,0,1687.5\n";

fn ride(limits: &str, marks: &str, clauses: &str) -> Ride {
    let keys = "ranges = [{ from = 0, to = 40 }]";
    let clip = clip_of("bow", ("4000x3000", 25), keys);
    Ride::new(&format!("{HEAD}{limits}{clip}{clauses}"), &format!("{MARKS}{marks}"))
}

fn no_path(ride: &Ride) -> (Value, String) {
    let (text, status) = ride.plan();
    assert_eq!(status, Some(3), "{text}");
    let outcome = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"];
    (outcome["no-path"]["conflict"].clone(), text)
}

fn remedy<'c>(conflict: &'c Value, name: &str) -> &'c Value {
    let remedies = conflict["remedies"].as_array().unwrap();
    let found = remedies.iter().find(|remedy| remedy["remedy"] == name);
    found.unwrap_or_else(|| panic!("no {name} in {remedies:?}"))
}

/// Ten steps of 0.04 s at one width in 5 s are 0.08 widths, 135 px of the 500: 365 px are missing. At an even speed, 500 px
/// in 0.4 s are one width in 0.4 x 1687.5 / 500 = 1.35 s.
#[test]
fn two_pins_and_the_pan_limit_are_named_with_their_lines_and_the_pan_that_joins_them() {
    let (conflict, text) = no_path(&ride("", "", "").pinned(PINS));
    let says = "no path: the hard pan limit of one width in 5 s (pan_hard), the window pinned at frame 0 (line 2 of the pins \
                file, 1687.5 px wide at 1000,0) and the window pinned at frame 10 (line 3 of the pins file, 1687.5 px wide \
                at 1500,0) cannot all be kept: the nearest that the others allow is 365 px off at frame 10";
    assert!(text.contains(says), "{text}");
    let limits = &conflict["limits"];
    assert_eq!(
        (&limits[0]["limit"], &limits[0]["secs_per_width"]),
        (&"pan-limit".into(), &5.0.into())
    );
    assert_eq!(
        (&limits[2]["limit"], &limits[2]["frame"], &limits[2]["line"]),
        (&"pin".into(), &10.into(), &3.into())
    );
    assert!((conflict["missing_px"].as_f64().unwrap() - 365.0).abs() < 0.05, "{conflict}");

    let faster = &remedy(&conflict, "faster-pan")["secs_per_width"];
    let secs = faster.as_f64().unwrap();
    assert!((1.33..=1.35).contains(&secs), "{secs}");
    let limits = format!("[limits]\npan_hard = {secs}\n");
    let (text, status) = ride(&limits, "", "").pinned(PINS).plan();
    assert_eq!(status, Some(0), "the offered pan lets it through: {text}");

    let dropped = remedy(&conflict, "drop-pin");
    assert_eq!(
        (&dropped["index"], &dropped["words"]),
        (
            &10.into(),
            &"leave out the pin at frame 10 (line 3 of the pins file): it then fits".into()
        )
    );
    let (text, status) = ride("", "", "").pinned(PINS.lines().next().unwrap()).plan();
    assert_eq!(status, Some(0), "{text}");
}

/// Between two struts are 1600 px, and full height needs 1687.5: 87.5 px, or 87.5 x 16 / 9 = 155.6 px of height.
#[test]
fn struts_that_leave_too_little_say_by_how_much_and_the_enlargement_that_is_offered_does() {
    let struts =
        "bow,0,0,0,1200,3000,keep-out,left strut\nbow,0,2800,0,1200,3000,keep-out,right strut\n";
    let limits = |greatest: f64| format!("[limits]\ngreatest_enlargement = {greatest}\n");
    let (conflict, text) = no_path(&ride(&limits(0.64), struts, ""));
    let says = "the keep-out left strut (1200 x 3000 px at 0,0 at frame 0), the keep-out right strut (1200 x 3000 px at \
                2800,0 at frame 0) and the greatest enlargement 0.64 (a window 1687.5 px wide at least) cannot all be kept: \
                87.5 px of width, 155.6 px of height missing";
    assert!(text.contains(says), "{text}");
    let width = remedy(&conflict, "accept-width")["width_px"].as_f64().unwrap();
    assert!((width - 1600.0).abs() < 0.11, "{width}");
    // 1080 / 1600 = 0.675, rounded up.
    assert!(text.contains("remedy: accept enlargement 0.68"), "{text}");
    let (text, status) = ride(&limits(0.68), struts, "").plan();
    assert_eq!(status, Some(0), "{text}");
}

/// The pinned window starts at 2000; the one that keeps the logo by 1500 - 84.375 = 1415.625 at the latest, and
/// 2000 - 1415.625 = 584.375.
#[test]
fn a_pin_against_a_clause_names_both_and_what_comes_of_leaving_out_either() {
    let clause = "[[clause]]\nkeep_in = \"logo\"\nmargin = 0.05\n";
    let logo = "bow,0,1500,1400,240,100,keep-in,logo\n";
    let limits = "[limits]\ngreatest_enlargement = 0.64\n";
    let pin = "bow,vertical,7,2000,0,1687.5\n";
    let (conflict, text) = no_path(&ride(limits, logo, clause).pinned(pin));
    // The pins file's own key is a line more.
    let line = 1
        + HEAD.lines().count()
        + limits.lines().count()
        + clip_of("bow", ("4000x3000", 25), "x").lines().count()
        + 1;
    let says = format!(
        "the window pinned at frame 7 (line 2 of the pins file, 1687.5 px wide at 2000,0) and the clause on logo (line {line} \
         of the shoot file) cannot all be kept: the nearest that the others allow is 584.4 px off at frame 7"
    );
    assert!(text.contains(&says), "{text}");
    assert!((conflict["missing_px"].as_f64().unwrap() - 584.375).abs() < 0.05, "{conflict}");
    assert!(
        text.contains(
            "remedy: leave out the pin at frame 7 (line 2 of the pins file): it then fits"
        ),
        "{text}"
    );
    assert!(
        text.contains("remedy: have the client give up the clause on logo: it then fits"),
        "{text}"
    );
    let (text, status) = ride(limits, logo, clause).plan();
    assert_eq!(status, Some(0), "{text}");
    let (text, status) = ride(limits, "", "").pinned(pin).plan();
    assert_eq!(status, Some(0), "{text}");
}

/// Two pins and the pan limit contradict each other, which are three; a pin and a keep-out that it takes in are two.
#[test]
fn the_conflict_that_is_named_is_the_smallest_in_number() {
    let rock = "bow,0,3000,1000,200,200,keep-out,rock\n";
    let pins = format!("{PINS}bow,vertical,20,2000,0,1687.5\n");
    let (conflict, text) = no_path(&ride("", rock, "").pinned(&pins));
    let named: Vec<&str> = conflict["limits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| l["limit"].as_str().unwrap())
        .collect();
    assert_eq!(named, ["keep-out", "pin"], "{text}");
    assert_eq!(
        (&conflict["limits"][0]["name"], &conflict["limits"][1]["frame"]),
        (&"rock".into(), &20.into())
    );
    assert!(text.contains("the keep-out rock (200 x 200 px at 3000,1000 at frame 0) and the window pinned at frame 20"), "{text}");
}
