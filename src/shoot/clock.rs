use super::{FaultKind, Moment};
use crate::timecode::{FrameIndex, Timecode};

/// What is known of a clip's first timecode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Start {
    /// This is it.
    At(Timecode),
    /// Nobody names it.
    Unnamed,
    /// It was written wrongly: no timecode can be found, and that has been told.
    Faulty,
    /// The clip's rate is variable, and there is no timecode.
    Variable,
}

/// Finds written moments in a clip.
pub(super) struct Clock<'s> {
    pub(super) clip: &'s str,
    pub(super) frame_count: u64,
    pub(super) start: Start,
}

impl Clock<'_> {
    /// The frame of a moment. A frame's number is taken as it is; a timecode is one of the clip's, or the
    /// one after its last. `None` if it cannot be told because of a fault that is known already.
    pub(super) fn frame_of(&self, moment: &Moment) -> Option<Result<FrameIndex, FaultKind>> {
        match (moment, self.start) {
            (Moment::Frame(frame), _) => Some(Ok(*frame)),
            (Moment::Timecode(_), Start::Faulty) => None,
            (Moment::Timecode(timecode), Start::Unnamed) => Some(Err(FaultKind::NoStartTimecode {
                timecode: timecode.clone(),
                clip: self.clip.to_owned(),
            })),
            (Moment::Timecode(timecode), Start::Variable) => {
                Some(Err(FaultKind::TimecodeOfVariableRate {
                    timecode: timecode.clone(),
                    clip: self.clip.to_owned(),
                }))
            }
            (Moment::Timecode(timecode), Start::At(start)) => {
                Some(self.frames_after(start, timecode))
            }
        }
    }

    fn frames_after(&self, start: Timecode, written: &str) -> Result<FrameIndex, FaultKind> {
        let timecode = Timecode::parse(written, start.rate())?;
        if timecode.counting() != start.counting() {
            let (timecode, start) = (written.to_owned(), start.to_string());
            return Err(FaultKind::CountingDiffers { timecode, start });
        }
        let count_of = Timecode::frames_since_midnight;
        let end = start.after(FrameIndex(self.frame_count));
        let runs_past_midnight = count_of(end) < count_of(start);
        let frames = if count_of(timecode) >= count_of(start) {
            Some(count_of(timecode) - count_of(start))
        } else if runs_past_midnight && count_of(timecode) <= count_of(end) {
            Some(self.frame_count.saturating_sub(count_of(end) - count_of(timecode)))
        } else {
            None
        };
        let frames = frames.filter(|frames| *frames <= self.frame_count);
        frames.map(FrameIndex).ok_or_else(|| FaultKind::OutsideTimecodes {
            timecode: written.to_owned(),
            start: start.to_string(),
            last: start.after(FrameIndex(self.frame_count - 1)).to_string(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::timecode::FrameRate;

    fn frame_of(start: &str, frame_count: u64, written: &str) -> Result<u64, FaultKind> {
        let rate = FrameRate::new(25, 1).unwrap();
        let start = Start::At(Timecode::parse(start, rate).unwrap());
        let clock = Clock { clip: "weir", frame_count, start };
        clock.frame_of(&Moment::Timecode(written.to_owned())).unwrap().map(|frame| frame.0)
    }

    #[test]
    fn a_timecode_is_found_by_counting_from_the_clips_first_one() {
        assert_eq!(frame_of("10:12:30:00", 200, "10:12:34:12"), Ok(112));
        assert_eq!(frame_of("10:12:30:00", 200, "10:12:38:00"), Ok(200), "the end of a range");
        for outside in ["10:12:29:24", "10:12:38:01", "00:00:00:00"] {
            let fault = frame_of("10:12:30:00", 200, outside).unwrap_err();
            assert!(matches!(fault, FaultKind::OutsideTimecodes { .. }), "{fault}");
        }
    }

    #[test]
    fn a_clip_may_run_past_midnight() {
        assert_eq!(frame_of("23:59:59:00", 100, "23:59:59:24"), Ok(24));
        assert_eq!(frame_of("23:59:59:00", 100, "00:00:00:00"), Ok(25));
        assert_eq!(frame_of("23:59:59:00", 100, "00:00:03:00"), Ok(100));
        assert!(frame_of("23:59:59:00", 100, "00:00:03:01").is_err());
        assert!(frame_of("23:59:59:00", 100, "23:59:58:24").is_err());
    }
}
