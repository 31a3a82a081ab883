use crate::{clip::FrameTimes, timecode::FrameRate};
use std::str::FromStr;

/// Beyond this a tick is no time stamp: 2^55 microseconds are a thousand years.
const GREATEST_TICK: u64 = 1 << 55;

/// How long a tick of a stream's time stamps is: `seconds / ticks`, as 1/1000 or 1/90000.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TimeBase {
    seconds: u32,
    ticks: u32,
}

impl TimeBase {
    pub(super) const fn parts(self) -> (u32, u32) {
        (self.seconds, self.ticks)
    }

    #[expect(clippy::cast_precision_loss, reason = "a stamp is far below 2^53 ticks")]
    pub(super) fn seconds(self, ticks: i64) -> f64 {
        ticks as f64 * f64::from(self.seconds) / f64::from(self.ticks)
    }

    #[expect(clippy::cast_precision_loss, reason = "shown rounded to a tenth of a millisecond")]
    fn milliseconds(self, ticks: i64) -> f64 {
        ticks as f64 * 1000.0 * f64::from(self.seconds) / f64::from(self.ticks)
    }
}

impl FromStr for TimeBase {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let (seconds, ticks) = text.split_once('/').ok_or(())?;
        let (seconds, ticks) = (seconds.parse().map_err(|_| ())?, ticks.parse().map_err(|_| ())?);
        if seconds == 0 || ticks == 0 { Err(()) } else { Ok(Self { seconds, ticks }) }
    }
}

/// The time stamps of the frames that are shown, gathered packet by packet.
#[derive(Debug, Default)]
pub(super) struct Stamps {
    /// In the order of the file, which is that of decoding.
    packets: Vec<Packet>,
    discarded_count: u64,
}

#[derive(Debug, Clone, Copy)]
struct Packet {
    presentation: Option<i64>,
    decoding: Option<i64>,
    duration: Option<i64>,
    bytes: u64,
    is_key: bool,
}

/// Why there is no constant rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum RateFault {
    /// The gaps between frames differ by more than the time stamps' rounding.
    Variable { smallest_gap_ms: f64, largest_gap_ms: f64 },
    /// Even gaps, at no rate that is read.
    OutOfRange { gap_ms: f64 },
    /// Even gaps, at this rate and not at the one that was given.
    NotAsGiven { found: FrameRate },
}

impl Stamps {
    /// Takes one line of `ffprobe -show_entries packet=pts,dts,duration,size,flags -of compact=p=0`:
    /// `pts=512|dts=0|duration=512|size=900|flags=K_`. A line without flags is no packet and is passed over; a
    /// packet that an edit list cuts off (`D`) counts as discarded.
    pub(super) fn take_line(&mut self, line: &str) {
        let field = |name: &str| {
            line.trim().split('|').find_map(|part| part.strip_prefix(name)?.strip_prefix('='))
        };
        let Some(flags) = field("flags") else { return };
        if flags.contains('D') {
            self.discarded_count += 1;
            return;
        }
        let tick = |name| {
            let tick = field(name)?.parse::<i64>().ok()?;
            (tick.unsigned_abs() < GREATEST_TICK).then_some(tick)
        };
        let (presentation, decoding) = (tick("pts"), tick("dts"));
        let bytes = field("size").and_then(|size| size.parse().ok()).unwrap_or(0);
        let (duration, is_key) = (tick("duration"), flags.contains('K'));
        self.packets.push(Packet { presentation, decoding, duration, bytes, is_key });
    }

    pub(super) fn shown_count(&self) -> u64 {
        self.packets.len() as u64
    }

    pub(super) const fn discarded_count(&self) -> u64 {
        self.discarded_count
    }

    /// How many bytes the frames that are shown take in the file.
    pub(super) fn shown_bytes(&self) -> u64 {
        self.packets.iter().map(|packet| packet.bytes).sum()
    }

    /// Whether decoding can begin with the first frame. A recording that was cut in the middle of a group of
    /// pictures begins with frames that cannot be shown.
    pub(super) fn begins_with_key(&self) -> bool {
        self.packets.first().is_some_and(|packet| packet.is_key)
    }

    /// The times at which frames are shown, in order: `None` unless each frame has one and no two the same.
    pub(super) fn shown(&self) -> Option<Ordered> {
        self.ordered(|packet| packet.presentation)
    }

    /// The times at which frames are decoded, which are as many and as far apart, on the same terms.
    pub(super) fn decoded(&self) -> Option<Ordered> {
        self.ordered(|packet| packet.decoding)
    }

