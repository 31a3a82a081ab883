//! When a clip's frames are used and how fast they are played.

use super::{
    super::{FaultKind, Sheet, WrittenRange, WrittenRetime, WrittenSpeed, clip::overlaps},
    Faults, Resolver,
};
use crate::{
    clip::{UsedRange, part_without_cut},
    delivery::Limit,
    timecode::{
        FrameIndex, FrameRange, FrameRate, RampLaw, Retime, RetimeStretch, Speed, TimecodeError,
    },
};
use std::collections::BTreeMap;

/// A used range and the line it is written on; the clip's own for the whole clip.
type LocatedRange = (UsedRange, u64);

/// What a clip uses of its frames, and how.
pub(super) struct Times {
    /// In order, each parted where it is cut, with its handles.
    pub(super) ranges: Vec<LocatedRange>,
    /// Whether every range could be read.
    pub(super) all_known: bool,
    /// The first frame after each cut, in order.
    pub(super) cuts: Vec<FrameIndex>,
    pub(super) retime: Option<Retime>,
}

impl Resolver<'_> {
    pub(super) fn times(&self, faults: &mut Faults<'_>) -> Times {
        let cuts = self.cuts(faults);
        let used = self.used_ranges(faults);
        let all_known = used.len() == self.clip.ranges.len().max(1);
        let ranges = self.with_handles(&used, &cuts);
        Times { ranges, all_known, cuts, retime: self.retime(faults) }
    }

    /// The cuts in order: a user may write them in any.
    fn cuts(&self, faults: &mut Faults<'_>) -> Vec<FrameIndex> {
        let mut lines = BTreeMap::new();
        for written in &self.clip.cuts {
            let place = (Sheet::Shoot, written.line, Some("cuts"));
            let frame = self.frame(&written.first_after).map(|frame| match frame? {
                FrameIndex(0) => Err(FaultKind::CutAtStart),
                frame => match lines.get(&frame) {
                    Some(first_line) => Err(FaultKind::CutTwice { frame, first_line: *first_line }),
                    None => Ok(frame),
                },
            });
            lines.extend(faults.keep(place, frame).map(|frame| (frame, written.line)));
        }
        lines.into_keys().collect()
    }

    /// The used ranges in order, as they were written.
    fn used_ranges(&self, faults: &mut Faults<'_>) -> Vec<(FrameRange, u64)> {
        let mut used = Vec::new();
        for written in &self.clip.ranges {
            let place = (Sheet::Shoot, written.line, Some("ranges"));
            used.extend(faults.keep(place, self.range(written)).map(|range| (range, written.line)));
        }
        if self.clip.ranges.is_empty() {
            used.push((self.facts.whole(), self.clip.line));
        }
        for (line, kind) in overlaps(&mut used) {
            faults.tell_of(Sheet::Shoot, line, Some("ranges"), kind);
        }
        used
    }

    /// The ranges parted at the cuts, and their handles, of which none reaches across one.
    fn with_handles(&self, used: &[(FrameRange, u64)], cuts: &[FrameIndex]) -> Vec<LocatedRange> {
        let handle_secs = self.shoot.clip_limits(self.clip).number(Limit::HandleSecs);
        let mut located = Vec::new();
        for (range, line) in used {
            let mut first = range.first();
            while first < range.end() {
                let uncut = part_without_cut(self.facts.whole(), cuts, first);
                let end = range.end().min(uncut.end());
                let Ok(part) = FrameRange::new(first, end) else { break };
                let handles = self.facts.timing.frames_beside(part, handle_secs, uncut);
                located.push((UsedRange::new(part, handles, uncut), *line));
                first = end;
            }
        }
        located
    }

    fn range(&self, written: &WrittenRange) -> Option<Result<FrameRange, FaultKind>> {
        let (from, to) = (self.clock.frame_of(&written.from)?, self.clock.frame_of(&written.to)?);
        let range = || {
            let range = FrameRange::new(from?, to?)?;
            let (end, frame_count) = (range.end(), self.facts.frame_count);
            if end.0 > frame_count {
                return Err(FaultKind::RangeAfterClip { end, frame_count });
            }
            Ok(range)
        };
        Some(range())
    }

    /// How its speed was changed, if it was and nothing is wrong with that.
    pub(super) fn retime(&self, faults: &mut Faults<'_>) -> Option<Retime> {
        let first = self.clip.retimes.first()?;
        let Some(rate) = self.facts.timing.rate() else {
            let variable = FaultKind::RetimedVariableRate { clip: self.clip.name.clone() };
            faults.tell_of(Sheet::Shoot, first.frames.line, Some("retimes"), variable);
            return None;
        };
        let mut stretches = Vec::new();
        for written in &self.clip.retimes {
            let place = (Sheet::Shoot, written.frames.line, Some("retimes"));
            let stretch = self.stretch(written, rate);
            stretches.extend(faults.keep(place, stretch).map(|stretch| (stretch, written)));
        }
        if stretches.len() < self.clip.retimes.len() {
            return None;
        }
        let line_of = |frames: FrameRange| {
            let its = stretches.iter().rfind(|(stretch, _)| stretch.frames == frames);
            its.map_or(first.frames.line, |(_, written)| written.frames.line)
        };
        Retime::new(stretches.iter().map(|(stretch, _)| *stretch).collect())
            .map_err(|error| {
                let line = match &error {
                    TimecodeError::RetimesOverlap { next, .. }
                    | TimecodeError::RetimesApart { next, .. } => line_of(*next),
                    _ => first.frames.line,
                };
                faults.tell_of(Sheet::Shoot, line, Some("retimes"), error.into());
            })
            .ok()
    }

    /// A retime in frames; `None` if it cannot be told because of a fault that is known already.
    fn stretch(
        &self,
        written: &WrittenRetime,
        capture: FrameRate,
    ) -> Option<Result<RetimeStretch, FaultKind>> {
        let frames = match self.range(&written.frames)? {
            Ok(frames) => frames,
            Err(fault) => return Some(Err(fault)),
        };
        Some(match written.speed {
            WrittenSpeed::Known(speed) => Ok(RetimeStretch { frames, speed }),
            WrittenSpeed::WithoutLaw { from, to } => {
                let timeline_frames = |law| {
                    let speed = Speed::Ramp { from, to, law };
                    let secs = RetimeStretch { frames, speed }.played() * capture.frame_secs();
                    secs * self.shoot.timeline_rate.per_second()
                };
                let lengths = RampLaw::ALL.map(timeline_frames);
                Err(FaultKind::RampWithoutLaw { from, to, frames, lengths })
            }
        })
    }
}
