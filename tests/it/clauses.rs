//! A client's clauses from the shoot file to the report: T5 and stories 10, 11 and 12 of the trade study, in its camera of
//! 4000 x 3000. Every number is worked out by hand.

use crate::ride::{HEAD, Ride, clip_of, number};
use serde_json::Value;

const MARKS: &str = "clip,frame,left,top,width,height,kind,name\n";

/// T5's logo, at columns 1500 to 1740, on every frame.
const LOGO: &str = "bow,0,1500,1400,240,100,keep-in,logo\n";

/// T5's face: a point at column 2600, as good as one; a box has a size.
const FACE: &str = "bow,0,2599.9999995,1500,0.000001,0.000001,,face\nbow,499,2599.9999995,1500,0.000001,0.000001,,face\n";

/// The face is wanted in the middle third, as margins of a third say.
const MIDDLE_THIRD: &str = "[limits]\nmargin_across = 0.3333333333333333\nmargin_down = 0\n";

const CLAUSE: &str = "[[clause]]\nkeep_in = \"logo\"\nleast_px = 120\nmargin = 0.05\n";

fn shoot(head: &str, limits: &str, to: u32, clauses: &str) -> String {
    let keys = format!("ranges = [{{ from = 0, to = {to} }}]");
    format!("{head}{limits}{}{clauses}", clip_of("bow", ("4000x3000", 25), &keys))
}

fn segment<'r>(report: &'r Value, deliverable: &str) -> &'r Value {
    let entries = report["clips"][0]["entries"].as_array().unwrap();
    let entry = entries.iter().find(|entry| entry["deliverable"] == deliverable).unwrap();
    &entry["segments"][0]["outcome"]
}

fn near(value: &Value, by_hand: f64) {
    let value = value.as_f64().unwrap();
    assert!((value - by_hand).abs() < 1e-3, "{value} and not {by_hand}");
}

/// Full height is 1687.5 px wide, and 5 % of it are 84.375. The logo asks for x0 from 1740 + 84.375 - 1687.5 = 136.875 to
/// 1500 - 84.375 = 1415.625, the face for 2600 - 1125 = 1475 to 2600 - 562.5 = 2037.5: 59.375 px are missing. From
/// 1415.625 the face is at (2600 - 1415.625) / 1687.5 = 70.185 %, and the logo 240 x 1080 / 1687.5 = 153.6 px wide.
#[test]
fn story_12_a_logo_and_a_face_that_fight_say_by_how_much_and_what_comes_nearest() {
    let head = format!("{HEAD}[deliverable.limits]\ngreatest_enlargement = 0.64\n");
    let ride = Ride::new(&shoot(&head, MIDDLE_THIRD, 50, CLAUSE), &format!("{MARKS}{FACE}{LOGO}"));
    let (text, status) = ride.plan();
    assert_eq!(status, Some(3), "nothing passes: {text}");
    assert!(
        text.contains(
            "logo and the subject cannot both be kept: 59.4 px short at frame 0. Of a window 1687.5 px in width, logo asks \
             for x0 from 136.9 to 1415.6, the subject from 1475 to 2037.5; nearest that keeps logo: x0 = 1415.625, the \
             subject's middle at 70.2 % of the width"
        ),
        "{text}"
    );
    let report = ride.report();
    let refused = &segment(&report, "vertical")["does-not-fit"];
    let failing = &refused["cause"]["failing"];
    assert_eq!(
        (&refused["cause"]["because"], &failing["failing"]),
        (&"clause".into(), &"against-subject".into())
    );
    near(&failing["missing_px"], 59.375);
    near(&failing["nearest_start"], 1415.625);
    near(&failing["subject_at"], 1184.375 / 1687.5);
    // The attempt that is drawn keeps the logo.
    let note = &refused["clauses"][0];
    assert_eq!(
        (&note["is_kept"], &note["words"]),
        (&true.into(), &"logo: 153.6 px, 2 s and every frame on which it is seen, kept".into())
    );
    near(&note["delivered_px"], 153.6);
    assert!(
        text.contains("remedy: have the client give up the clause on logo: it then fits"),
        "{text}"
    );
}

/// What was promised: without the clause the face has its place, and the logo none.
#[test]
fn what_a_clause_makes_a_limit_was_only_a_wish_before() {
    let head = format!("{HEAD}[deliverable.limits]\ngreatest_enlargement = 0.64\n");
    let subject_only = Ride::new(&shoot(&head, MIDDLE_THIRD, 50, ""), &format!("{MARKS}{FACE}"));
    let (text, status) = subject_only.plan();
    assert_eq!(status, Some(0), "{text}");
    let left = number(&subject_only.rows("bow_vertical_every-frame.csv")[0], "left_px");
    assert!((1475.0..=2037.5).contains(&left), "{left}");
    let wished = Ride::new(&shoot(&head, MIDDLE_THIRD, 50, ""), &format!("{MARKS}{FACE}{LOGO}"));
    let (text, status) = wished.plan();
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("the subject and the keep-in logo cannot both be had"), "{text}");
}

