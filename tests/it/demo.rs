//! The demo: planned as the README says, and read back by a reader in another language.

use crate::{
    command::{demo, lookroom_in, stderr, stdout},
    python,
};
use lookroom::{
    geometry::Region,
    subject::{Mark, MarkKind, tracks_from_marks},
    timecode::FrameIndex,
};
use std::{fs, path::Path};

/// The demo planned into a folder of its own; what was printed.
fn planned(into: &Path) -> String {
    let out = into.to_str().expect("a plain path");
    let output = lookroom_in(&demo(), &["plan", "shoot.toml", "--out", out, "--overlays", "0,100"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    stdout(&output)
}

#[test]
fn the_demo_gives_every_file_and_refuses_the_shape_it_cannot_have() {
    let folder = tempfile::tempdir().unwrap();
    let text = planned(folder.path());
    for deliverable in ["film-hd", "vertical", "square", "portrait"] {
        for what in ["every-frame.csv", "keys.csv", "asked.csv", "conventions.txt"] {
            let name = format!("weir-bridge_{deliverable}_{what}");
            assert!(folder.path().join(&name).is_file(), "{name}");
        }
    }
    for name in [
        "report.json",
        "report.txt",
        "weir-bridge_proof-sheet.png",
        "weir-bridge_frame-000100_overlay.png",
    ] {
        assert!(folder.path().join(name).is_file(), "{name}");
    }
    // 3840 px within enlargement 2 is 1920 px, and the capture is 1440 px wide.
    assert!(text.contains("film-uhd  not in this shape"), "{text}");
    assert!(text.contains("480 px missing"), "{text}");
    assert!(!folder.path().join("weir-bridge_film-uhd_keys.csv").exists());
}

#[test]
fn a_reader_in_another_language_rebuilds_every_window_from_the_keys() {
    if !python::has(&[]) {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    planned(folder.path());
    for deliverable in ["film-hd", "vertical", "square", "portrait"] {
        let path = |what: &str| {
            let name = format!("weir-bridge_{deliverable}_{what}.csv");
            folder.path().join(name).to_str().unwrap().to_owned()
        };
        let (keys, every_frame) = (path("keys"), path("every-frame"));
        let report: serde_json::Value = serde_json::from_str(&python::run(
            "reader/rebuild_windows.py",
            &[&keys, &every_frame],
            "",
        ))
        .unwrap();
        assert_eq!(report["frames_in_table"], 200);
        for set in ["corner and size", "centre and scale", "offset and scale"] {
            let (worst, overhang) = (&report[set]["worst_error_px"], &report[set]["overhang_px"]);
            eprintln!(
                "{deliverable}, {set}: error {worst} delivered px, over the frame {overhang} px"
            );
            assert_eq!(report[set]["frames"], 200);
            assert!(worst.as_f64().unwrap() <= 0.5, "{deliverable}, {set}: {worst}");
            assert!(overhang.as_f64().unwrap() <= 0.001, "{deliverable}, {set}: {overhang}");
        }
    }
}

#[test]
fn the_demos_marks_are_its_true_boxes() {
    let rows = |name: &str| fs::read_to_string(demo().join(name)).unwrap();
    let boxes = rows("boxes.csv");
    let truth: Vec<Vec<f64>> = boxes
        .lines()
        .skip(1)
        .map(|row| row.split(',').map(|n| n.parse().unwrap()).collect())
        .collect();
    assert_eq!(truth.len(), 200);
    let marks: Vec<Mark> = rows("marks.csv")
        .lines()
        .skip(1)
        .map(|row| {
            let numbers: Vec<f64> =
                row.split(',').skip(1).take(5).map(|n| n.parse().unwrap()).collect();
            let frame = truth.iter().find(|t| t[0] == numbers[0]).unwrap();
            assert_eq!(numbers, *frame, "a mark is a true box");
            Mark {
                frame: FrameIndex(row.split(',').nth(1).unwrap().parse().unwrap()),
                name: "paddler".to_owned(),
                kind: MarkKind::Subject,
                region: Region::new(numbers[1], numbers[2], numbers[3], numbers[4]),
                weight: None,
            }
        })
        .collect();
    // Straight lines between marks a second apart miss a shaken camera's subject by a few px, not by many.
    let track = &tracks_from_marks(&marks).unwrap()[0];
    for (frame, t) in truth.iter().enumerate() {
        let sighted =
            track.at(FrameIndex(frame as u64)).expect("tracked from the first mark to the last");
        let off = (sighted.region.centre_x() - (t[1] + t[3] / 2.0)).abs();
        assert!(off < 40.0, "frame {frame}: {off} px off");
    }
}

#[test]
fn overlays_that_are_not_asked_for_again_are_said_to_be_removed() {
    let folder = tempfile::tempdir().unwrap();
    let first = planned(folder.path());
    assert!(!first.contains("REMOVED"), "{first}");
    let out = folder.path().to_str().unwrap();
    let again = lookroom_in(&demo(), &["plan", "shoot.toml", "--out", out, "--overlays", "100"]);
    let again = stdout(&again);
    let (_, told) = again.split_once("\nREMOVED").expect("what was removed is told");
    assert!(told.contains("  weir-bridge_frame-000000_overlay.png\n"), "{told}");
    assert!(!told.contains("frame-000100"), "{told}");
    assert!(!folder.path().join("weir-bridge_frame-000000_overlay.png").exists());
    assert!(folder.path().join("weir-bridge_frame-000100_overlay.png").exists());
}

/// Marks at frames 0 and 25 of 200: nothing is guessed on the other 174, and no summary says "fits" of them.
#[test]
fn a_subject_that_is_known_on_few_frames_is_the_first_thing_said() {
    let folder = tempfile::tempdir().unwrap();
    let frames = demo().join("frames/%05d.jpg");
    let shoot = format!(
        "version = 1\ntimeline_rate = \"25\"\nmarks = \"marks.csv\"\n[[deliverable]]\nname = \"portrait\"\nraster = \"1080x1350\"\n\
         [[clip]]\nname = \"weir-bridge\"\nframes = {:?}\nrate = \"25\"\n",
        frames.to_str().unwrap()
    );
    fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
    let marks = fs::read_to_string(demo().join("marks.csv")).unwrap();
    let two: Vec<&str> = marks.lines().take(3).collect();
    fs::write(folder.path().join("marks.csv"), two.join("\n")).unwrap();
    let text = stdout(&lookroom_in(folder.path(), &["plan", "shoot.toml"]));
    let ranked = text.lines().find(|line| line.contains("weir-bridge  portrait")).unwrap();
    assert!(ranked.contains("look at it"), "{text}");
    assert!(ranked.contains("the subject is tracked on only 26 of 200 used frames"), "{text}");
}
