use super::{
    ClipPlan, Entry, LeadNote, Plan, Ranked, Segment, SegmentOutcome, Step, inside_words,
    recording_of, text::counted, turns_words,
};
use crate::{
    delivery::{Limit, Limits},
    pan::Verdict,
    sharpness::{Band, Softness},
};
use serde::Serialize;
use std::fmt;

/// What one clip comes to in one deliverable, in one word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// This shape cannot be had, at least in one used range.
    NotInThisShape,
    /// It is softer than should be delivered, which somebody's limits allow all the same.
    DoNotDeliver,
    /// Look at it before it is delivered.
    LookAtIt,
    /// Fine.
    Fine,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::NotInThisShape => "not in this shape",
            Self::DoNotDeliver => "do not deliver",
            Self::LookAtIt => "look at it",
            Self::Fine => "fine",
        })
    }
}

impl Standing {
    /// What an entry comes to, and what decided that.
    #[must_use]
    pub fn of(entry: &Entry) -> (Self, String) {
        if let Some(words) = entry.segments.iter().find_map(refused_words) {
            return (Self::NotInThisShape, words.clone());
        }
        if entry.softest.as_ref().is_some_and(|softness| softness.band == Band::DoNotDeliver)
            && let Some(words) = too_soft_words(entry)
        {
            return (Self::DoNotDeliver, words);
        }
        match what_to_look_at(entry) {
            Some(words) => (Self::LookAtIt, words),
            None => (Self::Fine, "fits".to_owned()),
        }
    }
}

/// What a person should look at before an entry is delivered, the most pressing; `None` if nothing asks for it.
fn what_to_look_at(entry: &Entry) -> Option<String> {
    let planned = || entry.segments.iter().filter_map(Segment::planned);
    if let Some(tight) = planned().find(|planned| planned.verdict == Some(Verdict::Tight)) {
        return Some(format!("tight on {}", counted(tight.short_frames.len() as u64, "frame")));
    }
    if let Some(visit) = planned().find_map(|planned| planned.visits.first()) {
        return Some(format!("let go: {}", inside_words(visit)));
    }
    let untracked: u64 = entry.segments.iter().map(|segment| segment.untracked_used() as u64).sum();
    let used: u64 = entry.segments.iter().map(|segment| segment.used.frame_count()).sum();
    if untracked < used && 2 * untracked > used {
        let known = used - untracked;
        return Some(format!("the subject is tracked on only {known} of {used} used frames"));
    }
    if let Some(cut) = entry.segments.iter().find_map(|segment| segment.cut.as_ref()) {
        return Some(format!("a planned cut before frame {}", cut.frame));
    }
    if let Some(alone) = entry.segments.iter().find_map(|segment| segment.kept_alone.as_ref()) {
        return Some(alone.words());
    }
    if let Some(smear) = planned()
        .filter_map(|planned| planned.smear.as_ref())
        .find(|smear| smear.is_to_be_looked_at())
    {
        return Some(smear.words());
    }
    if let Some(words) = too_soft_words(entry) {
        return Some(words);
    }
    if let Some(fast) = planned().find(|planned| planned.pan_caution) {
        let secs = fast.peak.secs_per_width.unwrap_or(f64::INFINITY);
        return Some(format!("a pan of one width in {secs:.1} s"));
    }
    if let Some(words) = planned()
        .filter_map(|planned| planned.lead.as_ref())
        .filter(|lead| lead.is_to_be_looked_at())
        .find_map(LeadNote::travel_words)
    {
        return Some(words);
    }
    if let Some(words) = planned().find_map(|planned| turns_words(&planned.turns)) {
        return Some(words);
    }
    if let Some(moved) = planned().find_map(|planned| planned.copied?.moved_back) {
        return Some(moved.words());
    }
    if planned().any(|planned| planned.verdict.is_none()) {
        return Some("nothing is known of the subject here".to_owned());
    }
    (untracked > 0)
        .then(|| format!("the subject is not tracked on {}", counted(untracked, "used frame")))
}