    fn ordered(&self, tick: impl Fn(&Packet) -> Option<i64>) -> Option<Ordered> {
        let mut ticks: Vec<i64> = self.packets.iter().map(&tick).collect::<Option<_>>()?;
        // Packets come in the order of decoding.
        ticks.sort_unstable();
        let last = ticks.last().copied()?;
        let last_duration =
            self.packets.iter().find(|packet| tick(packet) == Some(last)).and_then(|p| p.duration);
        ticks.windows(2).all(|pair| pair[0] < pair[1]).then_some(Ordered { ticks, last_duration })
    }

    /// Leaves out what cannot be shown where a file breaks off: frames that are there and whose predecessors
    /// are not. Every frame that is lost would have been decoded after the last one that is there, and is
    /// shown no earlier than it is decoded: what is shown before that is whole. Beyond, frames are kept as
    /// long as none is missing between them.
    ///
    /// Whether anything was left out.
    pub(super) fn cut_where_it_breaks_off(&mut self) -> bool {
        let (Some(shown), Some(last_decoded)) =
            (self.shown(), self.packets.iter().filter_map(|packet| packet.decoding).max())
        else {
            return false;
        };
        let mut gaps: Vec<i64> = shown.ticks.windows(2).map(|pair| pair[1] - pair[0]).collect();
        gaps.sort_unstable();
        let Some(&usual) = gaps.get(gaps.len() / 2) else { return false };
        let first_lost = shown.ticks.windows(2).find_map(|pair| {
            (pair[1] > last_decoded && 2 * (pair[1] - pair[0]) > 3 * usual).then_some(pair[1])
        });
        if let Some(first_lost) = first_lost {
            self.packets.retain(|packet| packet.presentation.is_some_and(|tick| tick < first_lost));
        }
        first_lost.is_some()
    }
}

/// Time stamps in order, each later than the one before.
#[derive(Debug)]
pub(super) struct Ordered {
    ticks: Vec<i64>,
    /// How long the last frame stays, if the file says so.
    last_duration: Option<i64>,
}

impl Ordered {
    /// Stamps that were read one by one from decoded frames; `None` unless each is later than the one before.
    pub(super) fn of_frames(ticks: Vec<i64>) -> Option<Self> {
        let rises = ticks.windows(2).all(|pair| pair[0] < pair[1]);
        (rises && !ticks.is_empty()).then_some(Self { ticks, last_duration: None })
    }

    pub(super) fn ticks(&self) -> &[i64] {
        &self.ticks
    }

    /// These stamps as a clip's own. The last frame stays as long as the file says, or else as the one before.
    pub(super) fn times(&self, base: TimeBase) -> Option<FrameTimes> {
        let before = self.ticks.windows(2).last().map(|pair| pair[1] - pair[0]);
        let stays = self.last_duration.filter(|duration| *duration > 0).or(before)?;
        FrameTimes::new(base.parts(), self.ticks.clone(), stays)
    }

    /// From the first stamp to the last.
    fn span(&self) -> u64 {
        match (self.ticks.first(), self.ticks.last()) {
            (Some(first), Some(last)) => last.abs_diff(*first),
            _ => 0,
        }
    }

    const fn gap_count(&self) -> u128 {
        self.ticks.len().saturating_sub(1) as u128
    }

    /// The rate that every stamp agrees with: the given one if it fits, else the first fitting of those
    /// that the file declares, else that of the gaps. A rate that differs from a known one by no more than
    /// rounding ([`SAME_RATE`]) is that one.
    pub(super) fn constant_rate(
        &self,
        base: TimeBase,
        given: Option<FrameRate>,
        declared: &[FrameRate],
    ) -> Result<FrameRate, RateFault> {
        if self.ticks.len() < 2 {
            return lone_frame_rate(given, declared);
        }
        if let Some(given) = given.filter(|given| self.fits(*given, base)) {
            return Ok(given);
        }
        let fitting = declared.iter().copied().find(|rate| self.fits(*rate, base));
        let found = match fitting {
            Some(rate) => known_near(rate.per_second(), given, declared).unwrap_or(rate),
            None => self.rate_of_gaps(base, given, declared)?,
        };
        if given.is_some_and(|given| given != found) {
            return Err(RateFault::NotAsGiven { found });
        }
        Ok(found)
    }

