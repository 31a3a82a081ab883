//! Every kind of fault, each made by one change of a file without any.

use super::{
    cases::{Case, SHOOT_CASES},
    row_cases::{MARKS_CASES, PINS_CASES},
    *,
};

pub(super) fn variant(fault: &Fault) -> String {
    let debug = format!("{:?}", fault.kind);
    debug.chars().take_while(char::is_ascii_alphanumeric).collect()
}

fn has_its_fault(case: &Case, file: &str, files: &Files) {
    let folder = tempfile::tempdir().unwrap();
    let faults = files.read_in(folder.path()).faults;
    let all = printed(&faults, folder.path());
    let place =
        if case.line == 0 { format!("{file}: ") } else { format!("{file}:{}: ", case.line) };
    let found = all.iter().zip(&faults).any(|(message, fault)| {
        message.starts_with(&place) && message.contains(case.says) && variant(fault) == case.kind
    });
    assert!(found, "`{}` should be {} at {place}{}\nfound {all:#?}", case.to, case.kind, case.says);
}

#[test]
fn each_fault_of_a_shoot_file_is_told_where_it_is_and_nothing_follows_from_it() {
    for case in SHOOT_CASES {
        let files = Files::shoot(changed(SHOOT, case.from, case.to));
        has_its_fault(case, "shoot.toml", &files);
        let faults = files.read().faults;
        assert_eq!(faults.len(), 1, "`{}`: {:#?}", case.to, printed(&faults, Path::new("")));
    }
}

#[test]
fn a_day_that_no_calendar_has_is_told() {
    let with = |day: &str| changed(SHOOT, "as_of = 2026-11-01", &format!("as_of = \"{day}\""));
    for day in ["2026-13-41", "2026-02-29", "1.11.2026", "2026-11-01T10:00:00", "10:00:00", "soon"]
    {
        let folder = tempfile::tempdir().unwrap();
        let faults = Files::shoot(with(day)).read_in(folder.path()).faults;
        let messages = printed(&faults, folder.path());
        let says =
            format!("as_of: `{day}` is no date; write a day of the calendar as year-month-day");
        assert!(messages.len() == 1 && messages[0].contains(&says), "{messages:#?}");
        assert_eq!(variant(&faults[0]), "NotADate");
    }
    for day in ["2026-11-01", "2028-02-29"] {
        assert!(Files::shoot(with(day)).read().faults.is_empty(), "{day}");
    }
}

#[test]
fn each_fault_of_a_marks_file_is_told_where_it_is() {
    for case in MARKS_CASES {
        has_its_fault(case, "marks.csv", &Files::marks(changed(MARKS, case.from, case.to)));
    }
}

#[test]
fn each_fault_of_a_pins_file_is_told_where_it_is() {
    for case in PINS_CASES {
        has_its_fault(case, "pins.csv", &Files::pins(changed(PINS, case.from, case.to)));
    }
}

#[test]
fn a_table_that_is_no_table_of_rows_is_told_once() {
    for (text, kind, says) in [
        (
            MARKS.replace(',', ";"),
            "Separator",
            "the cells are parted by semicolons; part them by commas",
        ),
        (MARKS.replace(',', "\t"), "Separator", "parted by tabs"),
        (
            "weir-bridge,0,1,2,3,4\nweir-bridge,9,1,2,3,4\n".to_owned(),
            "NoHeader",
            "marks.csv:1: the first row names no known column; it must name clip, frame, left, top",
        ),
        ("\n# nothing\n".to_owned(), "NoHeader", "marks.csv: the first row"),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let faults = Files::marks(text).read_in(folder.path()).faults;
        let messages = printed(&faults, folder.path());
        assert!(messages.len() == 1 && messages[0].contains(says), "{messages:#?}");
        assert_eq!(variant(&faults[0]), kind);
    }
}

