//! Why a shape cannot be had, and what would mend it, in numbers.

mod pins;

use super::{
    Assessment, Axis, ClauseFailing, FrameWish, PanError, Planned, Reason, Request, ShortFrame,
    Side, Verdict,
    choose::{Decision, decide},
    follow::follow,
    hold,
    sides::Area,
};
use crate::geometry::{AxisLimits, Region, Window};
pub(super) use pins::without_pins;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// What decides that a shape cannot be had.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "because")]
pub enum Cause {
    /// Even the largest window has too few px.
    TooSoft {
        /// The least width that the greatest enlargement allows.
        least_width_px: f64,
        /// The width of the largest window of the shape.
        greatest_width_px: f64,
    },
    /// With its margins the subject is larger than the largest window.
    TooLarge {
        /// Along which axis.
        axis: Axis,
        /// How large its largest sight is.
        subject_px: f64,
        /// The same with its margins and what is blocked, as large as they are in the largest window.
        needed_px: f64,
        /// What the largest window has.
        available_px: f64,
    },
    /// The subject is so near to the edge of the usable area that its margin or a blocked zone has no room.
    AtEdge {
        /// Along which axis.
        axis: Axis,
        /// How far the subject should be from where it is at the worst frame: right and down positive.
        shift_px: f64,
        /// Where the edge of the subject is that should be so far from there, in px of the picture.
        edge_px: f64,
    },
    /// The window would have to move faster than it may.
    TooFast,
    /// The subject smears by so much that it is not followed, and no still window keeps it.
    TooSmeared {
        /// How far it moves while a frame is exposed, px of the capture.
        smear_px: f64,
        /// The same as a share of the window's width.
        share: f64,
        /// The share above which nothing is followed.
        limit: f64,
    },
    /// A window pinned by hand leaves the subject outside.
    Pinned {
        /// The run's frame of the pin: the one with the most outside, or else the nearest to where the most is.
        index: usize,
        /// The run's frame at which the most is outside: the pin's own, if anything is there.
        short_index: usize,
        /// What is outside there with its margins, left and right together, px.
        across_px: f64,
        /// The same above and below.
        down_px: f64,
        /// By how much the pinned window is too narrow for what is wished at its own frame, px; 0 if it is not.
        narrow_px: f64,
    },
    /// A client's condition cannot be kept.
    Clause {
        /// Which, from 0 in the order of the request.
        clause: usize,
        /// Why not.
        failing: ClauseFailing,
    },
}

