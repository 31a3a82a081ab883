//! Hard cuts on real clips: all of them where clips are joined, none where there are none.

use crate::footage;
use image::GrayImage;
use lookroom::{
    action::CutFinder,
    clip::{Footage, Reading},
    geometry::Raster,
    media::open,
    picture::raster_of_lines,
};
use std::{ops::ControlFlow, path::Path};

/// All frames of footage in luma at a few lines.
fn frames(footage: &Footage, rate: Option<&str>) -> Vec<GrayImage> {
    let reading = Reading { rate: rate.map(|rate| rate.parse().unwrap()), ..Reading::default() };
    let mut opened = open(footage, &reading).unwrap();
    let size = raster_of_lines(opened.facts.raster, 90);
    let whole = opened.facts.whole();
    let mut frames = Vec::new();
    opened
        .frames
        .visit_luma(whole, size, &mut |_, luma| {
            frames.push(luma.clone());
            ControlFlow::Continue(())
        })
        .unwrap();
    frames
}

fn cuts<'f>(frames: impl IntoIterator<Item = &'f GrayImage>) -> Vec<u64> {
    let mut frames = frames.into_iter().peekable();
    let (width, height) = frames.peek().unwrap().dimensions();
    let mut finder = CutFinder::new(Raster::new(width, height).unwrap());
    frames.for_each(|frame| finder.take(frame).unwrap());
    finder.finish().iter().map(|cut| cut.0).collect()
}

fn boxed(folder: &Path, clip: &str) -> Vec<GrayImage> {
    let pattern = folder.join("boxed").join(clip).join("%05d.jpg");
    frames(&Footage::Sequence(pattern), Some("24"))
}

#[test]
fn every_join_of_two_real_clips_is_found_and_no_other_cut_is() {
    let Some(folder) = footage::folder() else { return };
    let clips: Vec<Vec<GrayImage>> =
        footage::BOXED.iter().map(|clip| boxed(&folder, clip)).collect();
    let mut wrong = Vec::new();
    for (name, clip) in footage::BOXED.iter().zip(&clips) {
        let found = cuts(clip);
        if !found.is_empty() {
            wrong.push(format!("{name} alone: {found:?}"));
        }
    }
    for (first_name, first) in footage::BOXED.iter().zip(&clips) {
        for (second_name, second) in footage::BOXED.iter().zip(&clips) {
            if first_name != second_name {
                let found = cuts(first.iter().chain(second));
                if found != [first.len() as u64] {
                    wrong.push(format!(
                        "{first_name}, {second_name}: {found:?}, not {}",
                        first.len()
                    ));
                }
            }
        }
    }
    eprintln!("6 clips and 30 joins, {} wrong", wrong.len());
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn no_cut_is_invented_in_real_videos() {
    let Some(folder) = footage::folder() else { return };
    if !footage::has_decoder() {
        return;
    }
    for name in [
        "h264-1280x720-25fps-vehicle.mp4",
        "h264-960x540-25fps-audio-first-vehicle.mp4",
        "h264-768x432-10fps-people-come-and-go.mp4",
        "h264-768x432-12.5fps-fixed-road.mp4",
    ] {
        let frames = frames(&Footage::video(folder.join("video").join(name)), None);
        assert_eq!(cuts(&frames), [0_u64; 0], "{name}");
    }
}
