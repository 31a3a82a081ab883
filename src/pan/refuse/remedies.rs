//! What would mend a refusal: each is tried by planning with it, but for what only another take can change.

use super::{
    super::{
        Assessment, Axis, PanError, Request, Side, Smear, Verdict, choose::Decision,
        follow::follow, peak_speed,
    },
    Remedy, Standing, decide, hull, standing_at, verdict_of,
};
use crate::geometry::Window;
use std::ops::Range;

/// The largest margins, of the same proportion, with which every frame's boxes have room; only if a plan
/// made with them is not refused.
pub(super) fn smaller_margin(
    request: &Request,
    sides: &[Side],
) -> Result<Option<Remedy>, PanError> {
    if request.margins.0 <= 0.0 && request.margins.1 <= 0.0 {
        return Ok(None);
    }
    let with = |factor: f64| {
        let margins = (request.margins.0 * factor, request.margins.1 * factor);
        Request { margins, ..request.clone() }
    };
    let has_room = |factor: f64| {
        let request = with(factor);
        (0..request.frame_count())
            .all(|index| matches!(standing_at(&request, sides, index), Standing::Possible))
    };
    if has_room(1.0) || !has_room(0.0) {
        return Ok(None);
    }
    let (mut enough, mut too_much) = (0.0, 1.0);
    for _ in 0..12 {
        let middle = f64::midpoint(enough, too_much);
        if has_room(middle) { enough = middle } else { too_much = middle }
    }
    // What is printed is what was tried: tenths of a percent, rounded down.
    let tenth = |share: f64| (share * 1000.0).floor() / 1000.0;
    let (across, down) = (tenth(request.margins.0 * enough), tenth(request.margins.1 * enough));
    let tried = decide(&Request { margins: (across, down), ..request.clone() })?;
    Ok(verdict_of(&tried).map(|verdict| Remedy::SmallerMargin { across, down, verdict }))
}

/// The least width to allow with which a plan is not refused, in thousandths of the largest.
pub(in crate::pan) fn wider_window(request: &Request) -> Result<Option<Remedy>, PanError> {
    const WHOLE: u32 = 1000;
    if request.most_width.is_infinite() {
        return Ok(None);
    }
    let largest = request.of_any_width().greatest_width();
    let tried = |thousandths: u32| -> Result<Option<Remedy>, PanError> {
        let share = f64::from(thousandths) / f64::from(WHOLE);
        let width_px = share * largest;
        let verdict = verdict_of(&decide(&Request { most_width: width_px, ..request.clone() })?);
        Ok(verdict.map(|verdict| Remedy::WiderWindow { share, width_px, verdict }))
    };
    let Some(mut remedy) = tried(WHOLE)? else { return Ok(None) };
    let is_too_little = |thousandths: &u32| {
        f64::from(*thousandths) / f64::from(WHOLE) * largest <= request.most_width
    };
    let mut too_little = (0..WHOLE).take_while(is_too_little).last().unwrap_or(0);
    let mut enough = WHOLE;
    while enough - too_little > 1 {
        let middle = enough.midpoint(too_little);
        match tried(middle)? {
            Some(found) => (enough, remedy) = (middle, found),
            None => too_little = middle,
        }
    }
    Ok(Some(remedy))
}

/// The stretch of frames on which there is room and the subject is seen the most, if that is at least half of where it is
/// seen at all and a plan made for it is not refused.
pub(super) fn fewer_frames(request: &Request, sides: &[Side]) -> Result<Option<Remedy>, PanError> {
    let frame_count = request.frame_count();
    let has_room = |index: usize| matches!(standing_at(request, sides, index), Standing::Possible);
    let seen_in = |frames: Range<usize>| {
        request.frames[frames].iter().filter(|wish| !wish.boxes.is_empty()).count()
    };
    let (mut longest, mut most_seen, mut start) = (0..0, 0, 0);
    for index in 0..=frame_count {
        if index == frame_count || !has_room(index) {
            let seen = seen_in(start..index);
            if seen > most_seen {
                (longest, most_seen) = (start..index, seen);
            }
            start = index + 1;
        }
    }
    if most_seen * 2 < seen_in(0..frame_count) || most_seen == 0 || longest.len() == frame_count {
        return Ok(None);
    }
    let tried = decide(&request.part(longest.clone()))?;
    let (front, back) = (longest.start, frame_count - longest.end);
    Ok(verdict_of(&tried).map(|verdict| Remedy::FewerFrames { front, back, verdict }))
}

