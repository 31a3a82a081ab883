//! A video file is opened: described, its frames counted, its rate found; nothing is decoded unless nothing
//! else tells the frames apart.

use super::{
    Counted, MediaError, MediaNotice, Programs, Watch,
    decoder::{self, GREATEST_PIXEL_COUNT, Stream},
    fingerprint::fingerprint,
    probe::{self, Description},
    programs::check_decoder,
    selection::Address,
    stamps::{Ordered, RateFault, Stamps, TimeBase},
    video::{Video, decoder_fault},
};
use crate::{
    clip::{ClipFacts, Part, Reading, Storage, Timing},
    geometry::Raster,
    process::{Job, ProcessError, Running},
    timecode::{FrameIndex, FrameRange, FrameRate, Timecode},
};
use std::{fs, io::BufRead, ops::ControlFlow, path::Path, sync::Arc, time::Duration};

/// How long a description may take. A card in a slow reader answers in a few seconds. Our choice.
const PROBE_LIMIT: Duration = Duration::from_secs(60);
/// How long a description may be. A file of ten streams takes some 10 KiB. Our choice.
const PROBE_LIMIT_BYTES: usize = 1 << 20;

/// Codings whose packets are frames, one for one, so that frames can be counted without decoding them. In
/// others a packet may hold a frame that is never shown, or half of one.
const PACKETS_ARE_FRAMES: [&str; 12] = [
    "h264", "hevc", "av1", "vp9", "mjpeg", "prores", "dnxhd", "cfhd", "h263", "ffv1", "png",
    "rawvideo",
];

/// A file that can be read.
pub(super) struct OpenedFile {
    pub(super) facts: ClipFacts,
    pub(super) video: Video,
    pub(super) notices: Vec<MediaNotice>,
}

/// Opens a video file.
///
/// # Errors
/// [`MediaError`] as listed there.
pub(super) fn open(
    programs: &Programs,
    path: &Path,
    reading: &Reading,
    watch: &mut Watch<'_>,
) -> Result<OpenedFile, MediaError> {
    check_file(path)?;
    check_decoder(programs, path)?;
    let description = describe(programs, path, reading.track)?;
    let packets = list_packets(programs, path, &description)?;
    let stream = stream_of(programs, path, &description, reading)?;
    let promised = description.promised_frame_count;
    let mut count = |frames| {
        let flow = watch(Counted { frames, promised });
        if flow.is_break() { Err(MediaError::Stopped { path: path.to_owned() }) } else { Ok(()) }
    };
    let mut stamps = read_stamps(packets, path, (description.stream_index, &mut count))?;
    let mut notices = notices_of(path, &description, &mut stamps);
    let frames = frames_of(&stream, &description, &stamps, &mut count)?;
    let discarded_count = stamps.discarded_count();
    let whole = FrameRange::new(FrameIndex(0), FrameIndex(frames.count))
        .map_err(|_| MediaError::NoFrames { path: path.to_owned(), discarded_count })?;
    let timing = timing_of(path, &description, &frames, (reading.rate, &mut notices))?;
    let start_timecode = start_timecode(path, &description, &timing, &mut notices);
    let seconds = timing.seconds_at(whole.end());
    #[expect(clippy::cast_precision_loss, reason = "a file has far fewer than 2^53 bits")]
    let bit_rate = (seconds > 0.0 && stamps.shown_bytes() > 0)
        .then(|| 8.0 * stamps.shown_bytes() as f64 / seconds)
        .or(description.declared_bit_rate);
    let facts = ClipFacts {
        raster: stream.shown(),
        timing,
        frame_count: frames.count,
        start_timecode,
        bit_rate,
        parts: vec![Part { path: path.to_owned(), frames: whole }],
        storage: storage_of(&description),
        fingerprint: fingerprint([path])?,
    };
    let (address, frame_count) = (frames.address, frames.count);
    let video = Video { stream, address, frame_count, remarks: Vec::new() };
    Ok(OpenedFile { facts, video, notices })
}

fn check_file(path: &Path) -> Result<(), MediaError> {
    let about = fs::metadata(path).map_err(|fault| MediaError::unreadable(path, fault))?;
    if !about.is_file() {
        return Err(MediaError::NotAFile { path: path.to_owned() });
    }
    if about.len() == 0 {
        return Err(MediaError::EmptyFile { path: path.to_owned() });
    }
    Ok(())
}

fn describe(
    programs: &Programs,
    path: &Path,
    track: Option<u32>,
) -> Result<Description, MediaError> {
    let job =
        ffprobe(programs, path).with_arguments(["-show_entries", probe::ENTRIES, "-of", "json"]);
    let answer =
        job.collect(PROBE_LIMIT_BYTES, PROBE_LIMIT).map_err(|fault| not_a_video(path, fault))?;
    probe::describe(path, track, &answer.stdout)
}

