//! Where points of one frame are in the next: inverse search on small patches, coarse to fine.
//!
//! After "Lucas-Kanade 20 Years On: A Unifying Framework" (2004) and "Fast Optical Flow using Dense Inverse
//! Search" (2016), both from memory; checked forth and back as in "Forward-Backward Error: Automatic
//! Detection of Tracking Failures" (2010).

use super::{
    frame::{Frame, Level},
    whole::{floor_px, single},
};

/// Px along a side of a patch.
const SIDE: usize = 9;
const AREA: usize = SIDE * SIDE;
const RING: usize = SIDE + 2;
const ROUNDS: usize = 8;
/// A step below this ends the search on a level, px of that level.
const STILL_PX: f32 = 0.02;
/// A patch with less bend than this both ways has nothing to hold on to (squared gray values a px).
const LEAST_TEXTURE: f32 = 12.0;

/// A point and where it went, in px of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Moved {
    pub(super) from: [f64; 2],
    pub(super) to: [f64; 2],
    /// How far the way back misses the start, px.
    pub(super) miss: f64,
}

/// Levels that are searched, the finest first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Levels {
    pub(super) finest: usize,
    pub(super) count: usize,
}

pub(super) fn follow(
    [from, to]: [&Frame; 2],
    points: &[[f64; 2]],
    guess: impl Fn([f64; 2]) -> [f64; 2],
    levels: Levels,
) -> Vec<Moved> {
    let moved = |point: &[f64; 2]| {
        let ahead = guess(*point);
        let there = search([from, to], *point, ahead, levels)?;
        let back =
            search([to, from], there, *point, Levels { count: 1.max(levels.count - 1), ..levels })?;
        let miss = (back[0] - point[0]).hypot(back[1] - point[1]);
        Some(Moved { from: *point, to: there, miss })
    };
    points.iter().filter_map(moved).collect()
}

fn search(
    frames: [&Frame; 2],
    point: [f64; 2],
    guess: [f64; 2],
    levels: Levels,
) -> Option<[f64; 2]> {
    let mut way = [guess[0] - point[0], guess[1] - point[1]];
    for at in (levels.finest..levels.finest + levels.count).rev() {
        if at >= frames[0].level_count() {
            continue;
        }
        let shrink = (1_usize << at) as f64;
        let on_level = |v: f64| single(v / shrink);
        let start = [on_level(point[0]) - 0.5, on_level(point[1]) - 0.5];
        let found = on_one_level(
            [frames[0].level(at), frames[1].level(at)],
            start,
            [on_level(way[0]), on_level(way[1])],
        );
        match found {
            Some(found) => way = [f64::from(found[0]) * shrink, f64::from(found[1]) * shrink],
            None if at == levels.finest => return None,
            None => {}
        }
    }
    Some([point[0] + way[0], point[1] + way[1]])
}

fn on_one_level(levels: [&Level; 2], point: [f32; 2], way: [f32; 2]) -> Option<[f32; 2]> {
    let mut ring = [0.0; RING * RING];
    cut(levels[0], point, RING, &mut ring);
    let (mut template, mut across, mut down) = ([0.0; AREA], [0.0; AREA], [0.0; AREA]);
    let (mut xx, mut xy, mut yy) = (0.0_f32, 0.0_f32, 0.0_f32);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let (at, here) = (y * SIDE + x, (y + 1) * RING + x + 1);
            template[at] = ring[here];
            across[at] = 0.5 * (ring[here + 1] - ring[here - 1]);
            down[at] = 0.5 * (ring[here + RING] - ring[here - RING]);
            xx += across[at] * across[at];
            xy += across[at] * down[at];
            yy += down[at] * down[at];
        }
    }
    let det = xx * yy - xy * xy;
    let least = 0.5 * (xx + yy - ((xx - yy).powi(2) + 4.0 * xy * xy).sqrt());
    if least < LEAST_TEXTURE * AREA as f32 / 9.0 {
        return None;
    }
    let mean = template.iter().sum::<f32>() / AREA as f32;
    let mut way = way;
    let mut there = [0.0; AREA];
    for _ in 0..ROUNDS {
        cut(levels[1], [point[0] + way[0], point[1] + way[1]], SIDE, &mut there);
        let lift = there.iter().sum::<f32>() / AREA as f32 - mean;
        let (mut bx, mut by) = (0.0_f32, 0.0_f32);
        for at in 0..AREA {
            let off = there[at] - template[at] - lift;
            bx += across[at] * off;
            by += down[at] * off;
        }
        let step = [(yy * bx - xy * by) / det, (xx * by - xy * bx) / det];
        way = [way[0] - step[0], way[1] - step[1]];
        if !(way[0].is_finite() && way[1].is_finite()) || way[0].abs().max(way[1].abs()) > 4096.0 {
            return None;
        }
        if step[0].abs().max(step[1].abs()) < STILL_PX {
            break;
        }
    }
    Some(way)
}

/// A square of `side` px about a point, between px; beyond the edges the outermost px repeat.
fn cut(level: &Level, centre: [f32; 2], side: usize, out: &mut [f32]) {
    let half = (side / 2) as f32;
    let (left, top) = (centre[0] - half, centre[1] - half);
    let (x, y) = (left.floor(), top.floor());
    let (right, below) = (left - x, top - y);
    let weights = [
        (1.0 - right) * (1.0 - below),
        right * (1.0 - below),
        (1.0 - right) * below,
        right * below,
    ];
    let inside = x >= 0.0
        && y >= 0.0
        && floor_px(x) + side + 1 < level.width
        && floor_px(y) + side + 1 < level.height;
    if inside {
        let (x, y) = (floor_px(x), floor_px(y));
        for row in 0..side {
            let upper = &level.luma[(y + row) * level.width + x..][..=side];
            let lower = &level.luma[(y + row + 1) * level.width + x..][..=side];
            let out = &mut out[row * side..(row + 1) * side];
            for column in 0..side {
                out[column] = weights[0] * f32::from(upper[column])
                    + weights[1] * f32::from(upper[column + 1])
                    + weights[2] * f32::from(lower[column])
                    + weights[3] * f32::from(lower[column + 1]);
            }
        }
        return;
    }
    let px = |column: usize, row: usize| {
        let last = |limit: usize| (limit - 1) as f32;
        let across = floor_px((x + column as f32).clamp(0.0, last(level.width)));
        let down = floor_px((y + row as f32).clamp(0.0, last(level.height)));
        f32::from(level.luma[down * level.width + across])
    };
    for row in 0..side {
        for column in 0..side {
            out[row * side + column] = weights[0] * px(column, row)
                + weights[1] * px(column + 1, row)
                + weights[2] * px(column, row + 1)
                + weights[3] * px(column + 1, row + 1);
        }
    }
}
