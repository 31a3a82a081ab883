//! What a lens does to the shapes of things in a window, and what it costs to straighten it.

use super::crop_answer::CropQuestion;
use crate::{
    geometry::{Levelling, Raster, SourcePoint, Window},
    lens::{Between, Lens, Mapping, PossibleLenses, StraightView},
};
use serde::Serialize;

/// How much longer than wide round things that face the camera come out, away from the lens's axis, at places of a window; below
/// 1 where they come out flattened. Of a lens whose mapping is not known, the least and the greatest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StretchAnswer {
    /// In the middle of the window's left edge.
    pub left: Between,
    /// In its middle.
    pub middle: Between,
    /// In the middle of its right edge.
    pub right: Between,
    /// In the middle of its upper edge.
    pub top: Between,
    /// In the middle of its lower edge.
    pub bottom: Between,
    /// In the corner where it is most.
    pub corner: Between,
    /// What the middles of the window's edges are good for: `faces`, `watch` or `no-people`.
    pub good_for: &'static str,
    /// How many px a degree the picture has at the worst corner, for each that it has on the axis: along the way that has fewer.
    pub density_at_corner: Between,
}

/// Up to here faces are fine at a place, and up to there they are to be watched; beyond, no people (common practice, no source).
const FACES: f64 = 1.10;
const WATCH: f64 = 1.25;

impl StretchAnswer {
    /// Of a window of a levelled picture; `None` where a lens draws nothing at one of the places.
    pub(super) fn of(lenses: &PossibleLenses, level: &Levelling, window: &Window) -> Option<Self> {
        let at = |x: f64, y: f64| level.displayed(SourcePoint { x, y });
        let (middle_x, middle_y) = (window.centre_x(), window.centre_y());
        let ratio = |point: SourcePoint| {
            lenses.every(|lens| lens.local_scale(point).map(|scale| scale.shape_ratio()))
        };
        let corners = level.displayed_corners(window);
        let left = ratio(at(window.left(), middle_y))?;
        let right = ratio(at(window.right(), middle_y))?;
        let top = ratio(at(middle_x, window.top()))?;
        let bottom = ratio(at(middle_x, window.bottom()))?;
        let at_corners: Option<Vec<Between>> = corners.iter().map(|point| ratio(*point)).collect();
        let corner =
            at_corners?.into_iter().max_by(|a, b| off_round(a).total_cmp(&off_round(b)))?;
        let density = |lens: &Lens| {
            let each: Option<Vec<f64>> = corners
                .iter()
                .map(|point| lens.density_over_axis(*point).map(|(a, b)| a.min(b)))
                .collect();
            each?.into_iter().reduce(f64::min)
        };
        let worst = [left, right, top, bottom].iter().map(off_round).fold(1.0, f64::max);
        Some(Self {
            left,
            middle: ratio(at(middle_x, middle_y))?,
            right,
            top,
            bottom,
            corner,
            good_for: match worst {
                worst if worst <= FACES => "faces",
                worst if worst <= WATCH => "watch",
                _ => "no-people",
            },
            density_at_corner: lenses.every(density)?,
        })
    }
}

/// How far from round things come out at worst, above 1 either way.
fn off_round(ratio: &Between) -> f64 {
    ratio.to().max(ratio.from().recip())
}

/// What a window of a fisheye's picture is as a straight-line view in a delivered raster.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct StraightAnswer {
    /// Its horizontal field of view in degrees.
    pub fov_horizontal_degrees: f64,
    /// Delivered px for each source px in the middle, along the way that has fewer source px.
    pub enlargement_middle: f64,
    /// The same where it is most, of the corners and the middles of the edges.
    pub enlargement_worst: f64,
    /// How much longer than wide things come out where that is most.
    pub stretch_worst: f64,
    /// Whether all corners have a picture.
    pub is_whole: bool,
}

impl StraightAnswer {
    /// Of a delivered raster; `None` for a lens that is straight-line already or not known, for a window that is levelled, and
    /// where there is no such view.
    pub(super) fn of(
        question: &CropQuestion,
        lenses: &PossibleLenses,
        window: &Window,
        delivered: Raster,
    ) -> Option<Self> {
        let lens = lenses.known().filter(|lens| *lens.mapping() != Mapping::Rectilinear)?;
        if question.level_degrees.abs() > 0.0 {
            return None;
        }
        let view = StraightView::of(lens, window, delivered).ok()?;
        let places = view.nine_places();
        let seen: Vec<_> = places.iter().flatten().collect();
        // A px of the file carries less than one of the sensor behind an inside crop.
        let factor = question.inside_crop.linear_factor();
        let enlargement = |source_px: f64| 1.0 / (source_px * factor);
        Some(Self {
            fov_horizontal_degrees: view.horizontal_field().to_degrees(),
            enlargement_middle: enlargement(places[4]?.least_source_px),
            enlargement_worst: seen
                .iter()
                .map(|sampling| enlargement(sampling.least_source_px))
                .fold(0.0, f64::max),
            stretch_worst: seen.iter().map(|sampling| sampling.stretch).fold(1.0, f64::max),
            is_whole: seen.len() == places.len(),
        })
    }
}
