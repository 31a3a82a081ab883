use super::{Between, FieldOfView, LensError, Mapping};
use crate::geometry::{Orientation, Raster, SourcePoint};

/// A lens before a frame: how it maps angles, its focal length in px, and where its axis meets the frame.
///
/// A direction is a vector right, down and ahead of the camera; those that come out have the length 1.
///
/// ```
/// use lookroom::{geometry::Raster, lens::{FieldOfView, Lens, Mapping, Span}};
/// let capture = Raster::new(4000, 3000)?;
/// let lens = Lens::new(capture, Mapping::Rectilinear, &[FieldOfView::from_degrees(Span::Diagonal, 102.68)?])?;
/// let degrees = |span| format!("{:.2}", lens.field_of_view(span).to_degrees());
/// assert_eq!((degrees(Span::Horizontal), degrees(Span::Vertical)), ("90.00".into(), "73.74".into()));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lens {
    raster: Raster,
    mapping: Mapping,
    /// Across and down; they differ only where a calibration says so.
    focal_px: (f64, f64),
    centre: SourcePoint,
}

/// What a calibration finds beside the mapping, in px of the frame that it was made in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibrated {
    /// The focal length across and down: `fx` and `fy`.
    pub focal_px: (f64, f64),
    /// Where the axis meets the frame. In edge coordinates, as everything here: a calibration that counts from the
    /// middle of the first pixel says half a px less both ways.
    pub centre: SourcePoint,
}

/// Where a point lies from the axis: the angle off it, and the way to it as cosine and sine, clockwise from the right.
#[derive(Debug, Clone, Copy)]
pub(super) struct OffAxis {
    pub(super) angle: f64,
    pub(super) way: (f64, f64),
}

impl OffAxis {
    pub(super) fn direction(&self) -> [f64; 3] {
        let (sine, cosine) = self.angle.sin_cos();
        [sine * self.way.0, sine * self.way.1, cosine]
    }

    /// `None` for no direction at all.
    pub(super) fn of([right, down, ahead]: [f64; 3]) -> Option<Self> {
        let aside = right.hypot(down);
        let angle = aside.atan2(ahead);
        let is_one = aside.hypot(ahead) > 0.0 && angle.is_finite() && aside.is_finite();
        let way = if aside > 0.0 { (right / aside, down / aside) } else { (1.0, 0.0) };
        is_one.then_some(Self { angle, way })
    }
}

impl Lens {
    /// How far two focal lengths may differ and still be one lens: spec sheets round to whole degrees, which is
    /// about 1 % of a usual field of view. Chosen: two of it.
    const SAME_LENS: f64 = 0.02;

    /// The least and the greatest focal length, in px. Chosen: they catch slips of the pen.
    pub const FOCAL_LIMITS_PX: (f64, f64) = (1.0, 1e7);

    /// The lens of a mapping that has these fields of view over a frame, its axis through the frame's centre. Of
    /// several, the first counts; the others must agree with it, within what rounding to whole degrees does.
    ///
    /// # Errors
    /// [`LensError::NoFieldOfView`] without any, [`LensError::FieldOfView`] for one that the mapping cannot have,
    /// [`LensError::Disagree`] if they are not of one lens, [`LensError::TurnsBack`] if a polynomial does so within the
    /// frame.
    pub fn new(
        raster: Raster,
        mapping: Mapping,
        fields: &[FieldOfView],
    ) -> Result<Self, LensError> {
        let (first, others) = fields.split_first().ok_or(LensError::NoFieldOfView)?;
        for field in fields {
            mapping.admit(field)?;
        }
        let focal_of = |field: &FieldOfView| {
            // The last digit of an angle at the rim may lie beyond it.
            let angle = (field.degrees().to_radians() / 2.0).min(mapping.greatest_angle());
            // What is admitted is drawn, so that there is a radius.
            field.span().length_px(raster) / 2.0 / mapping.radius(angle).unwrap_or(f64::NAN)
        };
        let focal = focal_of(first);
        let centre = SourcePoint { x: raster.width() / 2.0, y: raster.height() / 2.0 };
        let lens =
            Self::calibrated(raster, mapping, Calibrated { focal_px: (focal, focal), centre })?;
        match others.iter().find(|o| (focal_of(o) / focal - 1.0).abs() > Self::SAME_LENS) {
            None => Ok(lens),
            Some(other) => Err(LensError::Disagree {
                first: first.span(),
                first_degrees: first.degrees(),
                second: other.span(),
                second_degrees: other.degrees(),
                expected_degrees: Between::exactly(lens.field_of_view(other.span()).to_degrees()),
            }),
        }
    }

    /// The lens of a mapping, as a calibration found it in this frame.
    ///
    /// # Errors
    /// [`LensError::FocalLength`] or [`LensError::Centre`] for what no calibration finds, [`LensError::TurnsBack`] if a
    /// polynomial does so within the frame.
    pub fn calibrated(
        raster: Raster,
        mapping: Mapping,
        Calibrated { focal_px, centre }: Calibrated,
    ) -> Result<Self, LensError> {
        let (least, greatest) = Self::FOCAL_LIMITS_PX;
        let wrong = [focal_px.0, focal_px.1].into_iter().find(|f| !(least..=greatest).contains(f));
        if let Some(focal_px) = wrong {
            return Err(LensError::FocalLength { focal_px });
        }
        let is_inside = (0.0..=raster.width()).contains(&centre.x)
            && (0.0..=raster.height()).contains(&centre.y);
        if !is_inside {
            return Err(LensError::Centre { x: centre.x, y: centre.y, raster });
        }
        let lens = Self { raster, mapping, focal_px, centre };
        lens.held_against_its_turn()
    }

