//! Plans with a client's clauses, and under one look, reckoned again from their files alone: what has to be inside is so on
//! each frame, in the outside optimum too, and each verdict follows from the windows.

use crate::{
    recomputed::{Altered, going, outcomes, recomputed, swinging},
    ride::{HEAD, Ride, clip, clip_of, number},
};
use lookroom::handoff::ASKED_COLUMN_NAMES;
use serde_json::Value;

const MARKS: &str = "clip,frame,left,top,width,height,kind,name\n";

/// A clause on a clip's own thing.
fn clause(clip: &str, keys: &str) -> String {
    format!("[[clause]]\nkeep_in = \"{clip}-logo\"\nclips = [\"{clip}\"]\nmargin = 0.05\n{keys}\n")
}

/// A thing of 240 x 100 px that is seen from one frame on, or from one to another.
fn logo(clip: &str, left: u32, from: u32, until: Option<u32>) -> String {
    let seen = format!("{clip},{from},{left},1000,240,100,keep-in,{clip}-logo\n");
    until.map_or(seen.clone(), |until| {
        let last = until - 1;
        format!("{seen}{clip},{last},{left},1000,240,100,keep-in,{clip}-logo\n{clip},{until},,,,,gone,{clip}-logo\n")
    })
}

/// Clips of 500 frames, 20 seconds, whose windows do something else for a clause than they would without it: 1147.5 px of
/// 2720 are the full height, of which 5 % are 57.4.
fn shoot(rounding: &str) -> Ride {
    let at_25 = |name: &str, keys: &str| clip(name, keys).replace("rate = 100", "rate = 25");
    let clips = [
        at_25("stands", ""),
        at_25("goes-over", ""),
        at_25("swings", "[clip.limits]\npan_hard = 4\npan_caution = 5\ngreatest_enlargement = 1.3"),
        at_25("near", ""),
        at_25("tilted", "level = 3"),
        at_25(
            "slows",
            "retimes = [{ from = 100, to = 300, speed = [1.0, 0.25], law = \"linear-in-source\" }]",
        ),
        at_25("pinned", "[clip.limits]\nfits_short = 0.1"),
        at_25(
            "again",
            "repeats = { clip = \"goes-over\", its_frame = 300, this_frame = 340, right = 80 }",
        ),
    ];
    let clauses = [
        // Without the clause the window stands at 776, and the logo begins where it ends.
        clause("stands", "least_px = 120"),
        // While it is seen, the window that stands on the right has to stand further left.
        clause("goes-over", "least_secs = 5"),
        // 240 px of at most 1036.8 are 250 of 1080: the window is narrower there than it likes to be.
        clause("swings", "least_secs = 1\nleast_px = 250"),
        // In the window anyway.
        clause("near", "least_secs = 5"),
        clause("tilted", "least_px = 120"),
        clause("slows", "least_secs = 4"),
        // Round its pin.
        clause("pinned", ""),
        // Of a path that is taken over nothing is required, and the verdict is told.
        clause("again", "least_secs = 5"),
    ];
    let marks = [
        MARKS.to_owned(),
        going("stands", &[(0, 1200), (499, 1200)]),
        logo("stands", 1900, 0, None),
        going("goes-over", &[(0, 500), (150, 500), (300, 1500), (499, 1500)]),
        logo("goes-over", 800, 300, Some(480)),
        swinging("swings"),
        logo("swings", 2400, 0, None),
        going("near", &[(0, 1200), (499, 1200)]),
        logo("near", 1300, 0, None),
        going("tilted", &[(0, 1200), (499, 1200)]),
        logo("tilted", 1700, 0, None),
        going("slows", &[(0, 500), (150, 500), (300, 1500), (499, 1500)]),
        logo("slows", 800, 250, Some(300)),
        swinging("pinned"),
        logo("pinned", 1100, 90, Some(111)),
        going("again", &[(0, 580), (190, 580), (340, 1580), (499, 1580)]),
        logo("again", 880, 340, Some(490)),
    ];
    let head = HEAD.replace("\"exact\"", &format!("\"{rounding}\""));
    let blocked = "blocked = { top = 0.1, bottom = 0.05, as_of = \"2026-11-01\" }\n";
    let shoot = format!("{head}{blocked}{}{}", clips.concat(), clauses.concat());
    Ride::new(&shoot, &marks.concat()).pinned(PINS)
}

/// The second is of a size that no move comes to, so that the window follows.
const PINS: &str = "pinned,vertical,100,1000,0,1147.5\npinned,vertical,400,800.123456,20,1100.25\n";

/// What is planned of a clip's deliverable.
fn planned<'r>(report: &'r Value, clip: &str, deliverable: &str) -> &'r Value {
    let named = |all: &'r Value, key: &str, name: &str| {
        all.as_array().unwrap().iter().find(|one| one[key] == name).unwrap()
    };
    let clip = named(&report["clips"], "name", clip);
    &named(&clip["entries"], "deliverable", deliverable)["segments"][0]["outcome"]["planned"]
}

