use crate::{
    geometry::{Region, Window},
    pan::{Clause, PlacedPoint, Planned, Request, RequiredBox, Weights, WishedBox},
};
use serde::Serialize;

/// What was asked of a segment's used frames: all that a program outside needs to reckon again what the path costs
/// and what it keeps inside. Lengths are px of the levelled picture where it is levelled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Asked {
    /// The part of the displayed frame that windows may use: left, top, width, height.
    pub usable_px: [f64; 4],
    /// The least width of a window.
    pub least_width_px: f64,
    /// The most width that is wanted, where it is less than there is room for.
    pub greatest_width_px: Option<f64>,
    /// The width wanted if nothing speaks against it.
    pub preferred_width_px: f64,
    /// The width that costs are measured in: the preferred one, as far as there is room for it.
    pub reference_width_px: f64,
    /// What boxes stay clear of, margins and blocked zones together, as shares of the window: left, top, right,
    /// bottom.
    pub insets: [f64; 4],
    /// What this path is weighed by.
    pub weights: CostWeights,
    /// What is asked of each used frame; a table of its own holds it.
    #[serde(skip)]
    pub frames: Vec<AskedFrame>,
}

/// The costs of a path, against one window width of travel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CostWeights {
    /// Squared acceleration, in s³ per width.
    pub acceleration: f64,
    /// One width of shortfall, per second.
    pub containment: f64,
    /// One width off the wanted place, beyond the still zone, per second.
    pub place: f64,
    /// One width off the preferred width, per second.
    pub width: f64,
    /// Each eased move; 0 for a path that is not planned in moves.
    pub each_move: f64,
    /// Each second of an eased move, likewise.
    pub moving: f64,
}

/// What is asked of one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct AskedFrame {
    /// Timeline seconds to the next frame; for the last one, how long it stays.
    pub step_secs: f64,
    /// How far a still window is moved by what it rides on, right and down.
    pub ride_px: (f64, f64),
    /// Boxes that should lie inside, clear of the insets.
    pub boxes: Vec<WishedBox>,
    /// The point that should be at its place.
    pub point: Option<PlacedPoint>,
    /// How much the point counts: the mean weight of the boxes.
    pub weight: f64,
    /// How much the preferred width counts: 1, or 0 where the subject is unseen.
    pub width_share: f64,
    /// Whether the subject is let go here: boxes and point cost nothing, and count in the outcome all the same.
    pub is_let_go: bool,
    /// The window, if it is fixed by hand.
    pub pin: Option<Window>,
    /// What the window stays clear of, in the order of the segment's sides; none where it is not there.
    pub keep_outs: Vec<Option<Region>>,
    /// The things that clauses are on, where they are seen.
    pub clauses: Vec<ClauseBox>,
}

/// A thing that a client has a clause on, at a frame at which it is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClauseBox {
    /// Where it is, and what its clause asks there.
    pub asked: RequiredBox,
    /// Whether the path was planned to keep it here, as a hard limit. A clause that is kept without asking for it asks for
    /// nothing.
    pub is_required: bool,
}

impl Asked {
    /// What a request asks of a path that was planned by it, and is weighed so.
    #[must_use]
    pub fn of(request: &Request, planned: &Planned, weights: CostWeights) -> Self {
        let mut asked = Self::of_any(request, weights);
        for index in &planned.let_go {
            if let Some(frame) = asked.frames.get_mut(*index) {
                frame.is_let_go = true;
            }
        }
        for (frame, required) in asked.frames.iter_mut().zip(&planned.required) {
            for seen in &mut frame.clauses {
                seen.is_required = required.iter().any(|one| one.clause == seen.asked.clause);
            }
        }
        asked
    }

    /// What a request asks of any path that is weighed so: the subject is let go nowhere, and no clause has a time of its
    /// own.
    #[must_use]
    pub fn of_any(request: &Request, weights: CostWeights) -> Self {
        let (usable, insets) = (&request.usable, request.insets());
        let mut frames: Vec<AskedFrame> =
            (0..request.frame_count()).map(|index| AskedFrame::of(request, index)).collect();
        for pin in &request.pins {
            if let Some(frame) = frames.get_mut(pin.index) {
                frame.pin = Some(pin.window);
            }
        }
        Self {
            usable_px: [usable.left(), usable.top(), usable.width(), usable.height()],
            least_width_px: request.least_width,
            greatest_width_px: request.most_width.is_finite().then_some(request.most_width),
            preferred_width_px: request.preferred_width,
            reference_width_px: request.reference_width(),
            insets: [insets.left, insets.top, insets.right, insets.bottom],
            weights,
            frames,
        }
    }
}

impl CostWeights {
    /// Those of a path that no move is paid for.
    #[must_use]
    pub const fn without_moves(weights: Weights) -> Self {
        let Weights { acceleration, containment, place, width } = weights;
        Self { acceleration, containment, place, width, each_move: 0.0, moving: 0.0 }
    }
}

impl AskedFrame {
    fn of(request: &Request, index: usize) -> Self {
        let wish = &request.frames[index];
        let keep_outs = request.keep_outs.iter();
        let seen = |(number, clause): (usize, &Clause)| {
            let asked = clause.required(number, index)?;
            Some(ClauseBox { asked, is_required: false })
        };
        Self {
            step_secs: request.pace.step_secs(index),
            ride_px: request.ride_at(index),
            boxes: wish.boxes.clone(),
            point: wish.point,
            weight: wish.weight(),
            width_share: request.width_share(index),
            is_let_go: false,
            pin: None,
            keep_outs: keep_outs.map(|out| out.regions.get(index).copied().flatten()).collect(),
            clauses: request.clauses.iter().enumerate().filter_map(seen).collect(),
        }
    }
}
