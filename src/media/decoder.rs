//! One run of the decoder: which words it is started with, and the frames that come back.
//!
//! Pixels come bare through standard output. Beside each frame, and before its pixels, the decoder reports on
//! standard error when the frame is shown and how large it is; so that a frame is known by its own time stamp
//! and never by where it happens to come.

use super::selection::{Address, Selection};
use crate::{
    geometry::{Orientation, QuarterTurn, Raster},
    picture::{Coding, Layout, Levels},
    process::{Job, ProcessError, Running},
};
use report::{Heard, tap};
use std::{
    ffi::OsString,
    io::{self, Read},
    ops::ControlFlow,
    path::{Path, PathBuf},
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{self, Receiver},
    },
    time::Duration,
};

mod report;

pub(super) use report::{Complaints, Shown, plain};

/// How long the report of a frame may be behind its pixels: it is written first, and only has to be read.
const REPORT_LIMIT: Duration = Duration::from_secs(30);

/// The most pixels that the decoder takes a frame to have, so that a few bytes that claim more cannot take all
/// the memory there is: 8192 x 8192, twice what any camera here has.
pub(super) const GREATEST_PIXEL_COUNT: u64 = 1 << 26;

/// A video stream and how its frames become pictures.
#[derive(Debug, Clone)]
pub(super) struct Stream {
    pub(super) ffmpeg: PathBuf,
    pub(super) path: PathBuf,
    pub(super) index: u32,
    /// The raster that is stored.
    pub(super) stored: Raster,
    /// The same with square pixels.
    pub(super) square: Raster,
    /// What is done to it then.
    pub(super) orientation: Orientation,
    /// Whether samples are luma and two colours, as most are, or something else.
    pub(super) has_luma: bool,
    /// How luma and colours stand for red, green and blue, where there are both.
    pub(super) coding: Option<Coding>,
    /// Whether decoding may begin in the middle.
    pub(super) is_indexed: bool,
}

/// What is wanted of each frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pixels {
    /// Red, green and blue, a byte each, at the size that is shown.
    Colour,
    /// Scaled to this size as shown, in the stream's own layout for small pictures.
    Small(Raster),
    /// Luma alone, a byte, scaled to this size as shown.
    Luma(Raster),
}

impl Stream {
    /// The raster as it is shown.
    pub(super) fn shown(&self) -> Raster {
        self.orientation.shown_raster(self.square)
    }

    /// How many bytes a frame takes on the pipe.
    pub(super) fn frame_bytes(&self, pixels: Pixels) -> usize {
        let size = |raster: Raster| (raster.width_px(), raster.height_px());
        match pixels {
            Pixels::Colour => Layout::Rgb.frame_bytes(size(self.shown())),
            Pixels::Small(raster) => self.small_layout().frame_bytes(size(raster)),
            Pixels::Luma(raster) => raster.width_px() as usize * raster.height_px() as usize,
        }
    }

    /// Which bytes small pictures have: as they are coded where that is what most video is.
    pub(super) fn small_layout(&self) -> Layout {
        self.coding.map_or(Layout::Rgb, Layout::Coded)
    }

