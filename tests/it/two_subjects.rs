//! D30 and story 13 of the trade study: two rowers drift apart and back. They are held while they fit, then there is
//! one planned cut to the more important of them, on the first frame where span + 2 x margin is more than the largest
//! window; no zig-zag, and never back.

use crate::ride::{HEAD, Ride, clip, number};

/// The largest 9:16 window of 2720 x 2040 is 1147.5 px wide; with margins of 5 % there are 1032.75 px inside them.
const ROOM_PX: f64 = 1147.5 * 0.9;

/// Two boxes of 200 px: 300 px apart up to frame 200, 1,300 px at frame 300, and 300 px again from frame 400 on.
fn rowers(weights: [&str; 2]) -> String {
    let mut marks = "clip,frame,left,top,width,height,name,weight\n".to_owned();
    for (frame, apart) in [(0, 300), (200, 300), (300, 1300), (400, 300), (499, 300)] {
        for (name, left, weight) in
            [("stroke", 1260 - apart / 2, weights[0]), ("bow", 1260 + apart / 2, weights[1])]
        {
            marks += &format!("ride,{frame},{left},800,200,400,{name},{weight}\n");
        }
    }
    marks
}

fn planned(weights: [&str; 2], limits: &str) -> (Ride, String, Option<i32>) {
    let ride = Ride::new(&format!("{HEAD}{limits}{}", clip("ride", "")), &rowers(weights));
    let (text, status) = ride.plan();
    (ride, text, status)
}

/// By hand: apart by 300 + 10 (f - 200), and 200 px more from edge to edge; 500 + 10 (f - 200) > 1032.75 from
/// f = 253.275 on.
#[test]
fn story_13_one_planned_cut_at_the_first_frame_without_room() {
    let (ride, text, status) = planned(["", "2"], "");
    assert_eq!(status, Some(0), "{text}");
    let span = |frame: f64| 500.0 + 10.0 * (frame - 200.0);
    assert!(span(253.0) <= ROOM_PX && span(254.0) > ROOM_PX);
    let segments = &ride.report()["clips"][0]["entries"][0]["segments"];
    assert_eq!(segments.as_array().map(Vec::len), Some(2), "{text}");
    let cut = &segments[1]["cut"];
    assert_eq!(cut["frame"], 254);
    assert_eq!((&cut["kept"], &cut["left_out"]), (&"bow".into(), &serde_json::json!(["stroke"])));
    assert!(text.contains("bow is kept, stroke is let go and does not come back"), "{text}");
    assert!(text.contains("look at it: a planned cut before frame 254"), "{text}");

    // Both windows have the rowers in them: that is no way for a whip.
    assert!(cut.get("whip_frames").is_none(), "{cut}");
    let rows = ride.rows("ride_vertical_every-frame.csv");
    assert_eq!(rows.len(), 500, "each frame once: no handle over the cut");
    for row in &rows {
        let frame: u32 = row["frame"].parse().unwrap();
        assert_eq!(row["segment"], if frame < 254 { "1" } else { "2" }, "frame {frame}");
        let apart = match frame {
            0..200 => 300.0,
            200..300 => 300.0 + 10.0 * f64::from(frame - 200),
            300..400 => 1300.0 - 10.0 * f64::from(frame - 300),
            _ => 300.0,
        };
        let (left, width) = (number(row, "left_px"), number(row, "width_px"));
        let bow = 1260.0 + apart / 2.0;
        assert!(left <= bow && left + width >= bow + 200.0, "frame {frame}: {left} {width} {bow}");
        if frame < 254 {
            assert!(left <= 1260.0 - apart / 2.0, "frame {frame}");
        }
    }
    let keys: Vec<u64> = ride
        .rows("ride_vertical_keys.csv")
        .iter()
        .map(|row| row["frame"].parse().unwrap())
        .collect();
    assert!(keys.contains(&253) && keys.contains(&254), "a key on both sides: {keys:?}");
    let before: Vec<f64> = serde_json::from_value(cut["before"].clone()).unwrap();
    assert!((before[0] - number(&rows[253], "left_px")).abs() < 1e-3, "{before:?}");
    let after: Vec<f64> = serde_json::from_value(cut["after"].clone()).unwrap();
    assert!((after[0] - number(&rows[254], "left_px")).abs() < 1e-3, "{after:?}");
}

#[test]
fn of_equals_the_first_named_is_kept() {
    let (ride, text, _) = planned(["", ""], "");
    let cut = &ride.report()["clips"][0]["entries"][0]["segments"][1]["cut"];
    assert_eq!((&cut["frame"], &cut["kept"]), (&254.into(), &"stroke".into()), "{text}");
}