/// The stream, with its raster as it is shown: pixels made square across, then turned by the file's flag,
/// then by what the user says of the mount.
fn stream_of(
    programs: &Programs,
    path: &Path,
    description: &Description,
    reading: &Reading,
) -> Result<Stream, MediaError> {
    let stored = description.raster;
    let (wide, high) = description.pixel_shape;
    let width = (stored.width() * f64::from(wide) / f64::from(high)).round();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a positive number; one beyond every raster saturates and is refused"
    )]
    let square = Raster::new(width as u32, stored.height_px())
        .map_err(|source| MediaError::BadRaster { path: path.to_owned(), source })?;
    let format = &description.pixel_format;
    for raster in [stored, square] {
        if u64::from(raster.width_px()) * u64::from(raster.height_px()) > GREATEST_PIXEL_COUNT {
            let (path, limit) = (path.to_owned(), GREATEST_PIXEL_COUNT);
            return Err(MediaError::TooManyPixels { path, raster, limit });
        }
    }
    Ok(Stream {
        ffmpeg: programs.ffmpeg.clone(),
        path: path.to_owned(),
        index: description.stream_index,
        stored,
        square,
        orientation: description.flag.then(reading.orientation),
        is_indexed: description.is_indexed,
        has_luma: format.starts_with("yuv") || format.starts_with("gray"),
        coding: description.coding_of_colours,
    })
}

/// Starts the listing of every packet of every video stream.
fn list_packets(
    programs: &Programs,
    path: &Path,
    description: &Description,
) -> Result<Running, MediaError> {
    // To look into the streams again takes as long as a few large frames; only stamps that have to be made up need it.
    let looking: &[&str] = if description.has_all_stamps { &["-nofind_stream_info"] } else { &[] };
    ffprobe(programs, path)
        .with_arguments(looking.iter().copied())
        .with_arguments(["-select_streams", "v"])
        .with_arguments(["-show_entries", "packet=stream_index,pts,dts,duration,size,flags"])
        .with_arguments(["-of", "compact=p=0"])
        .start()
        .map_err(|fault| not_a_video(path, fault))
}

