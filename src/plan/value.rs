use super::{
    Asked, ClauseNote, ConflictNote, CopiedFrom, CopiedPath, KeptAlone, LeadNote, NotCopied,
    OneLook, PlanRetime, PlannedCut, SmearNote, Standing, SteadyNote, TurnAt, VisitAt, WeakTrack,
};
use crate::{
    clip::{Clip, Fingerprint, FrameTimes, Part, UsedRange},
    delivery::{Deliverable, Limit, Limits, Origin, SafeAreas},
    geometry::{InsideCrop, Raster, Rounding, Window},
    keyframe::ToNext,
    pan::{Axis, Cause, Objective, Remedy, Side, StillStarts, Travel, Verdict, Way},
    sharpness::Softness,
    timecode::{FrameIndex, FrameRange, FrameRate},
};
use serde::{Serialize, Serializer, ser::SerializeSeq};
use std::path::Path;

/// The version of the plan's form; it grows when a field changes its meaning or goes.
pub const PLAN_VERSION: u32 = 3;

/// Everything that was decided for one shoot.
#[derive(Debug, Clone, Serialize)]
pub struct Plan {
    /// [`PLAN_VERSION`].
    pub plan_version: u32,
    /// The program and its version.
    pub made_by: String,
    /// What every reader of a plan is told once.
    pub caution: &'static str,
    /// The files it was made from.
    pub inputs: Vec<InputFile>,
    /// The rate of the timeline.
    pub timeline_rate: FrameRate,
    /// What is to be delivered.
    pub deliverables: Vec<DeliverableFacts>,
    /// The clips, in the order of the shoot file.
    pub clips: Vec<ClipPlan>,
    /// Every clip and deliverable, worst first.
    pub ranking: Vec<Ranked>,
    /// Where the enlargement steps by too much between neighbouring clips.
    pub steps: Vec<Step>,
    /// Files that were changed by hand and left alone, with where the new ones are.
    pub outputs: Vec<OutputNote>,
}

/// A file the plan was made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InputFile {
    /// Its name, without folders.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
}

/// A deliverable as the plan holds it.
#[derive(Debug, Clone, Serialize)]
pub struct DeliverableFacts {
    /// Its name.
    pub name: String,
    /// Its raster.
    #[serde(serialize_with = "as_text")]
    pub raster: Raster,
    /// Its exact shape, in lowest terms.
    pub shape: String,
    /// How held windows are rounded.
    pub rounding: Rounding,
    /// Shares of the picture that will be covered: left, top, right, bottom.
    pub blocked: [f64; 4],
    /// The date of the template of what will be covered.
    pub blocked_as_of: Option<String>,
    /// Width and height of the box that essential action stays in, delivered px.
    pub action_safe_px: [u32; 2],
    /// Width and height of the box that graphics stay in, delivered px.
    pub graphics_safe_px: [u32; 2],
}

impl DeliverableFacts {
    /// The facts of a deliverable.
    #[must_use]
    pub fn of(deliverable: &Deliverable) -> Self {
        let (blocked, safe) = (&deliverable.blocked, SafeAreas::of(deliverable.raster));
        Self {
            name: deliverable.name.clone(),
            raster: deliverable.raster,
            shape: deliverable.shape().to_string(),
            rounding: deliverable.rounding,
            blocked: [blocked.left, blocked.top, blocked.right, blocked.bottom],
            blocked_as_of: blocked.as_of.clone(),
            action_safe_px: [safe.action.width_px, safe.action.height_px],
            graphics_safe_px: [safe.graphics.width_px, safe.graphics.height_px],
        }
    }
}

