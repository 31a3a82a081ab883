//! Where a plan's time goes: hold, follow by the length of the run, keys by the bound, and shrinking a frame.
//!
//! Compare rows of one run as ratios; the machine's own speed is in none of them.
#![allow(missing_docs, reason = "what the macros make has no readers")]

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use lookroom::{
    delivery::Limits,
    geometry::{Raster, Region, Shape},
    keyframe::reduce,
    pan::{FrameWish, Pace, Request, follow, plan},
    picture::{RgbImage, shrink_to_fit},
    tasks::pan_rules,
};
use std::hint::black_box;

const EVEN: Pace = Pace::even(0.04);

/// A subject that swings across a 1440 x 1080 frame, followed in 9:16.
fn request(frame_count: u32) -> Request {
    let raster = Raster::new(1440, 1080).expect("a raster");
    let frames = (0..frame_count)
        .map(|frame| {
            let t = f64::from(frame) / 25.0;
            let x = 720.0 + 450.0 * (0.4 * t).sin() + 20.0 * (3.1 * t).sin();
            let region =
                Region::new(x - 90.0, 420.0 + 60.0 * (0.3 * t).cos(), 180.0, 140.0).expect("a box");
            FrameWish::for_box(region)
        })
        .collect();
    let shape = Shape::new(9, 16).expect("a shape");
    let plain = Request::plain((raster, shape), EVEN, frames, pan_rules(&Limits::default()));
    Request { least_width: 540.0, margins: (0.05, 0.05), ..plain }
}

fn paths(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("follow");
    group.sample_size(10);
    for frame_count in [225, 900, 3600] {
        let request = request(frame_count);
        group.bench_with_input(BenchmarkId::from_parameter(frame_count), &request, |b, request| {
            b.iter(|| follow(black_box(request), &[]));
        });
    }
    group.finish();
    let mut still = request(900);
    let first = still.frames[0].clone();
    still.frames.fill(first);
    criterion.bench_function("hold/900", |b| b.iter(|| plan(black_box(&still))));
}

fn keys(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("keys of 900 frames by delivered px");
    let path = follow(&request(900), &[]).expect("solved").expect("a path");
    let rasters =
        (Raster::new(1440, 1080).expect("a raster"), Raster::new(1080, 1920).expect("a raster"));
    for bound in [0.25, 0.5, 1.0, 4.0] {
        group.bench_with_input(BenchmarkId::from_parameter(bound), &bound, |b, bound| {
            b.iter(|| reduce(black_box(&path), &EVEN, &[], rasters, *bound));
        });
    }
    group.finish();
}

fn pictures(criterion: &mut Criterion) {
    let frame =
        RgbImage::from_fn(2704, 2028, |x, y| image::Rgb([(x % 251) as u8, (y % 241) as u8, 90]));
    criterion.bench_function("shrink 2704x2028 to 480", |b| {
        b.iter(|| shrink_to_fit(black_box(&frame), 480, 480));
    });
}

criterion_group!(benches, paths, keys, pictures);
criterion_main!(benches);
