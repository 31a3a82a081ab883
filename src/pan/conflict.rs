//! Hard limits that contradict each other: the fewest of them that do, by how much, and what would part them.

use super::{
    Axis, FrameWish, PanError, Pin, Place, PlacedPoint, Remedy, Request, Side,
    choose::decide,
    clause::{as_required, no_place},
    follow::{follow, is_possible},
    refuse::{verdict_of, wider_window, without_pins},
    sides::{self, Area},
};
use crate::geometry::{SourcePoint, Window};
use serde::{Deserialize, Serialize};
use std::fmt;

/// A limit that no path may break.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "limit")]
pub enum HardLimit {
    /// The hard pan limit.
    PanLimit,
    /// A thing that is to be kept out.
    KeepOut {
        /// Which, from 0 in the order of the request.
        number: usize,
    },
    /// The least width, from the greatest enlargement.
    LeastWidth,
    /// The most width that is wanted.
    MostWidth,
    /// A client's condition.
    Clause {
        /// Which, from 0 in the order of the request.
        clause: usize,
    },
    /// A window fixed by hand.
    Pin {
        /// The run's frame.
        index: usize,
    },
}

impl fmt::Display for HardLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Pin { index } => write!(f, "the pinned window at frame {index} of the run"),
            Self::PanLimit => f.pad("the hard pan limit"),
            Self::KeepOut { number } => write!(f, "keep-out {}", number + 1),
            Self::LeastWidth => f.pad("the greatest enlargement"),
            Self::MostWidth => f.pad("the greatest width"),
            Self::Clause { clause } => write!(f, "clause {}", clause + 1),
        }
    }
}

/// How many px are missing between limits that contradict each other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "of")]
pub enum Missing {
    /// From the nearest window that the others allow to the centre of the last pin named, across and down together.
    Pin {
        /// How many px.
        px: f64,
    },
    /// Of the window's width.
    Width {
        /// How many px.
        px: f64,
    },
    /// Beside the keep-outs, for what a clause keeps.
    Place {
        /// Along which axis.
        axis: Axis,
        /// How many px.
        px: f64,
    },
}

/// By how much limits contradict each other, and what would part them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ConflictFacts {
    /// What is missing; `None` where that is no length.
    pub missing: Option<Missing>,
    /// What would mend it, in the order of what it costs; the plan was made with each.
    pub remedies: Vec<Remedy>,
}

/// Some of a request's limits, and the sides of those of its keep-outs that are among them.
fn only(request: &Request, sides: &[Side], limits: &[HardLimit]) -> (Request, Vec<Side>) {
    let has = |limit: HardLimit| limits.contains(&limit);
    let is_kept_out = |number: &usize| has(HardLimit::KeepOut { number: *number });
    let kept_out: Vec<usize> = (0..request.keep_outs.len()).filter(is_kept_out).collect();
    let mut only = request.clone();
    only.keep_outs = kept_out.iter().map(|number| request.keep_outs[*number].clone()).collect();
    only.pins.retain(|pin| has(HardLimit::Pin { index: pin.index }));
    if !has(HardLimit::PanLimit) {
        only.rules.pan_hard = None;
    }
    if !has(HardLimit::LeastWidth) {
        only.least_width = 0.0;
    }
    if !has(HardLimit::MostWidth) {
        only.most_width = f64::INFINITY;
    }
    for wish in &mut only.frames {
        wish.required.retain(|required| has(HardLimit::Clause { clause: required.clause }));
        // What is wished has no say in what is possible.
        *wish = FrameWish { required: std::mem::take(&mut wish.required), ..FrameWish::default() };
    }
    let sides = kept_out.iter().filter_map(|number| sides.get(*number).copied()).collect();
    (only, sides)
}

/// Every hard limit of a request, pins last.
fn all(request: &Request) -> Vec<HardLimit> {
    let mut all = Vec::new();
    all.extend(request.rules.pan_hard.map(|_| HardLimit::PanLimit));
    all.extend((0..request.keep_outs.len()).map(|number| HardLimit::KeepOut { number }));
    all.push(HardLimit::LeastWidth);
    all.extend(request.most_width.is_finite().then_some(HardLimit::MostWidth));
    let mut clauses: Vec<usize> =
        request.frames.iter().flat_map(|wish| &wish.required).map(|r| r.clause).collect();
    clauses.sort_unstable();
    clauses.dedup();
    all.extend(clauses.into_iter().map(|clause| HardLimit::Clause { clause }));
    all.extend(request.pins.iter().map(|pin| HardLimit::Pin { index: pin.index }));
    all
}

/// The smallest set of hard limits, smallest in number, that no path keeps together with the window staying on these
/// sides of the keep-outs.
pub(super) fn smallest_conflict(
    request: &Request,
    sides: &[Side],
) -> Result<Vec<HardLimit>, PanError> {
    fewest(&all(request), |limits| {
        let (only, sides) = only(request, sides, limits);
        Ok(pins_are_kept(&only, &sides) && is_possible(&only, &sides)?)
    })
}

