//! Plans reckoned again from their files alone, by a script in another language that was made from
//! `docs/what-a-path-costs.md` and solves follow paths with a general solver.

use crate::{
    command::{SHOOT, SmallShoot, demo, lookroom_in, stderr},
    footage,
    held::{MOTION_NAMED, motion, steady},
    python,
    ride::{HEAD, Ride, clip},
};
use std::{
    collections::BTreeSet,
    f64::consts::TAU,
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

/// Whether the script agrees with an outputs folder, and what it prints; `None` where it cannot run.
pub(crate) fn recomputed(folder: &Path) -> Option<(bool, String)> {
    if !python::has(&["numpy", "scipy", "piqp"]) {
        return None;
    }
    let folder = folder.to_str().expect("a plain path");
    let output = python::output("oracle/recompute_plan.py", &[folder], "");
    let (text, errors) = (String::from_utf8_lossy(&output.stdout), stderr(&output));
    assert!(errors.is_empty(), "{errors}");
    assert!(matches!(output.status.code(), Some(0 | 1)), "{:?}", output.status);
    Some((output.status.success(), text.into_owned()))
}

/// What came of each planned segment: clip, way and verdict.
pub(crate) fn outcomes(folder: &Path) -> BTreeSet<[String; 3]> {
    let text = fs::read_to_string(folder.join("report.json")).unwrap();
    let report: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut outcomes = BTreeSet::new();
    for clip in report["clips"].as_array().unwrap() {
        for entry in clip["entries"].as_array().unwrap() {
            for segment in entry["segments"].as_array().unwrap() {
                let planned = &segment["outcome"]["planned"];
                if planned.is_object() {
                    let word = |value: &serde_json::Value| value.as_str().unwrap_or("").to_owned();
                    outcomes
                        .insert([&clip["name"], &planned["way"], &planned["verdict"]].map(word));
                }
            }
        }
    }
    outcomes
}

/// The rows of marks of a subject of 300 x 400 px that swings across and down.
pub(crate) fn swinging(name: &str) -> String {
    let frames = (0..500).step_by(10).chain([499]);
    frames.fold(String::new(), |mut rows, frame| {
        let time = f64::from(frame) / 25.0;
        let left = 1200.0 + 700.0 * (TAU * time / 15.0).sin();
        let top = 800.0 + 150.0 * (TAU * time / 11.0).cos();
        writeln!(rows, "{name},{frame},{left:.0},{top:.0},300,400,subject,rider").unwrap();
        rows
    })
}

/// The rows of marks of a subject of the same size that goes from place to place.
pub(crate) fn going(name: &str, lefts: &[(u32, i32)]) -> String {
    lefts.iter().fold(String::new(), |mut rows, (frame, left)| {
        writeln!(rows, "{name},{frame},{left},800,300,400,subject,rider").unwrap();
        rows
    })
}

/// Clips of every outcome: 500 frames each, a timeline second for 25 of them, but for the crossing one.
fn shoot_of_every_outcome() -> Ride {
    let over = [(0, 500), (150, 500), (300, 1500), (499, 1500)];
    let at_25 = |name: &str, keys: &str| clip(name, keys).replace("rate = 100", "rate = 25");
    let clips = [
        at_25("stands", ""),
        at_25("goes-over", ""),
        at_25("beside-a-bar", ""),
        at_25("swings", "[clip.limits]\npan_hard = 8\npan_caution = 9\nheadroom = 0.2"),
        at_25("pinned", "[clip.limits]\nfits_short = 0.1"),
        at_25("drives-off", ""),
        clip("crosses", ""),
        at_25(
            "slows",
            "retimes = [{ from = 100, to = 300, speed = [1.0, 0.25], law = \"linear-in-source\" }]",
        ),
        at_25(
            "again",
            "repeats = { clip = \"goes-over\", its_frame = 300, this_frame = 340, right = 80 }",
        ),
        at_25("two", ""),
    ];
    let marks = [
        "clip,frame,left,top,width,height,kind,name\n".to_owned(),
        going("stands", &[(0, 1200), (499, 1200)]),
        going("goes-over", &over),
        going("beside-a-bar", &over),
        "beside-a-bar,0,0,1900,2720,140,keep-out,bar\n".to_owned(),
        swinging("swings"),
        swinging("pinned"),
        going("drives-off", &[(0, 500), (100, 500), (450, 2450), (499, 2600)]),
        going("crosses", &[(0, -150), (499, 2570)]),
        swinging("slows"),
        going("again", &[(0, 580), (190, 580), (340, 1580), (499, 1580)]),
        going("two", &[(0, 900), (250, 1200), (499, 900)]),
        "two,0,1300,900,200,300,keep-in,mate\ntwo,250,1900,900,200,300,keep-in,mate\n".to_owned(),
        "two,499,1300,900,200,300,keep-in,mate\n".to_owned(),
    ];
    let pins = "pinned,vertical,100,1000,0,1147.5\npinned,vertical,400,800.123456,20,1100.25\n";
    Ride::new(&format!("{HEAD}{}", clips.concat()), &marks.concat()).pinned(pins)
}

#[test]
fn plans_of_every_outcome_are_reckoned_again_from_their_files() {
    let ride = shoot_of_every_outcome();
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    let outcomes = outcomes(&ride.out());
    for (clip, way, verdict) in [
        ("stands", "hold", "fits"),
        ("goes-over", "moves", "fits"),
        ("beside-a-bar", "moves", "fits"),
        ("swings", "follow", "fits"),
        ("pinned", "follow", "tight"),
        ("drives-off", "moves", "leaves"),
        ("crosses", "hold", "leaves"),
        ("slows", "moves", "fits"),
        ("again", "moves", "fits"),
        ("two", "follow", "fits"),
    ] {
        let wanted = [clip, way, verdict].map(str::to_owned);
        assert!(outcomes.contains(&wanted), "{wanted:?} is not in {outcomes:#?}");
    }
    // The pan limit stops one of them: it is as fast as it may be.
    let report = ride.report();
    let swings =
        &report["clips"].as_array().unwrap().iter().find(|c| c["name"] == "swings").unwrap();
    let planned = &swings["entries"][0]["segments"][0]["outcome"]["planned"];
    let secs = planned["peak"]["secs_per_width"].as_f64().unwrap();
    assert!((secs - 8.0).abs() < 1e-6, "{secs}");
    let Some((agrees, text)) = recomputed(&ride.out()) else { return };
    eprintln!("{text}");
    assert!(agrees, "{text}");
    assert!(text.contains("10 planned segments agree"), "{text}");
    assert_eq!(text.matches("by the solver").count(), 3, "{text}");
}

/// The same within a limit on travel: the weights that are told are those that a path is the best by.
#[test]
fn plans_within_a_limit_on_travel_are_reckoned_again_from_their_files() {
    let free = shoot_of_every_outcome();
    let ride = shoot_of_every_outcome();
    ride.change_shoot("[[deliverable]]", "[limits]\ngreatest_travel = 1.05\n[[deliverable]]");
    for one in [&free, &ride] {
        let (text, status) = one.plan();
        assert_eq!(status, Some(0), "{text}");
    }
    let verdicts = |ride: &Ride| -> BTreeSet<[String; 2]> {
        outcomes(&ride.out()).into_iter().map(|[clip, _, verdict]| [clip, verdict]).collect()
    };
    assert_eq!(verdicts(&free), verdicts(&ride));
    assert!(!free.read("report.txt").contains("greatest_travel)"));
    let text = ride.read("report.txt");
    let less = "(at most 1.05 allowed, greatest_travel); place, width and soft starts and stops count for 0.";
    assert!(text.contains(less) && text.contains(" times as far as it must "), "{text}");
    let (explained, _) = ride.plan_with(&["--explain"]);
    assert!(explained.contains("    Travels ") && explained.contains(less), "{explained}");
    let Some((agrees, text)) = recomputed(&ride.out()) else { return };
    eprintln!("{text}");
    assert!(agrees && text.contains("10 planned segments agree"), "{text}");

    let path = ride.out().join("report.json");
    let original = fs::read_to_string(&path).unwrap();
    for (key, told) in [
        ("px", "the px of travel"),
        ("least_px", "the least px of travel"),
        ("factor", "the weight of place"),
    ] {
        let mut report: serde_json::Value = serde_json::from_str(&original).unwrap();
        let clips = report["clips"].as_array_mut().unwrap();
        let swings = clips.iter_mut().find(|clip| clip["name"] == "swings").unwrap();
        let planned = &mut swings["entries"][0]["segments"][0]["outcome"]["planned"];
        assert!(planned["travel"]["factor"].as_f64().unwrap() < 1.0, "{planned}");
        times(&mut planned["travel"][key], 1.001);
        fs::write(&path, report.to_string()).unwrap();
        let (agrees, text) = recomputed(&ride.out()).expect("it ran before");
        let told = format!("swings, vertical, segment 1: {told}");
        assert!(!agrees && text.contains(&told), "{told}: {text}");
    }
}

#[test]
fn levelled_and_steady_plans_are_reckoned_again_from_their_files() {
    let by_motion = SHOOT.replace("marks = \"marks.csv\"\n", MOTION_NAMED);
    let rolling = SmallShoot::new(&format!("{by_motion}level = \"motion\"\n"));
    rolling.write("motion.csv", &motion(0.0, 1.5));
    let tilted = SmallShoot::new(&format!("{SHOOT}level = -20\n"));
    for (shoot, what) in [
        (tilted, "tilted"),
        (rolling, "rolling"),
        (steady(3.0, 2.0), "steady"),
        (steady(3.0, 0.485), "short of room"),
    ] {
        let output = shoot.run(&["plan", "shoot.toml"]);
        assert_eq!(output.status.code(), Some(0), "{what}: {}", stderr(&output));
        let Some((agrees, text)) = recomputed(&shoot.path().join("out")) else { return };
        eprintln!("{what}: {text}");
        assert!(agrees, "{what}: {text}");
    }
}

/// Six real clips with a true box on every frame, in four shapes, under limits that let most of them be had.
#[test]
fn plans_of_real_boxes_are_reckoned_again_from_their_files() {
    let Some(footage) = footage::folder() else { return };
    let mut marks = "clip,frame,left,top,width,height\n".to_owned();
    let mut clips = String::new();
    for name in footage::BOXED {
        let folder = fs::canonicalize(footage.join("boxed").join(name)).unwrap();
        let frames = folder.join("%05d.jpg");
        write!(clips, "[[clip]]\nname = \"{name}\"\nframes = {frames:?}\nrate = 24\n").unwrap();
        for (frame, region) in footage::boxes(name).unwrap().iter().enumerate() {
            let [left, top] = [region.left(), region.top()];
            let [width, height] = [region.width(), region.height()];
            writeln!(marks, "{name},{frame},{left},{top},{width},{height}").unwrap();
        }
    }
    let deliverables = ["1080x1920", "1080x1080", "1080x1350", "1920x1080"]
        .map(|raster| format!("[[deliverable]]\nname = \"to-{raster}\"\nraster = \"{raster}\"\n"));
    for limits in [
        "pan_hard = 2\npreferred_width = 0.7\nleast_hold = 0.5\ntight_share = 0.6\n",
        "pan_hard = 3\ngreatest_travel = 1.2\nheadroom = 0.15\nease_peak = 1.8\ntight_share = 0.5\ntight_middle = 0.1\nfits_short = 0.2\n",
    ] {
        let folder = tempfile::tempdir().unwrap();
        let head = "version = 1\ntimeline_rate = 24\nmarks = \"marks.csv\"\n[limits]\ngreatest_enlargement = 9\n";
        let shoot = format!("{head}{limits}{}{clips}", deliverables.concat());
        fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
        fs::write(folder.path().join("marks.csv"), &marks).unwrap();
        let output = lookroom_in(folder.path(), &["plan", "shoot.toml"]);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        let out = folder.path().join("out");
        let ways: BTreeSet<String> = outcomes(&out).into_iter().map(|[_, way, _]| way).collect();
        assert_eq!(ways.len(), 3, "holds, moves and follows: {ways:?}");
        let Some((agrees, text)) = recomputed(&out) else { return };
        eprintln!("{text}");
        assert!(agrees, "{text}");
    }
}

/// A file of a plan in which one thing was changed.
pub(crate) struct Altered {
    path: PathBuf,
    original: String,
}

impl Altered {
    /// The number in a column of the row that begins so, changed.
    pub(crate) fn cell(folder: &Path, table: &str, (row, column): (&str, &str), by: f64) -> Self {
        let path = folder.join(table);
        let original = fs::read_to_string(&path).unwrap();
        let place =
            original.lines().next().unwrap().split(',').position(|name| name == column).unwrap();
        let line = original.lines().find(|line| line.starts_with(row)).unwrap();
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        cells[place] = format!("{:.9}", cells[place].parse::<f64>().unwrap() + by);
        let changed = original.replacen(line, &cells.join(","), 1);
        assert_ne!(changed, original, "{table}: {row}");
        fs::write(&path, changed).unwrap();
        Self { path, original }
    }

    /// The report with what is planned of a deliverable changed.
    pub(crate) fn report(
        folder: &Path,
        deliverable: &str,
        change: impl Fn(&mut serde_json::Value),
    ) -> Self {
        let path = folder.join("report.json");
        let original = fs::read_to_string(&path).unwrap();
        let mut report: serde_json::Value = serde_json::from_str(&original).unwrap();
        let entries = report["clips"][0]["entries"].as_array_mut().unwrap();
        let entry = entries.iter_mut().find(|entry| entry["deliverable"] == deliverable).unwrap();
        change(&mut entry["segments"][0]["outcome"]["planned"]);
        fs::write(&path, report.to_string()).unwrap();
        Self { path, original }
    }

    pub(crate) fn restore(self) {
        fs::write(self.path, self.original).unwrap();
    }
}

fn times(value: &mut serde_json::Value, factor: f64) {
    *value = (value.as_f64().unwrap() * factor).into();
}

#[test]
fn the_demo_is_reckoned_again_and_one_changed_number_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path();
    let output = lookroom_in(&demo(), &["plan", "shoot.toml", "--out", out.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let Some((agrees, text)) = recomputed(out) else { return };
    eprintln!("{text}");
    assert!(agrees && text.contains("4 planned segments agree"), "{text}");
    let window = |shape: &str, by| {
        let table = format!("weir-bridge_{shape}_every-frame.csv");
        Altered::cell(out, &table, ("1,used,100,", "left_px"), by)
    };
    let asked = |shape: &str, row, column, by| {
        Altered::cell(out, &format!("weir-bridge_{shape}_asked.csv"), (row, column), by)
    };
    let alterations: [(&dyn Fn() -> Altered, &str); 9] = [
        (&|| window("vertical", 0.01), "vertical, segment 1: the cost's part acceleration"),
        (&|| window("film-hd", 0.01), "px by which a hold moves"),
        (&|| window("portrait", 0.01), "frame 100, px off the move's ease"),
        (&|| asked("vertical", "1,3,place,", "left_px", 1.0), "the cost's part place"),
        (&|| asked("square", "1,199,inside,", "left_px", 300.0), "the verdict is reported as fits"),
        (&|| asked("square", "1,5,frame,", "step_secs", 0.001), "the cost's part place"),
        (
            &|| {
                Altered::report(out, "square", |planned| {
                    times(&mut planned["objective"]["speed"], 1.00001)
                })
            },
            "the cost's part speed is reported as",
        ),
        (
            &|| {
                Altered::report(out, "vertical", |planned| {
                    times(&mut planned["share_inside"], 0.999)
                })
            },
            "share_inside is reported as 0.999, and is 1 ",
        ),
        // Every part agrees, and another path would be cheaper.
        (
            &|| {
                Altered::report(out, "vertical", |planned| {
                    times(&mut planned["asked"]["weights"]["acceleration"], 2.0);
                    times(&mut planned["objective"]["acceleration"], 2.0);
                })
            },
            "and the best one",
        ),
    ];
    for (number, (alter, told)) in alterations.into_iter().enumerate() {
        let altered = alter();
        let (agrees, text) = recomputed(out).expect("it ran before");
        let differs: Vec<&str> = text.lines().filter(|line| line.starts_with("DIFFERS")).collect();
        assert!(!agrees, "alteration {number}: {told}: {text}");
        assert!(differs.iter().any(|line| line.contains(told)), "{told}: {differs:#?}");
        altered.restore();
    }
    assert!(recomputed(out).expect("it ran before").0, "as before");
}
