//! Levelled pictures, windows steady against the world, and lenses of a shoot, through the whole command.

use crate::{
    command::{SHOOT, SmallShoot, stderr, stdout},
    python,
};
use std::{f64::consts::TAU, fmt::Write as _};

/// A plan of a small shoot whose clip has more keys, and its report.
fn planned(shoot: &SmallShoot) -> serde_json::Value {
    let output = shoot.run(&["plan", "shoot.toml", "--overlays", "0,15"]);
    assert_eq!(output.status.code(), Some(0), "{}{}", stdout(&output), stderr(&output));
    serde_json::from_str(&shoot.read("out/report.json")).unwrap()
}

/// What was planned of an entry of the only clip.
fn segment(report: &serde_json::Value, entry: usize) -> &serde_json::Value {
    let outcome = &report["clips"][0]["entries"][entry]["segments"][0]["outcome"];
    assert!(outcome["planned"].is_object(), "{outcome}");
    &outcome["planned"]
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

/// A motion file of the 30 frames: the background swings by so many px across, or degrees, at 5 Hz on a drift.
pub(crate) fn motion(across_px: f64, roll_degrees: f64) -> String {
    let place = |frame: u32| {
        let secs = f64::from(frame) / 25.0;
        let wave = (TAU * 5.0 * secs).sin();
        (30.0 * secs + across_px * wave, roll_degrees * wave)
    };
    (1..30_u32).fold("clip,frame,dx,dy,roll_degrees\n".to_owned(), |mut rows, frame| {
        let (before, now) = (place(frame - 1), place(frame));
        let (dx, roll) = (now.0 - before.0, now.1 - before.1);
        writeln!(rows, "walk,{frame},{dx:.6},0,{roll:.6}").unwrap();
        rows
    })
}

/// A shoot of one small film whose clip rides with the world.
pub(crate) fn steady(across_px: f64, greatest_enlargement: f64) -> SmallShoot {
    let limits = format!("[limits]\ngreatest_enlargement = {greatest_enlargement}\n");
    let text = SHOOT
        .replace("[limits]\n", &limits)
        .replace("384x216", "192x108")
        .replace("162x288", "108x192")
        .replace("marks = \"marks.csv\"\n", "marks = \"marks.csv\"\nmotion = \"motion.csv\"\n");
    let shoot = SmallShoot::new(&format!("{text}steady = \"world\"\n"));
    shoot.write("motion.csv", &motion(across_px, 0.0));
    shoot
}

#[test]
fn a_tilted_clip_is_planned_in_the_turned_picture_and_rebuilt_by_the_conventions_alone() {
    let shoot = SmallShoot::new(&format!("{SHOOT}level = 6\n"));
    let report = planned(&shoot);
    // D11: 400 / (cos 6° + 0.5625 sin 6°) = 379.75, so that 384 px are E 1.0112 as in T8.
    let film = segment(&report, 0);
    assert_eq!(film["way"], "hold");
    let enlargement = film["softest"]["enlargement"].as_f64().unwrap();
    assert!((enlargement - 1.0112).abs() < 0.0002, "{enlargement}");
    assert!(numbers(&film["rotation_degrees"]).iter().all(|degrees| *degrees == 6.0));
    let text = shoot.read("out/report.txt");
    assert!(text.contains("level: the picture is turned 6 degrees clockwise"), "{text}");
    let conventions = shoot.read("out/walk_film_conventions.txt");
    assert!(conventions.contains("rotate about the source centre by rotation_degrees"));
    assert!(conventions.contains("clockwise positive as seen, about the source centre 200, 150"));
    assert!(shoot.has("out/walk_frame-000015_overlay.png"));
    for (entry, name) in [(0, "film"), (1, "vertical")] {
        for window in segment(&report, entry)["windows"].as_array().unwrap() {
            assert_in_turned_frame(&numbers(window), 6.0);
        }
        if python::has(&[]) {
            let path = |table: &str| {
                shoot.path().join(format!("out/walk_{name}_{table}.csv")).display().to_string()
            };
            let paths = [path("keys"), path("every-frame")];
            let read = python::run("reader/rebuild_windows.py", &[&paths[0], &paths[1]], "");
            let read: serde_json::Value = serde_json::from_str(&read).unwrap();
            for set in ["corner and size", "centre and scale", "offset and scale"] {
                assert!(read[set]["worst_error_px"].as_f64().unwrap() <= 0.5, "{set}: {read}");
                assert!(read[set]["overhang_px"].as_f64().unwrap() <= 0.001, "{set}: {read}");
            }
        }
    }
}

/// Turns a window's corners back about the centre of a 400 x 300 frame, written out.
fn assert_in_turned_frame(window: &[f64], degrees: f64) {
    let (sine, cosine) = degrees.to_radians().sin_cos();
    let [left, top, width, height] = window else { panic!("four numbers") };
    for (x, y) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)] {
        let (across, down) = (left + x * width - 200.0, top + y * height - 150.0);
        let back = (200.0 + across * cosine + down * sine, 150.0 - across * sine + down * cosine);
        // The report rounds to a ten-thousandth of a px.
        assert!((-0.001..=400.001).contains(&back.0), "{window:?} {back:?}");
        assert!((-0.001..=300.001).contains(&back.1), "{window:?} {back:?}");
    }
}

