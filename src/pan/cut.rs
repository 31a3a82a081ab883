//! Where one path becomes two: the last thing that is tried, and then in one place only.

use super::{Assessment, PanError, Request, Verdict, choose::still, refuse::hull, sides};
use std::ops::Range;

/// The first frame on which what is wished, with its margins, is wider or higher than the largest window: from there
/// on not all of it can be kept. `None` if there is room on every frame.
#[must_use]
pub fn first_without_room(request: &Request) -> Option<usize> {
    let (insets, width) = (request.insets(), request.greatest_width());
    let across = width * (1.0 - insets.left - insets.right);
    let down = request.shape.height_for(width) * (1.0 - insets.top - insets.bottom);
    request.frames.iter().position(|wish| {
        hull(wish).is_some_and(|all| {
            all.width() > across + Assessment::NOISE_PX
                || all.height() > down + Assessment::NOISE_PX
        })
    })
}

/// The frame before which one cut lets a still window do on either side, each for at least as long as a window stands
/// between moves: in the middle of where both sides fit, or else of where they are tight. `None` if there is no such
/// frame.
///
/// # Errors
/// [`PanError`] for faults of ours.
pub fn between_two_holds(request: &Request) -> Result<Option<usize>, PanError> {
    let Some((least, most)) = cut_bounds(request) else { return Ok(None) };
    let count = request.frame_count();
    for verdict in [Verdict::Fits, Verdict::Tight] {
        if !holds(request, 0..least, verdict)? || !holds(request, most..count, verdict)? {
            continue;
        }
        // A window that does for some frames does for fewer of them.
        let latest = last_that(least, most, |end| holds(request, 0..end, verdict))?;
        let back = last_that(0, most - least, |back| holds(request, most - back..count, verdict))?;
        if most - back <= latest {
            return Ok(Some(usize::midpoint(most - back, latest)));
        }
    }
    Ok(None)
}

/// The last number up to which a test passes, if it passes for the first one.
fn last_that(
    first: usize,
    last: usize,
    passes: impl Fn(usize) -> Result<bool, PanError>,
) -> Result<usize, PanError> {
    let (mut enough, mut too_many) = (first, last + 1);
    while too_many - enough > 1 {
        let middle = usize::midpoint(enough, too_many);
        if passes(middle)? { enough = middle } else { too_many = middle }
    }
    Ok(enough)
}

/// The first and the last frame before which a run may be cut, so that each side is long enough to be a hold; `None`
/// if it is too short for two.
#[must_use]
pub fn cut_bounds(request: &Request) -> Option<(usize, usize)> {
    let count = request.frame_count();
    let mean_secs = request.pace.mean_step_secs();
    let starts = request.pace.starts(count);
    let end = starts.last()? + request.pace.step_secs(count - 1) / mean_secs;
    let hold = request.rules.moves.least_hold_secs / mean_secs - 1e-9;
    let first = starts.iter().position(|start| *start >= hold)?;
    let last = starts.iter().rposition(|start| end - start >= hold)?;
    (first <= last).then_some((first, last))
}

/// Whether one still window is at least as good as this for some frames.
fn holds(request: &Request, frames: Range<usize>, verdict: Verdict) -> Result<bool, PanError> {
    let part = request.part(frames);
    if part.least_width > part.greatest_width() + 1e-6 {
        return Ok(false);
    }
    let Some(sides) = sides::best(&part)? else { return Ok(false) };
    let held = still(&part, &sides);
    Ok(held.is_ok_and(|held| held.assessment.verdict <= verdict))
}
