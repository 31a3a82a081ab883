use super::{Clause, MoveRules, Pace, Reason, Way, missing_px};
use crate::geometry::{Raster, Region, Rounding, Shape, SourcePoint, Window, largest_window};
use std::ops::Range;

/// Everything the planner is told about one run of frames and one shape. Lengths are px of the displayed
/// frame; frames are counted from the run's first.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The whole frame.
    pub raster: Raster,
    /// The part of it that windows may use.
    pub usable: Region,
    /// The exact shape of every window.
    pub shape: Shape,
    /// The least width, which the greatest enlargement allows.
    pub least_width: f64,
    /// The most width that is wanted, whatever there is room for; infinite is no such limit.
    pub most_width: f64,
    /// The width wanted if nothing speaks against it; the reference that costs are measured in.
    pub preferred_width: f64,
    /// How a held window is rounded. One of a levelled picture, and one that rides, is not.
    pub rounding: Rounding,
    /// How much timeline time passes from each frame to the next.
    pub pace: Pace,
    /// The room kept on both sides of a wished box, as shares of the window: across, then down.
    pub margins: (f64, f64),
    /// The parts of the window that something else will cover.
    pub blocked: Insets,
    /// What is wished at each frame; one entry a frame, at least one.
    pub frames: Vec<FrameWish>,
    /// Whether nothing is known of the subject at a frame though it is elsewhere. No width is wished there either,
    /// so that the window does not change its own and come back. Empty is nowhere; else one entry a frame.
    pub unseen: Vec<bool>,
    /// Windows fixed by hand.
    pub pins: Vec<Pin>,
    /// What the window stays clear of.
    pub keep_outs: Vec<KeepOut>,
    /// A client's conditions; each has to be kept.
    pub clauses: Vec<Clause>,
    /// How the picture is levelled; everything else here is in px of the levelled picture.
    pub roll: Roll,
    /// What counts as standing still: px by which a still window moves, across and down, at each frame. Empty
    /// is a window that stands still in the picture; else one entry a frame. Speeds and accelerations are those of
    /// the window less this.
    pub ride: Vec<(f64, f64)>,
    /// The most that a subject smears, if it is known; nothing is followed that smears by too much.
    pub smear: Option<Smear>,
    /// Limits and costs.
    pub rules: Rules,
}

/// How far a subject moves across the picture while a frame is exposed, where it is quickest. A window that follows
/// holds that blur still in its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smear {
    /// Frames after the run's first.
    pub index: usize,
    /// How far, in px of the capture.
    pub px: f64,
    /// Above which share of the window's width the window holds and does not follow; `None` is off.
    pub hold_above: Option<f64>,
}

impl Request {
    /// The plainest request: the whole frame may be used, the largest window is preferred and a window of one
    /// px allowed, nothing is blocked, pinned, kept out, levelled or ridden on, no margin is kept, and held
    /// windows are rounded to even px.
    #[must_use]
    pub fn plain(
        (raster, shape): (Raster, Shape),
        pace: Pace,
        frames: Vec<FrameWish>,
        rules: Rules,
    ) -> Self {
        let (preferred_width, _) = largest_window(raster, shape);
        Self {
            raster,
            usable: Region::whole(raster),
            shape,
            least_width: 1.0,
            most_width: f64::INFINITY,
            preferred_width,
            rounding: Rounding::Even,
            pace,
            margins: (0.0, 0.0),
            blocked: Insets::default(),
            frames,
            unseen: Vec::new(),
            pins: Vec::new(),
            keep_outs: Vec::new(),
            clauses: Vec::new(),
            roll: Roll::None,
            ride: Vec::new(),
            smear: None,
            rules,
        }
    }

    /// The largest window width of the shape in the usable area, level at every frame, that is no more than is wanted.
    #[must_use]
    pub fn greatest_width(&self) -> f64 {
        let upright = self.usable.width().min(self.shape.width_for(self.usable.height()));
        let turned = |angle: f64| {
            let (sine, cosine) = (angle.sin().abs(), angle.cos().abs());
            let high = self.shape.height_for(1.0);
            (self.usable.width() / (cosine + high * sine))
                .min(self.usable.height() / (sine + high * cosine))
        };
        let room = match &self.roll {
            Roll::None => upright,
            Roll::Fixed(angle) => upright.min(turned(*angle)),
            Roll::EachFrame(angles) => {
                angles.iter().map(|angle| turned(*angle)).fold(upright, f64::min)
            }
        };
        room.min(self.most_width)
    }

    /// The same request without a most width.
    #[must_use]
    pub fn of_any_width(&self) -> Self {
        Self { most_width: f64::INFINITY, ..self.clone() }
    }

    /// The same request without a limit on travel.
    #[must_use]
    pub fn of_any_travel(&self) -> Self {
        let rules = Rules { greatest_travel: None, ..self.rules };
        Self { rules, ..self.clone() }
    }

