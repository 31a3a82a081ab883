//! From real numbers to whole ones, in one place.

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "what is below zero or no number is 0, and what is too large the largest there is"
)]
pub(super) const fn floor(value: f64) -> usize {
    value as usize
}

/// The same of the numbers that pictures are made of.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "what is below zero or no number is 0, and what is too large the largest there is"
)]
pub(super) const fn floor_px(value: f32) -> usize {
    value as usize
}

/// A real number as precise as pictures need it.
#[expect(clippy::cast_possible_truncation, reason = "less precision is what is asked for")]
pub(super) const fn single(value: f64) -> f32 {
    value as f32
}

/// How far a frame is behind another; both lie in one range that is held in memory.
pub(super) fn offset(
    first: crate::timecode::FrameIndex,
    frame: crate::timecode::FrameIndex,
) -> usize {
    usize::try_from(frame.0 - first.0).expect("frames that are held in memory can be counted")
}
