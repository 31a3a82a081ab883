//! Ways through frames, each from its mark: as many at a time as there are cores, while the caller's thread reads.

use super::{FollowError, Tracker, follow::Reader, fuse::Passed};
use crate::{
    geometry::{Raster, Region},
    picture::{RgbImage, SmallPicture},
    timecode::{FrameIndex, FrameRange},
};
use std::{
    sync::{
        atomic::{AtomicBool, AtomicUsize, Ordering},
        mpsc::{self, Sender, SyncSender},
    },
    thread,
};

/// Frames that are read at a time. A way has one chunk in work and one that is read meanwhile: at the widest analysis size,
/// as video is coded, 25 MB for each core, whatever the clip's length.
const CHUNK_FRAMES: usize = 16;

/// Which way a stretch is gone through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Direction {
    /// From its first frame, which is marked.
    Forward,
    /// From its last.
    Backward,
}

/// One way through frames.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way {
    pub(super) frames: FrameRange,
    pub(super) direction: Direction,
    /// The box where it begins.
    pub(super) mark: Region,
}

impl Way {
    /// The marked frame.
    fn begins_at(&self) -> FrameIndex {
        match self.direction {
            Direction::Forward => self.frames.first(),
            Direction::Backward => self.frames.last(),
        }
    }

    /// The chunks in the order in which they are gone through.
    fn chunks(&self) -> Vec<FrameRange> {
        let firsts = (self.frames.first().0..self.frames.end().0).step_by(CHUNK_FRAMES);
        let chunk = |first: u64| {
            let end = (first + CHUNK_FRAMES as u64).min(self.frames.end().0);
            FrameRange::new(FrameIndex(first), FrameIndex(end)).ok()
        };
        let mut chunks: Vec<FrameRange> = firsts.filter_map(chunk).collect();
        if self.direction == Direction::Backward {
            chunks.reverse();
        }
        chunks
    }
}

/// Asks the caller's thread for the pictures of a chunk.
struct Ask {
    frames: FrameRange,
    give: SyncSender<Vec<SmallPicture>>,
}

/// Follows every way; the answer of each, in the order of its frames.
///
/// What a way answers does not depend on the others. Where a mark has nothing to follow, no further way is begun, and the first
/// such one is told.
pub(super) fn follow_all(
    reader: &mut Reader<'_>,
    ways: &[Way],
) -> Result<Vec<Vec<Passed>>, FollowError> {
    let raster = reader.raster();
    let shared =
        Shared { ways, raster, next: AtomicUsize::new(0), is_over: AtomicBool::new(false) };
    let cores = thread::available_parallelism().map_or(1, usize::from);
    let mut answers: Vec<Option<Answer>> = ways.iter().map(|_| None).collect();
    thread::scope(|scope| {
        let (asks, asked) = mpsc::channel();
        let spawn = |_| {
            let (shared, asks) = (&shared, Sender::clone(&asks));
            scope.spawn(move || shared.work(&asks))
        };
        let threads: Vec<_> = (0..cores.min(ways.len())).map(spawn).collect();
        drop(asks);
        let mut read = Ok(());
        // Leaving early drops what is still asked for, which ends the threads.
        for Ask { frames, give } in asked {
            match reader.chunk(frames) {
                // A thread that has ended needs nothing any more.
                Ok(pictures) => drop(give.send(pictures)),
                Err(fault) => {
                    read = Err(fault);
                    break;
                }
            }
        }
        for thread in threads {
            for (at, answer) in thread.join().expect("a tracker does not panic") {
                answers[at] = Some(answer);
            }
        }
        read
    })?;
    let nothing_inside = |answer: &Option<Answer>| matches!(answer, Some(Answer::NothingInside));
    if let Some(at) = answers.iter().position(nothing_inside) {
        return Err(FollowError::NothingInside { frame: ways[at].begins_at() });
    }
    let passed = |answer| match answer {
        Some(Answer::Passed(passed)) => passed,
        Some(Answer::NothingInside) | None => Vec::new(),
    };
    Ok(answers.into_iter().map(passed).collect())
}

/// What came of a way.
enum Answer {
    Passed(Vec<Passed>),
    NothingInside,
}

