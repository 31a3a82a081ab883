use super::stamps::TimeBase;
use crate::timecode::FrameIndex;
use std::{collections::BTreeSet, fmt::Write as _, sync::Arc};

/// The most runs that one expression names. The decoder's parser gives up somewhere above 100 terms (1,000
/// failed with version 5.1); two thirds of that leave room for other versions.
const GREATEST_RUN_COUNT: usize = 64;

/// Frames that lie this far apart are fetched by two readings, each begun near its frames: starting a reader
/// and decoding from the picture it can begin at costs about as much as these many frames. Our choice.
const FAR_APART: u64 = 300;

/// So many frames may be decoded before one that is shown earlier.
const MOST_REORDERED: usize = 16;

/// How a frame is told from others in what the decoder returns.
#[derive(Debug, Clone)]
pub(super) enum Address {
    /// By its time stamp, in ticks of the stream; one a frame, in order.
    Stamps { ticks: Arc<Vec<i64>>, base: TimeBase },
    /// By its count among all that are decoded, for streams without stamps that could be trusted.
    Counts,
}

/// Which frames one reading asks the decoder for: those that are wanted, in runs, and few others.
///
/// Where there are too many runs, the shortest gaps between them are asked for as well and left out on
/// arrival: frames on a pipe cost far less than decoding a clip a second time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Selection {
    /// First and last frame of each run, both inside; in order and apart.
    runs: Vec<(u64, u64)>,
}

impl Selection {
    /// The readings that fetch the wanted frames, in order.
    pub(super) fn readings(wanted: &BTreeSet<FrameIndex>) -> Vec<Self> {
        let mut readings: Vec<Vec<(u64, u64)>> = Vec::new();
        for &FrameIndex(frame) in wanted {
            let before = readings.last().and_then(|runs| runs.last()).map(|run| run.1);
            match (before, readings.last_mut()) {
                (Some(before), Some(runs)) if frame - before <= FAR_APART => extend(runs, frame),
                _ => readings.push(vec![(frame, frame)]),
            }
        }
        readings.into_iter().map(|runs| Self { runs: bridged(runs) }).collect()
    }

    /// The one reading of frames that follow on each other.
    pub(super) fn of_run(first: FrameIndex, last: FrameIndex) -> Self {
        Self { runs: vec![(first.0, last.0)] }
    }

    /// The first frame that is asked for.
    pub(super) fn first(&self) -> FrameIndex {
        FrameIndex(self.runs.first().map_or(0, |run| run.0))
    }

    /// How many frames are asked for.
    pub(super) fn frame_count(&self) -> u64 {
        self.runs.iter().map(|(first, last)| last - first + 1).sum()
    }

    /// The frames that are asked for, in order.
    pub(super) fn frames(&self) -> impl Iterator<Item = FrameIndex> + use<> {
        self.runs.clone().into_iter().flat_map(|(first, last)| (first..=last).map(FrameIndex))
    }

    /// Where a reader may begin, in seconds on the file's own clock; `None` where it has to begin at the beginning.
    ///
    /// An index goes by the time of decoding, and up to 16 frames (the most that a decoder has to keep in
    /// H.264, A.3.1, and HEVC, A.4.2; from memory) are decoded before one that is shown earlier. The picture
    /// that is entered at has to be as many frames ahead, so that what is wanted does not lean on pictures
    /// before it.
    pub(super) fn begin_secs(&self, address: &Address) -> Option<f64> {
        let Address::Stamps { ticks, base } = address else { return None };
        let first = usize::try_from(self.first().0).ok()?;
        if self.first().0 < FAR_APART {
            return None;
        }
        let ahead = first.checked_sub(MOST_REORDERED)?;
        let (before, at) = (*ticks.get(ahead.checked_sub(1)?)?, *ticks.get(ahead)?);
        Some(f64::midpoint(base.seconds(before), base.seconds(at)))
    }

