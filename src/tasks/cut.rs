//! One used range as one segment, or as two with a planned cut between: where several subjects cannot all be kept any
//! longer, or where nothing but a still window on either side of one frame will do.

use super::{TaskError, decide::Case};
use crate::{
    clip::UsedRange,
    delivery::Limit,
    geometry::Window,
    pan::{Verdict, Way, between_two_holds, cut_bounds, first_without_room},
    plan::{CutReason, KeptAlone, PlannedCut, RemedyNote, Segment, SegmentOutcome},
    subject::{Track, Wish},
    timecode::{FrameIndex, FrameRange},
};

impl Case<'_> {
    /// What is decided for a used range, its segments numbered from `number` on.
    pub(super) fn segments(
        &self,
        number: usize,
        range: UsedRange,
    ) -> Result<Vec<Segment>, TaskError> {
        let mut whole = self.decide(number, range)?;
        if is_kept(&whole) {
            return Ok(vec![whole]);
        }
        let crowd = self.crowd(range)?;
        if let Some(crowd) = &crowd
            && let Some(kept) = self.kept_to_one(number, range, crowd)?
        {
            return Ok(kept);
        }
        // One that is let go and was there to be had is rather kept by a cut.
        let is_lost = whole.planned().is_none_or(|planned| {
            planned.way == Way::Hold
                && planned.share_inside < Some(self.limits.number(Limit::TightShare))
        });
        if is_lost && let Some(cut) = self.cut_between_holds(number, range)? {
            return Ok(cut);
        }
        if let (Some(crowd), SegmentOutcome::DoesNotFit(refused)) = (&crowd, &mut whole.outcome) {
            let remedy = self.weight_remedy(number, range, crowd)?;
            refused.remedies.splice(0..0, remedy);
        }
        Ok(vec![whole])
    }

    /// The subjects of a range that are not to be had together all the time; `None` if they are, or there is but one.
    fn crowd(&self, range: UsedRange) -> Result<Option<Crowd<'_>>, TaskError> {
        let in_range = |track: &&Track| {
            track.wish() == Wish::Subject
                && range.used.frames().any(|frame| track.at(frame).is_some())
        };
        let subjects: Vec<&Track> = self.tracks.iter().filter(in_range).collect();
        let Some(first) = subjects.iter().copied().reduce(Track::more_important) else {
            return Ok(None);
        };
        let others: Vec<&Track> = subjects.into_iter().filter(|track| *track != first).collect();
        let request = self.request(range)?;
        let (Some(index), Some(bounds)) = (first_without_room(&request), cut_bounds(&request))
        else {
            return Ok(None);
        };
        Ok((!others.is_empty()).then_some(Crowd { first, others, index, bounds }))
    }

    /// All subjects as long as they fit together, then the one that counts most, up to the end. Where they do not fit
    /// together for as long as a window stands, the one that weighs more than every other is kept all the time.
    fn kept_to_one(
        &self,
        number: usize,
        range: UsedRange,
        crowd: &Crowd<'_>,
    ) -> Result<Option<Vec<Segment>>, TaskError> {
        let (earliest, latest) = crowd.bounds;
        let kept = self.tracks_with(crowd.first);
        let alone = Case { tracks: &kept, ..*self };
        if crowd.index >= earliest {
            if crowd.index > latest {
                return Ok(None);
            }
            let (kept, left_out) = crowd.names();
            let reason = CutReason::NoRoomForAll { kept, left_out };
            return cut(number, range, range.used.frame_at(crowd.index), (self, &alone), reason);
        }
        if crowd.others.iter().any(|other| other.weight() >= crowd.first.weight()) {
            return Ok(None);
        }
        let segment = alone.decide(number, range)?;
        let ((kept, left_out), frame) = (crowd.names(), range.used.frame_at(crowd.index));
        let kept_alone = Some(KeptAlone { kept, left_out, frame });
        Ok(is_kept(&segment).then(|| vec![Segment { kept_alone, ..segment }]))
    }

    /// What mends it that of subjects without room for each other from the start none weighs more; `None` if it does not.
    fn weight_remedy(
        &self,
        number: usize,
        range: UsedRange,
        crowd: &Crowd<'_>,
    ) -> Result<Option<RemedyNote>, TaskError> {
        let is_as_heavy = |other: &&Track| other.weight() >= crowd.first.weight();
        let (mut names, (earliest, _)) = (Vec::new(), crowd.bounds);
        names.extend(crowd.others.iter().copied().filter(is_as_heavy).map(Track::name));
        if names.is_empty() || crowd.index >= earliest {
            return Ok(None);
        }
        let kept = self.tracks_with(crowd.first);
        let alone = Case { tracks: &kept, ..*self }.decide(number, range)?;
        let Some(verdict) = alone.planned().filter(|_| is_kept(&alone)).and_then(|p| p.verdict)
        else {
            return Ok(None);
        };
        let then = if verdict == Verdict::Fits { "fits" } else { "is tight" };
        let first = crowd.first.name();
        let words = format!(
            "give {first} or {} more weight than the other in the marks (column weight), and it is kept alone: with {first} it \
             then {then}",
            names.join(" or ")
        );
        Ok(Some(RemedyNote { remedy: None, words }))
    }

    /// The tracks with one of the subjects.
    fn tracks_with(&self, kept: &Track) -> Vec<Track> {
        let is_in = |track: &&Track| track.wish() != Wish::Subject || *track == kept;
        self.tracks.iter().filter(is_in).cloned().collect()
    }

    /// A still window on either side of one frame.
    fn cut_between_holds(
        &self,
        number: usize,
        range: UsedRange,
    ) -> Result<Option<Vec<Segment>>, TaskError> {
        let request = self.request(range)?;
        let Some(index) = between_two_holds(&request).map_err(|source| self.pan_error(source))?
        else {
            return Ok(None);
        };
        cut(number, range, range.used.frame_at(index), (self, self), CutReason::TwoHolds)
    }
}