    /// Whether the picture is not levelled and a still window stands still in it.
    #[must_use]
    pub fn is_upright_and_fixed(&self) -> bool {
        self.roll == Roll::None && self.ride.is_empty()
    }

    /// The parts of the window that wished boxes stay clear of: margins and blocked zones together.
    #[must_use]
    pub fn insets(&self) -> Insets {
        let ((across, down), blocked) = (self.margins, &self.blocked);
        Insets {
            left: blocked.left + across,
            top: blocked.top + down,
            right: blocked.right + across,
            bottom: blocked.bottom + down,
        }
    }

    /// The width that costs are measured in: the preferred one, as far as there is room for it.
    #[must_use]
    pub fn reference_width(&self) -> f64 {
        self.preferred_width.clamp(1.0, self.greatest_width().max(1.0))
    }

    /// Where a window that stands still is at a frame, against where it is on average: 0 without a ride.
    #[must_use]
    pub fn ride_at(&self, index: usize) -> (f64, f64) {
        self.ride.get(index).copied().unwrap_or_default()
    }

    /// How much the preferred width counts at a frame: 1, or 0 where the subject is unseen.
    #[must_use]
    pub fn width_share(&self, index: usize) -> f64 {
        if self.unseen.get(index).copied().unwrap_or(false) { 0.0 } else { 1.0 }
    }

    /// Why nothing is followed in a window of this width, if the subject smears by too much for that.
    pub(super) fn too_smeared(&self, width: f64) -> Option<Reason> {
        let Smear { index, px, hold_above } = self.smear?;
        let (share, limit) = (px / width, hold_above?);
        (share > limit).then_some(Reason::TooSmearedToFollow { index, px, share, limit })
    }

    /// The pin at a frame, if there is one.
    #[must_use]
    pub fn pin_at(&self, index: usize) -> Option<&Pin> {
        self.pins.iter().find(|pin| pin.index == index)
    }

    /// The request for some of its frames, which are then counted from the first of them.
    #[must_use]
    pub fn part(&self, frames: Range<usize>) -> Self {
        let pins = self.pins.iter().filter(|pin| frames.contains(&pin.index));
        let keep_outs = self
            .keep_outs
            .iter()
            .map(|keep_out| KeepOut { regions: within(&keep_out.regions, &frames) });
        let clauses = self.clauses.iter().map(|clause| clause.part(&frames));
        let roll = match &self.roll {
            Roll::EachFrame(angles) => Roll::EachFrame(within(angles, &frames)),
            Roll::None | Roll::Fixed(_) => self.roll.clone(),
        };
        Self {
            frames: within(&self.frames, &frames),
            unseen: within(&self.unseen, &frames),
            pace: self.pace.part(frames.clone()),
            pins: pins.map(|pin| Pin { index: pin.index - frames.start, ..*pin }).collect(),
            keep_outs: keep_outs.collect(),
            clauses: clauses.collect(),
            roll,
            ride: within(&self.ride, &frames),
            smear: self
                .smear
                .filter(|smear| frames.contains(&smear.index))
                .map(|smear| Smear { index: smear.index - frames.start, ..smear }),
            ..*self
        }
    }

    /// How many frames the run has.
    #[must_use]
    pub const fn frame_count(&self) -> usize {
        self.frames.len()
    }
}

/// What a list has for some frames; it may end before them.
pub(super) fn within<T: Clone>(list: &[T], frames: &Range<usize>) -> Vec<T> {
    let last = list.len();
    list[frames.start.min(last)..frames.end.min(last)].to_vec()
}

/// Shares of a window, from its edges inwards.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Insets {
    /// Share of the width from the left.
    pub left: f64,
    /// Share of the height from the top.
    pub top: f64,
    /// Share of the width from the right.
    pub right: f64,
    /// Share of the height from the bottom.
    pub bottom: f64,
}

/// How the picture is levelled: by how much the levelled picture is turned clockwise against the displayed one,
/// in radians, about the frame's centre. The displayed frame is then a turned rectangle in it, and a window lies inside that.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Roll {
    /// Not at all.
    #[default]
    None,
    /// By the same angle at every frame.
    Fixed(f64),
    /// By an angle of its own at each frame; frames beyond the list are not turned.
    EachFrame(Vec<f64>),
}

impl Insets {
    /// The same share on both sides, across and down.
    #[must_use]
    pub const fn of_margins((across, down): (f64, f64)) -> Self {
        Self { left: across, top: down, right: across, bottom: down }
    }
}

impl Roll {
    /// The angle at a frame of the run, in radians.
    #[must_use]
    pub fn at(&self, index: usize) -> f64 {
        match self {
            Self::None => 0.0,
            Self::Fixed(angle) => *angle,
            Self::EachFrame(angles) => angles.get(index).copied().unwrap_or(0.0),
        }
    }
}

