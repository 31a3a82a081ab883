//! The follow solver beside a general one (crate `clarabel`, asked for 1e-6), on the same problem in the same run: time
//! and memory at 9,000 frames, 216,000 frames, a pin that is moved in a shot of 1,500, and all five deliverables of a
//! minute beside the decoder.
//!
//! All terms are on: x, y and width free, boxes with margins, a place with lead, a blocked zone, a preferred width, the
//! hard pan limit, and a shake that is ridden on. Compare the figures of one run as ratios. Memory is the most that a
//! process of its own held, less what it held before it solved.
#![allow(missing_docs, reason = "what the macros make has no readers")]
#![allow(clippy::print_stderr, reason = "a measurement says what it found")]
#![allow(clippy::print_stdout, reason = "a part says to the whole what it held")]
#![allow(clippy::cast_precision_loss, reason = "frames are counted in small numbers")]
#![allow(clippy::unwrap_used, reason = "a measurement that cannot go on has failed")]

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use lookroom::{
    clip::{Footage, Reading},
    delivery::Limits,
    geometry::{Raster, Region, Shape, Window},
    media::open,
    pan::{FrameWish, Insets, Pace, Pin, Place, PlacedPoint, Request, Session, follow, plan},
    picture::raster_of_lines,
    tasks::pan_rules,
};
use std::{
    env, fs,
    hint::black_box,
    ops::ControlFlow,
    path::Path,
    process::Command,
    thread,
    time::{Duration, Instant},
};

#[path = "../tests/oracle/general.rs"]
mod general;

/// A subject that swings across a 2704 x 2028 frame and changes its size, out of sight now and then.
fn request(frame_count: usize, shape: (u32, u32)) -> Request {
    let raster = Raster::new(2704, 2028).unwrap();
    let secs = |index: usize| index as f64 / 25.0;
    let frames = (0..frame_count).map(|index| wish(secs(index))).collect();
    let shape = Shape::new(shape.0, shape.1).unwrap();
    let rules = pan_rules(&Limits::default());
    let plain = Request::plain((raster, shape), Pace::even(1.0 / 25.0), frames, rules);
    let shaking = |secs: f64| (4.0 * (19.0 * secs).sin(), 3.0 * (23.0 * secs).sin());
    Request {
        least_width: 0.4 * plain.greatest_width(),
        preferred_width: 0.8 * plain.greatest_width(),
        margins: (0.05, 0.05),
        blocked: Insets { top: 0.06, ..Insets::default() },
        ride: (0..frame_count).map(|index| shaking(secs(index))).collect(),
        ..plain
    }
}

fn wish(secs: f64) -> FrameWish {
    if (2.4..3.0).contains(&(secs % 20.0)) {
        return FrameWish::default();
    }
    let x = 1352.0 + 820.0 * (0.37 * secs).sin() + 160.0 * (1.3 * secs).sin();
    let y = 980.0 + 300.0 * (0.25 * secs).cos();
    let (width, height) = (340.0 + 80.0 * (0.2 * secs).sin(), 420.0 + 60.0 * (0.31 * secs).cos());
    let region = Region::new(x - width / 2.0, y - height / 2.0, width, height).unwrap();
    let mut wish = FrameWish::for_box(region);
    wish.boxes[0].weight = 0.7;
    let place = Place { across: 0.5 - 0.05 * (0.37 * secs).cos(), down: 0.52 };
    wish.point = wish.point.map(|point| PlacedPoint { place, ..point });
    wish
}

fn timed(work: impl FnOnce()) -> Duration {
    let begun = Instant::now();
    work();
    begun.elapsed()
}

/// The most memory that this process has held so far, in MB, as the system tells.
fn most_held_mb() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? * 1024.0 / 1e6)
}

/// In a process of its own: solves, and says how much more memory was held then.
const PART: &str = "LOOKROOM_BENCH_PART";

fn run_part(part: &str) {
    let (solver, frames) = part.split_once(' ').unwrap();
    let request = request(frames.parse().unwrap(), (9, 16));
    let before = most_held_mb();
    if solver == "ours" {
        black_box(follow(&request, &[]).unwrap());
    } else {
        black_box(general::least_cost(&request, 1e-6));
    }
    if let (Some(before), Some(after)) = (before, most_held_mb()) {
        println!("{} {after}", after - before);
    }
}

/// The memory of a part, in MB: for the solver, and for the whole process.
fn memory_of(solver: &str, frames: usize) -> Option<(f64, f64)> {
    let program = env::current_exe().ok()?;
    let output = Command::new(program).env(PART, format!("{solver} {frames}")).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let (own, whole) = text.trim().split_once(' ')?;
    Some((own.parse().ok()?, whole.parse().ok()?))
}

