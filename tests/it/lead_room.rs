//! Lead room: more of the window ahead of a subject that goes somewhere than behind it, through the whole command.
//!
//! 500 frames of 2720 x 2040 and a 9:16 window of full height, 1147.5 px wide, with a subject of 200 px. The ratios
//! 2:1 and 55:45 are common practice without a source; the numbers are arithmetic. At 2:1 to the right a third of the
//! 947.5 px beside the subject is behind it: the window begins 315.83 px left of it.

use crate::ride::{HEAD, Ride, clip, number};
use serde_json::{Value, json};

/// The shoot of one clip with these limits, at so many frames a second; the window is wanted just in its place.
fn shoot(limits: &str, (rate, keys): (u32, &str)) -> String {
    let limits = format!("[limits]\nstill_zone = 0.0\n{limits}\n[[deliverable]]");
    let head = HEAD.replacen("[[deliverable]]", &limits, 1);
    format!("{head}{}", clip("ride", keys).replace("rate = 100", &format!("rate = {rate}")))
}

const TWO_TO_ONE: &str = "lead_room = 2.0";
/// No time for two holds: what does not stand still follows.
const FOLLOWED: &str = "lead_room = 2.0\nleast_hold = 20.0";

/// A box of 200 px with its left edge at these frames.
fn walker(lefts: &[(u64, f64)]) -> String {
    lefts.iter().map(|(frame, left)| format!("ride,{frame},{left},800,200,400\n")).collect()
}

/// The planned part of a segment of a clip.
fn planned(ride: &Ride, clip: usize, segment: usize) -> Value {
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let segments = &ride.report()["clips"][clip]["entries"][0]["segments"];
    segments[segment]["outcome"]["planned"].clone()
}

fn lefts(ride: &Ride, clip: &str) -> Vec<f64> {
    let rows = ride.rows(&format!("{clip}_vertical_every-frame.csv"));
    rows.iter().map(|row| number(row, "left_px")).collect()
}

fn assert_near(found: f64, by_hand: f64, within: f64) {
    assert!((found - by_hand).abs() <= within, "{found} is not {by_hand}");
}

fn px(note: &Value, key: &str) -> f64 {
    note[key].as_f64().unwrap_or_else(|| panic!("no {key} in {note}"))
}

/// 1 px a frame, 100 px/s, 0.087 widths/s. A still window is best for the subject of frame 249.5: its left edge is
/// then at 1249.5, and the window begins at 1249.5 - 315.83 = 933.67. At frame 499 there are 933.67 + 1147.5 - 1699 =
/// 382.17 px ahead and 1499 - 933.67 = 565.33 behind, and 3.82 s to the edge.
#[test]
fn a_held_window_has_the_subject_behind_its_middle() {
    let ride = Ride::new(&shoot(TWO_TO_ONE, (100, "")), &walker(&[(0, 1000.0), (499, 1499.0)]));
    let right = planned(&ride, 0, 0);
    assert_eq!(right["way"], "hold");
    assert_near(lefts(&ride, "ride")[0], 933.67, 0.6);
    let lead = &right["lead"];
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "right" }]));
    assert_eq!(lead["least_room"]["frame"], 499);
    assert_near(px(&lead["least_room"], "ahead_px"), 382.17, 0.6);
    assert_near(px(&lead["least_room"], "behind_px"), 565.33, 0.6);
    assert_near(px(&lead["least_travel"], "secs"), 3.82, 0.01);
    let (text, _) = ride.plan();
    assert!(
        text.contains(
            "heading right from frame 0, by its way against the frame; lead room 2:1 wanted; least lead 0.7:1 at \
             frame 499, "
        ) && text.contains("; 3.8 s of travel ahead at frame 499"),
        "{text}"
    );

    // To the left it begins 947.5 - 315.83 = 631.67 px left of it; without lead room 473.75.
    let back = walker(&[(0, 1499.0), (499, 1000.0)]);
    for (limits, by_hand) in
        [(TWO_TO_ONE, 1249.5 - 631.67), ("lead_room = \"off\"", 1249.5 - 473.75)]
    {
        let ride = Ride::new(&shoot(limits, (100, "")), &back);
        let left = planned(&ride, 0, 0);
        assert_near(lefts(&ride, "ride")[0], by_hand, 0.6);
        assert_eq!(left["lead"].is_null(), limits.contains("off"));
    }
}