    /// What that is to the decoder.
    fn pixel_format(&self, pixels: Pixels) -> &'static str {
        match (pixels, self.small_layout()) {
            (Pixels::Luma(_), _) => "gray",
            (Pixels::Small(_), Layout::Coded(_)) => "yuv420p",
            (Pixels::Small(_), Layout::Rgb) | (Pixels::Colour, _) => "rgb24",
        }
    }

    /// Starts the decoder on some frames; from near the first of them if it `begins_near` and can.
    pub(super) fn read(
        &self,
        selection: &Selection,
        address: &Address,
        (pixels, beginning): (Pixels, Beginning),
    ) -> Result<Decoder, ProcessError> {
        let mut job = Job::new(&self.ffmpeg).with_arguments(QUIET);
        let begin_secs =
            self.begin_secs(selection, address).filter(|_| beginning == Beginning::Near);
        if let Some(secs) = begin_secs {
            job = job
                .with_arguments(["-seek_timestamp", "1", "-noaccurate_seek", "-ss"])
                .with_argument(format!("{secs:.6}"));
        }
        let filters = format!("{},{}", selection.filter(address), self.filters(pixels));
        let job = self
            .input(job)
            .with_argument("-vf")
            .with_argument(filters)
            .with_arguments(["-fps_mode", "passthrough", "-frames:v"])
            .with_argument(selection.frame_count().to_string())
            .with_arguments(["-f", "rawvideo", "-pix_fmt"])
            .with_argument(self.pixel_format(pixels))
            .with_argument("-");
        // What is complained of on the way to the first frame that is wanted is of pictures that nobody sees.
        let heard = if begin_secs.is_some() { Heard::FromFirstFrame } else { Heard::FromStart };
        Decoder::start(&job, self.frame_bytes(pixels), heard)
    }

    /// Where a reading of these frames may begin, in seconds; `None` if only with the file.
    pub(super) fn begin_secs(&self, selection: &Selection, address: &Address) -> Option<f64> {
        selection.begin_secs(address).filter(|_| self.is_indexed)
    }

    /// Decodes every frame there is and tells of each, until the taker has enough; no pixels come back.
    pub(super) fn tell_all(
        &self,
        mut take: impl FnMut(Shown) -> ControlFlow<()>,
    ) -> Result<(), ProcessError> {
        let job = self.input(Job::new(&self.ffmpeg).with_arguments(QUIET)).with_arguments([
            "-vf",
            REPORT,
            "-fps_mode",
            "passthrough",
            "-f",
            "null",
            "-",
        ]);
        let decoder = Decoder::start(&job, 0, Heard::FromStart)?;
        while let Ok(shown) = decoder.reports.recv() {
            if take(shown).is_break() {
                return Ok(());
            }
        }
        decoder.running.finish().map(|_| ())
    }

    fn input(&self, job: Job) -> Job {
        job.with_arguments(["-noautorotate", "-copyts", "-max_pixels"])
            .with_argument(GREATEST_PIXEL_COUNT.to_string())
            .with_arguments(FILE_ONLY)
            .with_argument("-i")
            .with_argument(as_file(&self.path))
            .with_argument("-map")
            .with_argument(format!("0:{}", self.index))
    }

    /// Luma is taken as it is coded, without stretching its range, and shrunk by averaging areas. Turning
    /// comes last, on fewest pixels and on whole ones.
    fn filters(&self, pixels: Pixels) -> String {
        let mut filters = vec![REPORT.to_owned()];
        match pixels {
            Pixels::Colour => {
                let (width, height) = (self.square.width_px(), self.square.height_px());
                filters.push(format!("scale={width}:{height}"));
                filters.push("format=rgb24".to_owned());
            }
            // Shrunk and brought to its layout in one go: at full size either costs more than all that is done here. The
            // levels are said, so that they are what the layout says whatever single frames declare.
            Pixels::Small(size) => {
                let size = self.orientation.inverse().shown_raster(size);
                let (width, height) = (size.width_px(), size.height_px());
                let levels = match self.coding.map(|coding| coding.levels) {
                    Some(Levels::Full) => ":out_range=pc",
                    Some(Levels::Limited) => ":out_range=tv",
                    None => "",
                };
                filters.push(format!("scale={width}:{height}:flags=area{levels}"));
                filters.push(format!("format={}", self.pixel_format(pixels)));
            }
            Pixels::Luma(size) => {
                if !self.has_luma {
                    filters.push("format=yuv444p".to_owned());
                }
                let size = self.orientation.inverse().shown_raster(size);
                let (width, height) = (size.width_px(), size.height_px());
                filters.push("extractplanes=y,format=gray,setparams=range=pc".to_owned());
                filters.push(format!("scale={width}:{height}:flags=area"));
            }
        }
        filters.extend(turning(self.orientation).map(str::to_owned));
        filters.join(",")
    }
}

/// Where a reading begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beginning {
    /// Near its first frame, if the file lets itself be entered there.
    Near,
    /// With the file.
    First,
}

/// Nothing is asked, and reports are told from complaints.
const QUIET: [&str; 5] = ["-nostdin", "-hide_banner", "-nostats", "-loglevel", "level+info"];

/// What a file may make the reader open, and that what is marked as damaged is left out instead of shown.
pub(super) const FILE_ONLY: [&str; 4] =
    ["-protocol_whitelist", "file", "-fflags", "+discardcorrupt"];

/// The filter that reports each frame.
const REPORT: &str = "showinfo=checksum=0";

/// The path as one that can be nothing else: a name such as `12:30.mp4` or `-i` is a file too.
pub(super) fn as_file(path: &Path) -> OsString {
    let mut name = OsString::from("file:");
    name.push(path);
    name
}

