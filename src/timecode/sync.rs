use super::{FrameIndex, TimecodeError};
use serde::Serialize;

/// A moment that two recordings share: the frame of each on which a clap is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Clap {
    /// The frame of the first recording.
    pub first: FrameIndex,
    /// The frame of the second.
    pub second: FrameIndex,
}

impl Clap {
    /// By how many frames the second recording counts further here; below 0 it counts less.
    fn offset(self) -> i128 {
        i128::from(self.second.0) - i128::from(self.first.0)
    }
}

/// How the frames of two recordings at the same rate stand to each other, from a clap at the start and perhaps one
/// at the end.
///
/// Between the claps, and beyond them, the offset changes evenly: R = L + o₀ + (o₁ − o₀)(L − L₀)/(L₁ − L₀), in
/// whole-number arithmetic.
///
/// ```
/// use lookroom::timecode::{Clap, FrameIndex, Sync};
/// let clap = |first, second| Clap { first: FrameIndex(first), second: FrameIndex(second) };
/// let sync = Sync::new(clap(412, 655), Some(clap(90_412, 90_652)))?;
/// assert_eq!(sync.matching(FrameIndex(45_412))?.second_frame, 45_653.5);
/// # Ok::<(), lookroom::timecode::TimecodeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sync {
    start: Clap,
    end: Option<Clap>,
}

/// Where a frame of the first recording lies in the second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Matching {
    /// The frame of the first recording.
    pub first_frame: FrameIndex,
    /// Where it lies in the second, as a real number; below 0 that had not begun.
    pub second_frame: f64,
    /// The whole frames on either side, the same twice where it is one.
    pub neighbours: [i64; 2],
    /// How far the nearest of them is off, in frames: at most half of one, and then both are as near.
    pub residual_frames: f64,
}

impl Sync {
    /// The greatest frame number that is reckoned with: beyond it a real number no longer holds whole ones.
    pub const GREATEST_FRAME: u64 = 1 << 53;
    /// The greatest drift that is taken for one, in parts in a million: a choice. Clocks differ by tens, and rates of
    /// 24 and 24000/1001 frames/s by 999.
    pub const GREATEST_DRIFT_PPM: f64 = 10_000.0;

    /// A sync from one clap or two.
    ///
    /// # Errors
    /// [`TimecodeError::FrameTooLarge`], [`TimecodeError::ClapsOutOfOrder`] if the end clap does not come later in
    /// both recordings, and [`TimecodeError::DriftTooLarge`].
    pub fn new(start: Clap, end: Option<Clap>) -> Result<Self, TimecodeError> {
        for clap in [Some(start), end].into_iter().flatten() {
            reckoned_with(clap.first)?;
            reckoned_with(clap.second)?;
        }
        if let Some(end) = end.filter(|end| end.first <= start.first || end.second <= start.second)
        {
            return Err(TimecodeError::ClapsOutOfOrder {
                start: (start.first, start.second),
                end: (end.first, end.second),
            });
        }
        let sync = Self { start, end };
        let greatest = Self::GREATEST_DRIFT_PPM;
        match sync.drift_ppm().filter(|ppm| ppm.abs() > greatest) {
            Some(ppm) => Err(TimecodeError::DriftTooLarge { ppm, greatest }),
            None => Ok(sync),
        }
    }

    /// By how many frames the second recording counts further at the start clap.
    #[must_use]
    pub fn offset(&self) -> i64 {
        whole(self.start.offset())
    }

    /// The same at the end clap, if there is one.
    #[must_use]
    pub fn end_offset(&self) -> Option<i64> {
        self.end.map(|end| whole(end.offset()))
    }

    /// How many frames more the second recording counts for a million of the first, below 0 how many fewer: how
    /// much faster its clock runs. `None` from one clap.
    #[must_use]
    pub fn drift_ppm(&self) -> Option<f64> {
        let (change, span) = self.change()?;
        Some(1e6 * real(change) / real(span))
    }

    /// By how much the drift changes if one of the claps is a frame off, in parts in a million.
    #[must_use]
    pub fn drift_of_a_frame_ppm(&self) -> Option<f64> {
        self.change().map(|(_, span)| 1e6 / real(span))
    }

    /// Where a frame of the first recording lies in the second; beyond the claps the drift goes on. From one clap no
    /// drift is reckoned with.
    ///
    /// # Errors
    /// [`TimecodeError::FrameTooLarge`].
    pub fn matching(&self, first: FrameIndex) -> Result<Matching, TimecodeError> {
        reckoned_with(first)?;
        let (change, span) = self.change().unwrap_or((0, 1));
        let since = i128::from(first.0) - i128::from(self.start.first.0);
        // In parts of a frame, of which there are `span`: no rounding before the end.
        let parts = (i128::from(first.0) + self.start.offset()) * span + change * since;
        let (below, rest) = (parts.div_euclid(span), parts.rem_euclid(span));
        let past = real(rest) / real(span);
        Ok(Matching {
            first_frame: first,
            second_frame: real(below) + past,
            neighbours: [whole(below), whole(below + i128::from(rest > 0))],
            residual_frames: if past <= 0.5 { past } else { past - 1.0 },
        })
    }