fn beside_a_general_solver(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("follow, 9,000 frames");
    group.sample_size(10);
    let request = request(9000, (9, 16));
    group.bench_with_input(BenchmarkId::from_parameter("ours"), &request, |b, request| {
        b.iter(|| follow(black_box(request), &[]));
    });
    group.bench_with_input(BenchmarkId::from_parameter("general"), &request, |b, request| {
        b.iter(|| general::least_cost(black_box(request), 1e-6));
    });
    group.finish();
    // In turn, so that whatever else the machine does falls on both alike.
    let (mut ours, mut other) = (Duration::MAX, Duration::MAX);
    for _ in 0..5 {
        ours = ours.min(timed(|| drop(black_box(follow(&request, &[])))));
        other = other.min(timed(|| drop(black_box(general::least_cost(&request, 1e-6)))));
    }
    eprintln!(
        "9,000 frames, least of five in turn: ours {ours:.3?}, general {other:.3?}, {:.1} times as fast",
        other.as_secs_f64() / ours.as_secs_f64()
    );
    let long = self::request(216_000, (9, 16));
    let took = timed(|| drop(black_box(follow(&long, &[]).unwrap().unwrap())));
    eprintln!(
        "216,000 frames: {took:.2?}, {:.1} times 9,000 frames",
        took.as_secs_f64() / ours.as_secs_f64()
    );
    for (solver, frames) in [("ours", 9000), ("general", 9000), ("ours", 216_000)] {
        if let Some((own, whole)) = memory_of(solver, frames) {
            eprintln!("memory, {solver}, {frames} frames: {own:.0} MB, process {whole:.0} MB");
        }
    }
}

/// A pin in a shot of a minute, dragged by a little and put elsewhere. Of some runs in turn the least, so that whatever
/// else the machine does falls on both alike.
fn a_moved_pin(_: &mut Criterion) {
    let request = request(1500, (9, 16));
    let windows = follow(&request, &[]).unwrap().unwrap();
    let share = |index: usize, by: (f64, f64)| {
        let pin = |(moved_px, wider_px): (f64, f64)| {
            let width = windows[index].width() + wider_px;
            let height = request.shape.height_for(width);
            let left = (windows[index].left() + moved_px).clamp(0.0, 2704.0 - width);
            let top = windows[index].top().clamp(0.0, 2028.0 - height);
            let corner = (left, top);
            let window = Window::inside(request.raster, corner, (width, height)).unwrap();
            Pin { index, window }
        };
        let pinned = Request { pins: vec![pin((0.0, 0.0))], ..request.clone() };
        let (mut first, mut again) = (Duration::MAX, Duration::MAX);
        for _ in 0..4 {
            let pinned = pinned.clone();
            let begun = Instant::now();
            let mut session = Session::new(pinned, &[]).unwrap().unwrap();
            first = first.min(begun.elapsed());
            again = again.min(timed(|| {
                black_box(session.set_pins(vec![pin(by)]).unwrap());
            }));
        }
        100.0 * again.as_secs_f64() / first.as_secs_f64()
    };
    for (what, moves) in [
        ("dragged by 2 to 8 px", [(2.0, 0.0), (-5.0, 0.0), (8.0, 4.0), (-3.0, -8.0)]),
        ("put 10 to 80 px away", [(30.0, 0.0), (-60.0, 0.0), (80.0, 40.0), (10.0, -60.0)]),
    ] {
        let at = [200, 500, 750, 1100, 1400];
        let mut shares: Vec<f64> =
            at.iter().flat_map(|index| moves.map(|by| share(*index, by))).collect();
        shares.sort_by(f64::total_cmp);
        let (median, worst) = (shares[shares.len() / 2], shares[shares.len() - 1]);
        eprintln!(
            "a pin in 1,500 frames, {what}, share of the first solve: median {median:.1} %, worst {worst:.1} %"
        );
    }
}

/// Five deliverables of a minute, beside reading that minute's luma at analysis size.
fn five_deliverables(_: &mut Criterion) {
    const SHAPES: [(u32, u32); 5] = [(16, 9), (9, 16), (1, 1), (4, 5), (1024, 429)];
    let requests: Vec<Request> =
        SHAPES.map(|shape| Request { ride: Vec::new(), ..request(1500, shape) }).to_vec();
    // A core a deliverable, as the command does.
    let planning = timed(|| {
        thread::scope(|scope| {
            for request in &requests {
                scope.spawn(move || drop(black_box(plan(request))));
            }
        });
    });
    let folder = tempfile::tempdir().unwrap();
    let clip = folder.path().join("tall.mp4");
    if !make(&clip) {
        eprintln!(
            "five deliverables of a minute: {planning:.3?}; there is no ffmpeg to compare with"
        );
        return;
    }
    let reading = timed(|| read(&clip)) * 5;
    eprintln!(
        "five deliverables of a minute: {planning:.3?}, {:.1} % of the {reading:.1?} that reading its luma takes",
        100.0 * planning.as_secs_f64() / reading.as_secs_f64()
    );
}

/// A fifth of a minute of a tall capture.
fn make(path: &Path) -> bool {
    let source = "testsrc2=size=2704x2028:rate=25,noise=alls=12:allf=t";
    Command::new("ffmpeg")
        .args(["-nostdin", "-v", "error", "-y", "-f", "lavfi", "-i", source, "-frames:v", "300"])
        .args(["-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p", "-b:v", "60M"])
        .arg(path)
        .status()
        .is_ok_and(|status| status.success())
}

fn read(path: &Path) {
    let mut opened = open(&Footage::video(path), &Reading::default()).unwrap();
    let size = raster_of_lines(opened.facts.raster, 480);
    let whole = opened.facts.whole();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            black_box(luma.as_raw()[0]);
            ControlFlow::Continue(())
        })
        .unwrap();
}

fn parts(criterion: &mut Criterion) {
    if let Ok(part) = env::var(PART) {
        run_part(&part);
        return;
    }
    beside_a_general_solver(criterion);
    a_moved_pin(criterion);
    five_deliverables(criterion);
}

criterion_group!(benches, parts);
criterion_main!(benches);
