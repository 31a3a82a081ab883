//! One used range in one deliverable: from the request to what the plan says of it.

use super::{
    TaskError,
    prepare::PreparedClip,
    requests,
    stand::{Stand, rotation_degrees},
};
use crate::{
    clip::{Clip, UsedRange},
    delivery::{Deliverable, Limit, Limits},
    geometry::Window,
    keyframe::{Reduced, keys_of_moves, reduce},
    pan::{
        self, Assessment, Cause, Ease, HardLimit, Moves, Objective, Outcome, Pace, PanError, Peak,
        Planned, Refusal, Remedy, Request, Roll, ShortFrame, Side, StillStarts, Travel, Verdict,
        Visit, Way, missing_px,
    },
    plan::{
        Asked, CostWeights, EnlargementLimit, PeakAt, PlannedSegment, RefusedSegment, RemedyNote,
        Segment, SegmentOutcome, ShortAt, TellingFrames, TurnAt, VisitAt, clause_refusal_words,
        clause_remedy_words, pin_refusal_words, pin_remedy_words, recording_of, refusal_words,
        remedy_words, why_words,
    },
    sharpness::{Recording, Softness},
    shoot::ResolvedClip,
    subject::{Track, Wish},
    timecode::{FrameIndex, FrameRange},
};

/// What decides: the clip, the deliverable, and the limits they are held to.
pub(super) struct Case<'a> {
    pub(super) prepared: &'a PreparedClip,
    pub(super) deliverable: &'a Deliverable,
    pub(super) limits: &'a Limits,
    /// What is kept in and out: the clip's tracks, or those that are left after a planned cut.
    pub(super) tracks: &'a [Track],
}

