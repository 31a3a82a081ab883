//! Every capture mode of a kit against what a job asks.

use super::{TaskError, kit::Prepared};
use crate::{
    brief::{Answer, Ask, Asked, Comparison, Held, HeldMode, ShapeFigures, Verdict},
    geometry::{InsideCrop, Levelling, SpareRoom},
    lens::{Between, Span},
    sharpness::{Softness, Viewing},
    timecode::FrameRate,
};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Which modes give what is asked, and every figure that decided it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModesAnswer {
    /// The brief.
    pub brief: PathBuf,
    /// The kit.
    pub kit: PathBuf,
    /// The rate of the timeline.
    pub timeline_rate: FrameRate,
    /// What is asked, in the order of the brief.
    pub musts: Vec<MustAnswer>,
    /// Whether some mode gives all of it.
    pub passes: bool,
    /// The modes that pass, best first; where none does, the nearest misses, nearest first. Places in `modes`, from 0.
    pub ranked: Vec<usize>,
    /// Every mode, each way up that is asked about, in the order of the kit.
    pub modes: Vec<ModeAnswer>,
    /// Where it will be seen.
    pub viewers: Vec<ViewerAnswer>,
}

/// Where what is delivered will be seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ViewerAnswer {
    /// The name in the brief.
    pub name: String,
    /// How many px across the picture an eye tells apart there.
    pub resolvable_px: f64,
}

impl ViewerAnswer {
    fn of((name, viewing): &(String, Viewing)) -> Self {
        Self { name: name.clone(), resolvable_px: viewing.resolvable_px() }
    }
}

/// Something that is asked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MustAnswer {
    /// What: `enlargement`, `steady-enlargement`, `spare-across`, `spare-down` or `slow-motion`.
    pub what: &'static str,
    /// The deliverable that it is about, if it is about one.
    pub deliverable: Option<String>,
    /// The most (of an enlargement) or the least (of all else) that passes.
    pub limit: f64,
    /// The line of the brief.
    pub line: u64,
}

/// One mode, one way up.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModeAnswer {
    /// The camera.
    pub camera: String,
    /// The mode.
    pub mode: String,
    /// `upright` or `on its side`.
    pub way_up: String,
    /// The frame as it is shown.
    pub shown: String,
    /// How many frames it takes a second.
    pub rate: FrameRate,
    /// The capture rate over the timeline's.
    pub slow_motion: f64,
    /// The slowest playback with every frame new, in percent of real time.
    pub slowest_percent: f64,
    /// Whether real time takes frames evenly.
    pub is_whole_factor: bool,
    /// Bits of the file for each px of each frame; none if no bit rate is known.
    pub bits_per_px: Option<f64>,
    /// What it crops before it writes a file; none if nothing.
    pub inside_crop: Option<InsideCrop>,
    /// The lens in words; none if nothing is said of it.
    pub lens: Option<String>,
    /// Its field of view across the frame as it is shown, the inside crop taken off, in degrees.
    pub fov_across_degrees: Option<Between>,
    /// What each deliverable gets.
    pub shapes: Vec<ShapeAnswer>,
    /// Each thing that is asked, in the order of `musts`.
    pub held: Vec<HeldAnswer>,
    /// Whether it gives all of them.
    pub passes: bool,
    /// The greatest enlargement of any deliverable.
    pub worst_enlargement: f64,
}

/// What one deliverable gets from a mode: its largest window in the middle of the frame, not rounded.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShapeAnswer {
    /// The deliverable.
    pub deliverable: String,
    /// Width and height of the window, px.
    pub window_px: [f64; 2],
    /// Left, top, right and bottom room, px.
    pub spare_px: [f64; 4],
    /// Left and right together as a share of the frame's width.
    pub spare_across: f64,
    /// Top and bottom together as a share of the frame's height.
    pub spare_down: f64,
    /// Left, top, right and bottom room in degrees through the lens.
    pub spare_degrees: Option<[Between; 4]>,
    /// How soft it is.
    #[serde(flatten)]
    pub softness: Softness,
    /// For each viewer of the brief, in their order, whether its enlargement shows there.
    pub shows: Vec<bool>,
}

/// How a mode stands to something that is asked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HeldAnswer {
    /// What the mode gives; none where it cannot be told, or nothing can be had.
    pub value: Option<Between>,
    /// `met`, `missed`, `depends-on-lens` or `no-field-of-view`.
    pub answer: &'static str,
    /// By what factor it falls short, above 1, where it is missed.
    pub short_by_factor: Option<f64>,
    /// Another deliverable of the same shape that keeps the same limit, where an enlargement is missed.
    pub instead: Option<Instead>,
}

/// A smaller deliverable of the same shape.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Instead {
    /// Its name.
    pub deliverable: String,
    /// Its enlargement.
    pub enlargement: f64,
}

