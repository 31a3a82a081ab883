use super::{Ask, Must, ShapeFigures, figures::recording};
use crate::{
    capture::{CaptureMode, SlowMotion, WayUp},
    delivery::{Deliverable, Limits},
    geometry::Levelling,
    lens::{Lens, Shake, ShakeBudget},
    timecode::FrameRate,
};

/// How a mode stands to one must-have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Answer {
    /// It gives it.
    Met,
    /// It does not; by what factor it falls short, above 1 ([`Ask::shortfall`]); infinite where nothing can be had at all.
    Missed {
        /// The factor.
        shortfall: f64,
    },
    /// It does by one mapping of the lens and not by the other, and which the lens has is not known.
    DependsOnLens,
    /// A field of view is needed, and none is known.
    NoFieldOfView,
}

/// One must-have of one mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// What the mode gives: the least and the greatest where its lens is not known, both the same else; `None` where it cannot
    /// be told, or nothing can be had.
    pub value: Option<(f64, f64)>,
    /// How that stands to the limit.
    pub answer: Answer,
}

/// A mode, one way up, held against all that is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldMode {
    /// The mode.
    pub mode: CaptureMode,
    /// Which way up.
    pub way_up: WayUp,
    /// How slow it can be played.
    pub slow_motion: SlowMotion,
    /// What each deliverable gets, in their order.
    pub shapes: Vec<ShapeFigures>,
    /// Each must-have, in their order.
    pub held: Vec<Held>,
}

impl HeldMode {
    /// Whether everything is met.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.held.iter().all(|held| held.answer == Answer::Met)
    }

    /// The greatest enlargement of any deliverable.
    #[must_use]
    pub fn worst_enlargement(&self) -> f64 {
        self.shapes.iter().map(|shape| shape.softness.enlargement).fold(0.0, f64::max)
    }

    /// The places of the must-haves that are not met.
    pub fn unmet(&self) -> impl Iterator<Item = usize> + '_ {
        let unmet = |(place, held): (usize, &Held)| (held.answer != Answer::Met).then_some(place);
        self.held.iter().enumerate().filter_map(unmet)
    }

    /// The factor by which the worst of them falls short; what cannot be judged counts as the limit itself.
    #[must_use]
    pub fn worst_shortfall(&self) -> f64 {
        let shortfall = |held: &Held| match held.answer {
            Answer::Missed { shortfall } => shortfall,
            _ => 1.0,
        };
        self.held.iter().map(shortfall).fold(1.0, f64::max)
    }
}

/// Every mode against everything that is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What is asked, in the order of the brief.
    pub musts: Vec<Must>,
    /// The modes in the order of the kit, each as often as it may be mounted.
    pub modes: Vec<HeldMode>,
}

/// What is asked of every mode.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    /// The rate of the timeline.
    pub timeline_rate: FrameRate,
    /// What is to be delivered, each with its limits.
    pub deliverables: &'a [(Deliverable, Limits)],
    /// What has to be given; of deliverables that are among those above.
    pub musts: &'a [Must],
    /// The ways up that are looked at.
    pub ways_up: &'a [WayUp],
}

impl Comparison {
    /// Holds every mode against all that is asked, each way up that is asked about.
    #[must_use]
    pub fn of(modes: &[CaptureMode], asked: &Asked<'_>) -> Self {
        let both = |mode: &CaptureMode| {
            // A square is the same either way.
            let is_square = mode.raster.width_px() == mode.raster.height_px();
            let ways = if is_square {
                &asked.ways_up[..asked.ways_up.len().min(1)]
            } else {
                asked.ways_up
            };
            ways.iter().map(|way_up| held_mode(mode, *way_up, asked)).collect::<Vec<_>>()
        };
        Self { musts: asked.musts.to_vec(), modes: modes.iter().flat_map(both).collect() }
    }
}