impl Case<'_> {
    pub(super) fn clip(&self) -> &Clip {
        &self.prepared.resolved.clip
    }

    /// How much timeline time passes from each frame of a range to the next: of a used range, or of one with
    /// its handles.
    pub(super) fn pace(&self, range: FrameRange) -> Pace {
        let clip = self.clip();
        let to_next = |frame: FrameIndex| clip.timeline_secs(frame, FrameIndex(frame.0 + 1));
        clip.even_step_secs()
            .map_or_else(|| Pace::uneven(range.frames().map(to_next).collect()), Pace::even)
    }

    /// Decides on one used range.
    pub(super) fn decide(&self, number: usize, range: UsedRange) -> Result<Segment, TaskError> {
        let (request, outcome) = self.ask(range, self.tracks.to_vec())?;
        let outcome = match outcome {
            Outcome::Planned(planned) => SegmentOutcome::Planned(Box::new(
                self.planned_on_its_stand(request, range, planned)?,
            )),
            Outcome::DoesNotFit(refusal) => {
                let blamed = self.blamed(range)?;
                SegmentOutcome::DoesNotFit(Box::new(self.refused(&request, range, refusal, blamed)))
            }
            Outcome::NoPath { conflict } => {
                let conflict = self.contradicted(&request, range, &conflict)?;
                let words = conflict.words(self.deliverable.shape());
                SegmentOutcome::NoPath { conflict, words }
            }
        };
        Ok(Segment::new(number, range, outcome))
    }

    /// What the planner answers for a used range and these tracks.
    fn ask(&self, range: UsedRange, tracks: Vec<Track>) -> Result<(Request, Outcome), TaskError> {
        let request = self.request_with(range, tracks)?;
        let outcome = self.outcome_of(&request)?;
        Ok((request, outcome))
    }

    /// What the planner is asked for a used range.
    pub(super) fn request(&self, range: UsedRange) -> Result<Request, TaskError> {
        self.request_with(range, self.tracks.to_vec())
    }

    fn request_with(&self, range: UsedRange, tracks: Vec<Track>) -> Result<Request, TaskError> {
        let resolved = ResolvedClip { tracks, ..self.prepared.resolved.clone() };
        let pace = self.pace(range.used);
        let stand = self.stand(range)?;
        requests::request(&resolved, self.deliverable, self.limits, range, (pace, &stand))
    }

    /// What the planner answers.
    pub(super) fn outcome_of(&self, request: &Request) -> Result<Outcome, TaskError> {
        pan::plan(request).map_err(|source| self.pan_error(source))
    }

    pub(super) fn pan_error(&self, source: PanError) -> TaskError {
        TaskError::Pan {
            clip: self.clip().name.clone(),
            deliverable: self.deliverable.name.clone(),
            source,
        }
    }

    pub(super) fn stand(&self, range: UsedRange) -> Result<Stand, TaskError> {
        Stand::of(&self.prepared.resolved, self.limits, range.used)
    }

    /// What is planned, riding with the shake of the background where that is asked for.
    fn planned_on_its_stand(
        &self,
        request: Request,
        range: UsedRange,
        planned: Planned,
    ) -> Result<PlannedSegment, TaskError> {
        let stand = self.stand(range)?;
        if stand.ride.is_empty() {
            return Ok(self.planned(&request, range, &planned));
        }
        let ridden = self.ridden(&stand, request, planned)?;
        let planned = self.planned(&ridden.request, range, &ridden.planned);
        Ok(PlannedSegment { steady: Some(ridden.note), ..planned })
    }

    /// Where a path turns back too soon.
    fn turns(&self, request: &Request, used: FrameRange, windows: &[Window]) -> Vec<TurnAt> {
        let least_secs = self.limits.value(Limit::Reversal).unwrap_or(0.0);
        let turns = pan::quick_turns(request, windows, least_secs);
        turns.iter().map(|turn| TurnAt::of(turn, used)).collect()
    }

    /// The one thing kept in or out without which a refused range could be had, or else all of them.
    pub(super) fn blamed(&self, range: UsedRange) -> Result<Option<Blamed>, TaskError> {
        let tracks = self.tracks;
        // What a client asks for is not left out for the sake of a shape.
        let (others, kept_always): (Vec<_>, Vec<_>) = tracks
            .iter()
            .cloned()
            .partition(|track| track.wish() != Wish::Subject && !self.has_clause_on(track));
        let singly = others.iter().map(|other| vec![other.clone()]);
        let together = (others.len() > 1).then(|| others.clone());
        for left_out in singly.chain(together) {
            let kept = others.iter().filter(|other| !left_out.contains(other));
            let tracks = kept_always.iter().chain(kept).cloned().collect();
            if let (_, Outcome::Planned(planned)) = self.ask(range, tracks)?
                && planned.assessment.verdict <= Verdict::Tight
            {
                return Ok(Some(Blamed { left_out, verdict: planned.assessment.verdict }));
            }
        }
        Ok(None)
    }

    /// The keys of a path with its handles: both ends of each eased move, or else as few as straight lines need.
    fn keys(
        &self,
        request: &Request,
        range: UsedRange,
        path: &Path<'_>,
        windows: &[Window],
    ) -> Reduced {
        let rasters = (self.clip().facts.raster, self.deliverable.raster);
        let place = |frame: &FrameIndex| place_after(range.with_handles.first(), *frame);
        let fixed: Vec<usize> = match request.roll {
            // Each picture is turned by an angle of its own, which no line between two keys tells.
            Roll::EachFrame(_) => (0..windows.len()).collect(),
            Roll::None | Roll::Fixed(_) => path.keys.iter().filter_map(place).collect(),
        };
        let pace = self.pace(range.with_handles);
        let greatest_error_px = self.limits.number(Limit::KeyError);
        let bound = (rasters, greatest_error_px);
        let in_places = |(moves, ease): &(Vec<(FrameIndex, FrameIndex)>, Ease)| {
            let places = moves.iter().filter_map(|(first, last)| place(first).zip(place(last)));
            keys_of_moves(windows, &pace, (&places.collect::<Vec<_>>(), *ease), &fixed, bound)
        };
        path.moves
            .as_ref()
            .and_then(in_places)
            .unwrap_or_else(|| reduce(windows, &pace, &fixed, rasters, greatest_error_px))
    }

    pub(super) fn planned(
        &self,
        request: &Request,
        range: UsedRange,
        planned: &Planned,
    ) -> PlannedSegment {
        let path = Path {
            way: planned.way,
            why: why_words(&planned.reason, range.used) + &wider_words(request, planned),
            assessment: Some(&planned.assessment),
            visits: &planned.visits,
            peak: planned.peak,
            travel: planned.travel,
            objective: planned.objective,
            may_cost_more: planned.may_cost_more,
            sides: &planned.sides,
            windows: &planned.windows,
            keys: request.pins.iter().map(|pin| range.used.frame_at(pin.index)).collect(),
            asked: asked_of(request, planned),
            moves: moves_in(request, planned, range.used),
        };
        let frame = |index: usize| range.used.frame_at(index);
        let moves = planned.moves.iter().flat_map(Moves::moves);
        PlannedSegment {
            moves: moves.map(|one| [frame(one.first), frame(one.last)]).collect(),
            moves_broken_off: planned.moves_broken_off,
            ..self.segment(request, range, path)
        }
    }

    /// What a plan says of a path, however it came about.
    pub(super) fn segment(
        &self,
        request: &Request,
        range: UsedRange,
        path: Path<'_>,
    ) -> PlannedSegment {
        let (clip, used) = (self.clip(), range.used);
        let windows = with_handles(path.windows, range);
        let reduced = self.keys(request, range, &path, &windows);
        let tracks = self.tracks;
        let secs_per_width = path.peak.secs_per_width();
        let caution = request.rules.pan_caution;
        let short_frames = path.assessment.map_or(&[][..], |known| &known.short_frames);
        PlannedSegment {
            way: path.way,
            verdict: path.assessment.map(|known| known.verdict),
            why: path.why,
            share_inside: path.assessment.map(|known| known.share_inside),
            short_frames: short_frames.iter().map(|s| short_at(s, used)).collect(),
            visits: path.visits.iter().map(|visit| VisitAt::of(visit, used)).collect(),
            clauses: self.clause_notes(request, used, path.windows),
            starts: starts_beside(request, path.sides, path.windows),
            smear: self.smear_note(request, used, path.windows),
            lead: self.lead_note(request, range, path.windows),
            turns: self.turns(request, used, path.windows),
            travel: path.travel,
            peak: PeakAt {
                frame: used.frame_at(path.peak.index),
                widths_per_sec: path.peak.widths_per_sec,
                secs_per_width,
            },
            pan_caution: secs_per_width.zip(caution).is_some_and(|(secs, limit)| secs < limit),
            softest: self.softest(path.windows),
            shape_error: shape_error(self.deliverable, path.windows),
            sides: path.sides.to_vec(),
            asked: path.asked,
            objective: path.objective,
            may_cost_more: path.may_cost_more,
            moves_broken_off: false,
            moves: Vec::new(),
            telling: telling(request, used, path.windows),
            keys: reduced.keys.iter().map(|key| range.with_handles.frame_at(*key)).collect(),
            to_next: reduced.to_next,
            key_error_px: reduced.worst_error_px,
            tracked: range
                .with_handles
                .frames()
                .map(|frame| requests::is_tracked(tracks, frame))
                .collect(),
            pinned: request.pins.iter().map(|pin| used.frame_at(pin.index)).collect(),
            source_seconds: clip.facts.timing.times().map(|times| {
                range.with_handles.frames().map(|frame| times.seconds_at(frame)).collect()
            }),
            rotation_degrees: rotation_degrees(&request.roll, range, range.with_handles),
            steady: None,
            copied: None,
            windows,
        }
    }

    fn refused(
        &self,
        request: &Request,
        range: UsedRange,
        refusal: Refusal,
        blamed: Option<Blamed>,
    ) -> RefusedSegment {
        let used = range.used;
        let limit = self.enlargement_limit();
        let lens = self.prepared.resolved.lens.as_ref();
        let asked = self.asked(used);
        let pinned = |index| self.conflicting(request, range, HardLimit::Pin { index });
        let cause_words = match (&refusal.cause, &blamed) {
            (Cause::Clause { clause, failing }, _) => {
                let bound = (self.deliverable, &limit);
                asked.get(*clause).map(|asked| clause_refusal_words(asked, failing, bound, used))
            }
            (_, Some(blamed)) => Some(blamed.cause_words()),
            (cause, None) => pin_refusal_words(cause, (used, &limit), pinned),
        };
        let is_theirs = |remedy: &Remedy| blamed.is_none() || !Blamed::misleads(remedy);
        let own = refusal.remedies.into_iter().filter(is_theirs).map(|remedy| RemedyNote {
            words: clause_remedy_words(&remedy, &asked)
                .or_else(|| pin_remedy_words(&remedy, pinned))
                .unwrap_or_else(|| remedy_words(&remedy, self.deliverable, &limit, used, lens)),
            remedy: Some(remedy),
        });
        let first = blamed.iter().map(|b| RemedyNote { remedy: None, words: b.remedy_words() });
        RefusedSegment {
            cause: refusal.cause,
            words: cause_words
                .unwrap_or_else(|| refusal_words(&refusal.cause, self.deliverable, &limit)),
            blamed: blamed.iter().flat_map(Blamed::names).collect(),
            first: short_at(&refusal.first, used),
            worst: short_at(&refusal.worst, used),
            share_inside: refusal.share_inside,
            clauses: self.clause_notes(request, used, &refusal.attempt),
            starts: starts_beside(request, &refusal.sides, &refusal.attempt),
            remedies: first.chain(own).collect(),
            telling: telling(request, used, &refusal.attempt),
            attempt: refusal.attempt,
            rotation_degrees: rotation_degrees(&request.roll, range, used),
        }
    }

    pub(super) fn enlargement_limit(&self) -> EnlargementLimit {
        EnlargementLimit {
            greatest: self.limits.number(Limit::GreatestEnlargement),
            recording: recording_of(self.clip()),
        }
    }

    /// The softness of the softest window: by what was measured, else the smallest; of equally soft ones, that of the
    /// strictest band.
    fn softest(&self, windows: &[Window]) -> Softness {
        let (clip, delivered) = (self.clip(), self.deliverable.raster);
        let sharpness = self.prepared.resolved.sharpness.clone();
        let recording = Recording { sharpness, ..recording_of(clip) };
        let of = |window: &Window| {
            Softness::of(window, clip.facts.raster, delivered, &recording, self.limits)
        };
        let softer = |a: Softness, b: Softness| {
            let is_softer = b.soft_as() > a.soft_as() + 1e-9
                || (b.soft_as() > a.soft_as() - 1e-9 && b.band > a.band);
            if is_softer { b } else { a }
        };
        windows.iter().skip(1).map(of).fold(of(&windows[0]), softer)
    }
}

