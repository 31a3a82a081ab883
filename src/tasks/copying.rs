//! One used range of a clip that takes its path from another: the other's windows in their places here, held
//! against this clip's own limits and marks.

use super::{
    TaskError,
    decide::{Case, Path, short_at, telling},
};
use crate::{
    clip::{CopiedWindow, PathCopy, UsedRange},
    delivery::Limit,
    geometry::Window,
    keyframe::ToNext,
    pan::{Assessment, Ease, Objective, Peak, Request, Verdict, Way, peak_speed, visits},
    plan::{
        Asked, CopiedFrom, CopiedPath, CostWeights, CutReason, Entry, Hurdle, MovedBack, NotCopied,
        PlannedCut, PlannedSegment, Segment, SegmentOutcome, px, recording_of,
    },
    subject::{Track, Wish},
    timecode::{FrameIndex, FrameRange},
};

/// What sums of fractions lose of a width.
const WIDTH_NOISE_PX: f64 = 1e-6;

/// How the other clip's entry for the deliverable is taken over.
#[derive(Clone, Copy)]
pub(super) struct Source<'s> {
    pub(super) copy: &'s PathCopy,
    pub(super) entry: &'s Entry,
}

/// Windows over the used frames, and whence each came.
struct Copied {
    windows: Vec<Window>,
    path: CopiedPath,
    way: Way,
    /// The frames at which the other path has keys.
    keys: Vec<FrameIndex>,
    /// Its eased moves.
    moves: Option<(Vec<(FrameIndex, FrameIndex)>, Ease)>,
}

/// What stands in the way, where, and how the windows would be.
struct Obstacle {
    because: Hurdle,
    fact: String,
    assessment: Option<Assessment>,
    windows: Vec<Window>,
}

