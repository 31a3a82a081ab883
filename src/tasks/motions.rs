//! The measured way of a clip's background, in the tracks folder: a table, and what it was made from, so that a plan uses it
//! as long as nothing has changed.

use super::{
    Outputs, TaskError,
    looking::ClipSeen,
    made_table::{MadeTable, UsedTable, read_table},
    prepare::PreparedClip,
    tracks::{self, MadeFrom},
};
use crate::{
    action::{BackgroundMotion, MeasuredMotion},
    clip::{UsedRange, part_without_cut},
    delivery::Limit,
    shoot::{Level, ResolvedClip, Shoot, ShootClip, Steady},
    timecode::{FrameIndex, FrameRange},
};
use serde::{Deserialize, Serialize};
use std::fs;

/// Changes whenever the same pictures and marks would be measured otherwise.
const MADE_BY: u32 = 2;

/// What is told of a clip's measured motion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MotionNote {
    /// The way of measuring, the footage, the ranges and the marks that it was made from.
    pub made_from: MadeFrom,
    /// How many used frames there are.
    pub used_frames: u64,
    /// On how many of them it is known how the background moved to them.
    pub known_frames: u64,
    /// What is fixed to the rig and was left out, in each shot where something is.
    pub rigs: Vec<FoundRig>,
    /// How much it shakes on the used frames.
    pub shake: MeasuredShake,
    /// The table that was written with it.
    #[serde(default)]
    pub table: Option<MadeTable>,
}

/// A rig in a shot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FoundRig {
    /// The first frame, and the first after.
    pub frames: [u64; 2],
    /// How much of the frame is fixed to it, 0 to 1.
    pub share: f64,
}

/// A shake in numbers: the root of the mean square of what is quicker than a cut-off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeasuredShake {
    /// What is quicker is shake.
    pub shake_hz: f64,
    /// Both axes together, px of the clip as shown.
    pub px: f64,
    /// The same as a turn of the camera at the frame's centre, where its field of view is known: the least and the greatest, which
    /// differ where the lens's mapping is not known.
    pub degrees: Option<[f64; 2]>,
    /// About the frame's centre.
    pub roll_degrees: f64,
}

/// How a clip's measured motion stands.
pub(super) enum KeptMotion {
    /// It was not measured.
    None,
    /// It was made from other marks, ranges or footage, or in another way.
    Stale,
    /// It may be used: its note, its path and what is in it.
    Fresh(Box<MotionNote>, UsedTable),
}

/// Whether something is asked of a clip for which the motion of its background is needed, or better than nothing.
pub(super) fn is_wanted(shoot: &Shoot, clip: &ShootClip, resolved: &ResolvedClip) -> bool {
    let leads = shoot
        .deliverables_of(clip)
        .any(|deliverable| shoot.limits_for(clip, deliverable).value(Limit::LeadRoom).is_some());
    is_needed(resolved) || leads
}

/// Whether a clip cannot be planned without.
pub(super) fn is_needed(resolved: &ResolvedClip) -> bool {
    resolved.steady == Steady::World || resolved.level == Level::Motion
}

/// Whether the shoot's own motion file tells of a clip: then nothing is measured.
pub(super) fn is_written(shoot: &Shoot, clip: &str) -> bool {
    shoot.motion().iter().any(|row| row.clip == clip)
}

/// What is measured for each used range: its handles and as much beside them as a ride takes to fade in, up to the next
/// cut.
pub(super) fn measured_ranges(shoot: &Shoot, prepared: &PreparedClip) -> Vec<FrameRange> {
    let shake_hz = shake_hz(shoot, prepared);
    let clip = &prepared.resolved.clip;
    let beside = |range: &UsedRange| {
        let uncut = part_without_cut(clip.facts.whole(), &clip.cuts, range.used.first());
        let frames = clip.facts.timing.frames_beside(range.with_handles, 0.5 / shake_hz, uncut);
        UsedRange::new(range.with_handles, frames, uncut).with_handles
    };
    clip.ranges.iter().map(beside).collect()
}

fn shake_hz(shoot: &Shoot, prepared: &PreparedClip) -> f64 {
    shoot.clip_limits(&shoot.clips[prepared.place]).number(Limit::ShakeHz)
}

fn made_from(shoot: &Shoot, prepared: &PreparedClip) -> MadeFrom {
    let ranges = measured_ranges(shoot, prepared).into_iter();
    tracks::made_from_ranges(&prepared.resolved, MADE_BY, ranges)
}

fn names_of(clip: &str) -> [String; 2] {
    [format!("{clip}_motion.csv"), format!("{clip}_motion.json")]
}

