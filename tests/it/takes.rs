//! Repeated takes and mirrored pairs: the trade study's T10 and stories 20 and 21, through the command's files.
//!
//! The numbers are arithmetic: in a frame 4000 px wide a 9:16 window of full height is 1687.5 px wide and begins
//! at 2312.5 px at most; mirrored, x0' = 4000 - x0 - 1687.5.

use crate::ride::{HEAD, Ride, clip, clip_of, number};
use std::collections::BTreeMap;

const TALL: (&str, u32) = ("4000x3000", 100);

/// A shoot without pan limits, so that pinned windows may be far apart.
fn shoot(clips: &[(&str, &str)]) -> String {
    let limits = "[limits]\npan_hard = \"off\"\npan_caution = \"off\"\n[[deliverable]]";
    let head = HEAD.replacen("[[deliverable]]", limits, 1);
    let clips: String = clips.iter().map(|(name, keys)| clip_of(name, TALL, keys)).collect();
    format!("{head}{clips}")
}

/// The rows of a clip's subject, 300 px wide, in the middle of where the window is pinned.
fn walk(clip: &str, right: f64, later: u64) -> String {
    let row = |frame: u64, left: f64| {
        format!("{clip},{},{},1200,300,600\n", (frame + later).min(499), left + right)
    };
    [row(0, 1093.75), row(100, 1093.75), row(400, 2973.75), row(499, 2973.75)].concat()
}

/// The windows of the first take: still at 400, then at 2280.
const PINS: &str = "take-1,vertical,100,400,0,1687.5\ntake-1,vertical,400,2280,0,1687.5\n";
const REPEATS: &str =
    "repeats = { clip = \"take-1\", its_frame = 300, this_frame = 340, right = 80 }";

type Rows = Vec<BTreeMap<String, String>>;

fn keys_of(rows: &Rows) -> Vec<u64> {
    rows.iter().map(|row| row["frame"].parse().unwrap()).collect()
}

/// T10 and story 20: the event at 340 against 300, the subject 80 px right: keys 40 frames later, 80 px right; a
/// window at 2280 would be at 2360 and is moved back by 47.5 px, which is told.
#[test]
fn t10_a_repeated_take_has_the_same_path_later_and_further_right() {
    // The repeat stands first: the order in the file makes no difference.
    let text = shoot(&[("take-2", REPEATS), ("take-1", "")]);
    let ride = Ride::new(&text, &walk("take-1", 0.0, 0)).pinned(PINS);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let first = ride.rows("take-1_vertical_every-frame.csv");
    let second = ride.rows("take-2_vertical_every-frame.csv");
    assert_eq!((number(&first[100], "left_px"), number(&first[400], "left_px")), (400.0, 2280.0));
    assert_eq!((number(&second[140], "left_px"), number(&second[440], "left_px")), (480.0, 2312.5));
    let mut moved_back = 0;
    for (frame, row) in second.iter().enumerate() {
        let there = number(&first[frame.saturating_sub(40)], "left_px") + 80.0;
        moved_back += usize::from(there > 2312.5);
        assert!((number(row, "left_px") - there.min(2312.5)).abs() < 2e-4, "frame {frame}");
        assert_eq!(number(row, "width_px"), 1687.5);
        assert_eq!(row["tracked"], "no", "nobody marked this take");
    }
    assert!(moved_back > 60, "{moved_back}");
    let (keys, later) = (
        keys_of(&ride.rows("take-1_vertical_keys.csv")),
        keys_of(&ride.rows("take-2_vertical_keys.csv")),
    );
    for key in keys.iter().map(|key| key + 40).filter(|key| *key < 500) {
        assert!(later.contains(&key), "{key} of {later:?}");
    }
    let clip = &ride.report()["clips"][0];
    assert_eq!(
        clip["copied_from"],
        serde_json::json!({
            "clip": "take-1", "kind": "repeat", "frames_later": 40, "right_px": 80.0, "down_px": 0.0
        })
    );
    let planned = &clip["entries"][0]["segments"][0]["outcome"]["planned"];
    assert_eq!(
        (&planned["verdict"], &planned["share_inside"]),
        (&serde_json::Value::Null, &serde_json::Value::Null)
    );
    let copied = &planned["copied"];
    assert_eq!(
        (copied["held_before"].as_u64(), copied["held_after"].as_u64()),
        (Some(40), Some(0))
    );
    let back = &copied["moved_back"];
    assert_eq!((back["right_px"].as_f64(), back["down_px"].as_f64()), (Some(-47.5), Some(0.0)));
    assert_eq!(back["frame_count"].as_u64(), Some(moved_back as u64));
    let frame = back["frame"].as_u64().unwrap();
    assert!((380..=440).contains(&frame), "{frame}");
    for told in [
        "not planned by itself: its windows are the path of take-1, 40 frames later, 80 px to the right",
        "held for 40 frames before that path",
        &format!(
            "moved back into the usable area on {moved_back} frames, the most at frame {frame}: 47.5 px to the left"
        ),
        "nothing is known of the subject here",
    ] {
        assert!(text.contains(told), "{told}\nis not in\n{text}");
    }
    let conventions = ride.read("take-2_vertical_conventions.txt");
    assert!(
        conventions.contains("Path: taken from another clip: the path of take-1, 40 frames later")
    );
}

