//! Reading luma of a tall capture at 480 lines, beside the decoder alone doing the same scaling (area averaging, of all planes).
//!
//! Compare the two rows of one run as a ratio: the decoder's own speed is in both. The clip is made by the
//! decoder's own encoder (2704 x 2028, 300 frames of moving noise, about 60 Mb/s); without the decoder there is
//! nothing to measure. The last lines tell the most memory that this process itself held, for a clip and for
//! one ten times as long.
#![allow(missing_docs, reason = "what the macros make has no readers")]
#![allow(clippy::print_stderr, reason = "a measurement says what it found")]

use criterion::{Criterion, criterion_group, criterion_main};
use lookroom::{
    action::{ActionFinder, ActionWeights, BackgroundMeter, CutFinder, RigFinder},
    clip::{Footage, Reading},
    media::open,
    picture::raster_of_lines,
};
use std::{
    fs,
    hint::black_box,
    ops::ControlFlow,
    path::{Path, PathBuf},
    process::Command,
    time::Instant,
};

const LINES: u32 = 480;

fn make(path: &Path, size: &str, frames: &str, quality: &[&str]) -> bool {
    let source = format!("testsrc2=size={size}:rate=50,noise=alls=12:allf=t");
    Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y", "-f", "lavfi", "-i", &source, "-frames:v", frames])
        .args(["-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p"])
        .args(quality)
        .arg(path)
        .status()
        .is_ok_and(|status| status.success())
}

/// Reads all of a clip's luma; a sum, so that every byte is looked at.
fn read(path: &Path) -> u64 {
    let mut opened =
        open(&Footage::video(path), &Reading::default()).expect("a clip that was just made");
    let size = raster_of_lines(opened.facts.raster, LINES);
    let (whole, mut sum) = (opened.facts.whole(), 0);
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            sum += u64::from(luma.as_raw()[0]);
            ControlFlow::Continue(())
        })
        .expect("every frame");
    sum
}

fn decode_alone(path: &Path) {
    let filter = "scale=640:480:flags=area";
    let done = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-i"])
        .arg(path)
        .args(["-vf", filter, "-f", "null", "-"])
        .status();
    assert!(done.expect("the decoder").success());
}

/// Both in turn, so that whatever else the machine does falls on both alike.
fn tell_ratio(clip: &Path) {
    const PAIRS: usize = 7;
    let timed = |work: &dyn Fn()| {
        let begun = Instant::now();
        work();
        begun.elapsed().as_secs_f64()
    };
    let (mut reads, mut alone) = (Vec::new(), Vec::new());
    for _ in 0..PAIRS {
        reads.push(timed(&|| {
            black_box(read(clip));
        }));
        alone.push(timed(&|| decode_alone(clip)));
    }
    for times in [&mut reads, &mut alone] {
        times.sort_by(f64::total_cmp);
    }
    eprintln!(
        "in turn, {PAIRS} times each: medians {:.2} and {:.2} s, ratio {:.3}; least {:.2} and {:.2} s, ratio {:.3}",
        reads[PAIRS / 2],
        alone[PAIRS / 2],
        reads[PAIRS / 2] / alone[PAIRS / 2],
        reads[0],
        alone[0],
        reads[0] / alone[0]
    );
}

/// Milliseconds a frame of reading at 360 lines, and of each thing that is measured there beside it.
fn tell_measuring(clip: &Path) {
    let mut opened =
        open(&Footage::video(clip), &Reading::default()).expect("a clip that was just made");
    let (raster, whole) = (opened.facts.raster, opened.facts.whole());
    let size = raster_of_lines(raster, 360);
    let mut rig = RigFinder::new(size);
    let mut meter = BackgroundMeter::new(raster, size, None).expect("no rig");
    let mut action =
        ActionFinder::new(raster, size, None, ActionWeights::default()).expect("no rig");
    let mut cuts = CutFinder::new(size);
    let (mut count, mut secs) = (0.0, [0.0; 4]);
    let begun = Instant::now();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            let mut at = Instant::now();
            let mut lap = |row: &mut f64| {
                *row += at.elapsed().as_secs_f64();
                at = Instant::now();
            };
            rig.take(luma).expect("one size");
            lap(&mut secs[0]);
            let step = meter.take(luma, &[]).expect("one size");
            lap(&mut secs[1]);
            action.take(luma, step.as_ref()).expect("one size");
            lap(&mut secs[2]);
            cuts.take(luma).expect("one size");
            lap(&mut secs[3]);
            count += 1.0;
            ControlFlow::Continue(())
        })
        .expect("every frame");
    let all = begun.elapsed().as_secs_f64();
    black_box((rig.finding(), action.finish(), cuts.finish()));
    let ms = secs.map(|secs| 1000.0 * secs / count);
    eprintln!(
        "ms a frame at 360 lines: rig {:.1}, background {:.1}, action {:.1}, cuts {:.1}; with reading {:.1}",
        ms[0],
        ms[1],
        ms[2],
        ms[3],
        1000.0 * all / count
    );
}

/// The most memory that this process has held so far, in MB, as the system tells.
fn most_held_mb() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<u64>().ok()? * 1024 / 1_000_000)
}

fn reading(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().expect("a folder");
    let named = |name: &str| -> PathBuf { folder.path().join(name) };
    let (clip, long) = (named("tall.mp4"), named("long.mp4"));
    if !make(&clip, "2704x2028", "300", &["-b:v", "60M"]) {
        eprintln!("skipped: there is no ffmpeg to make a clip with");
        return;
    }
    let mut group = criterion.benchmark_group("luma at 480 lines, 300 frames of 2704x2028");
    group.sample_size(10);
    group.bench_function("read", |bencher| bencher.iter(|| black_box(read(&clip))));
    group.bench_function("decoder alone", |bencher| bencher.iter(|| decode_alone(&clip)));
    group.finish();

    tell_ratio(&clip);
    tell_measuring(&clip);
    let before = most_held_mb();
    let copied = Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y", "-stream_loop", "9", "-i"])
        .arg(&clip)
        .args(["-c", "copy"])
        .arg(&long)
        .status();
    assert!(copied.is_ok_and(|status| status.success()), "a clip ten times as long");
    black_box(read(&long));
    eprintln!("most memory held: {before:?} MB; {:?} MB after ten times as long", most_held_mb());
}

criterion_group!(benches, reading);
criterion_main!(benches);