/// One clip of a plan.
#[derive(Debug, Clone, Serialize)]
pub struct ClipPlan {
    /// Its name.
    pub name: String,
    /// File name, or the pattern or folder of an image sequence, as in the shoot file.
    pub footage: String,
    /// The displayed raster.
    #[serde(serialize_with = "as_text")]
    pub raster: Raster,
    /// Frames per second of capture; none where the rate is variable.
    pub rate: Option<FrameRate>,
    /// What is to be known of a variable rate.
    pub variable_rate: Option<VariableRate>,
    /// The files that it is made of.
    pub parts: Vec<PlanPart>,
    /// Which video track of its files it is, from 1, where that had to be said.
    pub track: Option<u32>,
    /// Degrees clockwise by which its pictures are turned after their file's own flag.
    pub turn_degrees: u16,
    /// Whether they are then mirrored left to right.
    pub is_mirrored: bool,
    /// The raster of the proxy that was read; every px is one of `raster`.
    pub proxy_raster: Option<String>,
    /// How many frames it has.
    pub frame_count: u64,
    /// The timecode of frame 0.
    pub start_timecode: Option<String>,
    /// What its camera cropped before it wrote the file; none if nothing.
    pub inside_crop: Option<InsideCrop>,
    /// Bits of the file for each px of each frame; none where no bit rate is known.
    pub bits_per_px: Option<f64>,
    /// How the timeline plays it.
    pub play: crate::clip::Play,
    /// Timeline seconds from one of its frames to the next; none where they differ.
    pub timeline_step_secs: Option<f64>,
    /// How its speed was changed on the timeline, in order; empty if it was not. A frame before the first or after
    /// the last keeps the speed of the nearest.
    pub retimes: Vec<PlanRetime>,
    /// The first frame after each cut inside it, in order.
    pub cuts: Vec<FrameIndex>,
    /// From which clip it takes its path; none if it is planned by itself.
    pub copied_from: Option<CopiedFrom>,
    /// Which files these were.
    pub fingerprint: Fingerprint,
    /// What should be known about the footage or its use.
    pub notices: Vec<String>,
    /// Where its track is weakest on used frames, the worst first; empty where none is used or none is weak.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub weak: Vec<WeakTrack>,
    /// What came of one look for its deliverables, a used range each; empty where none was asked for.
    pub one_look: Vec<OneLook>,
    /// What was decided, a deliverable each.
    pub entries: Vec<Entry>,
    /// The clip itself, for those who write files from the plan.
    #[serde(skip)]
    pub clip: Clip,
}

/// A variable frame rate in numbers.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VariableRate {
    /// Frames per second over the whole clip.
    pub mean_per_second: f64,
    /// The shortest time from a frame to the next.
    pub shortest_gap_secs: f64,
    /// The longest.
    pub longest_gap_secs: f64,
    /// How long a tick of the file's time stamps is: seconds, and ticks in them.
    pub tick: (u32, u32),
    /// The stamp of frame 0 in those ticks; `source_seconds` count from it.
    pub first_stamp: i64,
}

impl VariableRate {
    /// The numbers of a clip's time stamps.
    #[must_use]
    pub fn of(times: &FrameTimes) -> Self {
        let (shortest_gap_secs, longest_gap_secs) = times.extreme_gaps_secs();
        Self {
            mean_per_second: times.mean_per_second(),
            shortest_gap_secs,
            longest_gap_secs,
            tick: times.base(),
            first_stamp: times.stamp(FrameIndex(0)).unwrap_or(0),
        }
    }
}

/// A file of a clip.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlanPart {
    /// Its path as in the shoot file.
    pub file: String,
    /// The frames that it holds, in the clip's numbering.
    #[serde(serialize_with = "as_bounds")]
    pub frames: FrameRange,
}

impl PlanPart {
    /// A part with its path from the shoot file's folder.
    #[must_use]
    pub fn of(part: &Part, folder: &Path) -> Self {
        let file = part.path.strip_prefix(folder).unwrap_or(&part.path);
        Self { file: file.display().to_string(), frames: part.frames }
    }
}

/// One clip in one deliverable.
#[derive(Debug, Clone, Serialize)]
pub struct Entry {
    /// The deliverable's name.
    pub deliverable: String,
    /// What it comes to.
    pub standing: Standing,
    /// What decided that, in words.
    pub because: String,
    /// The softest window of all planned segments.
    pub softest: Option<Softness>,
    /// What was decided, a used range each.
    pub segments: Vec<Segment>,
    /// The limits it was held to.
    pub limits: Vec<LimitUsed>,
}

/// A limit and where it came from.
#[derive(Debug, Clone, Serialize)]
pub struct LimitUsed {
    /// Its name in the shoot file.
    pub name: &'static str,
    /// Its value; none is off.
    pub value: Option<f64>,
    /// Which layer set it.
    pub set_by: Origin,
}