/// A path over the used frames, and what is known of it.
pub(super) struct Path<'p> {
    pub(super) way: Way,
    pub(super) why: String,
    /// None where nothing says where the subject is.
    pub(super) assessment: Option<&'p Assessment>,
    pub(super) visits: &'p [Visit],
    pub(super) peak: Peak,
    pub(super) travel: Option<Travel>,
    pub(super) asked: Asked,
    pub(super) objective: Objective,
    pub(super) may_cost_more: Option<f64>,
    pub(super) sides: &'p [Side],
    /// One window a used frame.
    pub(super) windows: &'p [Window],
    /// Frames that are keys in any case.
    pub(super) keys: Vec<FrameIndex>,
    /// The first and the last frame of each eased move, and the ease, where it is holds joined by such.
    pub(super) moves: Option<(Vec<(FrameIndex, FrameIndex)>, Ease)>,
}

/// Things kept in or out that stand in the way of a shape.
pub(super) struct Blamed {
    left_out: Vec<Track>,
    /// What the plan would be without them.
    verdict: Verdict,
}

impl Blamed {
    fn names(&self) -> Vec<String> {
        let kind = |track: &Track| match track.wish() {
            Wish::KeepOut => "keep-out",
            Wish::KeepIn | Wish::Subject => "keep-in",
        };
        self.left_out.iter().map(|track| format!("{} {}", kind(track), track.name())).collect()
    }

