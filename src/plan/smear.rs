use super::px;
use crate::timecode::FrameIndex;
use serde::Serialize;

/// How much the subject smears where it is quickest: how far it moves while one frame is exposed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SmearNote {
    /// From which frame on it is quickest.
    pub frame: FrameIndex,
    /// How long each frame is exposed, in seconds.
    pub exposure_secs: f64,
    /// How far it moves in that time, px of the capture.
    pub source_px: f64,
    /// The same in delivered px.
    pub delivered_px: f64,
    /// The same as a share of the window's width.
    pub share: f64,
    /// The share above which it should be looked at; none is off.
    pub look_above: Option<f64>,
}

impl SmearNote {
    /// Whether it is worth a look.
    #[must_use]
    pub fn is_to_be_looked_at(&self) -> bool {
        self.look_above.is_some_and(|limit| self.share > limit)
    }

    /// All of it in words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "the subject smears by {} px of the capture at frame {} in {}: {} px delivered, {:.2} % of the window's width",
            px(self.source_px),
            self.frame,
            exposure_words(self.exposure_secs),
            px(self.delivered_px),
            100.0 * self.share
        )
    }
}

/// An exposure as it is written on a camera, where it is a whole part of a second.
fn exposure_words(secs: f64) -> String {
    let parts = 1.0 / secs;
    if parts >= 1.5 && (parts - parts.round()).abs() < 1e-6 * parts {
        format!("1/{parts:.0} s")
    } else {
        format!("{secs} s")
    }
}
