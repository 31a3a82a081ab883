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
    let mut ring = [[0.0; RING]; RING];
    cut(levels[0], point, &mut ring);
    let (mut template, mut across, mut down) =
        ([[0.0; SIDE]; SIDE], [[0.0; SIDE]; SIDE], [[0.0; SIDE]; SIDE]);
    let (mut xx, mut xy, mut yy) = ([0.0_f32; SIDE], [0.0_f32; SIDE], [0.0_f32; SIDE]);
    for y in 0..SIDE {
        let (above, here, below) = (&ring[y], &ring[y + 1], &ring[y + 2]);
        for x in 0..SIDE {
            let (right, under) =
                (0.5 * (here[x + 2] - here[x]), 0.5 * (below[x + 1] - above[x + 1]));
            (template[y][x], across[y][x], down[y][x]) = (here[x + 1], right, under);
            xx[x] += right * right;
            xy[x] += right * under;
            yy[x] += under * under;
        }
    }
    let [xx, xy, yy] = [xx, xy, yy].map(|columns| columns.iter().sum::<f32>());
    let det = xx * yy - xy * xy;
    let least = 0.5 * (xx + yy - ((xx - yy).powi(2) + 4.0 * xy * xy).sqrt());
    if least < LEAST_TEXTURE * AREA as f32 / 9.0 {
        return None;
    }
    let mean = mean(&template);
    let mut way = way;
    let mut there = [[0.0; SIDE]; SIDE];
    for _ in 0..ROUNDS {
        cut(levels[1], [point[0] + way[0], point[1] + way[1]], &mut there);
        let lift = self::mean(&there) - mean;
        let (mut bx, mut by) = ([0.0_f32; SIDE], [0.0_f32; SIDE]);
        for y in 0..SIDE {
            for x in 0..SIDE {
                let off = there[y][x] - template[y][x] - lift;
                bx[x] += across[y][x] * off;
                by[x] += down[y][x] * off;
            }
        }
        let [bx, by] = [bx, by].map(|columns| columns.iter().sum::<f32>());
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

/// The mean of a square; sums go column by column, as all do here, so that columns are added beside each other.
fn mean(square: &[[f32; SIDE]; SIDE]) -> f32 {
    let mut sums = [0.0_f32; SIDE];
    for row in square {
        sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += value);
    }
    sums.iter().sum::<f32>() / AREA as f32
}

/// A square of `N` px about a point, between px; beyond the edges the outermost px repeat.
fn cut<const N: usize>(level: &Level, centre: [f32; 2], out: &mut [[f32; N]; N]) {
    let half = (N / 2) as f32;
    let (left, top) = (centre[0] - half, centre[1] - half);
    let (x, y) = (left.floor(), top.floor());
    let (right, below) = (left - x, top - y);
    let weights = [
        (1.0 - right) * (1.0 - below),
        right * (1.0 - below),
        (1.0 - right) * below,
        right * below,
    ];
    let luma = level.luma();
    let inside = x >= 0.0
        && y >= 0.0
        && floor_px(x) + N + 1 < level.width
        && floor_px(y) + N + 1 < level.height;
    // A row more and a px more in each than the square: one and the next are between them.
    let mut upper = [0.0; RING + 1];
    let mut lower = [0.0; RING + 1];
    let read = |row: usize, into: &mut [f32; RING + 1]| {
        if inside {
            let from = &luma[(floor_px(y) + row) * level.width + floor_px(x)..][..=N];
            into[..=N].iter_mut().zip(from).for_each(|(value, px)| *value = f32::from(*px));
            return;
        }
        let held = |place: f32, limit: usize| floor_px(place.clamp(0.0, (limit - 1) as f32));
        let down = held(y + row as f32, level.height) * level.width;
        for (column, value) in into[..=N].iter_mut().enumerate() {
            *value = f32::from(luma[down + held(x + column as f32, level.width)]);
        }
    };
    read(0, &mut upper);
    for (row, out) in out.iter_mut().enumerate() {
        read(row + 1, &mut lower);
        for column in 0..N {
            out[column] = weights[0] * upper[column]
                + weights[1] * upper[column + 1]
                + weights[2] * lower[column]
                + weights[3] * lower[column + 1];
        }
        (upper, lower) = (lower, upper);
    }
}
