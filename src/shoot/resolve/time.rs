//! When a clip's frames are used and how fast they are played.

use super::{
    super::{FaultKind, Sheet, WrittenRange, WrittenRetime, WrittenSpeed, clip::overlaps},
    Faults, LocatedRange, Resolver,
};
use crate::{
    clip::UsedRange,
    delivery::Limit,
    timecode::{FrameRange, FrameRate, RampLaw, Retime, RetimeStretch, Speed, TimecodeError},
};

impl Resolver<'_> {
    /// The used ranges in order, with their handles.
    pub(super) fn ranges(&self, faults: &mut Faults<'_>) -> Vec<LocatedRange> {
        let whole = self.facts.whole();
        let mut used = Vec::new();
        for written in &self.clip.ranges {
            let place = (Sheet::Shoot, written.line, Some("ranges"));
            used.extend(faults.keep(place, self.range(written)).map(|range| (range, written.line)));
        }
        if self.clip.ranges.is_empty() {
            used.push((whole, self.clip.line));
        }
        for (line, kind) in overlaps(&mut used) {
            faults.tell_of(Sheet::Shoot, line, Some("ranges"), kind);
        }
        let handle_secs = self.shoot.clip_limits(self.clip).number(Limit::HandleSecs);
        used.into_iter()
            .map(|(range, line)| {
                let handles = self.facts.timing.frames_beside(range, handle_secs, whole);
                (UsedRange::new(range, handles, whole), line)
            })
            .collect()
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