/// A place in a window, as shares of its width and height from its top left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Share of the width.
    pub across: f64,
    /// Share of the height.
    pub down: f64,
}

impl Place {
    /// The middle of the window.
    pub const MIDDLE: Self = Self { across: 0.5, down: 0.5 };
}

/// A point of the picture and where in the window it is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedPoint {
    /// The point.
    pub at: SourcePoint,
    /// Where in the window.
    pub place: Place,
}

/// What is wished at one frame; empty where nothing is tracked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FrameWish {
    /// Boxes that should lie inside the window, clear of its insets.
    pub boxes: Vec<WishedBox>,
    /// Boxes that have to lie inside: hard limits, as a client's condition is.
    pub required: Vec<RequiredBox>,
    /// The point that should be at its place.
    pub point: Option<PlacedPoint>,
}

impl FrameWish {
    /// One box, fully trusted, with its middle at the wanted place.
    #[must_use]
    pub fn for_box(region: Region) -> Self {
        let at = SourcePoint { x: region.centre_x(), y: region.centre_y() };
        Self {
            boxes: vec![WishedBox { region, weight: 1.0 }],
            required: Vec::new(),
            point: Some(PlacedPoint { at, place: Place::MIDDLE }),
        }
    }

    /// How much this frame counts: the mean weight of its boxes, 0 without any.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a frame has a handful of boxes")]
    pub fn weight(&self) -> f64 {
        let sum: f64 = self.boxes.iter().map(|wished| wished.weight).sum();
        sum / self.boxes.len().max(1) as f64
    }
}

/// A box that should lie inside the window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WishedBox {
    /// The box.
    pub region: Region,
    /// How far it is trusted, above 0 to 1.
    pub weight: f64,
}

/// A box that has to lie inside the window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RequiredBox {
    /// The box.
    pub region: Region,
    /// How far it stays from the window's edges, as shares of the window.
    pub clear: Insets,
    /// The greatest width the window may have there, in px, so that the box is delivered large enough.
    pub greatest_width: Option<f64>,
    /// Which of the request's clauses asks for it, from 0.
    pub clause: usize,
}

impl RequiredBox {
    /// Whether a window keeps it, but for what rounding a pin by hand may cost.
    pub(super) fn is_kept(&self, window: &Window) -> bool {
        const ROUNDING_PX: f64 = 1.0;
        let (across, down) = missing_px(&self.region, window, &self.clear);
        across.max(down) <= ROUNDING_PX
            && self.greatest_width.is_none_or(|most| window.width() <= most + ROUNDING_PX)
    }
}

/// A window fixed by hand at a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pin {
    /// Frames after the run's first.
    pub index: usize,
    /// The window.
    pub window: Window,
}

/// Something that the window stays clear of: a box for each frame, or none where it is not there.
#[derive(Debug, Clone, PartialEq)]
pub struct KeepOut {
    /// One entry a frame.
    pub regions: Vec<Option<Region>>,
}

/// Limits and costs of a plan; each is one of the user's limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// How far the point may be off its place before it costs: share of the window, each way.
    pub still_zone: f64,
    /// Timeline seconds for one window width below which a pan is a caution; `None` is off.
    pub pan_caution: Option<f64>,
    /// Timeline seconds for one window width that no pan goes below; `None` is off.
    pub pan_hard: Option<f64>,
    /// How many times as far as it must a moving window may travel, above 1; `None` is off.
    pub greatest_travel: Option<f64>,
    /// Fits: the least share of frames with every box inside.
    pub fits_share: f64,
    /// Fits: the greatest shortfall, share of the window's width.
    pub fits_short: f64,
    /// Tight: the least share of frames with every box inside.
    pub tight_share: f64,
    /// Tight: the middle share of each box that is inside at every frame.
    pub tight_middle: f64,
    /// How long a subject that is let go is wholly inside, at least, in timeline seconds; `None` never lets one go.
    pub least_inside_secs: Option<f64>,
    /// What a path costs.
    pub weights: Weights,
    /// How eased moves are made.
    pub moves: MoveRules,
}

impl Rules {
    /// What a path of this way is weighed by: moves have a cost of their own for what is off its place.
    #[must_use]
    pub const fn weights_of(&self, way: Way) -> Weights {
        match way {
            Way::Hold | Way::Follow => self.weights,
            Way::Moves => Weights { place: self.moves.place, ..self.weights },
        }
    }
}

/// The costs of a follow path, against one window width of travel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// Squared acceleration, in s³ per width.
    pub acceleration: f64,
    /// One width of shortfall, per second.
    pub containment: f64,
    /// One width off the wanted place, beyond the still zone, per second.
    pub place: f64,
    /// One width off the preferred width, per second.
    pub width: f64,
}
