//! A clip's measured motion, which is a table of its own beside the tracks.

use super::{
    super::{
        Fault, FaultKind, Level, Sheet, Shoot, ShootClip,
        clock::{Clock, Start},
        motion::{self, MotionRow},
        names::Names,
        page::Page,
        reading::as_text,
    },
    Faults, ResolvedClip, Resolver,
};
use crate::{action::BackgroundMotion, clip::ClipFacts};
use std::path::Path;

impl Shoot {
    /// Reads a motion table that was measured for one clip: columns as those of a motion file, but always in px of the full
    /// clip as shown.
    ///
    /// # Errors
    /// Every [`Fault`] of the table, in the order of [`Fault::in_order`].
    pub fn measured_motion(
        &self,
        clip: &ShootClip,
        (facts, resolved): (&ClipFacts, &ResolvedClip),
        (path, bytes): (&Path, &[u8]),
    ) -> Result<BackgroundMotion, Vec<Fault>> {
        let text = as_text(bytes).map_err(|line| {
            let page = Page::new(Sheet::Motion, path, "");
            page.fault(Some(line), None, FaultKind::NotUtf8);
            page.into_faults()
        })?;
        let page = Page::new(Sheet::Motion, path, text);
        let mut names = Names::of("clip");
        names.enter(&page, &(0..0), &clip.name);
        let rows = motion::read(&page, &names).rows;
        let mut faults = Faults { shoot: self, faults: page.into_faults() };
        let start = resolved.clip.facts.start_timecode.map_or(Start::Unnamed, Start::At);
        let frame_count = facts.frame_count;
        let resolver = Resolver {
            shoot: self,
            clip,
            facts,
            raster: resolved.clip.facts.raster,
            clock: Clock { clip: &clip.name, frame_count, start },
        };
        let rows: Vec<&MotionRow> = rows.iter().collect();
        if resolved.level == Level::Motion && rows.iter().all(|row| row.roll_degrees.is_none()) {
            let kind = FaultKind::NoRollMotion { clip: clip.name.clone() };
            faults.tell(Sheet::Motion, 1, kind);
        }
        let motion = resolver.motion_by(&rows, (&resolved.clip.cuts, (1.0, 1.0)), &mut faults);
        if faults.faults.is_empty() {
            return Ok(motion);
        }
        // They are of this table and not of the shoot's own.
        let of_table = |fault| Fault { file: path.to_owned(), ..fault };
        Err(Fault::in_order(faults.faults.into_iter().map(of_table).collect()))
    }
}
