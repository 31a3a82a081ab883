use super::{Between, Lens, Span};
use crate::geometry::{Levelling, Orientation, Raster, Window};

/// What a lens may be: one where its mapping is known, and where it is not, one of each candidate with the same field of
/// view. Whatever is asked is answered for each, so that what is not known shows as a range.
///
/// ```
/// use lookroom::{geometry::Raster, lens::{FieldOfView, PossibleLenses, SaidMapping, Span}};
/// let field = FieldOfView::from_degrees(Span::Vertical, 73.74)?;
/// let lenses = PossibleLenses::new(Raster::new(4000, 3000)?, SaidMapping::Unknown, &[field])?;
/// // The horizon, with the camera pitched down by 30 degrees:
/// let row = lenses.every(|lens| lens.row_at(-30_f64.to_radians())).ok_or("not seen")?;
/// assert_eq!(format!("{row:.1}"), "279.5 to 345.3");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PossibleLenses {
    first: Lens,
    other: Option<Lens>,
}

impl PossibleLenses {
    pub(super) const fn either(first: Lens, other: Lens) -> Self {
        Self { first, other: Some(other) }
    }

    /// Each that it may be.
    pub fn iter(&self) -> impl Iterator<Item = &Lens> {
        std::iter::once(&self.first).chain(&self.other)
    }

    /// The lens, if it is known which it is.
    #[must_use]
    pub const fn known(&self) -> Option<&Lens> {
        if self.other.is_none() { Some(&self.first) } else { None }
    }

    /// What it is in words: "a straight-line lens", "a straight-line lens or an equidistant fisheye".
    #[must_use]
    pub fn words(&self) -> String {
        self.iter().map(|lens| lens.mapping().with_article()).collect::<Vec<_>>().join(" or ")
    }

    /// The frame.
    #[must_use]
    pub const fn raster(&self) -> Raster {
        self.first.raster()
    }

    /// The same lenses otherwise: turned, cropped, scaled.
    #[must_use]
    pub fn map(&self, change: impl Fn(&Lens) -> Lens) -> Self {
        Self { first: change(&self.first), other: self.other.as_ref().map(change) }
    }

    /// As [`Lens::shown`].
    #[must_use]
    pub fn shown(&self, orientation: Orientation) -> Self {
        self.map(|lens| lens.shown(orientation))
    }

    /// As [`Lens::behind_inside_crop`].
    #[must_use]
    pub fn behind_inside_crop(&self, linear_factor: f64) -> Self {
        self.map(|lens| lens.behind_inside_crop(linear_factor))
    }

    /// As [`Lens::scaled_to`].
    #[must_use]
    pub fn scaled_to(&self, raster: Raster) -> Self {
        self.map(|lens| lens.scaled_to(raster))
    }

    /// The range of an answer that every lens has.
    #[must_use]
    pub fn range(&self, ask: impl Fn(&Lens) -> f64) -> Between {
        let first = Between::exactly(ask(&self.first));
        Between::all(self.iter().map(ask)).unwrap_or(first)
    }

    /// The range of an answer that a lens may not have; `None` if one of those that it may be has none.
    pub fn every(&self, ask: impl Fn(&Lens) -> Option<f64>) -> Option<Between> {
        let answers: Option<Vec<f64>> = self.iter().map(ask).collect();
        Between::all(answers?)
    }

    /// The field of view along a span, in radians.
    #[must_use]
    pub fn field_of_view(&self, span: Span) -> Between {
        self.range(|lens| lens.field_of_view(span))
    }

    /// The focal length in px, across.
    #[must_use]
    pub fn focal_px(&self) -> Between {
        self.range(Lens::focal_px)
    }

    /// The spare room on each side of a window, in radians, as [`Lens::spare_angles`].
    #[must_use]
    pub fn spare_angles(&self, level: &Levelling, window: &Window) -> [Between; 4] {
        [0, 1, 2, 3].map(|side| self.range(|lens| lens.spare_angles(level, window)[side]))
    }

    /// The angle from one row to another, in radians, as [`Lens::angle_down`].
    #[must_use]
    pub fn angle_down(&self, from_y: f64, to_y: f64) -> Option<Between> {
        self.every(|lens| lens.angle_down(from_y, to_y))
    }

    /// The angle from one column to another, in radians, as [`Lens::angle_across`].
    #[must_use]
    pub fn angle_across(&self, from_x: f64, to_x: f64) -> Option<Between> {
        self.every(|lens| lens.angle_across(from_x, to_x))
    }
}

impl From<Lens> for PossibleLenses {
    fn from(first: Lens) -> Self {
        Self { first, other: None }
    }
}
