//! Every kind of fault, each made by one change of a file without any.

use super::*;

/// A change of a file, and what comes of it: the only fault, its line (0 for the file as a whole), its kind,
/// and words of its message.
struct Case {
    from: &'static str,
    to: &'static str,
    line: u64,
    kind: &'static str,
    says: &'static str,
}

const fn case(
    from: &'static str,
    to: &'static str,
    line: u64,
    kind: &'static str,
    says: &'static str,
) -> Case {
    Case { from, to, line, kind, says }
}

const SHOOT_CASES: &[Case] = &[
    case(
        "version = 1\n",
        "",
        0,
        "Missing",
        "the shoot file needs `version`, for example version = 1",
    ),
    case(
        "version = 1\n",
        "version = 2\n",
        1,
        "Version",
        "version 2 is not read here, only version 1",
    ),
    case(
        "version = 1\n",
        "version = \"1\"\n",
        1,
        "WrongType",
        "version: this is a text, expected a whole number",
    ),
    case("version = 1\n", "version = 0x1\n", 1, "NotWhole", "`0x1` is not a whole number"),
    case(
        "timeline_rate = \"25\"",
        "timeline_rate = 29.97",
        2,
        "Timecode",
        "timeline_rate: `29.97` is a rounded frame rate and drifts; write the exact fraction, 30000/1001",
    ),
    case(
        "timeline_rate = \"25\"",
        "timeline_rate = \"fast\"",
        2,
        "Timecode",
        "`fast` is not a frame rate",
    ),
    case(
        "timeline_rate = \"25\"",
        "timeline_rate = [25]",
        2,
        "WrongType",
        "a list, expected a rate",
    ),
    case("timeline_rate = \"25\"\n", "", 0, "Missing", "needs `timeline_rate`"),
    case("marks = \"marks.csv\"\n", "", 0, "Missing", "needs `marks`"),
    case(
        "marks.csv",
        "marks.txt",
        3,
        "CannotOpen",
        "marks.txt cannot be opened: there is no such file",
    ),
    case("pins.csv", ".", 4, "CannotOpen", "it is a folder"),
    case(
        "outputs = \"made\"",
        "outputs = \" \"",
        5,
        "Empty",
        "outputs: this is empty, expected a text",
    ),
    case(
        "rounding = \"even\"\n",
        "rounding = \"evn\"\n",
        6,
        "NotOneOf",
        "`evn` is not known; write exact, even, even-exact-shape (did you mean `even`?)",
    ),
    case(
        "margin_across = 0.08",
        "margin_across = 8",
        8,
        "Limit",
        "margin_across is 8, expected 0 to 0.45",
    ),
    case(
        "margin_across = 0.08",
        "margin_accross = 0.08",
        8,
        "Limit",
        "there is no limit `margin_accross`; did you mean `margin_across`?",
    ),
    case(
        "margin_across = 0.08",
        "margin_across = \"off\"",
        8,
        "Limit",
        "margin_across cannot be off",
    ),
    case(
        "margin_across = 0.08",
        "margin_across = nan",
        8,
        "NotANumber",
        "limits.margin_across: `nan` is not a number",
    ),
    case(
        "margin_across = 0.08",
        "margin_across = true",
        8,
        "WrongType",
        "expected a number, or \"off\"",
    ),
    case(
        "margin_across = 0.08",
        "band_fine = 0.7",
        8,
        "LimitOrder",
        "`band_hero` is 0.8 (default) and `band_fine` 0.7 (shoot); the first must not be above",
    ),
    case(
        "greatest_enlargement = 1.2",
        "pan_caution = 3",
        19,
        "LimitOrder",
        "`pan_hard` is 5 (default) and `pan_caution` 3 (deliverable) for weir-bridge as vertical",
    ),
    case(
        "[clip.limits]\nmargin_across = 0.1",
        "[clip.limits]\ntight_share = 0.999",
        36,
        "LimitOrder",
        "for weir-bridge as film-hd",
    ),
    case(
        "still_zone = 0.2\n",
        "handle_secs = 2\n",
        20,
        "NotPerDeliverable",
        "`handle_secs` belongs to the clip",
    ),
    case("raster = \"1920x1080\"", "raster = \"1080p\"", 12, "Geometry", "`1080p` is not a raster"),
    case(
        "raster = \"1920x1080\"",
        "raster = \"1920x0\"",
        12,
        "Geometry",
        "a raster side of 0 px is outside 1 to 32768 px",
    ),
    case(
        "top = 0.12",
        "top = 0.91",
        14,
        "OutOfRange",
        "blocked.top: 0.91 is out of range, expected 0 to 0.9",
    ),
    case(
        "top = 0.12",
        "top = 0.8",
        14,
        "AllBlocked",
        "top and bottom block 1 of the picture together, expected less than 0.95",
    ),
    case(
        "top = 0.12",
        "tpo = 0.12",
        14,
        "UnknownKey",
        "no key `tpo` in blocked; did you mean `top`?",
    ),
    case(
        "name = \"vertical\"",
        "name = \"Film-HD\"",
        16,
        "DuplicateName",
        "the deliverable name `Film-HD` is already used on line 11",
    ),
    case(
        "name = \"bridge\"",
        "name = \"the bridge\"",
        22,
        "BadName",
        "name: `the bridge` is not a name",
    ),
    case(
        "camera = \"bridge\"",
        "camera = \"bridg\"",
        29,
        "UnknownName",
        "there is no camera `bridg`; did you mean `bridge`?",
    ),
    case(
        "left = 16",
        "left = -16",
        23,
        "OutOfRange",
        "trim.left: -16 is out of range, expected 0 to 32768",
    ),
    case(
        "trim = {",
        "inset = {",
        23,
        "UnknownKey",
        "there is no key `inset` in [[camera]]; there are name, trim, limits",
    ),
    case(
        "file = \"C0001.mp4\"",
        "file = \"C0001.mp4\"\nframes = \"a\"\nrate = 25",
        41,
        "Both",
        "[[clip]] has both `frames` and `file`",
    ),
    case("file = \"C0001.mp4\"\n", "", 39, "Missing", "[[clip]] needs `frames`, a pattern"),
    case(
        "file = \"C0001.mp4\"",
        "frames = \"a\"",
        39,
        "Missing",
        "needs `rate`, since pictures do not have one",
    ),
    case("10:12:30:00", "10:12", 32, "Timecode", "start_timecode: `10:12` is not a timecode"),
    case(
        "every-frame",
        "slow",
        33,
        "NotOneOf",
        "play: `slow` is not known; write real-time, every-frame",
    ),
    case("[\"film-hd\"]", "[]", 42, "Empty", "deliverables: this is empty, expected a list"),
    case(
        "[\"film-hd\"]",
        "[\"film\"]",
        42,
        "UnknownName",
        "there is no deliverable `film`; did you mean `film-hd`?",
    ),
    case(
        "[\"film-hd\"]",
        "[\"film-hd\", \"film-hd\"]",
        42,
        "ListedTwice",
        "`film-hd` is in this list twice",
    ),
    case(
        "{ from = 0, to = 100 }",
        "{ from = 100, to = 0 }",
        34,
        "Timecode",
        "ranges: the range 100 to 0 holds no frame",
    ),
    case(
        "{ from = 0, to = 100 }",
        "{ from = 5, to = 5 }",
        34,
        "Timecode",
        "the range 5 to 5 holds no frame",
    ),
    case("{ from = 0, to = 100 }", "{ to = 100 }", 34, "Missing", "needs `from`, the first frame"),
    case(
        "{ from = 0, to = 100 }",
        "{ from = 0, to = 100, at = 3 }",
        34,
        "UnknownKey",
        "no key `at`",
    ),
    case(
        "{ from = 0, to = 100 }",
        "{ from = -1, to = 100 }",
        34,
        "NotWhole",
        "from: `-1` is not a whole number",
    ),
    case(
        "{ from = 0, to = 100 }",
        "{ from = \"first\", to = 100 }",
        34,
        "NotAMoment",
        "from: `first` is neither a frame nor a timecode",
    ),
    case(
        "{ from = 0, to = 100 }",
        "{ from = 0, to = 100 }, { from = 99, to = 120 }",
        34,
        "RangesOverlap",
        "the range 99 to 119 overlaps the range 0 to 99 of line 34",
    ),
    case(
        "[clip.limits_for.vertical]",
        "[clip.limits_for.vertcal]",
        37,
        "UnknownName",
        "limits_for.vertcal: there is no deliverable `vertcal`; did you mean `vertical`?",
    ),
    case(
        "deliverables = [\"film-hd\"]",
        "deliverables = [\"film-hd\"]\nlimits_for.vertical.still_zone = 0.1",
        43,
        "NotDelivered",
        "this clip is not delivered as `vertical`",
    ),
    case(
        "play = \"every-frame\"",
        "play = every-frame",
        33,
        "Syntax",
        "this is not TOML: string values must be quoted",
    ),
    case("play = \"every-frame\"", "rate = \"25\"", 33, "Syntax", "duplicate key"),
];

