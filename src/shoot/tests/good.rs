use super::*;
use crate::{
    clip::{Footage, Play},
    delivery::{Limit, Origin},
    geometry::{Region, Rounding},
    shoot::{Moment, ShootError, Trim},
    subject::MarkKind,
    timecode::FrameIndex,
};

#[test]
fn a_shoot_without_a_fault_is_read_as_it_was_written() {
    let folder = tempfile::tempdir().unwrap();
    let shoot = Files::default().read_in(folder.path()).checked().unwrap();
    assert_eq!(shoot.outputs, folder.path().join("made"));
    assert_eq!(shoot.timeline_rate, FrameRate::new(25, 1).unwrap());
    let [film, vertical] = shoot.deliverables.as_slice() else { panic!("two deliverables") };
    assert_eq!((film.rounding, vertical.rounding), (Rounding::EvenExactShape, Rounding::Even));
    assert_eq!((film.blocked.top, film.blocked.right), (0.12, 0.1));
    assert_eq!(film.blocked.as_of.as_deref(), Some("2026-11-01"));
    assert_eq!(vertical.shape().to_string(), "9:16");
    let trim = Trim { left: 16.0, top: 0.0, right: 16.5, bottom: 0.0 };
    assert_eq!(shoot.camera_of(bridge(&shoot)).unwrap().trim, trim);
    let [bridge, helmet] = shoot.clips.as_slice() else { panic!("two clips") };
    assert_eq!(bridge.footage, Footage::Sequence(folder.path().join("frames/%05d.jpg")));
    assert_eq!((bridge.play, helmet.play), (Play::EveryFrame, Play::RealTime));
    assert_eq!((bridge.line, helmet.line), (27, 39));
    assert_eq!(bridge.deliverables, ["film-hd", "vertical"], "all that there are");
    assert_eq!(bridge.ranges[1].from, Moment::Timecode("10:12:36:00".to_owned()));
    assert_eq!(bridge.ranges[1].to, Moment::Frame(FrameIndex(200)));
    assert_eq!(helmet.footage, Footage::video(folder.path().join("C0001.mp4")));
    assert_eq!((helmet.rate, helmet.deliverables.len()), (None, 1));
}

#[test]
fn marks_and_pins_are_read_with_their_lines_and_defaults() {
    let shoot = Files::default().read().checked().unwrap();
    let kinds: Vec<_> = shoot.marks.iter().map(|m| (m.line, m.kind, m.name.as_str())).collect();
    assert_eq!(
        kinds,
        [
            (3, MarkKind::Subject, "paddler"),
            (4, MarkKind::Subject, "paddler"),
            (6, MarkKind::Gone, "paddler"),
            (7, MarkKind::KeepOut, "rail, left"),
            (8, MarkKind::Subject, "subject"),
            (9, MarkKind::Subject, "subject"),
        ]
    );
    assert_eq!(shoot.marks[1].region, Region::new(2000.5, 200.0, 300.0, 400.0));
    assert_eq!(shoot.marks[2].region, None);
    let [film, vertical] = shoot.pins.as_slice() else { panic!("two pins") };
    assert_eq!((film.line, film.width, film.height), (2, 1600.0, Some(900.0)));
    assert_eq!((vertical.left, vertical.height), (20.0, None));
}

#[test]
fn each_limit_is_that_of_the_last_layer_that_sets_it() {
    let shoot = Files::default().read().checked().unwrap();
    let found = |clip: &str, deliverable: &str, limit| {
        let deliverable = shoot.deliverable(deliverable).unwrap();
        let limits = shoot.limits_for(shoot.clip(clip).unwrap(), deliverable);
        (limits.value(limit), limits.origin(limit))
    };
    let margin = Limit::MarginAcross;
    assert_eq!(found("weir-helmet", "film-hd", margin), (Some(0.08), Origin::Shoot));
    assert_eq!(found("weir-bridge", "film-hd", margin), (Some(0.1), Origin::Clip));
    assert_eq!(found("weir-bridge", "vertical", margin), (Some(0.2), Origin::ClipDeliverable));
    let still = Limit::StillZone;
    assert_eq!(found("weir-bridge", "film-hd", still), (Some(0.1), Origin::Camera));
    assert_eq!(found("weir-bridge", "vertical", still), (Some(0.2), Origin::Deliverable));
    assert_eq!(found("weir-helmet", "film-hd", still), (Some(0.12), Origin::Default));
    assert_eq!(found("weir-helmet", "film-hd", Limit::PanCaution), (None, Origin::Shoot));
    let handles = shoot.clip_limits(bridge(&shoot));
    assert_eq!(handles.number(Limit::HandleSecs), 2.0);
    assert_eq!(handles.origin(Limit::StillZone), Origin::Camera, "no deliverable's");
}

