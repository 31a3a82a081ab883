//! Where the window of one frame stands: as a window that is held over that frame alone.

use super::{answer::StillsFor, choose::Lie, measure::Seen};
use crate::{
    delivery::{BlockedZones, Deliverable, Limit, Limits},
    geometry::{Levelling, Raster, Region, Rounding, Window},
    pan::{self, Outcome, Request, Roll},
    plan::recording_of,
    shoot::{Shoot, ShootClip},
    subject::Track,
    tasks::{TaskError, decide::Case, prepare::PreparedClip, requests::hull, stand::Stand},
    timecode::FrameRange,
};

/// What stills of one clip are cut for.
pub(super) struct Target {
    /// As it stands in file names.
    pub(super) purpose: String,
    pub(super) deliverable: Deliverable,
    pub(super) limits: Limits,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// As near to the subject as px allow.
    Raster,
    /// The largest window of a shape.
    Shape,
    WholeFrame,
}

impl Target {
    /// Of a clip.
    ///
    /// # Errors
    /// [`TaskError::NoSuchDeliverable`]; [`TaskError::Geometry`] for a shape of too large numbers.
    pub(super) fn of(
        wanted: &StillsFor,
        (shoot, clip): (&Shoot, &ShootClip),
        usable: &Region,
    ) -> Result<Self, TaskError> {
        let limits = shoot.clip_limits(clip);
        let plain = |purpose: String, raster: Raster, kind: Kind| Self {
            deliverable: Deliverable {
                name: purpose.clone(),
                raster,
                rounding: Rounding::Even,
                blocked: BlockedZones::default(),
            },
            purpose,
            limits: limits.clone(),
            kind,
        };
        Ok(match wanted {
            StillsFor::Raster(raster) => plain(raster.to_string(), *raster, Kind::Raster),
            StillsFor::Shape(shape) => {
                let raster = Raster::new(shape.wide(), shape.high())?;
                plain(format!("{}-{}", shape.wide(), shape.high()), raster, Kind::Shape)
            }
            StillsFor::WholeFrame => {
                let (_, (width, height)) = whole_px(usable);
                plain("whole".to_owned(), Raster::new(width, height)?, Kind::WholeFrame)
            }
            StillsFor::Deliverable(name) => {
                let Some(deliverable) = shoot.deliverable(name) else {
                    let known = shoot.deliverables.iter().map(|one| one.name.clone()).collect();
                    return Err(TaskError::NoSuchDeliverable { name: name.clone(), known });
                };
                Self {
                    purpose: name.clone(),
                    limits: shoot.limits_for(clip, deliverable),
                    deliverable: deliverable.clone(),
                    kind: Kind::Raster,
                }
            }
        })
    }

    /// The raster that is delivered, if it is one and not only a shape.
    pub(super) fn delivered(&self) -> Option<Raster> {
        (self.kind == Kind::Raster).then_some(self.deliverable.raster)
    }
}

/// A window on one frame.
pub(super) struct Placed {
    /// In px of the levelled picture.
    pub(super) window: Window,
    pub(super) level: Levelling,
    pub(super) roll_degrees: f64,
    /// The subject's box in the levelled picture, and how it lies.
    pub(super) subject: Option<(Region, Lie)>,
}

/// Places windows on the frames of one clip.
pub(super) struct Placer<'a> {
    case: Case<'a>,
    kind: Kind,
    least_share: f64,
    ranges: Vec<(FrameRange, Request, Stand)>,
}

