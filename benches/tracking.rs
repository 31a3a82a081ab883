//! Following the boxed clips from their first boxes on one core, beside CSRT on one thread in the same run.
//!
//! Compare the two columns of one run as a ratio. Frames are decoded beforehand on both sides. Needs the footage
//! of the tests, and for the comparator `pip install -r benches/tracking-requirements.txt`; the variable
//! `LOOKROOM_PYTHON` names another interpreter than `python3`. What is absent is told and left out.
#![allow(clippy::print_stderr, reason = "a measurement says what it found")]
#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on has failed")]

use lookroom::{geometry::Region, picture::RgbImage, subject::Tracker};
use std::{
    path::{Path, PathBuf},
    process::Command,
    time::Instant,
};

const CLIPS: [&str; 6] =
    ["bmx-trees", "car-roundabout", "car-shadow", "motocross-jump", "parkour", "scooter-black"];

fn pictures(folder: &Path) -> Vec<RgbImage> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut paths: Vec<PathBuf> =
        entries.filter(|path| path.extension().is_some_and(|end| end == "jpg")).collect();
    paths.sort();
    paths.iter().map(|path| image::open(path).unwrap().into_rgb8()).collect()
}

fn first_box(folder: &Path) -> Region {
    let text = std::fs::read_to_string(folder.join("boxes.csv")).unwrap();
    let row = text.lines().nth(1).unwrap();
    let numbers: Vec<f64> = row.split(',').skip(1).map(|n| n.parse().unwrap()).collect();
    Region::new(numbers[0], numbers[1], numbers[2], numbers[3]).unwrap()
}

/// The comparator's frames per second, a clip each.
fn csrt(footage: &Path) -> Option<Vec<f64>> {
    let python = std::env::var("LOOKROOM_PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/tracking_csrt.py");
    let output =
        Command::new(python).arg(script).arg(footage).arg("1").args(CLIPS).output().ok()?;
    let told: serde_json::Value = serde_json::from_slice(&output.stdout).ok()?;
    let rate = |clip: &&str| {
        let clip = &told["clips"][*clip];
        Some(clip["frames"].as_f64()? / clip["seconds"].as_f64()?)
    };
    CLIPS.iter().map(rate).collect()
}

fn main() {
    let shared = std::env::var_os("LOOKROOM_SHARED")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let footage = shared.join("footage/boxed");
    if !footage.is_dir() {
        eprintln!("left out: ../shared/footage/boxed is not there");
        return;
    }
    let ours = CLIPS.map(|clip| {
        let folder = footage.join(clip);
        let pictures = pictures(&folder);
        let mut tracker = Tracker::new(&pictures[0], &first_box(&folder)).unwrap();
        let start = Instant::now();
        for picture in &pictures[1..] {
            std::hint::black_box(tracker.step(picture));
        }
        (pictures.len() - 1) as f64 / start.elapsed().as_secs_f64()
    });
    let theirs = csrt(&footage);
    if theirs.is_none() {
        eprintln!("CSRT left out: install benches/tracking-requirements.txt");
    }
    eprintln!("frames/s, one core: ours, CSRT, ratio");
    for (at, clip) in CLIPS.iter().enumerate() {
        match &theirs {
            Some(theirs) => {
                let ratio = ours[at] / theirs[at];
                eprintln!("{clip:16} {:6.1} {:6.1} {ratio:5.1}", ours[at], theirs[at]);
            }
            None => eprintln!("{clip:16} {:6.1}", ours[at]),
        }
    }
}