    /// The change of the offset from clap to clap, and the frames of the first recording between them.
    fn change(&self) -> Option<(i128, i128)> {
        let end = self.end?;
        let span = i128::from(end.first.0) - i128::from(self.start.first.0);
        Some((end.offset() - self.start.offset(), span))
    }
}

const fn reckoned_with(frame: FrameIndex) -> Result<(), TimecodeError> {
    if frame.0 > Sync::GREATEST_FRAME {
        return Err(TimecodeError::FrameTooLarge { frame, greatest: Sync::GREATEST_FRAME });
    }
    Ok(())
}

/// A difference of frames that are reckoned with.
fn whole(frames: i128) -> i64 {
    i64::try_from(frames).unwrap_or(i64::MAX)
}

#[expect(
    clippy::cast_precision_loss,
    reason = "frames that are reckoned with are below 2^53, or their sum is rounded"
)]
const fn real(frames: i128) -> f64 {
    frames as f64
}

/// How fast sound is in dry air at 20 °C, m/s, rounded (from memory; 331.3 √(1 + 20 / 273.15) is 343.2). In the
/// cold it is slower: 325 at −10 °C.
pub const SPEED_OF_SOUND_M_PER_SEC: f64 = 343.0;

/// How much later a clap is heard than it is seen from so many metres away, in seconds.
#[must_use]
pub fn sound_delay_secs(distance_m: f64) -> f64 {
    distance_m / SPEED_OF_SOUND_M_PER_SEC
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clap(first: u64, second: u64) -> Clap {
        Clap { first: FrameIndex(first), second: FrameIndex(second) }
    }

    /// T10 of the trade study: 243 at the first clap, 240 at the second, 90,000 frames between.
    fn t10() -> Sync {
        Sync::new(clap(412, 655), Some(clap(90_412, 90_652))).unwrap()
    }

    #[test]
    fn offsets_drift_and_the_matching_frame() {
        let sync = t10();
        assert_eq!((sync.offset(), sync.end_offset()), (243, Some(240)));
        // By hand: -3 / 90000 and 1 / 90000.
        assert!((sync.drift_ppm().unwrap() + 100.0 / 3.0).abs() < 1e-9);
        assert!((sync.drift_of_a_frame_ppm().unwrap() - 100.0 / 9.0).abs() < 1e-9);
        let matching = sync.matching(FrameIndex(45_412)).unwrap();
        assert_eq!(matching.second_frame, 45_653.5);
        assert_eq!((matching.neighbours, matching.residual_frames), ([45_653, 45_654], 0.5));
    }

    #[test]
    fn claps_match_themselves_and_the_drift_goes_on_beyond_them() {
        let sync = t10();
        let at = |frame| sync.matching(FrameIndex(frame)).unwrap();
        assert_eq!((at(412).second_frame, at(412).neighbours), (655.0, [655, 655]));
        assert_eq!(at(90_412).second_frame, 90_652.0);
        // 30,000 frames are one frame of drift.
        assert_eq!(at(120_412).second_frame, 120_651.0);
        let past = at(0).second_frame - 243.0;
        assert!((past - 412.0 / 30_000.0).abs() < 1e-9);
        let later = at(22_912);
        // A quarter of the way: 23155 - 0.75, and the nearest frame is the lower one.
        assert_eq!((later.second_frame, later.residual_frames), (23_154.25, 0.25));
        assert_eq!((at(67_912).second_frame, at(67_912).residual_frames), (68_152.75, -0.25));
    }

    #[test]
    fn one_clap_is_an_offset_without_a_drift() {
        let sync = Sync::new(clap(500, 20), None).unwrap();
        assert_eq!((sync.offset(), sync.end_offset(), sync.drift_ppm()), (-480, None, None));
        let before = sync.matching(FrameIndex(100)).unwrap();
        assert_eq!((before.second_frame, before.neighbours), (-380.0, [-380, -380]));
    }

    #[test]
    fn claps_that_make_no_sync_are_refused() {
        for end in [clap(412, 700), clap(400, 700), clap(500, 655), clap(500, 600)] {
            let error = Sync::new(clap(412, 655), Some(end)).unwrap_err();
            assert!(matches!(error, TimecodeError::ClapsOutOfOrder { .. }), "{error}");
        }
        let error = Sync::new(clap(0, 0), Some(clap(1000, 1011))).unwrap_err();
        assert!(matches!(error, TimecodeError::DriftTooLarge { .. }), "{error}");
        let huge = Sync::GREATEST_FRAME + 1;
        assert!(Sync::new(clap(huge, 0), None).is_err());
        assert!(t10().matching(FrameIndex(u64::MAX)).is_err());
        let most = Sync::new(clap(0, 0), Some(clap(huge - 1, huge - 1))).unwrap();
        assert!(most.matching(FrameIndex(huge - 1)).is_ok());
    }

    /// 24 frames/s against 24000/1001: 1000 / 1001 of the frames, 999 ppm fewer.
    #[test]
    fn two_rates_that_are_taken_for_one_show_as_a_drift() {
        let sync = Sync::new(clap(0, 0), Some(clap(1_001_000, 1_000_000))).unwrap();
        assert!((sync.drift_ppm().unwrap() + 999.0).abs() < 0.01);
    }
}