const MARKS_CASES: &[Case] = &[
    case("clip,frame", "clip;frame", 1, "UnknownColumn", "no column `clip;frame`"),
    case(
        "kind,name",
        "kind,title",
        1,
        "UnknownColumn",
        "there is no column `title`; there are clip, frame, left",
    ),
    case("kind,name", "kinds,name", 1, "UnknownColumn", "did you mean `kind`?"),
    case("left,top", "left,left", 1, "ColumnTwice", "the column `left` is named twice"),
    case(
        "weir-bridge,0,100",
        "weir-brigde,0,100",
        3,
        "UnknownName",
        "clip: there is no clip `weir-brigde`; did you mean `weir-bridge`?",
    ),
    case(
        "weir-bridge,0,100",
        ",0,100",
        3,
        "Empty",
        "clip: this is empty, expected the name of a clip",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,,100",
        3,
        "Empty",
        "frame: this is empty, expected a frame or a timecode",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0.5,100",
        3,
        "NotAMoment",
        "frame: `0.5` is neither a frame nor a timecode",
    ),
    case("weir-bridge,0,100", "weir-bridge,0,NaN", 3, "NotANumber", "left: `NaN` is not a number"),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0,\"100,5\"",
        3,
        "NotANumber",
        "`100,5` is not a number; write it in digits with a decimal point",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0,100,5",
        3,
        "CellCount",
        "this row has 9 cells, expected 8 as in the first row; write numbers with a decimal point",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0,\"100",
        3,
        "OpenQuote",
        "a quote is opened and not closed",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0\r,100",
        3,
        "LoneReturn",
        "a carriage return without a line feed",
    ),
    case(
        "weir-bridge,0,100",
        "weir-bridge,0,1000001",
        3,
        "OutOfRange",
        "left: 1000001 is out of range, expected -1000000 to 1000000",
    ),
    case(
        "weir-bridge,0,100,200,300",
        "weir-bridge,0,100,200,0",
        3,
        "NoSize",
        "width: a box 0 px in size holds nothing",
    ),
    case(
        "400,subject,paddler\nweir-bridge,10",
        "400,sujbect,paddler\nweir-bridge,10",
        3,
        "NotOneOf",
        "kind: `sujbect` is not known; write subject, keep-in, keep-out, gone (did you mean `subject`?)",
    ),
    case("\"rail, left\"", "", 7, "Nameless", "name: a keep-out needs a name of its own"),
    case("\"rail, left\"", "a\x07b", 7, "BadLabel", "write at most 80 characters in one line"),
    case("199,,,,,gone", "199,,,,x,gone", 6, "NotANumber", "height: `x` is not a number"),
];