impl LimitUsed {
    /// Every limit of a set.
    #[must_use]
    pub fn all(limits: &Limits) -> Vec<Self> {
        Limit::TABLE
            .iter()
            .map(|spec| Self {
                name: spec.name,
                value: limits.value(spec.limit),
                set_by: limits.origin(spec.limit),
            })
            .collect()
    }
}

/// One used range of a clip in one deliverable, or a part of one between cuts.
#[derive(Debug, Clone, Serialize)]
pub struct Segment {
    /// Its number, from 1, in the order of the clip's used ranges, each parted where it is cut.
    pub number: usize,
    /// The frames that are used.
    #[serde(serialize_with = "as_bounds")]
    pub used: FrameRange,
    /// Those frames and the handles.
    #[serde(serialize_with = "as_bounds")]
    pub with_handles: FrameRange,
    /// The planned cut that it begins with, where it is the second part of a used range.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut: Option<PlannedCut>,
    /// The one subject that is kept, where there is no room for all from the start.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kept_alone: Option<KeptAlone>,
    /// What was decided.
    pub outcome: SegmentOutcome,
}

impl Segment {
    /// Whether what becomes of it could not be computed.
    #[must_use]
    pub const fn is_uncomputed(&self) -> bool {
        matches!(self.outcome, SegmentOutcome::NotComputed { .. })
    }

    /// The range and number of a segment, without an outcome yet.
    #[must_use]
    pub const fn new(number: usize, range: UsedRange, outcome: SegmentOutcome) -> Self {
        let UsedRange { used, with_handles } = range;
        Self { number, used, with_handles, cut: None, kept_alone: None, outcome }
    }

    /// On how many used frames of a planned path the subject is not tracked.
    #[must_use]
    pub fn untracked_used(&self) -> usize {
        let tracked = self.planned().map_or(&[][..], |planned| &planned.tracked);
        let frames = self.with_handles.frames().zip(tracked);
        frames.filter(|(frame, tracked)| self.used.contains(*frame) && !**tracked).count()
    }

    /// The planned path, if there is one.
    #[must_use]
    pub const fn planned(&self) -> Option<&PlannedSegment> {
        match &self.outcome {
            SegmentOutcome::Planned(planned) => Some(planned),
            SegmentOutcome::DoesNotFit(_)
            | SegmentOutcome::NotCopied(_)
            | SegmentOutcome::NoPath { .. }
            | SegmentOutcome::NotComputed { .. } => None,
        }
    }
}

/// What came of one segment.
#[derive(Debug, Clone, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SegmentOutcome {
    /// A path, fitting or tight.
    Planned(Box<PlannedSegment>),
    /// The shape cannot be had.
    DoesNotFit(Box<RefusedSegment>),
    /// The path of another clip cannot be taken.
    NotCopied(Box<NotCopied>),
    /// Hard limits contradict each other.
    NoPath {
        /// The fewest limits that cannot be kept together, by how much, and what would part them.
        conflict: ConflictNote,
        /// The same in words.
        words: String,
    },
    /// Whether there is a path could not be computed, which is a fault of the planner's; everything else is planned.
    NotComputed {
        /// What failed, and what to do.
        words: String,
    },
}