/// 4 px a frame at 25 a second. At 55:45 there are 0.45 x 947.5 = 426.375 px behind.
#[test]
fn a_window_that_follows_a_steady_walker_keeps_the_ratio() {
    for (ratio, behind_px) in [("2.0", 947.5 / 3.0), ("1.2222222", 426.375)] {
        let limits = FOLLOWED.replace("2.0", ratio);
        let ride = Ride::new(&shoot(&limits, (25, "")), &walker(&[(0, 200.0), (499, 2196.0)]));
        assert_eq!(planned(&ride, 0, 0)["way"], "follow");
        let lefts = lefts(&ride, "ride");
        for frame in [150_u32, 200, 250, 300, 350] {
            let by_hand = 200.0 + 4.0 * f64::from(frame) - behind_px;
            assert_near(lefts[frame as usize], by_hand, 0.5);
        }
    }
}

/// 4 px a frame right for 4 s, sixteen times 120 px there or back in half a second or so, and right again.
#[test]
fn who_turns_back_and_forth_every_half_second_keeps_the_heading() {
    let mut marks = vec![(0, 300.0), (100, 700.0)];
    for turn in 1..=16_u64 {
        marks.push((100 + 12 * turn, if turn % 2 == 1 { 820.0 } else { 700.0 }));
    }
    marks.push((499, 1528.0));
    let ride = Ride::new(&shoot(FOLLOWED, (25, "")), &walker(&marks));
    let lead = &planned(&ride, 0, 0)["lead"];
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "right" }]));
}

/// At frame 125 the box is at 1100 and goes right, at 375 it is there again and goes left.
#[test]
fn one_reversal_is_one_change_and_the_window_goes_over_gradually() {
    let marks = walker(&[(0, 600.0), (250, 1600.0), (499, 604.0)]);
    let ride = Ride::new(&shoot(FOLLOWED, (25, "")), &marks);
    let planned = planned(&ride, 0, 0);
    let headings = &planned["lead"]["headings"];
    assert_eq!(headings.as_array().map(Vec::len), Some(2), "{headings}");
    assert_eq!(
        (&headings[0]["heading"], &headings[1]["heading"]),
        (&json!("right"), &json!("left"))
    );
    assert_near(px(&headings[1], "frame"), 250.0, 1.0);
    let lefts = lefts(&ride, "ride");
    assert_near(lefts[125], 1100.0 - 315.83, 0.5);
    assert_near(lefts[375], 1100.0 - 631.67, 0.5);
    // Never faster than one width in 5 s of 25 frames, and no jerk of a third of a px a frame each frame.
    let steps: Vec<f64> = lefts.windows(2).map(|pair| pair[1] - pair[0]).collect();
    assert!(steps.iter().all(|step| step.abs() < 1147.5 / 125.0 + 1e-3));
    for pair in steps[200..300].windows(2) {
        assert!((pair[1] - pair[0]).abs() < 1.0, "{pair:?}");
    }
}

