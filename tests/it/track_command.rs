//! `lookroom track` on the demo: the subject is followed from fewer marks than a person would set, held against the boxes
//! that the demo's drawing program wrote, and a plan uses what was followed as long as nothing has changed.

use crate::command::{demo, lookroom_in, stderr, stdout};
use lookroom::{geometry::Region, subject::overlap};
use std::{
    fs,
    path::{Path, PathBuf},
};

/// A copy of the demo with some of its marks.
fn copy(keep: impl Fn(&str) -> bool) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let to = |name: &str| folder.path().join(name);
    fs::copy(demo().join("shoot.toml"), to("shoot.toml")).unwrap();
    fs::create_dir(to("frames")).unwrap();
    for entry in fs::read_dir(demo().join("frames")).unwrap() {
        let path: PathBuf = entry.unwrap().path();
        fs::copy(&path, to("frames").join(path.file_name().unwrap())).unwrap();
    }
    let marks = fs::read_to_string(demo().join("marks.csv")).unwrap();
    let kept: Vec<&str> = marks.lines().filter(|row| keep(row)).collect();
    fs::write(to("marks.csv"), kept.join("\n") + "\n").unwrap();
    folder
}

/// The boxes of a table, by its columns of these names.
fn boxes(path: &Path, columns: [&str; 4]) -> Vec<Region> {
    let mut table = csv::Reader::from_path(path).unwrap();
    let heading = table.headers().unwrap().clone();
    let places = columns.map(|name| heading.iter().position(|at| at == name).unwrap());
    let rows = table.records().map(|row| {
        let row = row.unwrap();
        let [left, top, width, height] = places.map(|at| row[at].parse::<f64>().unwrap());
        Region::new(left, top, width, height).unwrap()
    });
    rows.collect()
}

fn run(folder: &Path, arguments: &[&str]) -> String {
    let output = lookroom_in(folder, arguments);
    assert!(output.status.success(), "{}", stderr(&output));
    stdout(&output) + &stderr(&output)
}

#[test]
fn from_a_mark_at_each_end_the_paddler_is_followed_nearer_than_a_straight_line() {
    let ends =
        |row: &str| row.starts_with("clip,") || row.contains(",0,172") || row.contains(",199,");
    let folder = copy(ends);
    let said = run(folder.path(), &["track", "shoot.toml"]);
    assert!(said.contains("paddler: a box on 200 of 200 frames"), "{said}");
    let truth = boxes(&demo().join("boxes.csv"), ["left", "top", "width", "height"]);
    let table = folder.path().join("tracks/weir-bridge_track.csv");
    let followed = boxes(&table, ["left_px", "top_px", "width_px", "height_px"]);
    assert_eq!(followed.len(), truth.len());
    let mean = |boxes: &[Region]| {
        let shared = boxes.iter().zip(&truth).map(|(one, other)| overlap(one, other));
        shared.sum::<f64>() / 200.0
    };
    let (first, last) = (truth[0], truth[199]);
    let line: Vec<Region> = (0..200).map(|k| first.between(&last, f64::from(k) / 199.0)).collect();
    let (followed, line) = (mean(&followed), mean(&line));
    eprintln!("mean overlap {followed:.3} followed, {line:.3} on a straight line");
    assert!(followed > 0.75 && followed > line + 0.1, "{followed} against {line}");
    assert!(folder.path().join("tracks/weir-bridge_track-strip.png").exists());
}

#[test]
fn a_plan_uses_a_track_until_the_marks_change_and_a_table_changed_by_hand_is_kept() {
    let folder = copy(|_| true);
    let path = folder.path();
    let straight = run(path, &["plan", "shoot.toml", "--json"]);
    run(path, &["track", "shoot.toml"]);
    let again = run(path, &["track", "shoot.toml"]);
    assert!(
        again.contains("followed before, from these marks and this footage; left as it is"),
        "{again}"
    );
    let followed = run(path, &["plan", "shoot.toml", "--json"]);
    assert_ne!(straight, followed, "the track is in the plan");

    // A row changed by hand is used.
    let table = path.join("tracks/weir-bridge_track.csv");
    let text = fs::read_to_string(&table).unwrap();
    let row = text.lines().find(|row| row.starts_with("60,")).unwrap().to_owned();
    fs::write(&table, text.replace(&row, "60,paddler,700,100,200,80,1")).unwrap();
    assert_ne!(run(path, &["plan", "shoot.toml", "--json"]), followed);
    let told = "weir-bridge_track.csv was changed by hand and is used as it is";
    for command in ["plan", "track"] {
        let said = run(path, &[command, "shoot.toml"]);
        assert!(said.contains(told), "{said}");
    }

    // With other marks the track is passed over, and following them again leaves the changed table alone.
    let marks = fs::read_to_string(path.join("marks.csv")).unwrap();
    fs::write(path.join("marks.csv"), marks.replace("100,593,533", "100,594,533")).unwrap();
    let said = run(path, &["plan", "shoot.toml"]);
    assert!(
        said.contains("the track of clip weir-bridge was made from other marks or footage"),
        "{said}"
    );
    let said = run(path, &["track", "shoot.toml"]);
    let kept = "weir-bridge_track.csv was changed by hand and is left alone; the new one is weir-bridge_track.new.csv";
    assert!(said.contains(kept), "{said}");
    assert!(fs::read_to_string(&table).unwrap().contains("60,paddler,700,100"), "nothing is lost");

    // What was followed from these marks is used, and which one that is is said; it is for a person to delete one.
    let said = run(path, &["plan", "shoot.toml"]);
    let told = "weir-bridge_track.csv was changed by hand and then made anew: weir-bridge_track.new.csv is used";
    assert!(said.contains(told), "{said}");
    fs::remove_file(path.join("tracks/weir-bridge_track.new.csv")).unwrap();
    let said = run(path, &["plan", "shoot.toml"]);
    assert!(
        said.contains("weir-bridge_track.csv was changed by hand and is used as it is"),
        "{said}"
    );

    fs::write(&table, text.replace(&row, "60,paddler,700,100,200,x,1")).unwrap();
    let output = lookroom_in(path, &["plan", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(1));
    let line = text.lines().position(|line| line == row).unwrap() + 1;
    let says = format!("line {line}: height_px is `x`, expected a number");
    assert!(stderr(&output).contains(&says), "{}", stderr(&output));
}