    fn cause_words(&self) -> String {
        format!("the subject and the {} cannot both be had", self.names().join(" and the "))
    }

    pub(super) fn remedy_words(&self) -> String {
        let then = if self.verdict == Verdict::Fits { "fits" } else { "is tight" };
        format!(
            "without the {} it {then}: leave its mark out, or make it smaller",
            self.names().join(" and the ")
        )
    }

    /// Whether a remedy speaks of the subject and the picture's edge, which are not to blame here.
    const fn misleads(remedy: &Remedy) -> bool {
        match remedy {
            Remedy::ShiftSubject { .. }
            | Remedy::SmallerSubject { .. }
            | Remedy::WiderShape { .. }
            | Remedy::TallerShape { .. } => true,
            Remedy::SmallerMargin { .. }
            | Remedy::FewerFrames { .. }
            | Remedy::WiderWindow { .. }
            | Remedy::Shots { .. }
            | Remedy::AcceptSmear { .. }
            | Remedy::ShorterExposure { .. }
            | Remedy::AcceptWidth { .. }
            | Remedy::FasterPan { .. }
            | Remedy::ShorterClause { .. }
            | Remedy::DropClause { .. }
            | Remedy::DropPin { .. }
            | Remedy::MovePin { .. }
            | Remedy::DropAllPins { .. } => false,
        }
    }
}

