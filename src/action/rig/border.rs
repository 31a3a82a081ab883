//! How far a rig reaches in from each side of the frame.
//!
//! From a side, a line is drawn along it that says how deep the rig is at each place, 0 for none. It is the line with
//! the greatest sum of what speaks for it: it runs along edges that stay and part two brightnesses; what is between
//! it and the side stays rather than passes; and it does not jump. The greatest sum is found by dynamic programming from
//! one end to the other, as seams of least energy are ("Seam carving for content-aware image resizing", ACM
//! Transactions on Graphics, 2007, from memory), with a cost of jumps in place of a bound on them.

use super::super::plane::Plane;
use image::{GrayImage, Luma};

/// What speaks for the line at an edge that surely stays, at one that may, and elsewhere. Chosen together on a bonnet along
/// the lower edge and on eight clips with and without a rig: more for edges takes in thin things on the road, less loses
/// the bonnet where the road beside it is as bright.
pub(super) const SURE_OUTLINE: f32 = 6.0;
pub(super) const LIKELY_OUTLINE: f32 = 3.0;
pub(super) const NO_OUTLINE: f32 = -2.0;
/// What each px between the line and the side adds: texture that stays, that passes, and none. A bonnet mirrors
/// what passes, so that it speaks but lightly against a rig.
pub(super) const STAYING: f32 = 0.2;
pub(super) const PASSING: f32 = -0.1;
pub(super) const PLAIN: f32 = -0.03;
/// How much passing texture in a row, less what stays among it, ends a rig: 60 px of it. Without an end a line would go
/// through the world to a rig on the other side. Chosen.
const MOST_AGAINST: f32 = 6.0;
/// What a jump costs for each px of depth.
const JUMP: f32 = 1.0;
/// Grey levels by which the two sides of an outline differ, as means of [`STEP_REACH`] px: a scratch or a mirrored line
/// has the same on both sides.
const LEAST_STEP: f32 = 8.0;
const STEP_REACH: usize = 6;

/// What the sums over time say, a value a pixel.
pub(super) struct Evidence {
    /// The mean picture.
    pub(super) mean: Plane,
    pub(super) weights: Vec<f32>,
    pub(super) outlines: Vec<f32>,
    /// 255 where an edge surely stays.
    pub(super) stays: GrayImage,
    /// How many pixels have an edge at all.
    pub(super) edge_count: usize,
}

impl Evidence {
    pub(super) fn staying_count(&self) -> usize {
        self.stays.as_raw().iter().filter(|value| **value > 0).count()
    }
}

#[derive(Debug, Clone, Copy)]
enum Side {
    Top,
    Bottom,
    Left,
    Right,
}

impl Side {
    const ALL: [Self; 4] = [Self::Top, Self::Bottom, Self::Left, Self::Right];

    /// How many places there are along it, and how many px it is from there to the other side.
    const fn extent(self, (width, height): (usize, usize)) -> (usize, usize) {
        match self {
            Self::Top | Self::Bottom => (width, height),
            Self::Left | Self::Right => (height, width),
        }
    }

    /// The column and row of a place along it at a depth.
    const fn place(
        self,
        (width, height): (usize, usize),
        along: usize,
        depth: usize,
    ) -> (usize, usize) {
        match self {
            Self::Top => (along, depth),
            Self::Bottom => (along, height - 1 - depth),
            Self::Left => (depth, along),
            Self::Right => (width - 1 - depth, along),
        }
    }
}

/// The pixels that a rig would take up from all four sides; 255 where one is claimed.
pub(super) fn claimed(evidence: &Evidence) -> GrayImage {
    let size = (evidence.mean.width(), evidence.mean.height());
    let (width, height) = evidence.stays.dimensions();
    let mut claimed = GrayImage::new(width, height);
    for side in Side::ALL {
        for (along, depth) in depths(evidence, side).into_iter().enumerate() {
            for step in 0..depth {
                let (column, row) = side.place(size, along, step);
                claimed.as_mut()[row * size.0 + column] = 255;
            }
        }
    }
    debug_assert!(claimed.pixels().all(|pixel| pixel == &Luma([0]) || pixel == &Luma([255])));
    claimed
}

/// The best line from a side: a depth for each place along it.
fn depths(evidence: &Evidence, side: Side) -> Vec<usize> {
    let size = (evidence.mean.width(), evidence.mean.height());
    let (length, depth_count) = side.extent(size);
    let mut sums: Vec<Vec<f32>> = Vec::with_capacity(length);
    for along in 0..length {
        let here = gains(evidence, side, along, depth_count);
        let sum = match sums.last() {
            None => here,
            Some(before) => {
                reached(before).iter().zip(&here).map(|(before, here)| before + here).collect()
            }
        };
        sums.push(sum);
    }
    let mut line = Vec::with_capacity(length);
    let mut depth = 0.0;
    for (steps, sum) in sums.iter().rev().enumerate() {
        let jump = if steps == 0 { 0.0 } else { JUMP };
        let best = best(sum, |at| -jump * (at as f32 - depth).abs());
        depth = best as f32;
        line.push(best);
    }
    line.reverse();
    line
}

/// What speaks for each depth at one place along a side, from none to all of the frame.
fn gains(evidence: &Evidence, side: Side, along: usize, depth_count: usize) -> Vec<f32> {
    let size = (evidence.mean.width(), evidence.mean.height());
    let at = |depth: usize| {
        let (column, row) = side.place(size, along, depth);
        row * size.0 + column
    };
    let mut brightness = vec![0.0; depth_count + 1];
    for depth in 0..depth_count {
        brightness[depth + 1] = brightness[depth] + evidence.mean.values()[at(depth)];
    }
    let step = |depth: usize| {
        let (from, to) = (depth.saturating_sub(STEP_REACH), (depth + STEP_REACH).min(depth_count));
        let inside = (brightness[depth] - brightness[from]) / (depth - from).max(1) as f32;
        let outside = (brightness[to] - brightness[depth]) / (to - depth).max(1) as f32;
        (inside - outside).abs()
    };
    let mut gains = vec![f32::NEG_INFINITY; depth_count + 1];
    gains[0] = 0.0;
    let (mut between, mut against) = (0.0, 0.0_f32);
    for (depth, gain) in gains.iter_mut().enumerate().skip(1) {
        let weight = evidence.weights[at(depth - 1)];
        between += weight;
        if weight <= PASSING || weight >= STAYING {
            against = (against - weight).max(0.0);
        }
        if against > MOST_AGAINST {
            break;
        }
        let outline = evidence.outlines[at(depth - 1)];
        let is_a_step = outline > 0.0 && step(depth) > LEAST_STEP;
        *gain = between + if is_a_step { outline } else { NO_OUTLINE };
    }
    gains
}

/// The best sum with which each depth can be reached from the place before, jumps paid.
fn reached(sums: &[f32]) -> Vec<f32> {
    let mut best = sums.to_vec();
    for at in 1..best.len() {
        best[at] = best[at].max(best[at - 1] - JUMP);
    }
    for at in (1..best.len()).rev() {
        best[at - 1] = best[at - 1].max(best[at] - JUMP);
    }
    best
}

/// The depth with the greatest sum, the least of equals.
fn best(sums: &[f32], less: impl Fn(usize) -> f32) -> usize {
    let mut best = (0, f32::NEG_INFINITY);
    for (at, sum) in sums.iter().enumerate() {
        let sum = sum + less(at);
        if sum > best.1 {
            best = (at, sum);
        }
    }
    best.0
}