const PINS_CASES: &[Case] = &[
    case(
        "clip,deliverable,frame",
        "clip,shape,frame",
        1,
        "MissingColumn",
        "there is no column `deliverable`; name it in the first row",
    ),
    case(
        "weir-bridge,film-hd",
        "weir-bridge,film",
        2,
        "UnknownName",
        "deliverable: there is no deliverable `film`",
    ),
    case("weir-bridge,film-hd", "weir-bridge,", 2, "Empty", "expected the name of a deliverable"),
    case(
        "weir-bridge,vertical",
        "weir-helmet,vertical",
        3,
        "NotDelivered",
        "deliverable: this clip is not delivered as `vertical`",
    ),
    case(
        "1600,900",
        "1600,902",
        2,
        "PinShape",
        "height: a window 1600 px wide is 900 px high at 16:9, not 902; leave the height out, or come within 1 px",
    ),
    case("20,0,900,", "20,0,-900,", 3, "NoSize", "width: a box -900 px in size holds nothing"),
];

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
            "shoot.toml:39: [[clip]] needs `frames`, a pattern such as \"frames/%05d.jpg\", or `file`, a video",
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
    let tests = [include_str!("faults.rs"), include_str!("resolve.rs")].concat();
    let variants: Vec<&str> = source
        .lines()
        .filter(is_variant)
        .map(|line| line.trim().split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap())
        .collect();
    assert!(variants.len() > 50, "{variants:?}");
    // Told in tests of their own, which do not name the kind.
    let in_words = ["NotUtf8", "NoMarks", "TooLong"];
    for name in variants.iter().filter(|name| !in_words.contains(name)) {
        assert!(tests.contains(&format!("\"{name}\"")), "{name} has no test");
    }
}
