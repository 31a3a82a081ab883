use super::{
    MediaError, MediaNotice, Opened, Programs,
    fingerprint::fingerprint,
    ppm,
    probe::{self, Description},
    selection::Selection,
    stamps::{Clock, RateFault, Stamps},
};
use crate::{
    clip::ClipFacts,
    geometry::Raster,
    picture::{FrameError, FrameSource, RgbImage},
    process::{Job, ProcessError, Running},
    timecode::{FrameIndex, FrameRate, Timecode},
};
use std::{
    collections::BTreeSet,
    ffi::OsString,
    fs,
    io::{self, BufRead},
    ops::ControlFlow,
    path::{Path, PathBuf},
    time::Duration,
};

#[cfg(test)]
mod tests;

/// How long a description may take. A card in a slow reader answers in a few seconds. Our choice.
const PROBE_LIMIT: Duration = Duration::from_secs(60);
/// How long a description may be. A file of ten streams takes some 10 KiB. Our choice.
const PROBE_LIMIT_BYTES: usize = 1 << 20;

/// Opens a video file: describes it, counts its frames by their packets, and finds its constant rate.
///
/// # Errors
/// [`MediaError`] as listed there.
pub(super) fn open(
    programs: &Programs,
    path: &Path,
    given: Option<FrameRate>,
) -> Result<Opened, MediaError> {
    check_file(path)?;
    check_decoder(programs, path)?;
    let description = describe(programs, path)?;
    let stamps = read_stamps(programs, path, description.stream_index)?;
    let mut notices = notices_of(path, &description, &stamps);
    let (frame_count, discarded_count) = (stamps.shown_count(), stamps.discarded_count());
    if frame_count == 0 {
        return Err(MediaError::NoFrames { path: path.to_owned(), discarded_count });
    }
    let no_stamps = || MediaError::NoStamps { path: path.to_owned() };
    let ordered = stamps.in_order().ok_or_else(no_stamps)?;
    let time_base = description.time_base.ok_or_else(no_stamps)?;
    let rate = ordered
        .constant_rate(time_base, given, &description.declared_rates)
        .map_err(|fault| rate_refusal(path, fault, given))?;
    let start_timecode = description.timecode.as_deref().and_then(|text| {
        let read = Timecode::parse(text, rate);
        read.map_err(|fault| {
            let (path, text) = (path.to_owned(), text.to_owned());
            notices.push(MediaNotice::TimecodeNotRead { path, text, rate, fault });
        })
        .ok()
    });
    let fingerprint = fingerprint([path])?;
    let raster = description.raster;
    let facts =
        ClipFacts { raster, rate, frame_count, start_timecode, fingerprint, bit_rate: None };
    let frames = Box::new(Video {
        ffmpeg: programs.ffmpeg.clone(),
        path: path.to_owned(),
        stream_index: description.stream_index,
        raster,
        frame_count,
        clock: ordered.clock(time_base, rate),
    });
    Ok(Opened { facts, frames, notices })
}

fn check_file(path: &Path) -> Result<(), MediaError> {
    let unreadable = |source| MediaError::Unreadable { path: path.to_owned(), source };
    let about = fs::metadata(path).map_err(unreadable)?;
    if !about.is_file() {
        return Err(MediaError::NotAFile { path: path.to_owned() });
    }
    if about.len() == 0 {
        return Err(MediaError::EmptyFile { path: path.to_owned() });
    }
    Ok(())
}

/// Finds out now, and not at the first frame, whether there is a decoder.
fn check_decoder(programs: &Programs, path: &Path) -> Result<(), MediaError> {
    let version = Job::new(&programs.ffmpeg).with_argument("-version");
    let answer = version.collect(PROBE_LIMIT_BYTES, PROBE_LIMIT);
    answer.map(|_| ()).map_err(|fault| decoder_fault(path, fault))
}

fn describe(programs: &Programs, path: &Path) -> Result<Description, MediaError> {
    let job =
        ffprobe(programs, path).with_arguments(["-show_entries", probe::ENTRIES, "-of", "json"]);
    let answer =
        job.collect(PROBE_LIMIT_BYTES, PROBE_LIMIT).map_err(|fault| not_a_video(path, fault))?;
    probe::describe(path, &answer.stdout)
}

/// Reads the stamps of every packet, line by line. The whole file is read for it, however long that takes.
fn read_stamps(programs: &Programs, path: &Path, stream_index: u32) -> Result<Stamps, MediaError> {
    let job = ffprobe(programs, path)
        .with_argument("-select_streams")
        .with_argument(stream_index.to_string())
        .with_arguments(["-show_entries", "packet=pts,dts,flags", "-of", "compact=p=0"]);
    let mut running = job.start().map_err(|fault| not_a_video(path, fault))?;
    let (mut stamps, mut line) = (Stamps::default(), Vec::new());
    loop {
        line.clear();
        let count = running.read_until(b'\n', &mut line).map_err(|source| {
            let program = running.program().to_owned();
            decoder_fault(path, ProcessError::Pipe { program, source })
        })?;
        if count == 0 {
            break;
        }
        stamps.take_line(&String::from_utf8_lossy(&line));
    }
    running.finish().map_err(|fault| not_a_video(path, fault))?;
    Ok(stamps)
}

fn ffprobe(programs: &Programs, path: &Path) -> Job {
    Job::new(&programs.ffprobe)
        .with_arguments(["-v", "error", "-protocol_whitelist", "file", "-i"])
        .with_argument(as_file(path))
}

