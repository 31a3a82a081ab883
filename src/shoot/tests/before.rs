//! Briefs and kits: each fault is told with its place and what would mend it.

use super::{FaultKind, read_brief, read_kit};
use std::fs;

/// The variant's name, as the list of kinds has it.
fn name(kind: &FaultKind) -> String {
    let debug = format!("{kind:?}");
    debug.split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or_default().to_owned()
}

const HEAD: &str =
    "version = 1\ntimeline_rate = 25\n[[deliverable]]\nname = \"film\"\nraster = \"1920x1080\"\n";

const MOUNT: &str = "[[mount]]\nname = \"bow\"\nmode = \"tall\"\nheight = 1\ntilt_down = 0\n";

fn of_brief(text: &str) -> Vec<(Option<u64>, String)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("brief.toml");
    fs::write(&path, format!("{HEAD}{text}")).unwrap();
    let faults = read_brief(&path).unwrap().faults;
    faults.iter().map(|fault| (fault.line, name(&fault.kind))).collect()
}

fn of_kit(text: &str) -> Vec<(Option<u64>, String)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("kit.csv");
    fs::write(&path, text).unwrap();
    let faults = read_kit(&path).unwrap().faults;
    faults.iter().map(|fault| (fault.line, name(&fault.kind))).collect()
}

#[test]
fn a_brief_needs_deliverables_and_nothing_else() {
    assert_eq!(of_brief(""), []);
    assert_eq!(of_brief("marks = \"marks.csv\"\n").len(), 1, "marks stand above the tables");
    let whole = format!(
        "[[must]]\nenlargement = 1\n{MOUNT}[day]\ncelsius = -5\n[[viewer]]\nname = \"phone\"\nscreen_width = 70\ndistance = 300\n"
    );
    assert_eq!(of_brief(&whole), []);
}

#[test]
fn every_fault_of_a_brief_is_told_at_its_line() {
    let subject = |more: &str| {
        format!("{MOUNT}subject = {{ width = 1, height = 1, distances = [2], {more} }}\n")
    };
    for (text, line, kind) in [
        ("[[must]]\n".to_owned(), 6, "MustOfNothing"),
        ("[[must]]\nshake = { yaw = 1 }\n".to_owned(), 6, "Missing"),
        ("[[must]]\ndeliverables = [\"square\"]\nenlargement = 1\n".to_owned(), 7, "UnknownName"),
        (MOUNT.replace("height = 1", "height = 0"), 9, "Mount"),
        (MOUNT.replace("height = 1\n", ""), 6, "Missing"),
        (subject("speed = -1, way = \"along\""), 11, "Mount"),
        (subject("speed = 1"), 11, "Missing"),
        (subject("way = \"along\"").replace("[2]", "[1, 2, 3, 4]"), 11, "TooManyDistances"),
        (format!("{MOUNT}rig = [{{ left = 0, top = 0, width = 0, height = 5 }}]\n"), 11, "NoSize"),
        (
            format!(
                "{MOUNT}rig = [{}]\n",
                vec!["{ left = 0, top = 0, width = 9, height = 5 }"; 25].join(", ")
            ),
            11,
            "TooManyRigParts",
        ),
        (format!("{MOUNT}{}", MOUNT), 12, "DuplicateName"),
        (
            "[[must]]\nway_up = \"upright\"\n[[must]]\nway_up = \"on-its-side\"\n".to_owned(),
            8,
            "WaysUp",
        ),
        ("[day]\nstarts_at = \"24:00\"\n".to_owned(), 7, "NotAClockTime"),
        ("[day]\ncard_gb = 0\n".to_owned(), 7, "Capture"),
        ("[day]\nfilters = [3, 99]\n".to_owned(), 7, "OutOfRange"),
        ("[[viewer]]\nname = \"wall\"\nscreen_width = 0\ndistance = 3\n".to_owned(), 6, "NoScreen"),
    ] {
        assert_eq!(of_brief(&text), [(Some(line), kind.to_owned())], "{text}");
    }
}

const COLUMNS: &str =
    "camera,mode,raster,rate,mbit_s,mapping,fov_degrees,fov_along,inside_crop,inside_crop_of\n";

#[test]
fn every_fault_of_a_kit_is_told_at_its_row() {
    for (rows, line, kind) in [
        ("", None, "NoModes"),
        ("c,m,4000x3000,25,,,,,,\nc,m,4000x3000,50,,,,,,\n", Some(3), "ModeTwice"),
        ("c,m,4000x3000,25,,,,,0.1,\n", Some(2), "KitCropOfWhat"),
        ("c,m,4000x3000,25,,,,,,side\n", Some(2), "KitOfNothing"),
        ("c,m,4000x3000,25,,,,horizontal,,\n", Some(2), "KitOfNothing"),
        ("c,m,4000x3000,25,,,,,much,\n", Some(2), "NotANumber"),
        ("c,m,4000x3000,25,,,90,,,\n", Some(2), "KitFieldAlongWhat"),
        ("c,m,4000x3000,25,,rectilinear,175,horizontal,,\n", Some(2), "Lens"),
        ("c,m,4000x3000,29.97,,,,,,\n", Some(2), "Timecode"),
        (",m,4000x3000,25,,,,,,\n", Some(2), "Empty"),
    ] {
        assert_eq!(of_kit(&format!("{COLUMNS}{rows}")), [(line, kind.to_owned())], "{rows}");
    }
    assert_eq!(
        of_kit(&format!("{COLUMNS}c,m,4000x3000,25,120,unknown,90,diagonal,0.1,area\n")),
        []
    );
}

#[test]
fn a_mode_that_is_not_there_is_told_with_those_that_are() {
    let kind = FaultKind::unknown_mode("tall-5", ["tall-50", "uhd-100"].into_iter());
    assert_eq!(name(&kind), "UnknownMode");
    assert_eq!(kind.to_string(), "there is no mode `tall-5` in the kit; did you mean `tall-50`?");
    let titles = "\"bow tall-50\", \"stern tall-50\"".to_owned();
    let several = FaultKind::ModeOfSeveral { mode: "tall-50".to_owned(), titles };
    assert_eq!(name(&several), "ModeOfSeveral");
    assert_eq!(
        several.to_string(),
        "several cameras of the kit have a mode `tall-50`; write which, camera and mode: \"bow tall-50\", \"stern tall-50\""
    );
    let blind = FaultKind::NoFieldOfView { mode: "tall-50".to_owned() };
    assert_eq!(name(&blind), "NoFieldOfView");
    assert!(blind.to_string().contains("write fov_degrees and fov_along there"));
}
