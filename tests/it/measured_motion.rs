//! `lookroom track` measures how the background moves and finds cuts, on made pictures whose way is known; `lookroom plan`
//! rides by what was measured as long as nothing has changed.

use crate::command::{lookroom_in, stderr, stdout};
use image::{GrayImage, Luma};
use std::{collections::BTreeMap, f64::consts::TAU, fs, path::Path, process::Output};
use tempfile::TempDir;

const SIZE: (u32, u32) = (480, 360);
const FRAMES: u32 = 48;

/// Where the background is at a frame, px right and down of where it was at the first: a shake on a drift.
fn place(frame: u32) -> (f64, f64) {
    let secs = f64::from(frame) / 24.0;
    (20.0 * secs + 4.0 * (TAU * 3.0 * secs).sin(), 3.0 * (TAU * 4.0 * secs).cos() - 3.0)
}

/// A number from 0 to 255 that looks drawn and is the same each time.
fn drawn(seed: u32, column: i64, row: i64) -> f64 {
    let at = |value: i64| u32::from_le_bytes(value.to_le_bytes()[..4].try_into().unwrap());
    let mut mixed = seed.wrapping_mul(0x9e37_79b9) ^ at(column).wrapping_mul(0x85eb_ca6b);
    mixed = (mixed ^ at(row).wrapping_mul(0xc2b2_ae35)).wrapping_mul(0x27d4_eb2f);
    mixed = (mixed ^ (mixed >> 15)).wrapping_mul(0x2c1b_3c6d);
    f64::from(mixed >> 24)
}

/// Drawn values every so many px, with straight lines between them.
fn texture(seed: u32, cell_px: f64, (x, y): (f64, f64)) -> f64 {
    let (x, y) = (x / cell_px, y / cell_px);
    #[expect(clippy::cast_possible_truncation, reason = "places in a small picture")]
    let (column, row) = (x.floor() as i64, y.floor() as i64);
    let (across, down) = (x - x.floor(), y - y.floor());
    let line = |row: i64| {
        (1.0 - across) * drawn(seed, column, row) + across * drawn(seed, column + 1, row)
    };
    (1.0 - down) * line(row) + down * line(row + 1)
}

/// The subject's box: it goes its own way.
fn subject(frame: u32) -> (f64, f64) {
    (150.0 + 2.0 * f64::from(frame), 140.0)
}

const SUBJECT: (f64, f64) = (90.0, 110.0);

fn picture(frame: u32, seed: u32) -> GrayImage {
    let (right, down) = place(frame);
    let (left, top) = subject(frame);
    GrayImage::from_fn(SIZE.0, SIZE.1, |column, row| {
        let (x, y) = (f64::from(column), f64::from(row));
        let (u, v) = (x - left, y - top);
        let is_subject = (0.0..SUBJECT.0).contains(&u) && (0.0..SUBJECT.1).contains(&v);
        let value = if is_subject {
            texture(91, 13.0, (u, v))
        } else {
            let at = (x - right, y - down);
            0.7 * texture(seed, 17.0, at) + 0.3 * texture(seed + 1, 7.0, at)
        };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held")]
        Luma([value.round().clamp(0.0, 255.0) as u8])
    })
}

/// A shoot of these frames with further keys of its clip; the marks are in px of what is shown.
struct Shaken(TempDir);

impl Shaken {
    fn new(keys: &str, marks: &str, seed_of: impl Fn(u32) -> u32) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("frames")).unwrap();
        for frame in 0..FRAMES {
            let path = folder.path().join(format!("frames/{frame:03}.png"));
            picture(frame, seed_of(frame)).save(path).unwrap();
        }
        let shoot = format!(
            "version = 1\ntimeline_rate = 24\nmarks = \"marks.csv\"\n[limits]\ngreatest_enlargement = 4\n\
             [[deliverable]]\nname = \"square\"\nraster = \"216x216\"\n\
             [[clip]]\nname = \"ride\"\nframes = \"frames/%03d.png\"\nrate = 24\n{keys}\n"
        );
        fs::write(folder.path().join("shoot.toml"), shoot).unwrap();
        fs::write(folder.path().join("marks.csv"), marks).unwrap();
        Self(folder)
    }

    /// Marked at the first frame and the last.
    fn steady(keys: &str) -> Self {
        Self::new(&format!("steady = \"world\"\n{keys}"), &marks(1.0), |_| 1)
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn run(&self, arguments: &[&str]) -> Output {
        lookroom_in(self.path(), arguments)
    }

    fn track(&self) -> String {
        let output = self.run(&["track", "shoot.toml"]);
        assert!(output.status.success(), "{}", stderr(&output));
        stdout(&output)
    }

    fn plan(&self) -> (String, Option<i32>) {
        let output = self.run(&["plan", "shoot.toml"]);
        (stdout(&output) + &stderr(&output), output.status.code())
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path().join(name)).unwrap()
    }

    /// The measured steps, by frame.
    fn steps(&self) -> BTreeMap<u32, (f64, f64)> {
        let mut table = csv::Reader::from_path(self.path().join("tracks/ride_motion.csv")).unwrap();
        let rows = table.records().map(|row| {
            let row = row.unwrap();
            assert_eq!(&row[0], "ride");
            (row[1].parse().unwrap(), (row[2].parse().unwrap(), row[3].parse().unwrap()))
        });
        rows.collect()
    }
}