/// The path as one that can be nothing else: a name such as `12:30.mp4` or `-i` is a file too.
fn as_file(path: &Path) -> OsString {
    let mut name = OsString::from("file:");
    name.push(path);
    name
}

fn not_a_video(path: &Path, fault: ProcessError) -> MediaError {
    match fault {
        ProcessError::Failed { .. } => {
            MediaError::NotAVideo { path: path.to_owned(), source: fault }
        }
        other => decoder_fault(path, other),
    }
}

fn decoder_fault(path: &Path, fault: ProcessError) -> MediaError {
    match fault {
        ProcessError::NotFound { program } => MediaError::DecoderMissing { program },
        source => MediaError::Decoder { path: path.to_owned(), source },
    }
}

fn rate_refusal(path: &Path, fault: RateFault, given: Option<FrameRate>) -> MediaError {
    let path = path.to_owned();
    match (fault, given) {
        (RateFault::Variable { smallest_gap_ms, largest_gap_ms }, _) => {
            MediaError::VariableRate { path, smallest_gap_ms, largest_gap_ms }
        }
        (RateFault::OutOfRange { gap_ms }, _) => MediaError::RateOutOfRange { path, gap_ms },
        (RateFault::NotAsGiven { found }, given) => {
            MediaError::OtherRate { path, found, given: given.unwrap_or(found) }
        }
    }
}

fn notices_of(path: &Path, description: &Description, stamps: &Stamps) -> Vec<MediaNotice> {
    let mut notices = Vec::new();
    let counted = stamps.shown_count() + stamps.discarded_count();
    if let Some(promised) = description.promised_frame_count.filter(|&count| count > counted) {
        notices.push(MediaNotice::FramesMissing { path: path.to_owned(), promised, counted });
    }
    if description.is_interlaced {
        notices.push(MediaNotice::Interlaced { path: path.to_owned() });
    }
    notices
}

/// A video file; each visit runs one decoder.
struct Video {
    ffmpeg: PathBuf,
    path: PathBuf,
    stream_index: u32,
    raster: Raster,
    frame_count: u64,
    clock: Clock,
}

impl Video {
    fn decode_job(&self, selection: &Selection) -> Job {
        Job::new(&self.ffmpeg)
            .with_arguments(["-nostdin", "-v", "error", "-noautorotate", "-copyts"])
            .with_arguments(["-protocol_whitelist", "file", "-i"])
            .with_argument(as_file(&self.path))
            .with_argument("-map")
            .with_argument(format!("0:{}", self.stream_index))
            .with_argument("-vf")
            .with_argument(selection.filter(&self.clock))
            .with_arguments(["-fps_mode", "passthrough", "-frames:v"])
            .with_argument(selection.frame_count().to_string())
            .with_arguments(["-f", "image2pipe", "-c:v", "ppm", "-pix_fmt", "rgb24", "-"])
    }

    fn no_such_frame(&self, frame: FrameIndex) -> MediaError {
        MediaError::NoSuchFrame { frame, path: self.path.clone(), frame_count: self.frame_count }
    }

    /// The next frame on the pipe, which should be `frame`.
    fn next(
        &self,
        running: &mut Running,
        frame: FrameIndex,
    ) -> Result<Option<RgbImage>, MediaError> {
        match ppm::read_frame(running, self.raster) {
            Err(fault) if fault.kind() == io::ErrorKind::UnexpectedEof => Ok(None),
            Err(source) => Err(MediaError::DamagedPipe { frame, path: self.path.clone(), source }),
            Ok(picture) => Ok(picture),
        }
    }

    /// Why the decoder ended before `frame`.
    fn ended_early(&self, running: Running, frame: FrameIndex) -> MediaError {
        let last_lines = match running.finish() {
            Ok(last_lines) | Err(ProcessError::Failed { last_lines, .. }) => last_lines,
            Err(fault) => return decoder_fault(&self.path, fault),
        };
        MediaError::NotDecoded { frame, path: self.path.clone(), last_lines }
    }
}

impl FrameSource for Video {
    fn raster(&self) -> Raster {
        self.raster
    }

    fn frame_count(&self) -> u64 {
        self.frame_count
    }

    fn visit(
        &mut self,
        wanted: &BTreeSet<FrameIndex>,
        take: &mut dyn FnMut(FrameIndex, RgbImage) -> ControlFlow<()>,
    ) -> Result<(), FrameError> {
        let at = |frame| move |cause: MediaError| FrameError { frame, cause: Box::new(cause) };
        let Some(&first) = wanted.first() else { return Ok(()) };
        if let Some(&beyond) = wanted.range(FrameIndex(self.frame_count)..).next() {
            return Err(at(beyond)(self.no_such_frame(beyond)));
        }
        let selection = Selection::of(wanted);
        let started = self.decode_job(&selection).start();
        let mut running =
            started.map_err(|fault| decoder_fault(&self.path, fault)).map_err(at(first))?;
        for frame in selection.frames() {
            // A frame between two runs is not wanted itself; the next one that is cannot come either.
            let next_wanted = wanted.range(frame..).next().copied().unwrap_or(frame);
            let Some(picture) = self.next(&mut running, frame).map_err(at(next_wanted))? else {
                return Err(at(next_wanted)(self.ended_early(running, next_wanted)));
            };
            if wanted.contains(&frame) && take(frame, picture).is_break() {
                break;
            }
        }
        Ok(())
    }
}