/// Five shapes at their full size, by hand: 240 px of 1687.5, 2400, 3000 and 4000 are delivered 153.6, 108, 86.4, 115.2 and
/// 230.4 px wide. In 1:1 every start from 600 to 1000 places the face and the logo, so that only the size fails.
#[test]
fn t5_the_same_logo_passes_and_fails_shape_by_shape() {
    let shapes = [
        ("film-uhd", "3840x2160", 0.96, 230.4),
        ("film-hd", "1920x1080", 0.48, 115.2),
        ("square", "1080x1080", 0.36, 86.4),
        ("portrait", "1080x1350", 0.45, 108.0),
    ];
    let (before, _) = HEAD.split_once("[[deliverable]]").unwrap();
    let head = |with_limits: bool| {
        let one = |(name, raster, greatest, _): &(&str, &str, f64, f64)| {
            let limits = format!("[deliverable.limits]\ngreatest_enlargement = {greatest}\n");
            let limits = if with_limits { limits } else { String::new() };
            format!("[[deliverable]]\nname = \"{name}\"\nraster = \"{raster}\"\n{limits}")
        };
        format!("{before}{}", shapes.iter().map(one).collect::<String>())
    };
    let marks = format!("{MARKS}{FACE}{LOGO}");
    let ride = Ride::new(&shoot(&head(true), MIDDLE_THIRD, 25, CLAUSE), &marks);
    let (text, _) = ride.plan();
    let report = ride.report();
    for (name, _, _, delivered_px) in shapes {
        let outcome = segment(&report, name);
        if delivered_px >= 120.0 {
            let note = &outcome["planned"]["clauses"][0];
            assert_eq!(note["is_kept"], true, "{name}: {text}");
            near(&note["delivered_px"], delivered_px);
            continue;
        }
        let refused = &outcome["does-not-fit"];
        assert_eq!(refused["cause"]["failing"]["failing"], "too-small", "{name}: {text}");
        // In 4:5 the face alone asks for a start of 1400 or so, and the logo for 1380 at the latest.
        if name != "portrait" {
            near(&refused["clauses"][0]["delivered_px"], delivered_px);
        }
        let words = refused["words"].as_str().unwrap();
        assert!(
            words
                .contains(&format!("delivered {delivered_px} px of 120 px in the smallest window")),
            "{words}"
        );
        assert!(
            words.ends_with(&format!("{:.1} px short", 120.0 - delivered_px)) || name == "portrait",
            "{words}"
        );
    }
    // 120 - 108 is whole, and printed so.
    assert!(text.contains("2400 px (enlargement 0.45): 12 px short"), "{text}");

    // Where the window may be smaller, it is as small as the clause asks for: 240 x 1080 / 120 = 2160 px, and so on.
    let ride = Ride::new(&shoot(&head(false), MIDDLE_THIRD, 25, CLAUSE), &marks);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let report = ride.report();
    for (name, widest) in
        [("film-uhd", 4000.0), ("film-hd", 3840.0), ("square", 2160.0), ("portrait", 2160.0)]
    {
        let planned = &segment(&report, name)["planned"];
        let delivered_px = planned["clauses"][0]["delivered_px"].as_f64().unwrap();
        assert!(delivered_px >= 120.0 - 1e-6, "{name}: {delivered_px}");
        let width = planned["windows"][0][2].as_f64().unwrap();
        assert!(
            width <= widest + 1e-3 && width > 0.98 * widest,
            "{name}: {width} and not {widest}"
        );
    }
}

/// A logo seen on so many frames from frame 20 on, beside a subject that is always in the same place.
fn seen_for(frames: u32) -> (Ride, String, Option<i32>) {
    let head = format!("{HEAD}[[deliverable]]\nname = \"square\"\nraster = \"1080x1080\"\n");
    let clauses = format!("{CLAUSE}least_secs = 3\n");
    let marks = format!(
        "{MARKS}bow,0,1700,1200,200,300,,face\nbow,499,1700,1200,200,300,,face\n\
         bow,20,1500,1400,240,100,keep-in,logo\nbow,{},1500,1400,240,100,keep-in,logo\nbow,{},,,,,gone,logo\n",
        19 + frames,
        20 + frames
    );
    let ride = Ride::new(&shoot(&head, "", 200, &clauses), &marks);
    let (text, status) = ride.plan();
    (ride, text, status)
}

