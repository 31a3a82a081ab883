//! Clips that take the path of another: repeated takes and mirrored pairs.

use super::{
    Fault, FaultKind, Level, Moment, ResolvedClip, Sheet, Shoot, ShootClip, Steady,
    clip::ClipNames,
    clock::{Clock, Start},
    page::Page,
    table::TableReader,
    value::{moment, number_within, text, wrong_type},
};
use crate::{
    clip::{Clip, CopyKind, PathCopy},
    timecode::{FrameIndex, FrameRange},
};
use toml::de::DeValue;

/// From which clip a clip takes its path, as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenCopy {
    /// The name of the other clip.
    pub from: String,
    /// What becomes of its windows.
    pub kind: CopyKind,
    /// One moment in the other clip and in this one; none if both count alike.
    pub moments: Option<(Moment, Moment)>,
    /// How many px further right everything is here.
    pub right_px: f64,
    /// How many px further down.
    pub down_px: f64,
    /// The line it is written on.
    pub line: u64,
}

/// The keys of a clip that takes the path of another.
pub(super) const COPY_KEYS: [(&str, CopyKind); 2] =
    [("repeats", CopyKind::Repeat), ("pair_of", CopyKind::Mirror)];

impl WrittenCopy {
    /// The key that it is written under.
    fn key(&self) -> &'static str {
        COPY_KEYS.into_iter().find(|(_, kind)| *kind == self.kind).map_or("", |(key, _)| key)
    }

    /// Reads `repeats = { … }` or `pair_of = { … }` of a clip. Whether there is such a clip is seen when all of
    /// them have been read.
    pub(super) fn read(table: &mut TableReader<'_>) -> Option<Self> {
        let [repeats, pair] = COPY_KEYS.map(|(key, kind)| Self::under(table, key, kind));
        if table.has("repeats") && table.has("pair_of") {
            let kind = FaultKind::Both { table: "[[clip]]", first: "repeats", second: "pair_of" };
            table.fault("pair_of", kind);
        }
        repeats.or(pair)
    }

    fn under(table: &mut TableReader<'_>, key: &'static str, kind: CopyKind) -> Option<Self> {
        let line = table.line_of(key);
        let expected = match kind {
            CopyKind::Repeat => {
                "a table such as { clip = \"take-1\", its_frame = 300, this_frame = 340 }"
            }
            CopyKind::Mirror => "a table such as { clip = \"left\" }",
        };
        let is_table = |value: &DeValue<'_>| match value {
            DeValue::Table(_) => Ok(()),
            _ => Err(wrong_type(expected, value)),
        };
        table.take(key, is_table)?;
        let mut inner = table.inner(key, key)?;
        let from =
            inner.need("clip", "the clip whose path is taken", |v| text(v).map(str::to_owned));
        let is_needed = |inner: &TableReader<'_>| match kind {
            CopyKind::Repeat => true,
            CopyKind::Mirror => inner.has("its_frame") || inner.has("this_frame"),
        };
        let moments = if is_needed(&inner) {
            let its = inner.need("its_frame", "a frame of that clip, such as its event", moment);
            let this = inner.need("this_frame", "the frame of this clip at that moment", moment);
            Some((its?, this?))
        } else {
            None
        };
        let (mut right_px, mut down_px) = (0.0, 0.0);
        if kind == CopyKind::Repeat {
            let mut px = |key| inner.take(key, number_within(-1e6, 1e6, "px")).unwrap_or(0.0);
            (right_px, down_px) = (px("right"), px("down"));
        }
        inner.finish();
        Some(Self { from: from?, kind, moments, right_px, down_px, line })
    }
}

/// Tells what is wrong between clips that take their paths from others and those others, and names the clips
/// whose copy is faulty.
pub(super) fn tell_unsound_copies(
    page: &Page<'_>,
    shoot: &Shoot,
    clips: &[(ShootClip, bool)],
    names: &ClipNames,
) -> Vec<String> {
    let mut faulty = Vec::new();
    for (clip, is_sound) in clips {
        let Some(copy) = &clip.copy else { continue };
        let fault = names.clips.known(&copy.from).err().or_else(|| {
            let others = || clips.iter().find(|(other, _)| other.name == copy.from);
            let (other, other_is_sound) = others()?;
            if copy.from == clip.name {
                return Some(FaultKind::CopyOfItself { clip: clip.name.clone() });
            }
            if other.copy.is_some() {
                let origin = origin(clip, clips).map(|origin| origin.name.clone());
                return Some(FaultKind::CopyOfCopy { from: copy.from.clone(), origin });
            }
            let both_sound = *is_sound && *other_is_sound;
            both_sound.then(|| fault_between(shoot, clip, other)).flatten()
        });
        if let Some(kind) = fault {
            page.fault(Some(copy.line), Some(copy.key().to_owned()), kind);
            faulty.push(clip.name.clone());
        }
    }
    faulty
}

/// The clip at the end of a chain of copies; `None` if the chain leads back into itself.
fn origin<'c>(first: &'c ShootClip, clips: &'c [(ShootClip, bool)]) -> Option<&'c ShootClip> {
    let mut clip = first;
    for _ in 0..=clips.len() {
        let Some(copy) = &clip.copy else { return Some(clip) };
        clip = &clips.iter().find(|(other, _)| other.name == copy.from)?.0;
    }
    None
}

