//! The whole command, run as a user runs it.

use lookroom::handoff::COLUMN_NAMES;
use std::{
    fs,
    path::{Path, PathBuf},
    process::{Command, Output},
};
use tempfile::TempDir;

/// The demo's folder.
pub(crate) fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames/tumble-weir")
}

/// What the command does with these arguments, in a folder.
pub(crate) fn lookroom_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lookroom"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .output()
        .expect("the command starts")
}

pub(crate) fn stdout(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("text")
}

pub(crate) fn stderr(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("text")
}

/// A small shoot of a made clip: 30 frames of 400 x 300, a box that walks 150 px to the right.
pub(crate) struct SmallShoot {
    folder: TempDir,
}

impl SmallShoot {
    pub(crate) fn new(shoot: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("frames")).unwrap();
        for frame in 0..30_u8 {
            let picture = image::RgbImage::from_fn(400, 300, |x, y| {
                image::Rgb([u8::try_from(x / 2).unwrap(), u8::try_from(y / 2).unwrap(), 8 * frame])
            });
            picture.save(folder.path().join(format!("frames/{frame:03}.png"))).unwrap();
        }
        let marks = "clip,frame,left,top,width,height,kind,name\n\
                     walk,0,100,100,40,80,subject,walker\n\
                     walk,29,250,110,40,80,subject,walker\n";
        fs::write(folder.path().join("marks.csv"), marks).unwrap();
        fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
        Self { folder }
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn run(&self, arguments: &[&str]) -> Output {
        lookroom_in(self.path(), arguments)
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        fs::write(self.path().join(name), text).unwrap();
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.path().join(name).exists()
    }
}

/// A shoot file with a film and a vertical, on which both can be had.
pub(crate) const SHOOT: &str = r#"version = 1
timeline_rate = "25"
marks = "marks.csv"

[limits]
pan_hard = "off"
pan_caution = "off"

[[deliverable]]
name = "film"
raster = "384x216"

[[deliverable]]
name = "vertical"
raster = "162x288"

[[clip]]
name = "walk"
frames = "frames/%03d.png"
rate = "25"
"#;

