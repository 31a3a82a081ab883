//! Each test writes the three files into a folder of its own, changed from ones without a fault.

mod before;
mod cases;
mod clauses;
mod copies;
mod faults;
mod good;
mod lens;
mod motion;
mod mutation;
mod resolve;
mod row_cases;
mod sharpness;
mod time;

use super::{Fault, FaultKind, Reading, Shoot, ShootClip, read, read_brief, read_kit};
use crate::{
    clip::{ClipFacts, Fingerprint, Storage, Timing},
    geometry::Raster,
    timecode::FrameRate,
};
use std::{fs, path::Path};

/// A shoot file without a fault, in which most keys are used.
const SHOOT: &str = r#"version = 1
timeline_rate = "25"
marks = "marks.csv"
pins = "pins.csv"
outputs = "made"
rounding = "even"
[limits]
margin_across = 0.08
pan_caution = "off"
[[deliverable]]
name = "film-hd"
raster = "1920x1080"
rounding = "even-exact-shape"
blocked = { top = 0.12, bottom = 0.2, left = 0, right = 0.1, as_of = 2026-11-01 }
[[deliverable]]
name = "vertical"
raster = "1080x1920"
[deliverable.limits]
greatest_enlargement = 1.2
still_zone = 0.2
[[camera]]
name = "bridge"
trim = { left = 16, top = 0, right = 16.5, bottom = 0 }
[camera.limits]
still_zone = 0.1
handle_secs = 2
[[clip]]
name = "weir-bridge"
camera = "bridge"
frames = "frames/%05d.jpg"
rate = "25"
start_timecode = "10:12:30:00"
play = "every-frame"
ranges = [ { from = 0, to = 100 }, { from = "10:12:36:00", to = 200 } ]
[clip.limits]
margin_across = 0.1
[clip.limits_for.vertical]
margin_across = 0.2
[[clip]]
name = "weir-helmet"
file = "C0001.mp4"
deliverables = ["film-hd"]
cuts = [150]
retimes = [
  { from = 0, to = 110, speed = 1 },
  { from = 110, to = 140, speed = [1.0, 0.25], law = "linear-in-source" },
]
"#;

const MARKS: &str = "\
clip,frame,left,top,width,height,kind,name
# the paddler
weir-bridge,0,100,200,300,400,subject,paddler
weir-bridge,10:12:37:23,2000.5,200,300,400,subject,paddler

weir-bridge,199,,,,,gone,paddler
weir-bridge,0,0,1400,4000,100,keep-out,\"rail, left\"
weir-helmet,0,1,2,3,4,,
weir-helmet,99,-1,2,3,4,,
";

const PINS: &str = "\
clip,deliverable,frame,left,top,width,height
weir-bridge,film-hd,12,100,100,1600,900
weir-bridge,vertical,10:12:33:24,20,0,900,
";

/// The three files; a file that is `None` is not there.
struct Files {
    shoot: Vec<u8>,
    marks: Option<Vec<u8>>,
    pins: Option<Vec<u8>>,
}

impl Default for Files {
    fn default() -> Self {
        Self { shoot: SHOOT.into(), marks: Some(MARKS.into()), pins: Some(PINS.into()) }
    }
}

impl Files {
    fn shoot(text: impl Into<Vec<u8>>) -> Self {
        Self { shoot: text.into(), ..Self::default() }
    }

    fn marks(text: impl Into<Vec<u8>>) -> Self {
        Self { marks: Some(text.into()), ..Self::default() }
    }

    fn pins(text: impl Into<Vec<u8>>) -> Self {
        Self { pins: Some(text.into()), ..Self::default() }
    }

    fn read(&self) -> Reading {
        let folder = tempfile::tempdir().unwrap();
        self.read_in(folder.path())
    }

    fn read_in(&self, folder: &Path) -> Reading {
        fs::write(folder.join("shoot.toml"), &self.shoot).unwrap();
        for (name, bytes) in [("marks.csv", &self.marks), ("pins.csv", &self.pins)] {
            if let Some(bytes) = bytes {
                fs::write(folder.join(name), bytes).unwrap();
            }
        }
        read(&folder.join("shoot.toml")).unwrap()
    }
}

/// A text with its only `from` changed; a test that changes nothing would prove nothing.
fn changed(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` is to be changed");
    text.replace(from, to)
}

/// What is printed of faults, without the folder.
fn printed(faults: &[Fault], folder: &Path) -> Vec<String> {
    let folder = format!("{}/", folder.display());
    faults.iter().map(|fault| fault.to_string().replace(&folder, "")).collect()
}

/// What footage of a clip of the good file is found to be: 200 frames of 4000 x 3000 at 25 frames/s.
fn facts() -> ClipFacts {
    ClipFacts {
        raster: Raster::new(4000, 3000).unwrap(),
        timing: Timing::Constant(FrameRate::new(25, 1).unwrap()),
        frame_count: 200,
        start_timecode: None,
        parts: Vec::new(),
        storage: Storage::default(),
        fingerprint: Fingerprint { sampled_sha256: String::new(), byte_count: 1, file_count: 200 },
        bit_rate: None,
    }
}

fn bridge(shoot: &Shoot) -> &ShootClip {
    shoot.clip("weir-bridge").unwrap()
}
