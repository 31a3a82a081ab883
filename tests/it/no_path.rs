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
    assert!((conflict["missing"]["px"].as_f64().unwrap() - 365.0).abs() < 0.05, "{conflict}");

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
    assert!((conflict["missing"]["px"].as_f64().unwrap() - 584.375).abs() < 0.05, "{conflict}");
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

/// A post at columns 1600 to 1700 stands before the logo. Right of it a window starts at 1700 at least, and the logo with its
/// margin asks for 1500 - 0.05 w; in the largest one there, 1687.5 px wide, that is 1415.625: 284.375 px are missing. Left of
/// it a window ends at 1600 at most: the largest is 1600 px wide, and the logo ends at 1740 + 80: 220 px are missing.
#[test]
fn a_keep_out_against_a_clause_says_how_much_room_is_missing() {
    let clause = "[[clause]]\nkeep_in = \"logo\"\nmargin = 0.05\n";
    let logo = "bow,0,1500,1400,240,100,keep-in,logo\n";
    let post = "bow,0,1600,0,100,3000,keep-out,post\n";
    let (conflict, text) = no_path(&ride("", &format!("{logo}{post}"), clause));
    let named: Vec<&str> = conflict["limits"]
        .as_array()
        .unwrap()
        .iter()
        .map(|l| l["limit"].as_str().unwrap())
        .collect();
    assert_eq!(named, ["keep-out", "clause"], "{text}");
    assert_eq!(
        (&conflict["missing"]["of"], &conflict["missing"]["axis"]),
        (&"place".into(), &"across".into())
    );
    assert!((conflict["missing"]["px"].as_f64().unwrap() - 220.0).abs() < 1e-6, "{conflict}");
    assert!(text.contains("cannot all be kept: 220 px missing across"), "{text}");
    assert!(
        text.contains("remedy: have the client give up the clause on logo: it then fits"),
        "{text}"
    );
    assert!(text.contains("remedy: without the keep-out post it fits"), "{text}");
}

/// A strut at columns 1800 to 1820 hangs down to row 400. Without the clause the window stays below it, where it is larger:
/// right of it the subject at column 1860 leaves room for its margin in windows up to 800 px wide only. The logo is above
/// row 400, so that the clause asks for that.
#[test]
fn the_side_of_a_keep_out_is_chosen_so_that_the_clause_is_kept() {
    let clause = "[[clause]]\nkeep_in = \"logo\"\nmargin = 0.05\n";
    let (heading, _) = MARKS.split_once('\n').unwrap();
    let window = |clauses: &str, logo: &str| {
        let marks = format!(
            "{heading}\nbow,0,1860,550,100,300,,face\nbow,499,1860,550,100,300,,face\n\
             bow,0,1800,0,20,400,keep-out,strut\n{logo}"
        );
        let ride = ride("", "", clauses).marked(&marks);
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{text}");
        let outcome = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"];
        let window = outcome["planned"]["windows"][0].clone();
        serde_json::from_value::<[f64; 4]>(window).unwrap()
    };
    let [_, top, free_width, _] = window("", "");
    assert!(top >= 400.0 - 0.01 && free_width > 1400.0, "{top} {free_width}");
    let [left, top, width, height] = window(clause, "bow,0,2000,150,240,100,keep-in,logo\n");
    assert!(left >= 1820.0 - 0.01 && width <= 800.0 + 0.1, "{left} {width}");
    assert!(top + 0.05 * height <= 150.01 && left + 0.95 * width >= 2239.99, "{top} {height}");
}

/// 576 px wide windows 700 px apart, five frames between: at one width in 5 s these are 23 px. No weight, no preferred width
/// and no retime that is quick elsewhere changes that, and no other shape is lost by it.
#[test]
fn no_weight_hides_contradicting_pins_or_costs_the_other_shapes_their_paths() {
    let pins =
        |second: u32| format!("bow,vertical,50,100,0,576\nbow,vertical,{second},800,0,576\n");
    let marks =
        "clip,frame,left,top,width,height\nbow,0,300,300,100,300\nbow,199,900,300,100,300\n";
    let head = format!("{HEAD}[[deliverable]]\nname = \"square\"\nraster = \"640x640\"\n");
    for (limits, retime, second) in [
        ("preferred_width = 0.01", "", 55),
        ("weight_acceleration = 10000", "", 55),
        ("weight_acceleration = 100", "", 52),
        ("weight_place = 1000000\nweight_containment = 1000000", "", 55),
        ("", "[{ from = 0, to = 100, speed = [0.01, 20], law = \"linear-in-source\" }]", 55),
    ] {
        let mut keys = "ranges = [{ from = 0, to = 200 }]\n".to_owned();
        if !retime.is_empty() {
            keys += &format!("retimes = {retime}\n");
        }
        let clip = clip_of("bow", ("1440x1080", 25), &keys);
        let ride = Ride::new(&format!("{head}{clip}[clip.limits]\n{limits}\n"), marks);
        let ride = ride.pinned(&pins(second));
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{limits}{retime}: {text}");
        let entries = &ride.report()["clips"][0]["entries"];
        let conflict = &entries[0]["segments"][0]["outcome"]["no-path"]["conflict"];
        let named: Vec<_> =
            conflict["limits"].as_array().unwrap().iter().map(|limit| &limit["limit"]).collect();
        assert_eq!(named, ["pan-limit", "pin", "pin"], "{limits}{retime}: {text}");
        assert!(entries[1]["segments"][0]["outcome"].get("planned").is_some(), "{text}");
    }
}