/// A take with marks of its own is held against them.
#[test]
fn a_repeated_take_is_assessed_where_it_is_marked_and_refused_where_it_loses_the_subject() {
    let text = shoot(&[("take-1", ""), ("take-2", REPEATS)]);
    let marks = walk("take-1", 0.0, 0) + &walk("take-2", 80.0, 40);
    let ride = Ride::new(&text, &marks).pinned(PINS);
    let (printed, status) = ride.plan();
    assert_eq!(status, Some(0), "{printed}");
    let planned = &ride.report()["clips"][1]["entries"][0]["segments"][0]["outcome"]["planned"];
    assert_eq!(
        (planned["verdict"].as_str(), planned["share_inside"].as_f64()),
        (Some("fits"), Some(1.0))
    );
    assert!(!printed.contains("nothing is known"), "{printed}");

    let marks = walk("take-1", 0.0, 0) + &walk("take-2", -1000.0, 40);
    let ride = Ride::new(&text, &marks).pinned(PINS);
    let (printed, _) = ride.plan();
    let outcome = &ride.report()["clips"][1]["entries"][0]["segments"][0]["outcome"]["not-copied"];
    assert_eq!(outcome["because"], "subject-lost");
    assert!(
        printed.contains("path not taken: the subject that is marked here is inside on"),
        "{printed}"
    );
    assert!(!ride.has("take-2_vertical_keys.csv"), "nothing is handed off");
    assert!(ride.has("take-2_proof-sheet.png"));
}

/// T10 and story 21: L at 400 is R at 1912.5; the pictures are not flipped.
#[test]
fn t10_a_mirrored_pair_has_its_windows_as_far_from_the_other_edge() {
    let text = shoot(&[("left", ""), ("right", "pair_of = { clip = \"left\" }")]);
    let pins = PINS.replace("take-1", "left");
    let ride = Ride::new(&text, &walk("left", 0.0, 0)).pinned(&pins);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let left = ride.rows("left_vertical_every-frame.csv");
    let right = ride.rows("right_vertical_every-frame.csv");
    assert_eq!(number(&right[100], "left_px"), 1912.5);
    for (frame, (left, right)) in left.iter().zip(&right).enumerate() {
        let mirrored = 4000.0 - number(left, "left_px") - number(left, "width_px");
        assert!((number(right, "left_px") - mirrored).abs() < 2e-4, "frame {frame}");
        // And back again to the pixel.
        let back = 4000.0 - number(right, "left_px") - number(right, "width_px");
        assert!((back - number(left, "left_px")).abs() < 2e-4, "frame {frame}");
        assert_eq!(left["top_px"], right["top_px"]);
    }
    // The same keys, with the same ease between them.
    let keys = |name: &str| -> Vec<(String, String)> {
        let rows = ride.rows(&format!("{name}_vertical_keys.csv"));
        rows.iter().map(|row| (row["frame"].clone(), row["to_next"].clone())).collect()
    };
    assert_eq!(keys("left"), keys("right"));
    assert!(text.contains(
        "room ahead on the left there is room ahead on the right here. No picture is flipped"
    ));
    let conventions = ride.read("right_vertical_conventions.txt");
    assert!(conventions.contains("Mirror: the picture is not flipped"), "{conventions}");
    assert!(
        conventions.contains("the path of left with left and right exchanged"),
        "{conventions}"
    );
}

/// The limits of the clip that takes a path are its own.
#[test]
fn a_path_that_breaks_this_clips_limits_is_not_taken() {
    let marks = walk("take-1", 0.0, 0);
    for (keys, because, words) in [
        ("[clip.limits]\npan_hard = 5", "too-fast", "s of this clip's timeline at frame"),
        (
            "[clip.limits]\ngreatest_enlargement = 0.6",
            "too-soft",
            "a window 1687.5 px wide makes enlargement 0.640 here, and the greatest is 0.6",
        ),
    ] {
        let text = shoot(&[("take-1", ""), ("take-2", &format!("{REPEATS}\n{keys}"))]);
        let ride = Ride::new(&text, &marks).pinned(PINS);
        let (printed, _) = ride.plan();
        let outcome = &ride.report()["clips"][1]["entries"][0]["segments"][0]["outcome"];
        assert_eq!(outcome["not-copied"]["because"], because, "{printed}");
        assert!(printed.contains(words), "{printed}");
    }
    // A strut over the place where the window ends.
    let text = shoot(&[("take-1", ""), ("take-2", REPEATS)]);
    let mut marks = String::from("clip,frame,left,top,width,height,kind,name\n");
    marks += &walk("take-1", 0.0, 0).replace('\n', ",,\n");
    marks += "take-2,0,3900,0,100,3000,keep-out,strut\n";
    let ride = Ride::new(&text, "").pinned(PINS).marked(&marks);
    let (printed, _) = ride.plan();
    assert!(
        printed
            .contains("`strut` is to be kept out, and the window takes in 100 px of it at frame"),
        "{printed}"
    );
}