    /// This, if its polynomial holds all over the frame.
    fn held_against_its_turn(self) -> Result<Self, LensError> {
        let Mapping::Polynomial(polynomial) = self.mapping else { return Ok(self) };
        let Some(angle) = polynomial.turns_back_at() else { return Ok(self) };
        let corner =
            self.corners().map(|corner| self.radius(corner)).into_iter().fold(0.0, f64::max);
        let reach = polynomial.greatest_radius();
        if corner <= reach {
            return Ok(self);
        }
        Err(LensError::TurnsBack {
            degrees: angle.to_degrees(),
            turn_px: reach * self.focal_px.0,
            corner_px: corner * self.focal_px.0,
        })
    }

    pub(super) fn corners(&self) -> [SourcePoint; 4] {
        let (width, height) = (self.raster.width(), self.raster.height());
        [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
            .map(|(x, y)| SourcePoint { x, y })
    }

    /// The same lens before the picture that a turn shows: the sides change places, the focal length stays.
    #[must_use]
    pub fn shown(&self, orientation: Orientation) -> Self {
        let (across, down) = self.focal_px;
        Self {
            raster: orientation.shown_raster(self.raster),
            mapping: self.mapping,
            focal_px: if orientation.swaps_sides() { (down, across) } else { (across, down) },
            centre: orientation.shown(self.centre, self.raster),
        }
    }

    /// The lens as a file shows it whose camera cropped inside, so that this share of the width is left: what is
    /// left, about the frame's centre, fills the file's raster, and so each degree has more px. For a straight-line lens
    /// that is `tan(H'/2) = factor · tan(H/2)`.
    #[must_use]
    pub fn behind_inside_crop(&self, linear_factor: f64) -> Self {
        let about = |middle: f64, at: f64| middle + (at - middle) / linear_factor;
        Self {
            focal_px: (self.focal_px.0 / linear_factor, self.focal_px.1 / linear_factor),
            centre: SourcePoint {
                x: about(self.raster.width() / 2.0, self.centre.x),
                y: about(self.raster.height() / 2.0, self.centre.y),
            },
            ..*self
        }
    }

    /// The lens before the same picture scaled to another raster: focal length and axis scale with it, nothing else
    /// changes.
    #[must_use]
    pub fn scaled_to(&self, raster: Raster) -> Self {
        let (across, down) =
            (raster.width() / self.raster.width(), raster.height() / self.raster.height());
        Self {
            raster,
            mapping: self.mapping,
            focal_px: (self.focal_px.0 * across, self.focal_px.1 * down),
            centre: SourcePoint { x: self.centre.x * across, y: self.centre.y * down },
        }
    }

    /// The frame.
    #[must_use]
    pub const fn raster(&self) -> Raster {
        self.raster
    }

    /// How it maps angles.
    #[must_use]
    pub const fn mapping(&self) -> &Mapping {
        &self.mapping
    }

    /// The focal length in px of the frame, across; down it is another only where a calibration says so.
    #[must_use]
    pub const fn focal_px(&self) -> f64 {
        self.focal_px.0
    }

    /// The focal length in px of the frame, down.
    #[must_use]
    pub const fn focal_down_px(&self) -> f64 {
        self.focal_px.1
    }

    /// Where the axis meets the frame.
    #[must_use]
    pub const fn centre(&self) -> SourcePoint {
        self.centre
    }

    /// How far a point is from the axis, in focal lengths.
    fn radius(&self, point: SourcePoint) -> f64 {
        let (across, down) = self.in_focal_lengths(point);
        across.hypot(down)
    }

    fn in_focal_lengths(&self, point: SourcePoint) -> (f64, f64) {
        ((point.x - self.centre.x) / self.focal_px.0, (point.y - self.centre.y) / self.focal_px.1)
    }

    pub(super) fn off_axis(&self, point: SourcePoint) -> Option<OffAxis> {
        let (across, down) = self.in_focal_lengths(point);
        let radius = across.hypot(down);
        let angle = self.mapping.angle(radius)?;
        let way = if radius > 0.0 { (across / radius, down / radius) } else { (1.0, 0.0) };
        Some(OffAxis { angle, way })
    }

    /// The direction that is seen at a point, of length 1; `None` outside of what the lens draws (the image circle).
    #[must_use]
    pub fn direction(&self, point: SourcePoint) -> Option<[f64; 3]> {
        self.off_axis(point).map(|off_axis| off_axis.direction())
    }

    /// Where a direction of any length is seen, be it in the frame or beyond its edges; `None` where the lens draws
    /// nothing of it.
    #[must_use]
    pub fn point(&self, direction: [f64; 3]) -> Option<SourcePoint> {
        let OffAxis { angle, way } = OffAxis::of(direction)?;
        let radius = self.mapping.radius(angle)?;
        Some(SourcePoint {
            x: self.centre.x + self.focal_px.0 * radius * way.0,
            y: self.centre.y + self.focal_px.1 * radius * way.1,
        })
    }
}

#[cfg(test)]
mod tests;