/// Something that would mend a refusal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "remedy")]
pub enum Remedy {
    /// Smaller margins; the plan was made with them and is of this verdict.
    SmallerMargin {
        /// Share of the window's width.
        across: f64,
        /// Share of the window's height.
        down: f64,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Use fewer frames of the range; the plan was made with those left and is of this verdict.
    FewerFrames {
        /// How many frames to leave out at the front of the used range.
        front: usize,
        /// How many frames to leave out at its end.
        back: usize,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Accept a window of this width, softer than allowed.
    AcceptWidth {
        /// The width in px.
        width_px: f64,
    },
    /// Allow windows up to this width; the plan was made with it and is of this verdict.
    WiderWindow {
        /// The width as a share of the largest window of the shape.
        share: f64,
        /// The width in px.
        width_px: f64,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Any shape from this width over height up has room for the subject.
    WiderShape {
        /// Width over height.
        least_width_over_height: f64,
    },
    /// Any shape up to this width over height has room for the subject.
    TallerShape {
        /// Width over height.
        greatest_width_over_height: f64,
    },
    /// Allow a pan this fast; the plan was made with it and is of this verdict.
    FasterPan {
        /// Timeline seconds for one window width.
        secs_per_width: f64,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Ask for a client's condition for this long, which the picture has.
    ShorterClause {
        /// Which clause, from 0.
        clause: usize,
        /// How long, timeline seconds.
        secs: f64,
    },
    /// Have the client give up a condition; the plan was made without it and is of this verdict.
    DropClause {
        /// Which clause, from 0.
        clause: usize,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Use the run as two shots; both were planned.
    TwoShots {
        /// The run's frame that the second one starts with.
        index: usize,
        /// What the plan of the first would be.
        first: Verdict,
        /// What the plan of the second would be.
        second: Verdict,
    },
    /// Leave out a window that is fixed by hand; the plan was made without it and is of this verdict.
    DropPin {
        /// The run's frame.
        index: usize,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Put a window that is fixed by hand elsewhere; the plan was made so and is of this verdict.
    MovePin {
        /// The run's frame.
        index: usize,
        /// The left edge, px.
        left_px: f64,
        /// The top edge, px.
        top_px: f64,
        /// The width, px.
        width_px: f64,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// Leave out every window that is fixed by hand; the plan was made without them and is of this verdict.
    DropAllPins {
        /// How many there are.
        count: usize,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// On the next take, have the subject at most this share of its size.
    SmallerSubject {
        /// The share.
        factor: f64,
    },
    /// On the next take, have the subject this far from where it is: right and down positive.
    ShiftSubject {
        /// Along which axis.
        axis: Axis,
        /// How far, in capture px.
        shift_px: f64,
        /// Where the edge of the subject is now that should be so far from there.
        edge_px: f64,
    },
}

/// A shape that cannot be had.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// What decides it.
    pub cause: Cause,
    /// The first frame that lacks something, and how much.
    pub first: ShortFrame,
    /// The frame that lacks the most.
    pub worst: ShortFrame,
    /// The share of frames on which the best attempt keeps everything.
    pub share_inside: f64,
    /// The best attempt, a window a frame: for a picture of what is wrong, never to be delivered.
    pub attempt: Vec<Window>,
    /// On which sides of the keep-outs its windows stay; empty where that was not come to.
    pub sides: Vec<Side>,
    /// What would mend it, in the order of what it costs.
    pub remedies: Vec<Remedy>,
}

/// Refuses a shape of which even the largest window has too few px.
pub(super) fn too_soft(request: &Request) -> Result<Refusal, PanError> {
    let (least_width_px, greatest_width_px) = (request.least_width, request.greatest_width());
    let accepted = Request { least_width: greatest_width_px, ..request.clone() };
    let is_mended = verdict_of(&decide(&accepted)?).is_some();
    let softer = Request { pins: Vec::new(), ..accepted };
    let attempt = hold::best(&softer, &Area::still(&softer, &[]))
        .ok_or(PanError::Unsound { index: 0, excess_px: least_width_px - greatest_width_px })?;
    let missing_px = least_width_px - greatest_width_px;
    let first = ShortFrame { index: 0, missing_px, axis: Axis::Across };
    Ok(Refusal {
        cause: Cause::TooSoft { least_width_px, greatest_width_px },
        first,
        worst: first,
        share_inside: 0.0,
        attempt: vec![attempt; request.frame_count()],
        sides: Vec::new(),
        remedies: is_mended
            .then_some(Remedy::AcceptWidth { width_px: greatest_width_px })
            .into_iter()
            .collect(),
    })
}

/// Refuses a shape in which the best attempt keeps too little.
pub(super) fn explain(request: &Request, attempt: Planned) -> Result<Refusal, PanError> {
    let Assessment { share_inside, .. } = attempt.assessment;
    let nothing = ShortFrame { index: 0, missing_px: 0.0, axis: Axis::Across };
    let first = attempt.assessment.first_short().unwrap_or(nothing);
    let worst = attempt.assessment.worst().unwrap_or(nothing);
    let cause = cause_of(request, &attempt);
    let mut remedies = Vec::new();
    remedies.extend(wider_window(request)?);
    remedies.extend(smaller_margin(request, &attempt.sides)?);
    if matches!(cause, Cause::TooLarge { .. } | Cause::AtEdge { .. }) {
        remedies.extend(fewer_frames(request, &attempt.sides)?);
    }
    match cause {
        Cause::TooLarge { axis, subject_px, needed_px, available_px } => {
            remedies.extend(other_shape(request, axis));
            remedies.push(Remedy::SmallerSubject {
                factor: 1.0 - (needed_px - available_px) / subject_px,
            });
        }
        Cause::AtEdge { axis, shift_px, edge_px } => {
            remedies.push(Remedy::ShiftSubject { axis, shift_px, edge_px });
        }
        Cause::TooFast => {
            remedies.extend(faster_pan(request, &attempt.sides)?);
            remedies.extend(two_shots(request)?);
        }
        Cause::Pinned { index, .. } => remedies.extend(pins::remedies(request, index)?),
        Cause::TooSoft { .. } | Cause::TooSmeared { .. } | Cause::Clause { .. } => {}
    }
    let Planned { windows: attempt, sides, .. } = attempt;
    Ok(Refusal { cause, first, worst, share_inside, attempt, sides, remedies })
}

/// Whether, and why not, a window could keep a frame's boxes if it did not have to move there.
enum Standing {
    Possible,
    TooLarge { axis: Axis, subject_px: f64, needed_px: f64, available_px: f64 },
    AtEdge { axis: Axis, shift_px: f64, edge_px: f64 },
}

fn cause_of(request: &Request, attempt: &Planned) -> Cause {
    let standing = |short: &ShortFrame| standing_at(request, &attempt.sides, short.index);
    let of_worst_first = attempt.assessment.worst();
    for short in of_worst_first.iter().chain(&attempt.assessment.short_frames) {
        match standing(short) {
            Standing::Possible => {}
            Standing::TooLarge { axis, subject_px, needed_px, available_px } => {
                return Cause::TooLarge { axis, subject_px, needed_px, available_px };
            }
            Standing::AtEdge { axis, shift_px, edge_px } => {
                return Cause::AtEdge { axis, shift_px, edge_px };
            }
        }
    }
    if let Reason::TooSmearedToFollow { px, share, limit, .. } = attempt.reason {
        return Cause::TooSmeared { smear_px: px, share, limit };
    }
    pins::cause(request, attempt).unwrap_or(Cause::TooFast)
}

fn standing_at(request: &Request, sides: &[Side], index: usize) -> Standing {
    let Some(all) = hull(&request.frames[index]) else { return Standing::Possible };
    let (area, insets) = (Area::at(request, sides, index), request.insets());
    let greatest = area.greatest_width(request);
    let spans = [
        (Axis::Across, all.width(), insets.left + insets.right, greatest),
        (Axis::Down, all.height(), insets.top + insets.bottom, request.shape.height_for(greatest)),
    ];
    for (axis, subject_px, taken, available_px) in spans {
        let needed_px = subject_px + taken * available_px;
        if needed_px > available_px + Assessment::NOISE_PX {
            return Standing::TooLarge { axis, subject_px, needed_px, available_px };
        }
    }
    let across = AxisLimits::default()
        .lying_within(area.left, area.right)
        .leaving_before(all.left(), insets.left)
        .leaving_after(all.right(), insets.right);
    let down = AxisLimits::default()
        .lying_within(area.top, area.bottom)
        .leaving_before(all.top(), insets.top)
        .leaving_after(all.bottom(), insets.bottom);
    let widths = across.sizes(request.least_width, greatest);
    let heights = down
        .sizes(request.shape.height_for(request.least_width), request.shape.height_for(greatest))
        .map(|(least, most)| (request.shape.width_for(least), request.shape.width_for(most)));
    match (widths, heights) {
        (Some(widths), Some(heights))
            if widths.0.max(heights.0) <= widths.1.min(heights.1) + 1e-9 =>
        {
            Standing::Possible
        }
        (Some((least, _)), _) => {
            let height = request.shape.height_for(least);
            let (before, after) = (insets.top * height, insets.bottom * height);
            let shift_px =
                shift_needed((all.top() - before, all.bottom() + after), (area.top, area.bottom));
            let edge_px = if shift_px > 0.0 { all.top() } else { all.bottom() };
            Standing::AtEdge { axis: Axis::Down, shift_px, edge_px }
        }
        (None, _) => {
            let (before, after) = (insets.left * greatest, insets.right * greatest);
            let shift_px =
                shift_needed((all.left() - before, all.right() + after), (area.left, area.right));
            let edge_px = if shift_px > 0.0 { all.left() } else { all.right() };
            Standing::AtEdge { axis: Axis::Across, shift_px, edge_px }
        }
    }
}

/// How far a span has to move to lie inside another: positive towards larger numbers.
fn shift_needed((from, to): (f64, f64), (first, last): (f64, f64)) -> f64 {
    if from < first { first - from } else { (last - to).min(0.0) }
}

/// The smallest box round all of a frame's boxes; `None` if it has none.
pub(super) fn hull(wish: &FrameWish) -> Option<Region> {
    let regions = || wish.boxes.iter().map(|wished| wished.region);
    let least =
        |edge: fn(&Region) -> f64| regions().map(|r| edge(&r)).fold(f64::INFINITY, f64::min);
    let most =
        |edge: fn(&Region) -> f64| regions().map(|r| edge(&r)).fold(f64::NEG_INFINITY, f64::max);
    let (left, top) = (least(Region::left), least(Region::top));
    Region::new(left, top, most(Region::right) - left, most(Region::bottom) - top)
}

/// The largest margins, of the same proportion, with which every frame's boxes have room; only if a plan
/// made with them is not refused.
fn smaller_margin(request: &Request, sides: &[Side]) -> Result<Option<Remedy>, PanError> {
    if request.margins.0 <= 0.0 && request.margins.1 <= 0.0 {
        return Ok(None);
    }
    let with = |factor: f64| {
        let margins = (request.margins.0 * factor, request.margins.1 * factor);
        Request { margins, ..request.clone() }
    };
    let has_room = |factor: f64| {
        let request = with(factor);
        (0..request.frame_count())
            .all(|index| matches!(standing_at(&request, sides, index), Standing::Possible))
    };
    if has_room(1.0) || !has_room(0.0) {
        return Ok(None);
    }
    let (mut enough, mut too_much) = (0.0, 1.0);
    for _ in 0..12 {
        let middle = f64::midpoint(enough, too_much);
        if has_room(middle) { enough = middle } else { too_much = middle }
    }
    // What is printed is what was tried: tenths of a percent, rounded down.
    let tenth = |share: f64| (share * 1000.0).floor() / 1000.0;
    let (across, down) = (tenth(request.margins.0 * enough), tenth(request.margins.1 * enough));
    let tried = decide(&Request { margins: (across, down), ..request.clone() })?;
    Ok(verdict_of(&tried).map(|verdict| Remedy::SmallerMargin { across, down, verdict }))
}

/// The width that a plan needs which may have any, if such a plan is not refused.
pub(super) fn wider_window(request: &Request) -> Result<Option<Remedy>, PanError> {
    if request.most_width.is_infinite() {
        return Ok(None);
    }
    let any = request.of_any_width();
    let Decision::Planned(planned) = decide(&any)? else { return Ok(None) };
    let widest = planned.windows.iter().map(Window::width).fold(0.0, f64::max);
    let largest = any.greatest_width();
    // What is printed is what was tried: rounded up to thousandths.
    let share = ((1000.0 * widest / largest).ceil() / 1000.0).min(1.0);
    let width_px = share * largest;
    let tried = decide(&Request { most_width: width_px, ..any })?;
    Ok(verdict_of(&tried).map(|verdict| Remedy::WiderWindow { share, width_px, verdict }))
}

/// The stretch of frames on which there is room and the subject is seen the most, if that is at least half of where it is
/// seen at all and a plan made for it is not refused.
fn fewer_frames(request: &Request, sides: &[Side]) -> Result<Option<Remedy>, PanError> {
    let frame_count = request.frame_count();
    let has_room = |index: usize| matches!(standing_at(request, sides, index), Standing::Possible);
    let seen_in = |frames: Range<usize>| {
        request.frames[frames].iter().filter(|wish| !wish.boxes.is_empty()).count()
    };
    let (mut longest, mut most_seen, mut start) = (0..0, 0, 0);
    for index in 0..=frame_count {
        if index == frame_count || !has_room(index) {
            let seen = seen_in(start..index);
            if seen > most_seen {
                (longest, most_seen) = (start..index, seen);
            }
            start = index + 1;
        }
    }
    if most_seen * 2 < seen_in(0..frame_count) || most_seen == 0 || longest.len() == frame_count {
        return Ok(None);
    }
    let tried = decide(&request.part(longest.clone()))?;
    let (front, back) = (longest.start, frame_count - longest.end);
    Ok(verdict_of(&tried).map(|verdict| Remedy::FewerFrames { front, back, verdict }))
}

/// The two shots that the run can be split in so that neither is refused, the first as long as it can be.
fn two_shots(request: &Request) -> Result<Option<Remedy>, PanError> {
    let frame_count = request.frame_count();
    let planned = |frames: Range<usize>| Ok(verdict_of(&decide(&request.part(frames))?));
    // One frame by itself needs no pan, so that a shorter first shot is always easier.
    let (mut enough, mut too_much) = (0, frame_count);
    let mut first = None;
    while too_much - enough > 1 {
        let middle = enough.midpoint(too_much);
        match planned(0..middle)? {
            Some(verdict) => (enough, first) = (middle, Some(verdict)),
            None => too_much = middle,
        }
    }
    let Some(first) = first else { return Ok(None) };
    let second = planned(enough..frame_count)?;
    Ok(second.map(|second| Remedy::TwoShots { index: enough, first, second }))
}

/// The shapes that have room for the largest sight of the subject, if the frame has.
fn other_shape(request: &Request, axis: Axis) -> Option<Remedy> {
    let insets = request.insets();
    let hulls = || request.frames.iter().filter_map(hull);
    let usable = &request.usable;
    match axis {
        Axis::Across => {
            let widest = hulls().map(|r| r.width()).fold(0.0, f64::max);
            let needed = widest / (1.0 - insets.left - insets.right);
            (needed <= usable.width())
                .then(|| Remedy::WiderShape { least_width_over_height: needed / usable.height() })
        }
        Axis::Down => {
            let tallest = hulls().map(|r| r.height()).fold(0.0, f64::max);
            let needed = tallest / (1.0 - insets.top - insets.bottom);
            (needed <= usable.height()).then(|| Remedy::TallerShape {
                greatest_width_over_height: usable.width() / needed,
            })
        }
    }
}

/// The pan that a path without the hard limit needs, if such a path is not refused.
fn faster_pan(request: &Request, sides: &[Side]) -> Result<Option<Remedy>, PanError> {
    if request.rules.pan_hard.is_none() {
        return Ok(None);
    }
    let mut without = request.clone();
    without.rules.pan_hard = None;
    let Some(windows) = follow(&without, sides)? else { return Ok(None) };
    let verdict = Assessment::of(&without, &windows).verdict;
    let peak = super::peak_speed(&windows, &request.pace, &request.ride);
    Ok(peak.secs_per_width().filter(|_| verdict != Verdict::DoesNotFit).map(|secs| {
        // Rounded down, so that the limit that is printed lets the path through.
        Remedy::FasterPan { secs_per_width: (secs * 100.0).floor() / 100.0, verdict }
    }))
}

pub(super) fn verdict_of(decision: &Decision) -> Option<Verdict> {
    match decision {
        // What would be let go then is not mended.
        Decision::Planned(planned) => {
            Some(planned.assessment.verdict).filter(|verdict| *verdict <= Verdict::Tight)
        }
        Decision::NoPath { .. } | Decision::TooSoft | Decision::Short(_) => None,
    }
}