impl Case<'_> {
    /// Takes a used range's path from another clip, its segments numbered from `number` on: as many as that clip has
    /// there, with a planned cut where it has one.
    ///
    /// # Errors
    /// [`TaskError`] if what is asked of the windows cannot be told.
    pub(super) fn copied(
        &self,
        number: usize,
        range: UsedRange,
        source: Source<'_>,
    ) -> Result<Vec<Segment>, TaskError> {
        let mut segments: Vec<Segment> = Vec::new();
        for (its, part) in parts(range, source) {
            let tracks = kept_tracks(self.tracks, its);
            let case = Case { tracks: &tracks, ..*self };
            let outcome = case.copied_part(part, (source, its))?;
            let mut segment = Segment::new(number + segments.len(), part, outcome);
            segment.cut = segments.last().and_then(|before| case.copied_cut(before, &segment, its));
            segment.kept_alone.clone_from(&its.kept_alone);
            segments.push(segment);
        }
        Ok(segments)
    }

    /// The other clip's planned cut in its place here.
    fn copied_cut(&self, before: &Segment, after: &Segment, its: &Segment) -> Option<PlannedCut> {
        let reason = its.cut.as_ref()?.reason.clone();
        let window_before = *before.planned()?.windows.last()?;
        Some(PlannedCut {
            frame: after.used.first(),
            before: window_before,
            after: *after.planned()?.windows.first()?,
            reason,
            least_punch_in: self.limits.number(Limit::PunchIn),
            whip_frames: self.whip_frames(after, window_before),
        })
    }

    fn copied_part(
        &self,
        part: UsedRange,
        (source, its): (Source<'_>, &Segment),
    ) -> Result<SegmentOutcome, TaskError> {
        let request = self.request(part)?;
        let copied = windows(part, (source, its), &request);
        Ok(match copied.and_then(|copied| self.assessed(&request, part, (source, its), copied)) {
            Ok(planned) => SegmentOutcome::Planned(Box::new(planned)),
            Err(obstacle) => {
                SegmentOutcome::NotCopied(Box::new(not_copied(&request, part, obstacle)))
            }
        })
    }

    /// The path with this clip's own limits and marks held against it.
    fn assessed(
        &self,
        request: &Request,
        range: UsedRange,
        (source, its): (Source<'_>, &Segment),
        copied: Copied,
    ) -> Result<PlannedSegment, Obstacle> {
        let assessment = Assessment::of(request, &copied.windows);
        let known = Some(&assessment).filter(|known| known.frames_with_boxes > 0);
        // Where the other clip lets its subject go, this one may.
        let may_let_go = its.planned().is_some_and(|planned| !planned.visits.is_empty());
        let is_short = known.is_some_and(|known| known.verdict == Verdict::DoesNotFit);
        let visits =
            if may_let_go && is_short { visits(request, &copied.windows) } else { Vec::new() };
        let peak = peak_speed(&copied.windows, &request.pace, &request.ride);
        let hurdle = self
            .too_soft(request, &copied.windows)
            .or_else(|| self.too_wide(request, &copied.windows))
            .or_else(|| too_fast(request, range, peak))
            .or_else(|| self.kept_out(range, &copied.windows))
            .or_else(|| self.clause_broken(request, range, &copied.windows))
            .or_else(|| {
                known.filter(|_| visits.is_empty()).and_then(|known| subject_lost(known, range))
            });
        if let Some((because, fact)) = hurdle {
            let assessment = known.cloned();
            return Err(Obstacle { because, fact, assessment, windows: copied.windows });
        }
        let path = Path {
            way: copied.way,
            why: CopiedFrom::of(source.copy).words(),
            assessment: known,
            visits: &visits,
            peak,
            asked: Asked::of_any(request, CostWeights::without_moves(request.rules.weights)),
            objective: Objective::of(request, &copied.windows),
            travel: None,
            may_cost_more: None,
            sides: &[],
            windows: &copied.windows,
            keys: copied.keys,
            moves: copied.moves,
        };
        let planned = self.segment(request, range, path);
        Ok(PlannedSegment { copied: Some(copied.path), ..planned })
    }

    fn too_soft(&self, request: &Request, windows: &[Window]) -> Option<(Hurdle, String)> {
        let width = windows.iter().map(Window::width).fold(f64::INFINITY, f64::min);
        (width < request.least_width - WIDTH_NOISE_PX).then(|| {
            let enlargement =
                recording_of(self.clip()).enlargement(self.deliverable.raster.width(), width);
            let greatest = self.limits.number(Limit::GreatestEnlargement);
            let fact = format!(
                "a window {} px wide makes enlargement {enlargement:.3} here, and the greatest is {greatest}",
                px(width)
            );
            (Hurdle::TooSoft, fact)
        })
    }

    fn too_wide(&self, request: &Request, windows: &[Window]) -> Option<(Hurdle, String)> {
        let width = windows.iter().map(Window::width).fold(0.0, f64::max);
        (width > request.most_width + WIDTH_NOISE_PX).then(|| {
            let share = self.limits.number(Limit::GreatestWidth);
            let most = px(request.most_width);
            let fact = format!(
                "a window is {} px wide, and the greatest width is {most} px (greatest_width {share})",
                px(width)
            );
            (Hurdle::TooWide, fact)
        })
    }

    fn clause_broken(
        &self,
        request: &Request,
        range: UsedRange,
        windows: &[Window],
    ) -> Option<(Hurdle, String)> {
        let notes = self.clause_notes(request, range.used, windows);
        let broken = notes.into_iter().find(|note| !note.is_kept)?;
        Some((Hurdle::ClauseBroken, format!("the client's clause is not kept: {}", broken.words)))
    }

    fn kept_out(&self, range: UsedRange, windows: &[Window]) -> Option<(Hurdle, String)> {
        let overlaps = range.used.frames().zip(windows).flat_map(|(frame, window)| {
            let kept_out = self.tracks.iter().filter(|track| track.wish() == Wish::KeepOut);
            kept_out.filter_map(move |track| {
                let region = track.at(frame)?.region;
                let across = region.right().min(window.right()) - region.left().max(window.left());
                let down = region.bottom().min(window.bottom()) - region.top().max(window.top());
                Some((across.min(down), track.name(), frame))
            })
        });
        let worst =
            overlaps.fold(None, |worst: Option<(f64, &str, FrameIndex)>, next| match worst {
                Some(worst) if worst.0 >= next.0 => Some(worst),
                _ => Some(next),
            });
        let (overlap, name, frame) = worst.filter(|worst| worst.0 > NOISE_PX)?;
        let fact = format!(
            "`{name}` is to be kept out, and the window takes in {} px of it at frame {frame}",
            px(overlap)
        );
        Some((Hurdle::KeptOut, fact))
    }
}

/// The segments of the other clip that lie under a used range, in order, and the part of the range that takes its path
/// from each. What is left before the first and after the last is theirs too.
fn parts<'s>(range: UsedRange, source: Source<'s>) -> Vec<(&'s Segment, UsedRange)> {
    let Source { copy, entry } = source;
    let its: Vec<&Segment> =
        entry.segments.iter().filter(|its| copy.lies_over(range.used, its.used)).collect();
    let (mut first, mut handle) = (range.used.first(), range.with_handles.first());
    let mut parts = Vec::new();
    for (place, segment) in its.iter().enumerate() {
        let (end, handle_end) =
            match its.get(place + 1).map(|next| copy.this_frame(next.used.first())) {
                Some(Some(end)) => (end, end),
                _ => (range.used.end(), range.with_handles.end()),
            };
        let (used, with_handles) =
            (FrameRange::new(first, end), FrameRange::new(handle, handle_end));
        if let (Ok(used), Ok(with_handles)) = (used, with_handles) {
            parts.push((*segment, UsedRange { used, with_handles }));
        }
        (first, handle) = (end, end);
    }
    parts
}