#[test]
fn a_marks_file_that_is_no_text_is_a_fault_at_its_first_such_line() {
    let folder = tempfile::tempdir().unwrap();
    let mut bytes = MARKS.as_bytes().to_vec();
    let second_line = MARKS.find('#').unwrap();
    bytes[second_line + 2] = 0xE9;
    let faults = Files::marks(bytes).read_in(folder.path()).faults;
    let messages = printed(&faults, folder.path());
    assert_eq!(messages, ["marks.csv:2: this is not UTF-8 text; save the file as UTF-8"]);
}

#[test]
fn a_clip_that_nobody_marked_is_told_at_the_clip() {
    let folder = tempfile::tempdir().unwrap();
    let marks: String =
        MARKS.split_inclusive('\n').filter(|line| !line.starts_with("weir-helmet")).collect();
    let messages = printed(&Files::marks(marks).read_in(folder.path()).faults, folder.path());
    assert_eq!(
        messages,
        [
            "shoot.toml:40: `weir-helmet` has no marks at all; mark its subject at two frames at least"
        ]
    );
}

#[test]
fn a_text_longer_than_a_page_is_a_fault_and_not_quoted() {
    let long = "x".repeat(1001);
    let shoot = changed(SHOOT, "C0001.mp4", &long);
    let marks = changed(MARKS, "\"rail, left\"", &long);
    let files = Files { marks: Some(marks.into()), ..Files::shoot(shoot) };
    let folder = tempfile::tempdir().unwrap();
    let messages = printed(&files.read_in(folder.path()).faults, folder.path());
    assert_eq!(
        messages,
        [
            "shoot.toml:41: file: this text has 1001 characters, expected 1000 at most",
            "marks.csv:7: this text has 1001 characters, expected 1000 at most",
        ]
    );
}

#[test]
fn every_fault_of_all_three_files_is_told_at_once_in_order() {
    let mut shoot = changed(SHOOT, "timeline_rate = \"25\"", "timeline_rate = 23.976");
    shoot = changed(&shoot, "raster = \"1080x1920\"", "raster = \"9:16\"");
    shoot = changed(&shoot, "camera = \"bridge\"", "camera = \"brigde\"");
    shoot = changed(&shoot, "file = ", "flie = ");
    shoot = changed(&shoot, "margin_across = 0.08", "margin_across = 0.8");
    let marks = changed(MARKS, "weir-helmet,0,1,2", "weir-helmet,0,1,two");
    let pins = changed(PINS, "film-hd,12", "film-hd,twelve");
    let folder = tempfile::tempdir().unwrap();
    let files = Files { shoot: shoot.into(), marks: Some(marks.into()), pins: Some(pins.into()) };
    assert_eq!(
        printed(&files.read_in(folder.path()).faults, folder.path()),
        [
            "shoot.toml:2: timeline_rate: `23.976` is a rounded frame rate and drifts; write the exact fraction, 24000/1001",
            "shoot.toml:8: margin_across is 0.8, expected 0 to 0.45",
            "shoot.toml:17: raster: `9:16` is not a raster; write width x height in whole pixels, for example 4000x3000",
            "shoot.toml:29: camera: there is no camera `brigde`; did you mean `bridge`?",
            "shoot.toml:39: [[clip]] needs `frames`, a pattern such as \"frames/%05d.jpg\"; or `file`, a video, or `files`, several that follow on each other",
            "shoot.toml:41: there is no key `flie` in [[clip]]; did you mean `file`?",
            "marks.csv:8: top: `two` is not a number; write it in digits with a decimal point, for example 812.5",
            "pins.csv:2: frame: `twelve` is neither a frame nor a timecode; write a whole number from 0, or hh:mm:ss:ff",
        ]
    );
}

#[test]
fn several_places_that_are_not_toml_are_all_told_and_other_lines_are_read() {
    let mut shoot = changed(SHOOT, "outputs = \"made\"", "outputs = made");
    shoot = changed(&shoot, "name = \"bridge\"", "name =");
    shoot = changed(&shoot, "play = \"every-frame\"", "play = \"never\"");
    let faults = Files::shoot(shoot).read().faults;
    let found: Vec<_> = faults.iter().map(|fault| (fault.line, variant(fault))).collect();
    assert_eq!(
        found,
        [
            (Some(5), "Syntax".to_owned()),
            (Some(22), "Syntax".to_owned()),
            (Some(33), "NotOneOf".to_owned())
        ]
    );
}

