//! One look over the deliverables of a clip: those that can are planned together, and it is told how alike they are.

use super::{TaskError, decide::Case, requests::subject_height};
use crate::{
    clip::UsedRange,
    delivery::{Limit, Limits},
    geometry::Window,
    pan::{Alone, Planned, Request, Verdict, Way, share_look},
    plan::{
        Against, ApartBecause, ApartOutcome, Compared, Entry, OneLook, PlacedBy, PlannedApart,
        PlannedSegment, Segment, SegmentOutcome, Shown, SizeBecause,
    },
    timecode::{FrameIndex, FrameRange},
};

/// A shape that shares the look of a range: which deliverable, what was asked, and what came of it.
struct Member<'c> {
    case: &'c Case<'c>,
    request: Request,
    planned: Planned,
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
                shapes.push((case.request(range)?, alone));
                places.push(place);
            }
            Err(because) => apart.push((place, ApartBecause::Outcome(because))),
        }
    }
    let mut members = Vec::new();
    for ((told, (request, _)), place) in share_look(&shapes).into_iter().zip(shapes).zip(places) {
        match told {
            Ok(planned) => {
                let case = &cases[place];
                put(&mut entries[place], range, case.planned(&request, range, &planned));
                members.push(Member { case, request, planned });
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
    let planned = segment.planned().ok_or(ApartOutcome::Refused)?;
    Ok(Alone {
        way: planned.way,
        verdict: planned.verdict.unwrap_or(Verdict::Fits),
        sides: planned.sides.clone(),
        is_riding: planned.steady.is_some(),
    })
}

/// Puts a path that was planned together with others in the place of the one that was planned alone.
fn put(entry: &mut Entry, range: UsedRange, planned: PlannedSegment) {
    let is_it = |segment: &&mut Segment| range.used.contains(segment.used.first());
    if let Some(segment) = entry.segments.iter_mut().find(is_it) {
        segment.outcome = SegmentOutcome::Planned(Box::new(planned));
    }
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

/// How each member shows the subject. A member is held against the one that the most others agree with.
fn shown(members: &[Member<'_>], used: FrameRange, tolerance: f64) -> Vec<Shown> {
    let Some(first) = members.first() else { return Vec::new() };
    // The row by which the subject is placed, and how high it is, at the frames at which it is tracked.
    let seen: Vec<(usize, f64, f64)> = (0..first.request.frame_count())
        .filter_map(|index| {
            let row = first.request.frames[index].point?.at.y;
            let height = subject_height(first.case.tracks, used.frame_at(index))?;
            Some((index, row, height))
        })
        .collect();
    let high = |window: &Window, (_, _, height): &(usize, f64, f64)| height / window.height();
    let down =
        |window: &Window, (_, row, _): &(usize, f64, f64)| (row - window.top()) / window.height();
    let compare = |share: &dyn Fn(&Window, &(usize, f64, f64)) -> f64, against: Against| {
        let compared = |member: &Member<'_>, other: &Member<'_>| {
            let at = |seen: &(usize, f64, f64)| {
                let of = |member: &Member<'_>| share(&member.planned.windows[seen.0], seen);
                Compared::of(used.frame_at(seen.0), (of(member), of(other)), against)
            };
            let none = Compared::of(used.first(), (0.0, 0.0), Against::Window);
            let worse = |a: Compared, b: Compared| if b.off > a.off { b } else { a };
            seen.iter().map(at).reduce(worse).unwrap_or(none)
        };
        let agree = |other: &Member<'_>| {
            members.iter().filter(|member| compared(member, other).off <= tolerance).count()
        };
        // Of equals the first.
        let most = members.iter().rev().max_by_key(|other| agree(other)).unwrap_or(first);
        members.iter().map(|member| compared(member, most)).collect::<Vec<_>>()
    };
    let (heights, places) = (compare(&high, Against::Others), compare(&down, Against::Window));
    let each = members.iter().zip(heights).zip(places);
    each.map(|((member, height), place)| Shown {
        deliverable: member.case.deliverable.name.clone(),
        stands_still: member.planned.way == Way::Hold,
        size_because: (height.off > tolerance).then(|| size_because(member, used, &height)),
        height,
        place,
    })
    .collect()
}

/// What keeps a member's window from being as high as the others.
fn size_because(member: &Member<'_>, used: FrameRange, height: &Compared) -> SizeBecause {
    const NEAR_PX: f64 = 4.0;
    let index = usize::try_from(height.frame.0 - used.first().0).unwrap_or(0);
    let (request, window) = (&member.request, &member.planned.windows[index]);
    let high = |width: f64| request.shape.height_for(width);
    let (least, greatest) = (high(request.least_width), high(request.greatest_width()));
    if height.share < height.others && (window.height() - least).abs() < NEAR_PX {
        SizeBecause::Least { height_px: least }
    } else if height.share > height.others && (window.height() - greatest).abs() < NEAR_PX {
        SizeBecause::Greatest { height_px: greatest }
    } else {
        SizeBecause::Subject
    }
}
