//! The tracks folder beside the marks: what following the marks through the pictures brought, and what it was made from,
//! so that a plan uses it as long as nothing has changed.

use super::{
    Outputs, TaskError,
    made_table::{MadeTable, UsedTable, read_table},
};
use crate::{
    clip::Clip,
    handoff::{Followings, read_track, write_track},
    plan::{WeakTrack, frames_words},
    shoot::{ResolvedClip, Shoot},
    subject::{Track, WeakStretch, Wish},
    timecode::{FrameIndex, FrameRange},
};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::{fmt::Write as _, fs, path::PathBuf};

/// Changes whenever the same pictures and marks would be followed otherwise.
const MADE_BY: u32 = 3;

/// What is told of a clip's tracks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TrackNote {
    /// The way of following, the footage and the marks that it was made from.
    pub made_from: MadeFrom,
    /// What came of each thing, in the order of their names.
    pub things: Vec<FollowedThing>,
    /// Hard cuts in the followed ranges that the shoot file does not have: the first frame after each.
    #[serde(default)]
    pub cuts: Vec<u64>,
    /// The table that was written with it.
    #[serde(default)]
    pub table: Option<MadeTable>,
}

/// What a track was made from. Whatever differs makes it stale.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MadeFrom {
    made_by: u32,
    footage: String,
    footage_bytes: u64,
    marks: String,
}

/// What following one thing brought.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FollowedThing {
    /// Its name.
    pub name: String,
    /// How many frames were followed.
    pub frames: u64,
    /// On how many of them it has a box.
    pub boxed: u64,
    /// Frames that should be marked, in order.
    pub asks: Vec<u64>,
    /// The weakest stretches, the one where a mark helps most first.
    pub weakest: Vec<Weak>,
    /// Where it is lost: first frame, and the first after.
    pub lost: Vec<[u64; 2]>,
}

/// Frames of little confidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Weak {
    /// The first frame, and the first after.
    pub frames: [u64; 2],
    /// How many of them are likely wrong.
    pub likely_wrong: f64,
    /// The frame to be marked.
    pub ask: u64,
}

impl Weak {
    /// It in words.
    #[must_use]
    pub fn words(&self) -> String {
        format!(
            "weak on {}: some {:.0} of them are likely wrong or have no box; a mark at frame {} helps most",
            frames_words(self.frames),
            self.likely_wrong.max(1.0),
            self.ask
        )
    }

    pub(super) fn of(stretch: &WeakStretch) -> Self {
        Self {
            frames: [stretch.frames.first().0, stretch.frames.end().0],
            likely_wrong: (stretch.wrong_frames * 10.0).round() / 10.0,
            ask: stretch.ask.0,
        }
    }
}

/// How a clip's track stands.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kept {
    /// There is none.
    None,
    /// It was made from other marks, other footage or another way of following.
    Stale,
    /// It may be used: its note, what is in it, and the table.
    Fresh(Box<TrackNote>, Followings, UsedTable),
}

/// The folder.
pub(super) fn folder_of(shoot: &Shoot) -> PathBuf {
    shoot.marks_path.parent().map_or_else(|| PathBuf::from("tracks"), |at| at.join("tracks"))
}

/// What a clip's track is made from.
pub(super) fn made_from(resolved: &ResolvedClip) -> MadeFrom {
    let ranges = resolved.clip.ranges.iter().map(|range| range.with_handles);
    made_from_ranges(resolved, MADE_BY, ranges)
}

/// What is made by looking at some ranges of a clip, by this way of doing it.
pub(super) fn made_from_ranges(
    resolved: &ResolvedClip,
    made_by: u32,
    ranges: impl Iterator<Item = FrameRange>,
) -> MadeFrom {
    let digest = Sha256::digest(canonical(resolved, ranges).as_bytes());
    let fingerprint = &resolved.clip.facts.fingerprint;
    MadeFrom {
        made_by,
        footage: fingerprint.sampled_sha256.clone(),
        footage_bytes: fingerprint.byte_count,
        marks: digest.iter().map(|byte| format!("{byte:02x}")).collect(),
    }
}

/// The raster, how it is turned, the ranges and the marks in a form of its own, which no compiler changes: numbers in the
/// fewest digits that tell them apart, names with their lengths.
fn canonical(resolved: &ResolvedClip, ranges: impl Iterator<Item = FrameRange>) -> String {
    let clip = &resolved.clip;
    let turn = (clip.orientation.turn.degrees(), u8::from(clip.orientation.is_mirrored));
    let mut text = format!("raster {} turn {} mirror {}\n", clip.facts.raster, turn.0, turn.1);
    // Writing to a string does not fail.
    for range in ranges {
        let _ = writeln!(text, "range {} {}", range.first().0, range.end().0);
    }
    for track in resolved.tracks.iter().filter(|track| is_followed(track)) {
        let _ = writeln!(text, "track {} {}", track.name().len(), track.name());
        for (frame, region) in track.marks() {
            let _ = match region {
                Some(marked) => writeln!(
                    text,
                    "mark {} {} {} {} {}",
                    frame.0,
                    marked.left(),
                    marked.top(),
                    marked.width(),
                    marked.height()
                ),
                None => writeln!(text, "gone {}", frame.0),
            };
        }
    }
    text
}

