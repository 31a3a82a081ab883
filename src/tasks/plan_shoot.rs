//! The whole job: a shoot file in; a plan, hand-off files and pictures out.

use super::{
    CancelToken, Event, Observer, Outputs, Overlays, TaskError,
    copying::Source,
    decide::Case,
    made_table::UsedTable,
    marking_sheets, mount_sheets, notices, one_look,
    outputs::sha256,
    pictures,
    prepare::{Prepared, PreparedClip, prepare},
    stills,
    tracks::{self, Kept},
};
use crate::{
    clip::{Clip, UsedRange},
    delivery::{Deliverable, Limits},
    handoff::{self, HandoffEntry, HandoffError},
    plan::{
        CAUTION, ClipPlan, CopiedFrom, DeliverableFacts, Entry, InputFile, LimitUsed, OneLook,
        PLAN_VERSION, Plan, PlanPart, PlanRetime, Segment, SegmentOutcome, Standing, VariableRate,
        rank, report_text, steps_between,
    },
    process::work_in_order,
    shoot::Shoot,
};
use std::{
    ops::ControlFlow,
    path::{Path, PathBuf},
};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanOptions {
    /// The shoot file.
    pub shoot: PathBuf,
    /// The outputs folder; `None` is the shoot file's own.
    pub out: Option<PathBuf>,
    /// Which frames get an overlay picture.
    pub overlays: Overlays,
}

/// What was done.
#[derive(Debug)]
pub struct PlanDone {
    /// The plan.
    pub plan: Plan,
    /// The text report.
    pub text: String,
    /// The outputs folder.
    pub folder: PathBuf,
    /// The files written there, by name, in order.
    pub files: Vec<String>,
    /// What an earlier plan wrote and this one did not, untouched, and is no longer there: of shapes that are now refused,
    /// and overlays that were not asked for again.
    pub removed: Vec<String>,
}

/// The file names of the two reports.
const REPORTS: [&str; 2] = ["report.json", "report.txt"];