fn turning(orientation: Orientation) -> impl Iterator<Item = &'static str> {
    let turn = match orientation.turn {
        QuarterTurn::None => None,
        QuarterTurn::Clockwise => Some("transpose=clock"),
        QuarterTurn::Half => Some("hflip,vflip"),
        QuarterTurn::Counterclockwise => Some("transpose=cclock"),
    };
    turn.into_iter().chain(orientation.is_mirrored.then_some("hflip"))
}

/// A decoder at work.
pub(super) struct Decoder {
    running: Running,
    reports: Receiver<Shown>,
    frame_bytes: usize,
    complaints: Arc<Mutex<Complaints>>,
    has_ended: bool,
}

impl Decoder {
    fn start(job: &Job, frame_bytes: usize, heard: Heard) -> Result<Self, ProcessError> {
        let complaints = Arc::new(Mutex::new(Complaints::default()));
        let (sender, reports) = mpsc::channel();
        let running = job.start_tapped(tap(sender, Arc::clone(&complaints), heard))?;
        Ok(Self { running, reports, frame_bytes, complaints, has_ended: false })
    }

    /// The next frame's pixels, into a buffer of their length, and what was reported of it; `None` after the
    /// last.
    pub(super) fn next(&mut self, buffer: &mut [u8]) -> io::Result<Option<Shown>> {
        debug_assert_eq!(buffer.len(), self.frame_bytes);
        let mut filled = 0;
        while filled < buffer.len() {
            match self.running.read(&mut buffer[filled..]) {
                Ok(0) => {
                    self.has_ended = true;
                    return Ok(None);
                }
                Ok(count) => filled += count,
                Err(fault) if fault.kind() == io::ErrorKind::Interrupted => {}
                Err(fault) => return Err(fault),
            }
        }
        let report = self.reports.recv_timeout(REPORT_LIMIT);
        report.map(Some).map_err(|_| io::Error::other("a frame came without its report"))
    }

    /// How many bytes a frame has.
    pub(super) const fn frame_bytes(&self) -> usize {
        self.frame_bytes
    }

    /// What it complained of so far.
    pub(super) fn complaints(&self) -> Complaints {
        self.complaints.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Its last words, if it has ended; what it complained of lately, if it is still at work.
    pub(super) fn last_words(self) -> Result<Vec<String>, ProcessError> {
        let lines = if self.has_ended {
            match self.running.finish() {
                Ok(lines) | Err(ProcessError::Failed { last_lines: lines, .. }) => lines,
                Err(fault) => return Err(fault),
            }
        } else {
            self.running.last_lines()
        };
        Ok(lines.iter().map(|line| plain(line)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::picture::Matrix;

    #[test]
    fn turning_is_done_on_luma_of_the_size_that_is_asked_for() {
        let raster = |text: &str| text.parse::<Raster>().unwrap();
        let stream = Stream {
            ffmpeg: "ffmpeg".into(),
            path: "ride.mp4".into(),
            index: 0,
            stored: raster("176x144"),
            square: raster("192x144"),
            orientation: Orientation { turn: QuarterTurn::Clockwise, is_mirrored: true },
            has_luma: true,
            coding: None,
            is_indexed: true,
        };
        assert_eq!(stream.shown(), raster("144x192"));
        assert_eq!(stream.frame_bytes(Pixels::Colour), 144 * 192 * 3);
        assert_eq!(
            stream.filters(Pixels::Luma(raster("72x96"))),
            "showinfo=checksum=0,extractplanes=y,format=gray,setparams=range=pc,scale=96:72:flags=area,transpose=clock,hflip"
        );
        assert_eq!(
            stream.filters(Pixels::Small(raster("72x96"))),
            "showinfo=checksum=0,scale=96:72:flags=area,format=rgb24,transpose=clock,hflip"
        );
        let coding = Some(Coding { levels: Levels::Limited, matrix: Matrix::Bt709 });
        let coded = Stream { coding, ..stream.clone() };
        assert_eq!(coded.frame_bytes(Pixels::Small(raster("72x95"))), 72 * 95 + 2 * 36 * 48);
        assert_eq!(
            coded.filters(Pixels::Small(raster("72x96"))),
            "showinfo=checksum=0,scale=96:72:flags=area:out_range=tv,format=yuv420p,transpose=clock,hflip"
        );
        assert_eq!(
            stream.filters(Pixels::Colour),
            "showinfo=checksum=0,scale=192:144,format=rgb24,transpose=clock,hflip"
        );
    }
}