/// What a request asked of the path that was planned by it.
pub(super) fn asked_of(request: &Request, planned: &Planned) -> Asked {
    let rules = &request.rules;
    let mut weights = CostWeights::without_moves(planned.weights(rules));
    if planned.way == Way::Moves {
        (weights.each_move, weights.moving) = (rules.moves.cost, rules.moves.cost_per_sec);
    }
    Asked::of(request, planned, weights)
}

/// What is added where a window is held wider than it was wanted, so that it can stand still.
fn wider_words(request: &Request, planned: &Planned) -> String {
    const WORTH_TELLING: f64 = 1.02;
    let (width, greatest) = (planned.windows[0].width(), request.greatest_width());
    if planned.way != Way::Hold || width <= WORTH_TELLING * request.preferred_width {
        return String::new();
    }
    format!(
        ", at {:.0} % of the largest width and not the preferred {:.0} %",
        100.0 * width / greatest,
        100.0 * request.preferred_width / greatest
    )
}

/// The moves of a path whose keys they are, as places behind so many frames of a handle: not of one that rides on
/// something or is turned anew at each frame.
fn moves_in(
    request: &Request,
    planned: &Planned,
    used: FrameRange,
) -> Option<(Vec<(FrameIndex, FrameIndex)>, Ease)> {
    let is_plain = request.ride.is_empty() && !matches!(request.roll, Roll::EachFrame(_));
    let plan = planned.moves.as_ref().filter(|_| is_plain)?;
    let ends = plan.moves().map(|one| (used.frame_at(one.first), used.frame_at(one.last)));
    Some((ends.collect(), plan.ease))
}

/// Where a still window may start in the size of these windows, where something is kept out or a clause holds; `None` for
/// windows that move, or of which nothing is known.
fn starts_beside(
    request: &Request,
    sides: &[Side],
    windows: &[Window],
) -> Option<[StillStarts; 2]> {
    let first = windows.first()?;
    let is_still = windows.iter().all(|window| window == first);
    let has_others = !request.keep_outs.is_empty() || !request.clauses.is_empty();
    // Without a side for each, nothing is known of the keep-outs.
    let is_known = sides.len() == request.keep_outs.len();
    if !(is_still && has_others && is_known) {
        return None;
    }
    pan::still_starts(request, sides, first.width())
}

/// A path with the first and last window held through the handles.
fn with_handles(windows: &[Window], range: UsedRange) -> Vec<Window> {
    let last = windows.len() - 1;
    range
        .with_handles
        .frames()
        .map(|frame| {
            let place = frame.0.saturating_sub(range.used.first().0);
            windows[usize::try_from(place).unwrap_or(last).min(last)]
        })
        .collect()
}

/// The largest error of the windows' shape, with its sign.
fn shape_error(deliverable: &Deliverable, windows: &[Window]) -> f64 {
    let error = |window: &Window| deliverable.shape().error_of(window.width(), window.height());
    let largest =
        windows.iter().map(error).fold(0.0, |a: f64, b: f64| if b.abs() > a.abs() { b } else { a });
    // What a division leaves is no error of the shape.
    if largest.abs() < 1e-9 { 0.0 } else { largest }
}