/// The same where no side of the keep-outs is left that a window could stay on.
pub(super) fn smallest_without_side(request: &Request) -> Result<Vec<HardLimit>, PanError> {
    fewest(&all(request), |limits| Ok(sides::best(&only(request, &[], limits).0)?.is_some()))
}

/// A pinned frame is not in the program's limits, so that they are held against the pin here.
fn pins_are_kept(request: &Request, sides: &[Side]) -> bool {
    request.pins.iter().all(|pin| {
        let holds = |required: &super::RequiredBox| required.is_kept(&pin.window);
        Area::at(request, sides, pin.index).holds(&pin.window)
            && request.frames[pin.index].required.iter().all(holds)
    })
}

/// The fewest limits that cannot be kept together. First a set of which none can be spared, found by leaving out half
/// of what is left again and again; then every smaller set is tried, in the order of size.
fn fewest(
    all: &[HardLimit],
    are_kept: impl Fn(&[HardLimit]) -> Result<bool, PanError>,
) -> Result<Vec<HardLimit>, PanError> {
    /// Solving so many programs takes no longer than a person waits.
    const MOST_TRIED: usize = 400;
    let mut needed = all.to_vec();
    let mut chunk = needed.len().div_ceil(2).max(1);
    loop {
        let mut start = 0;
        while start < needed.len() {
            let end = (start + chunk).min(needed.len());
            let without = [&needed[..start], &needed[end..]].concat();
            if without.len() < needed.len() && !are_kept(&without)? {
                needed = without;
            } else {
                start = end;
            }
        }
        if chunk == 1 {
            break;
        }
        chunk = chunk.div_ceil(2);
    }
    let mut tried = 0;
    for size in 1..needed.len() {
        let mut places: Vec<usize> = (0..size).collect();
        loop {
            tried += 1;
            if tried > MOST_TRIED {
                return Ok(needed);
            }
            let set: Vec<HardLimit> = places.iter().map(|place| all[*place]).collect();
            if !are_kept(&set)? {
                return Ok(set);
            }
            if !next_set(&mut places, all.len()) {
                break;
            }
        }
    }
    Ok(needed)
}

/// The next set of places out of so many, in order; false after the last.
fn next_set(places: &mut [usize], count: usize) -> bool {
    let size = places.len();
    let Some(last) = (0..size).rev().find(|at| places[*at] < count - size + at) else {
        return false;
    };
    places[last] += 1;
    for at in last + 1..size {
        places[at] = places[at - 1] + 1;
    }
    true
}

/// By how much limits contradict each other, and what would part them.
///
/// # Errors
/// As [`super::plan`].
pub fn conflict_facts(
    request: &Request,
    conflict: &[HardLimit],
) -> Result<ConflictFacts, PanError> {
    let request = &as_required(request)?;
    let sides = sides::best(&only(request, &[], conflict).0)?.unwrap_or_default();
    let mut remedies = Vec::new();
    if conflict.contains(&HardLimit::PanLimit) {
        remedies.extend(faster(request, &sides, conflict)?);
    }
    let is_of_width = conflict.contains(&HardLimit::LeastWidth);
    let width_px = if is_of_width { softest(request, conflict)? } else { None };
    if let Some(width_px) = width_px {
        remedies.extend(softer(request, width_px)?);
    }
    // The last pin of several is the one that is missed.
    for limit in conflict.iter().rev() {
        remedies.extend(without(request, *limit)?);
    }
    if remedies.is_empty() && conflict.iter().any(|limit| pin_of(request, *limit).is_some()) {
        remedies.extend(without_pins(request)?);
    }
    let pin = conflict.iter().rev().find_map(|limit| pin_of(request, *limit));
    let missing = match (pin, width_px) {
        (Some(pin), _) => {
            pin_missing_px(request, &sides, conflict, pin)?.map(|px| Missing::Pin { px })
        }
        (None, Some(width_px)) => Some(Missing::Width { px: request.least_width - width_px }),
        _ => place_missing(request, conflict),
    };
    Ok(ConflictFacts { missing, remedies })
}

/// What required boxes lack beside the keep-outs where they lack the most, with the window on the sides where that is
/// least.
fn place_missing(request: &Request, conflict: &[HardLimit]) -> Option<Missing> {
    let (bare, _) = only(request, &[], conflict);
    let lacking = |sides: Vec<Side>| {
        let all = bare.frames.iter().enumerate().flat_map(|(index, wish)| {
            let place = |required| no_place(&bare, &sides, required, index);
            wish.required.iter().filter_map(place).collect::<Vec<_>>()
        });
        all.max_by(|a, b| a.1.total_cmp(&b.1))
    };
    let least = sides::choices(bare.keep_outs.len())
        .filter(|sides| {
            let area = |index| Area::at(&bare, sides, index).greatest_width(&bare);
            (0..bare.frame_count()).all(|index| area(index) > 0.0)
        })
        .filter_map(lacking)
        .min_by(|a, b| a.1.total_cmp(&b.1));
    least.map(|(axis, px)| Missing::Place { axis, px })
}

