//! Whole plans of what comes off a card: variable rates, proxies, split takes, files with two tracks.

use crate::{
    card::{ffmpeg, open_video},
    command::{lookroom_in, stderr, stdout},
    footage,
};
use lookroom::timecode::FrameIndex;
use std::{collections::BTreeMap, fs, path::Path};

/// A shoot of one clip with a subject that walks to the right, and what is written about its footage.
fn walk(folder: &Path, footage: &str, (marks, delivered): (&str, &str)) {
    let shoot = format!(
        "version = 1\ntimeline_rate = \"25\"\nmarks = \"marks.csv\"\n\
         [[deliverable]]\nname = \"vertical\"\nraster = \"{delivered}\"\n\
         [[clip]]\nname = \"walk\"\n{footage}\n"
    );
    fs::write(folder.join("shoot.toml"), shoot).unwrap();
    let head = "clip,frame,left,top,width,height\n";
    fs::write(folder.join("marks.csv"), format!("{head}{marks}")).unwrap();
}

/// The rows of the every-frame table of the planned walk, by column.
fn rows(folder: &Path) -> Vec<BTreeMap<String, String>> {
    let mut table =
        csv::Reader::from_path(folder.join("out/walk_vertical_every-frame.csv")).unwrap();
    table.deserialize().map(|row| row.unwrap()).collect()
}

fn planned(folder: &Path) -> String {
    let output = lookroom_in(folder, &["plan", "shoot.toml"]);
    assert!(output.status.success(), "{}", stderr(&output));
    stdout(&output)
}

#[test]
fn a_plan_of_a_variable_rate_carries_the_stamps_and_says_what_an_editor_must_do() {
    let Some(shared) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let path = shared.join("video/h263-176x144-variable-rate-pixels-12-11.3gp");
    let folder = tempfile::tempdir().unwrap();
    let marks = "walk,0,20,40,24,50\nwalk,120,140,44,24,50\nwalk,221,60,40,24,50\n";
    walk(folder.path(), &format!("file = '{}'", path.display()), (marks, "108x192"));
    let text = planned(folder.path());
    assert!(text.contains("variable rate: frames are 4.0 to 304.0 ms apart"), "{text}");
    assert!(text.contains("set keys by source_seconds, never by frame numbers"), "{text}");

    let opened = open_video(&path).unwrap();
    let times = opened.facts.timing.times().unwrap();
    let rows = rows(folder.path());
    assert_eq!(rows.len(), 222);
    for (frame, row) in (0..).map(FrameIndex).zip(&rows) {
        let expected = format!("{:.6}", times.seconds_at(frame));
        assert_eq!(row["source_seconds"], expected, "frame {frame}");
        assert_eq!(row["timeline_seconds"], expected, "played in real time");
        assert_eq!(row["source_timecode"], "");
    }
    // No step is faster than the hard pan limit on the clock of the stamps: one width in 5 s, and what rounding to
    // a ten-thousandth of a px adds.
    let number = |row: &BTreeMap<String, String>, name: &str| row[name].parse::<f64>().unwrap();
    let mut moved = 0.0;
    for pair in rows.windows(2) {
        let step = number(&pair[1], "source_seconds") - number(&pair[0], "source_seconds");
        let across = (number(&pair[1], "centre_x_px") - number(&pair[0], "centre_x_px")).abs();
        let width = f64::midpoint(number(&pair[0], "width_px"), number(&pair[1], "width_px"));
        assert!(across <= step / 5.0 * width + 2e-4, "{across} px in {step} s");
        moved += across;
    }
    assert!(moved > 20.0, "the window follows: {moved} px");
    let conventions =
        fs::read_to_string(folder.path().join("out/walk_vertical_conventions.txt")).unwrap();
    assert!(
        conventions.contains("Variable rate: yes: frames are 4.0 to 304.0 ms apart"),
        "{conventions}"
    );
    assert!(conventions.contains("Set keys by source_seconds"), "{conventions}");
    let report: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.path().join("out/report.json")).unwrap()).unwrap();
    let clip = &report["clips"][0];
    assert!(clip["rate"].is_null());
    assert_eq!(clip["variable_rate"]["longest_gap_secs"], 0.304);
    let segment = &clip["entries"][0]["segments"][0]["outcome"]["planned"];
    assert_eq!(segment["source_seconds"].as_array().unwrap().len(), 222);
}