fn held_mode(mode: &CaptureMode, way_up: WayUp, asked: &Asked<'_>) -> HeldMode {
    let slow_motion = SlowMotion::of(mode.rate, asked.timeline_rate);
    let figures = |(deliverable, limits): &(Deliverable, Limits)| {
        ShapeFigures::of(mode, way_up, deliverable, limits)
    };
    let shapes: Vec<ShapeFigures> = asked.deliverables.iter().map(figures).collect();
    let hold = |must: &Must| {
        let shape = must.ask.deliverable().and_then(|name| {
            let place = shapes.iter().position(|shape| shape.deliverable == name)?;
            Some((&shapes[place], &asked.deliverables[place].0))
        });
        match (&must.ask, shape) {
            (Ask::SlowMotion { .. }, _) => held(&must.ask, slow_motion.factor()),
            (Ask::Enlargement { .. }, Some((shape, _))) => {
                held(&must.ask, shape.softness.enlargement)
            }
            (Ask::SpareAcross { .. }, Some((shape, _))) => held(&must.ask, shape.spare_across()),
            (Ask::SpareDown { .. }, Some((shape, _))) => held(&must.ask, shape.spare_down()),
            (Ask::Steady { shake, .. }, Some((shape, deliverable))) => {
                steady(&must.ask, shake, &Mounted { mode, way_up, shape, deliverable })
            }
            // A must-have of a deliverable that there is not was told when the brief was read.
            (_, None) => Held { value: None, answer: Answer::Missed { shortfall: f64::INFINITY } },
        }
    };
    let held = asked.musts.iter().map(hold).collect();
    HeldMode { mode: mode.clone(), way_up, slow_motion, shapes, held }
}

/// What a division leaves beyond a limit.
const ROUNDING: f64 = 1e-9;

fn held(ask: &Ask, value: f64) -> Held {
    let shortfall = ask.shortfall(value);
    let is_met = shortfall <= 1.0 + ROUNDING;
    let answer = if is_met { Answer::Met } else { Answer::Missed { shortfall } };
    Held { value: Some((value, value)), answer }
}

/// A deliverable in a mode, one way up.
struct Mounted<'a> {
    mode: &'a CaptureMode,
    way_up: WayUp,
    shape: &'a ShapeFigures,
    deliverable: &'a Deliverable,
}

impl Mounted<'_> {
    /// The least enlargement that a shaking mount allows in the middle of the frame; `None` if no window passes.
    fn least_enlargement(&self, lens: &Lens, shake: &Shake) -> Option<f64> {
        let ShapeFigures { shown, window, .. } = self.shape;
        let level = Levelling::none(*shown);
        let budget = ShakeBudget::of(lens, &level, window, shake);
        // The largest that the frame has may shake without leaving it: then it is not made any larger.
        let width = budget.largest_width_px?.min(window.width());
        Some(recording(self.mode).enlargement(self.deliverable.raster.width(), width))
    }
}

/// A shaking mount, through every mapping that the lens may have.
fn steady(ask: &Ask, shake: &Shake, mounted: &Mounted<'_>) -> Held {
    let Some(view) = &mounted.mode.lens else {
        return Held { value: None, answer: Answer::NoFieldOfView };
    };
    let view = view
        .shown(mounted.way_up.orientation())
        .behind_inside_crop(mounted.mode.inside_crop.linear_factor());
    let values: Vec<Option<f64>> =
        view.iter().map(|lens| mounted.least_enlargement(lens, shake)).collect();
    let answers: Vec<Answer> = values
        .iter()
        .map(|value| match value {
            Some(value) => held(ask, *value).answer,
            None => Answer::Missed { shortfall: f64::INFINITY },
        })
        .collect();
    let met = answers.iter().filter(|answer| **answer == Answer::Met).count();
    let answer = if met == answers.len() {
        Answer::Met
    } else if met > 0 {
        Answer::DependsOnLens
    } else {
        // By either mapping it is missed; the nearer one is what relaxing has to reach at least.
        let shortfall = |answer: &Answer| match answer {
            Answer::Missed { shortfall } => *shortfall,
            _ => f64::INFINITY,
        };
        Answer::Missed { shortfall: answers.iter().map(shortfall).fold(f64::INFINITY, f64::min) }
    };
    let known: Option<Vec<f64>> = values.into_iter().collect();
    let value = known.and_then(|known| {
        let least = known.iter().copied().reduce(f64::min)?;
        Some((least, known.iter().copied().fold(least, f64::max)))
    });
    Held { value, answer }
}
