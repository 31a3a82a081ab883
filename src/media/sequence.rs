use super::{MediaError, Opened, fingerprint::fingerprint, listing, still};
use crate::{
    clip::{ClipFacts, Part, Reading, Storage, Timing},
    geometry::{Orientation, Raster},
    picture::{FrameError, FrameSource, GrayImage, RgbImage, oriented},
    timecode::{FrameIndex, FrameRange},
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
    /// As stored, upright by each file's own flag.
    stored: Raster,
    orientation: Orientation,
}

/// Opens a folder or a pattern of numbered pictures; the lowest number is frame 0.
///
/// # Errors
/// [`MediaError`]: no rate, no frames, a gap, a header that cannot be read, a frame of another size.
pub(super) fn open(path: &Path, reading: &Reading) -> Result<Opened, MediaError> {
    let files = listing::files_of(path)?;
    let rate = reading.rate.ok_or_else(|| MediaError::RateMissing { path: path.to_owned() })?;
    let stored = common_raster(path, &files)?;
    let raster = reading.orientation.shown_raster(stored);
    let no_frames = |_| MediaError::RateMissing { path: path.to_owned() };
    let whole =
        FrameRange::new(FrameIndex(0), FrameIndex(files.len() as u64)).map_err(no_frames)?;
    let facts = ClipFacts {
        raster,
        timing: Timing::Constant(rate),
        frame_count: files.len() as u64,
        start_timecode: None,
        parts: vec![Part { path: path.to_owned(), frames: whole }],
        storage: Storage { raster: Some(stored), pixel_shape: (1, 1), ..Storage::default() },
        fingerprint: fingerprint(files.iter().map(PathBuf::as_path))?,
        bit_rate: None,
    };
    let orientation = reading.orientation;
    let frames = Box::new(Sequence { path: path.to_owned(), files, stored, orientation });
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
        check_raster(frame, path, found, self.stored)?;
        Ok(oriented(picture, self.orientation))
    }
}

impl FrameSource for Sequence {
    fn raster(&self) -> Raster {
        self.orientation.shown_raster(self.stored)
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

    fn visit_luma(
        &mut self,
        frames: FrameRange,
        size: Raster,
        take: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        for frame in frames.frames() {
            let picture =
                self.read(frame).map_err(|cause| FrameError { frame, cause: Box::new(cause) })?;
            let luma = image::imageops::grayscale(&picture);
            let luma = image::imageops::thumbnail(&luma, size.width_px(), size.height_px());
            if take(frame, &luma).is_break() {
                break;
            }
        }
        Ok(())
    }
}
