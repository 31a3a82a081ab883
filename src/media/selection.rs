use super::stamps::Clock;
use crate::timecode::FrameIndex;
use std::{collections::BTreeSet, fmt::Write as _};

/// The most runs that one expression names. The decoder's parser gives up somewhere above 100 terms (1,000
/// failed with version 5.1); two thirds of that leave room for other versions.
const GREATEST_RUN_COUNT: usize = 64;

/// Which frames the decoder is asked for: those that are wanted, in runs, and few others.
///
/// Where there are too many runs, the shortest gaps between them are asked for as well and left out on
/// arrival: frames on a pipe cost far less than decoding a clip a second time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Selection {
    /// First and last frame of each run, both inside; in order and apart.
    runs: Vec<(u64, u64)>,
}

impl Selection {
    pub(super) fn of(wanted: &BTreeSet<FrameIndex>) -> Self {
        let mut runs: Vec<(u64, u64)> = Vec::new();
        for &FrameIndex(frame) in wanted {
            match runs.last_mut() {
                Some((_, last)) if *last + 1 == frame => *last = frame,
                _ => runs.push((frame, frame)),
            }
        }
        Self { runs: bridged(runs) }
    }

    /// How many frames are asked for.
    pub(super) fn frame_count(&self) -> u64 {
        self.runs.iter().map(|(first, last)| last - first + 1).sum()
    }

    /// The frames that are asked for, in order.
    pub(super) fn frames(&self) -> impl Iterator<Item = FrameIndex> {
        self.runs.iter().flat_map(|&(first, last)| (first..=last).map(FrameIndex))
    }

    /// The `select` filter that passes them on.
    ///
    /// A frame passes by its count among those decoded, and only if it is shown when a frame of that number
    /// should be. A decoder that drops a damaged frame shifts the count of all later ones; none of these
    /// passes then, so that no picture is ever taken for its neighbour.
    pub(super) fn filter(&self, clock: &Clock) -> String {
        let mut terms = String::new();
        for &(first, last) in &self.runs {
            let plus = if terms.is_empty() { "" } else { "+" };
            // Writing to a string does not fail.
            let _ = if first == last {
                write!(terms, "{plus}eq(n,{first})")
            } else {
                write!(terms, "{plus}between(n,{first},{last})")
            };
        }
        format!("select='({terms})*lt(abs({}-n),0.5)'", clock.number_shown_at_t())
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

    fn selection(frames: impl IntoIterator<Item = u64>) -> Selection {
        Selection::of(&frames.into_iter().map(FrameIndex).collect())
    }

    #[test]
    fn neighbours_form_a_run() {
        let clock = Clock::of_rate(crate::timecode::FrameRate::new(30_000, 1001).unwrap());
        assert_eq!(
            selection([3, 4, 5, 9]).filter(&clock),
            "select='(between(n,3,5)+eq(n,9))*lt(abs((t-(start_t))*30000/1001-n),0.5)'"
        );
    }

    #[test]
    fn too_many_runs_are_joined_across_their_shortest_gaps() {
        let wanted: Vec<u64> = (0..200).map(|n| n * 10).chain([2001]).collect();
        let selection = selection(wanted.iter().copied());
        assert_eq!(selection.runs.len(), GREATEST_RUN_COUNT);
        let asked: BTreeSet<u64> = selection.frames().map(|frame| frame.0).collect();
        assert!(wanted.iter().all(|frame| asked.contains(frame)));
        assert_eq!(asked.len() as u64, selection.frame_count());
        // 200 gaps, of which 137 are closed at nine further frames each.
        assert_eq!(selection.frame_count(), 201 + 137 * 9);
    }
}