#[test]
fn a_level_makes_a_shape_too_soft_that_could_be_had_without() {
    // 384 px within E 1.005 need 382.1 px: 400 px have them, the 379.8 px of the turned picture do not.
    let limited = SHOOT.replace("[limits]\n", "[limits]\ngreatest_enlargement = 1.005\n");
    let film = limited.replace("162x288", "108x192");
    let standing = |text: &str| {
        let shoot = SmallShoot::new(text);
        let report = planned(&shoot);
        report["clips"][0]["entries"][0]["because"].as_str().unwrap().to_owned()
    };
    assert_eq!(standing(&film), "fits");
    let told = standing(&format!("{film}level = 6.0\n"));
    assert!(told.starts_with("379.8 px wide is the largest 16:9 window"), "{told}");
}

#[test]
fn a_mark_is_turned_with_the_picture() {
    // The vertical follows the walker either way; what it keeps is the mark as it lies in the turned picture.
    let shoot = SmallShoot::new(&format!("{SHOOT}level = -20\n"));
    let report = planned(&shoot);
    let first = numbers(&segment(&report, 1)["windows"][0]);
    // The box 100,100,40,80 has its middle at 120,140: 80 left and 10 above the centre. By hand, turned
    // counterclockwise by 20 degrees: x = 200 − 80 cos 20° − 10 sin 20° = 121.4, y = 150 − 10 cos 20° + 80 sin 20° = 168.0.
    let (x, y) = (121.4, 168.0);
    assert!(first[0] < x - 15.0 && x + 15.0 < first[0] + first[2], "{first:?}");
    assert!(first[1] < y - 30.0 && y + 30.0 < first[1] + first[3], "{first:?}");
    for window in segment(&report, 1)["windows"].as_array().unwrap() {
        assert_in_turned_frame(&numbers(window), -20.0);
    }
}

