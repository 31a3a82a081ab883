//! One look over the deliverables of a clip: those that can are planned together, and it is told how alike they are.

use super::{
    TaskError,
    decide::{Case, asked_of},
    requests::subject_height,
};
use crate::{
    clip::UsedRange,
    delivery::{Limit, Limits},
    geometry::Window,
    pan::{Alone, Outcome, Planned, Request, Shared, Verdict, Way, share_look, travel_of_look},
    plan::{
        Against, ApartBecause, ApartOutcome, Compared, Entry, OneLook, PlacedBy, PlannedApart,
        PlannedSegment, Segment, SegmentOutcome, Shown, SizeBecause, Softer,
    },
    timecode::{FrameIndex, FrameRange},
};

/// A shape that shares the look of a range: which deliverable, what was asked, and what came of it.
struct Member<'c> {
    case: &'c Case<'c>,
    request: Request,
    planned: Planned,
    softer: Option<Softer>,
}

/// Plans a used range again for all deliverables that can share a look, and puts what comes of it into their
/// entries, one a case. The limits are those that the clip's deliverables share.
pub(super) fn share(
    cases: &[Case<'_>],
    entries: &mut [Entry],
    range: UsedRange,
    limits: &Limits,
) -> Result<OneLook, TaskError> {
    let (mut shapes, mut places, mut apart) = (Vec::new(), Vec::new(), Vec::new());
    for (place, (case, entry)) in cases.iter().zip(entries.iter()).enumerate() {
        match alone(entry, range) {
            Ok(alone) => {
                let request = case.request(range)?;
                let alone = of_any_travel(case, &request, alone)?;
                shapes.push((request, alone));
                places.push(place);
            }
            Err(because) => apart.push((place, ApartBecause::Outcome(because))),
        }
    }
    let mut members = Vec::new();
    for ((told, (request, _)), place) in share_look(&shapes).into_iter().zip(shapes).zip(places) {
        match told {
            Ok(Shared { request: planned_by, planned }) => {
                let case = &cases[place];
                let travel = travel_of_look(&planned_by, &planned);
                let travel = travel.map_err(|source| case.pan_error(source))?;
                let planned = Planned { travel, ..planned };
                // Words and pictures are of what the user asked for, and costs of what was planned by.
                let asked = asked_of(&planned_by, &planned);
                let segment = case.planned(&request, range, &planned);
                let softer = put(&mut entries[place], range, PlannedSegment { asked, ..segment });
                members.push(Member { case, request, planned, softer });
            }
            Err(because) => apart.push((place, ApartBecause::Planner(because))),
        }
    }
    apart.sort_by_key(|(place, _)| *place);
    let apart = apart.into_iter().map(|(place, because)| PlannedApart {
        deliverable: cases[place].deliverable.name.clone(),
        because,
    });
    let placed_by = members.first().map_or(PlacedBy::Middle, |member| {
        let has_headroom = member.case.limits.value(Limit::Headroom).is_some();
        if has_headroom { PlacedBy::Top } else { PlacedBy::Middle }
    });
    let tolerance = limits.number(Limit::LookTolerance);
    Ok(OneLook {
        used: range.used,
        together: shown(&members, range.used, tolerance),
        moves: moves(&members, range.used),
        tolerance,
        placed_by,
        apart: apart.collect(),
    })
}

/// What a deliverable comes to by itself in a used range, if that is one path.
fn alone(entry: &Entry, range: UsedRange) -> Result<Alone, ApartOutcome> {
    let mut within =
        entry.segments.iter().filter(|segment| range.used.contains(segment.used.first()));
    let (Some(segment), None) = (within.next(), within.next()) else {
        return Err(ApartOutcome::Cut);
    };
    if segment.kept_alone.is_some() {
        return Err(ApartOutcome::KeptAlone);
    }
    let planned = segment.planned().ok_or(ApartOutcome::Refused)?;
    Ok(Alone {
        way: planned.way,
        verdict: planned.verdict.unwrap_or(Verdict::Fits),
        sides: planned.sides.clone(),
        is_riding: planned.steady.is_some(),
        windows: used_windows(segment, planned),
    })
}

/// What a shape comes to that follows by itself, and would perhaps move if there were no limit on travel: a look does not go
/// by that limit, and so nobody is kept out of it for its sake.
fn of_any_travel(case: &Case<'_>, request: &Request, alone: Alone) -> Result<Alone, TaskError> {
    if alone.way != Way::Follow || request.rules.greatest_travel.is_none() {
        return Ok(alone);
    }
    Ok(match case.outcome_of(&request.of_any_travel())? {
        Outcome::Planned(planned) => Alone { is_riding: alone.is_riding, ..Alone::of(&planned) },
        Outcome::DoesNotFit(_) | Outcome::NoPath { .. } => alone,
    })
}

/// The windows of a planned segment without those of its handles.
fn used_windows(segment: &Segment, planned: &PlannedSegment) -> Vec<Window> {
    let frames = segment.with_handles.frames().zip(&planned.windows);
    frames.filter(|(frame, _)| segment.used.contains(*frame)).map(|(_, window)| *window).collect()
}

/// Puts a path that was planned together with others in the place of the one that was planned alone, and tells what
/// that costs in sharpness.
fn put(entry: &mut Entry, range: UsedRange, planned: PlannedSegment) -> Option<Softer> {
    let is_it = |segment: &&mut Segment| range.used.contains(segment.used.first());
    let segment = entry.segments.iter_mut().find(is_it)?;
    let softer = Softer::of(&planned.softest, &segment.planned()?.softest);
    segment.outcome = SegmentOutcome::Planned(Box::new(planned));
    softer
}

/// The moves of all members: each of theirs is one of them.
fn moves(members: &[Member<'_>], used: FrameRange) -> Vec<(FrameIndex, FrameIndex)> {
    let of_all = members.iter().flat_map(|member| &member.planned.moves).flat_map(|m| m.moves());
    let mut moves: Vec<_> =
        of_all.map(|one| (used.frame_at(one.first), used.frame_at(one.last))).collect();
    moves.sort_unstable();
    moves.dedup();
    moves
}

/// The subject at a frame at which it is tracked.
struct Seen {
    frame: FrameIndex,
    index: usize,
    /// The row by which it is placed.
    row: f64,
    height: f64,
}

/// The subject at the frames at which it is tracked. All members place it by the row of the first.
fn seen(first: &Member<'_>, used: FrameRange) -> Vec<Seen> {
    let at = |index: usize| {
        let row = first.request.frames[index].point?.at.y;
        let frame = used.frame_at(index);
        let height = subject_height(first.case.tracks, frame)?;
        Some(Seen { frame, index, row, height })
    };
    (0..first.request.frame_count()).filter_map(at).collect()
}

/// How each member shows the subject.
fn shown(members: &[Member<'_>], used: FrameRange, tolerance: f64) -> Vec<Shown> {
    let Some(first) = members.first() else { return Vec::new() };
    let seen = seen(first, used);
    let heights = compared(members, tolerance, &seen, |seen, [window, other]| {
        let of = |window: &Window| seen.height / window.height();
        Compared::of(seen.frame, (of(window), of(other)), Against::Others)
    });
    let places = compared(members, tolerance, &seen, |seen, [window, other]| {
        let of = |window: &Window| (seen.row - window.top()) / window.height();
        Compared::of(seen.frame, (of(window), of(other)), Against::Window)
    });
    let each = members.iter().zip(heights.into_iter().zip(places));
    each.map(|(member, (height, place))| Shown {
        deliverable: member.case.deliverable.name.clone(),
        stands_still: member.planned.way == Way::Hold,
        size_because: (height.off > tolerance).then(|| size_because(member, used, &height)),
        height,
        place,
        softer: member.softer,
    })
    .collect()
}

/// Each member at the frame at which it differs the most from the one that the most others agree with; nobody if the
/// subject is seen nowhere.
fn compared(
    members: &[Member<'_>],
    tolerance: f64,
    seen: &[Seen],
    compare: impl Fn(&Seen, [&Window; 2]) -> Compared,
) -> Vec<Compared> {
    let worst = |member: &Member<'_>, other: &Member<'_>| {
        let at = |seen: &Seen| {
            compare(seen, [member, other].map(|member| &member.planned.windows[seen.index]))
        };
        seen.iter().map(at).reduce(|a, b| if b.off > a.off { b } else { a })
    };
    let agrees = |member: &Member<'_>, other: &Member<'_>| {
        worst(member, other).is_some_and(|compared| compared.off <= tolerance)
    };
    let agreeing =
        |other: &&Member<'_>| members.iter().filter(|member| agrees(member, other)).count();
    // Of equals the first.
    let Some(most) = members.iter().rev().max_by_key(agreeing) else { return Vec::new() };
    members.iter().filter_map(|member| worst(member, most)).collect()
}

/// What keeps a member's window from being as high as the others.
fn size_because(member: &Member<'_>, used: FrameRange, height: &Compared) -> SizeBecause {
    const NEAR_PX: f64 = 4.0;
    let index = usize::try_from(height.frame.0 - used.first().0).unwrap_or(0);
    let (request, window) = (&member.request, &member.planned.windows[index]);
    let high = |width: f64| request.shape.height_for(width);
    let (least, greatest) = (high(request.least_width), high(request.greatest_width()));
    let required = member.planned.required.get(index).into_iter().flatten();
    let most =
        required.filter_map(|required| required.greatest_width).fold(f64::INFINITY, f64::min);
    if height.share < height.others && (window.height() - least).abs() < NEAR_PX {
        SizeBecause::Least { height_px: least }
    } else if height.share > height.others && (window.height() - greatest).abs() < NEAR_PX {
        SizeBecause::Greatest { height_px: greatest }
    } else if height.share > height.others && (window.height() - high(most)).abs() < NEAR_PX {
        SizeBecause::Clause { height_px: high(most) }
    } else {
        SizeBecause::Subject
    }
}