#[test]
fn a_shoot_is_planned_into_files_that_stay_the_same_on_a_second_run() {
    let shoot = SmallShoot::new(SHOOT);
    let first = shoot.run(&["plan", "shoot.toml", "--overlays", "0,29"]);
    assert_eq!(first.status.code(), Some(0), "{}", stderr(&first));
    let files = |shoot: &SmallShoot| {
        let mut files: Vec<(String, Vec<u8>)> = fs::read_dir(shoot.path().join("out"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .map(|path| {
                (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(&path).unwrap())
            })
            .collect();
        files.sort();
        files
    };
    let written = files(&shoot);
    let names: Vec<&str> = written.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names,
        [
            "manifest.json",
            "report.json",
            "report.txt",
            "walk_film_asked.csv",
            "walk_film_conventions.txt",
            "walk_film_every-frame.csv",
            "walk_film_keys.csv",
            "walk_frame-000000_overlay.png",
            "walk_frame-000029_overlay.png",
            "walk_proof-sheet.png",
            "walk_vertical_asked.csv",
            "walk_vertical_conventions.txt",
            "walk_vertical_every-frame.csv",
            "walk_vertical_keys.csv",
        ]
    );
    let second = shoot.run(&["plan", "shoot.toml", "--overlays", "0,29"]);
    assert_eq!(second.status.code(), Some(0));
    assert_eq!(stdout(&first), stdout(&second));
    assert!(written == files(&shoot), "a second run gives the same bytes");
}

#[test]
fn a_file_changed_by_hand_survives_and_the_report_says_where_the_new_one_is() {
    let shoot = SmallShoot::new(SHOOT);
    assert_eq!(shoot.run(&["plan", "shoot.toml"]).status.code(), Some(0));
    shoot.write("out/walk_vertical_keys.csv", "my own keys\n");
    let again = shoot.run(&["plan", "shoot.toml"]);
    assert_eq!(again.status.code(), Some(0));
    assert_eq!(shoot.read("out/walk_vertical_keys.csv"), "my own keys\n");
    assert!(shoot.read("out/walk_vertical_keys.new.csv").starts_with("segment,part,frame,"));
    let line = "walk_vertical_keys.csv is yours; the new one is walk_vertical_keys.new.csv";
    assert!(shoot.read("out/report.txt").contains(line));
    assert!(shoot.read("out/report.json").contains("walk_vertical_keys.new.csv"));
    assert!(
        stderr(&again).contains("walk_vertical_keys.csv was changed by hand and is left alone")
    );
}

#[test]
fn a_shape_that_is_now_refused_loses_its_untouched_files_and_keeps_the_changed_ones_aside() {
    let shoot = SmallShoot::new(SHOOT);
    assert_eq!(shoot.run(&["plan", "shoot.toml"]).status.code(), Some(0));
    shoot.write("out/walk_vertical_keys.csv", "my own keys\n");
    shoot.write("shoot.toml", &SHOOT.replace("162x288", "1080x1920"));
    let again = shoot.run(&["plan", "shoot.toml"]);
    assert_eq!(again.status.code(), Some(0), "a refused shape is an answer");
    assert!(!shoot.has("out/walk_vertical_every-frame.csv"));
    assert!(!shoot.has("out/walk_vertical_keys.csv"));
    assert_eq!(shoot.read("out/set-aside/walk_vertical_keys.csv"), "my own keys\n");
    assert!(shoot.read("out/report.txt").contains("its shape is now refused"));
}

#[test]
fn nothing_passes_is_exit_status_3() {
    let shoot =
        SmallShoot::new(&SHOOT.replace("384x216", "3840x2160").replace("162x288", "1080x1920"));
    let output = shoot.run(&["plan", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(3), "{}", stderr(&output));
    assert!(stdout(&output).contains("remedy: accept enlargement 9.60"), "{}", stdout(&output));
}

#[test]
fn five_faults_are_told_at_once_each_with_its_line() {
    let shoot = SmallShoot::new(
        &SHOOT
            .replace("timeline_rate = \"25\"", "timeline_rate = \"29.97\"")
            .replace("pan_hard = \"off\"", "still_zone = 12")
            .replace("raster = \"384x216\"", "raster = \"384\""),
    );
    shoot.write(
        "marks.csv",
        "clip,frame,left,top,width,height,kind,name\n\
         walk,0,100,100,40,80,subject,walker\n\
         walk,x,250,110,40,80,subject,walker\n\
         walk,400,250,110,40,80,subject,walker\n",
    );
    for command in ["check", "plan"] {
        let output = shoot.run(&[command, "shoot.toml"]);
        assert_eq!(output.status.code(), Some(1));
        let told = stderr(&output);
        for part in [
            "shoot.toml:2: ",
            "30000/1001",
            "shoot.toml:6: ",
            "still_zone",
            "shoot.toml:11: ",
            "384",
            "marks.csv:3: ",
            "marks.csv:4: ",
            "400",
        ] {
            assert!(told.contains(part), "`{part}` is missing in:\n{told}");
        }
        assert!(!shoot.has("out"), "nothing is written");
    }
    let output = shoot.run(&["check", "shoot.toml", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let lines: Vec<u64> = told["faults"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| fault["line"].as_u64().unwrap())
        .collect();
    assert_eq!(lines, [2, 6, 11, 3, 4]);
}

#[test]
fn a_wrong_command_line_is_exit_status_2_and_a_missing_file_is_1() {
    let folder = tempfile::tempdir().unwrap();
    let wrong: [&[&str]; 7] = [
        &["plan"],
        &["no-such-command"],
        &["plan", "shoot.toml", "--overlays", "every:0"],
        &["crop", "--from", "4000", "--to", "16:9"],
        &["crop", "--from", "4000x3000", "--to", "2.39"],
        &["crop", "--from", "4000x3000", "--to", "sixteen"],
        &["crop", "--from", "4000x3000", "--to", "16:9", "--rounding", "odd"],
    ];
    for arguments in wrong {
        assert_eq!(lookroom_in(folder.path(), arguments).status.code(), Some(2), "{arguments:?}");
    }
    let missing = lookroom_in(folder.path(), &["plan", "no-such.toml"]);
    assert_eq!(missing.status.code(), Some(1));
    assert!(stderr(&missing).contains("no-such.toml"));
}

#[test]
fn crop_answers_without_any_file() {
    let folder = tempfile::tempdir().unwrap();
    let arguments =
        ["crop", "--from", "4000x3000", "--to", "16:9", "--deliver", "3840x2160,1920x1080"];
    let output = lookroom_in(folder.path(), &arguments);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let answer = stdout(&output);
    for part in [
        "16:9 window in 4000x3000: 4000 x 2250 px at 0,374",
        "top 374 + 2250 + bottom 376 px",
        "in 3840x2160: E 0.9600, fine",
        "in 1920x1080: E 0.4800, hero shot",
        "safe for action 1786 x 1004, for graphics 1728 x 972",
        "E above 2.00  do not deliver",
    ] {
        assert!(answer.contains(part), "`{part}` is missing in:\n{answer}");
    }
    let json = lookroom_in(folder.path(), &[&arguments[..], &["--json"]].concat());
    let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(value["window_px"], serde_json::json!([0.0, 374.0, 4000.0, 2250.0]));
    assert_eq!(value["delivered"][0]["enlargement"], 0.96);
}

#[test]
fn a_crop_pushed_out_of_the_frame_is_refused_and_not_clamped() {
    let folder = tempfile::tempdir().unwrap();
    let output = lookroom_in(
        folder.path(),
        &["crop", "--from", "4000x3000", "--to", "9:16", "--left", "2400"],
    );
    assert_eq!(output.status.code(), Some(1));
    assert!(
        stderr(&output).contains("does not lie inside the 4000x3000 frame"),
        "{}",
        stderr(&output)
    );
    let output = lookroom_in(
        folder.path(),
        &["crop", "--from", "4000x3000", "--to", "9:16", "--left", "NaN"],
    );
    assert_eq!(output.status.code(), Some(1), "not a number is no place");
}

#[test]
fn pins_are_kept_to_the_last_decimal() {
    let shoot = SmallShoot::new(&SHOOT.replace("marks = ", "pins = \"pins.csv\"\nmarks = "));
    shoot.write(
        "pins.csv",
        "clip,deliverable,frame,left,top,width,height\nwalk,vertical,0,60.25,12,162,288\nwalk,vertical,20,150,10,150.75,268\n",
    );
    let output = shoot.run(&["plan", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let keys = shoot.read("out/walk_vertical_keys.csv");
    let row = |frame: &str| {
        let start = format!("1,used,{frame},");
        keys.lines()
            .find(|line| line.starts_with(&start))
            .unwrap_or_else(|| panic!("no key {frame} in\n{keys}"))
    };
    assert!(row("0").contains(",60.2500,12.0000,162.0000,288.0000,"), "{}", row("0"));
    assert!(row("20").contains(",150.0000,10.0000,150.7500,268.0000,"), "{}", row("20"));
    assert!(row("0").contains(",yes,yes,"), "tracked and pinned: {}", row("0"));
}

#[test]
fn used_ranges_become_segments_with_handles_and_untracked_frames_are_marked() {
    let clip = "ranges = [{ from = 0, to = 8 }, { from = 18, to = 30 }]\n\n[clip.limits]\nhandle_secs = 0.2\n";
    let shoot = SmallShoot::new(&format!("{SHOOT}{clip}"));
    shoot.write(
        "marks.csv",
        "clip,frame,left,top,width,height,kind,name\n\
         walk,0,100,100,40,80,subject,walker\nwalk,10,150,100,40,80,subject,walker\n\
         walk,12,,,,,gone,walker\nwalk,20,200,110,40,80,subject,walker\nwalk,29,250,110,40,80,subject,walker\n",
    );
    let output = shoot.run(&["plan", "shoot.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let table = shoot.read("out/walk_vertical_every-frame.csv");
    let rows: Vec<Vec<&str>> =
        table.lines().skip(1).map(|line| line.split(',').collect()).collect();
    let part =
        |segment: &str, part: &str| rows.iter().filter(|r| r[0] == segment && r[1] == part).count();
    assert_eq!(
        (part("1", "used"), part("1", "handle")),
        (8, 5),
        "0.2 s at 25 after it, and nothing before 0"
    );
    assert_eq!((part("2", "used"), part("2", "handle")), (12, 5));
    let column = COLUMN_NAMES.iter().position(|name| *name == "tracked").unwrap();
    let tracked = |segment: &str, frame: &str| {
        rows.iter().find(|r| r[0] == segment && r[2] == frame).map(|r| r[column]).unwrap()
    };
    assert_eq!(tracked("1", "10"), "yes");
    assert_eq!(tracked("1", "11"), "no");
    assert_eq!(tracked("2", "19"), "no");
    assert_eq!(tracked("2", "20"), "yes");
    assert!(stdout(&output).contains("not 0.2 s: the clip has no more"), "{}", stdout(&output));
}

#[test]
fn several_clips_are_ranked_worst_first_and_a_step_in_enlargement_is_noted() {
    let second = "\n[[clip]]\nname = \"near\"\nframes = \"frames\"\nrate = \"25\"\n\n[clip.limits]\npreferred_width = 0.55\n";
    let shoot = SmallShoot::new(&format!("{SHOOT}{second}"));
    let marks = shoot.read("marks.csv");
    let near: String =
        marks.lines().skip(1).map(|row| row.replace("walk,", "near,") + "\n").collect();
    shoot.write("marks.csv", &format!("{marks}{near}"));
    let output = shoot.run(&["plan", "shoot.toml", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let plan: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let ranking: Vec<(&str, f64)> = plan["ranking"]
        .as_array()
        .unwrap()
        .iter()
        .map(|ranked| (ranked["clip"].as_str().unwrap(), ranked["enlargement"].as_f64().unwrap()))
        .collect();
    assert_eq!(ranking[0].0, "near");
    assert!(ranking.windows(2).all(|pair| pair[0].1 >= pair[1].1), "{ranking:?}");
    let step = &plan["steps"][0];
    assert_eq!((step["from"][0].as_str(), step["to"][0].as_str()), (Some("walk"), Some("near")));
    assert!(step["factor"].as_f64().unwrap() > 1.5);
    assert!(shoot.read("out/report.txt").contains("enlargement steps from"));
}

#[test]
fn what_is_kept_in_or_out_is_blamed_by_name_and_without_it_the_shape_is_had() {
    let shoot = SmallShoot::new(SHOOT);
    let marks = shoot.read("marks.csv");
    for (mark, name) in [("keep-out,post", "keep-out post"), ("keep-in,rig", "keep-in rig")] {
        // The walker crosses the post; no vertical window holds both the walker and the far rig.
        let corner = if name.ends_with("post") { "190,120,10,10" } else { "380,0,20,20" };
        shoot.write("marks.csv", &format!("{marks}walk,0,{corner},{mark}\n"));
        let output = shoot.run(&["plan", "shoot.toml"]);
        let told = stdout(&output);
        assert!(told.contains(&format!("the {name}")), "{told}");
        assert!(told.contains(&format!("without the {name} it fits")), "{told}");
        assert!(!told.contains("next take"), "{told}");
    }
}

#[test]
fn outputs_are_not_written_among_the_frames() {
    let shoot = SmallShoot::new(SHOOT);
    for folder in ["frames", "./frames/", "out/../frames"] {
        fs::create_dir_all(shoot.path().join("out")).unwrap();
        let output = shoot.run(&["plan", "shoot.toml", "--out", folder]);
        assert_eq!(output.status.code(), Some(1));
        let says = format!(
            "error: the outputs folder {folder} holds the frames of clip walk, and pictures that are written there would be \
             read as frames; name another folder, such as one called out beside it, with --out or with `outputs` in the shoot \
             file"
        );
        assert!(stderr(&output).contains(&says), "{}", stderr(&output));
    }
    let names = fs::read_dir(shoot.path().join("frames")).unwrap();
    assert_eq!(names.count(), 30, "nothing was written there");
    // A pattern's folder is the one that its files are in.
    shoot.write("shoot.toml", &SHOOT.replace("version = 1", "version = 1\noutputs = \"frames\""));
    for task in ["plan", "check"] {
        let output = shoot.run(&[task, "shoot.toml"]);
        assert_eq!(output.status.code(), Some(1), "{task}");
        assert!(stderr(&output).contains("holds the frames of clip walk"), "{}", stderr(&output));
    }
}

#[test]
fn a_subject_marked_once_is_told_with_how_little_is_known_of_it() {
    let shoot = SmallShoot::new(SHOOT);
    shoot.write("marks.csv", "clip,frame,left,top,width,height\nwalk,0,100,100,40,80\n");
    let text = stdout(&shoot.run(&["plan", "shoot.toml"]));
    assert!(
        text.contains("inside on 100.0 % of the subject's frames, known on 1 of 30 used frames"),
        "{text}"
    );
    let says = "note: `subject` is marked at frame 0 only, and nothing is known of it on other frames: 1 of 30 used frames; mark it \
                about once a second, from the first used frame to the last";
    assert!(text.contains(says), "{text}");
}

#[test]
fn names_that_differ_in_capitals_only_are_told() {
    let shoot = SmallShoot::new(SHOOT);
    let marks = shoot.read("marks.csv");
    shoot.write(
        "marks.csv",
        &format!(
            "{marks}walk,3,110,100,40,80,subject,Walker\nwalk,9,140,100,40,80,subject,Walker\n"
        ),
    );
    let output = shoot.run(&["check", "shoot.toml"]);
    let says = "the marks name `Walker` and `walker`, which differ in capitals only and are taken for two things";
    let text = format!("{}{}", stdout(&output), stderr(&output));
    assert!(text.contains(says), "{text}");
}

#[test]
fn a_subject_marked_once_is_to_be_looked_at_and_not_fine() {
    let shoot = SmallShoot::new(SHOOT);
    let marks = shoot.read("marks.csv");
    shoot.write(
        "marks.csv",
        &marks.lines().take(2).map(|row| format!("{row}\n")).collect::<String>(),
    );
    let told = stdout(&shoot.run(&["plan", "shoot.toml"]));
    assert!(
        told.contains("look at it: the subject is tracked on only 1 of 30 used frames"),
        "{told}"
    );
}

#[test]
fn a_changed_report_is_not_the_one_that_is_recommended() {
    let shoot = SmallShoot::new(SHOOT);
    assert_eq!(shoot.run(&["plan", "shoot.toml"]).status.code(), Some(0));
    shoot.write("out/report.txt", "my notes\n");
    let again = shoot.run(&["plan", "shoot.toml"]);
    assert!(stdout(&again).contains("are in report.new.txt."), "{}", stdout(&again));
    assert_eq!(shoot.read("out/report.txt"), "my notes\n");
}
