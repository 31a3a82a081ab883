//! A clip's pictures at analysis size, decoded once and then read from a file without a name.
//!
//! What looks at pictures goes through them several times and both ways. At the few hundred lines that this takes,
//! a picture is some 0.8 MB as video is coded, so that a minute of them fits on a disk and not in memory. Of a longer range
//! the segments that were used last are kept, and what has given place to them is decoded again.

use crate::{
    geometry::Raster,
    picture::{FrameError, FrameSource, GrayImage, Layout, RgbImage, SmallPicture},
    timecode::{FrameIndex, FrameRange},
};
use std::{
    collections::BTreeSet,
    fs::File,
    io::{self, Read, Seek, SeekFrom, Write},
    ops::ControlFlow,
    path::{Path, PathBuf},
};

/// Frames that are decoded and kept together: starting a decoder in the middle of a file costs as much as up to some
/// hundred frames.
const SEGMENT_FRAMES: u64 = 128;
/// What is kept at most. At 960 x 540 px it is three minutes of 30 frames a second. Chosen.
const MOST_BYTES: u64 = 4_000_000_000;
/// A way forward and one backward need a segment each. More that are followed at a time have places enough: of the largest
/// pictures 20 segments are kept, and as many again where they are coded.
const LEAST_SLOTS: usize = 2;

/// A range of a clip whose small pictures are kept once they were read; as [`FrameSource::visit_small`] they come from
/// there, and everything else from the footage. Its raster is that which boxes are measured in, which may be larger than
/// the footage's own, as with a proxy.
pub struct SmallFrames<'s> {
    source: &'s mut dyn FrameSource,
    raster: Raster,
    side_px: u32,
    shelf: Shelf,
}

/// What is kept of a range, and where.
struct Shelf {
    frames: FrameRange,
    folder: PathBuf,
    file: File,
    /// Width and height of the pictures, and which bytes they have, once one was read.
    size: (u32, u32),
    layout: Layout,
    /// Which segment is in each place of the file, and when it was last used.
    slots: Vec<(Option<u64>, u64)>,
    uses: u64,
}

/// The small pictures that are looked at could not be written down or read again.
#[derive(Debug, thiserror::Error)]
#[error(
    "the small pictures of the footage could not be kept in {}, where they take up to 4 GB while it is looked at",
    folder.display()
)]
pub struct NotKept {
    /// Where they were to be kept.
    pub folder: PathBuf,
    /// Why.
    pub source: io::Error,
}

/// Takes pictures as they come.
type Take<'t> = dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()> + 't;

impl<'s> SmallFrames<'s> {
    /// Keeps a range of a source in a file in this folder, at no more than `side_px` along the longer side.
    ///
    /// # Errors
    /// [`NotKept`] if no file can be made there.
    pub fn new(
        source: &'s mut dyn FrameSource,
        raster: Raster,
        (frames, side_px): (FrameRange, u32),
        folder: &Path,
    ) -> Result<Self, NotKept> {
        let folder = folder.to_owned();
        let file = match tempfile::tempfile_in(&folder) {
            Ok(file) => file,
            Err(source) => return Err(NotKept { folder, source }),
        };
        let (slots, size, layout) = (Vec::new(), (0, 0), Layout::Rgb);
        let shelf = Shelf { frames, folder, file, size, layout, slots, uses: 0 };
        Ok(Self { source, raster, side_px, shelf })
    }

    /// How many px the kept pictures have along the longer side at most.
    #[must_use]
    pub const fn side_px(&self) -> u32 {
        self.side_px
    }

    /// Decodes segments that follow on each other, keeps them, and hands over what of them is wanted.
    fn read_anew(
        &mut self,
        frames: FrameRange,
        wanted: FrameRange,
        take: &mut Take<'_>,
    ) -> Result<ControlFlow<()>, FrameError> {
        let (shelf, side_px) = (&mut self.shelf, self.side_px);
        let mut fault = None;
        let mut flow = ControlFlow::Continue(());
        self.source.visit_small(frames, side_px, &mut |frame, picture| {
            let picture = shelf.as_kept(picture);
            if let Err(source) = shelf.keep(frame, &picture) {
                fault = Some(shelf.not_kept(frame, source));
                return ControlFlow::Break(());
            }
            if wanted.contains(frame) {
                flow = take(frame, picture);
            }
            flow
        })?;
        fault.map_or(Ok(flow), Err)
    }
}

