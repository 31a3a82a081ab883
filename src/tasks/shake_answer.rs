//! What a shaking mount takes of the room round a window, as an answer.

use super::{CropQuestion, TaskError, crop_answer::sides};
use crate::{
    geometry::{Levelling, Raster, Region, Window},
    lens::{Between, Lens, LensError, PossibleLenses, SaidMapping, Shake, ShakeBudget, Span},
    sharpness::Recording,
};
use serde::Serialize;

/// A lens in numbers: each is one, or both ends of a range where the mapping is unknown.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LensAnswer {
    /// How angles become places.
    pub mapping: &'static str,
    /// The lens, or those that it may be, in words.
    #[serde(skip)]
    pub words: String,
    /// The focal length in px of the capture.
    pub focal_px: Between,
    /// Field of view from the left edge to the right, as the file shows it.
    pub fov_horizontal_degrees: Between,
    /// From the top edge to the bottom.
    pub fov_vertical_degrees: Between,
    /// From corner to corner.
    pub fov_diagonal_degrees: Between,
}

impl LensAnswer {
    /// The numbers of a lens.
    #[must_use]
    pub fn of(lenses: &PossibleLenses) -> Self {
        let [horizontal, vertical, diagonal] =
            Span::ALL.map(|span| lenses.field_of_view(span).to_degrees());
        Self {
            mapping: lenses.known().map_or(SaidMapping::UNKNOWN, |lens| lens.mapping().name()),
            words: match lenses.known() {
                Some(lens) => lens.mapping().words().to_owned(),
                None => format!("mapping unknown, {}", lenses.words()),
            },
            focal_px: lenses.focal_px(),
            fov_horizontal_degrees: horizontal,
            fov_vertical_degrees: vertical,
            fov_diagonal_degrees: diagonal,
        }
    }
}

/// What a shaking mount takes of the room round one window.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShakeAnswer {
    /// The mapping that it is reckoned with: an unknown lens has an answer for each that it may be.
    pub mapping: &'static str,
    /// The delivered raster that the window is asked for; none for a window of its own.
    pub raster: Option<String>,
    /// Left, top, width and height of the window, px.
    pub window_px: [f64; 4],
    /// Its enlargement in that raster.
    pub enlargement: Option<f64>,
    /// Whether there is room for the whole shake.
    pub passes: bool,
    /// How far the window's outline is carried beyond where it stands: left, top, right and bottom of the
    /// displayed frame, px. None where it is carried out of the lens's sight.
    pub needed_px: [f64; 4],
    /// The same by one turn alone: sideways for left and right, up and down for top and bottom.
    pub needed_by_one_turn_px: [f64; 4],
    /// The room there is.
    pub available_px: [f64; 4],
    /// What the worst side lacks; 0 where the window passes.
    pub missing_px: f64,
    /// The width of the largest window of the shape about the same centre that passes; none if none does.
    pub largest_width_px: Option<f64>,
    /// Its enlargement: the least that passes.
    pub least_enlargement: Option<f64>,
    /// The same by moving the whole picture as far as its centre moves: a comparison, not an answer.
    pub centre_only: CentreOnlyAnswer,
}

/// The figures of the comparison.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CentreOnlyAnswer {
    /// Whether the window would pass by it.
    pub passes: bool,
    /// Width and height that it asks for, px.
    pub needed_px: [f64; 2],
    /// What the frame has over that, a side, across and down.
    pub spare_a_side_px: [f64; 2],
    /// The enlargement of the largest window that would pass by it.
    pub least_enlargement: Option<f64>,
}

/// What is to be shaken.
pub(super) struct Shaken<'a> {
    pub(super) question: &'a CropQuestion,
    pub(super) level: &'a Levelling,
    pub(super) lenses: Option<&'a PossibleLenses>,
    pub(super) shake: &'a Shake,
}

impl Shaken<'_> {
    /// An answer for each delivered raster: for its one-for-one window, of enlargement 1, about the centre of the
    /// window that is asked about; for that window itself where a width was given, where nothing is delivered, or
    /// where one for one does not fit. Where the mapping is unknown, one for each lens that it may be.
    pub(super) fn answers(&self, window: &Window) -> Result<Vec<ShakeAnswer>, TaskError> {
        let lenses = self.lenses.ok_or(LensError::NoFieldOfView)?;
        let answers = |raster| lenses.iter().map(move |lens| self.answer(lens, raster, window));
        let delivered = &self.question.delivered;
        if delivered.is_empty() {
            return Ok(answers(None).collect());
        }
        Ok(delivered.iter().flat_map(|raster| answers(Some(*raster))).collect())
    }

    fn recording(&self) -> Recording {
        let inside_factor = self.question.inside_crop.linear_factor();
        Recording { inside_factor, ..Recording::default() }
    }

    fn one_for_one(&self, raster: Raster, about: &Window) -> Option<Window> {
        if self.question.width.is_some() {
            return None;
        }
        let width = self.recording().least_px(raster.width(), 1.0);
        let centre = about.region().centre();
        let window =
            Window::about(self.question.capture, self.question.shape, (centre.x, centre.y), width)
                .ok()?;
        let room = self.level.room(&Region::whole(self.question.capture), &window);
        (room.least_px() >= 0.0).then_some(window)
    }

    fn answer(&self, lens: &Lens, raster: Option<Raster>, asked: &Window) -> ShakeAnswer {
        let window = raster.and_then(|raster| self.one_for_one(raster, asked)).unwrap_or(*asked);
        let budget = ShakeBudget::of(lens, self.level, &window, self.shake);
        let centre_only = &budget.centre_only;
        let enlargement = |width: f64| {
            let delivered = raster.filter(|_| width > 0.0)?.width();
            Some(self.recording().enlargement(delivered, width))
        };
        ShakeAnswer {
            mapping: lens.mapping().name(),
            raster: raster.map(|raster| raster.to_string()),
            window_px: [window.left(), window.top(), window.width(), window.height()],
            enlargement: enlargement(window.width()),
            passes: budget.passes(),
            needed_px: sides(budget.needed),
            needed_by_one_turn_px: sides(budget.needed_by_one_turn),
            available_px: sides(budget.available),
            missing_px: if budget.passes() { 0.0 } else { budget.missing_px },
            largest_width_px: budget.largest_width_px,
            least_enlargement: budget.largest_width_px.and_then(enlargement),
            centre_only: CentreOnlyAnswer {
                passes: centre_only.passes(),
                needed_px: [centre_only.needed_width_px, centre_only.needed_height_px],
                spare_a_side_px: [centre_only.spare_across_px, centre_only.spare_down_px],
                least_enlargement: enlargement(centre_only.largest_width_px),
            },
        }
    }
}