impl Case<'_> {
    /// How many frames a whip from a window to the first one of a segment has at most; `None` if there could be none: it
    /// would not go a whole window, and so not be off the subject, or not land on a hold.
    pub(super) fn whip_frames(&self, segment: &Segment, from: Window) -> Option<usize> {
        let whip_secs = self.limits.value(Limit::WhipSecs)?;
        let windows = &segment.planned()?.windows;
        let to = windows.first()?;
        let way =
            (to.centre_x() - from.centre_x()).abs().max((to.centre_y() - from.centre_y()).abs());
        let first = segment.with_handles.first();
        let secs_to =
            |index: usize| self.clip().timeline_secs(first, FrameIndex(first.0 + index as u64));
        let stands = windows.iter().take_while(|window| *window == to).count();
        let is_whip = way >= to.width().max(from.width())
            && secs_to(stands) >= self.limits.number(Limit::LeastHold) - 1e-9;
        let frames = (1..=windows.len()).take_while(|index| secs_to(*index) <= whip_secs + 1e-9);
        frames.last().filter(|_| is_whip)
    }
}

/// Subjects that are not to be had together all the time.
struct Crowd<'t> {
    /// The one that counts most.
    first: &'t Track,
    /// The others, at least one.
    others: Vec<&'t Track>,
    /// The range's first frame on which there is no room for all.
    index: usize,
    /// The first and the last before which it may be cut.
    bounds: (usize, usize),
}

impl Crowd<'_> {
    /// Of the one that counts most, and of the others.
    fn names(&self) -> (String, Vec<String>) {
        let others = self.others.iter().map(|other| other.name().to_owned());
        (self.first.name().to_owned(), others.collect())
    }
}

/// Whether a segment is planned with everything kept.
fn is_kept(segment: &Segment) -> bool {
    segment
        .planned()
        .is_some_and(|planned| planned.verdict.is_some_and(|verdict| verdict <= Verdict::Tight))
}

/// Both sides of a cut, the first frame after it given; `None` if one of them cannot be had.
fn cut(
    number: usize,
    range: UsedRange,
    frame: FrameIndex,
    (before, after): (&Case<'_>, &Case<'_>),
    reason: CutReason,
) -> Result<Option<Vec<Segment>>, TaskError> {
    let part = |from, to| FrameRange::new(from, to).ok();
    let (used, handles) = (range.used, range.with_handles);
    let parts = (
        part(used.first(), frame).zip(part(handles.first(), frame)),
        part(frame, used.end()).zip(part(frame, handles.end())),
    );
    let (Some(first), Some(second)) = parts else { return Ok(None) };
    let side = |(used, with_handles)| UsedRange { used, with_handles };
    let first = before.decide(number, side(first))?;
    if !is_kept(&first) {
        return Ok(None);
    }
    let mut second = after.decide(number + 1, side(second))?;
    let windows = match (&first.outcome, &second.outcome) {
        (SegmentOutcome::Planned(first), SegmentOutcome::Planned(second)) => {
            first.windows.last().copied().zip(second.windows.first().copied())
        }
        _ => None,
    };
    let Some((window_before, window_after)) = windows else { return Ok(None) };
    second.cut = Some(PlannedCut {
        frame,
        before: window_before,
        after: window_after,
        reason,
        least_punch_in: before.limits.number(Limit::PunchIn),
        whip_frames: after.whip_frames(&second, window_before),
    });
    Ok(Some(vec![first, second]))
}