/// The subject stands in the middle of the frame, and the background goes left by 4 px a frame.
#[test]
fn who_stands_in_a_frame_that_pans_heads_against_the_background() {
    let rows: String = (1..500).map(|frame| format!("ride,{frame},-4,0\n")).collect();
    let stands = || Ride::new(&shoot(TWO_TO_ONE, (25, "")), &walker(&[(0, 1260.0), (499, 1260.0)]));
    let ride = stands().with_motion(&rows);
    let lead = planned(&ride, 0, 0)["lead"].clone();
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "right" }]));
    assert_eq!(lead["is_against_background"], true);
    assert_near(lefts(&ride, "ride")[0], 1260.0 - 315.83, 0.1);
    // It never comes nearer to the edge ahead.
    assert!(lead["least_travel"].is_null(), "{lead}");
    assert_near(px(&lead["least_room"], "ahead_px"), 631.67, 0.1);

    // Nothing known of the background, or half of it only: it hardly moves, or goes on as it did.
    let ride = stands();
    let lead = planned(&ride, 0, 0)["lead"].clone();
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "nowhere" }]));
    assert_near(lefts(&ride, "ride")[0], 1260.0 - 473.75, 0.1);
    let half: String = rows.lines().take(250).map(|row| format!("{row}\n")).collect();
    let lead = planned(&stands().with_motion(&half), 0, 0)["lead"].clone();
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "right" }]));
}

/// What covers the right fifth of the window is no room: of 0.8 x 1147.5 - 200 = 718 px a third is behind.
#[test]
fn what_is_covered_is_no_lead_room() {
    let rows: String = (1..500).map(|frame| format!("ride,{frame},-4,0\n")).collect();
    let text = shoot(TWO_TO_ONE, (25, "")).replacen(
        "1080x1920\"\n",
        "1080x1920\"\nblocked = { right = 0.2 }\n",
        1,
    );
    let ride = Ride::new(&text, &walker(&[(0, 1260.0), (499, 1260.0)])).with_motion(&rows);
    let lead = planned(&ride, 0, 0)["lead"].clone();
    assert_near(lefts(&ride, "ride")[0], 1260.0 - 718.0 / 3.0, 0.1);
    assert_near(px(&lead["least_room"], "ahead_px"), 2.0 * 718.0 / 3.0, 0.1);
}

/// Hidden on frames 140 to 189. It comes out where it went on to, or is on its way back.
#[test]
fn over_a_gap_the_heading_is_kept_or_changes_out_of_sight() {
    let hidden = |after: &[(u64, f64)]| {
        let rows = |lefts: &[(u64, f64)]| -> String {
            walker(lefts).lines().map(|row| format!("{row},subject\n")).collect()
        };
        let seen = rows(&[(0, 100.0), (139, 934.0)]);
        let marks = format!(
            "clip,frame,left,top,width,height,kind\n{seen}ride,140,,,,,gone\n{}",
            rows(after)
        );
        let ride = Ride::new(&shoot(FOLLOWED, (25, "")), &marks);
        let planned = planned(&ride, 0, 0);
        assert_eq!(planned["way"], "follow");
        (planned["lead"]["headings"].clone(), lefts(&ride, "ride"))
    };
    let (headings, path) = hidden(&[(190, 1240.0), (499, 2476.0)]);
    assert_eq!(headings, json!([{ "frame": 0, "heading": "right" }]));
    assert_near(path[100], 700.0 - 315.83, 0.5);
    assert_near(path[300], 1680.0 - 315.83, 0.5);
    assert!(path.windows(2).all(|pair| pair[1] >= pair[0] - 1e-3), "never back");

    // From 1200 to 273 at 3 px a frame. Half-way from 139 to 190 is 164.5.
    let (headings, path) = hidden(&[(190, 1200.0), (499, 273.0)]);
    let change = json!([
        { "frame": 0, "heading": "right" }, { "frame": 165, "heading": "left" }
    ]);
    assert_eq!(headings, change);
    assert_near(path[70], 520.0 - 315.83, 0.5);
    assert_near(path[350], 1200.0 - 3.0 * 160.0 - 631.67, 0.5);
}

