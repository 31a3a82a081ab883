use serde::{Deserialize, Serialize};
use std::fmt;

/// Which way a subject goes across, as far as it goes any way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Heading {
    /// To the left of the picture.
    Left,
    /// To the right of it.
    Right,
    /// It hardly moves, or it is not known where to.
    #[default]
    Nowhere,
}

impl Heading {
    /// 1 to the right, -1 to the left, 0 nowhere.
    #[must_use]
    pub const fn sign(self) -> f64 {
        match self {
            Self::Left => -1.0,
            Self::Right => 1.0,
            Self::Nowhere => 0.0,
        }
    }
}

impl fmt::Display for Heading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Nowhere => "nowhere",
        })
    }
}

/// Where a subject is on its way across at a moment at which it is tracked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waypoint {
    /// When, in seconds of timeline.
    pub secs: f64,
    /// How far right, in window widths from anywhere.
    pub widths: f64,
    /// Points of one leg are measured from the same place. Between two legs nothing is known of its way.
    pub leg: usize,
}

/// When a way is a heading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadingRules {
    /// What is slower hardly moves, in window widths a second of timeline.
    pub least_widths_per_sec: f64,
    /// Over how many seconds of timeline a way is measured, and how long a heading lasts at least. Above 0.
    pub least_secs: f64,
}

/// Which way a subject goes at each moment of a run, so that whoever turns back for a moment keeps the heading.
///
/// The way over `least_secs` about a moment decides: right or left where it is fast enough, nowhere where all of
/// it is too short for that, and undecided where it comes back on itself. A heading that does not last for `least_secs` is
/// none. A change lies half-way between the last moment of one heading and the first of the next.
///
/// ```
/// use lookroom::subject::{Heading, HeadingRules, Headings, Waypoint};
/// // A tenth of a width a second to the right for 5 s, then back.
/// let widths = |secs: f64| 0.1 * (5.0 - (secs - 5.0).abs());
/// let secs = (0..=100).map(|place| f64::from(place) / 10.0);
/// let way: Vec<Waypoint> =
///     secs.map(|secs| Waypoint { secs, widths: widths(secs), leg: 0 }).collect();
/// let rules = HeadingRules { least_widths_per_sec: 0.05, least_secs: 2.0 };
/// let headings = Headings::of(&way, &rules);
/// assert_eq!([1.0, 4.9, 5.1, 9.0].map(|secs| headings.at(secs)),
///     [Heading::Right, Heading::Right, Heading::Left, Heading::Left]);
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Headings {
    first: Heading,
    /// From when on there is another, in order.
    changes: Vec<(f64, Heading)>,
}

impl Headings {
    /// How long a lean takes from one heading to the next, in seconds of timeline. Chosen: half of the two seconds
    /// that common practice leaves between changes of direction, so that it comes to rest before the next.
    pub const TURN_SECS: f64 = 1.0;

    /// The headings of a way, its points in the order of time.
    #[must_use]
    pub fn of(way: &[Waypoint], rules: &HeadingRules) -> Self {
        let stretches = lasting(decided_stretches(way, rules), way, rules.least_secs);
        let change = |pair: &[Stretch]| {
            (f64::midpoint(pair[0].last_secs, pair[1].first_secs), pair[1].heading)
        };
        Self {
            first: stretches.first().map_or(Heading::Nowhere, |stretch| stretch.heading),
            changes: stretches.windows(2).map(change).collect(),
        }
    }

    /// The heading at a moment.
    #[must_use]
    pub fn at(&self, secs: f64) -> Heading {
        let before = self.changes.iter().take_while(|(from, _)| *from <= secs).last();
        before.map_or(self.first, |(_, heading)| *heading)
    }