/// Plans a whole shoot and writes everything that comes of it.
///
/// # Errors
/// [`TaskError::Problems`] with everything that must be mended first; otherwise the first thing that could
/// not be read, computed or written. A shape that cannot be had is no error.
pub fn plan_shoot(
    options: &PlanOptions,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<PlanDone, TaskError> {
    let mut prepared = prepare(&options.shoot, observer, cancel)?;
    use_tracks(&mut prepared, observer)?;
    options.overlays.check(prepared.clips.iter().map(|clip| clip.opened.facts.frame_count))?;
    let folder = options.out.clone().unwrap_or_else(|| prepared.shoot.outputs.clone());
    prepared.check_outputs(&folder)?;
    let mut outputs = Outputs::open(&folder)?;
    let mut plan = decide_all(&prepared, observer, cancel)?;
    let remarks = pictures::write(
        &mut prepared.clips,
        &plan,
        &options.overlays,
        &mut outputs,
        (&mut *observer, cancel),
    )?;
    for (clip, remarks) in plan.clips.iter_mut().zip(remarks) {
        clip.notices.extend(remarks);
    }
    for clip in &plan.clips {
        for entry in &clip.entries {
            write_handoff(&plan, clip, entry, &mut outputs)?;
        }
    }
    let removed = outputs.sweep(|name| {
        let is_anothers = name.ends_with(marking_sheets::ENDING)
            || mount_sheets::is_sheet(name)
            || stills::is_still(name);
        !REPORTS.contains(&name) && !is_anothers
    })?;
    plan.outputs = outputs.notes().to_vec();
    let text = report_text(&plan);
    let mut json = serde_json::to_vec_pretty(&plan)?;
    json.push(b'\n');
    outputs.write(REPORTS[0], &json)?;
    outputs.write(REPORTS[1], text.as_bytes())?;
    for note in outputs.notes() {
        observer.hear(Event::Notice(&match &note.new {
            Some(new) => {
                format!("{} was changed by hand and is left alone; the new one is {new}", note.kept)
            }
            None => format!(
                "{} was changed by hand and is set aside: its shape is now refused",
                note.kept
            ),
        }));
    }
    let files = outputs.written().map(str::to_owned).collect();
    outputs.finish()?;
    Ok(PlanDone { plan, text, folder, files, removed })
}

/// Follows the subjects where their tracks say they are, as long as those were made from these marks and this footage.
fn use_tracks(prepared: &mut Prepared, observer: &mut dyn Observer) -> Result<(), TaskError> {
    for clip in &mut prepared.clips {
        match tracks::kept(&prepared.shoot, &clip.resolved)? {
            Kept::None => {}
            Kept::Stale => observer.hear(Event::Notice(&format!(
                "the track of clip {} was made from other marks or footage and is not used; follow it again",
                clip.resolved.clip.name
            ))),
            Kept::Fresh(note, followings, UsedTable { path, bytes, said }) => {
                said.iter().for_each(|said| observer.hear(Event::Notice(said)));
                clip.weak = tracks::weak_in(&note, &clip.resolved.clip);
                clip.found_cuts = note.cuts;
                clip.made.push((path, bytes));
                tracks::use_followings(&mut clip.resolved, followings);
            }
        }
    }
    Ok(())
}

fn decide_all(
    prepared: &Prepared,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<Plan, TaskError> {
    let shoot = &prepared.shoot;
    let cases: usize =
        prepared.clips.iter().map(|clip| shoot.clips[clip.place].deliverables.len()).sum();
    observer.hear(Event::Begins { stage: "planning", steps: cases as u64 });
    // A clip that takes its path from another is planned after it.
    let (copies, others): (Vec<_>, Vec<_>) =
        prepared.clips.iter().partition(|clip| clip.copy.is_some());
    let mut clips: Vec<(usize, ClipPlan)> = Vec::new();
    for clip in others.into_iter().chain(copies) {
        let planned = clip_plan(shoot, clip, &clips, (&mut *observer, cancel))?;
        clips.push((clip.place, planned));
    }
    clips.sort_by_key(|(place, _)| *place);
    let clips = clips.into_iter().map(|(_, clip)| clip).collect();
    let mut plan = Plan {
        plan_version: PLAN_VERSION,
        made_by: concat!("lookroom ", env!("CARGO_PKG_VERSION")).to_owned(),
        caution: CAUTION,
        inputs: inputs(prepared),
        timeline_rate: shoot.timeline_rate,
        deliverables: shoot.deliverables.iter().map(DeliverableFacts::of).collect(),
        clips,
        ranking: Vec::new(),
        steps: Vec::new(),
        outputs: Vec::new(),
    };
    plan.ranking = rank(&plan);
    plan.steps = steps_between(&plan, |place, deliverable| {
        let clip = &shoot.clips[prepared.clips[place].place];
        shoot.deliverable(deliverable).map_or_else(
            || shoot.clip_limits(clip),
            |deliverable| shoot.limits_for(clip, deliverable),
        )
    });
    Ok(plan)
}

fn clip_plan(
    shoot: &Shoot,
    prepared: &PreparedClip,
    planned: &[(usize, ClipPlan)],
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<ClipPlan, TaskError> {
    let clip = &prepared.resolved.clip;
    let deliverables: Vec<&Deliverable> =
        shoot.deliverables_of(&shoot.clips[prepared.place]).collect();
    let mut entries = Vec::new();
    // Deliverables know nothing of each other, so that each core takes one.
    let decide = |deliverable: &&Deliverable| {
        let source = source_of(prepared, planned, deliverable);
        cancel.check().and_then(|()| entry(shoot, prepared, deliverable, source))
    };
    let ended = work_in_order(&deliverables, decide, |_, decided| match decided {
        Ok(entry) => {
            entries.push(entry);
            observer.hear(Event::Step);
            ControlFlow::Continue(())
        }
        Err(error) => ControlFlow::Break(error),
    });
    if let ControlFlow::Break(error) = ended {
        return Err(error);
    }
    let one_look = if shoot.has_one_look(&shoot.clips[prepared.place]) {
        share_looks(shoot, prepared, &deliverables, &mut entries)?
    } else {
        Vec::new()
    };
    let footage = clip.footage.path();
    Ok(ClipPlan {
        name: clip.name.clone(),
        footage: footage_words(footage.strip_prefix(&shoot.folder).unwrap_or(footage), clip),
        raster: clip.facts.raster,
        rate: clip.facts.timing.rate(),
        variable_rate: clip.facts.timing.times().map(VariableRate::of),
        parts: clip.facts.parts.iter().map(|part| PlanPart::of(part, &shoot.folder)).collect(),
        track: clip.track,
        turn_degrees: clip.orientation.turn.degrees(),
        is_mirrored: clip.orientation.is_mirrored,
        proxy_raster: clip.proxy.map(|read| read.to_string()),
        frame_count: clip.facts.frame_count,
        start_timecode: clip.facts.start_timecode.map(|start| start.to_string()),
        inside_crop: Some(clip.inside_crop).filter(|crop| !crop.is_none()),
        bits_per_px: clip.facts.bits_per_px(),
        play: clip.play,
        timeline_step_secs: clip.even_step_secs(),
        retimes: PlanRetime::all(clip),
        cuts: clip.cuts.clone(),
        copied_from: prepared.copy.as_ref().map(CopiedFrom::of),
        fingerprint: clip.facts.fingerprint.clone(),
        notices: notices::of_clip(shoot, prepared),
        weak: prepared.weak.clone(),
        one_look,
        entries,
        clip: clip.clone(),
    })
}

/// The entry that a clip takes over from another for a deliverable, if it takes its path from one.
fn source_of<'s>(
    prepared: &'s PreparedClip,
    planned: &'s [(usize, ClipPlan)],
    deliverable: &Deliverable,
) -> Option<Source<'s>> {
    let copy = prepared.copy.as_ref()?;
    let (_, other) = planned.iter().find(|(_, other)| other.name == copy.from)?;
    let entry = other.entries.iter().find(|entry| entry.deliverable == deliverable.name)?;
    Some(Source { copy, entry })
}

/// The file, or the first of several.
fn footage_words(first: &Path, clip: &Clip) -> String {
    match clip.facts.parts.len() {
        0 | 1 => first.display().to_string(),
        count => format!("{} and {} more", first.display(), count - 1),
    }
}

fn entry(
    shoot: &Shoot,
    prepared: &PreparedClip,
    deliverable: &Deliverable,
    source: Option<Source<'_>>,
) -> Result<Entry, TaskError> {
    let limits = shoot.limits_for(&shoot.clips[prepared.place], deliverable);
    let tracks = &prepared.resolved.tracks;
    let case = Case { prepared, deliverable, limits: &limits, tracks };
    let mut segments = Vec::new();
    for range in &prepared.resolved.clip.ranges {
        let number = segments.len() + 1;
        let decided = match source {
            Some(source) => case.copied(number, *range, source),
            None => case.segments(number, *range),
        };
        segments
            .extend(decided.or_else(|error| not_computed(number, *range, error).map(|s| vec![s]))?);
    }
    let mut entry = Entry {
        deliverable: deliverable.name.clone(),
        standing: Standing::Fine,
        because: String::new(),
        softest: None,
        segments,
        limits: LimitUsed::all(&limits),
    };
    sum_up(&mut entry);
    Ok(entry)
}

/// What is told of a range for which the planner failed: one shape's failure is not to cost the others. Every other error
/// is handed on.
fn not_computed(number: usize, range: UsedRange, error: TaskError) -> Result<Segment, TaskError> {
    let TaskError::Pan { source, .. } = error else { return Err(error) };
    let words = format!(
        "the path could not be computed: {source}; this is a fault of the planner's, and what was written may be right: change a \
         limit or a pin a little, and plan again"
    );
    Ok(Segment::new(number, range, SegmentOutcome::NotComputed { words }))
}

/// What an entry's segments come to together.
fn sum_up(entry: &mut Entry) {
    let planned = entry.segments.iter().filter_map(|segment| segment.planned());
    entry.softest = planned
        .map(|planned| &planned.softest)
        .max_by(|a, b| a.band.cmp(&b.band).then(a.soft_as().total_cmp(&b.soft_as())))
        .cloned();
    (entry.standing, entry.because) = Standing::of(entry);
}

/// Plans the deliverables of a clip again that can share a look.
fn share_looks(
    shoot: &Shoot,
    prepared: &PreparedClip,
    deliverables: &[&Deliverable],
    entries: &mut [Entry],
) -> Result<Vec<OneLook>, TaskError> {
    let (clip, tracks) = (&shoot.clips[prepared.place], &prepared.resolved.tracks);
    let limits: Vec<Limits> =
        deliverables.iter().map(|deliverable| shoot.limits_for(clip, deliverable)).collect();
    let case = |(deliverable, limits)| Case { prepared, deliverable, limits, tracks };
    let cases: Vec<Case<'_>> = deliverables.iter().copied().zip(&limits).map(case).collect();
    let (ranges, shared) = (&prepared.resolved.clip.ranges, shoot.clip_limits(clip));
    let looks = ranges
        .iter()
        .map(|range| one_look::share(&cases, entries, *range, &shared))
        .collect::<Result<Vec<_>, _>>()?;
    entries.iter_mut().for_each(sum_up);
    Ok(looks)
}

fn inputs(prepared: &Prepared) -> Vec<InputFile> {
    let shoot = &prepared.shoot;
    let name = |path: &Path| {
        path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned())
    };
    let mut inputs =
        vec![InputFile { name: name(&shoot.path), sha256: shoot.hashes.shoot.clone() }];
    if let Some(hash) = &shoot.hashes.marks {
        inputs.push(InputFile { name: name(&shoot.marks_path), sha256: hash.clone() });
    }
    if let (Some(path), Some(hash)) = (&shoot.pins_path, &shoot.hashes.pins) {
        inputs.push(InputFile { name: name(path), sha256: hash.clone() });
    }
    if let (Some(path), Some(hash)) = (&shoot.motion_path, &shoot.hashes.motion) {
        inputs.push(InputFile { name: name(path), sha256: hash.clone() });
    }
    for (path, bytes) in prepared.clips.iter().flat_map(|clip| &clip.made) {
        inputs.push(InputFile { name: name(path), sha256: sha256(bytes) });
    }
    inputs
}

