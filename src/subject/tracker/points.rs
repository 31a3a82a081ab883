//! Points of the background and of the subject, and how both go on.

use super::{
    flow::{Levels, follow},
    frame::{Frame, Place},
    motion::{Affine, Stretch, background, median, stretch},
};

/// Points of the background, across and down.
const BACKGROUND: (usize, usize) = (14, 9);
/// The background is followed where the frame is about this wide, px.
const BACKGROUND_WIDTH_PX: f64 = 240.0;
/// A background point that misses its start by more on the way back is dropped, px.
const BACKGROUND_MISS_PX: f64 = 1.5;
/// Points of the subject along a side of its box.
const SUBJECT: usize = 12;
/// The subject is followed where its box is about this large, px.
const SUBJECT_SIDE_PX: f64 = 100.0;
/// A point that goes with the background to this many px is taken for a part of it.
const WITH_BACKGROUND_PX: f64 = 1.5;
/// A point in a cell with less of the subject is taken for background.
const LEAST_SHARE: f32 = 0.2;
/// Points are only thinned out while this share of all is left.
const ENOUGH: f64 = 0.15;
/// Points agree on a motion that is off by less than this share of the box's side.
const AGREE_WITHIN: f64 = 0.04;
const PYRAMID: usize = 3;

/// How the background moves, from points outside the box; `None` if too few can be followed.
pub(super) fn camera_motion(
    frames: [&Frame; 2],
    subject: Place,
    before: Option<Affine>,
) -> Option<Affine> {
    let [width, height] = frames[0].size();
    let (across, down) = BACKGROUND;
    let mut points = Vec::with_capacity(across * down);
    for row in 0..down {
        for column in 0..across {
            let share = |index: usize, count: usize| (index as f64 + 0.5) / count as f64;
            let point = [share(column, across) * width, share(row, down) * height];
            if (0..2)
                .any(|axis| (point[axis] - subject.centre[axis]).abs() > 0.55 * subject.size[axis])
            {
                points.push(point);
            }
        }
    }
    let finest = frames[0].level_for(width / BACKGROUND_WIDTH_PX).0;
    let guess = |point| before.map_or(point, |affine| affine.apply(point));
    let mut moved = follow(frames, &points, guess, Levels { finest, count: PYRAMID });
    moved.retain(|moved| moved.miss < BACKGROUND_MISS_PX);
    background(&moved)
}

/// How the subject moves and stretches; `None` if too few of its points can be followed.
///
/// `share_at` tells how much of the subject there is at a point, 0 to 1.
pub(super) fn subject_motion(
    frames: [&Frame; 2],
    subject: Place,
    speed: [f64; 2],
    camera: Option<&Affine>,
    share_at: impl Fn([f64; 2]) -> f32,
) -> Option<Stretch> {
    let size = frames[0].size();
    let mut points = Vec::with_capacity(SUBJECT * SUBJECT);
    for row in 0..SUBJECT {
        for column in 0..SUBJECT {
            let at = |index: usize, axis: usize| {
                let share = (index as f64 + 0.5) / SUBJECT as f64 - 0.5;
                subject.centre[axis] + share * subject.size[axis]
            };
            let point = [at(column, 0), at(row, 1)];
            if (0..2).all(|axis| point[axis] > 1.0 && point[axis] < size[axis] - 1.0) {
                points.push(point);
            }
        }
    }
    let side = (subject.size[0] * subject.size[1]).sqrt();
    let finest = frames[0].level_for(side / SUBJECT_SIDE_PX).0;
    let guess = |point: [f64; 2]| [point[0] + speed[0], point[1] + speed[1]];
    let mut moved = follow(frames, &points, guess, Levels { finest, count: PYRAMID });
    let mut misses: Vec<f64> = moved.iter().map(|moved| moved.miss).collect();
    let allowed = median(&mut misses)?.max((1_usize << finest) as f64);
    moved.retain(|moved| moved.miss < allowed);
    let enough = ENOUGH * points.len() as f64;
    let apart = thinned(&moved, enough, |moved| {
        camera.is_none_or(|camera| {
            let with_it = camera.apply(moved.from);
            (with_it[0] - moved.to[0]).hypot(with_it[1] - moved.to[1]) > WITH_BACKGROUND_PX
        })
    });
    // Colour thins out only what motion has told apart already.
    let used = match apart {
        Some(apart) => {
            thinned(&apart, enough, |moved| share_at(moved.from) > LEAST_SHARE).unwrap_or(apart)
        }
        None => moved,
    };
    let mut found = stretch(&used, subject.size, AGREE_WITHIN * side)?;
    found.agreed *= used.len() as f64 / points.len() as f64;
    Some(found)
}

/// What passes a test, if that is enough.
fn thinned<T: Copy>(all: &[T], enough: f64, passes: impl Fn(&T) -> bool) -> Option<Vec<T>> {
    let left: Vec<T> = all.iter().copied().filter(|item| passes(item)).collect();
    (left.len() as f64 > enough).then_some(left)
}