fn marks(scale: f64) -> String {
    let row = |frame: u32| {
        let ((left, top), (width, height)) = (subject(frame), SUBJECT);
        let [left, top, width, height] = [left, top, width, height].map(|px| px * scale);
        format!("ride,{frame},{left},{top},{width},{height},subject,rider\n")
    };
    format!("clip,frame,left,top,width,height,kind,name\n{}{}", row(0), row(FRAMES - 1))
}

/// The rms of what measured steps are off, px, where `shown` says how a step of the stored picture is shown.
fn off_px(steps: &BTreeMap<u32, (f64, f64)>, shown: impl Fn((f64, f64)) -> (f64, f64)) -> f64 {
    let squares = steps.iter().map(|(frame, (dx, dy))| {
        let (now, before) = (place(*frame), place(*frame - 1));
        let (x, y) = shown((now.0 - before.0, now.1 - before.1));
        (dx - x).powi(2) + (dy - y).powi(2)
    });
    (squares.sum::<f64>() / f64::from(u32::try_from(steps.len()).unwrap())).sqrt()
}

#[test]
fn a_clip_rides_by_what_was_measured_until_its_marks_change() {
    let shoot = Shaken::steady("");
    let (said, status) = shoot.plan();
    assert_eq!(status, Some(1), "{said}");
    assert!(said.contains("which was not measured, and no motion file is named"), "{said}");
    assert!(said.contains("hint: run `lookroom track` on the shoot file"), "{said}");
    let said = shoot.track();
    assert!(said.contains("background: known on 48 of 48 used frames; it shakes by"), "{said}");
    let steps = shoot.steps();
    assert_eq!(steps.keys().copied().collect::<Vec<_>>(), (1..FRAMES).collect::<Vec<_>>());
    let off = off_px(&steps, |step| step);
    eprintln!("off by {off:.3} px rms");
    assert!(off < 0.1, "{off}");
    let (said, status) = shoot.plan();
    assert_eq!(status, Some(0), "{said}");
    let report = shoot.read("out/report.txt");
    assert!(report.contains("ride_motion.csv  sha256"), "{report}");
    let json: serde_json::Value = serde_json::from_str(&shoot.read("out/report.json")).unwrap();
    let steady = &json["clips"][0]["entries"][0]["segments"][0]["outcome"]["planned"]["steady"];
    // The shake's own rms on an axis is its height over √2, for both 3.5; the ends and the drift change that little.
    let before = steady["before_rms_px"].as_f64().unwrap();
    assert!((before - 3.5).abs() < 0.4, "{steady}");
    assert_eq!(steady["factor"], 1.0, "{steady}");
    let again = shoot.track();
    assert!(
        again.contains("followed before, from these marks and this footage; left as it is"),
        "{again}"
    );
    assert!(again.contains("background: known on 48 of 48 used frames"), "{again}");

    let moved = shoot.read("marks.csv").replace("ride,0,150,", "ride,0,151,");
    fs::write(shoot.path().join("marks.csv"), moved).unwrap();
    let (said, status) = shoot.plan();
    assert_eq!(status, Some(1), "{said}");
    assert!(said.contains("was measured with other marks, ranges or footage"), "{said}");
}

