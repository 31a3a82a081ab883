//! The tracker on the boxed clips (the DAVIS video-segmentation set, validation half), against their true boxes.
//!
//! Figures of the comparator are CSRT's, of `opencv-contrib-python` 5.1.0, from `benches/tracking_csrt.py`;
//! success is the area under the curve of the share of frames that overlap by more than 0, 0.05 ... 1.

use crate::footage;
use lookroom::{
    geometry::{Raster, Region},
    picture::{FrameError, FrameSource, GrayImage, RgbImage},
    subject::{Cues, Mark, MarkKind, Tracker, follow_marks, overlap},
    timecode::{FrameIndex, FrameRange},
};
use std::{collections::BTreeSet, ops::ControlFlow, path::PathBuf, thread};

/// CSRT's success from the first frame's box, in the order of [`footage::BOXED`].
const CSRT: [f64; 6] = [0.387, 0.710, 0.729, 0.218, 0.477, 0.520];
/// CSRT's mean overlap, started again at each mark, 48 or 24 frames apart and at the last.
const CSRT_48: [f64; 6] = [0.608, 0.762, 0.754, 0.222, 0.519, 0.539];
const CSRT_24: [f64; 6] = [0.717, 0.841, 0.792, 0.341, 0.614, 0.776];

struct Clip(Vec<PathBuf>);

fn picture(path: &PathBuf) -> RgbImage {
    image::open(path).unwrap().into_rgb8()
}

impl FrameSource for Clip {
    fn raster(&self) -> Raster {
        Raster::new(854, 480).unwrap()
    }