impl<'a> Placer<'a> {
    /// Asks for the windows of every used range.
    ///
    /// # Errors
    /// [`TaskError::Geometry`] for a roll or a pin that cannot be.
    pub(super) fn of(
        prepared: &'a PreparedClip,
        target: &'a Target,
        (tracks, least_share): (&'a [Track], f64),
    ) -> Result<Self, TaskError> {
        let (deliverable, limits) = (&target.deliverable, &target.limits);
        let case = Case { prepared, deliverable, limits, tracks };
        let mut ranges = Vec::new();
        for range in &prepared.resolved.clip.ranges {
            ranges.push((range.used, case.request(*range)?, case.stand(*range)?));
        }
        Ok(Self { case, kind: target.kind, least_share, ranges })
    }

    /// The window of a frame; `None` if none holds what it should clear of what is blocked and kept out.
    ///
    /// # Errors
    /// [`TaskError::Pan`] for faults of ours.
    pub(super) fn place(&self, seen: &Seen) -> Result<Option<Placed>, TaskError> {
        let Some((used, request, stand)) = self.ranges.get(seen.range) else { return Ok(None) };
        let index = usize::try_from(seen.frame.0 - used.first().0).unwrap_or(usize::MAX);
        let level = stand.level_at(index);
        let subject = seen.subject.map(|subject| level.levelled_hull(&subject));
        let one = self.asked(request.part(index..index.saturating_add(1)), subject.as_ref());
        let Some(window) = self.window(&one)? else { return Ok(None) };
        let margins = (
            self.case.limits.number(Limit::MarginAcross),
            self.case.limits.number(Limit::MarginDown),
        );
        let lie = |subject: Region| (subject, Lie::of(&subject, &window, (&one.blocked, margins)));
        let roll_degrees = match one.roll {
            Roll::None => 0.0,
            _ => one.roll.at(0).to_degrees(),
        };
        Ok(Some(Placed { subject: subject.map(lie), window, level, roll_degrees }))
    }

    /// What is asked of the one frame.
    fn asked(&self, request: Request, subject: Option<&Region>) -> Request {
        let mut request = Request { unseen: Vec::new(), ride: Vec::new(), smear: None, ..request };
        match self.kind {
            Kind::Shape => {}
            Kind::WholeFrame => request.margins = (0.0, 0.0),
            Kind::Raster => {
                if let Some(near) = subject.and_then(|subject| self.near_width(&request, subject)) {
                    request.most_width = request.most_width.min(near);
                }
                request.preferred_width = request.greatest_width();
            }
        }
        request
    }

    /// The width at which the subject has its share of the height: no narrower than what has as many px as are
    /// delivered, and than what everything that is wished has room in.
    fn near_width(&self, request: &Request, subject: &Region) -> Option<f64> {
        /// Even px, and a little for what is rounded on both sides.
        const ROUNDING_PX: f64 = 4.0;
        let (shape, insets) = (request.shape, request.insets());
        let boxes: Vec<Region> =
            request.frames.first()?.boxes.iter().map(|wished| wished.region).collect();
        let all = hull(&boxes)?;
        let room = (all.width() / (1.0 - insets.left - insets.right))
            .max(shape.width_for(all.height() / (1.0 - insets.top - insets.bottom)));
        let fine = recording_of(self.case.clip()).least_px(
            self.case.deliverable.raster.width(),
            self.case.limits.number(Limit::BandFine),
        );
        let near = shape.width_for(subject.height() / self.least_share);
        Some(near.max(room + ROUNDING_PX).max(fine).max(request.least_width))
    }

    fn window(&self, one: &Request) -> Result<Option<Window>, TaskError> {
        let is_kept_out = one.keep_outs.iter().any(|out| out.regions.iter().any(Option::is_some));
        if self.kind == Kind::WholeFrame && one.roll == Roll::None && !is_kept_out {
            let ((left, top), (width, height)) = whole_px(&one.usable);
            let (corner, size) = ((f64::from(left), f64::from(top)), (width.into(), height.into()));
            return Ok(Some(Window::inside(one.raster, corner, size)?));
        }
        match pan::plan(one).map_err(|source| self.case.pan_error(source))? {
            Outcome::Planned(planned) => Ok(planned.windows.first().copied()),
            Outcome::DoesNotFit(_) | Outcome::NoPath { .. } => Ok(None),
        }
    }
}

/// The whole px inside a box: its corner and its size.
fn whole_px(region: &Region) -> ((u32, u32), (u32, u32)) {
    /// What a trim loses in adding up.
    const NOISE_PX: f64 = 1e-6;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a frame, not below 0"
    )]
    let whole = |px: f64| px as u32;
    let (left, top) =
        (whole((region.left() - NOISE_PX).ceil()), whole((region.top() - NOISE_PX).ceil()));
    let (right, bottom) =
        (whole((region.right() + NOISE_PX).floor()), whole((region.bottom() + NOISE_PX).floor()));
    ((left, top), (right.saturating_sub(left), bottom.saturating_sub(top)))
}