#[test]
fn a_window_rides_with_a_known_shake_and_leaves_the_drift_alone() {
    let shoot = steady(3.0, 2.0);
    let report = planned(&shoot);
    let film = segment(&report, 0);
    let of = |key: &str| film["steady"][key].as_f64().unwrap();
    // 3 px of sine are 2.121 px rms; the gain at 5 Hz against 0.5 Hz is 0.9999, and the ends give a little.
    assert!((of("before_rms_px") - 2.121).abs() < 0.2, "{}", film["steady"]);
    assert_eq!(of("factor"), 1.0);
    assert!(of("after_rms_px") < 0.05 * of("before_rms_px"), "{}", film["steady"]);
    // 400 px less 2 x 3 px and what the ends give: E 192 / 394 against 192 / 400.
    assert!((of("enlargement_without") - 0.48).abs() < 1e-9);
    assert!((0.4865..0.4895).contains(&of("enlargement")), "{}", of("enlargement"));
    assert_eq!(film["way"], "hold", "it stands still against the shake");
    // The drift of 36 px is the camera's journey: the window's mean stays where it is.
    let centres: Vec<f64> = film["windows"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .map(|window| window[0] + window[2] / 2.0)
        .collect();
    let greatest = centres.iter().copied().fold(f64::MIN, f64::max);
    let least = centres.iter().copied().fold(f64::MAX, f64::min);
    assert!((5.0..8.0).contains(&(greatest - least)), "{least} to {greatest}");
    let text = shoot.read("out/report.txt");
    assert!(text.contains("the window rides with all of it"), "{text}");
    let conventions = shoot.read("out/walk_film_conventions.txt");
    assert!(conventions.contains("the path itself takes the shake out"), "{conventions}");
}

#[test]
fn a_window_rides_only_as_far_as_there_is_spare_room() {
    // 192 px within E 0.485 need 395.9 px of 400: 4.1 px to ride in, of some 6 px.
    let shoot = steady(3.0, 0.485);
    let report = planned(&shoot);
    let film = segment(&report, 0);
    let of = |key: &str| film["steady"][key].as_f64().unwrap();
    assert!((0.55..0.75).contains(&of("factor")), "{}", film["steady"]);
    let left = of("after_rms_px") / of("before_rms_px");
    assert!((left - (1.0 - of("factor"))).abs() < 0.05, "{}", film["steady"]);
    for window in film["windows"].as_array().unwrap() {
        assert!(numbers(window)[2] >= 192.0 / 0.485 - 1e-3, "{window}");
    }
    let text = shoot.read("out/report.txt");
    assert!(text.contains("as far as there is spare room"), "{text}");
}

#[test]
fn a_clip_is_levelled_frame_by_frame_by_its_motion() {
    let text = SHOOT
        .replace("marks = \"marks.csv\"\n", "marks = \"marks.csv\"\nmotion = \"motion.csv\"\n");
    let shoot = SmallShoot::new(&format!("{text}level = \"motion\"\n"));
    shoot.write("motion.csv", &motion(0.0, 1.5));
    let report = planned(&shoot);
    let film = segment(&report, 0);
    let degrees = numbers(&film["rotation_degrees"]);
    // The contrary of the background's roll, 1.5 sin(2π 5 t): at frame 6, 0.24 s, it is 1.4266 degrees.
    let roll = 1.5 * (TAU * 5.0 * 0.24).sin();
    assert!((degrees[6] + roll).abs() < 0.25, "{} {roll}", degrees[6]);
    for (window, degrees) in film["windows"].as_array().unwrap().iter().zip(&degrees) {
        assert_in_turned_frame(&numbers(window), *degrees);
    }
    assert_eq!(film["keys"].as_array().unwrap().len(), 30, "each has an angle of its own");
    assert!(shoot.read("out/report.txt").contains("level: each picture is turned"));
}

#[test]
fn a_refusal_says_the_degrees_where_the_lens_is_known() {
    // The walker stands 2 px under the upper edge: with a margin of 5 % it should be 12.4 px lower or so.
    let marks = "clip,frame,left,top,width,height\nwalk,0,180,2,40,80\nwalk,29,180,2,40,80\n";
    let camera = "[[camera]]\nname = \"bridge\"\nlens = { mapping = \"rectilinear\", fov_horizontal = 90 }\n[[clip]]";
    let remedy = |text: &str| {
        let shoot = SmallShoot::new(text);
        shoot.write("marks.csv", marks);
        let output = shoot.run(&["plan", "shoot.toml"]);
        assert!(matches!(output.status.code(), Some(0 | 3)), "{}", stderr(&output));
        let report = shoot.read("out/report.txt");
        let line = report.lines().find(|line| line.contains("next take: have the subject"));
        line.unwrap_or_else(|| panic!("{report}")).to_owned()
    };
    let without = remedy(SHOOT);
    assert!(without.ends_with("(tilt up)"), "{without}");
    let before =
        |camera: &str| format!("{}camera = \"bridge\"\n", SHOOT.replace("[[clip]]", camera));
    let with = remedy(&before(camera));
    // The angle from row 2 to the row it should be in, through f = 200 px, worked out again.
    let px: f64 =
        with.split("subject ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    let angle = ((150.0 - 2.0) / 200.0_f64).atan() - ((150.0 - 2.0 - px) / 200.0_f64).atan();
    let told: f64 =
        with.split("tilt up ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!((told - angle.to_degrees()).abs() < 0.02, "{with} {}", angle.to_degrees());
    // Nobody knows the mapping: up to the equidistant lens, 90 degrees over 400 px.
    let unknown = remedy(&before(&camera.replace("rectilinear", "unknown")));
    let even = px * 90.0 / 400.0;
    let ends = unknown.split("tilt up ").nth(1).unwrap().split(" degrees").next().unwrap();
    let ends: Vec<f64> = ends.split(" to ").map(|end| end.parse().unwrap()).collect();
    assert!((ends[0] - angle.to_degrees()).abs() < 0.02, "{unknown}");
    assert!((ends[1] - even).abs() < 0.02, "{unknown} {even}");
}

pub(crate) const MOTION_NAMED: &str = "marks = \"marks.csv\"\nmotion = \"motion.csv\"\n";

/// Checks a shoot with a motion file of these lines, and holds what is told against what should be.
fn assert_told(shoot: &str, motion: &str, told: &str) {
    let files = SmallShoot::new(shoot);
    files.write("motion.csv", motion);
    let output = files.run(&["check", "shoot.toml"]);
    let all = format!("{}{}", stdout(&output), stderr(&output));
    assert_eq!(output.status.code(), Some(1), "{told}: {all}");
    assert!(all.contains(told), "{told}: {all}");
}

#[test]
fn what_is_wrong_with_a_motion_file_is_told_with_its_place() {
    let with_motion = SHOOT.replace("marks = \"marks.csv\"\n", MOTION_NAMED);
    let world = format!("{with_motion}steady = \"world\"\n");
    for (rows, told) in [
        ("", "the motion file has no row of it"),
        ("wolk,1,0,0\n", "motion.csv:2: clip: there is no clip `wolk`"),
        ("walk,1,x,0\n", "motion.csv:2: dx: `x` is not a number"),
        ("walk,30,1,0\n", "frame 30 is after the clip's last frame, 29"),
        ("walk,3,1,0\nwalk,3,1,0\n", "motion.csv:3: the motion to frame 3 is already on line 2"),
        ("walk,0,1,0\n", "frame 0 has no frame before it"),
    ] {
        assert_told(&world, &format!("clip,frame,dx,dy\n{rows}"), told);
    }
    assert_told(&world, "clip,frame,dx\n", "dy");
    let level = format!("{with_motion}level = \"motion\"\n");
    assert_told(&level, "clip,frame,dx,dy\nwalk,1,1,0\n", "no row of it has roll_degrees");
    assert_told(&format!("{SHOOT}steady = \"world\"\n"), "", "no motion file is named");
}

#[test]
fn what_is_wrong_with_a_level_or_a_lens_is_told() {
    for (key, told) in [
        ("steady = \"word\"", "did you mean `world`?"),
        ("level = 46", "level: 46 is out of range, expected -45 to 45 degrees"),
        ("level = true", "expected degrees clockwise such as 6.0"),
    ] {
        assert_told(&format!("{SHOOT}{key}\n"), "", told);
    }
    for (lens, told) in [
        ("{ fov_horizontal = 90 }", "lens needs `mapping`"),
        ("{ mapping = \"rectilinear\" }", "lens needs `fov_horizontal`, `fov_vertical` or"),
        (
            "{ mapping = \"fisheye\", fov_diagonal = 90 }",
            "`fisheye` is not known; write rectilinear",
        ),
        ("{ mapping = \"rectilinear\", fov_diagonal = 190 }", "expected 1 to 170 degrees"),
        (
            "{ mapping = \"rectilinear\", fov_horizontal = 90, fov_vertical = 90 }",
            "makes the vertical one 73.74 degrees",
        ),
        ("90", "expected a table such as { mapping"),
        (
            "{ mapping = \"equidistant\", fov_horizontal = 400 }",
            "lens.fov_horizontal: a horizontal field of view of 400 degrees is none",
        ),
        (
            "{ mapping = \"unknown\", fov_horizontal = 180 }",
            "expected 1 to 170 degrees for a straight-line lens",
        ),
        ("{ mapping = \"equisolid\", seen_width = 3 }", "lens needs `at_distance`, how far"),
        (
            "{ mapping = \"polynomial\", k1 = -0.3333, k2 = 0, k3 = 0, k4 = 0, fov_horizontal = 100 }",
            "the polynomial turns back at 57.30 degrees off the axis",
        ),
        ("{ mapping = \"equidistant\", focal_x = 200 }", "lens needs `calibrated_raster`"),
    ] {
        let camera = format!("[[camera]]\nname = \"bridge\"\nlens = {lens}\n[[clip]]");
        let shoot = format!("{}camera = \"bridge\"\n", SHOOT.replace("[[clip]]", &camera));
        assert_told(&shoot, "", told);
    }
}
