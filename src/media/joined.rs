//! Files that a recorder split one take into, read as one clip.

use super::{
    MediaError, MediaNotice, Opened, Programs, Watch,
    file::{self, OpenedFile},
    fingerprint::fingerprint,
};
use crate::{
    clip::{ClipFacts, Part, Reading, Timing},
    geometry::Raster,
    picture::{FrameError, FrameSource, GrayImage, RgbImage, SmallPicture},
    timecode::{FrameIndex, FrameRange, Timecode},
};
use std::{
    collections::BTreeSet,
    ops::ControlFlow,
    path::{Path, PathBuf},
};

/// Opens files as one clip, in the order in which they are given.
///
/// # Errors
/// [`MediaError`] of any of the files; if there is none, one is given twice, or they differ in raster or rate.
pub(super) fn open(
    programs: &Programs,
    paths: &[PathBuf],
    reading: &Reading,
    watch: &mut Watch<'_>,
) -> Result<Opened, MediaError> {
    check_each_once(paths)?;
    let mut files = paths.iter().map(|path| file::open(programs, path, reading, &mut *watch));
    let OpenedFile { mut facts, video, mut notices } =
        files.next().unwrap_or(Err(MediaError::NoFiles))?;
    let mut sources: Vec<Box<dyn FrameSource + Send>> = vec![Box::new(video)];
    let (mut stored_bits, mut has_jump) = (bits_of(&facts), false);
    for file in files {
        let next = file?;
        check_order(&facts, &next.facts)?;
        if let Some(jump) = timecode_jump(&facts, &next.facts) {
            notices.push(jump);
            has_jump = true;
        }
        stored_bits = stored_bits.zip(bits_of(&next.facts)).map(|(a, b)| a + b);
        append(&mut facts, &next.facts)?;
        notices.extend(next.notices);
        sources.push(Box::new(next.video));
    }
    // Counting on from the first would name frames behind the jump wrongly.
    facts.start_timecode = facts.start_timecode.filter(|_| !has_jump);
    facts.fingerprint = fingerprint(paths.iter().map(PathBuf::as_path))?;
    let seconds = facts.timing.seconds_at(FrameIndex(facts.frame_count));
    facts.bit_rate = stored_bits.map(|bits| bits / seconds).filter(|rate| rate.is_finite());
    let frames = Box::new(Joined { parts: facts.parts.clone(), sources, raster: facts.raster });
    Ok(Opened { facts, frames, notices })
}

fn check_each_once(paths: &[PathBuf]) -> Result<(), MediaError> {
    let mut seen = BTreeSet::new();
    let same = |path: &PathBuf| path.canonicalize().unwrap_or_else(|_| path.clone());
    let twice = paths.iter().find(|path| !seen.insert(same(path)));
    twice.map_or(Ok(()), |path| Err(MediaError::FileTwice { path: path.clone() }))
}

fn bits_of(facts: &ClipFacts) -> Option<f64> {
    Some(facts.bit_rate? * facts.timing.seconds_at(FrameIndex(facts.frame_count)))
}

/// Puts the frames of another file behind those that there are.
fn append(facts: &mut ClipFacts, next: &ClipFacts) -> Result<(), MediaError> {
    let differ = |what, of_first: String, of_other: String| {
        let (first, other) = (path_of(facts).to_owned(), path_of(next).to_owned());
        MediaError::PartsDiffer { first, other, what, of_first, of_other }
    };
    if facts.raster != next.raster {
        let rasters = (facts.raster.to_string(), next.raster.to_string());
        return Err(differ("raster", rasters.0, rasters.1));
    }
    let other_rate = || differ("rate", facts.timing.to_string(), next.timing.to_string());
    let timing = match (&facts.timing, &next.timing) {
        (Timing::Constant(rate), Timing::Constant(next)) if rate == next => Timing::Constant(*rate),
        (Timing::Variable(times), Timing::Variable(next)) => {
            times.followed_by(next).map(Timing::Variable).ok_or_else(other_rate)?
        }
        _ => return Err(other_rate()),
    };
    let (first, end) = (facts.frame_count, facts.frame_count + next.frame_count);
    let frames = FrameRange::new(FrameIndex(first), FrameIndex(end))
        .map_err(|_| MediaError::NoFrames { path: path_of(next).to_owned(), discarded_count: 0 })?;
    facts.timing = timing;
    facts.frame_count = end;
    facts.parts.push(Part { path: path_of(next).to_owned(), frames });
    Ok(())
}

fn path_of(facts: &ClipFacts) -> &Path {
    facts.parts.last().map_or(Path::new(""), |part| &part.path)
}