/// What comes of leaving out a pin or a clause, if the request is then planned.
fn without(request: &Request, limit: HardLimit) -> Result<Option<Remedy>, PanError> {
    let mut without = request.clone();
    match limit {
        HardLimit::Pin { index } => without.pins.retain(|pin| pin.index != index),
        HardLimit::Clause { clause } => {
            for wish in &mut without.frames {
                wish.required.retain(|required| required.clause != clause);
            }
        }
        HardLimit::MostWidth => return wider_window(request),
        HardLimit::PanLimit | HardLimit::KeepOut { .. } | HardLimit::LeastWidth => return Ok(None),
    }
    Ok(verdict_of(&decide(&without)?).and_then(|verdict| match limit {
        HardLimit::Pin { index } => Some(Remedy::DropPin { index, verdict }),
        HardLimit::Clause { clause } => Some(Remedy::DropClause { clause, verdict }),
        HardLimit::PanLimit
        | HardLimit::KeepOut { .. }
        | HardLimit::LeastWidth
        | HardLimit::MostWidth => None,
    }))
}

fn pin_of(request: &Request, limit: HardLimit) -> Option<Pin> {
    match limit {
        HardLimit::Pin { index } => request.pin_at(index).copied(),
        _ => None,
    }
}

/// How near the other limits let a window come to a pin's centre.
fn pin_missing_px(
    request: &Request,
    sides: &[Side],
    conflict: &[HardLimit],
    pin: Pin,
) -> Result<Option<f64>, PanError> {
    let others: Vec<HardLimit> =
        conflict.iter().copied().filter(|l| *l != HardLimit::Pin { index: pin.index }).collect();
    let (mut others, sides) = only(request, sides, &others);
    let at = SourcePoint { x: pin.window.centre_x(), y: pin.window.centre_y() };
    let wish = &mut others.frames[pin.index];
    wish.point = Some(PlacedPoint { at, place: Place::MIDDLE });
    wish.boxes = vec![super::WishedBox { region: *pin.window.region(), weight: 1.0 }];
    others.rules.still_zone = 0.0;
    // Only the point counts: far more than all travel, and nothing else.
    others.rules.weights =
        super::Weights { acceleration: 0.0, containment: 0.0, place: 1e5, width: 0.0 };
    let off = |window: &Window| (window.centre_x() - at.x).abs() + (window.centre_y() - at.y).abs();
    Ok(follow(&others, &sides)?.map(|windows| off(&windows[pin.index])))
}

/// The slowest hard pan limit with which these limits can be kept, if the request is then planned.
fn faster(
    request: &Request,
    sides: &[Side],
    conflict: &[HardLimit],
) -> Result<Option<Remedy>, PanError> {
    const HALVINGS: u32 = 14;
    let Some(limit_secs) = request.rules.pan_hard else { return Ok(None) };
    let (bare, sides) = only(request, sides, conflict);
    let with = |of: &Request, secs: f64| {
        let mut with = of.clone();
        with.rules.pan_hard = Some(secs);
        with
    };
    let (mut enough, mut too_much) = (0.0, limit_secs);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(enough, too_much);
        if is_possible(&with(&bare, middle), &sides)? {
            enough = middle;
        } else {
            too_much = middle;
        }
    }
    // Rounded down, so that the limit that is printed lets the path through.
    let secs_per_width = (enough * 100.0).floor() / 100.0;
    if secs_per_width <= 0.0 {
        return Ok(None);
    }
    let verdict = verdict_of(&decide(&with(request, secs_per_width))?);
    let slower = secs_per_width / limit_secs;
    Ok(verdict.map(|verdict| Remedy::FasterPan { secs_per_width, slower, verdict }))
}

/// The greatest least width with which these limits can be kept.
fn softest(request: &Request, conflict: &[HardLimit]) -> Result<Option<f64>, PanError> {
    const HALVINGS: u32 = 24;
    let (bare, _) = only(request, &[], conflict);
    let is_enough = |least_width: f64| -> Result<bool, PanError> {
        let softer = Request { least_width, ..bare.clone() };
        let Some(sides) = sides::best(&softer)? else { return Ok(false) };
        Ok(pins_are_kept(&softer, &sides)
            && softer.pins.iter().all(|pin| pin.window.width() >= least_width - 1e-6)
            && is_possible(&softer, &sides)?)
    };
    let (mut enough, mut too_much) = (0.0, request.least_width);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(enough, too_much);
        if is_enough(middle)? { enough = middle } else { too_much = middle }
    }
    // What is printed is what was tried: a tenth that the halving came to, or else the next below.
    let nearest = (enough * 10.0).round() / 10.0;
    let is_one = nearest <= enough || is_enough(nearest)?;
    let width_px = if is_one { nearest } else { (enough * 10.0).floor() / 10.0 };
    Ok((width_px >= 1.0).then_some(width_px))
}

/// A window of this width, if the request is then planned.
fn softer(request: &Request, width_px: f64) -> Result<Option<Remedy>, PanError> {
    let tried = decide(&Request { least_width: width_px, ..request.clone() })?;
    Ok(verdict_of(&tried).map(|_| Remedy::AcceptWidth { width_px }))
}
