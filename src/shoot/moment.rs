use super::FaultKind;
use crate::timecode::{FrameIndex, FrameRate, Timecode, TimecodeError};
use std::fmt;

/// A place in a clip as it was written: a frame's number, or a timecode that only the clip's first timecode
/// turns into one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Moment {
    /// A frame from 0.
    Frame(FrameIndex),
    /// A timecode; it has the form of one, and has not been held against a rate.
    Timecode(String),
}

impl Moment {
    /// Reads a whole number, or a timecode where there is a `:`.
    pub(super) fn parse(text: &str) -> Result<Self, FaultKind> {
        let text = text.trim();
        if text.contains(':') {
            return has_timecode_form(text).map(|()| Self::Timecode(text.to_owned()));
        }
        if text.is_empty() {
            return Err(FaultKind::Empty { expected: "a frame or a timecode" });
        }
        if !text.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(FaultKind::NotAMoment { value: text.to_owned() });
        }
        let frame = text.parse().map_err(|_| FaultKind::NotWhole { value: text.to_owned() })?;
        Ok(Self::Frame(FrameIndex(frame)))
    }

    /// The frame, if it was written as one.
    #[must_use]
    pub const fn frame(&self) -> Option<FrameIndex> {
        match self {
            Self::Frame(frame) => Some(*frame),
            Self::Timecode(_) => None,
        }
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Frame(frame) => frame.fmt(f),
            Self::Timecode(text) => text.fmt(f),
        }
    }
}

/// Checks what can be checked of a timecode while its rate is not known: at the greatest rate there is, every
/// count of frames is allowed, and whether drop frame is cannot be told yet.
pub(super) fn has_timecode_form(text: &str) -> Result<(), FaultKind> {
    match Timecode::parse(text, FrameRate::new(1000, 1)?) {
        Ok(_) | Err(TimecodeError::NoDropFrame { .. }) => Ok(()),
        Err(fault) => Err(fault.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_is_digits_only_and_a_timecode_has_colons() {
        assert_eq!(Moment::parse(" 112 "), Ok(Moment::Frame(FrameIndex(112))));
        assert_eq!(
            Moment::parse("01:00:00;02"),
            Ok(Moment::Timecode("01:00:00;02".to_owned())),
            "whether drop frame is possible depends on the rate"
        );
        for text in
            ["", "-1", "+1", "1.5", "1e3", "0x10", "99999999999999999999", "1:2", "25:00:00:00"]
        {
            assert!(Moment::parse(text).is_err(), "{text}");
        }
    }
}
