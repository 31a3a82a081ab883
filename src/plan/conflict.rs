//! Limits that contradict each other, as a plan holds them and in words.

use super::{EnlargementLimit, RemedyNote, px, words::then_words};
use crate::{
    geometry::{Region, Shape, Window},
    pan::{Axis, Cause, HardLimit, Missing, Remedy},
    timecode::{FrameIndex, FrameRange},
};
use serde::Serialize;

/// Why there is no path for a segment.
#[derive(Debug, Clone, Serialize)]
pub struct ConflictNote {
    /// The fewest limits that contradict each other.
    pub limits: Vec<ConflictLimit>,
    /// How many px are missing, and of what; none where that is no length.
    pub missing: Option<Missing>,
    /// What would let a path through, in the order of what it costs; each was tried.
    pub remedies: Vec<RemedyNote>,
}

/// One of the limits, with its value and where it is.
#[derive(Debug, Clone, Serialize)]
pub struct ConflictLimit {
    /// Which limit it is.
    #[serde(flatten)]
    pub limit: HardLimit,
    /// What it is, where, and its value.
    #[serde(flatten)]
    pub value: ConflictValue,
    /// The same in words.
    pub words: String,
}

/// The value of a limit that has a part in a conflict, and where it is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum ConflictValue {
    /// The hard pan limit.
    Pan {
        /// Timeline seconds for one window width.
        secs_per_width: f64,
    },
    /// A thing that is kept out.
    KeepOut {
        /// Its name.
        name: String,
        /// The first used frame on which it is there.
        frame: Option<FrameIndex>,
        /// Its box there: left, top, width, height.
        box_px: Option<[f64; 4]>,
    },
    /// The greatest enlargement.
    Width {
        /// The width that it needs.
        least_width_px: f64,
    },
    /// The most width.
    MostWidth {
        /// The width that no window is above.
        greatest_width_px: f64,
    },
    /// A client's condition.
    Clause {
        /// The thing that it is on.
        name: String,
        /// Its line of the shoot file.
        line: u64,
    },
    /// A window fixed by hand.
    Pin {
        /// Its frame.
        frame: FrameIndex,
        /// Its line of the pins file; none if it is not known.
        line: Option<u64>,
        /// Left, top, width, height.
        window_px: [f64; 4],
    },
}

impl ConflictValue {
    /// A kept-out thing by where it is first seen.
    #[must_use]
    pub fn keep_out(name: &str, first: Option<(FrameIndex, Region)>) -> Self {
        let edges = |region: Region| [region.left(), region.top(), region.width(), region.height()];
        Self::KeepOut {
            name: name.to_owned(),
            frame: first.map(|(frame, _)| frame),
            box_px: first.map(|(_, region)| edges(region)),
        }
    }

    /// A pinned window.
    #[must_use]
    pub fn pin(frame: FrameIndex, line: Option<u64>, window: &Window) -> Self {
        let window_px = [window.left(), window.top(), window.width(), window.height()];
        Self::Pin { frame, line, window_px }
    }

    /// The limit in words.
    #[must_use]
    pub fn words(&self, limit: &EnlargementLimit) -> String {
        match self {
            Self::Pan { secs_per_width } => {
                format!("the hard pan limit of one width in {secs_per_width} s (pan_hard)")
            }
            Self::KeepOut { name, frame, box_px } => {
                let at = frame.zip(*box_px).map_or(String::new(), |(frame, [x, y, w, h])| {
                    format!(" ({} x {} px at {},{} at frame {frame})", px(w), px(h), px(x), px(y))
                });
                format!("the keep-out {name}{at}")
            }
            Self::Width { least_width_px } => format!(
                "the greatest enlargement {} (a window {} px wide at least)",
                limit.greatest_words(),
                px(*least_width_px)
            ),
            Self::MostWidth { greatest_width_px } => {
                format!("the greatest width of {} px (greatest_width)", px(*greatest_width_px))
            }
            Self::Clause { name, line } => {
                format!("the clause on {name} (line {line} of the shoot file)")
            }
            Self::Pin { frame, line, window_px: [x, y, width, _] } => {
                let line =
                    line.map_or(String::new(), |line| format!("line {line} of the pins file, "));
                format!(
                    "the window pinned at frame {frame} ({line}{} px wide at {},{})",
                    px(*width),
                    px(*x),
                    px(*y)
                )
            }
        }
    }
}

