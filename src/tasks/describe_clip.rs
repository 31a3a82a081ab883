//! What is on a card: one file, folder or pattern at a time, and what it means for cropping.

use super::{CancelToken, Event, Observer, TaskError, observe::watch_counting, with_causes};
use crate::{
    clip::{ClipFacts, Reading, Timing},
    delivery::{Limit, Limits},
    geometry::{Orientation, Raster, Window, largest_window},
    media::{self, MediaError, MediaNotice, Opened},
    picture::raster_of_lines,
    plan::VariableRate,
    sharpness::{Band, Recording, Softness, enlargement},
    timecode::{FrameIndex, FrameRange, FrameRate},
};
use serde::Serialize;
use std::{ops::ControlFlow, path::PathBuf};

/// What is asked of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClipQuestion {
    /// A video file, a picture, a folder of numbered pictures or a pattern of their names.
    pub path: PathBuf,
    /// What has to be known to read it.
    pub reading: Reading,
    /// The rasters that it would be delivered in.
    pub delivered: Vec<Raster>,
    /// How far it is looked into.
    pub depth: Depth,
}

/// How far a file is looked into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Depth {
    /// Headers and packets; nothing is decoded unless frames cannot be counted otherwise.
    #[default]
    Headers,
    /// Every frame is decoded, which tells whether the file is whole and takes as long as it takes.
    EveryFrame,
}

/// The rasters that a clip is measured against if none are named: those that small-camera footage is most
/// often delivered in. Common practice, no source.
pub const USUAL_DELIVERIES: [(u32, u32); 5] =
    [(3840, 2160), (1920, 1080), (1080, 1920), (1080, 1080), (1080, 1350)];

/// What was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClipAnswer {
    /// The file, folder or pattern.
    pub file: PathBuf,
    /// The raster as it is shown: upright, square pixels.
    pub raster: String,
    /// Its exact shape.
    pub shape: String,
    /// The raster as it is stored.
    pub stored_raster: Option<String>,
    /// Width to height of a stored pixel.
    pub pixel_shape: [u32; 2],
    /// What the file's own flag asks for, in words; none if it is shown as stored.
    pub orientation_flag: Option<String>,
    /// The name of the coding.
    pub coding: String,
    /// Bits of a sample.
    pub bit_depth: Option<u32>,
    /// Frames per second; none for pictures without a rate, and where the rate is variable.
    pub rate: Option<FrameRate>,
    /// What is to be known of a variable rate.
    pub variable_rate: Option<VariableRate>,
    /// How many frames, counted.
    pub frame_count: u64,
    /// From the first frame to the end of the last; none without a rate.
    pub duration_secs: Option<f64>,
    /// The timecode of frame 0.
    pub start_timecode: Option<String>,
    /// Bits per second of the pictures.
    pub bit_rate: Option<f64>,
    /// The same for each px of each frame.
    pub bits_per_px: Option<f64>,
    /// Whether that is below the limit under which pictures are taken to be a band softer.
    pub is_thin: bool,
    /// How many video tracks.
    pub video_tracks: usize,
    /// How many tracks of sound.
    pub audio_tracks: usize,
    /// How many bytes all its files have.
    pub byte_count: u64,
    /// The largest window of each delivery.
    pub deliveries: Vec<DeliveryAnswer>,
    /// What should be known, in sentences.
    pub notices: Vec<String>,
    /// Whether its header promises more frames than are in it.
    pub breaks_off: bool,
    /// What came of decoding every frame; none if that was not asked.
    pub decoded: Option<Decoded>,
    /// When it is shown, for finding what goes on where it ends.
    #[serde(skip)]
    pub facts: ClipFacts,
}

/// The largest window for one delivered raster.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DeliveryAnswer {
    /// The delivered raster.
    pub raster: String,
    /// Its shape.
    pub shape: String,
    /// Width and height of the largest window, px.
    pub window_px: [f64; 2],
    /// Delivered px for each window px.
    pub enlargement: f64,
    /// What it is good for, by the usual limits.
    pub band: Band,
}

/// What came of decoding every frame.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Decoded {
    /// How many frames came.
    pub frame_count: u64,
    /// The frames that did not come, in order; only the first few if there are many.
    pub missing: Vec<FrameIndex>,
    /// Why the first of them did not come.
    pub fault: Option<String>,
    /// Whether there were so many that the rest was not looked at.
    pub gave_up: bool,
    /// Whether the decoder complained of something on the way, which is told among the notes: of a file that was cut off it
    /// may be the only sign.
    pub complained: bool,
}