    /// Whether each stamp is within one tick of where the rate puts it, from the first. Stamps are rounded
    /// to ticks, the first as well as the others, so that an exact rate is off by up to one tick; and no
    /// error adds up over the clip.
    fn fits(&self, rate: FrameRate, base: TimeBase) -> bool {
        let Some(&first) = self.ticks.first() else { return false };
        // In units of 1 / (base.ticks * rate.frames) s, a tick and a frame are whole numbers.
        let tick = i128::from(base.seconds) * i128::from(rate.frames());
        let frame = i128::from(rate.seconds()) * i128::from(base.ticks);
        (0_i128..).zip(&self.ticks).all(|(number, &stamp)| {
            let since_first = (i128::from(stamp) - i128::from(first)) * tick;
            (since_first - number * frame).abs() <= tick
        })
    }

    /// The rate of gaps that are all equal, or all within a tick of those of a known rate.
    fn rate_of_gaps(
        &self,
        base: TimeBase,
        given: Option<FrameRate>,
        declared: &[FrameRate],
    ) -> Result<FrameRate, RateFault> {
        let (smallest, largest) = self.extreme_gaps();
        let variable = RateFault::Variable {
            smallest_gap_ms: base.milliseconds(smallest),
            largest_gap_ms: base.milliseconds(largest),
        };
        if largest - smallest > 2 || !self.is_straight() {
            return Err(variable);
        }
        if let Some(known) = known_near(self.mean_rate(base), given, declared) {
            return Ok(known);
        }
        if smallest != largest {
            return Err(variable);
        }
        let seconds = u32::try_from(smallest).ok().and_then(|gap| gap.checked_mul(base.seconds));
        seconds
            .and_then(|seconds| FrameRate::new(base.ticks, seconds).ok())
            .ok_or_else(|| RateFault::OutOfRange { gap_ms: base.milliseconds(smallest) })
    }

    fn extreme_gaps(&self) -> (i64, i64) {
        let gaps = self.ticks.windows(2).filter_map(|pair| match pair {
            [before, after] => Some(after - before),
            _ => None,
        });
        gaps.fold((i64::MAX, 0), |(least, most), gap| (least.min(gap), most.max(gap)))
    }

    /// Whether each stamp is within a quarter of a frame of the straight line from the first to the last,
    /// so that no error of the rate adds up.
    fn is_straight(&self) -> bool {
        let Some(&first) = self.ticks.first() else { return false };
        let (span, gap_count) = (u128::from(self.span()), self.gap_count());
        (0_u128..).zip(&self.ticks).all(|(number, stamp)| {
            let since_first = u128::from(stamp.abs_diff(first)) * gap_count;
            4 * since_first.abs_diff(number * span) <= span
        })
    }

    #[expect(clippy::cast_precision_loss, reason = "compared at parts per million")]
    fn mean_rate(&self, base: TimeBase) -> f64 {
        let seconds = self.span() as f64 * f64::from(base.seconds) / f64::from(base.ticks);
        self.gap_count() as f64 / seconds
    }
}

/// Two rates that differ by less are one, rounded differently: 24 frames/s in whole microseconds is off by
/// 16 millionths. Any two rates that cameras have are 1000 millionths apart. Our choice: a twentieth of
/// that.
const SAME_RATE: f64 = 50e-6;

/// The known rate beside a measured one: the given one, a whole
/// number, 1000/1001 of it, or a declared one.
fn known_near(
    per_second: f64,
    given: Option<FrameRate>,
    declared: &[FrameRate],
) -> Option<FrameRate> {
    let is_near = |rate: &FrameRate| (rate.per_second() / per_second - 1.0).abs() < SAME_RATE;
    let whole = (1..=1000).flat_map(|frames| {
        [FrameRate::new(frames, 1), FrameRate::new(frames * 1000, 1001)].into_iter().flatten()
    });
    // A declared rate is often the measured one in another spelling, so that it comes last.
    let candidates = given.into_iter().chain(whole).chain(declared.iter().copied());
    candidates.into_iter().find(is_near)
}

/// One frame has no gaps; what the file declares is all there is.
fn lone_frame_rate(
    given: Option<FrameRate>,
    declared: &[FrameRate],
) -> Result<FrameRate, RateFault> {
    match (given, declared.first().copied()) {
        (Some(given), Some(found)) if !declared.contains(&given) => {
            Err(RateFault::NotAsGiven { found })
        }
        (Some(rate), _) | (None, Some(rate)) => Ok(rate),
        (None, None) => Err(RateFault::OutOfRange { gap_ms: 0.0 }),
    }
}

#[cfg(test)]
mod tests;
