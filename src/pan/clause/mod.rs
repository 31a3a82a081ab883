//! A client's conditions: for so long a thing is inside the window, clear of its edges and large enough.
//!
//! Where a condition holds for a time and not throughout, the time is chosen here; at its frames the thing is then a
//! [`RequiredBox`], which every way of moving keeps as a hard limit.

mod room;
mod settle;
mod spans;
mod stretch;

use super::{Assessment, Axis, Insets, Pace, RequiredBox, Verdict, missing_px, request::within};
use crate::geometry::{Region, Window};
use serde::{Deserialize, Serialize};
use std::ops::Range;

pub use room::Clash;
pub(super) use room::no_place;
pub(super) use settle::{as_required, plan, required_beside};
pub(super) use spans::RequiredSpans;

/// A client's condition on one thing in the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Clause {
    /// Where the thing is, a frame each; none where it is not seen.
    pub regions: Vec<Option<Region>>,
    /// How far it stays from the window's edges, as shares of the window.
    pub clear: Insets,
    /// The least share of the window's width that it takes; `None` asks for none.
    pub least_share: Option<f64>,
    /// How long it is kept without a break, timeline seconds; `None` is on every frame on which it is seen.
    pub least_secs: Option<f64>,
}

/// What a path makes of a clause.
#[derive(Debug, Clone, PartialEq)]
pub struct ClauseKept {
    /// Whether all that it asks for is kept.
    pub is_kept: bool,
    /// The frames of the longest time without a break on which it is kept; none if it never is.
    pub longest: Option<Range<usize>>,
    /// How long that is, timeline seconds.
    pub longest_secs: f64,
    /// All the time on which it is kept.
    pub total_secs: f64,
    /// The least share of the window's width that the thing takes: over that longest time, else where it is inside; none
    /// if it never is inside.
    pub least_share: Option<f64>,
    /// The first frame, from the first on which the thing is seen, on which the clause is not kept.
    pub first_failing: Option<usize>,
}

/// Why a clause cannot be kept.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "failing")]
pub enum ClauseFailing {
    /// The thing is not to be had for long enough.
    TooShort {
        /// The longest time without a break on which it can be kept, timeline seconds.
        longest_secs: f64,
        /// How many frames that are.
        frame_count: usize,
        /// What the clause asks for.
        least_secs: f64,
        /// The first frame after that time; none if it lasts to the run's end.
        index: Option<usize>,
    },
    /// Even in the smallest window allowed it is too small.
    TooSmall {
        /// The run's frame.
        index: usize,
        /// How wide the thing is there, px of the picture.
        box_px: f64,
        /// The widest window in which it is large enough.
        greatest_width_px: f64,
        /// The least width that a window may have.
        least_width_px: f64,
    },
    /// No window holds it with its margins, for want of room in the window or beside the thing.
    NoPlace {
        /// The run's frame.
        index: usize,
        /// Along which axis.
        axis: Axis,
        /// How many px are missing in the largest window that may be taken.
        missing_px: f64,
    },
    /// A window that keeps it leaves the subject short.
    AgainstSubject(Clash),
    /// At each frame it could be kept, and no path comes to it in time.
    NotReached {
        /// The run's frame where that path leaves the subject short by the most.
        index: usize,
        /// By how many px.
        missing_px: f64,
    },
}

impl Clause {
    /// A clause for some of its frames.
    pub(super) fn part(&self, frames: &Range<usize>) -> Self {
        Self { regions: within(&self.regions, frames), ..self.clone() }
    }

    /// What it asks of a frame, if the thing is seen there; `clause` is this one's place in the request.
    #[must_use]
    pub fn required(&self, clause: usize, index: usize) -> Option<RequiredBox> {
        let region = self.regions.get(index).copied().flatten()?;
        let greatest_width = self.least_share.map(|share| region.width() / share);
        Some(RequiredBox { region, clear: self.clear, greatest_width, clause })
    }

    /// Whether a window holds the thing at a frame, however small it is in it.
    fn holds(&self, index: usize, window: &Window) -> bool {
        self.regions.get(index).copied().flatten().is_some_and(|region| {
            let (across, down) = missing_px(&region, window, &self.clear);
            across.max(down) <= Assessment::NOISE_PX
        })
    }

    /// The share of the window's width that the thing takes at a frame.
    fn share(&self, index: usize, window: &Window) -> Option<f64> {
        Some(self.regions.get(index).copied().flatten()?.width() / window.width())
    }

    fn is_kept_at(&self, index: usize, window: &Window) -> bool {
        /// What rounding leaves of a share.
        const NOISE: f64 = 1e-9;
        let is_large = || match (self.least_share, self.share(index, window)) {
            (Some(least), Some(share)) => share >= least * (1.0 - NOISE),
            _ => true,
        };
        self.holds(index, window) && is_large()
    }

    /// What a path makes of it: a window for each frame of the run, each of which counts for as long as it stays.
    #[must_use]
    pub fn kept(&self, pace: &Pace, windows: &[Window]) -> ClauseKept {
        let kept: Vec<bool> =
            windows.iter().enumerate().map(|(index, w)| self.is_kept_at(index, w)).collect();
        let longest = longest_run(&kept, pace);
        let counted = |index: &usize| match &longest {
            Some(frames) => frames.contains(index),
            None => self.holds(*index, &windows[*index]),
        };
        let shares = (0..windows.len()).filter(counted);
        let least_share =
            shares.filter_map(|index| self.share(index, &windows[index])).min_by(f64::total_cmp);
        let seen = |index: usize| self.regions.get(index).is_some_and(Option::is_some);
        let first_seen = (0..windows.len()).find(|index| seen(*index)).unwrap_or(windows.len());
        let longest_secs = longest.clone().map_or(0.0, |frames| secs(pace, frames));
        let is_kept = match self.least_secs {
            Some(least_secs) => longest_secs >= least_secs - SAME_SECS,
            None => (0..windows.len()).all(|index| kept[index] || !seen(index)),
        };
        ClauseKept {
            is_kept,
            longest_secs,
            total_secs: (0..kept.len()).filter(|i| kept[*i]).map(|i| pace.step_secs(i)).sum(),
            least_share,
            first_failing: (first_seen..kept.len()).find(|index| !kept[*index]),
            longest,
        }
    }
}

/// Sums of frame times that are nearer than this are the same.
const SAME_SECS: f64 = 1e-9;

fn secs(pace: &Pace, frames: Range<usize>) -> f64 {
    frames.map(|index| pace.step_secs(index)).sum()
}

/// The run of frames that lasts longest, the first of them if there are several.
fn longest_run(is_in: &[bool], pace: &Pace) -> Option<Range<usize>> {
    let mut longest: Option<(f64, Range<usize>)> = None;
    for frames in runs(is_in) {
        let lasts = secs(pace, frames.clone());
        if longest.as_ref().is_none_or(|(most, _)| lasts > most + SAME_SECS) {
            longest = Some((lasts, frames));
        }
    }
    longest.map(|(_, frames)| frames)
}

/// The runs of frames that are in, in order.
fn runs(is_in: &[bool]) -> impl Iterator<Item = Range<usize>> + '_ {
    let mut start = 0;
    is_in.chunk_by(|a, b| a == b).filter_map(move |run| {
        let frames = start..start + run.len();
        start = frames.end;
        run[0].then_some(frames)
    })
}

/// A verdict with which a plan is delivered.
fn is_good(verdict: Verdict) -> bool {
    verdict < Verdict::DoesNotFit
}

#[cfg(test)]
mod tests;