/// What all threads know.
struct Shared<'w> {
    ways: &'w [Way],
    raster: Raster,
    /// The way that is begun next.
    next: AtomicUsize,
    /// Whether none is begun any more.
    is_over: AtomicBool,
}

impl Shared<'_> {
    /// A way that nobody else follows. Whatever is claimed is followed, so that of marks with nothing to follow the first one is
    /// among what was claimed before all ended.
    fn claim(&self) -> Option<usize> {
        if self.is_over.load(Ordering::Relaxed) {
            return None;
        }
        let at = self.next.fetch_add(1, Ordering::Relaxed);
        (at < self.ways.len()).then_some(at)
    }

    /// Follows ways until none is left or nothing is read any more. While a chunk is gone through, the next one is read, be it
    /// of the next way.
    fn work(&self, asks: &Sender<Ask>) -> Vec<(usize, Answer)> {
        let claimed = std::iter::from_fn(|| self.claim());
        let mut wanted =
            claimed.flat_map(|at| self.ways[at].chunks().into_iter().map(move |chunk| (at, chunk)));
        let mut ask_next = || {
            let (at, frames) = wanted.next()?;
            let (give, given) = mpsc::sync_channel(1);
            asks.send(Ask { frames, give }).ok()?;
            Some((at, given))
        };
        let mut answers = Vec::new();
        let mut going: Option<(usize, Going)> = None;
        let mut spare = Vec::new();
        let mut asked = ask_next();
        while let Some((at, given)) = asked {
            let Ok(pictures) = given.recv() else { break };
            asked = ask_next();
            let (_, way) = match going.take() {
                Some((before, way)) if before == at => going.insert((at, way)),
                _ => going.insert((at, Going::new(self.ways[at]))),
            };
            spare = way.pass(pictures, self.raster, spare);
            let is_last = asked.as_ref().is_none_or(|(next, _)| *next != at);
            if way.found_nothing {
                self.is_over.store(true, Ordering::Relaxed);
                answers.push((at, Answer::NothingInside));
                break;
            }
            if is_last {
                answers.extend(going.take().map(|(at, way)| (at, way.answer())));
            }
        }
        answers
    }
}

/// A way that is being followed.
struct Going {
    way: Way,
    tracker: Option<Tracker>,
    passed: Vec<Passed>,
    found_nothing: bool,
}

impl Going {
    const fn new(way: Way) -> Self {
        Self { way, tracker: None, passed: Vec::new(), found_nothing: false }
    }

    /// Goes through a chunk, in memory that it gives back.
    fn pass(
        &mut self,
        mut pictures: Vec<SmallPicture>,
        raster: Raster,
        mut spare: Vec<u8>,
    ) -> Vec<u8> {
        if self.way.direction == Direction::Backward {
            pictures.reverse();
        }
        for picture in pictures {
            let picture = picture.into_rgb_in(spare);
            self.step(&picture, raster);
            spare = picture.into_raw();
            if self.found_nothing {
                break;
            }
        }
        spare
    }

    fn step(&mut self, picture: &RgbImage, raster: Raster) {
        let shrink = [
            f64::from(picture.width()) / raster.width(),
            f64::from(picture.height()) / raster.height(),
        ];
        let Some(tracker) = &mut self.tracker else {
            let small = stretched(&self.way.mark, shrink);
            self.tracker = small.and_then(|small| Tracker::new(picture, &small));
            self.found_nothing = self.tracker.is_none();
            self.passed.push(Passed { region: self.way.mark, confidence: 1.0, is_lost: false });
            return;
        };
        let seen = tracker.step(picture);
        let region = stretched(&seen.region, shrink.map(|factor| 1.0 / factor));
        self.passed.push(Passed {
            region: region.unwrap_or(self.way.mark),
            confidence: seen.cues.confidence(),
            is_lost: seen.is_lost || region.is_none(),
        });
    }

    fn answer(mut self) -> Answer {
        if self.way.direction == Direction::Backward {
            self.passed.reverse();
        }
        Answer::Passed(self.passed)
    }
}

fn stretched(region: &Region, factors: [f64; 2]) -> Option<Region> {
    Region::new(
        region.left() * factors[0],
        region.top() * factors[1],
        region.width() * factors[0],
        region.height() * factors[1],
    )
}
