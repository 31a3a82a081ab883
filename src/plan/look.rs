//! One look over a clip's shapes, as a value and in words: which move together, how alike they show the subject, and
//! which one does not and why.

use super::px;
use crate::{
    pan::Apart,
    sharpness::{Band, Softness},
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;
use std::fmt;

/// What came of one look for one used range.
#[derive(Debug, Clone, Serialize)]
pub struct OneLook {
    /// The used frames.
    #[serde(serialize_with = "super::value::as_bounds")]
    pub used: FrameRange,
    /// The shapes that are planned together, each with how it shows the subject; none or at least two.
    pub together: Vec<Shown>,
    /// The first and the last frame of each move; a shape may stand where others move.
    pub moves: Vec<(FrameIndex, FrameIndex)>,
    /// Up to where two shapes count as alike: a share of the window's height.
    pub tolerance: f64,
    /// By which part the subject is placed.
    pub placed_by: PlacedBy,
    /// The shapes that are planned by themselves.
    pub apart: Vec<PlannedApart>,
}

/// The part of the subject that is wanted at its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PlacedBy {
    /// Its top, below so much headroom.
    Top,
    /// Its middle.
    Middle,
}

/// How one shape shows the subject, held against those that most shapes agree with.
#[derive(Debug, Clone, Serialize)]
pub struct Shown {
    /// The shape.
    pub deliverable: String,
    /// Whether it stands still throughout.
    pub stands_still: bool,
    /// The subject's height.
    pub height: Compared,
    /// Where its top or its middle is, from the window's top.
    pub place: Compared,
    /// Why its window is higher or lower than the others'; none where it is not.
    pub size_because: Option<SizeBecause>,
    /// What it is by itself, if with the others its band is stricter.
    pub softer: Option<Softer>,
}

/// What looking like the others costs a shape in sharpness: its softest windows, with them and by itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Softer {
    /// The enlargement with the others.
    pub enlargement: f64,
    /// What it is as soft as with them, by what was measured; else the enlargement again.
    pub soft_as: f64,
    /// Its band.
    pub band: Band,
    /// The enlargement by itself.
    pub enlargement_alone: f64,
    /// What it is as soft as by itself.
    pub soft_as_alone: f64,
    /// The band by itself.
    pub band_alone: Band,
}

impl Softer {
    /// `None` if the band with the others is not stricter than the one by itself.
    #[must_use]
    pub fn of(together: &Softness, alone: &Softness) -> Option<Self> {
        (together.band > alone.band).then_some(Self {
            enlargement: together.enlargement,
            soft_as: together.soft_as(),
            band: together.band,
            enlargement_alone: alone.enlargement,
            soft_as_alone: alone.soft_as(),
            band_alone: alone.band,
        })
    }
}

/// What a difference is a share of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// The window's height.
    Window,
    /// What the others have.
    Others,
}

/// A share of the window's height, at the frame at which it differs the most from that of the other shapes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Compared {
    /// The frame.
    pub frame: FrameIndex,
    /// The share in this shape.
    pub share: f64,
    /// The share in those that it is held against.
    pub others: f64,
    /// By how much they differ: of a place as a share of the window's height, of a height as a share of the others'.
    pub off: f64,
}

impl Compared {
    /// The share in a shape and in those that it is held against.
    #[must_use]
    pub fn of(frame: FrameIndex, (share, others): (f64, f64), against: Against) -> Self {
        let difference = (share - others).abs();
        let off = match against {
            Against::Window => difference,
            Against::Others => difference / others,
        };
        Self { frame, share, others, off }
    }
}

/// What keeps a window from being as high as the others.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "because")]
pub enum SizeBecause {
    /// It has to be this high within the greatest enlargement.
    Least {
        /// In px.
        height_px: f64,
    },
    /// There is no room for more.
    Greatest {
        /// In px.
        height_px: f64,
    },
    /// A client's clause asks there for a window of at most this height, so that its thing is large enough.
    Clause {
        /// In px.
        height_px: f64,
    },
    /// The subject and its margins need it.
    Subject,
}

