//! `lookroom track`, whole, beside decoding the same footage and doing nothing with it, in turns.
//!
//! Compare the rows of one run as ratios: on a shared machine single runs differ by half. The clip is one of the boxed clips,
//! forwards and backwards again and again, enlarged to 2704x2028 with grain and coded at 60 Mbit/s, a mark every 48 frames; it
//! is made in a folder of temporary files. Needs `ffmpeg` with x264 and the footage of the tests; what is absent is told.
//!
//! `LOOKROOM_BENCH_FRAMES` is how many frames it has (400), `LOOKROOM_BENCH_ROUNDS` how often each is measured (5), and
//! `LOOKROOM_BENCH_CLIP` a file made by an earlier run, which saves the minutes that making it takes.
#![allow(clippy::print_stderr, reason = "a measurement says what it found")]
#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on has failed")]

use std::{
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
    process::{Command, Stdio},
    time::Instant,
};

const CLIP: &str = "parkour";
/// The boxed clip's raster, and that of the enlarged one.
const FROM: (f64, f64) = (854.0, 480.0);
const TO: (f64, f64) = (2704.0, 2028.0);
const MARKED_EVERY: usize = 48;

fn number(name: &str, otherwise: usize) -> usize {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

/// How long a program takes, in seconds; `None` if it cannot be started.
fn seconds(command: &mut Command) -> Option<f64> {
    let start = Instant::now();
    let status = command.stdin(Stdio::null()).stdout(Stdio::null()).status().ok()?;
    assert!(status.success(), "{command:?}");
    Some(start.elapsed().as_secs_f64())
}

fn ffmpeg() -> Command {
    let mut command = Command::new("ffmpeg");
    command.args(["-nostdin", "-v", "error", "-y"]);
    command
}

fn make_clip(folder: &Path, frames: usize, to: &Path) -> Option<f64> {
    let filter = format!(
        "[0]split=2[a][b];[b]reverse[r];[a][r]concat=n=2:v=1,loop=loop=-1:size=32767:start=0,\
         scale=2704:2028:flags=bicubic,noise=alls=6:allf=t,trim=end_frame={frames},format=yuv420p[o]"
    );
    let mut command = ffmpeg();
    command.args(["-framerate", "30", "-i"]).arg(folder.join("%05d.jpg"));
    command.args(["-filter_complex", &filter, "-map", "[o]", "-c:v", "libx264"]);
    command.args(["-preset", "veryfast", "-b:v", "60M", "-g", "30"]).arg(to);
    seconds(&mut command)
}

/// The marks of a clip that goes to and fro over these boxes.
fn marks(boxes: &[Vec<f64>], frames: usize) -> String {
    let mut text = "clip,frame,left,top,width,height,kind,name\n".to_owned();
    for frame in (0..frames).step_by(MARKED_EVERY).chain([frames - 1]) {
        let place = frame % (2 * boxes.len());
        let at = &boxes[place.min(2 * boxes.len() - 1 - place)];
        let (across, down) = (TO.0 / FROM.0, TO.1 / FROM.1);
        let [left, top, width, height] =
            [at[0] * across, at[1] * down, at[2] * across, at[3] * down];
        writeln!(text, "ride,{frame},{left},{top},{width},{height},subject,rider").unwrap();
    }
    text
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// What is measured, a figure a round each.
#[derive(Default)]
struct Seconds {
    decoded: Vec<f64>,
    shrunk: Vec<f64>,
    followed: Vec<f64>,
    measured: Vec<f64>,
}

fn rounds(folder: &Path, clip: &Path, count: usize) -> Seconds {
    let shoot = |keys: &str| {
        format!(
            "version = 1\ntimeline_rate = 30\nmarks = \"marks.csv\"\n[[deliverable]]\nname = \"film\"\nraster = \"1920x1080\"\n\
             [[clip]]\nname = \"ride\"\nfile = {:?}\n{keys}",
            clip.display().to_string()
        )
    };
    let track = |keys: &str| {
        let _ = fs::remove_dir_all(folder.join("tracks"));
        fs::write(folder.join("shoot.toml"), shoot(keys)).unwrap();
        let mut track = Command::new(env!("CARGO_BIN_EXE_lookroom"));
        track.args(["track", "shoot.toml"]).current_dir(folder).stderr(Stdio::null());
        seconds(&mut track).unwrap()
    };
    let mut decoded = ffmpeg();
    decoded.arg("-i").arg(clip).args(["-f", "null", "-"]);
    let mut small = ffmpeg();
    small.arg("-i").arg(clip).args(["-vf", "scale=960:720:flags=area"]);
    small.args(["-f", "rawvideo", "-pix_fmt", "rgb24", "-"]);
    let mut found = Seconds::default();
    for _ in 0..count {
        found.followed.push(track(""));
        found.decoded.push(seconds(&mut decoded).unwrap());
        found.measured.push(track("steady = \"world\"\n"));
        found.decoded.push(seconds(&mut decoded).unwrap());
        found.shrunk.push(seconds(&mut small).unwrap());
    }
    found
}

fn main() {
    let shared = std::env::var_os("LOOKROOM_SHARED")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let boxed = shared.join("footage/boxed").join(CLIP);
    let frames = number("LOOKROOM_BENCH_FRAMES", 400);
    let Ok(text) = fs::read_to_string(boxed.join("boxes.csv")) else {
        eprintln!("left out: ../shared/footage/boxed is not there");
        return;
    };
    let row = |row: &str| row.split(',').skip(1).map(|cell| cell.parse().unwrap()).collect();
    let boxes: Vec<Vec<f64>> = text.lines().skip(1).map(row).collect();
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("marks.csv"), marks(&boxes, frames)).unwrap();
    let made = folder.path().join("ride.mp4");
    let clip = std::env::var_os("LOOKROOM_BENCH_CLIP").map(PathBuf::from);
    if clip.is_none() && make_clip(&boxed, frames, &made).is_none() {
        eprintln!("left out: ffmpeg is not there");
        return;
    }
    let found = rounds(folder.path(), &clip.unwrap_or(made), number("LOOKROOM_BENCH_ROUNDS", 5));
    let alone = median(found.decoded);
    eprintln!("{frames} frames of 2704x2028, medians: seconds, over decoding alone");
    for (what, values) in [
        ("decoding alone, all cores", vec![alone]),
        ("decoding and shrinking for analysis", found.shrunk),
        ("lookroom track", found.followed),
        ("lookroom track, background measured too", found.measured),
    ] {
        let secs = median(values);
        eprintln!("{what:40} {secs:6.1} {:5.2}", secs / alone);
    }
}
