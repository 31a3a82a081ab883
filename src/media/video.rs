use super::{
    MediaError,
    decoder::{Beginning, Decoder, Pixels, Shown, Stream, plain},
    selection::{Address, Selection},
};
use crate::{
    geometry::Raster,
    picture::{FrameError, FrameSource, GrayImage, RgbImage, SmallPicture, raster_within},
    process::ProcessError,
    timecode::{FrameIndex, FrameRange},
};
use std::{collections::BTreeSet, io, ops::ControlFlow, path::Path};

#[cfg(test)]
mod small_pictures;
#[cfg(test)]
mod tests;

/// The frames of a video file; each reading runs one decoder.
pub(super) struct Video {
    pub(super) stream: Stream,
    pub(super) address: Address,
    pub(super) frame_count: u64,
    pub(super) remarks: Vec<String>,
}

/// How one run of the decoder went.
enum Ended {
    /// Everything was handed over, or the taker had enough.
    Done(ControlFlow<()>),
    /// This frame did not come.
    Missing(FrameIndex),
}

/// Takes frames as raw bytes; it may keep the buffer, or leave it to be filled again.
type TakeBytes<'t> = dyn FnMut(FrameIndex, &mut Vec<u8>) -> ControlFlow<()> + 't;

impl Video {
    fn path(&self) -> &Path {
        &self.stream.path
    }

    /// Hands over the frames of one reading that are wanted.
    fn read(
        &mut self,
        selection: &Selection,
        pixels: Pixels,
        is_wanted: &dyn Fn(FrameIndex) -> bool,
        take: &mut TakeBytes<'_>,
    ) -> Result<ControlFlow<()>, FrameError> {
        let first = selection.frames().find(|frame| is_wanted(*frame)).unwrap_or_default();
        let enters_near = self.stream.begin_secs(selection, &self.address).is_some();
        let mut beginning = if enters_near { Beginning::Near } else { Beginning::First };
        // Frames before this one were handed over.
        let mut done_before = first;
        loop {
            let started = self.stream.read(selection, &self.address, (pixels, beginning));
            let mut decoder =
                started.map_err(|fault| at(first, decoder_fault(self.path(), fault)))?;
            let is_left = |frame| frame >= done_before && is_wanted(frame);
            match self.pass(&mut decoder, selection, &is_left, take)? {
                Ended::Done(flow) => {
                    self.remark(&decoder, selection);
                    return Ok(flow);
                }
                // Not every file lets itself be entered in the middle; from its beginning all are read right.
                Ended::Missing(frame) if beginning == Beginning::Near => {
                    (beginning, done_before) = (Beginning::First, frame);
                }
                Ended::Missing(frame) => {
                    self.remark(&decoder, selection);
                    return Err(at(frame, self.missing(decoder, frame)));
                }
            }
        }
    }

    /// Takes what the decoder returns, and holds each frame against its place in the clip.
    fn pass(
        &self,
        decoder: &mut Decoder,
        selection: &Selection,
        is_wanted: &dyn Fn(FrameIndex) -> bool,
        take: &mut TakeBytes<'_>,
    ) -> Result<Ended, FrameError> {
        let mut expected = selection.frames().peekable();
        let mut buffer = Vec::new();
        loop {
            let Some(&frame) = expected.peek() else {
                return Ok(Ended::Done(ControlFlow::Continue(())));
            };
            buffer.resize(decoder.frame_bytes(), 0);
            let read = decoder.next(&mut buffer);
            let Some(shown) = read.map_err(|fault| at(frame, self.torn(frame, fault)))? else {
                return Ok(expected
                    .find(|frame| is_wanted(*frame))
                    .map_or(Ended::Done(ControlFlow::Continue(())), Ended::Missing));
            };
            // What the decoder passed over is missing only if somebody wants it.
            while let Some(passed) = expected.next_if(|frame| self.is_before(*frame, shown)) {
                if is_wanted(passed) {
                    return Ok(Ended::Missing(passed));
                }
            }
            let Some(frame) = expected.next_if(|frame| self.is_at(*frame, shown)) else { continue };
            self.check_size(frame, shown).map_err(|fault| at(frame, fault))?;
            if is_wanted(frame) && take(frame, &mut buffer).is_break() {
                return Ok(Ended::Done(ControlFlow::Break(())));
            }
        }
    }

    fn stamp(&self, frame: FrameIndex) -> Option<i64> {
        match &self.address {
            Address::Stamps { ticks, .. } => ticks.get(usize::try_from(frame.0).ok()?).copied(),
            Address::Counts => None,
        }
    }

    fn is_before(&self, frame: FrameIndex, shown: Shown) -> bool {
        self.stamp(frame).zip(shown.stamp).is_some_and(|(expected, found)| expected < found)
    }

    /// Where frames are counted, each is the next one.
    fn is_at(&self, frame: FrameIndex, shown: Shown) -> bool {
        matches!(self.address, Address::Counts) || self.stamp(frame) == shown.stamp
    }