/// The tracks but for the subjects that the other clip no longer keeps.
fn kept_tracks(tracks: &[Track], its: &Segment) -> Vec<Track> {
    let left_out = match (its.cut.as_ref().map(|cut| &cut.reason), &its.kept_alone) {
        (Some(CutReason::NoRoomForAll { left_out, .. }), _) => left_out.as_slice(),
        (_, Some(alone)) => alone.left_out.as_slice(),
        (Some(CutReason::TwoHolds) | None, None) => &[],
    };
    tracks.iter().filter(|track| !left_out.iter().any(|out| out == track.name())).cloned().collect()
}

/// The other clip's windows in their places here.
fn windows(
    range: UsedRange,
    (Source { copy, entry }, its): (Source<'_>, &Segment),
    request: &Request,
) -> Result<Copied, Obstacle> {
    let bare = |because, fact| Obstacle { because, fact, assessment: None, windows: Vec::new() };
    let Some(planned) = its.planned() else {
        let fact = format!("{} has no path in this shape: {}", copy.from, entry.because);
        return Err(bare(Hurdle::NoPathThere, fact));
    };
    let (mut windows, mut moved) = (Vec::new(), Vec::new());
    let (mut held_before, mut held_after) = (0, 0);
    for frame in range.used.frames() {
        let there = copy.its_frame(frame).filter(|there| *there >= its.used.first());
        held_before += u64::from(there.is_none());
        held_after += u64::from(there.is_some_and(|there| there > its.used.last()));
        let there = there.unwrap_or(its.used.first()).min(its.used.last());
        let window = its_window(its, planned, there);
        let placed = window.and_then(|w| copy.window(&w, request.raster, &request.usable));
        let Some(CopiedWindow { window, moved_back_px }) = placed else {
            return Err(bare(Hurdle::NoRoom, no_room_words(window, request)));
        };
        windows.push(window);
        if moved_back_px != (0.0, 0.0) {
            moved.push((frame, moved_back_px));
        }
    }
    let path =
        CopiedPath { its_segment: its.number, held_before, held_after, moved_back: most(&moved) };
    let is_still = windows.windows(2).all(|pair| pair[0] == pair[1]);
    let way = if is_still { Way::Hold } else { planned.way };
    let keys = planned.keys.iter().filter_map(|key| copy.this_frame(*key)).collect();
    Ok(Copied { windows, path, way, keys, moves: moves(planned, copy) })
}

/// The eased moves of another path, each from the key that it begins with to the next.
fn moves(
    planned: &PlannedSegment,
    copy: &PathCopy,
) -> Option<(Vec<(FrameIndex, FrameIndex)>, Ease)> {
    let eased = planned.keys.windows(2).zip(&planned.to_next).filter_map(|(pair, to_next)| {
        let ToNext::Eased(ease) = to_next else { return None };
        Some(((copy.this_frame(pair[0])?, copy.this_frame(pair[1])?), *ease))
    });
    let (moves, eases): (Vec<_>, Vec<_>) = eased.unzip();
    eases.first().map(|ease| (moves, *ease))
}

/// As far as what a solver leaves of rounding is no overlap.
const NOISE_PX: f64 = 0.01;

/// The window of a planned segment at one of its used frames.
fn its_window(its: &Segment, planned: &PlannedSegment, frame: FrameIndex) -> Option<Window> {
    let place = frame.0.checked_sub(its.with_handles.first().0)?;
    planned.windows.get(usize::try_from(place).ok()?).copied()
}

fn no_room_words(window: Option<Window>, request: &Request) -> String {
    let (width, height) = window.map_or((0.0, 0.0), |w| (w.width(), w.height()));
    format!(
        "a window of {} x {} px is larger than the {} x {} px that may be used here",
        px(width),
        px(height),
        px(request.usable.width()),
        px(request.usable.height())
    )
}

/// Where windows were moved back by the most, and on how many frames they were.
fn most(moved: &[(FrameIndex, (f64, f64))]) -> Option<MovedBack> {
    let frame_count = moved.len();
    let backs = moved.iter().map(|(frame, (right_px, down_px))| MovedBack {
        frame_count,
        frame: *frame,
        right_px: *right_px,
        down_px: *down_px,
    });
    backs.reduce(|most, next| if next.greatest_px() > most.greatest_px() { next } else { most })
}

fn too_fast(request: &Request, range: UsedRange, peak: Peak) -> Option<(Hurdle, String)> {
    let (limit, secs) = (request.rules.pan_hard?, peak.secs_per_width()?);
    // What the planner itself leaves of rounding is no pan that is too fast.
    const NOISE: f64 = 1e-4;
    (secs < limit * (1.0 - NOISE)).then(|| {
        let fact = format!(
            "it moves one width in {secs:.2} s of this clip's timeline at frame {}, and pan_hard is {limit} s",
            range.used.frame_at(peak.index)
        );
        (Hurdle::TooFast, fact)
    })
}

fn subject_lost(known: &Assessment, range: UsedRange) -> Option<(Hurdle, String)> {
    let worst = known.worst().filter(|_| known.verdict == Verdict::DoesNotFit)?;
    let fact = format!(
        "the subject that is marked here is inside on {:.1} % of its frames and lacks {} px at frame {}",
        100.0 * known.share_inside,
        px(worst.missing_px),
        range.used.frame_at(worst.index)
    );
    Some((Hurdle::SubjectLost, fact))
}

fn not_copied(request: &Request, range: UsedRange, obstacle: Obstacle) -> NotCopied {
    let remedy = match obstacle.because {
        Hurdle::NoPathThere => "mend that clip, or plan this one by itself",
        Hurdle::SubjectLost | Hurdle::KeptOut | Hurdle::ClauseBroken => {
            "correct the frames and px of the copy, or plan this clip by itself"
        }
        Hurdle::NoRoom | Hurdle::TooSoft | Hurdle::TooWide | Hurdle::TooFast => {
            "plan this clip by itself, or change the limit"
        }
    };
    let worst = obstacle.assessment.as_ref().and_then(Assessment::worst);
    NotCopied {
        because: obstacle.because,
        words: format!("{}; {remedy}", obstacle.fact),
        worst: worst.map(|worst| short_at(&worst, range.used)),
        telling: telling(request, range.used, &obstacle.windows),
        attempt: obstacle.windows,
    }
}