#[test]
fn clauses_of_every_way_are_reckoned_again_and_a_moved_box_is_found() {
    for rounding in ["even", "exact"] {
        let ride = shoot(rounding);
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{text}");
        let found = outcomes(&ride.out());
        // Which way, and on how many frames something is required of it: 25 a second, and 21 round the pin.
        for (clip, way, frames) in [
            ("stands", "hold", Some(500)),
            ("goes-over", "moves", Some(125)),
            ("swings", "follow", Some(25)),
            ("near", "hold", Some(0)),
            ("tilted", "hold", Some(500)),
            ("slows", "moves", None),
            ("pinned", "follow", Some(21)),
            ("again", "moves", Some(0)),
        ] {
            let is_so = |[name, its, _]: &[String; 3]| (&name[..], &its[..]) == (clip, way);
            assert!(found.iter().any(is_so), "{clip}: {found:#?}");
            let rows = ride.rows(&format!("{clip}_vertical_asked.csv"));
            let required = rows.iter().filter(|row| row["required"] == "yes").count();
            assert!(frames.map_or(required > 0, |frames| required == frames), "{clip}: {required}");
            assert_eq!(planned(&ride.report(), clip, "vertical")["clauses"][0]["is_kept"], true);
        }
        let Some((agrees, text)) = recomputed(&ride.out()) else { return };
        eprintln!("{text}");
        assert!(agrees && text.contains("8 planned segments agree"), "{text}");
        assert_eq!(text.matches("by the solver").count(), 2, "{text}");
        if rounding == "exact" {
            alterations_are_found(&ride);
        }
    }
}

/// The first frame on which a clip's clause is required, as a row of its table begins.
fn first_required(ride: &Ride, clip: &str) -> (String, String) {
    let rows = ride.rows(&format!("{clip}_vertical_asked.csv"));
    let row = rows.iter().find(|row| row["required"] == "yes").unwrap();
    (row["frame"].clone(), format!("1,{},clause,", row["frame"]))
}

fn alterations_are_found(ride: &Ride) {
    let out = ride.out();
    let found = |altered: Altered, told: &str| {
        let (agrees, text) = recomputed(&out).expect("it ran before");
        let differs: Vec<&str> = text.lines().filter(|line| line.starts_with("DIFFERS")).collect();
        assert!(!agrees && differs.iter().any(|line| line.contains(told)), "{told}: {differs:#?}");
        altered.restore();
    };
    for (clip, column, by) in [
        ("stands", "left_px", 400.0),
        ("goes-over", "left_px", -400.0),
        ("swings", "left_px", 40.0),
    ] {
        let (frame, row) = first_required(ride, clip);
        let table = format!("{clip}_vertical_asked.csv");
        let told =
            format!("{clip}, vertical, segment 1: frame {frame}, px over what clause 1 requires");
        found(Altered::cell(&out, &table, (&row, column), by), &told);
        let table = format!("{clip}_vertical_every-frame.csv");
        found(Altered::cell(&out, &table, (&format!("1,used,{frame},"), "left_px"), -by), &told);
    }
    // A looser limit: then the path would cost less.
    let (frame, row) = first_required(ride, "swings");
    let wider = Altered::cell(&out, "swings_vertical_asked.csv", (&row, "greatest_width_px"), 50.0);
    found(wider, &format!("clause 1 at frame {frame}, greatest_width_px is reported as"));
    let seconds = |planned: &mut Value| planned["clauses"][0]["longest_secs"] = 3.0.into();
    found(Altered::report(&out, "vertical", seconds), "clause 1, longest_secs is reported as 3");
    let verdict = |planned: &mut Value| planned["clauses"][0]["is_kept"] = false.into();
    found(Altered::report(&out, "vertical", verdict), "clause 1, is_kept is reported as False");
    assert!(recomputed(&out).expect("it ran before").0, "as before");
}

/// A subject that stands left, walks to the right in a second and a half, and stands there.
const WALK: &str = "ride,0,500,1200,400,900,subject,walker\nride,200,500,1200,400,900,subject,walker\n\
    ride,240,2900,1200,400,900,subject,walker\nride,499,2900,1200,400,900,subject,walker\n";

/// A logo that is seen once the subject stands there, so far left that 9:16 has to be between 2035 and 2124.7 for both: with
/// 1265.6 px of width, the subject ends at 3300 and 2 % are 25.3.
const LOGO: &str =
    "ride,300,2150,1300,240,100,keep-in,logo\nride,499,2150,1300,240,100,keep-in,logo\n";

