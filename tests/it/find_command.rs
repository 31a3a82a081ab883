//! `lookroom find`: where the action is in a clip that nobody marked, or that nothing is to be told.

use crate::{
    command::{demo, lookroom_in, stderr, stdout},
    footage,
};
use serde_json::Value;
use std::{fs, path::Path};

fn answer(folder: &Path, arguments: &[&str]) -> (Value, Option<i32>) {
    let all: Vec<&str> = ["find"].iter().chain(arguments).chain(&["--json"]).copied().collect();
    let output = lookroom_in(folder, &all);
    assert!(stderr(&output).is_empty(), "{}", stderr(&output));
    (serde_json::from_str(&stdout(&output)).unwrap(), output.status.code())
}

#[test]
fn a_still_picture_repeated_gives_no_suggestion() {
    let folder = tempfile::tempdir().unwrap();
    let still = demo().join("frames/00100.jpg");
    for frame in 0..40 {
        fs::copy(&still, folder.path().join(format!("{frame:03}.jpg"))).unwrap();
    }
    let (told, status) = answer(folder.path(), &[".", "--rate", "25"]);
    assert_eq!(status, Some(3), "{told}");
    assert_eq!(told["shots"].as_array().map(Vec::len), Some(1));
    assert_eq!(told["shots"][0]["windows"], serde_json::json!([null, null, null]));
}

/// The two clips one after the other: the join is found, and each is answered for itself.
#[test]
fn a_clip_that_is_cut_is_looked_at_shot_by_shot_and_the_picture_is_never_written_over() {
    let Some(boxed) = footage::folder().map(|folder| folder.join("boxed")) else { return };
    let folder = tempfile::tempdir().unwrap();
    let mut number = 0;
    for clip in ["scooter-black", "motocross-jump"] {
        for frame in 0..40 {
            let to = folder.path().join(format!("{number:03}.jpg"));
            fs::copy(boxed.join(clip).join(format!("{frame:05}.jpg")), to).unwrap();
            number += 1;
        }
    }
    let picture = tempfile::tempdir().unwrap();
    let picture = picture.path().join("action.png");
    let arguments =
        [".", "--rate", "24", "--deliver", "270x480", "--picture", picture.to_str().unwrap()];
    let (told, status) = answer(folder.path(), &arguments);
    assert_eq!(status, Some(0), "{told}");
    let shots = told["shots"].as_array().unwrap();
    let frames: Vec<&Value> = shots.iter().map(|shot| &shot["frames"]).collect();
    assert_eq!(frames, [&serde_json::json!([0, 40]), &serde_json::json!([40, 80])]);
    for shot in shots {
        let window = &shot["windows"][0];
        let (kept, centred) = (window["kept_share"].as_f64(), window["centred_share"].as_f64());
        assert!(kept.unwrap() >= centred.unwrap() && kept.unwrap() <= 1.0, "{window}");
        assert!((window["window_px"][2].as_f64().unwrap() - 270.0).abs() < 1e-9, "{window}");
    }
    assert_eq!(image::open(&picture).unwrap().width(), 854);
    let all: Vec<&str> = ["find"].iter().chain(&arguments).copied().collect();
    let again = lookroom_in(folder.path(), &all);
    assert_eq!(again.status.code(), Some(1));
    assert!(
        stderr(&again).contains("is there already and is left alone; name another file"),
        "{}",
        stderr(&again)
    );
}