#[test]
fn a_table_changed_by_hand_is_used_and_kept_and_its_faults_are_told() {
    let shoot = Shaken::steady("");
    shoot.track();
    let table = shoot.path().join("tracks/ride_motion.csv");
    let text = fs::read_to_string(&table).unwrap();
    let row = text.lines().find(|row| row.starts_with("ride,20,")).unwrap();
    fs::write(&table, text.replace(row, "ride,20,x,0,0")).unwrap();
    let (said, status) = shoot.plan();
    assert_eq!(status, Some(1), "{said}");
    let line = text.lines().position(|line| line == row).unwrap() + 1;
    assert!(said.contains(&format!("ride_motion.csv:{line}: dx: ")), "{said}");
    let by_hand = text.replace(row, "ride,20,250,0,0");
    fs::write(&table, &by_hand).unwrap();
    let (said, _) = shoot.plan();
    let shaken = |said: &str| said.lines().find(|line| line.contains("px rms")).map(str::to_owned);
    fs::write(&table, &text).unwrap();
    let (untouched, _) = shoot.plan();
    assert_ne!(shaken(&said).unwrap(), shaken(&untouched).unwrap());
    fs::write(&table, &by_hand).unwrap();
    let moved = shoot.read("marks.csv").replace("ride,0,150,", "ride,0,151,");
    fs::write(shoot.path().join("marks.csv"), moved).unwrap();
    let said = shoot.track();
    assert!(said.contains("ride_motion.csv was changed by hand and is left alone"), "{said}");
    assert_eq!(fs::read_to_string(&table).unwrap(), by_hand);
}

#[test]
fn px_are_those_of_the_displayed_full_frame() {
    // After a quarter turn clockwise what goes right goes down, and what goes down goes left.
    let turned = "clip,frame,left,top,width,height,kind,name\n\
                  ride,0,110,150,110,90,subject,rider\nride,47,110,244,110,90,subject,rider\n";
    let shoot = Shaken::new("steady = \"world\"\nturn = 90", turned, |_| 1);
    shoot.track();
    let off = off_px(&shoot.steps(), |(x, y)| (-y, x));
    assert!(off < 0.1, "{off}");

    // Of a proxy of half the size, boxes and steps are in px of the full clip.
    let proxy = "steady = \"world\"\nproxy = { of = \"960x720\", marks_in = \"full\" }";
    let shoot = Shaken::new(proxy, &marks(2.0), |_| 1);
    shoot.track();
    let off = off_px(&shoot.steps(), |(x, y)| (2.0 * x, 2.0 * y));
    assert!(off < 0.2, "{off}");
    let mut table = csv::Reader::from_path(shoot.path().join("tracks/ride_track.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let left: f64 = rows[24].get(2).unwrap().parse().unwrap();
    assert!((left - 2.0 * subject(24).0).abs() < 8.0, "{left}");
}

#[test]
fn rows_of_the_shoots_own_motion_file_win() {
    let shoot = Shaken::steady("");
    let text = shoot.read("shoot.toml").replace("marks = ", "motion = \"motion.csv\"\nmarks = ");
    fs::write(shoot.path().join("shoot.toml"), text).unwrap();
    fs::write(shoot.path().join("motion.csv"), "clip,frame,dx,dy\n").unwrap();
    let (said, status) = shoot.plan();
    assert_eq!(status, Some(1), "{said}");
    assert!(said.contains("was not measured, and the motion file has no row of it"), "{said}");
    fs::write(shoot.path().join("motion.csv"), "clip,frame,dx,dy\nride,1,3,0\n").unwrap();
    let said = shoot.track();
    assert!(!said.contains("background:"), "{said}");
    assert!(!shoot.path().join("tracks/ride_motion.csv").exists());
}

#[test]
fn a_cut_that_the_shoot_file_lacks_is_told_and_nothing_is_followed_over_it() {
    let seed_of = |frame| if frame < 24 { 1 } else { 40 };
    let shoot = Shaken::new("", &marks(1.0), seed_of);
    let said = shoot.track();
    assert!(said.contains("a hard cut at frame 24"), "{said}");
    assert!(said.contains("add `cuts = [24]` to the clip"), "{said}");
    let json = shoot.run(&["track", "shoot.toml", "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(json["clips"][0]["cuts"], serde_json::json!([24]));
    let (said, _) = shoot.plan();
    assert!(said.contains("a hard cut at frame 24 was found in its pictures"), "{said}");
    // Only the first shot is marked: the second is lost, and asks for a mark.
    let first = marks(1.0).lines().take(2).map(|row| format!("{row}\n")).collect::<String>();
    fs::write(shoot.path().join("marks.csv"), first).unwrap();
    let said = shoot.track();
    assert!(said.contains("lost on frames 24 to 47"), "{said}");
    assert!(said.contains("please mark frame 24"), "{said}");
    // Once the shoot file has the cut, nothing is told any more.
    let text = shoot.read("shoot.toml") + "cuts = [24]\n";
    fs::write(shoot.path().join("shoot.toml"), text).unwrap();
    fs::write(shoot.path().join("marks.csv"), marks(1.0)).unwrap();
    assert!(!shoot.track().contains("hard cut"));
}