impl Shelf {
    fn segment_of(&self, frame: FrameIndex) -> u64 {
        (frame.0 - self.frames.first().0) / SEGMENT_FRAMES
    }

    fn first_of(&self, segment: u64) -> u64 {
        self.frames.first().0 + segment * SEGMENT_FRAMES
    }

    fn end_of(&self, segment: u64) -> u64 {
        self.first_of(segment + 1).min(self.frames.end().0)
    }

    fn slot_of(&self, segment: u64) -> Option<usize> {
        self.slots.iter().position(|(kept, _)| *kept == Some(segment))
    }

    fn frame_bytes(&self) -> u64 {
        self.layout.frame_bytes(self.size) as u64
    }

    /// A picture as all of the range are: the parts of a clip may be coded in other ways than its first one.
    fn as_kept(&mut self, picture: SmallPicture) -> SmallPicture {
        if self.slots.is_empty() {
            (self.size, self.layout) = (picture.dimensions(), picture.layout());
        }
        picture.with_layout(self.layout)
    }

    /// A place for another segment: a new one, or that of the segment which was not used for longest.
    fn free_slot(&mut self) -> usize {
        let most = MOST_BYTES / (self.frame_bytes() * SEGMENT_FRAMES).max(1);
        let most = usize::try_from(most).unwrap_or(usize::MAX).max(LEAST_SLOTS);
        self.uses += 1;
        let oldest = (0..self.slots.len()).min_by_key(|slot| self.slots[*slot].1);
        if let Some(slot) = oldest.filter(|_| self.slots.len() >= most) {
            self.slots[slot] = (None, self.uses);
            return slot;
        }
        self.slots.push((None, self.uses));
        self.slots.len() - 1
    }

    fn seek(&mut self, slot: usize, place: u64) -> io::Result<()> {
        let frames_before = slot as u64 * SEGMENT_FRAMES + place;
        self.file.seek(SeekFrom::Start(frames_before * self.frame_bytes())).map(|_| ())
    }

    /// Writes down the next frame; a segment counts as kept once it is whole.
    fn keep(&mut self, frame: FrameIndex, picture: &SmallPicture) -> io::Result<()> {
        let segment = self.segment_of(frame);
        if frame.0 == self.first_of(segment) {
            let slot = self.free_slot();
            self.seek(slot, 0)?;
        }
        self.file.write_all(picture.as_bytes())?;
        if frame.0 + 1 == self.end_of(segment) {
            // The one that was freed last is the one that was written.
            let last = self.slots.iter_mut().max_by_key(|(_, used)| *used);
            last.into_iter().for_each(|slot| slot.0 = Some(segment));
        }
        Ok(())
    }