/// A path for one segment.
#[derive(Debug, Clone, Serialize)]
pub struct PlannedSegment {
    /// How the window moves.
    pub way: Way,
    /// How well it keeps the subject; none for a path taken from another clip where no mark says where the subject is.
    pub verdict: Option<Verdict>,
    /// Why the window moves so, in words.
    pub why: String,
    /// The share of the subject's frames on which everything is inside, 0 to 1; none where there is no verdict.
    pub share_inside: Option<f64>,
    /// Frames on which something is outside, in order.
    pub short_frames: Vec<ShortAt>,
    /// When the subject is inside, where it is let go; empty where it is not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub visits: Vec<VisitAt>,
    /// What becomes of each of the client's conditions that hold here.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub clauses: Vec<ClauseNote>,
    /// Where the window may start, across and down, with all of it kept: of a hold with something kept out or a clause.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starts: Option<[StillStarts; 2]>,
    /// How much the subject smears where it is quickest, if the exposure is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub smear: Option<SmearNote>,
    /// What lead room the subject has, if that is wanted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lead: Option<LeadNote>,
    /// Where it turns back sooner after its last turn than the limit says; empty where it does not.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub turns: Vec<TurnAt>,
    /// How far it travels, where there is a limit on that and it moves.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub travel: Option<Travel>,
    /// The fastest step.
    pub peak: PeakAt,
    /// Whether the fastest step is above the caution limit.
    pub pan_caution: bool,
    /// How soft the softest window is.
    pub softest: Softness,
    /// Width over height of the windows against the exact shape, less one: 0 but where a window is rounded.
    pub shape_error: f64,
    /// On which side of each keep-out the window stays, in the order of their names.
    pub sides: Vec<Side>,
    /// What was asked, by which the cost and the outcome can be reckoned again.
    pub asked: Asked,
    /// What the path costs.
    pub objective: Objective,
    /// What it may cost more than the best path, in window widths, where the solver came no nearer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub may_cost_more: Option<f64>,
    /// Whether this way was taken after the search for eased moves was broken off, so that there may be some that do.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub moves_broken_off: bool,
    /// The last frame before and the first frame after each eased move, on which the window stands; none but for a path
    /// that was planned in moves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub moves: Vec<[FrameIndex; 2]>,
    /// Frames worth looking at.
    pub telling: TellingFrames,
    /// The frames of the keys.
    pub keys: Vec<FrameIndex>,
    /// How the columns run from each key to the next: `straight`, or the timing curve of an eased move.
    pub to_next: Vec<ToNext>,
    /// The largest error of what runs between the keys, over every set of columns that it may be keyed in,
    /// delivered px.
    pub key_error_px: f64,
    /// When each of those frames is shown, in seconds from the clip's frame 0, where the rate is variable.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source_seconds: Option<Vec<f64>>,
    /// By how many degrees the picture of each frame is turned about its centre, clockwise positive, before
    /// anything else: handles included. Empty where none is turned. Windows are then in px of the turned pictures.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rotation_degrees: Vec<f64>,
    /// What riding with the shake of the background came to, if windows are steady against the world.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub steady: Option<SteadyNote>,
    /// How it comes from the path of another clip, if it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copied: Option<CopiedPath>,
    /// A window for each frame, handles included: left, top, width, height.
    #[serde(serialize_with = "as_windows")]
    pub windows: Vec<Window>,
    /// For each of those frames, whether the subject was tracked there.
    pub tracked: Vec<bool>,
    /// The frames that are pinned by hand.
    pub pinned: Vec<FrameIndex>,
}

impl PlannedSegment {
    /// Whether an ease runs between some of its keys.
    #[must_use]
    pub fn is_eased(&self) -> bool {
        self.to_next.iter().any(|to_next| matches!(to_next, ToNext::Eased(_)))
    }

    /// The verdict in words.
    #[must_use]
    pub fn verdict_words(&self) -> String {
        self.verdict.map_or_else(|| "not assessed".to_owned(), |verdict| verdict.to_string())
    }
}

/// Why one segment cannot be had in one shape.
#[derive(Debug, Clone, Serialize)]
pub struct RefusedSegment {
    /// What decides it.
    pub cause: Cause,
    /// Why the shape cannot be had, in words.
    pub words: String,
    /// The things kept in or out without which it could; where there are any, they decide and not the cause.
    pub blamed: Vec<String>,
    /// The first frame that lacks something.
    pub first: ShortAt,
    /// The frame that lacks the most.
    pub worst: ShortAt,
    /// The share of frames on which the best attempt keeps everything.
    pub share_inside: f64,
    /// What the best attempt makes of each of the client's conditions that hold here.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub clauses: Vec<ClauseNote>,
    /// Where a still window of the best attempt's size would have to start, across and down, where something is kept
    /// out or a clause holds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub starts: Option<[StillStarts; 2]>,
    /// What would mend it, in the order of what it costs.
    pub remedies: Vec<RemedyNote>,
    /// Frames worth looking at.
    pub telling: TellingFrames,
    /// The best attempt over the used frames, for a picture of what is wrong.
    #[serde(skip)]
    pub attempt: Vec<Window>,
    /// By how many degrees the picture of each of those frames is turned; empty where none is.
    #[serde(skip)]
    pub rotation_degrees: Vec<f64>,
}