    /// The `select` filter that passes them on.
    pub(super) fn filter(&self, address: &Address) -> String {
        let tick_of = |frame: u64| match address {
            Address::Counts => i64::try_from(frame).unwrap_or(i64::MAX),
            Address::Stamps { ticks, .. } => usize::try_from(frame)
                .ok()
                .and_then(|place| ticks.get(place).copied())
                .unwrap_or(i64::MAX),
        };
        let variable = if matches!(address, Address::Counts) { "n" } else { "pts" };
        let mut terms = String::new();
        for &(first, last) in &self.runs {
            let plus = if terms.is_empty() { "" } else { "+" };
            // Writing to a string does not fail.
            let _ = if first == last {
                write!(terms, "{plus}eq({variable},{})", tick_of(first))
            } else {
                write!(terms, "{plus}between({variable},{},{})", tick_of(first), tick_of(last))
            };
        }
        format!("select='{terms}'")
    }
}

/// Takes one more frame into the last run, or begins another.
fn extend(runs: &mut Vec<(u64, u64)>, frame: u64) {
    match runs.last_mut() {
        Some((_, last)) if *last + 1 == frame => *last = frame,
        _ => runs.push((frame, frame)),
    }
}

/// The runs, the closest of them joined until there are few enough.
fn bridged(runs: Vec<(u64, u64)>) -> Vec<(u64, u64)> {
    let surplus = runs.len().saturating_sub(GREATEST_RUN_COUNT);
    if surplus == 0 {
        return runs;
    }
    let mut gaps: Vec<(u64, usize)> = runs
        .windows(2)
        .enumerate()
        .filter_map(|(place, pair)| match pair {
            [(_, before), (after, _)] => Some((after - before, place + 1)),
            _ => None,
        })
        .collect();
    gaps.sort_unstable();
    let closed: BTreeSet<usize> = gaps.into_iter().take(surplus).map(|(_, place)| place).collect();
    let mut joined: Vec<(u64, u64)> = Vec::with_capacity(GREATEST_RUN_COUNT);
    for (place, (first, last)) in runs.into_iter().enumerate() {
        match joined.last_mut() {
            Some(run) if closed.contains(&place) => run.1 = last,
            _ => joined.push((first, last)),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(frames: impl IntoIterator<Item = u64>) -> Vec<Selection> {
        Selection::readings(&frames.into_iter().map(FrameIndex).collect())
    }

    fn every_third_tick(count: i64) -> Address {
        let base = "1/90000".parse().unwrap();
        Address::Stamps { ticks: Arc::new((0..count).map(|n| 7 + 3 * n).collect()), base }
    }

    #[test]
    fn neighbours_form_a_run() {
        let selection = readings([3, 4, 5, 9]).remove(0);
        assert_eq!(
            selection.filter(&every_third_tick(10)),
            "select='between(pts,16,22)+eq(pts,34)'"
        );
        assert_eq!(selection.filter(&Address::Counts), "select='between(n,3,5)+eq(n,9)'");
        assert_eq!((selection.first(), selection.frame_count()), (FrameIndex(3), 4));
    }

    #[test]
    fn too_many_runs_are_joined_across_their_shortest_gaps() {
        let wanted: Vec<u64> = (0..200).map(|n| n * 10).chain([2001]).collect();
        let [selection] = readings(wanted.iter().copied()).try_into().unwrap();
        assert_eq!(selection.runs.len(), GREATEST_RUN_COUNT);
        let asked: BTreeSet<u64> = selection.frames().map(|frame| frame.0).collect();
        assert!(wanted.iter().all(|frame| asked.contains(frame)));
        assert_eq!(asked.len() as u64, selection.frame_count());
        // 200 gaps, of which 137 are closed at nine further frames each.
        assert_eq!(selection.frame_count(), 201 + 137 * 9);
    }

    #[test]
    fn frames_far_apart_are_fetched_by_readings_of_their_own() {
        let address = every_third_tick(5000);
        let found = readings([0, 200, 4000, 4001]);
        let firsts: Vec<u64> = found.iter().map(|reading| reading.first().0).collect();
        assert_eq!(firsts, [0, 4000]);
        assert_eq!(found[0].begin_secs(&address), None);
        let (before, at) = (7.0 + 3.0 * 3983.0, 7.0 + 3.0 * 3984.0);
        let begin = found[1].begin_secs(&address).unwrap();
        assert!((begin - (before + at) / 2.0 / 90_000.0).abs() < 1e-12, "{begin}");
        assert_eq!(found[1].begin_secs(&Address::Counts), None);
    }
}
