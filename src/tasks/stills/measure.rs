//! How sharp each frame is: all of them looked at small, then those that are worth it at full size.

use super::{answer::BlurOf, choose::Candidate};
use crate::{
    clip::UsedRange,
    geometry::{Raster, Region},
    media::Opened,
    picture::{GrayImage, RgbImage, raster_of_lines},
    sharpness::{EdgeBlur, edge_blur},
    shoot::ResolvedClip,
    subject::Track,
    tasks::{CancelToken, Event, Observer, TaskError},
    timecode::FrameIndex,
};
use image::imageops;
use std::{collections::BTreeSet, ops::ControlFlow};

/// All frames are looked at with so many lines: large enough that a blur that matters shows, small enough to be quick. Chosen.
const LINES: u32 = 720;

/// A clip whose frames are measured.
pub(super) struct Watched<'a> {
    pub(super) resolved: &'a ResolvedClip,
    /// The subject that counts, if there is one.
    pub(super) subject: Option<&'a Track>,
    pub(super) blur_of: BlurOf,
}

/// A frame that may be taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub(super) frame: FrameIndex,
    /// Its place among the clip's used ranges.
    pub(super) range: usize,
    pub(super) secs: f64,
    /// The subject's box in the displayed picture.
    pub(super) subject: Option<Region>,
    /// In px of the clip; `None` where it could not be measured.
    pub(super) blur: Option<EdgeBlur>,
}

impl Watched<'_> {
    pub(super) fn raster(&self) -> Raster {
        self.resolved.clip.facts.raster
    }

    fn secs(&self, frame: FrameIndex) -> f64 {
        self.resolved.clip.facts.timing.seconds_at(frame)
    }

    /// The box that is measured on a frame.
    fn measured(&self, subject: Option<Region>) -> Option<Region> {
        match self.blur_of {
            BlurOf::Subject => subject,
            BlurOf::Picture => Some(self.resolved.usable),
            BlurOf::Nothing => None,
        }
    }

    /// A frame of a range; `None` where the subject is not tracked, which no still is taken of.
    fn seen(&self, frame: FrameIndex, range: usize) -> Option<Seen> {
        let subject =
            self.subject.and_then(|track| track.at(frame)).map(|sighting| sighting.region);
        let is_there = self.subject.is_none() || subject.is_some();
        is_there.then(|| Seen { frame, range, secs: self.secs(frame), subject, blur: None })
    }

    /// Looks at every used frame at analysis size.
    ///
    /// # Errors
    /// [`TaskError::Frame`]; [`TaskError::Cancelled`].
    pub(super) fn look(
        &self,
        opened: &mut Opened,
        (observer, cancel): (&mut dyn Observer, &CancelToken),
    ) -> Result<Vec<Seen>, TaskError> {
        let ranges: &[UsedRange] = &self.resolved.clip.ranges;
        let frames = ranges.iter().map(|range| range.used.frame_count()).sum();
        observer.hear(Event::Begins { stage: "looking for stills", steps: frames });
        let size = raster_of_lines(opened.facts.raster, LINES);
        let mut all = Vec::new();
        for (place, range) in ranges.iter().enumerate() {
            let read = opened.frames.visit_luma(range.used, size, &mut |frame, luma| {
                observer.hear(Event::Step);
                all.extend(self.seen(frame, place).map(|seen| self.with_blur(seen, luma, size)));
                going_on(cancel)
            });
            cancel.check()?;
            read.map_err(|source| self.failed(source))?;
        }
        Ok(all)
    }

    /// Measures frames at full size.
    ///
    /// # Errors
    /// As [`Self::look`].
    pub(super) fn measure(
        &self,
        opened: &mut Opened,
        seen: &mut [Seen],
        (observer, cancel): (&mut dyn Observer, &CancelToken),
    ) -> Result<(), TaskError> {
        let full = opened.facts.raster;
        if raster_of_lines(full, LINES) == full {
            // They were looked at in full size.
            return Ok(());
        }
        observer.hear(Event::Begins { stage: "measuring blur", steps: seen.len() as u64 });
        let wanted: BTreeSet<FrameIndex> = seen.iter().map(|seen| seen.frame).collect();
        let read = opened.frames.visit(&wanted, &mut |frame, picture| {
            observer.hear(Event::Step);
            for one in seen.iter_mut().filter(|one| one.frame == frame) {
                *one = self.with_blur_of_part(*one, &picture);
            }
            going_on(cancel)
        });
        cancel.check()?;
        read.map_err(|source| self.failed(source))
    }

    /// The scale of a copy of the clip's pictures: its px for each of theirs, across and down.
    fn scale(&self, copy: (u32, u32)) -> (f64, f64) {
        (f64::from(copy.0) / self.raster().width(), f64::from(copy.1) / self.raster().height())
    }

    fn with_blur(&self, seen: Seen, luma: &GrayImage, size: Raster) -> Seen {
        let (across, down) = self.scale((size.width_px(), size.height_px()));
        let region = self.measured(seen.subject);
        let blur = region.and_then(|region| edge_blur(luma, &region.stretched(across, down)));
        Seen { blur: blur.map(|blur| blur.in_px_of(1.0 / down)), ..seen }
    }

    /// Only what is measured is turned into luma.
    fn with_blur_of_part(&self, seen: Seen, picture: &RgbImage) -> Seen {
        /// What a measurement reads beyond its box.
        const AROUND_PX: f64 = 12.0;
        let (across, down) = self.scale(picture.dimensions());
        let region = self.measured(seen.subject).map(|region| region.stretched(across, down));
        let part = |region: Region| {
            let from = |px: f64| whole(px - AROUND_PX);
            let (left, top) = (from(region.left()), from(region.top()));
            let right = whole(region.right() + AROUND_PX).min(picture.width());
            let bottom = whole(region.bottom() + AROUND_PX).min(picture.height());
            if left >= right || top >= bottom {
                return None;
            }
            let view = imageops::crop_imm(picture, left, top, right - left, bottom - top);
            let luma = imageops::grayscale(&*view);
            let moved = Region::new(
                region.left() - f64::from(left),
                region.top() - f64::from(top),
                region.width(),
                region.height(),
            )?;
            edge_blur(&luma, &moved)
        };
        Seen { blur: region.and_then(part).map(|blur| blur.in_px_of(1.0 / down)), ..seen }
    }

    /// How far the subject moves while a frame is exposed: its speed over two frames on either side, so that what marks
    /// are off by a px or two is no speed. `None` if no exposure is known.
    pub(super) fn speed_px(&self, seen: &Seen) -> Option<f64> {
        const BESIDE: u64 = 2;
        let exposure_secs = self.resolved.exposure_secs?;
        let (track, used) = (self.subject?, self.resolved.clip.ranges.get(seen.range)?.used);
        let is_there = |frame: &u64| track.at(FrameIndex(*frame)).is_some();
        let first = used.first().0.max(seen.frame.0.saturating_sub(BESIDE));
        let last = used.last().0.min(seen.frame.0 + BESIDE);
        let from = (first..=seen.frame.0).rev().take_while(is_there).last()?;
        let to = (seen.frame.0..=last).take_while(is_there).last()?;
        if from == to {
            return None;
        }
        let (from, to) = (FrameIndex(from), FrameIndex(to));
        let (a, b) = (track.at(from)?.region.centre(), track.at(to)?.region.centre());
        Some((b.x - a.x).hypot(b.y - a.y) / (self.secs(to) - self.secs(from)) * exposure_secs)
    }

    fn failed(&self, source: crate::picture::FrameError) -> TaskError {
        TaskError::Frame { clip: self.resolved.clip.name.clone(), source }
    }
}

