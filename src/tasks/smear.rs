//! How far a subject moves across the picture while one frame is exposed: its blur, which a window that follows would
//! hold still in the middle of the frame.

use super::decide::Case;
use crate::{
    delivery::Limit,
    geometry::Window,
    pan::{Request, Smear},
    plan::SmearNote,
    shoot::ResolvedClip,
    subject::{Track, Wish},
    timecode::{FrameIndex, FrameRange},
};

/// Speeds are taken over so many frames, so that what marks are off by a px or two is not blur. Chosen.
const OVER_FRAMES: u64 = 4;

impl Case<'_> {
    /// What is said of the smear on a path.
    pub(super) fn smear_note(
        &self,
        request: &Request,
        used: FrameRange,
        windows: &[Window],
    ) -> Option<SmearNote> {
        let (smear, exposure_secs) = (request.smear?, self.prepared.resolved.exposure_secs?);
        let width = windows.get(smear.index)?.width();
        Some(SmearNote {
            frame: used.frame_at(smear.index),
            exposure_secs,
            source_px: smear.px,
            delivered_px: smear.px * self.deliverable.raster.width() / width,
            share: smear.px / width,
            look_above: self.limits.value(Limit::BlurLook),
        })
    }
}

/// The most that a subject smears on the used frames; `None` if no exposure is known or nothing moves on. `hold_above`
/// is the limit that comes with it.
pub(super) fn most(
    resolved: &ResolvedClip,
    tracks: &[Track],
    used: FrameRange,
    hold_above: Option<f64>,
) -> Option<Smear> {
    let exposure_secs = resolved.exposure_secs?;
    let timing = &resolved.clip.facts.timing;
    let over = OVER_FRAMES.min(used.last().0 - used.first().0).max(1);
    let subjects = tracks.iter().filter(|track| track.wish() == Wish::Subject);
    let smear = |track: &Track, from: FrameIndex| {
        let to = FrameIndex(from.0 + over);
        let tracked = (from.0..=to.0).all(|frame| track.at(FrameIndex(frame)).is_some());
        let (a, b) = (track.at(from)?.region.centre(), track.at(to)?.region.centre());
        let secs = timing.seconds_at(to) - timing.seconds_at(from);
        let px = (b.x - a.x).hypot(b.y - a.y) / secs * exposure_secs;
        let index = usize::try_from(from.0 - used.first().0).ok()?;
        (tracked && used.contains(to) && px > 0.0).then_some(Smear { index, px, hold_above })
    };
    subjects.flat_map(|track| used.frames().filter_map(move |frame| smear(track, frame))).fold(
        None,
        |most: Option<Smear>, next| match most {
            Some(most) if most.px >= next.px - 1e-9 => Some(most),
            _ => Some(next),
        },
    )
}