/// Why an entry is to be looked at for its softness, if it is.
fn too_soft_words(entry: &Entry) -> Option<String> {
    let soft = entry.softest.as_ref().filter(|softness| softness.band >= Band::LookAtIt)?;
    // Who allows more than any band has decided that already.
    let band = if soft.band == Band::DoNotDeliver {
        let why = match soft.measured {
            Some(_) => {
                "which greatest_enlargement does not know, as it counts px and not their sharpness"
            }
            None => "and allowed by greatest_enlargement",
        };
        format!("softer than should be delivered, {why}")
    } else {
        soft.band.to_string()
    };
    let why = soft.after_enlargement();
    Some(format!("enlargement {:.2}{why}: {band}", soft.enlargement))
}

/// Why a segment has no path; `None` if it has one.
const fn refused_words(segment: &Segment) -> Option<&String> {
    match &segment.outcome {
        SegmentOutcome::DoesNotFit(refused) => Some(&refused.words),
        SegmentOutcome::NoPath { words, .. } | SegmentOutcome::NotComputed { words } => Some(words),
        SegmentOutcome::NotCopied(refused) => Some(&refused.words),
        SegmentOutcome::Planned(_) => None,
    }
}

/// Every clip and deliverable of a plan, worst first: what cannot be had, then what should not be delivered, then what
/// should be looked at, softest first; equals in the order of the shoot file.
#[must_use]
pub fn rank(plan: &Plan) -> Vec<Ranked> {
    let ranked = |clip: &ClipPlan, entry: &Entry| Ranked {
        clip: clip.name.clone(),
        deliverable: entry.deliverable.clone(),
        standing: entry.standing,
        because: entry.because.clone(),
        enlargement: entry.softest.as_ref().map(|softness| softness.enlargement),
    };
    let mut ranking: Vec<(f64, Ranked)> = plan
        .clips
        .iter()
        .flat_map(|clip| clip.entries.iter().map(move |entry| (clip, entry)))
        .map(|(clip, entry)| {
            let soft_as = entry.softest.as_ref().map_or(f64::INFINITY, Softness::soft_as);
            (soft_as, ranked(clip, entry))
        })
        .collect();
    ranking.sort_by(|(a_soft, a), (b_soft, b)| {
        a.standing.cmp(&b.standing).then_with(|| b_soft.total_cmp(a_soft))
    });
    ranking.into_iter().map(|(_, ranked)| ranked).collect()
}

/// Where the enlargement steps by more than the limit from one clip's last planned window to the next clip's
/// first, a deliverable each. `limits` gives a clip's limits by the places of clip and entry in the plan.
#[must_use]
pub fn steps_between(plan: &Plan, limits: impl Fn(usize, &str) -> Limits) -> Vec<Step> {
    let mut steps = Vec::new();
    for deliverable in &plan.deliverables {
        let ends = plan.clips.iter().enumerate().filter_map(|(place, clip)| {
            let entry = clip.entries.iter().find(|entry| entry.deliverable == deliverable.name)?;
            let planned = || entry.segments.iter().filter_map(Segment::planned);
            let recording = recording_of(&clip.clip);
            let at = |width: f64| recording.enlargement(deliverable.raster.width(), width);
            let first = at(planned().next()?.windows.first()?.width());
            let last = at(planned().next_back()?.windows.last()?.width());
            Some((place, clip.name.clone(), first, last))
        });
        let ends: Vec<_> = ends.collect();
        for pair in ends.windows(2) {
            let ((_, from_name, _, from), (place, to_name, to, _)) = (&pair[0], &pair[1]);
            let factor = (from / to).max(to / from);
            let limit = limits(*place, &deliverable.name).number(Limit::NeighbourStep);
            if factor > limit {
                steps.push(Step {
                    deliverable: deliverable.name.clone(),
                    from: (from_name.clone(), *from),
                    to: (to_name.clone(), *to),
                    factor,
                    limit,
                });
            }
        }
    }
    steps
}