#[test]
fn a_plan_made_on_a_half_size_proxy_gives_the_windows_of_the_full_file() {
    if !footage::has_decoder() {
        return;
    }
    let (full, half) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let source = "testsrc2=size=2704x2028:rate=25:duration=4";
    let coding = ["-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p"];
    let file = full.path().join("walk.mp4");
    ffmpeg(&[&["-f", "lavfi", "-i", source], &coding[..]].concat(), &file);
    let scaled = ["-i", file.to_str().unwrap(), "-vf", "scale=1352:1014"];
    ffmpeg(&[&scaled[..], &coding[..]].concat(), &half.path().join("walk.mp4"));

    let in_full = "walk,0,300,700,260,420\nwalk,50,1200,760,240,410\nwalk,99,1500,720,260,400\n";
    let in_half = "walk,0,150,350,130,210\nwalk,50,600,380,120,205\nwalk,99,750,360,130,200\n";
    walk(full.path(), "file = \"walk.mp4\"", (in_full, "1080x1920"));
    let proxy = "file = \"walk.mp4\"\nproxy = { of = \"2704x2028\", marks_in = \"proxy\" }";
    walk(half.path(), proxy, (in_half, "1080x1920"));
    planned(full.path());
    let text = planned(half.path());
    assert!(text.contains("the pictures were read from a proxy of 1352x1014"), "{text}");
    let (full, half) = (rows(full.path()), rows(half.path()));
    assert_eq!((full.len(), half.len()), (100, 100));
    let mut largest = 0.0_f64;
    for (a, b) in full.iter().zip(&half) {
        for name in ["left_px", "top_px", "width_px", "height_px"] {
            let apart = (a[name].parse::<f64>().unwrap() - b[name].parse::<f64>().unwrap()).abs();
            assert!(apart <= 0.5, "{name}: {} and {}", a[name], b[name]);
            largest = largest.max(apart);
        }
    }
    eprintln!("windows from the proxy and the full file are {largest:.4} px apart at most");
}

/// A plan of two files of one take: rows name the file and the frame in it, and the report the join.
#[test]
fn rows_of_a_split_take_name_their_file() {
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for name in ["a.mp4", "b.mp4"] {
        let source = "testsrc2=size=640x480:rate=25:duration=2";
        let coding = ["-c:v", "libx264", "-preset", "ultrafast", "-pix_fmt", "yuv420p"];
        ffmpeg(&[&["-f", "lavfi", "-i", source], &coding[..]].concat(), &folder.path().join(name));
    }
    let marks = "walk,0,300,200,60,90\nwalk,99,310,200,60,90\n";
    walk(folder.path(), "files = [\"a.mp4\", \"b.mp4\"]", (marks, "270x480"));
    let text = planned(folder.path());
    assert!(text.contains("frames 0 to 49: a.mp4\n  frames 50 to 99: b.mp4"), "{text}");
    let rows = rows(folder.path());
    assert_eq!((rows[49]["file"].as_str(), rows[49]["file_frame"].as_str()), ("a.mp4", "49"));
    assert_eq!((rows[50]["file"].as_str(), rows[50]["file_frame"].as_str()), ("b.mp4", "0"));
}

#[test]
fn which_of_two_tracks_is_read_is_said_in_the_shoot_file() {
    let Some(shared) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = format!("file = '{}'", shared.join("video/h264-two-video-tracks.mp4").display());
    let marks = "walk,0,200,100,40,60\nwalk,389,220,100,40,60\n";
    walk(folder.path(), &file, (marks, "135x240"));
    let refused = lookroom_in(folder.path(), &["check", "shoot.toml"]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        stderr(&refused)
            .contains("has 2 video tracks (1: 320x180 at 25, 2: 480x270 at 30000/1001)")
    );
    walk(folder.path(), &format!("{file}\ntrack = 2"), (marks, "135x240"));
    let text = planned(folder.path());
    assert!(text.contains("480x270 at 30000/1001 frames/s, 390 frames"), "{text}");
    let conventions =
        fs::read_to_string(folder.path().join("out/walk_vertical_conventions.txt")).unwrap();
    assert!(conventions.contains("h264-two-video-tracks.mp4, video track 2;"), "{conventions}");
}
