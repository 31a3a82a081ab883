//! One run of the decoder: which words it is started with, and the frames that come back.
//!
//! Pixels come bare through standard output. Beside each frame, and before its pixels, the decoder reports on
//! standard error when the frame is shown and how large it is; so that a frame is known by its own time stamp
//! and never by where it happens to come.

use super::selection::{Address, Selection};
use crate::{
    geometry::{Orientation, QuarterTurn, Raster},
    process::{Job, LineFate, LineTap, ProcessError, Running},
};
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
}

/// What is wanted of each frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pixels {
    /// Red, green and blue, a byte each, at the size that is shown.
    Colour,
    /// Luma alone, a byte, scaled to this size as shown.
    Luma(Raster),
}

/// What the decoder reports of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Shown {
    /// Its time stamp in ticks of the stream, if it has one.
    pub(super) stamp: Option<i64>,
    /// Its width and height before anything is done to it.
    pub(super) size: (u32, u32),
}

/// What the decoder complained of while it went on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Complaints {
    pub(super) count: u64,
    /// The first, and how many frames had come before it.
    pub(super) first: Option<(u64, String)>,
}

impl Stream {
    /// The raster as it is shown.
    pub(super) fn shown(&self) -> Raster {
        self.orientation.shown_raster(self.square)
    }

    /// How many bytes a frame takes on the pipe.
    pub(super) fn frame_bytes(&self, pixels: Pixels) -> usize {
        let (raster, bytes_a_pixel) = match pixels {
            Pixels::Colour => (self.shown(), 3),
            Pixels::Luma(size) => (size, 1),
        };
        raster.width_px() as usize * raster.height_px() as usize * bytes_a_pixel
    }

    /// Starts the decoder on some frames; from near the first of them if it `begins_near` and can.
    pub(super) fn read(
        &self,
        selection: &Selection,
        address: &Address,
        (pixels, beginning): (Pixels, Beginning),
    ) -> Result<Decoder, ProcessError> {
        let mut job = Job::new(&self.ffmpeg).with_arguments(QUIET);
        let begin_secs = selection.begin_secs(address).filter(|_| beginning == Beginning::Near);
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
            .with_argument(if pixels == Pixels::Colour { "rgb24" } else { "gray" })
            .with_argument("-");
        Decoder::start(&job, self.frame_bytes(pixels))
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
        let decoder = Decoder::start(&job, 0)?;
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
    fn start(job: &Job, frame_bytes: usize) -> Result<Self, ProcessError> {
        let complaints = Arc::new(Mutex::new(Complaints::default()));
        let (sender, reports) = mpsc::channel();
        let running = job.start_tapped(tap(sender, Arc::clone(&complaints)))?;
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

/// Hears reports of frames and complaints, and forgets the rest.
fn tap(sender: mpsc::Sender<Shown>, complaints: Arc<Mutex<Complaints>>) -> LineTap {
    let mut reported = 0;
    Box::new(move |line| {
        if let Some(shown) = report(line) {
            reported += 1;
            // Nobody may be listening any more.
            let _ = sender.send(shown);
            return LineFate::Forget;
        }
        if !is_complaint(line) {
            return LineFate::Forget;
        }
        let mut complaints = complaints.lock().unwrap_or_else(PoisonError::into_inner);
        complaints.count += 1;
        complaints.first.get_or_insert_with(|| (reported, plain(line)));
        LineFate::Keep
    })
}

/// Reads `[Parsed_showinfo_1 @ 0x5581] [info] n:   1 pts:    640 pts_time:0.0333 … s:568x320 …`.
fn report(line: &str) -> Option<Shown> {
    let (_, told) = line.split_once("showinfo")?;
    let (_, told) = told.split_once("] n:")?;
    let value = |name: &str| told.split_once(name)?.1.split_whitespace().next();
    let (width, height) = value(" s:")?.split_once('x')?;
    Some(Shown {
        stamp: value(" pts:")?.parse().ok(),
        size: (width.parse().ok()?, height.parse().ok()?),
    })
}

/// Whether a line tells of something that went wrong. One without a level is not the decoder's own.
fn is_complaint(line: &str) -> bool {
    const QUIET_LEVELS: [&str; 5] = ["[warning]", "[info]", "[verbose]", "[debug]", "[trace]"];
    !QUIET_LEVELS.iter().any(|level| line.contains(level))
}

/// A line without the level and the addresses that mean nothing to a reader.
pub(super) fn plain(line: &str) -> String {
    let mut words = Vec::new();
    for word in line.split_whitespace() {
        let is_level = ["[error]", "[fatal]", "[panic]"].contains(&word);
        let is_address = word == "@" || word.starts_with("0x");
        if is_address && word.ends_with(']') {
            if let Some(named) = words.last_mut() {
                *named = format!("{named}]");
            }
        } else if !is_level && !is_address {
            words.push(word.to_owned());
        }
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines that versions 5.1 and 7.1 print; the latter from memory.
    #[test]
    fn reports_are_told_from_everything_else() {
        for (line, shown) in [
            (
                "[Parsed_showinfo_1 @ 0x5581] [info] n:   1 pts:    640 pts_time:0.0333333 pos:    12771 fmt:yuv420p sar:0/1 s:568x320 i:P iskey:0 type:P ",
                Some(Shown { stamp: Some(640), size: (568, 320) }),
            ),
            (
                "[Parsed_showinfo_0 @ 0x5581] [info] n:   0 pts:  NOPTS pts_time:NOPTS   duration:  40 duration_time:0.04    fmt:gray cl:left sar:1/1 s:16x12 i:P iskey:1 type:I ",
                Some(Shown { stamp: None, size: (16, 12) }),
            ),
            (
                "[Parsed_showinfo_0 @ 0x5581] [info] n:   2 pts:     -3 pts_time:-0.12 s:16x12",
                Some(Shown { stamp: Some(-3), size: (16, 12) }),
            ),
            ("[Parsed_showinfo_0 @ 0x5581] [info] config in time_base: 1/1000", None),
            ("[info]   title           : n: 1 pts: 2 s:1x1", None),
        ] {
            assert_eq!(report(line), shown, "{line}");
        }
    }

    #[test]
    fn last_words_are_quoted_without_addresses() {
        assert_eq!(
            plain("[h264 @ 0x55c2cd] [error] error while decoding MB 4 0"),
            "[h264] error while decoding MB 4 0"
        );
        assert_eq!(plain("[error] moov atom not found"), "moov atom not found");
    }

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
        };
        assert_eq!(stream.shown(), raster("144x192"));
        assert_eq!(stream.frame_bytes(Pixels::Colour), 144 * 192 * 3);
        assert_eq!(
            stream.filters(Pixels::Luma(raster("72x96"))),
            "showinfo=checksum=0,extractplanes=y,format=gray,setparams=range=pc,scale=96:72:flags=area,transpose=clock,hflip"
        );
        assert_eq!(
            stream.filters(Pixels::Colour),
            "showinfo=checksum=0,scale=192:144,format=rgb24,transpose=clock,hflip"
        );
    }
}