/// The measured motion of a clip, if there is one.
///
/// # Errors
/// [`TaskError::Output`] if a table that is to be used cannot be read.
pub(super) fn kept(shoot: &Shoot, prepared: &PreparedClip) -> Result<KeptMotion, TaskError> {
    let folder = tracks::folder_of(shoot);
    let [plain, note] = names_of(&prepared.resolved.clip.name);
    let Ok(note) = fs::read(folder.join(note)) else { return Ok(KeptMotion::None) };
    let Ok(note) = serde_json::from_slice::<MotionNote>(&note) else {
        return Ok(KeptMotion::Stale);
    };
    if note.made_from != made_from(shoot, prepared) {
        return Ok(KeptMotion::Stale);
    }
    let table = read_table(&folder, &plain, note.table.as_ref())?;
    Ok(table.map_or(KeptMotion::Stale, |table| KeptMotion::Fresh(Box::new(note), table)))
}

/// Writes what was measured of a clip, and then what it was made from.
///
/// # Errors
/// If a file cannot be written.
pub(super) fn write(
    shoot: &Shoot,
    prepared: &PreparedClip,
    seen: &ClipSeen,
    outputs: &mut Outputs,
) -> Result<MotionNote, TaskError> {
    let clip = &prepared.resolved.clip;
    let mut measured = MeasuredMotion::default();
    for frame in clip.facts.whole().frames() {
        measured.push(seen.steps.get(&frame).copied());
    }
    let [table, told] = names_of(&clip.name);
    let mut text = Vec::new();
    let least = MeasuredMotion::LEAST_CONFIDENCE;
    MeasuredMotion::write(&[(&clip.name, &measured)], least, &mut text)
        .map_err(|error| TaskError::Handoff { name: table.clone(), source: error.into() })?;
    let motion = measured.trusted(least);
    let written = outputs.write(&table, &text)?;
    let note = MotionNote {
        made_from: made_from(shoot, prepared),
        table: Some(MadeTable::new(written, &text)),
        used_frames: clip.ranges.iter().map(|range| range.used.frame_count()).sum(),
        known_frames: known_count(&motion, prepared),
        rigs: seen
            .rigs
            .iter()
            .map(|(shot, share)| FoundRig { frames: [shot.first().0, shot.end().0], share: *share })
            .collect(),
        shake: shake(&motion, prepared, shake_hz(shoot, prepared)),
    };
    let mut json = serde_json::to_vec_pretty(&note)?;
    json.push(b'\n');
    outputs.write(&told, &json)?;
    Ok(note)
}

/// On how many used frames the background's motion is known; the clip's first frame has none and lacks nothing.
fn known_count(motion: &BackgroundMotion, prepared: &PreparedClip) -> u64 {
    let index = |frame: FrameIndex| usize::try_from(frame.0).unwrap_or(usize::MAX);
    let known = |range: &UsedRange| {
        let unknown = motion.unknown_in(index(range.used.first())..index(range.used.end()));
        range.used.frame_count() - unknown as u64
    };
    prepared.resolved.clip.ranges.iter().map(known).sum()
}

/// The used frames to which it is known how the background moved.
fn used_known<'m>(
    motion: &'m BackgroundMotion,
    prepared: &'m PreparedClip,
) -> impl Iterator<Item = usize> + 'm {
    let index = |frame: FrameIndex| usize::try_from(frame.0).unwrap_or(usize::MAX);
    prepared.resolved.clip.ranges.iter().flat_map(move |range| {
        let frames = index(range.used.first())..index(range.used.end());
        let known = motion.is_known_in(frames.clone());
        frames.zip(known).filter(|(_, is_known)| *is_known).map(|(frame, _)| frame)
    })
}

fn shake(motion: &BackgroundMotion, prepared: &PreparedClip, shake_hz: f64) -> MeasuredShake {
    let facts = &prepared.resolved.clip.facts;
    let secs: Vec<f64> =
        facts.whole().frames().map(|frame| facts.timing.seconds_at(frame)).collect();
    let shaking = motion.shaking(&secs, shake_hz);
    let frames: Vec<usize> = used_known(motion, prepared).collect();
    #[expect(clippy::cast_precision_loss, reason = "a clip has far fewer frames than 2^53")]
    let rms = |square: &dyn Fn(usize) -> f64| {
        let sum: f64 = frames.iter().map(|frame| square(*frame)).sum();
        (sum / frames.len().max(1) as f64).sqrt()
    };
    let px = rms(&|frame| {
        let (x, y) = shaking.offsets_px[frame];
        x * x + y * y
    });
    let roll = rms(&|frame| shaking.roll_radians[frame].powi(2));
    let degrees = |focal_px: f64| (px / focal_px).atan().to_degrees();
    MeasuredShake {
        shake_hz,
        px,
        degrees: prepared.resolved.lens.as_ref().map(|lens| {
            let turned = lens.range(|lens| degrees(lens.focal_px()));
            [turned.from(), turned.to()]
        }),
        roll_degrees: roll.to_degrees(),
    }
}