/// A shape that does not share the look.
#[derive(Debug, Clone, Serialize)]
pub struct PlannedApart {
    /// The shape.
    pub deliverable: String,
    /// Why.
    #[serde(flatten)]
    pub because: ApartBecause,
}

/// Why a shape does not share the look.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
pub enum ApartBecause {
    /// What the planner found.
    Planner(Apart),
    /// It cannot be had, or only with a cut.
    Outcome(ApartOutcome),
}

/// What a shape comes to that there is no single path for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "apart")]
pub enum ApartOutcome {
    /// The shape cannot be had.
    Refused,
    /// The range is cut in this shape.
    Cut,
    /// Not all subjects are kept in this shape.
    KeptAlone,
}

impl OneLook {
    /// All of it in words, a line a matter.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if !self.together.is_empty() {
            lines.push(self.moves_line());
            lines.extend(self.height_lines());
            lines.extend(self.place_lines());
            lines.extend(self.softer_lines());
        }
        let apart = self.apart.iter().map(|apart| {
            let words = apart.because.words(self.used);
            format!("{} is planned by itself: {words}", apart.deliverable)
        });
        lines.extend(apart);
        lines
    }

    /// Which shapes move on which frames, and which stand.
    fn moves_line(&self) -> String {
        let names = |stands_still: bool| -> Vec<&str> {
            let those = self.together.iter().filter(|shown| shown.stands_still == stands_still);
            those.map(|shown| shown.deliverable.as_str()).collect()
        };
        let stand = |names: &[&str]| {
            format!("{} {} still", listed(names), if names.len() == 1 { "stands" } else { "stand" })
        };
        let (standing, moving) = (names(true), names(false));
        let moves: Vec<String> =
            self.moves.iter().map(|(first, last)| format!("{first} to {last}")).collect();
        let moves = moves.join(", ");
        match (moving.as_slice(), standing.as_slice()) {
            ([], standing) => stand(standing),
            ([only], standing) => format!("{only} moves on frames {moves}; {}", stand(standing)),
            (moving, []) => format!("{} move on the same frames: {moves}", listed(moving)),
            (moving, standing) => {
                format!("{} move on the same frames: {moves}; {}", listed(moving), stand(standing))
            }
        }
    }

    /// One line if the subject is equally high in all, else a line for each in which it is not.
    fn height_lines(&self) -> Vec<String> {
        let of = |shown: &Shown| shown.height;
        if let Some(alike) = self.alike_words(of) {
            return vec![format!("the subject is equally high in all of them: {alike}")];
        }
        let line = |shown: &Shown| {
            let because = shown.size_because.map_or(String::new(), |why| format!("; {why}"));
            let Compared { frame, share, others, .. } = shown.height;
            format!(
                "{}: the subject is {:.1} % of the window's height at frame {frame}, and {:.1} % in the others{because}",
                shown.deliverable,
                100.0 * share,
                100.0 * others
            )
        };
        self.odd(of).map(line).collect()
    }

    /// One line if the subject is equally far down in all, else a line for each in which it is not.
    fn place_lines(&self) -> Vec<String> {
        let of = |shown: &Shown| shown.place;
        let part = match self.placed_by {
            PlacedBy::Top => "top",
            PlacedBy::Middle => "middle",
        };
        if let Some(alike) = self.alike_words(of) {
            return vec![format!("its {part} is equally far down in all of them: {alike}")];
        }
        let line = |shown: &Shown| {
            let Compared { frame, share, others, .. } = shown.place;
            format!(
                "{}: the subject's {part} is {:.1} % of the window's height down at frame {frame}, and {:.1} % in the \
                 others",
                shown.deliverable,
                100.0 * share,
                100.0 * others
            )
        };
        self.odd(of).map(line).collect()
    }

    /// A line for each shape whose band is stricter than by itself.
    fn softer_lines(&self) -> Vec<String> {
        let line = |shown: &Shown| {
            let softer = shown.softer?;
            Some(format!(
                "{}: {}, {}; by itself it is {}, {}",
                shown.deliverable,
                soft_words(softer.enlargement, softer.soft_as),
                softer.band,
                soft_words(softer.enlargement_alone, softer.soft_as_alone),
                softer.band_alone
            ))
        };
        self.together.iter().filter_map(line).collect()
    }

    /// The shapes that are not like the others.
    fn odd(&self, of: impl Fn(&Shown) -> Compared) -> impl Iterator<Item = &Shown> {
        self.together.iter().filter(move |shown| of(shown).off > self.tolerance)
    }

    /// What the shapes have in common; `None` if one is not like the others.
    fn alike_words(&self, of: impl Fn(&Shown) -> Compared) -> Option<String> {
        let first = self.together.first().map(&of)?;
        let worst = self.together.iter().map(|shown| of(shown).off).fold(0.0, f64::max);
        self.odd(&of).next().is_none().then(|| {
            format!(
                "{:.1} % of the window's height at frame {}, at most {:.1} % apart",
                100.0 * first.share,
                first.frame,
                100.0 * worst
            )
        })
    }
}

