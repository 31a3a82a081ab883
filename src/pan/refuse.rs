//! Why a shape cannot be had, and what would mend it, in numbers.

mod pins;
mod remedies;

use super::{
    Assessment, Axis, ClauseFailing, FrameWish, PanError, Planned, Reason, Request, ShortFrame,
    Side, Verdict,
    choose::{Decision, decide},
    hold,
    sides::Area,
};
use crate::geometry::{AxisLimits, Region, Window};
pub(super) use pins::without_pins;
pub(super) use remedies::wider_window;
use remedies::{faster_pan, fewer_frames, other_shape, shots, smaller_margin, smear, softer};
use serde::{Deserialize, Serialize};

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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
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
        /// The share of its speed at which it could be played instead, with the limit as it is.
        slower: f64,
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
    /// Use the run as several shots; each was planned.
    Shots {
        /// The run's frames with which the second and the further ones start.
        starts: Vec<usize>,
        /// The worst that the plan of one of them would be.
        verdict: Verdict,
    },
    /// Follow a subject that smears this much; the plan was made with it and is of this verdict.
    AcceptSmear {
        /// The share of the window's width.
        share: f64,
        /// What the plan would be.
        verdict: Verdict,
    },
    /// On the next take, expose for at most this share of the time.
    ShorterExposure {
        /// The share.
        factor: f64,
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
    let least_width_px = request.least_width;
    let greatest_width_px = request.of_any_width().greatest_width();
    let widest = request.greatest_width();
    let accepted = Request { least_width: widest, ..request.clone() };
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
            .then_some(Remedy::AcceptWidth { width_px: widest })
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
            remedies.extend(softer(request)?);
            remedies.push(Remedy::ShiftSubject { axis, shift_px, edge_px });
        }
        Cause::TooFast => {
            remedies.extend(faster_pan(request, &attempt.sides)?);
            remedies.extend(shots(request)?);
        }
        Cause::Pinned { index, .. } => remedies.extend(pins::remedies(request, index)?),
        Cause::TooSmeared { share, limit, .. } => remedies.extend(smear(request, share, limit)?),
        Cause::TooSoft { .. } | Cause::Clause { .. } => {}
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

pub(super) fn verdict_of(decision: &Decision) -> Option<Verdict> {
    match decision {
        // What would be let go then is not mended.
        Decision::Planned(planned) => {
            Some(planned.assessment.verdict).filter(|verdict| *verdict <= Verdict::Tight)
        }
        Decision::NoPath { .. } | Decision::TooSoft | Decision::Short(_) => None,
    }
}
