//! Cuts inside a clip: the trade study's last line of T9 and story 19, through the command's own files.

use crate::ride::{HEAD, Ride, clip, number};

/// Two shots in one file: the subject stands at the left up to frame 299 and at the right from 300 on.
const TWO_SHOTS: &str = "ride,0,100,800,500,600\nride,299,100,800,500,600\n\
    ride,300,2000,800,500,600\nride,499,2000,800,500,600\n";

fn cut_ride(keys: &str, marks: &str) -> Ride {
    Ride::new(&format!("{HEAD}{}", clip("ride", keys)), marks)
}

/// The rows of a table by segment and frame, with the window's left edge.
fn lefts(ride: &Ride, table: &str) -> Vec<(String, u64, f64)> {
    let rows = ride.rows(&format!("ride_vertical_{table}.csv"));
    let left = |row| number(row, "left_px");
    rows.iter()
        .map(|row| (row["segment"].clone(), row["frame"].parse().unwrap(), left(row)))
        .collect()
}

/// T9: a cut at source 300: keys at 299 and 300, and nothing interpolated between.
#[test]
fn t9_a_cut_has_a_key_on_both_sides_and_nothing_in_between() {
    let ride = cut_ride("cuts = [300]", TWO_SHOTS);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let keys = lefts(&ride, "keys");
    let places: Vec<(&str, u64)> = keys.iter().map(|(s, frame, _)| (s.as_str(), *frame)).collect();
    assert_eq!(places, [("1", 0), ("1", 299), ("2", 300), ("2", 499)]);
    // Each side holds by itself; the left of the one is nowhere in the other.
    assert_eq!((keys[0].2, keys[2].2), (keys[1].2, keys[3].2));
    assert!(keys[1].2 < 200.0 && keys[2].2 > 1000.0, "{keys:?}");
    let all = lefts(&ride, "every-frame");
    let frames: Vec<u64> = all.iter().map(|(_, frame, _)| *frame).collect();
    assert_eq!(frames, (0..500).collect::<Vec<_>>(), "each frame once: no handle over the cut");
    for (segment, frame, left) in &all {
        let (expected, left_of_side) =
            if *frame < 300 { ("1", keys[0].2) } else { ("2", keys[2].2) };
        assert_eq!((segment.as_str(), *left), (expected, left_of_side), "frame {frame}");
    }
    assert!(text.contains("cut before frame 300; nothing is carried over one"), "{text}");
    assert!(!text.contains("the handle"), "nobody wants one over a cut: {text}");
    let conventions = ride.read("ride_vertical_conventions.txt");
    assert!(conventions.contains("the clip is cut before frame 300: each side is a segment"));
    assert!(
        conventions.contains(" 1. used [0, 300), with handles [0, 300): hold"),
        "{conventions}"
    );
    assert!(conventions.contains(" 2. used [300, 500), with handles [300, 500): hold"));
    assert_eq!(ride.report()["clips"][0]["cuts"], serde_json::json!([300]));
}

/// Without the cut, the same marks are a leap that no window follows: nothing but a still window on either side does,
/// and the range is cut where the leap is.
#[test]
fn where_only_two_holds_do_a_cut_is_planned_between() {
    let ride = cut_ride("", TWO_SHOTS);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let segments = &ride.report()["clips"][0]["entries"][0]["segments"];
    assert_eq!(segments.as_array().map(Vec::len), Some(2), "{text}");
    // The leap is from 299 to 300; half a percent of either side may be on the other side of it.
    let frame = segments[1]["cut"]["frame"].as_u64().unwrap();
    assert!((298..=302).contains(&frame), "{frame}");
    assert_eq!(segments[1]["cut"]["why"], "two-holds");
    assert_eq!((&segments[0]["used"][1], &segments[1]["used"][0]), (&frame.into(), &frame.into()));
    let keys: Vec<u64> = lefts(&ride, "keys").iter().map(|(_, frame, _)| *frame).collect();
    assert_eq!(keys, [0, frame - 1, frame, 499]);
    assert!(text.contains(&format!("cut before frame {frame}, from ")), "{text}");
    // Story 17: it goes further than a window and lands on a hold; 0.4 s are 10 frames at 25 a second, and 40 at 100.
    assert_eq!(segments[1]["cut"]["whip_frames"], 40);
    assert!(
        text.contains(
            "a whip of at most 40 frames could stand for it, which needs added blur or a cut"
        ),
        "{text}"
    );
}

