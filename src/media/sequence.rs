use super::{MediaError, Opened, fingerprint::fingerprint, listing, still};
use crate::{
    clip::ClipFacts,
    geometry::Raster,
    picture::{FrameError, FrameSource, RgbImage},
    timecode::{FrameIndex, FrameRate},
};
use std::{
    collections::BTreeSet,
    ops::ControlFlow,
    path::{Path, PathBuf},
};

#[cfg(test)]
mod tests;

/// Numbered pictures; each is decoded when it is asked for.
struct Sequence {
    path: PathBuf,
    files: Vec<PathBuf>,
    raster: Raster,
}

/// Opens a folder or a pattern of numbered pictures; the lowest number is frame 0.
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
        bit_rate: None,
    };
    let frames = Box::new(Sequence { path: path.to_owned(), files, raster });
    Ok(Opened { facts, frames, notices: Vec::new() })
}

/// The raster of every file, by their headers.
fn common_raster(sequence: &Path, files: &[PathBuf]) -> Result<Raster, MediaError> {
    let mut common = None;
    for (frame, path) in (0..).map(FrameIndex).zip(files) {
        let found = still::raster_of(path).map_err(|source| MediaError::BadStill {
            frame,
            path: path.clone(),
            source,
        })?;
        check_raster(frame, path, found, *common.get_or_insert(found))?;
    }
    common.ok_or_else(|| MediaError::NoFramesInFolder {
        folder: sequence.to_owned(),
        others: Vec::new(),
    })
}

fn check_raster(
    frame: FrameIndex,
    path: &Path,
    found: Raster,
    expected: Raster,
) -> Result<(), MediaError> {
    if found == expected {
        Ok(())
    } else {
        Err(MediaError::OtherRaster { frame, path: path.to_owned(), found, expected })
    }
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
        let bad = |source| MediaError::BadStill { frame, path: path.clone(), source };
        let picture = still::decode(path).map_err(bad)?;
        // The file may have changed since it was opened.
        let found =
            Raster::new(picture.width(), picture.height()).map_err(|source| bad(source.into()))?;
        check_raster(frame, path, found, self.raster)?;
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
        for &frame in wanted {
            let picture =
                self.read(frame).map_err(|cause| FrameError { frame, cause: Box::new(cause) })?;
            if take(frame, picture).is_break() {
                break;
            }
        }
        Ok(())
    }
}
