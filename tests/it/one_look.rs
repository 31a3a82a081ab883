//! One look over several shapes of a clip: decision D47, story 23 and the last line of T6 in the trade study.

use crate::{
    recomputed::recomputed,
    ride::{Ride, clip_of, number},
};
use std::collections::BTreeSet;

/// A shoot with one look, of these deliverables and further keys of its clip.
fn shoot(limits: &str, deliverables: &[(&str, &str, &str)], clip_keys: &str) -> String {
    let deliverable = |(name, raster, keys): &(&str, &str, &str)| {
        format!("[[deliverable]]\nname = \"{name}\"\nraster = \"{raster}\"\n{keys}\n")
    };
    let deliverables: String = deliverables.iter().map(deliverable).collect();
    format!(
        "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\none_look = true\n[limits]\n\
         margin_across = 0\nmargin_down = 0\npan_hard = \"off\"\npan_caution = \"off\"\n{limits}\n{deliverables}{}",
        clip_of("ride", ("4000x3000", 25), clip_keys)
    )
}

fn planned(ride: &Ride) -> String {
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    ride.read("report.txt")
}

/// T6: helmet top at row 300, hands down to 1900, deck from 2400; 8 % headroom wanted. By hand: 16:9 alone 300 - 0.08 x
/// 2250 = 120; 4:5 and 9:16 at 2400 rows have only row 0, where the helmet is at 300 / 2400 = 12.5 %; 16:9 gets there
/// at 300 - 0.125 x 2250 = 18.75, rounded to even 18: (300 - 18) / 2250 = 12.53 %.
#[test]
fn t6_the_film_is_brought_to_the_headroom_of_the_tall_shapes() {
    let shapes = [
        ("film", "1920x1080", ""),
        ("portrait", "1080x1350", "[deliverable.limits]\ngreatest_enlargement = 0.5625"),
        ("vertical", "1080x1920", "[deliverable.limits]\ngreatest_enlargement = 0.8"),
    ];
    let text = shoot("headroom = 0.08", &shapes, "ranges = [{ from = 0, to = 100 }]");
    let marks = "clip,frame,left,top,width,height,kind,name\n\
        ride,0,1700,300,600,1600,subject,paddler\nride,499,1700,300,600,1600,subject,paddler\n\
        ride,0,0,2400,4000,600,keep-out,deck\n";
    let alone = Ride::new(&text.replace("one_look = true\n", ""), marks);
    planned(&alone);
    assert_eq!(number(&alone.rows("ride_film_keys.csv")[0], "top_px"), 120.0);
    let ride = Ride::new(&text, marks);
    let report = planned(&ride);
    for (shape, [top, width, height]) in [
        ("film", [18.0, 4000.0, 2250.0]),
        ("portrait", [0.0, 1920.0, 2400.0]),
        ("vertical", [0.0, 1350.0, 2400.0]),
    ] {
        let row = &ride.rows(&format!("ride_{shape}_keys.csv"))[0];
        let window = ["top_px", "width_px", "height_px"].map(|column| number(row, column));
        assert_eq!(window, [top, width, height], "{shape}");
    }
    assert!(report.contains("film, portrait and vertical stand still"), "{report}");
    assert!(
        report
            .contains("its top is equally far down in all of them: 12.5 % of the window's height"),
        "{report}"
    );
    assert!(
        report.contains("film: the subject is 71.1 % of the window's height at frame 0, and 66.7 % in the others"),
        "{report}"
    );
    assert!(report.contains("its windows have no room for more than 2250 px"), "{report}");
    let look = &ride.report()["clips"][0]["one_look"][0];
    let film = &look["together"][0];
    assert!((film["place"]["share"].as_f64().unwrap() - 0.125_333).abs() < 1e-6, "{film}");
    assert_eq!(film["size_because"]["because"], "greatest");
}

/// By hand: square and portrait are 3000 rows high, where the middle of the subject, row 999, is at 33.3 %. 16:9 is 2250
/// high, and with 30 % kept above the subject, whose top is row 699, its window is not below row 699 - 675 = 24: the least
/// that it can have there is (999 - 24) / 2250 = 43.3 %. By itself it is as near to the middle as the frame lets it, at
/// row 0.
#[test]
fn a_shape_that_cannot_have_the_place_comes_as_near_as_it_can_and_is_named() {
    let shapes = [
        ("square", "1080x1080", "[deliverable.limits]\ngreatest_enlargement = 0.36"),
        ("portrait", "1080x1350", "[deliverable.limits]\ngreatest_enlargement = 0.45"),
        ("film", "1920x1080", "[deliverable.limits]\nmargin_down = 0.3"),
    ];
    let text = shoot("", &shapes, "ranges = [{ from = 0, to = 100 }]");
    let marks = "ride,0,1700,699,600,600\nride,499,1700,699,600,600\n";
    let alone = Ride::new(&text.replace("one_look = true\n", ""), marks);
    planned(&alone);
    assert_eq!(number(&alone.rows("ride_film_keys.csv")[0], "top_px"), 0.0);
    let ride = Ride::new(&text, marks);
    let report = planned(&ride);
    assert_eq!(number(&ride.rows("ride_film_keys.csv")[0], "top_px"), 24.0);
    let told = "film: the subject's middle is 43.3 % of the window's height down at frame 0, and 33.3 % in the others";
    assert!(report.contains(told), "{report}");
}