#[test]
fn a_byte_order_mark_and_line_ends_of_two_bytes_change_nothing_but_the_hashes() {
    let plain = Files::default();
    let dressed = |text: &str| format!("\u{FEFF}{}", text.replace('\n', "\r\n")).into_bytes();
    let other =
        Files { shoot: dressed(SHOOT), marks: Some(dressed(MARKS)), pins: Some(dressed(PINS)) };
    let folder = tempfile::tempdir().unwrap();
    let plain = plain.read_in(folder.path()).checked().unwrap();
    let other = other.read_in(folder.path()).checked().unwrap();
    assert_ne!(plain.hashes, other.hashes);
    assert_eq!(plain, Shoot { hashes: plain.hashes.clone(), ..other });
}

#[test]
fn the_hashes_are_those_of_the_bytes() {
    // SHA-256 of no bytes at all: FIPS 180-4 example values.
    let empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
    let files = Files { pins: Some(Vec::new()), ..Files::default() };
    assert_eq!(files.read().shoot.hashes.pins.as_deref(), Some(empty));
}

#[test]
fn a_rate_may_be_a_whole_number_and_columns_may_stand_in_any_order() {
    let shoot = changed(SHOOT, "timeline_rate = \"25\"", "timeline_rate = 50");
    let marks = "\
        height , kind,frame,clip,width,top,left\n\
        40,,7,weir-bridge,30,20,10\n\
        ,gone,8,weir-bridge,,,\n\
        ,,,,,,\n\
        4,subject,0,weir-helmet,3,2,1\n";
    let files = Files { marks: Some(marks.into()), ..Files::shoot(shoot) };
    let shoot = files.read().checked().unwrap();
    assert_eq!(shoot.timeline_rate, FrameRate::new(50, 1).unwrap());
    assert_eq!(shoot.marks[0].region, Region::new(10.0, 20.0, 30.0, 40.0));
    assert_eq!(shoot.marks[2].line, 5);
}

#[test]
fn what_may_be_left_out_has_its_default() {
    let shoot = "version = 1\ntimeline_rate = \"24000/1001\"\nmarks = \"marks.csv\"\n\
        [[deliverable]]\nname = \"a\"\nraster = \"1x1\"\n[[clip]]\nname = \"weir-bridge\"\nfile = \"b\"\n";
    let marks = MARKS.replace("weir-helmet", "weir-bridge");
    let folder = tempfile::tempdir().unwrap();
    let files = Files { shoot: shoot.into(), marks: Some(marks.into()), pins: None };
    let shoot = files.read_in(folder.path()).checked().unwrap();
    assert_eq!(shoot.outputs, folder.path().join("out"));
    assert_eq!(shoot.deliverables[0].rounding, Rounding::Even);
    assert!(shoot.deliverables[0].blocked.is_empty());
    assert_eq!((shoot.pins_path, shoot.hashes.pins), (None, None));
    assert_eq!(shoot.clips[0].ranges, []);
}

#[test]
fn only_a_shoot_file_that_cannot_be_read_at_all_is_an_error() {
    let folder = tempfile::tempdir().unwrap();
    let missing = read(&folder.path().join("shoot.toml")).unwrap_err();
    assert!(matches!(missing, ShootError::Open { .. }), "{missing}");
    fs::write(folder.path().join("shoot.toml"), b"version = 1\nmarks = \"\xFF\"\n").unwrap();
    let not_text = read(&folder.path().join("shoot.toml")).unwrap_err();
    assert!(matches!(not_text, ShootError::NotUtf8 { line: 2, .. }), "{not_text}");
    // One message in place of one a row.
    fs::write(folder.path().join("marks.csv"), MARKS).unwrap();
    let table = read(&folder.path().join("marks.csv")).unwrap_err();
    assert!(matches!(table, ShootError::Table { .. }), "{table}");
    assert!(table.to_string().contains("name the TOML file that names it"), "{table}");
}