impl fmt::Display for SizeBecause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Least { height_px } => {
                write!(
                    f,
                    "its windows are {} px high at least within the greatest enlargement",
                    px(*height_px)
                )
            }
            Self::Greatest { height_px } => {
                write!(f, "its windows have no room for more than {} px", px(*height_px))
            }
            Self::Clause { height_px } => {
                write!(
                    f,
                    "a client's clause asks there for a window {} px high at most",
                    px(*height_px)
                )
            }
            Self::Subject => f.write_str("the subject and its margins need it"),
        }
    }
}

impl ApartBecause {
    fn words(&self, used: FrameRange) -> String {
        match self {
            Self::Outcome(ApartOutcome::Refused) => "the shape does not fit".to_owned(),
            Self::Outcome(ApartOutcome::Cut) => "it is cut inside the range".to_owned(),
            Self::Outcome(ApartOutcome::KeptAlone) => "it keeps one subject alone".to_owned(),
            Self::Planner(apart) => apart_words(apart, used),
        }
    }
}

fn apart_words(apart: &Apart, used: FrameRange) -> String {
    match apart {
        Apart::Follows => {
            "it follows the subject, and so has no moves that start and end".to_owned()
        }
        Apart::LetsGo => "its subject is let go".to_owned(),
        Apart::Pinned => "some of its windows are pinned by hand".to_owned(),
        Apart::Rides => "its window rides with the shake of the world".to_owned(),
        Apart::OtherEase => "its moves start and stop in another way (ease_peak)".to_owned(),
        Apart::Short { worst, share_inside } => format!(
            "with the others it would keep all of the subject on {:.1} % of its frames only and miss {} px at frame {}",
            100.0 * share_inside,
            px(worst.missing_px),
            used.frame_at(worst.index)
        ),
        Apart::NoPath => "no path that moves with the others keeps its hard limits".to_owned(),
        Apart::BrokenOff => {
            "the search for moves with the others was broken off before it found any".to_owned()
        }
        Apart::NobodyElse => "no other shape is left to share a look with".to_owned(),
    }
}

/// Names in a row: `a, b and c`.
fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
/// An enlargement, and what it is as soft as where that is more.
fn soft_words(enlargement: f64, soft_as: f64) -> String {
    /// Less than what is printed.
    const SHOWN: f64 = 0.005;
    if soft_as > enlargement + SHOWN {
        format!("E {enlargement:.2} and as soft as {soft_as:.2}")
    } else {
        format!("E {enlargement:.2}")
    }
}
