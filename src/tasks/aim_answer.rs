//! On location, without any file but one still at most: where a camera has to be turned or moved.

use super::TaskError;
use crate::{
    delivery::{BlockedZones, Limit, Limits},
    geometry::{InsideCrop, Raster, Shape, largest_window},
    lens::{Between, FieldOfView, PossibleLenses, SaidMapping},
    media::luma_plane,
    mount::{StillRows, WindowRoom},
    sharpness::Recording,
};
use serde::Serialize;
use std::path::Path;

/// What is seen in a still, and what one shape asks of it.
#[derive(Debug, Clone, PartialEq)]
pub struct AimQuestion {
    /// The still as it is shown.
    pub still: Raster,
    /// The window's shape.
    pub shape: Shape,
    /// The raster it is delivered in, if that is said.
    pub delivered: Option<Raster>,
    /// How the lens maps angles.
    pub mapping: SaidMapping,
    /// What the camera cropped before it wrote the still.
    pub inside_crop: InsideCrop,
    /// Its fields of view, of the picture without an inside crop; one at least.
    pub fields_of_view: Vec<FieldOfView>,
    /// Shares of the window that are blocked at its top and its bottom.
    pub blocked: (f64, f64),
    /// The subject's top row, and the least share of the window's height above it; what is blocked there counts where it is more.
    pub subject_top: Option<(f64, f64)>,
    /// The subject's bottom row, and the least share of the window's height below it, likewise.
    pub subject_bottom: Option<(f64, f64)>,
    /// The horizon's row, and the least share of the window's height above it, if it has to be inside.
    pub horizon: Option<(f64, f64)>,
    /// The row up to which a part of the rig reaches from below.
    pub rig_top: Option<f64>,
    /// How far away the subject is, in metres.
    pub distance_m: Option<f64>,
    /// How many degrees below level the camera looks.
    pub tilt_down_degrees: Option<f64>,
}

/// What to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AimAnswer {
    /// The lens in words.
    pub lens: String,
    /// Whether the largest window of the shape keeps everything as the camera stands.
    pub fits: bool,
    /// Left, top, width and height of that window, px; none if it does not.
    pub full_window_px: Option<[f64; 4]>,
    /// From where to where its top may be, px.
    pub top_from_to_px: Option<[f64; 2]>,
    /// How many px it lacks up and down; 0 if it fits.
    pub missing_px: f64,
    /// By how many degrees to tilt further down so that it does (up if below 0); none if no tilt does, or none is needed.
    pub tilt_down_degrees: Option<Between>,
    /// By how many metres to raise the camera (lower it if below 0); none if nothing does, none is needed, or the distance or
    /// the tilt is not known.
    pub raise_m: Option<Between>,
    /// Whether distance and tilt are known, so that a height could be told.
    pub knows_heights: bool,
    /// How many px the subject with its room is taller than the largest window, which no tilt and no height mends; 0 if it is not.
    pub too_tall_px: f64,
    /// The largest window that keeps everything as the camera stands: left, top, width and height, px; none if that would be
    /// narrower than `least_width_px`.
    pub smaller_window_px: Option<[f64; 4]>,
    /// The least width of a window that is offered, px: that of the greatest enlargement; without a delivered raster, half of
    /// the largest.
    pub least_width_px: f64,
    /// Enlargement of the largest window, and of the smaller one, where a delivered raster is said.
    pub enlargements: Option<[Option<f64>; 2]>,
}

/// The least share of the largest window's width that is worth having where no delivered raster says how large it has to be.
/// Chosen: half is what the film's master and a quarter of its px are apart.
const LEAST_OF_THE_LARGEST: f64 = 0.5;

/// Answers it.
///
/// # Errors
/// [`TaskError::Lens`] without a field of view or with some that disagree, [`TaskError::Mount`] for rows that are not in
/// the still, and [`TaskError::ShapesDiffer`] if the delivered raster is of another shape.
pub fn aim_answer(question: &AimQuestion) -> Result<AimAnswer, TaskError> {
    if let Some(delivered) = question.delivered.filter(|raster| raster.shape() != question.shape) {
        return Err(TaskError::ShapesDiffer { delivered, shape: question.shape });
    }
    let inside_factor = question.inside_crop.linear_factor();
    let lenses = PossibleLenses::new(question.still, question.mapping, &question.fields_of_view)?
        .behind_inside_crop(inside_factor);
    let recording = Recording { inside_factor, ..Recording::default() };
    let greatest = Limits::default().number(Limit::GreatestEnlargement);
    let least_width_px = match question.delivered {
        Some(delivered) => recording.least_px(delivered.width(), greatest),
        None => LEAST_OF_THE_LARGEST * largest_window(question.still, question.shape).0,
    };
    let (top, bottom) = question.blocked;
    let rows = StillRows {
        lenses,
        shape: question.shape,
        least_width_px,
        blocked: BlockedZones { top, bottom, ..BlockedZones::default() },
        subject_top: question.subject_top,
        subject_bottom: question.subject_bottom,
        horizon: question.horizon,
        rig_top: question.rig_top,
        distance_m: question.distance_m,
        tilt_down: question.tilt_down_degrees.map(f64::to_radians),
    };
    let answer = rows.answer()?;
    let px = |room: &WindowRoom| room.window().map(|w| [w.left(), w.top(), w.width(), w.height()]);
    let (full, smaller) = (px(&answer.full), px(&answer.smaller));
    let enlarged = |window: Option<[f64; 4]>| {
        Some(recording.enlargement(question.delivered?.width(), window?[2]))
    };
    Ok(AimAnswer {
        lens: lenses.words(),
        fits: full.is_some(),
        full_window_px: full,
        top_from_to_px: match answer.full {
            WindowRoom::Fits { top: (from, to), .. } => Some([from, to]),
            WindowRoom::Lacks(_) => None,
        },
        missing_px: match answer.full {
            WindowRoom::Fits { .. } => 0.0,
            WindowRoom::Lacks(lack) => lack.down_px,
        },
        tilt_down_degrees: answer.tilt_down_by.map(|tilt| tilt.to_degrees()),
        raise_m: answer.raise_by_m,
        knows_heights: question.distance_m.is_some()
            && (question.tilt_down_degrees.is_some() || question.horizon.is_some()),
        too_tall_px: answer.too_tall_px,
        smaller_window_px: smaller,
        least_width_px,
        enlargements: question.delivered.map(|_| [enlarged(full), enlarged(smaller)]),
    })
}

/// The size of a still as it is shown.
///
/// # Errors
/// [`TaskError::Still`] if it cannot be read.
pub fn still_raster(path: &Path) -> Result<Raster, TaskError> {
    let unread = |source| TaskError::Still { path: path.to_owned(), source };
    let plane = luma_plane(path).map_err(unread)?;
    // A still that could be read has a size that a raster can have.
    let side = |px: usize| u32::try_from(px).unwrap_or(u32::MAX);
    Ok(Raster::new(side(plane.width_px()), side(plane.height_px()))?)
}