    fn check_size(&self, frame: FrameIndex, shown: Shown) -> Result<(), MediaError> {
        let stored = self.stream.stored;
        if shown.size == (stored.width_px(), stored.height_px()) {
            return Ok(());
        }
        let path = self.path().to_owned();
        let found = Raster::new(shown.size.0, shown.size.1)
            .map_err(|source| MediaError::BadRaster { path: path.clone(), source })?;
        Err(MediaError::SizeChanges { frame, path, found, expected: stored })
    }

    fn torn(&self, frame: FrameIndex, source: io::Error) -> MediaError {
        MediaError::DamagedPipe { frame, path: self.path().to_owned(), source }
    }

    fn missing(&self, decoder: Decoder, frame: FrameIndex) -> MediaError {
        let path = self.path().to_owned();
        match decoder.last_words() {
            Ok(last_lines) => MediaError::NotDecoded { frame, path, last_lines },
            Err(fault) => decoder_fault(&path, fault),
        }
    }

    /// Notes what the decoder complained of while it went on: it may have patched what was damaged.
    fn remark(&mut self, decoder: &Decoder, selection: &Selection) {
        let complaints = decoder.complaints();
        let Some((before, words)) = complaints.first else { return };
        let place = usize::try_from(before).unwrap_or(usize::MAX);
        let frame = selection.frames().take(place.saturating_add(1)).last().unwrap_or_default();
        let more = match complaints.count - 1 {
            0 => String::new(),
            count => format!(" and {count} more"),
        };
        self.remarks.push(format!(
            "the decoder complained near frame {frame} of {} (`{words}`{more}): pictures there may be damaged",
            self.path().display()
        ));
    }

    fn no_such_frame(&self, frame: FrameIndex) -> FrameError {
        let (path, frame_count) = (self.path().to_owned(), self.frame_count);
        at(frame, MediaError::NoSuchFrame { frame, path, frame_count })
    }
}

impl FrameSource for Video {
    fn raster(&self) -> Raster {
        self.stream.shown()
    }

    fn frame_count(&self) -> u64 {
        self.frame_count
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        if let Some(&beyond) = wanted.range(FrameIndex(self.frame_count)..).next() {
            return Err(self.no_such_frame(beyond));
        }
        let raster = self.raster();
        let mut take_bytes = |frame, buffer: &mut Vec<u8>| {
            let bytes = std::mem::take(buffer);
            // The buffer has the size of a frame.
            RgbImage::from_raw(raster.width_px(), raster.height_px(), bytes)
                .map_or(ControlFlow::Break(()), |picture| take(frame, picture))
        };
        for selection in Selection::readings(wanted) {
            let is_wanted = |frame| wanted.contains(&frame);
            if self.read(&selection, Pixels::Colour, &is_wanted, &mut take_bytes)?.is_break() {
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
        if frames.last().0 >= self.frame_count {
            return Err(self.no_such_frame(frames.last()));
        }
        let selection = Selection::of_run(frames.first(), frames.last());
        let mut take_bytes = |frame, buffer: &mut Vec<u8>| {
            let bytes = std::mem::take(buffer);
            // The buffer has the size of a frame.
            let Some(luma) = GrayImage::from_raw(size.width_px(), size.height_px(), bytes) else {
                return ControlFlow::Break(());
            };
            let flow = take(frame, &luma);
            *buffer = luma.into_raw();
            flow
        };
        self.read(&selection, Pixels::Luma(size), &|_| true, &mut take_bytes).map(|_| ())
    }

    fn visit_small(
        &mut self,
        frames: FrameRange,
        side_px: u32,
        take: &mut dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        if frames.last().0 >= self.frame_count {
            return Err(self.no_such_frame(frames.last()));
        }
        let size = raster_within(self.raster(), side_px);
        let layout = self.stream.small_layout();
        let selection = Selection::of_run(frames.first(), frames.last());
        let mut take_bytes = |frame, buffer: &mut Vec<u8>| {
            let bytes = std::mem::take(buffer);
            // The buffer has the size of a frame.
            SmallPicture::new((size.width_px(), size.height_px()), layout, bytes)
                .map_or(ControlFlow::Break(()), |picture| take(frame, picture))
        };
        self.read(&selection, Pixels::Small(size), &|_| true, &mut take_bytes).map(|_| ())
    }

    fn take_remarks(&mut self) -> Vec<String> {
        std::mem::take(&mut self.remarks)
    }
}

fn at(frame: FrameIndex, cause: MediaError) -> FrameError {
    FrameError { frame, cause: Box::new(cause) }
}

/// The programs' own faults as faults of this room.
pub(super) fn decoder_fault(path: &Path, fault: ProcessError) -> MediaError {
    match fault {
        ProcessError::NotFound { program } => MediaError::DecoderMissing { program },
        ProcessError::Failed { program, status, last_lines } => MediaError::Decoder {
            path: path.to_owned(),
            source: ProcessError::Failed {
                program,
                status,
                last_lines: last_lines.iter().map(|line| plain(line)).collect(),
            },
        },
        source => MediaError::Decoder { path: path.to_owned(), source },
    }
}