/// By hand: a square by itself is 3000 px wide, 2160 / 3000 = 0.72, a hero shot (up to 0.8). As high as the film, it is
/// 2250 px wide, 2160 / 2250 = 0.96, which is only fine (up to 1).
#[test]
fn a_shape_that_gets_softer_with_the_others_is_told_with_what_it_is_by_itself() {
    let shapes = [("film", "1920x1080", ""), ("square", "2160x2160", "")];
    let ride = Ride::new(&shoot("", &shapes, ""), WALK);
    let report = planned(&ride);
    assert!(report.contains("square: E 0.96, fine; by itself it is E 0.72, hero shot"), "{report}");
    assert!(!report.contains("film: E"), "{report}");
}

/// The clip's own word wins over the shoot's.
#[test]
fn a_clip_may_be_left_out_of_one_look() {
    let ride = Ride::new(&shoot("", &FOUR, "one_look = false"), WALK);
    assert!(!planned(&ride).contains("one look"));
}

/// The same with a sign at rows 2200 to 2250 that a client wants in the film, 2 % of its height, 45 px, clear of the edge:
/// y0 is 2250 + 45 - 2250 = 45 at least, and so not 18 for the look's sake.
#[test]
fn a_look_breaks_no_clause() {
    let shapes = [
        ("film", "1920x1080", ""),
        ("portrait", "1080x1350", "[deliverable.limits]\ngreatest_enlargement = 0.5625"),
        ("vertical", "1080x1920", "[deliverable.limits]\ngreatest_enlargement = 0.8"),
    ];
    let text = shoot("headroom = 0.08", &shapes, "ranges = [{ from = 0, to = 100 }]");
    let clause = "[[clause]]\nkeep_in = \"sign\"\ndeliverables = [\"film\"]\nmargin = 0.02\n";
    // In the other shapes it is a wish, and has its place above the deck.
    let marks = "clip,frame,left,top,width,height,kind,name\n\
        ride,0,1700,300,600,1600,subject,paddler\nride,499,1700,300,600,1600,subject,paddler\n\
        ride,0,0,2400,4000,600,keep-out,deck\nride,0,1900,2200,200,50,keep-in,sign\n";
    let ride = Ride::new(&format!("{text}{clause}"), marks);
    let report = planned(&ride);
    let top = number(&ride.rows("ride_film_keys.csv")[0], "top_px");
    assert!((45.0..=120.0).contains(&top), "{top}: {report}");
    let film = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"]["planned"];
    assert_eq!(film["clauses"][0]["is_kept"], true, "{report}");
}

/// A subject that stands left, walks to the right in a second and a half, and stands there.
const WALK: &str = "ride,0,500,1200,400,900\nride,200,500,1200,400,900\nride,240,2900,1200,400,900\n\
    ride,499,2900,1200,400,900\n";

const FOUR: [(&str, &str, &str); 4] = [
    ("film", "1920x1080", ""),
    ("square", "1080x1080", ""),
    ("portrait", "1080x1350", ""),
    ("vertical", "1080x1920", ""),
];

/// The first and the last frame of each eased move of a shape's keys.
fn moves(ride: &Ride, shape: &str) -> Vec<(String, String)> {
    let rows = ride.rows(&format!("ride_{shape}_keys.csv"));
    let eased = rows.windows(2).filter(|pair| pair[0]["to_next"].starts_with("ease "));
    eased.map(|pair| (pair[0]["frame"].clone(), pair[1]["frame"].clone())).collect()
}

/// Story 23: four shapes, one look: the same first and last frames of moves, and the same share of the height.
#[test]
fn four_shapes_move_on_the_same_frames_and_are_equally_high() {
    let ride = Ride::new(&shoot("", &FOUR, ""), WALK);
    let report = planned(&ride);
    let moving: Vec<_> = FOUR
        .iter()
        .map(|(name, ..)| moves(&ride, name))
        .filter(|moves| !moves.is_empty())
        .collect();
    assert!(moving.len() >= 2, "{report}");
    assert!(moving.iter().all(|moves| *moves == moving[0]), "{moving:?}");
    let heights: BTreeSet<String> = FOUR
        .iter()
        .flat_map(|(name, ..)| ride.rows(&format!("ride_{name}_every-frame.csv")))
        .map(|row| format!("{:.0}", number(&row, "height_px") / 10.0))
        .collect();
    assert_eq!(heights.len(), 1, "{heights:?}");
    assert!(
        report.contains("square, portrait and vertical move on the same frames: ")
            && report.contains("; film stands still"),
        "{report}"
    );
    assert!(report.contains("the subject is equally high in all of them: 40.0 % of"), "{report}");
    let told = &ride.report()["clips"][0]["one_look"][0]["moves"];
    assert_eq!(told[0][0].to_string(), moving[0][0].0);
    assert_eq!(told[0][1].to_string(), moving[0][0].1);
}

