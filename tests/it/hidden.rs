//! Story 18 of the trade study: the subject is hidden for 20 frames behind a trunk, returns, and is then lost for
//! good. The path never jumps, and no frame pretends to know.

use crate::ride::{HEAD, Ride, clip, number};

/// 500 frames of 2720 x 2040, 25 a second: a box of 300 px goes right by 6 px a frame, 150 px/s. It is hidden on frames
/// 140 to 159, and after 259 not seen again.
fn hidden() -> Ride {
    let mut marks = "clip,frame,left,top,width,height,kind\n".to_owned();
    for frame in [0, 139, 160, 259] {
        marks += &format!("ride,{frame},{},800,300,400,subject\n", 300 + 6 * frame);
        if frame == 139 {
            marks += "ride,140,,,,,gone\n";
        }
    }
    let clip = clip("ride", "").replace("rate = 100", "rate = 25");
    Ride::new(&format!("{HEAD}{clip}"), &marks)
}

#[test]
fn story_18_the_path_never_jumps_and_the_gap_is_marked() {
    let ride = hidden();
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let rows = ride.rows("ride_vertical_every-frame.csv");
    let lefts: Vec<f64> = rows.iter().map(|row| number(row, "left_px")).collect();
    let width = number(&rows[0], "width_px");
    // No step is faster than the hard limit, one width in 5 s of 25 frames; the rounding of the table on top.
    let limit_px = width / 5.0 / 25.0 + 1e-3;
    let steps: Vec<f64> = lefts.windows(2).map(|pair| pair[1] - pair[0]).collect();
    for (frame, step) in steps.iter().enumerate() {
        assert!((-1e-3..=limit_px).contains(step), "after frame {frame}: {step} of {limit_px}");
    }
    // Nor does it jerk into the gap or out of it: less than a third of a px a frame each frame.
    for frame in 120..180 {
        let change = steps[frame + 1] - steps[frame];
        assert!(change.abs() < 0.34, "at frame {frame}: {change}");
    }
    // Where it is lost for good the window goes on at most as it went, and stands.
    assert!(steps[400..].iter().all(|step| step.abs() < 1e-3), "{:?}", &steps[400..410]);

    let untracked = |frame: usize| (140..160).contains(&frame) || frame > 259;
    for (frame, row) in rows.iter().enumerate() {
        assert_eq!(row["tracked"], if untracked(frame) { "no" } else { "yes" }, "frame {frame}");
        if !untracked(frame) {
            let box_left = 300.0 + 6.0 * f64::from(u32::try_from(frame).unwrap());
            let inside = lefts[frame] <= box_left && lefts[frame] + width >= box_left + 300.0;
            assert!(inside, "frame {frame}");
        }
    }
    for row in ride.rows("ride_vertical_keys.csv") {
        let frame: usize = row["frame"].parse().unwrap();
        assert_eq!(row["tracked"], if untracked(frame) { "no" } else { "yes" }, "key {frame}");
    }
    let planned = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"]["planned"];
    let tracked: Vec<bool> = serde_json::from_value(planned["tracked"].clone()).unwrap();
    assert!(tracked.iter().enumerate().all(|(frame, tracked)| *tracked != untracked(frame)));
    assert!(text.contains("260 frames, handles included, are not tracked and marked so in the files: 140 to 159, 260 to 499"), "{text}");
}

/// A box 40 px from the frame's edge keeps its margin of 5 % in a window of 40 / 0.05 = 800 px at most, and the largest
/// is 1147.5 px wide. Where it is hidden in its place, the window waits as it is and does not go wide and come back.
#[test]
fn nothing_changes_over_a_gap_that_needs_no_change() {
    // Followed on both sides of the gap, and held with one eased move long after it.
    for (last, way) in [(1500, "follow"), (500, "moves")] {
        let mut marks = "clip,frame,left,top,width,height,kind\n".to_owned();
        let before = if way == "follow" { 1500 } else { 40 };
        for (frame, left) in [(0, before), (110, 40), (149, 40)] {
            marks += &format!("ride,{frame},{left},800,300,400,subject\n");
        }
        marks += "ride,150,,,,,gone\n";
        for (frame, left) in [(350, 40), (389, 40), (499, last)] {
            marks += &format!("ride,{frame},{left},800,300,400,subject\n");
        }
        let clip = clip("ride", "").replace("rate = 100", "rate = 25");
        let ride = Ride::new(&format!("{HEAD}{clip}"), &marks);
        let (text, status) = ride.plan();
        assert_eq!(status, Some(0), "{text}");
        let planned = &ride.report()["clips"][0]["entries"][0]["segments"][0]["outcome"]["planned"];
        assert_eq!(planned["way"], way, "{text}");
        let rows = ride.rows("ride_vertical_every-frame.csv");
        for row in &rows[145..355] {
            let frame = &row["frame"];
            let window = ["left_px", "width_px"].map(|column| number(row, column));
            assert!(
                window[0].abs() < 0.05 && (window[1] - 800.0).abs() < 1.0,
                "{frame}: {window:?}"
            );
        }
    }
}
