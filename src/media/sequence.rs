use super::{MediaError, Opened, StillError, fingerprint::fingerprint, listing, still};
use crate::{
    clip::ClipFacts,
    geometry::Raster,
    picture::{FrameError, FrameSource, RgbImage},
    timecode::{FrameIndex, FrameRate},
};
use in_order::work_in_order;
use std::{
    collections::BTreeSet,
    io,
    ops::ControlFlow,
    path::{Path, PathBuf},
};

mod in_order;
#[cfg(test)]
mod tests;

/// Numbered pictures; each is decoded when it is asked for, several at a time.
struct Sequence {
    path: PathBuf,
    files: Vec<PathBuf>,
    raster: Raster,
}

/// Opens a folder, a pattern or a glob of numbered pictures; the lowest number is frame 0.
///
/// # Errors
/// [`MediaError`]: no rate, no frames, a gap, a header that cannot be read, a frame of another size.
pub(super) fn open(path: &Path, rate: Option<FrameRate>) -> Result<Opened, MediaError> {
    let files = listing::files_of(path)?;
    let rate = rate.ok_or_else(|| MediaError::RateMissing { path: path.to_owned() })?;
    let raster = common_raster(path, &files)?;
    let facts = ClipFacts {
        raster,
        rate,
        frame_count: files.len() as u64,
        start_timecode: None,
        fingerprint: fingerprint(files.iter().map(PathBuf::as_path))?,
    };
    let frames = Box::new(Sequence { path: path.to_owned(), files, raster });
    Ok(Opened { facts, frames, notices: Vec::new() })
}

/// The raster of every file, by their headers. All are looked at, so that a refusal can say how many are at
/// fault: first those that cannot be read, then those of another size than frame 0.
fn common_raster(sequence: &Path, files: &[PathBuf]) -> Result<Raster, MediaError> {
    let frames: Vec<_> = (0..).map(FrameIndex).zip(files).collect();
    let (mut common, mut unreadable, mut unlike) = (None, None, None);
    let (mut unreadable_count, mut unlike_count) = (0_u64, 0_u64);
    let _: ControlFlow<()> = work_in_order(
        &frames,
        |(_, path)| still::raster_of(path),
        |&(frame, path), found| {
            match found {
                Err(source) => {
                    unreadable_count += 1;
                    unreadable.get_or_insert((frame, path, source));
                }
                Ok(found) => {
                    let expected = *common.get_or_insert(found);
                    if found != expected {
                        unlike_count += 1;
                        unlike.get_or_insert((frame, path, found, expected));
                    }
                }
            }
            ControlFlow::Continue(())
        },
    );
    if let Some((frame, path, source)) = unreadable {
        let (path, more_count) = (path.clone(), unreadable_count - 1);
        return Err(MediaError::BadStill { frame, path, source, more_count });
    }
    if let Some((frame, path, found, expected)) = unlike {
        let (path, more_count) = (path.clone(), unlike_count - 1);
        return Err(MediaError::OtherRaster { frame, path, found, expected, more_count });
    }
    common.ok_or_else(|| MediaError::NoFramesInFolder {
        folder: sequence.to_owned(),
        others: Vec::new(),
        more_count: 0,
    })
}

impl Sequence {
    fn read(&self, frame: FrameIndex) -> Result<RgbImage, MediaError> {
        let place = usize::try_from(frame.0).ok();
        let path = place.and_then(|place| self.files.get(place)).ok_or_else(|| {
            MediaError::NoSuchFrame {
                frame,
                path: self.path.clone(),
                frame_count: self.files.len() as u64,
            }
        })?;
        let bad = |source| match source {
            // It was there when the sequence was opened.
            StillError::Unreadable { source } if source.kind() == io::ErrorKind::NotFound => {
                MediaError::FrameGone { frame, path: path.clone() }
            }
            source => MediaError::BadStill { frame, path: path.clone(), source, more_count: 0 },
        };
        let picture = still::decode(path).map_err(bad)?;
        let found =
            Raster::new(picture.width(), picture.height()).map_err(|source| bad(source.into()))?;
        if found != self.raster {
            let (path, expected) = (path.clone(), self.raster);
            return Err(MediaError::FrameChanged { frame, path, found, expected });
        }
        Ok(picture)
    }
}

impl FrameSource for Sequence {
    fn raster(&self) -> Raster {
        self.raster
    }

    fn frame_count(&self) -> u64 {
        self.files.len() as u64
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        let wanted: Vec<_> = wanted.iter().copied().collect();
        let ended = work_in_order(
            &wanted,
            |frame| self.read(*frame),
            |&frame, read| match read {
                Ok(picture) => take(frame, picture).map_break(|()| None),
                Err(cause) => {
                    ControlFlow::Break(Some(FrameError { frame, cause: Box::new(cause) }))
                }
            },
        );
        match ended {
            ControlFlow::Break(Some(fault)) => Err(fault),
            ControlFlow::Break(None) | ControlFlow::Continue(()) => Ok(()),
        }
    }
}