/// The face is 100 px wide at 2100 with margins of 84.4 px in a window 1687.5 px wide: it needs columns 2015.6 to 2284.4, and a
/// window pinned at 0 ends at 1687.5. 597 px lack.
#[test]
fn a_pin_that_leaves_the_subject_outside_is_named_with_its_line_what_lacks_and_what_mends_it() {
    let pinned = ride("", "", "").pinned("bow,vertical,20,0,0,1687.5\n");
    let (text, status) = pinned.plan();
    assert_eq!(status, Some(3), "{text}");
    let says = "does not fit: the window pinned at frame 20 (line 2 of the pins file, 1687.5 px wide at 0,0) leaves the subject or \
                its margins outside: 596.9 px across missing";
    assert!(text.contains(says), "{text}");
    let refused =
        &pinned.report()["clips"][0]["entries"][0]["segments"][0]["outcome"]["does-not-fit"];
    let cause = &refused["cause"];
    assert_eq!((&cause["because"], &cause["index"]), (&"pinned".into(), &20.into()));
    assert!((cause["across_px"].as_f64().unwrap() - 596.875).abs() < 1e-6, "{cause}");
    assert_eq!((&cause["down_px"], &cause["narrow_px"]), (&0.0.into(), &0.0.into()));
    let moved = remedy(refused, "move-pin");
    let words = moved["words"].as_str().unwrap();
    assert!(words.starts_with("move the pin at frame 20 (line 2 of the pins file) to "), "{words}");
    let px = |name: &str| moved[name].as_f64().unwrap();
    let row = format!("bow,vertical,20,{},{},{}\n", px("left_px"), px("top_px"), px("width_px"));
    let (text, status) = ride("", "", "").pinned(&row).plan();
    assert_eq!(status, Some(0), "the offered place does: {text}");
    let dropped = remedy(refused, "drop-pin")["words"].as_str().unwrap();
    assert_eq!(dropped, "leave out the pin at frame 20 (line 2 of the pins file): it then fits");
}

/// In a window 576 px high, margins of 28.8 px leave 518.4 px for a face of 700: it would have to be 777.8 px high and 437.5 px wide,
/// where 324 are pinned.
#[test]
fn a_pin_that_is_too_narrow_says_by_how_much_and_two_wrong_pins_are_both_left_out() {
    let marks =
        "clip,frame,left,top,width,height\nbow,0,2100,1200,100,700\nbow,39,2100,1200,100,700\n";
    let limits = "[limits]\ngreatest_enlargement = 4\nfits_share = 1\ntight_share = 1\n";
    let narrow = "bow,vertical,20,1988,1262,324\n";
    let (text, status) = ride(limits, "", "").marked(marks).pinned(narrow).plan();
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("181.6 px down missing; it is 113.5 px too narrow for them"), "{text}");
    let two = "bow,vertical,0,0,0,1687.5\nbow,vertical,39,0,0,1687.5\n";
    let (text, status) = ride("", "", "").pinned(two).plan();
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("remedy: leave out all 2 pins of this shape: it then fits"), "{text}");
}

/// From column 0 to 2312.5 in 39 frames, and neither window has the face in it: without one of them the other is refused.
#[test]
fn contradicting_pins_that_both_leave_the_subject_outside_are_both_to_be_left_out() {
    let pins = "bow,vertical,0,0,0,1687.5\nbow,vertical,39,2312.5,0,1687.5\n";
    let (conflict, text) = no_path(&ride("", "", "").pinned(pins));
    let remedy = remedy(&conflict, "drop-all-pins");
    assert_eq!(remedy["words"], "leave out all 2 pins of this shape: it then fits", "{text}");
}