    fn frame_count(&self) -> u64 {
        self.0.len() as u64
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        for frame in wanted {
            let path = &self.0[usize::try_from(frame.0).unwrap()];
            if take(*frame, picture(path)).is_break() {
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

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn success(overlaps: &[f64]) -> f64 {
    let above = |step: i32| {
        let threshold = f64::from(step) * 0.05;
        overlaps.iter().filter(|overlap| **overlap > threshold).count() as f64
    };
    (0..=20).map(above).sum::<f64>() / 21.0 / overlaps.len() as f64
}

/// A frame after the first, of a track from the first frame's box.
struct Followed {
    overlap: f64,
    measures: [f64; 2],
    is_lost: bool,
}

/// Each clip from its first box on, the clips shared out over the cores.
fn from_the_first_box() -> Option<Vec<Vec<Followed>>> {
    footage::folder()?;
    let follow = |clip: &str| {
        let (boxes, pictures) = (footage::boxes(clip)?, footage::pictures(clip)?);
        let mut tracker = Tracker::new(&picture(&pictures[0]), &boxes[0])?;
        let frames = pictures[1..].iter().zip(&boxes[1..]).map(|(path, truth)| {
            let seen = tracker.step(&picture(path));
            let overlap = overlap(&seen.region, truth);
            Followed { overlap, measures: seen.cues.measures(), is_lost: seen.is_lost }
        });
        Some(frames.collect::<Vec<Followed>>())
    };
    thread::scope(|scope| {
        let threads: Vec<_> =
            footage::BOXED.iter().map(|clip| scope.spawn(move || follow(clip))).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    })
}

#[test]
fn from_one_box_success_is_a_tenth_above_the_comparator_and_confidence_is_honest() {
    let Some(clips) = from_the_first_box() else { return };
    let mut all = Vec::new();
    for (clip, (name, csrt)) in clips.iter().zip(footage::BOXED.iter().zip(CSRT)) {
        // A loss is an empty box; the first frame's box was given.
        let seen = |frame: &Followed| if frame.is_lost { 0.0 } else { frame.overlap };
        let overlaps: Vec<f64> = [1.0].into_iter().chain(clip.iter().map(seen)).collect();
        all.push(success(&overlaps));
        eprintln!("{name}: success {:.3}, CSRT {csrt:.3}", success(&overlaps));
    }
    eprintln!("mean {:.3}, CSRT {:.3}", mean(&all), mean(&CSRT));
    assert!(mean(&all) >= 1.10 * mean(&CSRT), "{all:.3?}");
    confidence_is_honest(&clips);
}

/// With the chance fitted to the other clips: three quarters of what is wrong is doubtful, and at most a tenth of
/// what is right.
fn confidence_is_honest(clips: &[Vec<Followed>]) {
    let (mut wrong, mut wrong_doubted, mut right, mut right_doubted) = (0, 0, 0, 0);
    for (left_out, clip) in clips.iter().enumerate() {
        let others = clips.iter().enumerate().filter(|(at, _)| *at != left_out);
        let weights = fitted(&others.map(|(_, clip)| clip.as_slice()).collect::<Vec<_>>());
        for frame in clip {
            let is_doubted =
                frame.is_lost || chance(&weights, frame.measures) < Cues::DOUBTFUL_BELOW;
            if frame.overlap < 0.3 {
                wrong += 1;
                wrong_doubted += i32::from(is_doubted);
            } else if frame.overlap > 0.6 {
                right += 1;
                right_doubted += i32::from(is_doubted);
            }
        }
    }
    eprintln!("doubted: {wrong_doubted} of {wrong} wrong, {right_doubted} of {right} right");
    assert!(wrong > 10 && 4 * wrong_doubted >= 3 * wrong, "{wrong_doubted} of {wrong}");
    assert!(10 * right_doubted <= right, "{right_doubted} of {right}");
}

fn chance(weights: &[f64; 3], [height, likeness]: [f64; 2]) -> f64 {
    1.0 / (1.0 + (-(weights[0] * height + weights[1] * likeness + weights[2])).exp())
}

/// Logistic regression by steps down the slope, each clip counting as much as the others.
fn fitted(clips: &[&[Followed]]) -> [f64; 3] {
    let mut weights = [0.0; 3];
    for _ in 0..6000 {
        let mut slope = [0.0; 3];
        for frames in clips {
            for frame in *frames {
                let is_right = if frame.overlap > 0.5 { 1.0 } else { 0.0 };
                let off = (is_right - chance(&weights, frame.measures)) / frames.len() as f64;
                slope[0] += off * frame.measures[0];
                slope[1] += off * frame.measures[1];
                slope[2] += off;
            }
        }
        for (weight, slope) in weights.iter_mut().zip(slope) {
            *weight += 0.5 * (slope - 0.002 * *weight);
        }
    }
    weights
}

/// Mean overlaps with a mark every so many frames and at the last: ours, and straight between the marks.
fn with_marks(clip: &str, every: usize) -> Option<[f64; 2]> {
    let (boxes, pictures) = (footage::boxes(clip)?, footage::pictures(clip)?);
    let last = boxes.len() - 1;
    let marked: BTreeSet<usize> = (0..=last).step_by(every).chain([last]).collect();
    let mark = |frame: &usize| Mark {
        frame: FrameIndex(*frame as u64),
        name: "subject".to_owned(),
        kind: MarkKind::Subject,
        region: Some(boxes[*frame]),
        weight: None,
    };
    let marks: Vec<Mark> = marked.iter().map(mark).collect();
    let frames = FrameRange::new(FrameIndex(0), FrameIndex(boxes.len() as u64)).unwrap();
    let goes_on = &mut |_| ControlFlow::Continue(());
    let followed = follow_marks(&mut Clip(pictures), &marks, frames, goes_on).unwrap();
    let straight = &lookroom::subject::tracks_from_marks(&marks).unwrap()[0];
    let ours = |(truth, frame): (&Region, FrameIndex)| {
        followed.at(frame).map_or(0.0, |sighting| overlap(&sighting.region, truth))
    };
    let between =
        |(truth, frame): (&Region, FrameIndex)| overlap(&straight.at(frame).unwrap().region, truth);
    let ours: Vec<f64> = boxes.iter().zip(frames.frames()).map(ours).collect();
    let between: Vec<f64> = boxes.iter().zip(frames.frames()).map(between).collect();
    Some([mean(&ours), mean(&between)])
}

#[test]
fn between_marks_it_is_better_than_a_straight_line_and_than_the_comparator_on_every_clip() {
    if footage::folder().is_none() {
        return;
    }
    for (every, least, csrt) in [(48, 0.75, CSRT_48), (24, 0.82, CSRT_24)] {
        let mut all = Vec::new();
        for (clip, csrt) in footage::BOXED.iter().zip(csrt) {
            let Some([ours, straight]) = with_marks(clip, every) else { return };
            eprintln!(
                "{clip}, a mark every {every} frames: {ours:.3}, straight {straight:.3}, CSRT {csrt:.3}"
            );
            assert!(ours >= straight, "{clip}: {ours:.3} is below {straight:.3}");
            assert!(ours >= csrt, "{clip}: {ours:.3} is below {csrt:.3}");
            all.push(ours);
        }
        eprintln!("mean {:.3}", mean(&all));
        assert!(mean(&all) >= least, "{all:.3?}");
    }
}