/// 74 frames of 25 a second are 2.96 s, and 75 are 3.
#[test]
fn story_11_three_seconds_are_not_kept_by_74_frames() {
    let (ride, text, status) = seen_for(74);
    assert_eq!(status, Some(3), "{text}");
    let says = "logo fails: 2.96 s (74 frames) of 3 s is the longest that can be had, first failing frame 94";
    assert_eq!(text.matches(says).count(), 4, "in both shapes and in the ranking: {text}");
    let fails = "clause logo: fails: 2.96 s (74 frames) of 3 s, first failing frame 94";
    assert!(text.contains(fails), "{text}");
    assert!(
        text.contains("remedy: agree on 2.96 s of logo (least_secs), which the picture has"),
        "{text}"
    );
    assert!(!text.contains("missing: 0 px"), "{text}");
    let report = ride.report();
    let note = &segment(&report, "vertical")["does-not-fit"]["clauses"][0];
    near(&note["longest_secs"], 2.96);
    assert_eq!(
        (&note["longest"], &note["first_failing"]),
        (&serde_json::json!([20, 93]), &94.into())
    );

    let (ride, text, status) = seen_for(75);
    assert_eq!(status, Some(0), "{text}");
    let report = ride.report();
    // Full height in 9:16; in 1:1 the window is as small as 120 px of logo ask for.
    for (name, delivered_px, words) in [
        ("vertical", 153.6, "logo: 153.6 px, 3 s, kept"),
        ("square", 120.0, "logo: 120 px, 3 s, kept"),
    ] {
        let note = &segment(&report, name)["planned"]["clauses"][0];
        assert_eq!((&note["is_kept"], &note["words"]), (&true.into(), &words.into()), "{text}");
        near(&note["delivered_px"], delivered_px);
        near(&note["total_secs"], 3.0);
        assert_eq!(
            (&note["longest"], &note["first_failing"]),
            (&serde_json::json!([20, 94]), &95.into())
        );
        assert!(text.contains(&format!("clause {words}")), "{text}");
    }
}

/// The subject walks away from the logo, and both are had together for some seconds only: the window keeps the logo then,
/// for 75 frames without a break, and goes after the subject.
#[test]
fn a_clause_of_seconds_is_kept_while_the_subject_is_near() {
    let marks = format!(
        "{MARKS}bow,0,1900,1200,200,300,,face\nbow,120,1900,1200,200,300,,face\nbow,400,3500,1200,200,300,,face\n\
         bow,499,3500,1200,200,300,,face\n{LOGO}"
    );
    let ride = Ride::new(&shoot(HEAD, "", 500, &format!("{CLAUSE}least_secs = 3\n")), &marks);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let rows = ride.rows("bow_vertical_every-frame.csv");
    // From the table alone.
    let is_kept = |row: &std::collections::BTreeMap<String, String>| {
        let (left, width) = (number(row, "left_px"), number(row, "width_px"));
        let noise = 0.02;
        left + 0.05 * width <= 1500.0 + noise
            && left + 0.95 * width >= 1740.0 - noise
            && 240.0 / width * 1080.0 >= 120.0 - noise
    };
    let longest = rows.chunk_by(|a, b| is_kept(a) == is_kept(b)).filter(|run| is_kept(&run[0]));
    let longest = longest.map(<[_]>::len).max().unwrap_or(0);
    assert!(longest >= 75, "{longest} frames: {text}");
    assert!(!is_kept(rows.last().unwrap()), "at last the logo is let out: {text}");
    let report = ride.report();
    let note = &segment(&report, "vertical")["planned"]["clauses"][0];
    assert_eq!(note["is_kept"], true, "{text}");
    let told = note["longest_secs"].as_f64().unwrap();
    assert!(
        (told - 0.04 * f64::from(u32::try_from(longest).unwrap())).abs() < 0.5 * 0.04 + 1e-9,
        "{told}, {longest} frames"
    );
}

/// A held window that is rounded to even px keeps the logo and its margin as well.
#[test]
fn a_rounded_window_keeps_the_clause_too() {
    let head = HEAD.replace("\"exact\"", "\"even\"");
    let face = "bow,0,2400,1200,100,300,,face\nbow,499,2400,1200,100,300,,face\n";
    let ride = Ride::new(&shoot(&head, "", 50, CLAUSE), &format!("{MARKS}{face}{LOGO}"));
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let row = &ride.rows("bow_vertical_every-frame.csv")[0];
    let (left, width) = (number(row, "left_px"), number(row, "width_px"));
    assert!(left % 2.0 == 0.0 && width % 2.0 == 0.0, "{left} {width}");
    assert!(left + 0.05 * width <= 1500.0 && left + 0.95 * width >= 2500.0, "{left} {width}");
}

