//! Lenses, shaking mounts and levelled pictures, through the whole command.

use crate::command::{lookroom_in, stderr, stdout};
use std::path::Path;

/// What `lookroom crop --from 4000x3000 --to 3840x2160` with more arguments does.
fn crop(arguments: &[&str]) -> std::process::Output {
    let all = [&["crop", "--from", "4000x3000", "--to", "3840x2160"], arguments].concat();
    lookroom_in(Path::new("."), &all)
}

#[test]
fn a_shaking_arm_is_refused_uhd_with_the_least_enlargement_that_it_could_have() {
    let output = crop(&["--fov-horizontal", "90", "--shake", "1.5", "--roll", "1.0"]);
    assert_eq!(output.status.code(), Some(3), "{}", stderr(&output));
    let text = stdout(&output);
    for told in [
        "3840 x 2160 px for 3840x2160 at E 1.0000: no, 73 px missing",
        "by the sideways turn alone: left 103.2, right 103.2",
        "least E that passes here: 1.0360, 3706.5 px wide",
        "for comparison only, as if all of the picture moved as its centre does: 3981.86 x 2331.43 px needed, 9.07",
    ] {
        assert!(text.contains(told), "{told}\n{text}");
    }
    let quiet = crop(&["--fov-horizontal", "90", "--shake", "0.4", "--roll", "0.5"]);
    assert_eq!(quiet.status.code(), Some(0), "{}", stdout(&quiet));
    assert!(stdout(&quiet).contains("at E 1.0000: yes"));
}

#[test]
fn a_shake_is_answered_in_json_and_for_the_window_of_a_given_width() {
    let output = crop(&["--width", "3600", "--fov-diagonal", "102.68", "--shake", "1.5", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let answer: serde_json::Value = serde_json::from_str(&stdout(&output)).unwrap();
    assert_eq!(answer["shake"][0]["window_px"][2], 3600.0);
    assert_eq!(answer["shake"][0]["passes"], true);
    let horizontal = answer["lens"]["fov_horizontal_degrees"].as_f64().unwrap();
    assert!((horizontal - 90.0).abs() < 0.005, "{horizontal}");
    assert!(answer["spare"]["degrees"][0].as_f64().unwrap() > 0.0);
    let without = crop(&["--json"]);
    let answer: serde_json::Value = serde_json::from_str(&stdout(&without)).unwrap();
    assert_eq!(answer["lens"], serde_json::Value::Null);
    assert_eq!(answer["shake"], serde_json::json!([]));
}

#[test]
fn a_tilted_picture_is_levelled_in_one_crop() {
    let output = crop(&["--deliver", "1920x1080", "--level", "6", "--rounding", "exact"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    for told in [
        "16:9 window in 4000x3000: 3797.5 x 2136.1 px",
        "turned 6 degrees clockwise about its centre",
        "in 3840x2160: E 1.0112",
        "in 1920x1080: E 0.5056",
        "spare room to the edges of the turned frame",
    ] {
        assert!(text.contains(told), "{told}\n{text}");
    }
    // Rounded to even px it is still inside.
    let even = crop(&["--level", "6"]);
    assert!(stdout(&even).contains("3796 x 2136 px at 102,432"), "{}", stdout(&even));
}

#[test]
fn wrong_angles_are_refused_with_the_value_and_the_limit() {
    for (arguments, told) in [
        (&["--shake", "1"][..], "no field of view is known"),
        (&["--fov-horizontal", "180"], "of 180 degrees is out of range, expected 1 to 170 degrees"),
        (&["--fov-horizontal", "90", "--shake", "-1"], "expected 0 to 30"),
        (
            &["--fov-horizontal", "90", "--fov-vertical", "90"],
            "makes the vertical one 73.74 degrees",
        ),
        (&["--level", "46"], "expected -45 to 45"),
        (&["--level", "nan"], "expected -45 to 45"),
        (&["--width", "4002"], "does not lie inside the 4000x3000 frame"),
        (&["--width", "3900", "--level", "6"], "hangs over the edge of the turned 4000x3000 frame"),
        (&["--width", "-3"], "at most -3 px wide"),
    ] {
        let output = crop(arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(stderr(&output).contains(told), "{arguments:?}: {}", stderr(&output));
    }
    assert_eq!(crop(&["--roll", "1"]).status.code(), Some(2), "a roll without a shake");
}