#[test]
fn a_clip_with_a_fault_is_left_out_and_the_others_are_kept() {
    let shoot = changed(SHOOT, "play = \"every-frame\"", "play = \"never\"");
    let reading = Files::shoot(shoot).read();
    let names: Vec<&str> = reading.shoot.clips.iter().map(|clip| clip.name.as_str()).collect();
    assert_eq!(names, ["weir-helmet"]);
    assert_eq!(reading.shoot.marks.len(), 6, "its marks are not unknown");
    assert_eq!(reading.faults.len(), 1);
}

#[test]
fn a_fault_says_its_column_and_prints_no_control_characters() {
    let shoot = changed(SHOOT, "camera = \"bridge\"", "camera = \"\\u001B[2J\"");
    let faults = Files::shoot(shoot).read().faults;
    assert_eq!(faults[0].column, Some(10));
    assert!(faults[0].to_string().contains("`\u{FFFD}[2J`"), "{}", faults[0]);
}

#[test]
fn every_kind_of_fault_has_a_test() {
    let is_variant = |line: &&str| {
        line.strip_prefix("    ")
            .is_some_and(|name| name.starts_with(|c: char| c.is_ascii_uppercase()))
    };
    let source = include_str!("../kind.rs");
    let tests = [
        include_str!("before.rs"),
        include_str!("cases.rs"),
        include_str!("clauses.rs"),
        include_str!("copies.rs"),
        include_str!("faults.rs"),
        include_str!("lens.rs"),
        include_str!("motion.rs"),
        include_str!("resolve.rs"),
        include_str!("row_cases.rs"),
        include_str!("sharpness.rs"),
        include_str!("time.rs"),
    ]
    .concat();
    let variants: Vec<&str> = source
        .lines()
        .filter(is_variant)
        .map(|line| line.trim().split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap())
        .collect();
    assert!(variants.len() > 50, "{variants:?}");
    // Told in tests of their own, which do not name the kind; the last two where measured motion is joined.
    let in_words = ["NotUtf8", "NoMarks", "TooLong", "NoMotion", "StaleMotion"];
    for name in variants.iter().filter(|name| !in_words.contains(name)) {
        assert!(tests.contains(&format!("\"{name}\"")), "{name} has no test");
    }
}

#[test]
fn tables_that_must_be_there_are_asked_for_with_their_headers() {
    let head = "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\n";
    let shoot = format!("{head}[clip]\nname = \"weir-bridge\"\n");
    let folder = tempfile::tempdir().unwrap();
    let files = Files { pins: None, ..Files::shoot(shoot) };
    assert_eq!(
        printed(&files.read_in(folder.path()).faults, folder.path()),
        [
            "shoot.toml: the shoot file needs `deliverable`, one table or more, each headed [[deliverable]]",
            "shoot.toml:4: clip: this is a table, expected one table or more, each headed [[clip]]",
        ],
        "and the marks of its clips are not said to be unknown"
    );
}

#[test]
fn a_later_limit_may_put_two_in_order_again() {
    let shoot = changed(SHOOT, "margin_across = 0.08", "band_fine = 0.7\nband_hero = 0.6");
    assert_eq!(Files::shoot(&*shoot).read().faults, []);
    let shoot = changed(&shoot, "still_zone = 0.1\n", "band_hero = 0.75\n");
    let faults = Files::shoot(&*shoot).read().faults;
    assert_eq!((faults.len(), faults[0].line), (1, Some(26)), "of two deliverables, told once");
    let shoot = changed(&shoot, "margin_across = 0.1\n", "band_hero = 0.5\n");
    assert_eq!(Files::shoot(shoot).read().faults, []);
}
