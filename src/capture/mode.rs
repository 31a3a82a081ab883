use crate::{
    geometry::{InsideCrop, Orientation, QuarterTurn, Raster},
    lens::PossibleLenses,
    timecode::FrameRate,
};
use std::fmt;

/// One capture mode of a camera, as its manual states it.
#[derive(Debug, Clone, PartialEq)]
pub struct CaptureMode {
    /// The camera.
    pub camera: String,
    /// The mode, as its user calls it: `4:3 at 50`.
    pub name: String,
    /// The raster of its files, as they are stored.
    pub raster: Raster,
    /// How many frames it takes a second.
    pub rate: FrameRate,
    /// The bit rate of its files in Mb/s, if that is known.
    pub megabits_a_second: Option<f64>,
    /// What it crops before it writes a file.
    pub inside_crop: InsideCrop,
    /// What it sees through, without that crop; `None` if nothing is said.
    pub lens: Option<PossibleLenses>,
}

impl CaptureMode {
    /// Bits of the file for each px of each frame, if the bit rate is known.
    #[must_use]
    pub fn bits_per_px(&self) -> Option<f64> {
        let px_a_second = self.raster.width() * self.raster.height() * self.rate.per_second();
        Some(self.megabits_a_second? * 1e6 / px_a_second)
    }
}

impl fmt::Display for CaptureMode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.camera, self.name)
    }
}

/// Which way up a camera is mounted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum WayUp {
    /// As it stands on a table.
    Upright,
    /// Turned by a quarter; which way makes no difference to what it can deliver.
    OnItsSide,
}

impl WayUp {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Upright, Self::OnItsSide];

    /// How its pictures are then shown.
    #[must_use]
    pub const fn orientation(self) -> Orientation {
        let turn = match self {
            Self::Upright => QuarterTurn::None,
            Self::OnItsSide => QuarterTurn::Clockwise,
        };
        Orientation { turn, is_mirrored: false }
    }
}

impl fmt::Display for WayUp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Upright => "upright",
            Self::OnItsSide => "on its side",
        })
    }
}

/// How much slower than life a timeline can play what a mode takes, with every frame new.
///
/// ```
/// use lookroom::capture::SlowMotion;
/// let slow = SlowMotion::of("100".parse()?, "25".parse()?);
/// assert_eq!((slow.factor(), slow.slowest_percent(), slow.is_whole()), (4.0, 25.0, true));
/// # Ok::<(), lookroom::timecode::TimecodeError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SlowMotion {
    capture: FrameRate,
    timeline: FrameRate,
}

impl SlowMotion {
    /// What a capture rate gives on a timeline.
    #[must_use]
    pub const fn of(capture: FrameRate, timeline: FrameRate) -> Self {
        Self { capture, timeline }
    }

    /// Capture rate over timeline rate. Below 1 frames are shown twice even at real time.
    #[must_use]
    pub fn factor(&self) -> f64 {
        self.capture.per_second() / self.timeline.per_second()
    }

    /// The slowest playback at which every frame is new, in percent of real time.
    #[must_use]
    pub fn slowest_percent(&self) -> f64 {
        100.0 / self.factor()
    }

    /// Whether real time takes every so many-th frame evenly: where it does not, frames are dropped unevenly.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        let product = |a: u32, b: u32| u64::from(a) * u64::from(b);
        let capture = product(self.capture.frames(), self.timeline.seconds());
        let timeline = product(self.timeline.frames(), self.capture.seconds());
        capture % timeline == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_that_is_not_whole_is_told_from_one_that_is() {
        let slow = |capture: &str, timeline: &str| {
            SlowMotion::of(capture.parse().unwrap(), timeline.parse().unwrap())
        };
        assert!(slow("60000/1001", "30000/1001").is_whole());
        assert!(!slow("60", "25").is_whole());
        assert!(!slow("24", "25").is_whole());
        // 120 frames/s on a 24 frames/s timeline are five times slow motion.
        assert!((slow("120", "24").factor() - 5.0).abs() < 1e-12);
    }
}