impl ConflictNote {
    /// What contradicts what, and by how much.
    #[must_use]
    pub fn words(&self, shape: Shape) -> String {
        let named: Vec<&str> = self.limits.iter().map(|limit| limit.words.as_str()).collect();
        let what = match &named[..] {
            [alone] => format!("{alone} cannot be kept"),
            _ => format!("{} cannot all be kept", listed(&named)),
        };
        let last_pin = self.limits.iter().rev().find_map(|limit| match &limit.value {
            ConflictValue::Pin { frame, .. } => Some(*frame),
            _ => None,
        });
        let missing = match self.missing {
            Some(Missing::Pin { px: missing }) => {
                let at = last_pin.map_or(String::new(), |frame| format!(" at frame {frame}"));
                format!(": the nearest that the others allow is {} px off{at}", px(missing))
            }
            Some(Missing::Width { px: missing }) => format!(
                ": {} px of width, {} px of height missing",
                px(missing),
                px(shape.height_for(missing))
            ),
            Some(Missing::Place { axis, px: missing }) => {
                let axis = if axis == Axis::Across { "across" } else { "up and down" };
                format!(": {} px missing {axis}", px(missing))
            }
            None => String::new(),
        };
        format!("{what}{missing}")
    }
}

/// That a pinned window leaves the subject outside, and by how much; `None` for another cause.
#[must_use]
pub fn pin_refusal_words(
    cause: &Cause,
    (used, limit): (FrameRange, &EnlargementLimit),
    pinned: impl Fn(usize) -> Option<ConflictValue>,
) -> Option<String> {
    let Cause::Pinned { index, short_index, across_px, down_px, narrow_px } = cause else {
        return None;
    };
    let pin = pinned(*index)?.words(limit);
    let at = if index == short_index {
        String::new()
    } else {
        format!(
            " at frame {}, where the others and the hard pan limit let it come",
            used.frame_at(*short_index)
        )
    };
    let missing: Vec<String> = [(*across_px, "across"), (*down_px, "down")]
        .into_iter()
        .filter(|(missing, _)| *missing >= 0.05)
        .map(|(missing, axis)| format!("{} px {axis}", px(missing)))
        .collect();
    let missing = match &missing[..] {
        [] => String::new(),
        some => format!(": {} missing{at}", some.join(" and ")),
    };
    let narrow = if *narrow_px >= 0.05 {
        format!("; it is {} px too narrow for them", px(*narrow_px))
    } else {
        String::new()
    };
    Some(format!("{pin} leaves the subject or its margins outside{missing}{narrow}"))
}

/// What would let a path through that leaves out a pin or moves one; `None` if a remedy is another.
#[must_use]
pub fn pin_remedy_words(
    remedy: &Remedy,
    pinned: impl Fn(usize) -> Option<ConflictValue>,
) -> Option<String> {
    let (Remedy::DropPin { index, .. } | Remedy::MovePin { index, .. }) = remedy else {
        return None;
    };
    let Some(ConflictValue::Pin { frame, line, .. }) = pinned(*index) else { return None };
    let line = line.map_or(String::new(), |line| format!(" (line {line} of the pins file)"));
    Some(pin_words(remedy, &format!("the pin at frame {frame}{line}")))
}

/// What is to be done with a pin; nothing of other remedies.
pub(super) fn pin_words(remedy: &Remedy, pin: &str) -> String {
    match remedy {
        Remedy::MovePin { left_px, top_px, width_px, verdict, .. } => {
            let then = then_words(*verdict);
            format!("move {pin} to {left_px},{top_px}, {width_px} px wide: {then}")
        }
        Remedy::DropPin { verdict, .. } => format!("leave out {pin}: {}", then_words(*verdict)),
        _ => String::new(),
    }
}

/// `a, b and c`.
pub(super) fn listed<T: AsRef<str>>(names: &[T]) -> String {
    match names {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [firsts @ .., last] => {
            let firsts: Vec<&str> = firsts.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", firsts.join(", "), last.as_ref())
        }
    }
}
