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
    // So is the largest of any shape at any angle, in the middle, where it has no room to either side.
    for shape in ["9:16", "1080x1920", "4:5", "1:1", "16:9"] {
        for degrees in ["-45", "-6", "4", "5", "6", "7", "8", "10", "33.3"] {
            let asked = ["crop", "--from", "4000x3000", "--to", shape, "--level", degrees];
            let output = lookroom_in(Path::new("."), &asked);
            assert_eq!(output.status.code(), Some(0), "{shape} {degrees}: {}", stderr(&output));
        }
    }
}

#[test]
fn an_unknown_mapping_is_told_as_a_range_and_every_other_one_by_its_name() {
    let told = |arguments: &[&str]| {
        let output = crop(arguments);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        stdout(&output)
    };
    let unknown =
        told(&["--fov-diagonal", "102.68", "--mapping", "unknown", "--rounding", "exact"]);
    // By hand, equidistant: 102.68 · 0.8 = 82.14 across and · 0.6 = 61.61 down, f = 2500 / 0.896052 rad = 2790; 375 px
    // at 51.34 degrees for 2500 are 7.70.
    for line in [
        "mapping unknown, a straight-line lens or an equidistant fisheye: field of view 82.14 to 90.00 horizontal, 61.61 to 73.74 \
         vertical, 102.68 diagonal degrees; f 2000 to 2790 px",
        "7.512 to 7.701 degrees",
    ] {
        assert!(unknown.contains(line), "{line}\n{unknown}");
    }
    // T2: 120 degrees, equidistant, 0.03 a px.
    let even =
        told(&["--fov-horizontal", "120", "--mapping", "equidistant", "--rounding", "exact"]);
    assert!(even.contains("equidistant fisheye: field of view 120.00 horizontal"), "{even}");
    assert!(even.contains(" 11.250 degrees"), "{even}");
    // 4 m of wall from 2 m away are 90 degrees.
    let taped = told(&["--seen-width", "4", "--at-distance", "2"]);
    assert!(taped.contains("straight-line lens: field of view 90.00 horizontal"), "{taped}");
    let polynomial = ["--fov-diagonal", "160", "--mapping", "polynomial:-0.02,0.01,-0.003,0.0005"];
    assert!(told(&polynomial).contains("measured fisheye: field of view"));
}

#[test]
fn a_shake_through_an_unknown_lens_passes_only_if_it_does_through_each_that_it_may_be() {
    let shake = ["--fov-horizontal", "90", "--mapping", "unknown", "--shake", "1.5"];
    let output = crop(&shake);
    assert_eq!(output.status.code(), Some(3), "{}", stdout(&output));
    // Equidistant, 1.5 degrees are 66.67 px of the 80 there are, and bowed edges take no more than that leaves.
    assert!(stdout(&output).contains("at E 1.0000, if rectilinear: no"), "{}", stdout(&output));
    assert!(stdout(&output).contains("at E 1.0000, if equidistant: yes"), "{}", stdout(&output));
    let json = crop(&[&shake[..], &["--json"]].concat());
    let answer: serde_json::Value = serde_json::from_str(&stdout(&json)).unwrap();
    assert_eq!(answer["lens"]["mapping"], "unknown");
    let vertical: Vec<f64> =
        serde_json::from_value(answer["lens"]["fov_vertical_degrees"].clone()).unwrap();
    assert!((vertical[0] - 67.5).abs() < 1e-9 && (vertical[1] - 73.74).abs() < 0.005);
    assert_eq!(answer["shake"][1]["mapping"], "equidistant");
    assert_eq!(answer["shake"][1]["passes"], true);
}

#[test]
fn wrong_angles_are_refused_with_the_value_and_the_limit() {
    for (arguments, told) in [
        (&["--shake", "1"][..], "no field of view is known"),
        (&["--fov-horizontal", "180"], "of 180 degrees is out of range, expected 1 to 170 degrees"),
        (&["--fov-horizontal", "361"], "of 361 degrees is none, expected above 0 and at most 360"),
        (
            &["--fov-horizontal", "181", "--mapping", "orthographic"],
            "expected 1 to 180 degrees for an",
        ),
        (&["--mapping", "equisolid"], "no field of view is known"),
        (&["--seen-width", "0", "--at-distance", "2"], "both are lengths above 0"),
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
    for (arguments, why) in [
        (&["--roll", "1"][..], "a roll without a shake"),
        (&["--seen-width", "3"], "a width without a distance"),
        (&["--at-distance", "3"], "a distance without a width"),
        (&["--fov-horizontal", "90", "--mapping", "fisheye"], "no such mapping"),
        (&["--fov-horizontal", "90", "--mapping", "polynomial:1"], "one coefficient of four"),
    ] {
        assert_eq!(crop(arguments).status.code(), Some(2), "{why}");
    }
}

#[test]
fn the_outer_edge_of_a_wide_picture_is_no_place_for_faces() {
    // T2 by hand: 9:16 pushed to the right edge of 4000x3000 at 90 degrees lies 8.88 to 45.00 degrees off the axis: 1/cos is 1.012,
    // 1.155 in its middle and 1.414; the corner at 51.34 degrees has 1.60. Its upper edge's middle is 1156.25 and 1500 px off: 1.377.
    let arguments = [
        "crop",
        "--from",
        "4000x3000",
        "--to",
        "1080x1920",
        "--left",
        "2312.5",
        "--rounding",
        "exact",
        "--fov-horizontal",
        "90",
    ];
    let output = lookroom_in(Path::new("."), &arguments);
    let text = stdout(&output);
    assert!(
        text.contains("left edge 1.012, middle 1.155, right edge 1.414, upper edge 1.377, lower edge 1.377, worst corner 1.601; no people near the edges"),
        "{text}{}",
        stderr(&output)
    );
    // An equal-angle fisheye straightened: at its middle as it is, towards the corners fewer source px for each delivered one.
    let fisheye = [
        "crop",
        "--from",
        "4000x3000",
        "--to",
        "3840x2160",
        "--fov-horizontal",
        "120",
        "--mapping",
        "equidistant",
        "--json",
    ];
    let answer: serde_json::Value =
        serde_json::from_str(&stdout(&lookroom_in(Path::new("."), &fisheye))).unwrap();
    let straight = &answer["delivered"][0]["straightened"];
    let number = |key: &str| straight[key].as_f64().unwrap();
    // By hand: in the middle 4000 px / 120 degrees of source, 3840 / (2 tan 60) px a radian of view: 1108.5 / 1909.9.
    assert!((number("enlargement_middle") - 1108.5 / 1909.86).abs() < 1e-3, "{straight}");
    // The even window stands a px above the middle.
    assert!((number("fov_horizontal_degrees") - 120.0).abs() < 0.1, "{straight}");
    assert!(number("enlargement_worst") > 2.0 * number("enlargement_middle"), "{straight}");
}