/// 100 px/s right up to the cut, and back after it, each held about its middle: 1124.5.
#[test]
fn a_cut_begins_the_heading_anew() {
    let marks = walker(&[(0, 1000.0), (249, 1249.0), (250, 1249.0), (499, 1000.0)]);
    let ride = Ride::new(&shoot(TWO_TO_ONE, (100, "cuts = [250]")), &marks);
    for (segment, frame, heading) in [(0, 0, "right"), (1, 250, "left")] {
        let lead = &planned(&ride, 0, segment)["lead"];
        assert_eq!(lead["headings"], json!([{ "frame": frame, "heading": heading }]));
    }
    let lefts = lefts(&ride, "ride");
    assert_near(lefts[249], 1124.5 - 315.83, 0.6);
    assert_near(lefts[250], 1124.5 - 631.67, 0.6);
}

/// Story 21 and D45 of the trade study: x0' = 2720 - x0 - 1147.5, and the room ahead is on the other side.
#[test]
fn of_a_mirrored_pair_the_room_ahead_is_on_the_other_side() {
    let clips = shoot(TWO_TO_ONE, (100, "")) + &clip("other", "pair_of = { clip = \"ride\" }");
    let mirrored: String = [(0, 2720.0 - 1000.0 - 200.0), (499, 2720.0 - 1499.0 - 200.0)]
        .map(|(frame, left)| format!("other,{frame},{left},800,200,400\n"))
        .concat();
    let ride = Ride::new(&clips, &(walker(&[(0, 1000.0), (499, 1499.0)]) + &mirrored));
    let (here, there) =
        (planned(&ride, 0, 0)["lead"].clone(), planned(&ride, 1, 0)["lead"].clone());
    assert_eq!(here["headings"], json!([{ "frame": 0, "heading": "right" }]));
    assert_eq!(there["headings"], json!([{ "frame": 0, "heading": "left" }]));
    for key in ["ahead_px", "behind_px"] {
        assert_near(px(&there["least_room"], key), px(&here["least_room"], key), 1e-3);
    }
    let (left, right) = (lefts(&ride, "ride"), lefts(&ride, "other"));
    assert_near(right[250], 2720.0 - left[250] - 1147.5, 2e-4);
}

/// Of two who walk together one is lost at frame 200: the middle of both is 150 px from that of the other, and nobody
/// turned.
#[test]
fn one_who_is_lost_does_not_turn_the_others() {
    let mut marks = "clip,frame,left,top,width,height,kind,name\n".to_owned();
    for (frame, left) in [(0, 1000.0), (499, 1499.0)] {
        marks += &format!("ride,{frame},{left},800,200,400,subject,bow\n");
    }
    marks += "ride,0,1300,800,200,400,subject,stroke\nride,199,1499,800,200,400,subject,stroke\n";
    marks += "ride,200,,,,,gone,stroke\n";
    let ride = Ride::new(&shoot(TWO_TO_ONE, (100, "")), &marks);
    let lead = &planned(&ride, 0, 0)["lead"];
    assert_eq!(lead["headings"], json!([{ "frame": 0, "heading": "right" }]));
}

/// A window pinned at 591.5 ends at 1739: 40 px ahead of the box that ends at 1699, 0.4 s at 100 px/s.
#[test]
fn who_is_too_soon_at_the_edge_ahead_is_to_be_looked_at() {
    let limits = format!("{TWO_TO_ONE}\nmargin_across = 0.0");
    let marks = walker(&[(0, 1000.0), (499, 1499.0)]);
    let ride =
        Ride::new(&shoot(&limits, (100, "")), &marks).pinned("ride,vertical,0,591.5,0,1147.5\n");
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let words = "0.4 s of travel ahead at frame 499, less than 0.5 s (lead_secs)";
    assert!(text.contains(&format!("look at it: {words}")), "{text}");
    let ride = Ride::new(&shoot(&format!("{limits}\nlead_secs = \"off\""), (100, "")), &marks)
        .pinned("ride,vertical,0,591.5,0,1147.5\n");
    assert!(!ride.plan().0.contains("look at it"));
}