/// A remedy as a value and in words.
#[derive(Debug, Clone, Serialize)]
pub struct RemedyNote {
    /// The value; none where a mark is to be changed.
    #[serde(flatten)]
    pub remedy: Option<Remedy>,
    /// The same in words.
    pub words: String,
}

/// A frame on which something is outside the window.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShortAt {
    /// The frame.
    pub frame: FrameIndex,
    /// How many px.
    pub missing_px: f64,
    /// Along which axis.
    pub axis: Axis,
}

/// The fastest step of a path.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PeakAt {
    /// The step leads from this frame to the next.
    pub frame: FrameIndex,
    /// Window widths in a second of timeline.
    pub widths_per_sec: f64,
    /// Seconds of timeline for one window width; none if the window stands still.
    pub secs_per_width: Option<f64>,
}

/// Four frames that show whether a path is good.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TellingFrames {
    /// The first used frame.
    pub start: FrameIndex,
    /// Where the subject comes nearest to, or furthest over, the edge of what it should stay in.
    pub worst: FrameIndex,
    /// Where the subject takes the largest share of the window.
    pub widest: FrameIndex,
    /// The last used frame.
    pub end: FrameIndex,
}

impl TellingFrames {
    /// Each frame once, with what it is: `worst, widest, end`. In the order of what comes first.
    #[must_use]
    pub fn named(&self) -> Vec<(String, FrameIndex)> {
        let all = [
            ("start", self.start),
            ("worst", self.worst),
            ("widest", self.widest),
            ("end", self.end),
        ];
        let mut named: Vec<(String, FrameIndex)> = Vec::new();
        for (name, frame) in all {
            match named.iter_mut().find(|(_, other)| *other == frame) {
                Some((names, _)) => *names = format!("{names}, {name}"),
                None => named.push((name.to_owned(), frame)),
            }
        }
        named
    }
}

/// One clip and deliverable in the ranking.
#[derive(Debug, Clone, Serialize)]
pub struct Ranked {
    /// The clip.
    pub clip: String,
    /// The deliverable.
    pub deliverable: String,
    /// What it comes to.
    pub standing: Standing,
    /// What decided that, in words.
    pub because: String,
    /// The largest enlargement.
    pub enlargement: Option<f64>,
}

/// A step in enlargement between two neighbouring clips.
#[derive(Debug, Clone, Serialize)]
pub struct Step {
    /// The deliverable.
    pub deliverable: String,
    /// The earlier clip and its last enlargement.
    pub from: (String, f64),
    /// The later clip and its first enlargement.
    pub to: (String, f64),
    /// The larger over the smaller.
    pub factor: f64,
    /// The limit it was held to.
    pub limit: f64,
}

/// A file that had been changed by hand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutputNote {
    /// The file that was left alone.
    pub kept: String,
    /// Where the new one is; none if there is no new one because the shape is now refused.
    pub new: Option<String>,
}

fn as_text<T: ToString, S: Serializer>(value: &T, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&value.to_string())
}

pub(super) fn as_bounds<S: Serializer>(
    range: &FrameRange,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    [range.first(), range.end()].serialize(serializer)
}

fn as_windows<S: Serializer>(windows: &[Window], serializer: S) -> Result<S::Ok, S::Error> {
    let mut list = serializer.serialize_seq(Some(windows.len()))?;
    for window in windows {
        list.serialize_element(&written_edges(window))?;
    }
    list.end()
}

pub(super) fn as_window<S: Serializer>(window: &Window, serializer: S) -> Result<S::Ok, S::Error> {
    written_edges(window).serialize(serializer)
}

/// Left, top, width and height, to the digits that are written.
fn written_edges(window: &Window) -> [f64; 4] {
    let digits = |px: f64| (px * 1e4).round() / 1e4 + 0.0;
    [window.left(), window.top(), window.width(), window.height()].map(digits)
}
