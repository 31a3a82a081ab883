//! One used range as one segment, or as two with a planned cut between: where several subjects cannot all be kept any
//! longer, or where nothing but a still window on either side of one frame will do.

use super::{TaskError, decide::Case};
use crate::{
    clip::UsedRange,
    delivery::Limit,
    geometry::Window,
    pan::{Verdict, Way, between_two_holds, cut_bounds, first_without_room},
    plan::{CutReason, PlannedCut, Segment, SegmentOutcome},
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
        let whole = self.decide(number, range)?;
        if is_kept(&whole) {
            return Ok(vec![whole]);
        }
        if let Some(cut) = self.cut_to_one(number, range)? {
            return Ok(cut);
        }
        // One that is let go and was there to be had is rather kept by a cut.
        let is_lost = whole.planned().is_none_or(|planned| {
            planned.way == Way::Hold
                && planned.share_inside < Some(self.limits.number(Limit::TightShare))
        });
        if is_lost && let Some(cut) = self.cut_between_holds(number, range)? {
            return Ok(cut);
        }
        Ok(vec![whole])
    }

    /// All subjects as long as they fit together, then the one that counts most, up to the end.
    fn cut_to_one(
        &self,
        number: usize,
        range: UsedRange,
    ) -> Result<Option<Vec<Segment>>, TaskError> {
        let subjects = || self.tracks.iter().filter(|track| track.wish() == Wish::Subject);
        let in_range = |track: &&Track| range.used.frames().any(|frame| track.at(frame).is_some());
        let Some(first) = subjects().filter(in_range).reduce(Track::more_important) else {
            return Ok(None);
        };
        let left_out: Vec<String> =
            subjects().filter(|track| *track != first).map(|t| t.name().to_owned()).collect();
        let request = self.request(range)?;
        let (Some(index), Some((earliest, latest))) =
            (first_without_room(&request), cut_bounds(&request))
        else {
            return Ok(None);
        };
        if left_out.is_empty() || index < earliest || index > latest {
            return Ok(None);
        }
        let kept: Vec<Track> = self
            .tracks
            .iter()
            .filter(|track| track.wish() != Wish::Subject || *track == first)
            .cloned()
            .collect();
        let after = Case { tracks: &kept, ..*self };
        let reason = CutReason::NoRoomForAll { kept: first.name().to_owned(), left_out };
        cut(number, range, range.used.frame_at(index), (self, &after), reason)
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
