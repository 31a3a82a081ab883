//! Two recordings brought together by claps, without opening a file.

use super::TaskError;
use crate::timecode::{
    Clap, FrameIndex, FrameRate, Matching, SPEED_OF_SOUND_M_PER_SEC, Sync, sound_delay_secs,
};
use serde::Serialize;

/// What is asked of two recordings at the same rate.
#[derive(Debug, Clone, PartialEq)]
pub struct SyncQuestion {
    /// The rate of both.
    pub rate: FrameRate,
    /// The clap at the start.
    pub start: Clap,
    /// The clap at the end, if there was one.
    pub end: Option<Clap>,
    /// Frames of the first recording that are looked for in the second.
    pub frames: Vec<FrameIndex>,
    /// How far the clapper was away, in metres, for how late it is heard.
    pub clapper_distance_m: Option<f64>,
}

/// How two recordings stand to each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SyncAnswer {
    /// The rate of both.
    pub rate: FrameRate,
    /// By how many frames the second counts further at the start.
    pub offset_frames: i64,
    /// The same in seconds.
    pub offset_secs: f64,
    /// The same at the end; none from one clap.
    pub end_offset_frames: Option<i64>,
    /// How many frames more the second counts for a million of the first; below 0 how many fewer. None from one clap.
    pub drift_ppm: Option<f64>,
    /// How much of the drift a frame more or less at a clap would be.
    pub drift_of_a_frame_ppm: Option<f64>,
    /// The drift in frames an hour.
    pub drift_frames_an_hour: Option<f64>,
    /// The frames that were looked for.
    pub matching: Vec<Matching>,
    /// How late the clap is heard.
    pub sound: Option<SoundDelay>,
    /// What should be known of it.
    pub notes: Vec<String>,
}

/// How much later a clap is heard than seen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SoundDelay {
    /// From how far away.
    pub distance_m: f64,
    /// At which speed.
    pub speed_m_per_sec: f64,
    /// By how many seconds.
    pub delay_secs: f64,
    /// By how many frames.
    pub delay_frames: f64,
}

/// The greatest distance of a clapper that is taken for one, in metres: a choice, to catch slips of the pen.
const GREATEST_DISTANCE_M: f64 = 10_000.0;

/// Answers how two recordings stand to each other.
///
/// # Errors
/// [`TaskError::Timecode`] for claps that make no sync, and [`TaskError::ClapperDistance`].
pub fn sync_answer(question: &SyncQuestion) -> Result<SyncAnswer, TaskError> {
    let sync = Sync::new(question.start, question.end)?;
    let per_second = question.rate.per_second();
    let sound = question.clapper_distance_m.map(|distance_m| {
        if !(0.0..=GREATEST_DISTANCE_M).contains(&distance_m) {
            return Err(TaskError::ClapperDistance { distance_m, greatest_m: GREATEST_DISTANCE_M });
        }
        let delay_secs = sound_delay_secs(distance_m);
        let speed_m_per_sec = SPEED_OF_SOUND_M_PER_SEC;
        Ok(SoundDelay {
            distance_m,
            speed_m_per_sec,
            delay_secs,
            delay_frames: delay_secs * per_second,
        })
    });
    let matching = question.frames.iter().map(|frame| sync.matching(*frame));
    #[expect(clippy::cast_precision_loss, reason = "frames that are reckoned with are below 2^53")]
    let offset_secs = sync.offset() as f64 / per_second;
    Ok(SyncAnswer {
        rate: question.rate,
        offset_frames: sync.offset(),
        offset_secs,
        end_offset_frames: sync.end_offset(),
        drift_ppm: sync.drift_ppm(),
        drift_of_a_frame_ppm: sync.drift_of_a_frame_ppm(),
        drift_frames_an_hour: sync.drift_ppm().map(|ppm| frames_an_hour(ppm, per_second)),
        matching: matching.collect::<Result<_, _>>()?,
        sound: sound.transpose()?,
        notes: notes(&sync, per_second),
    })
}

fn frames_an_hour(ppm: f64, per_second: f64) -> f64 {
    ppm / 1e6 * per_second * 3600.0
}

/// How far apart two clocks run at most, in parts in a million: 20 each (common practice, no source).
const CLOCKS_PPM: f64 = 40.0;
/// From here on a drift is more likely a slip than a clock: a choice, five times what two clocks come to.
const DOUBTFUL_PPM: f64 = 200.0;

fn notes(sync: &Sync, per_second: f64) -> Vec<String> {
    match sync.drift_ppm() {
        None => vec![format!(
            "one clap tells no drift: two clocks may run {CLOCKS_PPM} ppm apart, {:.1} frames an hour at this rate; clap \
             again at the end of a take of more than 10 minutes",
            frames_an_hour(CLOCKS_PPM, per_second)
        )],
        Some(ppm) if ppm.abs() > DOUBTFUL_PPM => vec![format!(
            "{:.0} ppm is more than clocks drift, which is {CLOCKS_PPM} ppm at most: count the claps' frames again, and \
             see that both recordings are of the same rate (24 against 24000/1001 is 999 ppm)",
            ppm.abs()
        )],
        Some(_) => Vec::new(),
    }
}
