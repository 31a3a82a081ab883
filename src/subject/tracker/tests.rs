//! The tracker on made pictures, whose boxes are known.

use super::*;
use crate::{
    geometry::Raster,
    picture::{FrameError, FrameSource, GrayImage, RgbImage},
    subject::{Mark, MarkKind},
    timecode::{FrameIndex, FrameRange},
};
use std::{collections::BTreeSet, ops::ControlFlow};

const SIZE: (u32, u32) = (320, 240);

/// A made clip: a textured subject before a textured background.
#[derive(Clone, Copy)]
struct Scene {
    /// The subject's box; outside the frame where there is none.
    subject: [f64; 4],
    /// How far the background has gone, px.
    background: [f64; 2],
    /// Whether a plain post stands before the middle of the picture.
    has_post: bool,
}

/// Smooth noise between 0 and 1, about five px a bump.
fn noise(x: f64, y: f64, seed: u64) -> f64 {
    let corner = |i: f64, j: f64| {
        let mut mixed = i.to_bits().wrapping_mul(0x9e37_79b9_7f4a_7c15)
            ^ j.to_bits().wrapping_mul(0xc2b2_ae3d_27d4_eb4f)
            ^ seed.wrapping_mul(0x1656_67b1_9e37_79f9);
        mixed ^= mixed >> 29;
        mixed = mixed.wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^= mixed >> 31;
        mixed = mixed.wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed ^= mixed >> 32;
        (mixed % 1024) as f64 / 1023.0
    };
    let (x, y) = (x / 5.0, y / 5.0);
    let (left, top) = (x.floor(), y.floor());
    let ease = |v: f64| v * v * (3.0 - 2.0 * v);
    let (right, down) = (ease(x - left), ease(y - top));
    let upper = corner(left, top) * (1.0 - right) + corner(left + 1.0, top) * right;
    let lower = corner(left, top + 1.0) * (1.0 - right) + corner(left + 1.0, top + 1.0) * right;
    upper * (1.0 - down) + lower * down
}

impl Scene {
    fn colour(&self, x: f64, y: f64) -> [f64; 3] {
        if self.has_post && (130.0..230.0).contains(&x) {
            return [90.0, 90.0, 95.0];
        }
        let [left, top, width, height] = self.subject;
        let (across, down) = ((x - left) / width, (y - top) / height);
        if (0.0..1.0).contains(&across) && (0.0..1.0).contains(&down) {
            let value = noise(across * 60.0, down * 60.0, 7);
            return [60.0 + 190.0 * value, 30.0 + 90.0 * value, 40.0];
        }
        let value = noise(x - self.background[0], y - self.background[1], 3);
        [30.0 + 60.0 * value, 60.0 + 120.0 * value, 70.0 + 130.0 * value]
    }

    /// Each px the mean of four places, so that edges between px are drawn.
    fn picture(&self) -> RgbImage {
        RgbImage::from_fn(SIZE.0, SIZE.1, |x, y| {
            let mut sum = [0.0; 3];
            for part in 0..4 {
                let at = |v: u32, part: u32| f64::from(v) + (f64::from(part) + 0.5) / 2.0;
                let colour = self.colour(at(x, part % 2), at(y, part / 2));
                for (sum, value) in sum.iter_mut().zip(colour) {
                    *sum += value / 4.0;
                }
            }
            image::Rgb(sum.map(|value| u8::try_from(whole::floor(value.round())).unwrap()))
        })
    }

    fn region(&self) -> Region {
        let [left, top, width, height] = self.subject;
        Region::new(left, top, width, height).unwrap()
    }
}

/// A scene of a subject that goes evenly while the camera pans.
fn going(frame: usize, step: [f64; 2]) -> Scene {
    let t = frame as f64;
    Scene {
        subject: [60.0 + step[0] * t, 80.0 + step[1] * t, 64.0, 56.0],
        background: [-2.0 * t, 0.0],
        has_post: false,
    }
}

/// What a tracker sees, a frame each after the first.
fn seen(scenes: &[Scene]) -> Vec<Seen> {
    let mut tracker = Tracker::new(&scenes[0].picture(), &scenes[0].region()).unwrap();
    scenes[1..].iter().map(|scene| tracker.step(&scene.picture())).collect()
}