fn fault_between(shoot: &Shoot, clip: &ShootClip, other: &ShootClip) -> Option<FaultKind> {
    let from = || other.name.clone();
    let undelivered = clip.deliverables.iter().find(|name| !other.deliverables.contains(name));
    if let Some(deliverable) = undelivered {
        return Some(FaultKind::CopyUndelivered { from: from(), deliverable: deliverable.clone() });
    }
    let is_turned = |clip: &&&ShootClip| {
        let stance = shoot.stance_of(clip);
        let is_level = matches!(stance.level, None | Some(Level::Degrees(0.0)));
        !is_level || stance.steady == Some(Steady::World)
    };
    let turned = [clip, other].iter().find(is_turned).map(|clip| clip.name.clone());
    turned.map(|clip| FaultKind::CopyOfTurned { clip })
}

impl Shoot {
    /// Holds a clip that takes its path from another against it, now that the footage of both is known; `None`
    /// for a clip that is planned by itself.
    ///
    /// # Errors
    /// Every [`Fault`] there is, in the order of [`Fault::in_order`].
    pub fn resolve_copy(
        &self,
        clip: &ShootClip,
        resolved: &ResolvedClip,
        other: &ResolvedClip,
    ) -> Result<Option<PathCopy>, Vec<Fault>> {
        let Some(copy) = &clip.copy else { return Ok(None) };
        let mut kinds = Vec::new();
        let (this, its) = (&resolved.clip, &other.clip);
        kinds.extend(differing(this, its));
        let frames_later = match &copy.moments {
            None => Some(0),
            Some((of_other, of_this)) => {
                let mut frame =
                    |moment, clip| frame_in(moment, clip).map_err(|kind| kinds.push(kind)).ok();
                let (of_other, of_this) = (frame(of_other, its), frame(of_this, this));
                of_other.zip(of_this).and_then(|(its, this)| frames_between(its, this))
            }
        };
        let resolved_copy = frames_later.map(|frames_later| PathCopy {
            from: copy.from.clone(),
            kind: copy.kind,
            frames_later,
            right_px: copy.right_px,
            down_px: copy.down_px,
        });
        if kinds.is_empty() {
            let unmatched = resolved_copy.iter().flat_map(|copy| unmatched_ranges(copy, this, its));
            kinds.extend(unmatched);
        }
        match resolved_copy {
            Some(resolved_copy) if kinds.is_empty() => Ok(Some(resolved_copy)),
            _ => Err(self.faults_of(copy, kinds)),
        }
    }

    fn faults_of(&self, copy: &WrittenCopy, kinds: Vec<FaultKind>) -> Vec<Fault> {
        let fault = |kind| Fault {
            sheet: Sheet::Shoot,
            file: self.path.clone(),
            line: Some(copy.line),
            column: None,
            field: Some(copy.key().to_owned()),
            kind,
        };
        Fault::in_order(kinds.into_iter().map(fault).collect())
    }
}

/// What makes frames or px of two clips no match.
fn differing(this: &Clip, its: &Clip) -> Vec<FaultKind> {
    let mut kinds = Vec::new();
    match (this.facts.timing.rate(), its.facts.timing.rate()) {
        (Some(rate), Some(its_rate)) if rate == its_rate => {}
        (Some(rate), Some(its_rate)) => {
            kinds.push(FaultKind::CopyRateDiffers { rate, its_rate, from: its.name.clone() });
        }
        (None, _) => kinds.push(FaultKind::CopyOfVariableRate { clip: this.name.clone() }),
        (_, None) => kinds.push(FaultKind::CopyOfVariableRate { clip: its.name.clone() }),
    }
    let (raster, its_raster) = (this.facts.raster, its.facts.raster);
    if raster != its_raster {
        let from = its.name.clone();
        kinds.push(FaultKind::CopyRasterDiffers { raster, its_raster, from });
    }
    kinds
}

/// The frame of a moment in a clip whose footage is known.
fn frame_in(moment: &Moment, clip: &Clip) -> Result<FrameIndex, FaultKind> {
    let start = match (clip.facts.timing.rate(), clip.facts.start_timecode) {
        (None, _) => Start::Variable,
        (Some(_), None) => Start::Unnamed,
        (Some(_), Some(start)) => Start::At(start),
    };
    let last = clip.facts.whole().last();
    let clock = Clock { clip: &clip.name, frame_count: clip.facts.frame_count, start };
    // A first timecode with a fault would have kept the clip from getting here.
    match clock.frame_of(moment) {
        Some(Ok(frame)) if frame > last => Err(FaultKind::AfterClip { frame, last }),
        Some(frame) => frame,
        None => Ok(FrameIndex(0)),
    }
}

fn frames_between(from: FrameIndex, to: FrameIndex) -> Option<i64> {
    i64::try_from(to.0).ok()?.checked_sub(i64::try_from(from.0).ok()?)
}

/// The used ranges of a clip that do not lie over exactly one of the other's: where its path is not known, or is
/// more than one.
fn unmatched_ranges(copy: &PathCopy, this: &Clip, its: &Clip) -> Vec<FaultKind> {
    let names: Vec<String> = its.ranges.iter().map(|range| range.used.to_string()).collect();
    let its_ranges = names.join(", ");
    let kind = |used: FrameRange| {
        let (from, its_ranges) = (copy.from.clone(), its_ranges.clone());
        match its.ranges.iter().filter(|range| copy.lies_over(used, range.used)).count() {
            1 => None,
            0 => Some(FaultKind::CopyUnused { used, from, its_ranges }),
            _ => Some(FaultKind::CopyOfSeveral { used, from, its_ranges }),
        }
    };
    this.ranges.iter().filter_map(|range| kind(range.used)).collect()
}
