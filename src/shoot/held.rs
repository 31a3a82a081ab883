//! A clip's lens and the motion of its background, held against its footage.

use super::{
    FaultKind, Level, MarkedIn, MotionRow, ProxyOf, Sheet,
    resolve::{Faults, Resolver},
};
use crate::{
    action::{BackgroundMotion, BackgroundStep},
    lens::PossibleLenses,
    timecode::FrameIndex,
};
use std::collections::BTreeMap;

impl Resolver<'_> {
    /// What the lens before the displayed picture may be. What is written of it is of the camera's own picture: before
    /// the file's flag and the written turn, and without an inside crop.
    pub(super) fn lens(&self, faults: &mut Faults<'_>) -> Option<PossibleLenses> {
        let camera = self.shoot.camera_of(self.clip)?;
        let said = camera.lens.as_ref()?;
        let written = self.shoot.view_of(self.clip).orientation();
        let shown = self.facts.storage.flag.then(written);
        let stored = shown.inverse().shown_raster(self.raster);
        match said.before(stored) {
            Ok(lenses) => {
                Some(lenses.shown(shown).behind_inside_crop(self.inside_crop().linear_factor()))
            }
            Err(error) => {
                faults.tell_of(Sheet::Shoot, camera.lens_line, Some("lens"), error.into());
                None
            }
        }
    }

    /// How the background moved by the motion file, a step a frame of the clip; empty where it tells nothing.
    pub(super) fn motion(
        &self,
        level: Level,
        cuts: &[FrameIndex],
        faults: &mut Faults<'_>,
    ) -> BackgroundMotion {
        let rows: Vec<&MotionRow> =
            self.shoot.motion().iter().filter(|row| row.clip == self.clip.name).collect();
        if rows.is_empty() {
            return BackgroundMotion::default();
        }
        let tells_roll = rows.iter().any(|row| row.roll_degrees.is_some());
        if level == Level::Motion && !tells_roll && self.shoot.motion.is_whole(&self.clip.name) {
            let kind = FaultKind::NoRollMotion { clip: self.clip.name.clone() };
            faults.tell(Sheet::Shoot, self.clip.line, kind);
        }
        self.motion_by(&rows, (cuts, self.full_over_marked()), faults)
    }

    /// How the background moved by some rows, with what a px of them is in px of the full clip. Into the first frame after
    /// a cut nothing moves: what was measured there is between two shots.
    pub(super) fn motion_by(
        &self,
        rows: &[&MotionRow],
        (cuts, px): (&[FrameIndex], (f64, f64)),
        faults: &mut Faults<'_>,
    ) -> BackgroundMotion {
        let frame_count = usize::try_from(self.facts.frame_count).unwrap_or(usize::MAX);
        let mut steps: BTreeMap<usize, (BackgroundStep, u64)> = BTreeMap::new();
        for row in rows {
            let place = (Sheet::Motion, row.line, Some("frame"));
            let Some(frame) = faults.keep(place, self.frame(&row.moment)) else { continue };
            let step = BackgroundStep {
                across_px: row.across_px * px.0,
                down_px: row.down_px * px.1,
                roll_radians: row.roll_degrees.unwrap_or(0.0).to_radians(),
            };
            if frame.0 == 0 && step != BackgroundStep::default() {
                faults.tell(Sheet::Motion, row.line, FaultKind::MotionBeforeFirst);
            }
            let index = usize::try_from(frame.0).unwrap_or(usize::MAX);
            let (_, first_line) = *steps.entry(index).or_insert((step, row.line));
            if first_line != row.line {
                faults.tell(Sheet::Motion, row.line, FaultKind::MotionTwice { frame, first_line });
            }
        }
        for cut in cuts {
            usize::try_from(cut.0).ok().and_then(|cut| steps.remove(&cut));
        }
        let known = |index: usize| steps.get(&index).map(|(step, _)| *step);
        BackgroundMotion::new((0..frame_count).map(known).collect())
    }

    /// What a px of the marks and of the motion file is in px of the full clip.
    fn full_over_marked(&self) -> (f64, f64) {
        match self.clip.proxy {
            Some(ProxyOf { marks: MarkedIn::Proxy, .. }) => {
                let read = self.facts.raster;
                (self.raster.width() / read.width(), self.raster.height() / read.height())
            }
            Some(ProxyOf { marks: MarkedIn::Full, .. }) | None => (1.0, 1.0),
        }
    }
}
