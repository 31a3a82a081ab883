//! Frames in time, and what is common to all moves from one frame to another.

use super::super::Request;
use crate::geometry::Window;

/// What sums of frame times may be off.
pub(super) const NOISE_SECS: f64 = 1e-6;

/// When each frame of a run starts, and the last one ends, in timeline seconds from the first.
pub(super) struct Times<'a> {
    request: &'a Request,
    secs: Vec<f64>,
}

/// A move of some frames, whatever its windows are.
pub(super) struct Leg {
    /// The last frame before the window moves.
    pub(super) first: usize,
    /// The first frame after it has moved.
    pub(super) last: usize,
    pub(super) secs: f64,
    /// The share of the way at each frame between.
    pub(super) shares: Vec<f64>,
    /// The squared acceleration of a way of 1.
    pub(super) bend: f64,
}

impl Leg {
    /// The share of the way at a frame, before and after the move as well.
    pub(super) fn share_at(&self, frame: usize) -> f64 {
        if frame <= self.first {
            return 0.0;
        }
        self.shares.get(frame - self.first - 1).copied().unwrap_or(1.0)
    }
}

impl<'a> Times<'a> {
    pub(super) fn of(request: &'a Request) -> Self {
        let (mean, last) = (request.pace.mean_step_secs(), request.frame_count() - 1);
        let starts = request.pace.starts(request.frame_count());
        let mut secs: Vec<f64> = starts.iter().map(|start| start * mean).collect();
        secs.push(secs[last] + request.pace.step_secs(last));
        Self { request, secs }
    }

    /// When a frame starts.
    pub(super) fn secs(&self, frame: usize) -> f64 {
        self.secs[frame]
    }

    pub(super) const fn frame_count(&self) -> usize {
        self.request.frame_count()
    }

    /// When the run ends.
    pub(super) fn end_secs(&self) -> f64 {
        self.secs[self.request.frame_count()]
    }

    /// What is common to all moves from one frame to another.
    pub(super) fn leg(&self, first: usize, last: usize) -> Leg {
        let secs = self.secs[last] - self.secs[first];
        let ease = self.request.rules.moves.ease;
        let share = |frame: usize| ease.share((self.secs[frame] - self.secs[first]) / secs);
        let shares = (first + 1..last).map(share).collect();
        let mut leg = Leg { first, last, secs, shares, bend: 0.0 };
        leg.bend = self.bending(&leg, |frame| leg.share_at(frame));
        leg
    }

    /// The squared acceleration, summed over time, of a number that changes in a move and stands before and after:
    /// what the follow path's objective weighs.
    pub(super) fn bending(&self, leg: &Leg, value: impl Fn(usize) -> f64) -> f64 {
        let inner = leg.first.max(1)..=leg.last.min(self.request.frame_count().saturating_sub(2));
        let mean_secs = self.request.pace.mean_step_secs();
        let squares = inner.map(|frame| {
            let bend = self.request.pace.bend(frame);
            let [before, now, after] = bend.factors();
            let change = before * value(frame - 1) + now * value(frame) + after * value(frame + 1);
            change * change / (bend.secs * mean_secs * mean_secs)
        });
        squares.sum()
    }
}

/// A way below this share of the window's width has no direction. Chosen: 5 px of a delivered picture of 1080,
/// which nobody sees as a turn.
pub(super) const STILL: f64 = 0.005;

/// The direction of a move across and down: -1, 0 or 1.
pub(super) fn headings(from: &Window, to: &Window) -> [i8; 2] {
    let width = f64::midpoint(from.width(), to.width());
    [to.centre_x() - from.centre_x(), to.centre_y() - from.centre_y()].map(|way| {
        if way > STILL * width {
            1
        } else if way < -STILL * width {
            -1
        } else {
            0
        }
    })
}