    /// Hands over the wanted frames of a segment that is kept.
    fn read(
        &mut self,
        (segment, slot): (u64, usize),
        wanted: FrameRange,
        take: &mut Take<'_>,
    ) -> Result<ControlFlow<()>, FrameError> {
        let bytes = self.layout.frame_bytes(self.size);
        self.uses += 1;
        self.slots[slot].1 = self.uses;
        let first = self.first_of(segment);
        let from = first.max(wanted.first().0);
        self.seek(slot, from - first).map_err(|fault| self.not_kept(FrameIndex(from), fault))?;
        for frame in (from..self.end_of(segment).min(wanted.end().0)).map(FrameIndex) {
            let mut pixels = Vec::with_capacity(bytes);
            let read = (&self.file).take(bytes as u64).read_to_end(&mut pixels);
            read.map_err(|fault| self.not_kept(frame, fault))?;
            let Some(picture) = SmallPicture::new(self.size, self.layout, pixels) else {
                return Err(self.not_kept(frame, io::ErrorKind::UnexpectedEof.into()));
            };
            if take(frame, picture).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    fn not_kept(&self, frame: FrameIndex, source: io::Error) -> FrameError {
        let cause = NotKept { folder: self.folder.clone(), source };
        FrameError { frame, cause: Box::new(cause) }
    }
}

impl FrameSource for SmallFrames<'_> {
    fn raster(&self) -> Raster {
        self.raster
    }

    fn frame_count(&self) -> u64 {
        self.source.frame_count()
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        self.source.visit(wanted, take)
    }

    fn visit_luma(
        &mut self,
        frames: FrameRange,
        size: Raster,
        take: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        self.source.visit_luma(frames, size, take)
    }

    fn visit_small(
        &mut self,
        frames: FrameRange,
        side_px: u32,
        take: &mut dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        let kept = self.shelf.frames;
        let is_inside = kept.first() <= frames.first() && frames.end() <= kept.end();
        if side_px != self.side_px || !is_inside {
            return self.source.visit_small(frames, side_px, take);
        }
        let last = self.shelf.segment_of(frames.last());
        let mut segment = self.shelf.segment_of(frames.first());
        while segment <= last {
            let flow = if let Some(slot) = self.shelf.slot_of(segment) {
                segment += 1;
                self.shelf.read((segment - 1, slot), frames, take)?
            } else {
                let missing = |at: &u64| self.shelf.slot_of(*at).is_none();
                let end = (segment..=last).take_while(missing).last().unwrap_or(segment) + 1;
                let range = (self.shelf.first_of(segment), self.shelf.end_of(end - 1));
                segment = end;
                let range = FrameRange::new(FrameIndex(range.0), FrameIndex(range.1));
                let Ok(range) = range else { break };
                self.read_anew(range, frames, take)?
            };
            if flow.is_break() {
                break;
            }
        }
        Ok(())
    }

    fn take_remarks(&mut self) -> Vec<String> {
        self.source.take_remarks()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::picture::{Coding, Levels, Matrix};

    /// Frames of one colour each, that counts how often each was read.
    struct Counted(Vec<u32>);

    impl FrameSource for Counted {
        fn raster(&self) -> Raster {
            Raster::new(8, 6).unwrap()
        }

        fn frame_count(&self) -> u64 {
            self.0.len() as u64
        }

        fn visit(
            &mut self,
            wanted: &BTreeSet<FrameIndex>,
            take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
        ) -> Result<(), FrameError> {
            for frame in wanted {
                self.0[usize::try_from(frame.0).unwrap()] += 1;
                let value = u8::try_from(frame.0 % 251).unwrap();
                if take(*frame, RgbImage::from_pixel(8, 6, image::Rgb([value; 3]))).is_break() {
                    break;
                }
            }
            Ok(())
        }

        fn visit_luma(
            &mut self,
            _: FrameRange,
            _: Raster,
            _: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
        ) -> Result<(), FrameError> {
            Ok(())
        }
    }

    fn range(first: u64, end: u64) -> FrameRange {
        FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap()
    }

    #[test]
    fn frames_are_read_once_however_they_are_asked_for() {
        let (mut source, folder) = (Counted(vec![0; 500]), tempfile::tempdir().unwrap());
        let raster = Raster::new(80, 60).unwrap();
        let kept = range(50, 450);
        let mut small = SmallFrames::new(&mut source, raster, (kept, 8), folder.path()).unwrap();
        assert_eq!(small.raster(), raster);
        for (first, end) in [(180, 190), (60, 440), (430, 450), (50, 82), (300, 332)] {
            let mut came = Vec::new();
            let take = &mut |frame: FrameIndex, picture: SmallPicture| {
                assert_eq!(u64::from(picture.as_bytes()[42]), frame.0 % 251);
                came.push(frame.0);
                ControlFlow::Continue(())
            };
            small.visit_small(range(first, end), 8, take).unwrap();
            assert_eq!(came, (first..end).collect::<Vec<_>>());
        }
        let counts: Vec<u32> = source.0;
        assert!(counts[50..450].iter().all(|count| *count == 1), "{counts:?}");
        assert!(counts[..50].iter().chain(&counts[450..]).all(|count| *count == 0));
    }

    /// As a clip whose second part is coded in another way than its first.
    #[test]
    fn pictures_of_another_layout_are_kept_in_that_of_the_first() {
        struct Parts;
        impl FrameSource for Parts {
            fn raster(&self) -> Raster {
                Raster::new(4, 2).unwrap()
            }
            fn frame_count(&self) -> u64 {
                4
            }
            fn visit(
                &mut self,
                _: &BTreeSet<FrameIndex>,
                _: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
            ) -> Result<(), FrameError> {
                Ok(())
            }
            fn visit_luma(
                &mut self,
                _: FrameRange,
                _: Raster,
                _: &mut dyn FnMut(FrameIndex, &GrayImage) -> ControlFlow<()>,
            ) -> Result<(), FrameError> {
                Ok(())
            }
            fn visit_small(
                &mut self,
                frames: FrameRange,
                _: u32,
                take: &mut dyn FnMut(FrameIndex, SmallPicture) -> ControlFlow<()>,
            ) -> Result<(), FrameError> {
                for frame in frames.frames() {
                    let levels = if frame.0 < 2 { Levels::Limited } else { Levels::Full };
                    let layout = Layout::Coded(Coding { levels, matrix: Matrix::Bt709 });
                    // White, without any colour.
                    let white = if frame.0 < 2 { 235 } else { 255 };
                    let bytes = [[white; 8].as_slice(), &[128; 4]].concat();
                    let _ = take(frame, SmallPicture::new((4, 2), layout, bytes).unwrap());
                }
                Ok(())
            }
        }
        let (mut source, folder) = (Parts, tempfile::tempdir().unwrap());
        let (raster, kept) = (Raster::new(4, 2).unwrap(), range(0, 4));
        let mut small = SmallFrames::new(&mut source, raster, (kept, 4), folder.path()).unwrap();
        for _ in ["decoded", "kept"] {
            let mut whites = Vec::new();
            let take = &mut |_, picture: SmallPicture| {
                assert_eq!(picture.as_bytes().len(), 12);
                whites.push(picture.into_rgb().get_pixel(2, 1).0[1]);
                ControlFlow::Continue(())
            };
            small.visit_small(kept, 4, take).unwrap();
            assert!(whites.len() == 4 && whites.iter().all(|white| *white >= 253), "{whites:?}");
        }
    }

    #[test]
    fn a_reading_that_was_broken_off_leaves_nothing_half() {
        let (mut source, folder) = (Counted(vec![0; 200]), tempfile::tempdir().unwrap());
        let (raster, kept) = (Raster::new(8, 6).unwrap(), range(0, 200));
        let mut small = SmallFrames::new(&mut source, raster, (kept, 8), folder.path()).unwrap();
        small.visit_small(kept, 8, &mut |_, _| ControlFlow::Break(())).unwrap();
        let mut came = 0;
        let take = &mut |frame: FrameIndex, picture: SmallPicture| {
            assert_eq!(u64::from(picture.as_bytes()[0]), frame.0);
            came += 1;
            ControlFlow::Continue(())
        };
        small.visit_small(kept, 8, take).unwrap();
        assert_eq!(came, 200);
    }

    #[test]
    fn of_more_than_fits_what_was_used_last_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let file = tempfile::tempfile_in(folder.path()).unwrap();
        let folder = folder.path().to_owned();
        // A frame so large that no two segments fit: two are kept all the same.
        let mut shelf = Shelf {
            frames: range(0, 1000),
            folder,
            file,
            size: (5000, 4000),
            layout: Layout::Rgb,
            slots: Vec::new(),
            uses: 0,
        };
        for segment in 0..3 {
            let slot = shelf.free_slot();
            shelf.slots[slot].0 = Some(segment);
        }
        assert_eq!([0, 1, 2].map(|at| shelf.slot_of(at)), [None, Some(1), Some(0)]);
    }
}