/// T6's paddler and story 10: helmet from row 300, hands down to 1900, a deck from row 2400 that stays out. In 16:9 at full
/// width the window is 2250 px high, so that the deck allows y0 to 2400 - 2250 = 150. Headroom of 8 % are 180 px: y0 to 120.
#[test]
fn story_10_deck_out_and_head_in_leave_an_interval() {
    let (before, _) = HEAD.split_once("[[deliverable]]").unwrap();
    let head = format!(
        "{before}[[deliverable]]\nname = \"film\"\nraster = \"3840x2160\"\n[deliverable.limits]\ngreatest_enlargement = 0.96\n"
    );
    let planned = |margin: f64, helmet: f64, deck: f64| {
        let limits = format!("[limits]\nmargin_down = {margin}\n");
        let high = 1900.0 - helmet;
        let marks = format!(
            "{MARKS}bow,0,1700,{helmet},600,{high},,paddler\nbow,499,1700,{helmet},600,{high},,paddler\n\
             bow,0,0,{deck},4000,{},keep-out,deck\n",
            3000.0 - deck
        );
        let ride = Ride::new(&shoot(&head, &limits, 25, ""), &marks);
        let (text, _) = ride.plan();
        (ride.report(), text)
    };
    for (margin, last) in [(0.08, 120.0), (0.05, 150.0)] {
        let (report, text) = planned(margin, 300.0, 2400.0);
        let starts = &segment(&report, "film")["planned"]["starts"][1];
        near(&starts["from_px"], 0.0);
        near(&starts["to_px"], last);
        near(&starts["missing_px"], 0.0);
        let says = format!(
            "a still window of 4000 x 2250 has its place at x0 from 0 to 0; y0 from 0 to {last}"
        );
        assert!(text.contains(&says), "{text}");
    }
    // A helmet at row 100 asks for y0 of at most 100 - 180 = -80.
    let (report, text) = planned(0.08, 100.0, 2400.0);
    near(&segment(&report, "film")["does-not-fit"]["starts"][1]["missing_px"], 80.0);
    let says = "y0 nowhere, since at least 0 and at most -80 is asked for: 80 px missing";
    assert!(text.contains(says), "{text}");
    // A deck at row 2100 leaves 2100 px of height for a window of 2250, and 2100 x 16 / 9 = 3733.33 of its 4000 px.
    let (report, text) = planned(0.08, 300.0, 2100.0);
    let no_path = &segment(&report, "film")["no-path"];
    assert!(
        (no_path["conflict"]["missing"]["px"].as_f64().unwrap() - 266.67).abs() < 0.1,
        "{text}"
    );
    let says = "the keep-out deck (4000 x 900 px at 0,2100 at frame 0) and the greatest enlargement 0.96 (a window 4000 px \
                wide at least) cannot all be kept: 266.7 px of width, 150 px of height missing";
    assert!(text.contains(says), "{text}");
}

/// The same walk 40 px further right, with the logo in its place, and with one that is too far left for the path.
#[test]
fn a_path_from_another_clip_is_held_to_the_clause_too() {
    let of_other = |logo: u32| {
        let keys = "ranges = [{ from = 0, to = 100 }]";
        let repeats = format!(
            "{keys}\nrepeats = {{ clip = \"bow\", its_frame = 0, this_frame = 0, right = 40 }}"
        );
        let shoot = format!(
            "{HEAD}{}{}{CLAUSE}",
            clip_of("bow", ("4000x3000", 25), keys),
            clip_of("again", ("4000x3000", 25), &repeats)
        );
        let marks = format!(
            "{MARKS}bow,0,2400,1200,100,300,,face\nbow,499,2400,1200,100,300,,face\n{LOGO}again,0,{logo},1400,240,100,keep-in,logo\n"
        );
        let ride = Ride::new(&shoot, &marks);
        let (text, _) = ride.plan();
        (ride.report()["clips"][1]["entries"][0]["segments"][0]["outcome"].clone(), text)
    };
    let (outcome, text) = of_other(1540);
    assert_eq!(outcome["planned"]["clauses"][0]["is_kept"], true, "{text}");
    let (outcome, text) = of_other(400);
    assert_eq!(outcome["not-copied"]["because"], "clause-broken", "{text}");
    let says = "path not taken: the client's clause is not kept: logo: fails: kept for 0 s (0 frames), and asked for on every \
                frame on which it is seen, first failing frame 0; correct the frames and px of the copy";
    assert!(text.contains(says), "{text}");
}

#[test]
fn a_clause_on_nothing_is_a_fault_and_nothing_is_planned() {
    let clause = CLAUSE.replace("\"logo\"", "\"lgoo\"");
    let ride = Ride::new(&shoot(HEAD, "", 50, &clause), &format!("{MARKS}{FACE}{LOGO}"));
    let (text, status) = ride.plan();
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains("keep_in: there is no keep-in `lgoo`; did you mean `logo`?"), "{text}");
}