pub(super) fn short_at(short: &ShortFrame, range: FrameRange) -> ShortAt {
    ShortAt { frame: range.frame_at(short.index), missing_px: short.missing_px, axis: short.axis }
}

/// The frames worth looking at: first, worst, widest, last.
pub(super) fn telling(request: &Request, used: FrameRange, windows: &[Window]) -> TellingFrames {
    let frame = |index: usize| used.frame_at(index);
    TellingFrames {
        start: used.first(),
        worst: most(request, windows, tightness).map_or(used.first(), frame),
        widest: most(request, windows, share_of_window).map_or(used.first(), frame),
        end: used.last(),
    }
}

/// The first frame with boxes at which a measure is largest.
fn most(
    request: &Request,
    windows: &[Window],
    measure: fn(&Request, &Window, usize) -> f64,
) -> Option<usize> {
    (0..windows.len())
        .filter(|index| !request.frames[*index].boxes.is_empty())
        .map(|index| (index, measure(request, &windows[index], index)))
        .fold(None, |most: Option<(usize, f64)>, next| match most {
            Some(most) if most.1 >= next.1 - 1e-9 => Some(most),
            _ => Some(next),
        })
        .map(|(index, _)| index)
}

/// How near a frame's boxes come to the edge of what they should stay in, in px: above 0 they are over it.
fn tightness(request: &Request, window: &Window, index: usize) -> f64 {
    let insets = request.insets();
    let (width, height) = (window.width(), window.height());
    request.frames[index]
        .boxes
        .iter()
        .map(|wished| {
            let (across, down) = missing_px(&wished.region, window, &insets);
            if across > 0.0 || down > 0.0 {
                return across.max(down);
            }
            let region = &wished.region;
            let sides = [
                window.left() + insets.left * width - region.left(),
                region.right() - window.right() + insets.right * width,
                window.top() + insets.top * height - region.top(),
                region.bottom() - window.bottom() + insets.bottom * height,
            ];
            sides.into_iter().fold(f64::NEG_INFINITY, f64::max)
        })
        .fold(f64::NEG_INFINITY, f64::max)
}

/// The largest share of the window, across or down, that a box takes.
fn share_of_window(request: &Request, window: &Window, index: usize) -> f64 {
    request.frames[index]
        .boxes
        .iter()
        .map(|wished| {
            (wished.region.width() / window.width()).max(wished.region.height() / window.height())
        })
        .fold(0.0, f64::max)
}

/// The window of a planned or refused segment at a used frame.
pub(super) fn window_at(segment: &Segment, frame: FrameIndex) -> Option<Window> {
    match &segment.outcome {
        SegmentOutcome::Planned(planned) => {
            planned.windows.get(place_after(segment.with_handles.first(), frame)?).copied()
        }
        SegmentOutcome::DoesNotFit(refused) => {
            refused.attempt.get(place_after(segment.used.first(), frame)?).copied()
        }
        SegmentOutcome::NotCopied(refused) => {
            refused.attempt.get(place_after(segment.used.first(), frame)?).copied()
        }
        SegmentOutcome::NoPath { .. } | SegmentOutcome::NotComputed { .. } => None,
    }
}

/// By how many degrees the picture of a planned or refused segment is turned at a used frame.
pub(super) fn rotation_at(segment: &Segment, frame: FrameIndex) -> f64 {
    let (degrees, first) = match &segment.outcome {
        SegmentOutcome::Planned(planned) => {
            (&planned.rotation_degrees, segment.with_handles.first())
        }
        SegmentOutcome::DoesNotFit(refused) => (&refused.rotation_degrees, segment.used.first()),
        SegmentOutcome::NotCopied(_)
        | SegmentOutcome::NoPath { .. }
        | SegmentOutcome::NotComputed { .. } => return 0.0,
    };
    place_after(first, frame).and_then(|place| degrees.get(place)).copied().unwrap_or(0.0)
}

fn place_after(first: FrameIndex, frame: FrameIndex) -> Option<usize> {
    frame.0.checked_sub(first.0).and_then(|place| usize::try_from(place).ok())
}
