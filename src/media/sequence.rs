use super::{MediaError, Opened, StillError, fingerprint::fingerprint, listing, still};
use crate::{
    clip::{ClipFacts, Part, Reading, Storage, Timing},
    geometry::{Orientation, Raster},
    picture::{FrameError, FrameSource, GrayImage, RgbImage, oriented},
    process::work_in_order,
    timecode::{FrameIndex, FrameRange},
};
use std::{
    collections::BTreeSet,
    io,
    ops::ControlFlow,
    path::{Path, PathBuf},
};

#[cfg(test)]
mod tests;

/// Numbered pictures; each is decoded when it is asked for, several at a time.
struct Sequence {
    path: PathBuf,
    files: Vec<PathBuf>,
    /// As stored, upright by each file's own flag.
    stored: Raster,
    orientation: Orientation,
}

/// Opens a folder, a pattern or a glob of numbered pictures; the lowest number is frame 0.
///
/// # Errors
/// [`MediaError`]: no rate, no frames, a gap, a header that cannot be read, a frame of another size.
pub(super) fn open(path: &Path, reading: &Reading) -> Result<Opened, MediaError> {
    of_files(path, listing::files_of(path)?, reading)
}

/// Opens one picture as a sequence of one frame.
///
/// # Errors
/// As [`open`].
pub(super) fn open_picture(path: &Path, reading: &Reading) -> Result<Opened, MediaError> {
    of_files(path, vec![path.to_owned()], reading)
}

fn of_files(path: &Path, files: Vec<PathBuf>, reading: &Reading) -> Result<Opened, MediaError> {
    let rate = reading.rate.ok_or_else(|| MediaError::RateMissing { path: path.to_owned() })?;
    let stored = common_raster(path, &files)?;
    let frame_count = files.len() as u64;
    let whole =
        FrameRange::new(FrameIndex(0), FrameIndex(frame_count)).map_err(|_| no_frames(path))?;
    let orientation = reading.orientation;
    // Frames may differ in it; the first stands for all.
    let flag = files.first().map(|file| still::flag_of(file)).unwrap_or_default();
    let facts = ClipFacts {
        raster: orientation.shown_raster(stored),
        timing: Timing::Constant(rate),
        frame_count,
        start_timecode: None,
        bit_rate: None,
        parts: vec![Part { path: path.to_owned(), frames: whole }],
        storage: Storage {
            coding: files.first().map_or("", |file| still::coding_of(file)).to_owned(),
            raster: Some(flag.inverse().shown_raster(stored)),
            flag,
            pixel_shape: (1, 1),
            ..Storage::default()
        },
        fingerprint: fingerprint(files.iter().map(PathBuf::as_path))?,
    };
    let frames = Box::new(Sequence { path: path.to_owned(), files, stored, orientation });
    Ok(Opened { facts, frames, notices: Vec::new() })
}

fn no_frames(sequence: &Path) -> MediaError {
    MediaError::NoFramesInFolder { folder: sequence.to_owned(), others: Vec::new(), more_count: 0 }
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
    common.ok_or_else(|| no_frames(sequence))
}

/// Takes decoded frames in order.
type Take<'t, P> = dyn FnMut(FrameIndex, P) -> ControlFlow<()> + 't;

impl Sequence {
    fn read(&self, frame: FrameIndex) -> Result<RgbImage, MediaError> {
        let path = self.file(frame)?;
        let picture = still::decode(path).map_err(|source| bad_frame(frame, path, source))?;
        let found = Raster::new(picture.width(), picture.height())
            .map_err(|source| bad_frame(frame, path, source.into()))?;
        if found != self.stored {
            let (path, expected) = (path.to_owned(), self.stored);
            return Err(MediaError::FrameChanged { frame, path, found, expected });
        }
        Ok(oriented(picture, self.orientation))
    }

    fn read_luma(&self, frame: FrameIndex, size: Raster) -> Result<GrayImage, MediaError> {
        let path = self.file(frame)?;
        let stored_size = self.orientation.inverse().shown_raster(size);
        let luma = still::decode_luma(path, stored_size)
            .map_err(|source| bad_frame(frame, path, source))?;
        Ok(oriented(luma, self.orientation))
    }

    fn file(&self, frame: FrameIndex) -> Result<&Path, MediaError> {
        let place = usize::try_from(frame.0).ok();
        let file = place.and_then(|place| self.files.get(place)).map(PathBuf::as_path);
        file.ok_or_else(|| {
            let (path, frame_count) = (self.path.clone(), self.files.len() as u64);
            MediaError::NoSuchFrame { frame, path, frame_count }
        })
    }
}

fn bad_frame(frame: FrameIndex, path: &Path, source: StillError) -> MediaError {
    let path = path.to_owned();
    match source {
        // It was there when the sequence was opened.
        StillError::Unreadable { source } if source.kind() == io::ErrorKind::NotFound => {
            MediaError::FrameGone { frame, path }
        }
        source => MediaError::BadStill { frame, path, source, more_count: 0 },
    }
}

/// Reads frames on all cores and hands them over in order, up to the first that cannot be read.
fn read_in_order<P: Send>(
    (frames, size): (&[FrameIndex], Raster),
    read: impl Fn(FrameIndex) -> Result<P, MediaError> + Sync,
    take: &mut Take<'_, P>,
) -> Result<(), FrameError> {
    /// Above this a picture of 16 bits and four channels takes so much that one at a time is enough: 8 bytes
    /// a px of the largest that is read are half a GiB. Our choice: four times a camera's usual frame.
    const LARGE_PX: u64 = 48 << 20;
    let work = |frame: &FrameIndex| read(*frame);
    let mut hand_over = |&frame: &FrameIndex, read| match read {
        Ok(picture) => take(frame, picture).map_break(|()| None),
        Err(cause) => ControlFlow::Break(Some(FrameError { frame, cause: Box::new(cause) })),
    };
    let ended = if u64::from(size.width_px()) * u64::from(size.height_px()) > LARGE_PX {
        frames.iter().try_for_each(|frame| hand_over(frame, work(frame)))
    } else {
        work_in_order(frames, work, hand_over)
    };
    match ended {
        ControlFlow::Break(Some(fault)) => Err(fault),
        ControlFlow::Break(None) | ControlFlow::Continue(()) => Ok(()),
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
        let wanted: Vec<_> = wanted.iter().copied().collect();
        read_in_order((&wanted, self.stored), |frame| self.read(frame), take)
    }

    fn visit_luma(
        &mut self,
        frames: FrameRange,
        size: Raster,
        take: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        let wanted: Vec<_> = frames.frames().collect();
        read_in_order(
            (&wanted, self.stored),
            |frame| self.read_luma(frame, size),
            &mut |frame, luma| take(frame, &luma),
        )
    }
}
