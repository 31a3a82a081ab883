//! What a clip's marks are, for marking it further: whether they are enough for a plan is not asked.

use super::{
    super::{Fault, MarkRow, MarkedIn, ProxyOf, Shoot, ShootClip, clock::Clock},
    Faults, Resolver,
};
use crate::{
    clip::ClipFacts,
    geometry::Raster,
    subject::Mark,
    timecode::{FrameIndex, FrameRange, Timecode},
};

/// What has been marked of a clip so far.
#[derive(Debug, Clone, PartialEq)]
pub struct ClipMarks {
    /// The raster that boxes are measured in: the full one, or the proxy's where the shoot file says so.
    pub raster: Raster,
    /// The marks, in the order of the marks file, their boxes as written.
    pub marks: Vec<Mark>,
    /// The first frame after each cut, in order.
    pub cuts: Vec<FrameIndex>,
    /// The frames that are used, in order.
    pub used: Vec<FrameRange>,
    /// The timecode of frame 0, if there is one.
    pub start_timecode: Option<Timecode>,
}

impl Shoot {
    /// Reads a clip's marks against the facts of its footage, be they ever so few.
    ///
    /// # Errors
    /// Every [`Fault`] of its times and marks, in the order of [`Fault::in_order`].
    pub fn marks_of(&self, clip: &ShootClip, facts: &ClipFacts) -> Result<ClipMarks, Vec<Fault>> {
        let mut faults = Faults { shoot: self, faults: Vec::new() };
        let start = faults.start_timecode(clip, facts);
        let Some(raster) = faults.full_raster(clip, facts.raster) else {
            return Err(Fault::in_order(faults.faults));
        };
        let clock = Clock { clip: &clip.name, frame_count: facts.frame_count, start };
        let resolver = Resolver { shoot: self, clip, facts, raster, clock };
        let times = resolver.times(&mut faults);
        let rows = self.marks.iter().filter(|row| row.clip == clip.name);
        let marks = rows.filter_map(|row| resolver.mark_as_written(row, &mut faults)).collect();
        let used = times.ranges.iter().map(|(range, _)| range.used).collect();
        let start_timecode = resolver.start_timecode();
        if !faults.faults.is_empty() {
            return Err(Fault::in_order(faults.faults));
        }
        let is_of_proxy = matches!(clip.proxy, Some(ProxyOf { marks: MarkedIn::Proxy, .. }));
        let raster = if is_of_proxy { facts.raster } else { raster };
        Ok(ClipMarks { raster, marks, cuts: times.cuts, used, start_timecode })
    }
}

impl Resolver<'_> {
    fn mark_as_written(&self, row: &MarkRow, faults: &mut Faults<'_>) -> Option<Mark> {
        let region = row.region;
        let (mark, _) = self.mark(row, faults)?;
        Some(Mark { region, ..mark })
    }
}