    /// How far one leans to where the subject goes: 1 to the right, -1 to the left, 0 nowhere, and in between
    /// while one heading becomes another, eased over [`Headings::TURN_SECS`] about the change.
    #[must_use]
    pub fn lean(&self, secs: f64) -> f64 {
        let (mut lean, mut before) = (self.first.sign(), self.first);
        for (from, heading) in &self.changes {
            let share = ((secs - from) / Self::TURN_SECS + 0.5).clamp(0.0, 1.0);
            lean += (heading.sign() - before.sign()) * share * share * (3.0 - 2.0 * share);
            before = *heading;
        }
        lean
    }

    /// Whether no change is in progress at a moment.
    #[must_use]
    pub fn is_settled(&self, secs: f64) -> bool {
        self.changes.iter().all(|(from, _)| (secs - from).abs() >= 0.5 * Self::TURN_SECS)
    }

    /// From when on there is another heading, in order of time.
    #[must_use]
    pub fn changes(&self) -> &[(f64, Heading)] {
        &self.changes
    }
}

/// Moments with the same heading, undecided ones between them included.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    heading: Heading,
    first_secs: f64,
    last_secs: f64,
}

impl Stretch {
    fn secs(&self) -> f64 {
        self.last_secs - self.first_secs
    }
}

/// What sums of frame times lose.
const NOISE_SECS: f64 = 1e-6;

fn decided_stretches(way: &[Waypoint], rules: &HeadingRules) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    for leg in way.chunk_by(|a, b| a.leg == b.leg) {
        let decided = leg
            .iter()
            .filter_map(|point| Some((point.secs, decided(leg, point.secs, rules)?)))
            .map(|(secs, heading)| Stretch { heading, first_secs: secs, last_secs: secs });
        stretches.extend(decided);
    }
    joined(stretches)
}

/// Neighbours with the same heading become one.
fn joined(stretches: Vec<Stretch>) -> Vec<Stretch> {
    let mut joined: Vec<Stretch> = Vec::with_capacity(stretches.len());
    for next in stretches {
        match joined.last_mut() {
            Some(before) if before.heading == next.heading => before.last_secs = next.last_secs,
            _ => joined.push(next),
        }
    }
    joined
}

/// What the way of a leg about a moment says: `None` if it comes back on itself, or if there is no way at all. At
/// the ends of a leg it is the way after its beginning or before its end.
fn decided(leg: &[Waypoint], secs: f64, rules: &HeadingRules) -> Option<Heading> {
    let (begin, end) = (leg.first()?.secs, leg.last()?.secs);
    let latest = (end - rules.least_secs).max(begin);
    let from = (secs - 0.5 * rules.least_secs).clamp(begin, latest) - NOISE_SECS;
    let to = from + rules.least_secs + 2.0 * NOISE_SECS;
    let first = leg.partition_point(|point| point.secs < from);
    let last = leg.partition_point(|point| point.secs <= to);
    let about = leg.get(first..last)?;
    let (first, last) = (about.first()?, about.last()?);
    let least_widths = rules.least_widths_per_sec * (last.secs - first.secs);
    let way = last.widths - first.widths;
    let extremes = about.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |extremes, point| {
        (extremes.0.min(point.widths), extremes.1.max(point.widths))
    });
    if last.secs - first.secs <= NOISE_SECS {
        None
    } else if way.abs() > least_widths {
        Some(if way > 0.0 { Heading::Right } else { Heading::Left })
    } else {
        (extremes.1 - extremes.0 <= least_widths).then_some(Heading::Nowhere)
    }
}

/// The stretches that last, each by itself: many short ones are no long one. Of a way that is shorter than the least
/// it is one that lasts as long as the way.
fn lasting(stretches: Vec<Stretch>, way: &[Waypoint], least_secs: f64) -> Vec<Stretch> {
    let way_secs = way.first().zip(way.last()).map_or(0.0, |(first, last)| last.secs - first.secs);
    let least_secs = least_secs.min(way_secs) - NOISE_SECS;
    joined(stretches.into_iter().filter(|stretch| stretch.secs() >= least_secs).collect())
}

#[cfg(test)]
mod tests;
