//! When a clause is kept: the time at which that loses least.

use super::{
    super::{Request, Side, missing_px},
    Clause, ClauseFailing, SAME_SECS, longest_run,
    room::{clash_at, failing_at},
    runs, secs,
};
use crate::geometry::Window;
use std::ops::Range;

/// By what the time is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Least {
    /// What the subject lacks at each frame, and of equals the way to the path.
    Lacking,
    /// The way that the path without the clause has to go at each frame.
    Way,
}

/// The frames on which a clause is required, or why it cannot be kept.
pub(super) fn chosen(
    (request, sides): (&Request, &[Side]),
    (number, clause): (usize, &Clause),
    path: &[Window],
    least: Least,
) -> Result<Vec<bool>, ClauseFailing> {
    let count = request.frame_count();
    let required = |index: usize| clause.required(number, index);
    let seen: Vec<bool> = (0..count).map(|index| required(index).is_some()).collect();
    let failing: Vec<Option<ClauseFailing>> =
        (0..count).map(|index| failing_at(request, sides, &required(index)?, index)).collect();
    let Some(least_secs) = clause.least_secs else {
        return failing.into_iter().flatten().next().map_or(Ok(seen), Err);
    };
    let is_possible: Vec<bool> =
        (0..count).map(|index| seen[index] && failing[index].is_none()).collect();
    let costs: Vec<[f64; 2]> = (0..count)
        .map(|index| match required(index).filter(|_| is_possible[index]) {
            Some(required) => {
                let lacking = clash_at(request, sides, &required, index)
                    .map_or(0.0, |clash| clash.missing_px);
                let (across, down) = missing_px(&required.region, &path[index], &required.clear);
                let narrower = required
                    .greatest_width
                    .map_or(0.0, |most| (path[index].width() - most).max(0.0));
                [lacking, across + down + narrower]
            }
            None => [0.0; 2],
        })
        .collect();
    let by = |index: usize| match least {
        Least::Lacking => costs[index],
        Least::Way => [costs[index][1], costs[index][0]],
    };
    let stays = |index: usize| request.pace.step_secs(index);
    match cheapest(&is_possible, least_secs, by, stays) {
        Some(frames) => Ok((0..count).map(|index| frames.contains(&index)).collect()),
        None => Err(too_short(request, (&seen, &failing, &is_possible), least_secs)),
    }
}

/// Of all runs of possible frames that last long enough and no longer, the one that costs least over its time.
fn cheapest(
    is_possible: &[bool],
    least_secs: f64,
    cost: impl Fn(usize) -> [f64; 2],
    stays: impl Fn(usize) -> f64,
) -> Option<Range<usize>> {
    /// Px seconds: less is no difference.
    const SAME: f64 = 1e-6;
    let mut best: Option<([f64; 2], Range<usize>)> = None;
    for run in runs(is_possible) {
        let (mut end, mut lasts, mut sum) = (run.start, 0.0, [0.0; 2]);
        for start in run.clone() {
            while end < run.end && lasts < least_secs - SAME_SECS {
                let (stays, cost) = (stays(end), cost(end));
                lasts += stays;
                sum = [sum[0] + stays * cost[0], sum[1] + stays * cost[1]];
                end += 1;
            }
            if lasts < least_secs - SAME_SECS {
                break;
            }
            let is_cheaper = |most: &[f64; 2]| {
                sum[0] < most[0] - SAME || (sum[0] < most[0] + SAME && sum[1] < most[1] - SAME)
            };
            if best.as_ref().is_none_or(|(most, _)| is_cheaper(most)) {
                best = Some((sum, start..end));
            }
            let (stays, cost) = (stays(start), cost(start));
            lasts -= stays;
            sum = [sum[0] - stays * cost[0], sum[1] - stays * cost[1]];
        }
    }
    best.map(|(_, frames)| frames)
}

/// Why there is no time that is long enough: the thing is not seen for so long, or else what stands in the way first.
fn too_short(
    request: &Request,
    (seen, failing, is_possible): (&[bool], &[Option<ClauseFailing>], &[bool]),
    least_secs: f64,
) -> ClauseFailing {
    let lasts = |frames: Option<&Range<usize>>| {
        frames.map_or(0.0, |frames| secs(&request.pace, frames.clone()))
    };
    let longest = longest_run(is_possible, &request.pace);
    let seen_secs = lasts(longest_run(seen, &request.pace).as_ref());
    let first = failing.iter().flatten().next();
    match first {
        Some(failing) if seen_secs >= least_secs - SAME_SECS => *failing,
        _ => ClauseFailing::TooShort {
            longest_secs: lasts(longest.as_ref()),
            frame_count: longest.clone().map_or(0, |frames| frames.len()),
            least_secs,
            index: longest.map(|frames| frames.end).filter(|end| *end < request.frame_count()),
        },
    }
}