#[test]
fn who_fits_all_the_time_is_not_cut() {
    // Without margins there are 1147.5 px; three times as far away they would be 500 px apart at most.
    let marks = rowers(["", ""]).replace(",610,", ",1110,").replace(",1910,", ",1410,");
    let ride = Ride::new(&format!("{HEAD}{}", clip("ride", "")), &marks);
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let segments = &ride.report()["clips"][0]["entries"][0]["segments"];
    assert_eq!(segments.as_array().map(Vec::len), Some(1), "{text}");
    assert!(segments[0].get("cut").is_none());
}

/// The smaller window after the cut: with no punch-in that counts, the jump is told to be small.
#[test]
fn a_small_change_of_size_is_told() {
    let limits = "[limits]\npreferred_width = 0.9\n";
    let (ride, text, status) = planned(["", "2"], limits);
    assert_eq!(status, Some(0), "{text}");
    let cut = &ride.report()["clips"][0]["entries"][0]["segments"][1]["cut"];
    let width = |side: &str| cut[side][2].as_f64().unwrap();
    let factor = width("before") / width("after");
    assert!((1.05..1.2).contains(&factor), "{factor}");
    assert!(
        text.contains(&format!("the jump is small: the width changes {factor:.2} times")),
        "{text}"
    );
    let (_, text, _) = planned(["", "2"], "[limits]\npreferred_width = 0.7\n");
    assert!(!text.contains("the jump is small"), "{text}");
}

#[test]
fn faulty_weights_are_told() {
    for (weight, says) in [
        ("0", "marks.csv:2: weight: 0 is out of range, expected 0.001 to 1000"),
        ("heavy", "marks.csv:2: weight: "),
    ] {
        let (_, text, status) = planned([weight, ""], "");
        assert_ne!(status, Some(0), "{text}");
        assert!(text.contains(says), "{text}");
    }
    let mixed = rowers(["1", "1"])
        .replace("ride,499,1110,800,200,400,stroke,1", "ride,499,1110,800,200,400,stroke,3");
    let ride = Ride::new(&format!("{HEAD}{}", clip("ride", "")), &mixed);
    let (text, status) = ride.plan();
    assert_ne!(status, Some(0), "{text}");
    assert!(
        text.contains("`stroke` weighs 1 at first and 3 at frame 499; use one weight"),
        "{text}"
    );
}

/// 1,300 px apart and 200 px wide on every frame: 1500 px, and 1032.75 px are all there are.
fn far_apart(weights: [&str; 2]) -> (Ride, String, Option<i32>) {
    let mut marks = "clip,frame,left,top,width,height,name,weight\n".to_owned();
    for frame in [0, 499] {
        for (name, left, weight) in [("stroke", 610, weights[0]), ("bow", 1910, weights[1])] {
            marks += &format!("ride,{frame},{left},800,200,400,{name},{weight}\n");
        }
    }
    let ride = Ride::new(&format!("{HEAD}{}", clip("ride", "")), &marks);
    let (text, status) = ride.plan();
    (ride, text, status)
}

#[test]
fn who_never_fits_beside_the_heaviest_is_named_and_not_kept() {
    for (weights, kept, left_out) in [(["", "2"], "bow", "stroke"), (["3", "2"], "stroke", "bow")] {
        let (ride, text, status) = far_apart(weights);
        assert_eq!(status, Some(0), "{text}");
        let says = format!(
            "look at it: {kept} weighs most and is kept alone, {left_out} is not kept: from frame 0 on the subjects with their \
             margins are larger than the largest window"
        );
        assert!(text.contains(&says), "{text}");
        let segments = &ride.report()["clips"][0]["entries"][0]["segments"];
        assert_eq!(segments.as_array().map(Vec::len), Some(1), "{text}");
        let alone = &segments[0]["kept_alone"];
        assert_eq!(
            (&alone["kept"], &alone["left_out"][0], &alone["frame"]),
            (&kept.into(), &left_out.into(), &0.into())
        );
        let inside = if kept == "bow" { 1910.0 } else { 610.0 };
        for row in ride.rows("ride_vertical_every-frame.csv") {
            let (left, width) = (number(&row, "left_px"), number(&row, "width_px"));
            assert!(left <= inside && left + width >= inside + 200.0, "{left} {width}");
        }
    }
}

#[test]
fn of_equals_that_never_fit_together_none_is_kept_and_the_remedy_says_how() {
    let (_, text, status) = far_apart(["", ""]);
    assert_eq!(status, Some(3), "{text}");
    let says = "remedy: give stroke or bow more weight than the other in the marks (column weight), and it is kept alone: with \
                stroke it then fits";
    assert!(text.contains(says), "{text}");
}