/// The end of the longest shot from a frame on that is not refused, and what its plan would be.
fn first_shot(request: &Request, start: usize) -> Result<Option<(usize, Verdict)>, PanError> {
    let count = request.frame_count();
    let planned = |end: usize| Ok(verdict_of(&decide(&request.part(start..end))?));
    if let Some(verdict) = planned(count)? {
        return Ok(Some((count, verdict)));
    }
    // One frame by itself needs no pan, so that a shorter shot is always easier.
    let (mut enough, mut too_much, mut found) = (start, count, None);
    while too_much - enough > 1 {
        let middle = enough.midpoint(too_much);
        match planned(middle)? {
            Some(verdict) => (enough, found) = (middle, Some((middle, verdict))),
            None => too_much = middle,
        }
    }
    Ok(found)
}

/// The fewest shots that the run can be split in so that none is refused; no more than a few, and none too short to be one.
pub(super) fn shots(request: &Request) -> Result<Option<Remedy>, PanError> {
    const MOST: usize = 5;
    let (count, mut start) = (request.frame_count(), 0);
    let (mut starts, mut worst) = (Vec::new(), Verdict::Fits);
    while start < count {
        let Some((end, verdict)) = first_shot(request, start)? else { return Ok(None) };
        let secs: f64 = (start..end).map(|index| request.pace.step_secs(index)).sum();
        if secs < request.rules.moves.least_hold_secs || starts.len() + 1 == MOST && end < count {
            return Ok(None);
        }
        worst = worst.max(verdict);
        start = end;
        starts.push(end);
    }
    starts.pop();
    Ok((!starts.is_empty()).then_some(Remedy::Shots { starts, verdict: worst }))
}

/// The shapes that have room for the largest sight of the subject, if the frame has.
pub(super) fn other_shape(request: &Request, axis: Axis) -> Option<Remedy> {
    let insets = request.insets();
    let hulls = || request.frames.iter().filter_map(hull);
    let usable = &request.usable;
    // A most width is a share of the largest window of any shape.
    let share = request.greatest_width() / request.of_any_width().greatest_width();
    match axis {
        Axis::Across => {
            let widest = hulls().map(|r| r.width()).fold(0.0, f64::max);
            let needed = widest / (1.0 - insets.left - insets.right);
            (needed <= share * usable.width()).then(|| Remedy::WiderShape {
                least_width_over_height: needed / (share * usable.height()),
            })
        }
        Axis::Down => {
            let tallest = hulls().map(|r| r.height()).fold(0.0, f64::max);
            let needed = tallest / (1.0 - insets.top - insets.bottom);
            (needed <= share * usable.height()).then(|| Remedy::TallerShape {
                greatest_width_over_height: share * usable.width() / needed,
            })
        }
    }
}

/// The pan that a path without the hard limit needs, if such a path is not refused.
pub(super) fn faster_pan(request: &Request, sides: &[Side]) -> Result<Option<Remedy>, PanError> {
    let Some(limit_secs) = request.rules.pan_hard else { return Ok(None) };
    let mut without = request.clone();
    without.rules.pan_hard = None;
    let Some(windows) = follow(&without, sides)? else { return Ok(None) };
    let verdict = Assessment::of(&without, &windows).verdict;
    let peak = peak_speed(&windows, &request.pace, &request.ride);
    Ok(peak.secs_per_width().filter(|_| verdict != Verdict::DoesNotFit).map(|secs| {
        // Rounded down, so that the limit that is printed lets the path through.
        let secs_per_width = (secs * 100.0).floor() / 100.0;
        Remedy::FasterPan { secs_per_width, slower: secs_per_width / limit_secs, verdict }
    }))
}

/// The softest window that is needed if any may be, if such a plan is not refused.
pub(super) fn softer(request: &Request) -> Result<Option<Remedy>, PanError> {
    let any = Request { least_width: 1.0, ..request.clone() };
    let Decision::Planned(planned) = decide(&any)? else { return Ok(None) };
    let narrowest = planned.windows.iter().map(Window::width).fold(f64::INFINITY, f64::min);
    // What is printed is what was tried: tenths, rounded down.
    let width_px = (narrowest * 10.0).floor() / 10.0;
    let tried = decide(&Request { least_width: width_px, ..request.clone() })?;
    Ok(verdict_of(&tried).map(|_| Remedy::AcceptWidth { width_px }))
}

/// What lets a subject be followed that smears by too much.
pub(super) fn smear(request: &Request, share: f64, limit: f64) -> Result<Vec<Remedy>, PanError> {
    // Rounded up, so that the limit that is printed lets the path through.
    let accepted = (share * 1e4).ceil() / 1e4;
    let smear = request.smear.map(|smear| Smear { hold_above: Some(accepted), ..smear });
    let tried = decide(&Request { smear, ..request.clone() })?;
    let accept = verdict_of(&tried).map(|verdict| Remedy::AcceptSmear { share: accepted, verdict });
    let shorter = Remedy::ShorterExposure { factor: limit / share };
    Ok(accept.map_or(Vec::new(), |accept| vec![accept, shorter]))
}