/// Holds every mode of a kit against a brief. Without a kit, the one that the brief names is read.
///
/// # Errors
/// [`TaskError::Problems`] with all that must be mended in both, [`TaskError::NoKit`] if none is named, and
/// [`TaskError::Shoot`] if one cannot be read at all.
pub fn compare_modes(brief: &Path, kit: Option<&Path>) -> Result<ModesAnswer, TaskError> {
    let prepared = Prepared::read(brief, kit)?;
    let deliverables = prepared.deliverables(None);
    let before = &prepared.brief.before;
    let asked = Asked {
        timeline_rate: prepared.brief.timeline_rate,
        deliverables: &deliverables,
        musts: &before.musts,
        ways_up: &before.ways_up(),
    };
    let comparison = Comparison::of(&prepared.modes, &asked);
    let (passes, ranked) = match comparison.verdict() {
        Verdict::Passes { ranked } => (true, ranked),
        Verdict::NonePasses { nearest } => (false, nearest),
    };
    Ok(ModesAnswer {
        brief: brief.to_owned(),
        kit: prepared.kit_path,
        timeline_rate: prepared.brief.timeline_rate,
        musts: comparison.musts.iter().map(|must| must_answer(&must.ask, must.line)).collect(),
        passes,
        ranked,
        modes: comparison
            .modes
            .iter()
            .map(|mode| mode_answer(mode, &comparison, &asked, &before.viewers))
            .collect(),
        viewers: before.viewers.iter().map(ViewerAnswer::of).collect(),
    })
}

fn must_answer(ask: &Ask, line: u64) -> MustAnswer {
    let what = match ask {
        Ask::Enlargement { .. } => "enlargement",
        Ask::Steady { .. } => "steady-enlargement",
        Ask::SpareAcross { .. } => "spare-across",
        Ask::SpareDown { .. } => "spare-down",
        Ask::SlowMotion { .. } => "slow-motion",
    };
    MustAnswer { what, deliverable: ask.deliverable().map(str::to_owned), limit: ask.limit(), line }
}

fn mode_answer(
    held: &HeldMode,
    comparison: &Comparison,
    asked: &Asked<'_>,
    viewers: &[(String, Viewing)],
) -> ModeAnswer {
    let (mode, slow) = (&held.mode, &held.slow_motion);
    let orientation = held.way_up.orientation();
    let lens = mode
        .lens
        .map(|lens| lens.shown(orientation).behind_inside_crop(mode.inside_crop.linear_factor()));
    let shows = |figures: &ShapeFigures, viewing: &Viewing| {
        let delivered =
            asked.deliverables.iter().find(|(other, _)| other.name == figures.deliverable);
        delivered.is_some_and(|(delivered, _)| {
            viewing.shows(figures.softness.enlargement, delivered.raster.width())
        })
    };
    let shape = |figures: &ShapeFigures| {
        let SpareRoom { left_px, top_px, right_px, bottom_px } = figures.spare;
        let level = Levelling::none(figures.shown);
        let degrees = |lens: &crate::lens::PossibleLenses| {
            lens.spare_angles(&level, &figures.window).map(|angle| angle.to_degrees())
        };
        ShapeAnswer {
            deliverable: figures.deliverable.clone(),
            window_px: [figures.window.width(), figures.window.height()],
            spare_px: [left_px, top_px, right_px, bottom_px],
            spare_across: figures.spare_across(),
            spare_down: figures.spare_down(),
            spare_degrees: lens.as_ref().map(degrees),
            softness: figures.softness.clone(),
            shows: viewers.iter().map(|(_, viewing)| shows(figures, viewing)).collect(),
        }
    };
    let answers = comparison.musts.iter().zip(&held.held);
    ModeAnswer {
        camera: mode.camera.clone(),
        mode: mode.name.clone(),
        way_up: held.way_up.to_string(),
        shown: orientation.shown_raster(mode.raster).to_string(),
        rate: mode.rate,
        slow_motion: slow.factor(),
        slowest_percent: slow.slowest_percent(),
        is_whole_factor: slow.is_whole(),
        bits_per_px: mode.bits_per_px(),
        inside_crop: (!mode.inside_crop.is_none()).then_some(mode.inside_crop),
        lens: lens.map(|lens| lens.words()),
        fov_across_degrees: lens.map(|lens| lens.field_of_view(Span::Horizontal).to_degrees()),
        shapes: held.shapes.iter().map(shape).collect(),
        held: answers.map(|(must, one)| held_answer(&must.ask, one, held, asked)).collect(),
        passes: held.passes(),
        worst_enlargement: held.worst_enlargement(),
    }
}

fn held_answer(ask: &Ask, held: &Held, mode: &HeldMode, asked: &Asked<'_>) -> HeldAnswer {
    let (answer, short_by_factor) = match held.answer {
        Answer::Met => ("met", None),
        Answer::Missed { shortfall } => ("missed", Some(shortfall).filter(|s| s.is_finite())),
        Answer::DependsOnLens => ("depends-on-lens", None),
        Answer::NoFieldOfView => ("no-field-of-view", None),
    };
    let is_missed = matches!(held.answer, Answer::Missed { .. });
    let instead = match ask {
        Ask::Enlargement { deliverable, at_most } if is_missed => {
            instead(deliverable, *at_most, mode, asked)
        }
        _ => None,
    };
    let value = held.value.and_then(|(least, greatest)| Between::all([least, greatest]));
    HeldAnswer { value, answer, short_by_factor, instead }
}

/// The largest other deliverable of the same shape that keeps the limit.
fn instead(name: &str, at_most: f64, mode: &HeldMode, asked: &Asked<'_>) -> Option<Instead> {
    let deliverables = || asked.deliverables.iter().map(|(deliverable, _)| deliverable);
    let shape = deliverables().find(|deliverable| deliverable.name == name)?.shape();
    deliverables()
        .zip(&mode.shapes)
        .filter(|(other, figures)| {
            other.shape() == shape && figures.softness.enlargement <= at_most
        })
        .max_by(|(one, _), (other, _)| one.raster.width().total_cmp(&other.raster.width()))
        .map(|(other, figures)| Instead {
            deliverable: other.name.clone(),
            enlargement: figures.softness.enlargement,
        })
}