/// The largest difference of centres, px.
fn off_px(scenes: &[Scene], seen: &[Seen]) -> f64 {
    let off = |(scene, seen): (&Scene, &Seen)| {
        let (truth, found) = (scene.region(), seen.region);
        let across = (truth.centre_x() - found.centre_x()).abs();
        across.max((truth.centre_y() - found.centre_y()).abs())
    };
    scenes[1..].iter().zip(seen).map(off).fold(0.0, f64::max)
}

#[test]
fn whole_px_are_followed_exactly_and_half_ones_to_a_tenth() {
    for (step, within) in [([3.0, 1.0], 0.05), ([0.0, 0.0], 0.05), ([2.5, -0.5], 0.1)] {
        let scenes: Vec<Scene> = (0..12).map(|frame| going(frame, step)).collect();
        let found = seen(&scenes);
        let off = off_px(&scenes, &found);
        assert!(off < within, "{step:?}: {off} px");
        assert!(found.iter().all(|seen| !seen.is_lost && seen.cues.confidence() > 0.9), "{step:?}");
    }
}

#[test]
fn sizes_that_grow_are_followed_each_way_by_itself() {
    for growth in [[1.5, 1.5], [1.5, 1.0], [0.7, 1.0]] {
        let scene = |frame: usize| {
            let share = frame as f64 / 30.0;
            let [width, height] = [0, 1].map(|axis| 70.0 * (1.0 + share * (growth[axis] - 1.0)));
            let subject = [160.0 - width / 2.0, 120.0 - height / 2.0, width, height];
            Scene { subject, ..going(frame, [0.0, 0.0]) }
        };
        let scenes: Vec<Scene> = (0..=30).map(scene).collect();
        let last = seen(&scenes)[29].region;
        for (found, wanted) in [(last.width(), growth[0]), (last.height(), growth[1])] {
            assert!((found / 70.0 / wanted - 1.0).abs() < 0.03, "{growth:?}: {found} px");
        }
    }
}

#[test]
fn what_goes_behind_a_post_is_lost_and_found_again_beyond() {
    let scene = |frame: usize| Scene {
        subject: [20.0 + 4.0 * frame as f64, 90.0, 60.0, 56.0],
        background: [0.0, 0.0],
        has_post: true,
    };
    let scenes: Vec<Scene> = (0..64).map(scene).collect();
    let found = seen(&scenes);
    // Wholly hidden from 130 to 170 px: frames 28 to 37.
    let hidden = &found[28..37];
    assert!(hidden.iter().skip(2).all(|seen| seen.is_lost), "{hidden:?}");
    let last = found.last().unwrap();
    assert!(!last.is_lost, "{last:?}");
    let there = overlap(&last.region, &scenes[63].region());
    assert!(there > 0.6, "overlap {there}");
    assert!(found[..20].iter().all(|seen| !seen.is_lost));
}

#[test]
fn a_filter_answers_its_own_patch_with_a_clear_peak_in_the_middle() {
    let picture = going(0, [0.0, 0.0]).picture();
    let place = frame::Place { centre: [92.0, 108.0], size: [180.0, 180.0] };
    let patch = frame::Frame::new(&picture).patch(place, fourier::SIDE * features::CELL);
    let seen = features::features(&patch);
    let mut filter = filter::Filter::new();
    filter.learn(&seen, &vec![1.0; fourier::SIDE * fourier::SIDE], 1.0, 4);
    let response = filter.answer(&seen);
    let peak = response.peak();
    assert!(peak.offset.iter().all(|offset| offset.abs() < 0.02), "{peak:?}");
    assert!(response.peak_to_sidelobe(&peak) > 20.0);
}

/// A clip of scenes that holds requests against the number of frames that may be in memory.
struct Clip(Vec<Scene>);

impl FrameSource for Clip {
    fn raster(&self) -> Raster {
        Raster::new(SIZE.0, SIZE.1).unwrap()
    }

    fn frame_count(&self) -> u64 {
        self.0.len() as u64
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        assert!(wanted.len() <= 32, "{} frames at once", wanted.len());
        for frame in wanted {
            if take(*frame, self.0[whole::offset(FrameIndex(0), *frame)].picture()).is_break() {
                break;
            }
        }
        Ok(())
    }

    fn visit_luma(
        &mut self,
        _: FrameRange,
        _: Raster,
        _: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        unreachable!("colours are wanted")
    }
}