/// Refuses a file that was begun before the one that it is to follow.
fn check_order(before: &ClipFacts, next: &ClipFacts) -> Result<(), MediaError> {
    let begun = |facts: &ClipFacts| facts.start_timecode.map(Timecode::frames_since_midnight);
    match (begun(before), begun(next), before.start_timecode, next.start_timecode) {
        (Some(first), Some(second), Some(start), Some(other)) if second < first => {
            Err(MediaError::PartsOutOfOrder {
                first: path_of(before).to_owned(),
                other: path_of(next).to_owned(),
                start: start.to_string(),
                other_start: other.to_string(),
            })
        }
        _ => Ok(()),
    }
}

/// What is to be told if a file's first timecode is not the one after the last of the file before.
fn timecode_jump(before: &ClipFacts, next: &ClipFacts) -> Option<MediaNotice> {
    let part = before.parts.last()?;
    let expected = before.start_timecode?.after(FrameIndex(before.frame_count));
    let found = next.start_timecode?;
    (expected != found).then(|| MediaNotice::TimecodeJumps {
        before: part.path.clone(),
        next: path_of(next).to_owned(),
        expected: expected.to_string(),
        found: found.to_string(),
    })
}

/// The frames of several files in one numbering.
struct Joined {
    parts: Vec<Part>,
    sources: Vec<Box<dyn FrameSource + Send>>,
    raster: Raster,
}

impl Joined {
    /// Each part with the range of a clip's frames that it shares with another range.
    fn within(
        &mut self,
        frames: FrameRange,
    ) -> impl Iterator<Item = (u64, FrameRange, &mut Box<dyn FrameSource + Send>)> {
        self.parts.iter().zip(&mut self.sources).filter_map(move |(part, source)| {
            let first = part.frames.first();
            let from = frames.first().max(first).0 - first.0;
            let to = frames.end().min(part.frames.end()).0.checked_sub(first.0)?;
            let shared = FrameRange::new(FrameIndex(from), FrameIndex(to)).ok()?;
            Some((first.0, shared, source))
        })
    }

    /// The fault of a part in the clip's numbering; a frame that the clip does not have is the last part's.
    fn no_such_frame(&self, frame: FrameIndex) -> FrameError {
        let path = self.parts.last().map(|part| part.path.clone()).unwrap_or_default();
        let cause = MediaError::NoSuchFrame { frame, path, frame_count: self.frame_count() };
        FrameError { frame, cause: Box::new(cause) }
    }
}

impl FrameSource for Joined {
    fn raster(&self) -> Raster {
        self.raster
    }

    fn frame_count(&self) -> u64 {
        self.parts.last().map_or(0, |part| part.frames.end().0)
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        let (Some(&first), Some(&last)) = (wanted.first(), wanted.last()) else { return Ok(()) };
        if last.0 >= self.frame_count() {
            return Err(self.no_such_frame(last));
        }
        let Ok(all) = FrameRange::new(first, FrameIndex(last.0 + 1)) else { return Ok(()) };
        let mut flow = ControlFlow::Continue(());
        for (offset, shared, source) in self.within(all) {
            let of_part = wanted
                .range(FrameIndex(offset + shared.first().0)..FrameIndex(offset + shared.end().0))
                .map(|frame| FrameIndex(frame.0 - offset))
                .collect();
            let outcome = source.visit(&of_part, &mut |frame, picture| {
                flow = take(FrameIndex(offset + frame.0), picture);
                flow
            });
            outcome.map_err(|fault| in_clip(fault, offset))?;
            if flow.is_break() {
                break;
            }
        }
        Ok(())
    }

    fn visit_luma(
        &mut self,
        frames: FrameRange,
        size: Raster,
        take: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        if frames.last().0 >= self.frame_count() {
            return Err(self.no_such_frame(frames.last()));
        }
        let mut flow = ControlFlow::Continue(());
        for (offset, shared, source) in self.within(frames) {
            let outcome = source.visit_luma(shared, size, &mut |frame, luma| {
                flow = take(FrameIndex(offset + frame.0), luma);
                flow
            });
            outcome.map_err(|fault| in_clip(fault, offset))?;
            if flow.is_break() {
                break;
            }
        }
        Ok(())
    }

    fn visit_small(
        &mut self,
        frames: FrameRange,
        side_px: u32,
        take: &mut dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        if frames.last().0 >= self.frame_count() {
            return Err(self.no_such_frame(frames.last()));
        }
        let mut flow = ControlFlow::Continue(());
        for (offset, shared, source) in self.within(frames) {
            let outcome = source.visit_small(shared, side_px, &mut |frame, picture| {
                flow = take(FrameIndex(offset + frame.0), picture);
                flow
            });
            outcome.map_err(|fault| in_clip(fault, offset))?;
            if flow.is_break() {
                break;
            }
        }
        Ok(())
    }

    fn take_remarks(&mut self) -> Vec<String> {
        self.sources.iter_mut().flat_map(|source| source.take_remarks()).collect()
    }
}

/// A part's fault with the frame's number in the clip; its cause names the file and the number there.
fn in_clip(fault: FrameError, offset: u64) -> FrameError {
    FrameError { frame: FrameIndex(offset + fault.frame.0), ..fault }
}