/// What shapes do together does not go by a limit on travel, and it is told how far that leads.
#[test]
fn how_far_a_look_travels_beyond_the_limit_is_told() {
    let ride = Ride::new(&shoot("greatest_travel = 1.01", &FOUR, ""), WALK);
    let report = planned(&ride);
    let since = "more than the 1.01 allowed (greatest_travel), since it moves as the clip's other shapes do: one look does not go by it";
    assert!(report.contains(since), "{report}");
    let told = ride.report();
    let mut moving = 0;
    for entry in told["clips"][0]["entries"].as_array().unwrap() {
        let planned = &entry["segments"][0]["outcome"]["planned"];
        let travel = &planned["travel"];
        if planned["way"] == "hold" {
            assert!(travel.is_null(), "{planned}");
            continue;
        }
        moving += 1;
        let px = |key: &str| travel[key].as_f64().unwrap();
        let is_beyond = px("px") > 1.01 * px("least_px");
        assert_eq!(travel["beyond"] == "one-look", is_beyond, "{travel}");
        assert_eq!(px("factor"), 1.0);
    }
    assert!(moving >= 2, "{report}");
    let Some((agrees, text)) = recomputed(&ride.out()) else { return };
    assert!(agrees, "{text}");
}

/// The square's moves travel further than they may, so that by itself it follows; with the other shape it moves all the same.
#[test]
fn a_limit_on_travel_keeps_nobody_from_a_look() {
    let shapes = [
        ("square", "1080x1080", "[deliverable.limits]\ngreatest_enlargement = 0.6"),
        ("vertical", "1080x1920", "[deliverable.limits]\ngreatest_enlargement = 1.0"),
    ];
    let marks = "ride,0,2751,900,500,700\nride,52,2785,900,500,700\nride,89,1698,900,500,700\n\
        ride,208,1758,900,500,700\nride,238,1277,900,500,700\nride,272,1264,900,500,700\n\
        ride,317,398,900,500,700\nride,406,351,900,500,700\nride,457,272,900,500,700\n";
    let limited = shoot("greatest_travel = 1.05", &shapes, "");
    let alone = Ride::new(&limited.replace("one_look = true\n", ""), marks);
    let why = planned(&alone);
    let ways = |ride: &Ride| -> Vec<String> {
        let report = ride.report();
        let entries = report["clips"][0]["entries"].as_array().unwrap().iter();
        let way = |entry: &serde_json::Value| {
            entry["segments"][0]["outcome"]["planned"]["way"].as_str().unwrap().to_owned()
        };
        entries.map(way).collect()
    };
    assert!(ways(&alone).contains(&"follow".to_owned()), "{why}");
    let (free, within) = (Ride::new(&shoot("", &shapes, ""), marks), Ride::new(&limited, marks));
    let (_, report) = (planned(&free), planned(&within));
    assert_eq!(ways(&within), ["moves", "moves"], "{report}");
    assert!(!report.contains("planned by itself"), "{report}");
    for (shape, _, _) in &shapes {
        let table = format!("ride_{shape}_every-frame.csv");
        assert_eq!(within.read(&table), free.read(&table), "{shape}");
    }
}

#[test]
fn without_one_look_each_shape_has_its_own() {
    let text = shoot("", &FOUR, "").replace("one_look = true\n", "");
    let ride = Ride::new(&text, WALK);
    let report = planned(&ride);
    assert!(!report.contains("one look"), "{report}");
    assert_eq!(ride.report()["clips"][0]["one_look"].as_array().unwrap().len(), 0);
}

/// The shape that cannot comply is named with the reason, and planned as it is without one look, to the last digit.
#[test]
fn a_shape_that_cannot_comply_is_named_and_not_bent() {
    let pins = "ride,square,100,0,0,3000\nride,square,400,1000,0,3000\n";
    let text = shoot("", &FOUR, "");
    let ride = Ride::new(&text, WALK).pinned(pins);
    let alone = Ride::new(&text.replace("one_look = true\n", ""), WALK).pinned(pins);
    let report = planned(&ride);
    planned(&alone);
    assert!(
        report.contains("square is planned by itself: some of its windows are pinned by hand"),
        "{report}"
    );
    let table = "ride_square_every-frame.csv";
    assert_eq!(ride.read(table), alone.read(table));
    assert!(report.contains("portrait and vertical move on the same frames"), "{report}");
}

#[test]
fn a_clip_that_takes_another_clips_path_cannot_ask_for_a_look_of_its_own() {
    let copy = "one_look = true\nrepeats = { clip = \"ride\", its_frame = 0, this_frame = 0 }";
    let second = clip_of("again", ("4000x3000", 25), copy);
    let ride = Ride::new(&format!("{}{second}", shoot("", &FOUR, "")), WALK);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(1), "{text}");
    assert!(text.contains("one_look"), "{text}");
}