fn mark(frame: u64, region: Option<Region>) -> Mark {
    let kind = if region.is_some() { MarkKind::Subject } else { MarkKind::Gone };
    Mark { frame: FrameIndex(frame), name: "paddler".to_owned(), kind, region, weight: None }
}

fn followed(scenes: &[Scene], marks: &[Mark]) -> Result<Followed, FollowError> {
    let frames = FrameRange::new(FrameIndex(0), FrameIndex(scenes.len() as u64)).unwrap();
    let mut clip = Clip(scenes.to_vec());
    follow_marks(&mut clip, marks, frames, &mut |_| ControlFlow::Continue(()))
}

#[test]
fn a_reversed_clip_gives_the_reversed_track() {
    let mut scenes: Vec<Scene> = (0..40).map(|frame| going(frame, [2.5, 0.5])).collect();
    let ends = |scenes: &[Scene]| [0, 39].map(|f: usize| mark(f as u64, Some(scenes[f].region())));
    let track = followed(&scenes, &ends(&scenes)).unwrap().track;
    let off = scenes
        .iter()
        .zip(&track)
        .map(|(scene, sighting)| 1.0 - overlap(&scene.region(), &sighting.unwrap().region));
    assert!(off.fold(0.0, f64::max) < 0.05);
    scenes.reverse();
    let mut reversed = followed(&scenes, &ends(&scenes)).unwrap().track;
    reversed.reverse();
    for (one, other) in track.iter().zip(&reversed) {
        let (one, other) = (one.unwrap(), other.unwrap());
        assert!(overlap(&one.region, &other.region) > 1.0 - 1e-9, "{one:?} {other:?}");
        assert!((one.confidence - other.confidence).abs() < 1e-9);
    }
}

#[test]
fn before_the_first_mark_and_after_the_last_there_is_one_way_and_gone_is_a_gap() {
    let scenes: Vec<Scene> = (0..75).map(|frame| going(frame, [2.0, 0.0])).collect();
    let at = |frame: usize| mark(frame as u64, Some(scenes[frame].region()));
    let marks = [at(5), mark(20, None), at(30), at(31), at(70)];
    let followed = followed(&scenes, &marks).unwrap();
    for (frame, (scene, sighting)) in scenes.iter().zip(&followed.track).enumerate() {
        if (20..30).contains(&frame) {
            assert!(sighting.is_none(), "frame {frame}");
            continue;
        }
        let sighting = sighting.unwrap();
        assert!(overlap(&scene.region(), &sighting.region) > 0.9, "frame {frame}: {sighting:?}");
    }
    assert_eq!(followed.at(FrameIndex(30)).unwrap().region, scenes[30].region());
    assert!(followed.lost.is_empty() && followed.asks.is_empty(), "{followed:?}");
}

#[test]
fn marks_that_cannot_be_followed_are_told() {
    let scenes: Vec<Scene> = (0..3).map(|frame| going(frame, [0.0, 0.0])).collect();
    let inside = scenes[0].region();
    let outside = Region::new(-50.0, 10.0, 40.0, 40.0).unwrap();
    let told = |marks: &[Mark]| followed(&scenes, marks).unwrap_err().to_string();
    assert_eq!(told(&[]), "no mark has a box to follow");
    assert_eq!(told(&[mark(1, Some(inside)), mark(1, None)]), "frame 1 is marked twice");
    assert_eq!(told(&[mark(3, Some(inside))]), "frame 3 is marked, and only 0 to 2 are followed");
    let nothing = "the box at frame 2 has nothing to follow inside the frame";
    assert_eq!(told(&[mark(0, Some(inside)), mark(2, Some(outside))]), nothing);
    // Of several the first is told, however the ways through are shared out.
    let many: Vec<Scene> = (0..45).map(|frame| going(frame, [0.0, 0.0])).collect();
    let empty = [mark(0, Some(inside)), mark(20, Some(outside)), mark(40, Some(outside))];
    for _ in 0..10 {
        let first = followed(&many, &empty).unwrap_err().to_string();
        assert_eq!(first, "the box at frame 20 has nothing to follow inside the frame");
    }
    let mut clip = Clip(scenes.clone());
    let frames = FrameRange::new(FrameIndex(0), FrameIndex(3)).unwrap();
    let broken_off =
        follow_marks(&mut clip, &[mark(0, Some(inside))], frames, &mut |_| ControlFlow::Break(()));
    assert!(matches!(broken_off, Err(FollowError::BrokenOff(FrameIndex(0)))));
}