/// Reads the stamps of every packet of a stream, line by line. The whole file is read for it, however long that
/// takes.
fn read_stamps(
    mut packets: Running,
    path: &Path,
    (stream_index, count): (u32, &mut Count<'_>),
) -> Result<Stamps, MediaError> {
    let of_stream = format!("stream_index={stream_index}|");
    let (mut stamps, mut line) = (Stamps::default(), Vec::new());
    loop {
        line.clear();
        let length = packets.read_until(b'\n', &mut line).map_err(|source| {
            let program = packets.program().to_owned();
            decoder_fault(path, ProcessError::Pipe { program, source })
        })?;
        if length == 0 {
            break;
        }
        if line.starts_with(of_stream.as_bytes()) {
            stamps.take_line(&String::from_utf8_lossy(&line));
            count(stamps.shown_count())?;
        }
    }
    packets.finish().map_err(|fault| not_a_video(path, fault))?;
    Ok(stamps)
}

fn ffprobe(programs: &Programs, path: &Path) -> Job {
    Job::new(&programs.ffprobe)
        .with_arguments(["-v", "error"])
        .with_arguments(decoder::FILE_ONLY)
        .with_argument("-i")
        .with_argument(decoder::as_file(path))
}

fn not_a_video(path: &Path, fault: ProcessError) -> MediaError {
    match decoder_fault(path, fault) {
        MediaError::Decoder { path, source: source @ ProcessError::Failed { .. } } => {
            MediaError::NotAVideo { path, source }
        }
        other => other,
    }
}

/// Told how many frames are counted so far; an error ends the counting.
type Count<'c> = dyn FnMut(u64) -> Result<(), MediaError> + 'c;

/// The frames of a stream and how they are told apart.
struct Frames {
    count: u64,
    address: Address,
    /// Their stamps, or stamps as far apart; none if the file has none.
    ordered: Option<Ordered>,
}

/// Counts by packets where those can be trusted, and by decoding the whole stream where they cannot.
fn frames_of(
    stream: &Stream,
    description: &Description,
    stamps: &Stamps,
    watched: &mut Count<'_>,
) -> Result<Frames, MediaError> {
    let by_stamps = |ordered: Ordered, base: TimeBase| Frames {
        count: ordered.ticks().len() as u64,
        address: Address::Stamps { ticks: Arc::new(ordered.ticks().to_vec()), base },
        ordered: Some(ordered),
    };
    let is_frame = PACKETS_ARE_FRAMES.contains(&description.coding.as_str());
    let counts = is_frame && stamps.begins_with_key();
    if let (true, Some(ordered), Some(base)) = (counts, stamps.shown(), description.time_base) {
        return Ok(by_stamps(ordered, base));
    }
    let (mut count, mut ticks, mut stopped) = (0, Vec::new(), Ok(()));
    let told = stream.tell_all(|shown| {
        count += 1;
        ticks.extend(shown.stamp);
        stopped = watched(count);
        if stopped.is_ok() { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    });
    stopped?;
    match told {
        Err(fault) if count == 0 => return Err(not_a_video(&stream.path, fault)),
        // What came before it failed is whole.
        Ok(()) | Err(_) => {}
    }
    let is_complete = ticks.len() as u64 == count;
    let ordered = is_complete.then(|| Ordered::of_frames(ticks)).flatten();
    if let (Some(ordered), Some(base), Some(_)) = (ordered, description.time_base, stamps.shown()) {
        return Ok(by_stamps(ordered, base));
    }
    // Stamps that no packet has are the decoder's guesses.
    let decoded = stamps.decoded().filter(|ordered| ordered.ticks().len() as u64 == count);
    Ok(Frames { count, address: Address::Counts, ordered: decoded })
}

/// The constant rate that the stamps agree with, or the stamps themselves.
fn timing_of(
    path: &Path,
    description: &Description,
    frames: &Frames,
    (given, notices): (Option<FrameRate>, &mut Vec<MediaNotice>),
) -> Result<Timing, MediaError> {
    let declared = &description.declared_rates;
    let (Some(ordered), Some(base)) = (&frames.ordered, description.time_base) else {
        let rate = given.or(declared.first().copied());
        let rate = rate.ok_or_else(|| MediaError::NoRate { path: path.to_owned() })?;
        if given.is_none() {
            notices.push(MediaNotice::RateAssumed { path: path.to_owned(), rate });
        }
        return Ok(Timing::Constant(rate));
    };
    let path = path.to_owned();
    match (ordered.constant_rate(base, given, declared), given) {
        (Ok(rate), _) => Ok(Timing::Constant(rate)),
        (Err(RateFault::Variable { smallest_gap_ms, largest_gap_ms }), Some(given)) => {
            Err(MediaError::VariableRate { path, given, smallest_gap_ms, largest_gap_ms })
        }
        (Err(RateFault::Variable { largest_gap_ms, .. }), None) => ordered
            .times(base)
            .map(Timing::Variable)
            .ok_or(MediaError::RateOutOfRange { path, gap_ms: largest_gap_ms }),
        (Err(RateFault::OutOfRange { gap_ms }), _) => {
            Err(MediaError::RateOutOfRange { path, gap_ms })
        }
        (Err(RateFault::NotAsGiven { found }), given) => {
            Err(MediaError::OtherRate { path, found, given: given.unwrap_or(found) })
        }
    }
}

fn start_timecode(
    path: &Path,
    description: &Description,
    timing: &Timing,
    notices: &mut Vec<MediaNotice>,
) -> Option<Timecode> {
    let text = description.timecode.as_deref()?;
    let (path, text) = (path.to_owned(), text.to_owned());
    let Some(rate) = timing.rate() else {
        notices.push(MediaNotice::TimecodeOfVariableRate { path, text });
        return None;
    };
    match Timecode::parse(&text, rate) {
        Ok(timecode) => Some(timecode),
        Err(fault) => {
            notices.push(MediaNotice::TimecodeNotRead { path, text, rate, fault });
            None
        }
    }
}

fn notices_of(path: &Path, description: &Description, stamps: &mut Stamps) -> Vec<MediaNotice> {
    let mut notices = Vec::new();
    let counted = stamps.shown_count() + stamps.discarded_count();
    let promised = description.promised_frame_count;
    // Where the header's count is kept, nothing is lost. Some headers have none.
    let keeps_promise = promised.is_some_and(|promised| promised <= counted);
    let is_cut = !keeps_promise && stamps.cut_where_it_breaks_off();
    if is_cut || promised.is_some_and(|promised| promised > counted) {
        let last = stamps.shown_count().checked_sub(1).map(FrameIndex);
        notices.push(MediaNotice::BreaksOff { path: path.to_owned(), promised, counted, last });
    }
    if description.is_interlaced {
        notices.push(MediaNotice::Interlaced { path: path.to_owned() });
    }
    if description.is_hdr {
        notices.push(MediaNotice::HighDynamicRange { path: path.to_owned() });
    }
    notices
}

fn storage_of(description: &Description) -> Storage {
    Storage {
        coding: description.coding.clone(),
        raster: Some(description.raster),
        pixel_shape: description.pixel_shape,
        flag: description.flag,
        bit_depth: description.bit_depth,
        is_hdr: description.is_hdr,
        is_interlaced: description.is_interlaced,
        video_tracks: description.video_tracks,
        audio_tracks: description.audio_tracks,
    }
}
