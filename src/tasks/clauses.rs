//! A client's conditions: what the planner is asked of them, and what a plan says of them.

use super::decide::Case;
use crate::{
    delivery::{Deliverable, Limit, Limits},
    geometry::Window,
    pan::{Clause, Insets, Request},
    plan::{ClauseAsked, ClauseNote},
    shoot::{ResolvedClip, WrittenClause},
    subject::{Track, Wish},
    timecode::FrameRange,
};

/// The conditions that hold for a deliverable and used frames, on some of which the thing is seen: those of the request,
/// in its order.
pub(super) fn clauses_in<'r>(
    (resolved, tracks): (&'r ResolvedClip, &[Track]),
    deliverable: &Deliverable,
    used: FrameRange,
) -> Vec<&'r WrittenClause> {
    let is_seen = |clause: &WrittenClause| {
        let of_it = |track: &&Track| is_on(clause, track);
        let is_at = |frame| tracks.iter().filter(of_it).any(|track| track.at(frame).is_some());
        used.frames().any(is_at)
    };
    let holds = |clause: &&WrittenClause| clause.is_for(&deliverable.name) && is_seen(clause);
    resolved.clauses.iter().filter(holds).collect()
}

/// Whether a clause is on what a track is of.
pub(super) fn is_on(clause: &WrittenClause, track: &Track) -> bool {
    track.wish() == Wish::KeepIn && track.name() == clause.keep_in
}

/// What the planner is asked of them: clear of the edges and of what is blocked there.
pub(super) fn clauses(
    held: &[&WrittenClause],
    tracks: &[Track],
    deliverable: &Deliverable,
    (limits, used): (&Limits, FrameRange),
) -> Vec<Clause> {
    let clause = |written: &&WrittenClause| {
        let of_it = tracks.iter().find(|track| is_on(written, track));
        let region = |frame| of_it?.at(frame).map(|sighting| sighting.region);
        Clause {
            regions: used.frames().map(region).collect(),
            clear: clear(written, deliverable, limits),
            least_share: written.least_px.map(|px| px / deliverable.raster.width()),
            least_secs: written.least_secs,
        }
    };
    held.iter().map(clause).collect()
}

/// How far a clause's thing stays from the edges, shares of the window's width and height.
fn margins(written: &WrittenClause, limits: &Limits) -> [f64; 2] {
    let of_limits = [Limit::MarginAcross, Limit::MarginDown].map(|limit| limits.number(limit));
    written.margin.map_or(of_limits, |margin| [margin; 2])
}

/// What a clause's thing stays clear of: its margins and what is blocked there, together.
fn clear(written: &WrittenClause, deliverable: &Deliverable, limits: &Limits) -> Insets {
    let ([across, down], blocked) = (margins(written, limits), &deliverable.blocked);
    Insets {
        left: blocked.left + across,
        top: blocked.top + down,
        right: blocked.right + across,
        bottom: blocked.bottom + down,
    }
}

impl Case<'_> {
    /// What the client asks over used frames, in the order of the request's clauses.
    pub(super) fn asked(&self, used: FrameRange) -> Vec<ClauseAsked> {
        let resolved = (&self.prepared.resolved, self.tracks);
        let asked = |written: &WrittenClause| {
            let clear = clear(written, self.deliverable, self.limits);
            ClauseAsked {
                keep_in: written.keep_in.clone(),
                least_secs: written.least_secs,
                least_px: written.least_px,
                margin: margins(written, self.limits),
                insets: [clear.left, clear.top, clear.right, clear.bottom],
                line: written.line,
            }
        };
        clauses_in(resolved, self.deliverable, used).into_iter().map(asked).collect()
    }

    /// What windows over the used frames make of each clause.
    pub(super) fn clause_notes(
        &self,
        request: &Request,
        used: FrameRange,
        windows: &[Window],
    ) -> Vec<ClauseNote> {
        let asked = self.asked(used).into_iter().zip(&request.clauses);
        let note = |(asked, clause): (ClauseAsked, &Clause)| {
            let kept = clause.kept(&request.pace, windows);
            ClauseNote::of(asked, &kept, self.deliverable, used)
        };
        asked.map(note).collect()
    }

    /// Whether a clause is on what a track is of, in this deliverable.
    pub(super) fn has_clause_on(&self, track: &Track) -> bool {
        let clauses = self.prepared.resolved.clauses.iter();
        let mut held = clauses.filter(|clause| clause.is_for(&self.deliverable.name));
        held.any(|clause| is_on(clause, track))
    }
}