/// How frames look before their windows are known: sharp, large, and not cut by the frame's edge.
pub(super) fn at_first_sight(seen: &[Seen], raster: Raster) -> Vec<Candidate> {
    let best = sharpest(seen);
    let tallest = seen.iter().filter_map(|one| one.subject).map(|s| s.height()).fold(0.0, f64::max);
    let candidate = |one: &Seen| {
        let size = one.subject.map_or(1.0, |subject| (subject.height() / tallest).sqrt());
        let clear = if is_cut_by_frame(one, raster) { 0.5 } else { 1.0 };
        Candidate { secs: one.secs, score: sharpness(one, best) * size * clear }
    };
    seen.iter().map(candidate).collect()
}

/// The smallest blur radius; `None` where none could be measured.
pub(super) fn sharpest(seen: &[Seen]) -> Option<f64> {
    let radii = seen.iter().filter_map(|one| one.blur).map(|blur| blur.radius_px());
    radii.reduce(f64::min)
}

/// The sharpest radius over that of a frame. One that could not be measured where others could is taken for blurred:
/// blur is what edges are lost by.
pub(super) fn sharpness(seen: &Seen, sharpest: Option<f64>) -> f64 {
    match (seen.blur, sharpest) {
        (_, None) => 1.0,
        (Some(blur), Some(best)) => best / blur.radius_px(),
        (None, Some(_)) => 0.0,
    }
}

/// Whether the frame's edge cuts the subject: its box comes within a px of it.
pub(super) fn is_cut_by_frame(seen: &Seen, raster: Raster) -> bool {
    const NEAR_PX: f64 = 1.0;
    seen.subject.is_some_and(|subject| {
        subject.left() < NEAR_PX
            || subject.top() < NEAR_PX
            || subject.right() > raster.width() - NEAR_PX
            || subject.bottom() > raster.height() - NEAR_PX
    })
}

fn going_on(cancel: &CancelToken) -> ControlFlow<()> {
    if cancel.is_cancelled() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a picture; what is out of range is held at the ends"
)]
fn whole(px: f64) -> u32 {
    px.round() as u32
}