/// The tables and the conventions of one clip and deliverable, unless every range is refused.
fn write_handoff(
    plan: &Plan,
    clip: &ClipPlan,
    entry: &Entry,
    outputs: &mut Outputs,
) -> Result<(), TaskError> {
    let is_planned = entry.segments.iter().any(|segment| segment.planned().is_some());
    let facts = plan.deliverables.iter().find(|facts| facts.name == entry.deliverable);
    let (true, Some(facts)) = (is_planned, facts) else { return Ok(()) };
    let named = |what: &str| format!("{}_{}_{what}", clip.name, entry.deliverable);
    let conventions = named("conventions.txt");
    let handoff =
        HandoffEntry { clip, entry, delivered: facts.raster, conventions_file: &conventions };
    let mut make = |name: String, fill: &dyn Fn(&mut Vec<u8>) -> Result<(), HandoffError>| {
        let mut bytes = Vec::new();
        fill(&mut bytes).map_err(|source| TaskError::Handoff { name: name.clone(), source })?;
        outputs.write(&name, &bytes)
    };
    make(named("every-frame.csv"), &|out| handoff::write_every_frame(&handoff, out))?;
    make(named("asked.csv"), &|out| handoff::write_asked(&handoff, out))?;
    make(named("keys.csv"), &|out| handoff::write_keys(&handoff, out))?;
    make(conventions.clone(), &|out| handoff::write_conventions(plan, &handoff, facts, out))?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        pan::PanError,
        timecode::{FrameIndex, FrameRange},
    };

    #[test]
    fn a_planner_that_fails_costs_one_range_of_one_shape_and_other_errors_end_the_task() {
        let used = FrameRange::new(FrameIndex(3), FrameIndex(9)).unwrap();
        let range = UsedRange { used, with_handles: used };
        let failed = TaskError::Pan {
            clip: "weir".to_owned(),
            deliverable: "vertical".to_owned(),
            source: PanError::Undecided,
        };
        let segment = not_computed(2, range, failed).unwrap();
        assert!(segment.is_uncomputed());
        let entry = Entry {
            deliverable: "vertical".to_owned(),
            standing: Standing::Fine,
            because: String::new(),
            softest: None,
            segments: vec![segment],
            limits: Vec::new(),
        };
        let (standing, because) = Standing::of(&entry);
        assert_eq!(standing, Standing::NotInThisShape);
        assert!(because.starts_with("the path could not be computed: no path was found"));
        assert!(matches!(not_computed(2, range, TaskError::Cancelled), Err(TaskError::Cancelled)));
    }
}