const SHAPES: [(&str, &str); 4] = [
    ("film", "1920x1080"),
    ("square", "1080x1080"),
    ("portrait", "1080x1350"),
    ("vertical", "1080x1920"),
];

fn look(head: &str, limits: &str, (tail, logo): (&str, &str)) -> Ride {
    let deliverables: String = SHAPES
        .iter()
        .map(|(name, raster)| {
            format!("[[deliverable]]\nname = \"{name}\"\nraster = \"{raster}\"\n")
        })
        .collect();
    let shoot = format!(
        "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\n{head}[limits]\npan_hard = \"off\"\n\
         pan_caution = \"off\"\nmargin_across = 0\n{limits}{deliverables}{}{tail}",
        clip_of("ride", ("4000x3000", 25), "")
    );
    let ride = Ride::new(&shoot, &format!("{MARKS}{WALK}{logo}"));
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    ride
}

/// The film's full width is 2250 px high, and so are the others, with the subject in one place in all of them.
#[test]
fn plans_under_one_look_are_reckoned_again_from_their_files() {
    for (limits, tail) in [
        ("", ""),
        ("headroom = 0.1\n", ""),
        ("", "[[clause]]\nkeep_in = \"logo\"\nleast_secs = 4\nmargin = 0.02\n"),
    ] {
        let logo = if tail.is_empty() { "" } else { LOGO };
        let [with, without] =
            ["one_look = true\n", ""].map(|head| look(head, limits, (tail, logo)));
        let [together, alone] = [&with, &without].map(Ride::report);
        let width = |report: &Value, name: &str| {
            planned(report, "ride", name)["asked"]["preferred_width_px"].as_f64().unwrap()
        };
        // 2250 of the frame's 3000 rows in 9:16, and all of them.
        assert!((width(&together, "vertical") - 1265.625).abs() < 1e-9, "{limits}{tail}");
        assert!((width(&alone, "vertical") - 1687.5).abs() < 1e-9, "{limits}{tail}");
        let shared = together["clips"][0]["one_look"][0]["together"].as_array().unwrap();
        assert_eq!(shared.len(), 4, "{shared:#?}");
        for (name, _) in SHAPES {
            let clauses = &planned(&together, "ride", name)["clauses"];
            assert!(tail.is_empty() || clauses[0]["is_kept"] == true, "{name}: {clauses:#?}");
        }
        if !tail.is_empty() {
            // It is kept for its seconds, and not by the way.
            let rows = with.rows("ride_vertical_asked.csv");
            assert_eq!(rows.iter().filter(|row| row["required"] == "yes").count(), 100);
            let last = with.rows("ride_vertical_keys.csv").pop().unwrap();
            assert!(number(&last, "left_px") > 2124.7, "{last:?}");
        }
        let Some((agrees, text)) = recomputed(&with.out()) else { return };
        eprintln!("{text}");
        assert!(agrees && text.contains("4 planned segments agree"), "{text}");
        // What 9:16 prefers by itself is not what it was planned with.
        let altered = Altered::report(&with.out(), "vertical", |planned| {
            planned["asked"]["preferred_width_px"] = 1687.5.into();
        });
        let (agrees, text) = recomputed(&with.out()).expect("it ran before");
        let told = "DIFFERS ride, vertical, segment 1: the cost's part width is reported as";
        assert!(!agrees && text.contains(told), "{text}");
        altered.restore();
    }
}

/// 240 px of at most 1036.8 are 250 of 1080, and 9:16 is then no higher than 1843.2 px: less than the others for these
/// seconds, and the clause is kept all the same.
#[test]
fn a_clause_that_makes_one_shape_smaller_is_kept_under_one_look() {
    let tail = "[[clause]]\nkeep_in = \"logo\"\nleast_secs = 4\nleast_px = 250\nmargin = 0.02\n\
        deliverables = [\"vertical\"]\n";
    let logo = LOGO.replace(",2150,", ",2500,");
    let ride = look("one_look = true\n", "", (tail, &logo));
    let report = ride.report();
    let told = "vertical: the subject is 48.9 % of the window's height at frame 300, and 40.0 % in the others; a client's \
                clause asks there for a window 1843.2 px high at most";
    assert!(ride.read("report.txt").contains(told), "{}", ride.read("report.txt"));
    assert_eq!(planned(&report, "ride", "vertical")["clauses"][0]["is_kept"], true);
    let Some((agrees, text)) = recomputed(&ride.out()) else { return };
    eprintln!("{text}");
    assert!(agrees && text.contains("4 planned segments agree"), "{text}");
}

#[test]
fn the_page_of_what_a_path_costs_names_every_column_of_what_is_asked() {
    let page = include_str!("../../docs/what-a-path-costs.md");
    for column in ASKED_COLUMN_NAMES {
        assert!(page.contains(&format!("`{column}`")), "{column}");
    }
}