/// Describes a file.
///
/// # Errors
/// [`TaskError::Footage`] if it is none that is read; [`TaskError::Cancelled`].
pub fn describe_clip(
    question: &ClipQuestion,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<ClipAnswer, TaskError> {
    cancel.check()?;
    let unread =
        |fault| TaskError::Footage { path: question.path.clone(), source: Box::new(fault) };
    let mut watch = watch_counting(observer, cancel);
    let opened = media::open_at(&question.path, &question.reading, &mut watch);
    let (opened, has_rate) = match opened {
        // Pictures carry no rate. One is needed to open them, and nothing that is said below rests on it.
        Err(MediaError::RateMissing { .. }) => {
            let reading = Reading { rate: FrameRate::new(1, 1).ok(), ..question.reading };
            (media::open_at(&question.path, &reading, &mut watch), false)
        }
        opened => (opened, true),
    };
    drop(watch);
    cancel.check()?;
    let mut opened = opened.map_err(unread)?;
    let mut answer = answer(question, &opened);
    if !has_rate {
        (answer.rate, answer.duration_secs) = (None, None);
    }
    if question.depth == Depth::EveryFrame {
        let decoded = decode(&mut opened, observer, cancel)?;
        let remarks = opened.frames.take_remarks();
        answer.decoded = Some(Decoded { complained: !remarks.is_empty(), ..decoded });
        answer.notices.extend(remarks);
    }
    Ok(answer)
}

fn answer(question: &ClipQuestion, opened: &Opened) -> ClipAnswer {
    let (facts, limits) = (&opened.facts, Limits::default());
    let storage = &facts.storage;
    let bits_per_px = facts.bits_per_px();
    let thin_below = limits.value(Limit::ThinBitsPerPx);
    let mut answer = ClipAnswer {
        file: question.path.clone(),
        raster: facts.raster.to_string(),
        shape: facts.raster.shape().to_string(),
        stored_raster: storage.raster.map(|raster| raster.to_string()),
        pixel_shape: [storage.pixel_shape.0, storage.pixel_shape.1],
        orientation_flag: (!storage.flag.is_upright()).then(|| storage.flag.to_string()),
        coding: storage.coding.clone(),
        bit_depth: storage.bit_depth,
        rate: facts.timing.rate(),
        variable_rate: facts.timing.times().map(VariableRate::of),
        frame_count: facts.frame_count,
        duration_secs: Some(facts.timing.seconds_at(FrameIndex(facts.frame_count))),
        start_timecode: facts.start_timecode.map(|start| start.to_string()),
        bit_rate: facts.bit_rate,
        bits_per_px,
        is_thin: bits_per_px.zip(thin_below).is_some_and(|(bits, limit)| bits < limit),
        video_tracks: storage.video_tracks,
        audio_tracks: storage.audio_tracks,
        byte_count: facts.fingerprint.byte_count,
        deliveries: question.delivered.iter().map(|raster| delivery(facts, *raster)).collect(),
        notices: opened.notices.iter().map(ToString::to_string).collect(),
        breaks_off: opened
            .notices
            .iter()
            .any(|notice| matches!(notice, MediaNotice::BreaksOff { .. })),
        decoded: None,
        facts: facts.clone(),
    };
    answer.notices.extend(shape_words(facts, question.reading.orientation));
    answer.notices.extend(track_words(facts, &question.reading));
    answer.notices.extend(variable_words(&facts.timing));
    answer.notices.extend(length_words(answer.byte_count, facts));
    answer
}

fn delivery(facts: &ClipFacts, delivered: Raster) -> DeliveryAnswer {
    let capture = facts.raster;
    let (width, height) = largest_window(capture, delivered.shape());
    let corner = ((capture.width() - width) / 2.0, (capture.height() - height) / 2.0);
    let recording = Recording { bits_per_px: facts.bits_per_px(), ..Recording::default() };
    let limits = Limits::default();
    let softness = Window::inside(capture, corner, (width, height))
        .map(|window| Softness::of(&window, capture, delivered, &recording, &limits));
    let enlargement = enlargement(delivered.width(), width);
    DeliveryAnswer {
        raster: delivered.to_string(),
        shape: delivered.shape().to_string(),
        window_px: [width, height],
        enlargement,
        // The largest window lies inside, but for what a division leaves.
        band: softness.map_or_else(|_| Band::of(enlargement, &limits), |softness| softness.band),
    }
}

/// What is not seen in the raster that is shown.
fn shape_words(facts: &ClipFacts, mount: Orientation) -> Vec<String> {
    let mut words = Vec::new();
    let (wide, high) = facts.storage.pixel_shape;
    if let (true, Some(stored)) = (wide != high && high > 0, facts.storage.raster) {
        words.push(format!(
            "its pixels are {wide}:{high}: {stored} is stored and stretched, and the picture carries no more than that"
        ));
    }
    if !mount.is_upright() {
        words.push(format!("the picture is {mount} after the file's own flag"));
    }
    words
}

fn track_words(facts: &ClipFacts, reading: &Reading) -> Option<String> {
    let has_none = facts.storage.video_tracks == 0 && reading.track.is_some();
    has_none.then(|| "pictures have no tracks; the one that was named is passed over".to_owned())
}

fn variable_words(timing: &Timing) -> Option<String> {
    timing.times()?;
    Some(
        "its rate is variable: set keys by seconds and not by frame numbers, or convert it to a constant rate first"
            .to_owned(),
    )
}

/// Cards with the FAT32 file system hold no file of 4 GiB or more (from memory), so that recorders begin a new
/// one a little before.
fn length_words(byte_count: u64, facts: &ClipFacts) -> Option<String> {
    const FAT32_LIMIT: u64 = 1 << 32;
    const NEARLY: u64 = FAT32_LIMIT / 20 * 19;
    let is_one_video = facts.parts.len() == 1 && facts.storage.video_tracks > 0;
    (is_one_video && (NEARLY..=FAT32_LIMIT).contains(&byte_count)).then(|| {
        "it is nearly 4 GiB long, where many cards make a recorder begin a new file: look for the one that goes on, \
         and name both with files = [...] to make them one clip"
            .to_owned()
    })
}

impl ClipAnswer {
    /// Whether every frame was decoded and the file is whole; `None` if it was not decoded.
    #[must_use]
    pub fn is_whole(&self) -> Option<bool> {
        let decoded = self.decoded.as_ref()?;
        Some(decoded.missing.is_empty() && !decoded.complained && !self.breaks_off)
    }
}

/// Decodes every frame at a size that costs little beside decoding, and goes on behind one that does not come.
fn decode(
    opened: &mut Opened,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<Decoded, TaskError> {
    /// As many lines as an analysis takes.
    const LINES: u32 = 480;
    /// After so many lost frames a file is not looked into any further.
    const MOST_MISSING: usize = 20;
    let whole = opened.facts.whole();
    observer.hear(Event::Begins { stage: "decoding", steps: whole.frame_count() });
    let size = raster_of_lines(opened.facts.raster, LINES);
    let mut decoded = Decoded::default();
    let mut rest = Some(whole);
    while let Some(frames) = rest {
        let outcome = opened.frames.visit_luma(frames, size, &mut |_, _| {
            decoded.frame_count += 1;
            observer.hear(Event::Step);
            if cancel.is_cancelled() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        cancel.check()?;
        let Err(fault) = outcome else { break };
        decoded.missing.push(fault.frame);
        decoded.fault.get_or_insert_with(|| with_causes(fault.cause.as_ref()));
        decoded.gave_up = decoded.missing.len() >= MOST_MISSING;
        let next = FrameIndex(fault.frame.0 + 1);
        rest = FrameRange::new(next, whole.end()).ok().filter(|_| !decoded.gave_up);
    }
    Ok(decoded)
}

/// Pairs of clips of which the second goes on where the first ends, by their timecodes; as places in the list.
#[must_use]
pub fn clips_that_go_on(answers: &[ClipAnswer]) -> Vec<(usize, usize)> {
    let goes_on = |before: &ClipFacts, next: &ClipFacts| {
        let end = before.start_timecode.map(|start| start.after(FrameIndex(before.frame_count)));
        end.is_some()
            && end == next.start_timecode
            && before.raster == next.raster
            && before.timing.rate() == next.timing.rate()
    };
    let mut pairs = Vec::new();
    for (first, before) in answers.iter().enumerate() {
        for (second, next) in answers.iter().enumerate() {
            if first != second && goes_on(&before.facts, &next.facts) {
                pairs.push((first, second));
            }
        }
    }
    pairs
}