/// Where the first take has no path, neither has the second, and it says whose fault that is.
#[test]
fn what_cannot_be_had_there_cannot_be_taken() {
    let text =
        shoot(&[("take-1", "[clip.limits]\ngreatest_enlargement = 0.5"), ("take-2", REPEATS)]);
    let ride = Ride::new(&text, &walk("take-1", 0.0, 0));
    let (printed, status) = ride.plan();
    assert_eq!(status, Some(3), "{printed}");
    assert!(
        printed.contains("path not taken: take-1 has no path in this shape: 1687.5 px wide"),
        "{printed}"
    );
}

/// Cuts of the other clip: each part takes the path that lies under it, and none reaches over.
#[test]
fn a_repeat_of_a_cut_clip_is_cut_at_the_same_moment() {
    let two_shots = "take-1,0,100,1200,300,600\ntake-1,299,100,1200,300,600\n\
        take-1,300,3000,1200,300,600\ntake-1,499,3000,1200,300,600\n";
    let cut = |keys: &str| shoot(&[("take-1", "cuts = [300]"), ("take-2", keys)]);
    let ride = Ride::new(&cut(&format!("{REPEATS}\ncuts = [340]")), two_shots);
    let (printed, status) = ride.plan();
    assert_eq!(status, Some(0), "{printed}");
    let rows = ride.rows("take-2_vertical_every-frame.csv");
    let (before, after) = (number(&rows[339], "left_px"), number(&rows[340], "left_px"));
    assert!(before < 200.0 && after > 1500.0, "{before} and {after}");
    let (printed, status) = Ride::new(&cut(REPEATS), two_shots).plan();
    assert_eq!(status, Some(1), "{printed}");
    assert!(
        printed.contains(
            "the used range 0 to 499 lies over several used ranges of `take-1` (0 to 299, 300 to 499), and no path \
             is carried from one to the next"
        ),
        "{printed}"
    );
}

/// A cut that was planned in the other clip is planned here at the same moment: two rowers drift apart, and from frame
/// 254 on only one of them has room (see `two_subjects`).
#[test]
fn a_repeat_of_a_clip_with_a_planned_cut_has_it_at_the_same_moment() {
    let mut marks = "clip,frame,left,top,width,height,name,weight\n".to_owned();
    for (frame, apart) in [(0, 300), (200, 300), (300, 1300), (400, 300), (499, 300)] {
        for (name, left, weight) in [("stroke", 1260 - apart / 2, 1), ("bow", 1260 + apart / 2, 2)]
        {
            marks += &format!("ride,{frame},{left},800,200,400,{name},{weight}\n");
        }
    }
    let repeats =
        "repeats = { clip = \"ride\", its_frame = 30, this_frame = 0, right = -12.5, down = 0 }";
    let text = format!("{HEAD}{}{}", clip("ride", ""), clip("again", repeats));
    let ride = Ride::new(&text, &marks);
    let (printed, status) = ride.plan();
    assert_eq!(status, Some(0), "{printed}");
    let segments = &ride.report()["clips"][1]["entries"][0]["segments"];
    assert_eq!(segments.as_array().map(Vec::len), Some(2), "{printed}");
    assert_eq!(segments[1]["cut"]["frame"], 224);
    assert_eq!(segments[1]["cut"]["kept"], "bow");
    let first = ride.rows("ride_vertical_every-frame.csv");
    let again = ride.rows("again_vertical_every-frame.csv");
    assert_eq!(again.len(), 500, "each frame once");
    for (frame, row) in again.iter().enumerate() {
        assert_eq!(row["segment"], if frame < 224 { "1" } else { "2" }, "frame {frame}");
        let there = number(&first[(frame + 30).min(499)], "left_px") - 12.5;
        assert!((number(row, "left_px") - there).abs() < 2e-4, "frame {frame}");
    }
    let moved = &segments[1]["outcome"]["planned"]["copied"];
    assert_eq!(
        (&moved["held_after"], &moved["moved_back"]),
        (&30.into(), &serde_json::Value::Null)
    );
}

#[test]
fn clips_whose_frames_or_px_do_not_match_are_faults() {
    for (second, words) in [
        (
            ("4000x3000", 50),
            "`take-1` has 100 frames/s and this clip 50, so that their frames do not match",
        ),
        (
            ("2000x1500", 100),
            "`take-1` is 4000x3000 and this clip 2000x1500, so that their px do not match",
        ),
    ] {
        let text = shoot(&[("take-1", "")]) + &clip_of("take-2", second, REPEATS);
        let (printed, status) = Ride::new(&text, &walk("take-1", 0.0, 0)).plan();
        assert_eq!(status, Some(1), "{printed}");
        assert!(printed.contains(words), "{printed}");
    }
}