/// Whether a thing is followed through the pictures: a subject is, and what is kept in or out is where its marks put it.
pub(super) fn is_followed(track: &Track) -> bool {
    track.wish() == Wish::Subject
}

pub(super) fn names_of(clip: &str) -> [String; 2] {
    [format!("{clip}_track.csv"), format!("{clip}_track.json")]
}

/// The track of a clip, if one was made.
///
/// # Errors
/// [`TaskError::Track`] if a track that is to be used cannot be read: it may have been changed by hand, and is not to be passed over
/// then.
pub(super) fn kept(shoot: &Shoot, resolved: &ResolvedClip) -> Result<Kept, TaskError> {
    let ([plain, note], folder) = (names_of(&resolved.clip.name), folder_of(shoot));
    let note = match fs::read(folder.join(note)) {
        Ok(bytes) => bytes,
        Err(_) => return Ok(Kept::None),
    };
    let Ok(note) = serde_json::from_slice::<TrackNote>(&note) else { return Ok(Kept::Stale) };
    if note.made_from != made_from(resolved) {
        return Ok(Kept::Stale);
    }
    let Some(table) = read_table(&folder, &plain, note.table.as_ref())? else {
        return Ok(Kept::Stale);
    };
    match read_track(&table.bytes[..]) {
        Ok(followings) => Ok(Kept::Fresh(Box::new(note), followings, table)),
        Err(source) => Err(TaskError::Track { path: table.path, source }),
    }
}

/// Puts what was followed in the place of straight lines.
pub(super) fn use_followings(resolved: &mut ResolvedClip, mut followings: Followings) {
    for track in &mut resolved.tracks {
        if let Some(frames) = followings.remove(track.name()).filter(|_| is_followed(track)) {
            *track = track.clone().with_followed(frames);
        }
    }
}

/// Writes a clip's track, and then what it was made from.
///
/// # Errors
/// If a file cannot be written.
pub(super) fn write(
    clip: &str,
    (note, followings): (&TrackNote, &Followings),
    outputs: &mut Outputs,
) -> Result<Vec<String>, TaskError> {
    let [table, told] = names_of(clip);
    let mut text = Vec::new();
    write_track(followings, &mut text)
        .map_err(|source| TaskError::Handoff { name: table.clone(), source })?;
    let written = outputs.write(&table, &text)?;
    let made = MadeTable::new(written.clone(), &text);
    let mut json = serde_json::to_vec_pretty(&TrackNote { table: Some(made), ..note.clone() })?;
    json.push(b'\n');
    Ok(vec![written, outputs.write(&told, &json)?])
}

/// The frames of a clip that its last track asked to be marked, a few of the weakest among them, and why. It is a hint, so that
/// a track that is stale or cannot be read only gives none.
pub(super) fn asks_in(shoot: &Shoot, clip: &str) -> Vec<(FrameIndex, String)> {
    const MOST: usize = 24;
    let [_, note] = names_of(clip);
    let note = fs::read(folder_of(shoot).join(note)).ok();
    let note = note.and_then(|bytes| serde_json::from_slice::<TrackNote>(&bytes).ok());
    // What is asked for comes before what is weak, of the same frame too.
    let mut asks = note.map_or(Vec::new(), |note| asks_of(&note));
    asks.truncate(MOST);
    asks.reverse();
    asks
}

/// Where a track is weakest on the used frames of a clip, the worst first and not many.
pub(super) fn weak_in(note: &TrackNote, clip: &Clip) -> Vec<WeakTrack> {
    const MOST: usize = 3;
    let is_used = |weak: &&Weak| {
        let [first, end] = weak.frames;
        let mut used = clip.ranges.iter().map(|range| range.used);
        used.any(|used| first < used.end().0 && used.first().0 < end)
    };
    let of_thing = |thing: &FollowedThing| {
        let weak = |weak: &Weak| WeakTrack {
            name: thing.name.clone(),
            frames: weak.frames,
            likely_wrong: weak.likely_wrong,
            ask: FrameIndex(weak.ask),
        };
        thing.weakest.iter().filter(is_used).map(weak).collect::<Vec<_>>()
    };
    let mut all: Vec<WeakTrack> = note.things.iter().flat_map(of_thing).collect();
    all.sort_by(|a, b| b.likely_wrong.total_cmp(&a.likely_wrong));
    all.truncate(MOST);
    all
}

/// Why a frame should be marked, if following the marks asked for it.
pub(super) fn asks_of(note: &TrackNote) -> Vec<(FrameIndex, String)> {
    let of_thing = |thing: &FollowedThing| {
        let asked = thing.asks.iter().map(|frame| {
            (FrameIndex(*frame), "please mark, the track is in doubt here".to_owned())
        });
        let weak = thing
            .weakest
            .iter()
            .map(|weak| (FrameIndex(weak.ask), "the track is weak here".to_owned()));
        asked.chain(weak).collect::<Vec<_>>()
    };
    note.things.iter().flat_map(of_thing).collect()
}