/// Story 17: at 30 frames a second a whip is 12 frames at most, and it is flagged as needing blur of its own.
#[test]
fn story_17_a_whip_is_at_most_twelve_frames_and_flagged() {
    let shoot = format!("{HEAD}{}", clip("ride", "").replace("rate = 100", "rate = 30"));
    let shoot = shoot.replace("timeline_rate = 25", "timeline_rate = 30");
    let ride = Ride::new(&shoot, TWO_SHOTS);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let segment = &ride.report()["clips"][0]["entries"][0]["segments"][1];
    assert_eq!(segment["cut"]["whip_frames"], 12, "{text}");
    assert!(
        text.contains(
            "a whip of at most 12 frames could stand for it, which needs added blur or a cut"
        ),
        "{text}"
    );
    // It lands on a hold of at least a second.
    let (used, planned) = (&segment["used"], &segment["outcome"]["planned"]);
    let frames = used[1].as_u64().unwrap() - used[0].as_u64().unwrap();
    assert_eq!(planned["way"], "hold");
    assert!(frames >= 30, "{used}");
}

/// D42 and story 18: no frame pretends to know where the subject is between the last mark before a cut and the
/// first one after it.
#[test]
fn a_track_is_not_drawn_over_a_cut() {
    let ride = cut_ride(
        "cuts = [300]",
        "ride,0,100,800,500,600\nride,280,100,800,500,600\nride,320,2000,800,500,600\nride,499,2000,800,500,600\n",
    );
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    for row in ride.rows("ride_vertical_every-frame.csv") {
        let frame: u64 = row["frame"].parse().unwrap();
        let expected = if (281..320).contains(&frame) { "no" } else { "yes" };
        assert_eq!(row["tracked"], expected, "frame {frame}");
    }
    assert!(
        text.contains(
            "`subject` is marked at frame 280 and next at frame 320, with a cut in between: it is not tracked over \
             that; mark it on the last frame before the cut and on the first after it"
        ),
        "{text}"
    );
    assert!(text.contains("the subject is not tracked on 39 used frames"), "{text}");
}

/// A range that ends before the cut has a handle up to it, and is told how much is missing.
#[test]
fn a_handle_ends_at_the_cut_and_is_told_to_be_short() {
    let ride = cut_ride("cuts = [300]\nranges = [{ from = 0, to = 270 }]", TWO_SHOTS);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let keys = lefts(&ride, "keys");
    assert_eq!(keys.last().map(|(_, frame, _)| *frame), Some(299));
    assert!(
        text.contains("the handle after frames 0 to 269 is 30 frames, not 1 s: there is a cut before frame 300"),
        "{text}"
    );
}

/// Retimes go on over a cut: they are the timeline's.
#[test]
fn a_ramp_may_lie_over_a_cut() {
    let ride = cut_ride(
        "cuts = [250]\nretimes = [{ from = 200, to = 300, speed = [1.0, 0.25], law = \"linear-in-timeline\" }]",
        "ride,0,100,800,500,600\nride,249,100,800,500,600\nride,250,2000,800,500,600\nride,499,2000,800,500,600\n",
    );
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let rows = ride.rows("ride_vertical_every-frame.csv");
    // By hand: 50 + 14.46 timeline frames up to the cut, 40 - 14.46 from it to the ramp's end.
    let end = number(&rows[249], "timeline_frame");
    assert!((63.9..64.46).contains(&end), "{end}");
    let ramp_end = number(&rows[300], "timeline_frame");
    assert!((ramp_end - 25.5397).abs() < 2e-4, "{ramp_end}");
}

/// A subject that pans slowly on either side of a leap: no path comes over it and no two still windows do, and each side by
/// itself is planned as the remedy says.
#[test]
fn what_is_too_fast_as_one_shot_is_offered_as_two() {
    // 300 px in 250 frames of 100 a second are 120 px/s; the window is 1147.5 px wide and the subject 900.
    let marks = "ride,0,100,800,900,600\nride,249,400,800,900,600\nride,250,1400,800,900,600\nride,499,1700,800,900,600\n";
    let ride = cut_ride("", marks);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(3), "{text}");
    let outcome = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"];
    let remedies = outcome["does-not-fit"]["remedies"].as_array().unwrap().clone();
    let two = remedies.iter().find(|remedy| remedy["remedy"] == "shots").expect("two shots");
    assert_eq!(two["starts"].as_array().map(Vec::len), Some(1), "{two}");
    let index = two["starts"][0].as_u64().unwrap();
    assert!((245..=255).contains(&index), "{two}");
    let words = two["words"].as_str().unwrap();
    let frames = format!(
        "use it as 2 shots, frames 0 to {} and frames {index} to 499: each fits",
        index - 1
    );
    assert!(words.starts_with(&frames), "{words}");

    let ranges = format!("ranges = [{{ from = 0, to = {index} }}, {{ from = {index}, to = 500 }}]");
    let split = cut_ride(&ranges, marks);
    let (text, status) = split.plan();
    assert_eq!(status, Some(0), "{text}");
    let segments = split.report()["clips"][0]["entries"][0]["segments"].clone();
    for number in [0, 1] {
        assert_eq!(segments[number]["outcome"]["planned"]["verdict"], two["verdict"], "{text}");
    }
}
