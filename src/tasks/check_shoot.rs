//! Validates a shoot file, its marks and pins and its footage, and writes nothing.

use super::{CancelToken, Observer, TaskError, notices, prepare::prepare};
use serde::Serialize;
use std::path::Path;

/// A shoot without faults, in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckedShoot {
    /// The rate of the timeline.
    pub timeline_rate: String,
    /// The deliverables: name, raster, shape.
    pub deliverables: Vec<[String; 3]>,
    /// The clips.
    pub clips: Vec<CheckedClip>,
}

/// One clip of a shoot without faults.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckedClip {
    /// Its name.
    pub name: String,
    /// The displayed raster.
    pub raster: String,
    /// Frames per second.
    pub rate: String,
    /// How many frames.
    pub frame_count: u64,
    /// How many of them are used.
    pub used_frames: u64,
    /// On how many of the used ones a subject is tracked.
    pub tracked_frames: u64,
    /// How many marks.
    pub mark_count: usize,
    /// How many pins.
    pub pin_count: usize,
    /// What should be known about its footage.
    pub notices: Vec<String>,
}

/// Checks a shoot.
///
/// # Errors
/// [`TaskError::Problems`] with everything that must be mended.
pub fn check_shoot(
    path: &Path,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<CheckedShoot, TaskError> {
    let prepared = prepare(path, observer, cancel)?;
    prepared.check_outputs(&prepared.shoot.outputs)?;
    let shoot = &prepared.shoot;
    let clips = prepared.clips.iter().map(|prepared| {
        let (clip, tracks) = (&prepared.resolved.clip, &prepared.resolved.tracks);
        let used = || clip.ranges.iter().flat_map(|range| range.used.frames());
        let tracked = used().filter(|frame| super::requests::is_tracked(tracks, *frame));
        CheckedClip {
            name: clip.name.clone(),
            raster: clip.facts.raster.to_string(),
            rate: clip.facts.timing.to_string(),
            frame_count: clip.facts.frame_count,
            used_frames: used().count() as u64,
            tracked_frames: tracked.count() as u64,
            mark_count: tracks.iter().map(|track| track.marked_frames().count()).sum(),
            pin_count: prepared.resolved.pins.len(),
            notices: notices::of_clip(shoot, prepared),
        }
    });
    let deliverables = prepared.shoot.deliverables.iter();
    Ok(CheckedShoot {
        timeline_rate: prepared.shoot.timeline_rate.to_string(),
        deliverables: deliverables
            .map(|d| [d.name.clone(), d.raster.to_string(), d.shape().to_string()])
            .collect(),
        clips: clips.collect(),
    })
}
