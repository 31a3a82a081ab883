//! Why there is no path: which limits contradict each other, with names, frames and lines, and what was tried.

use super::{TaskError, decide::Case};
use crate::{
    clip::UsedRange,
    pan::{HardLimit, Remedy, Request, conflict_facts},
    plan::{
        ConflictLimit, ConflictNote, ConflictValue, RemedyNote, clause_remedy_words,
        pin_remedy_words, remedy_words,
    },
    subject::{Track, Wish},
};

impl Case<'_> {
    /// What a plan says of limits that contradict each other.
    ///
    /// # Errors
    /// [`TaskError::Pan`], as when planning.
    pub(super) fn contradicted(
        &self,
        request: &Request,
        range: UsedRange,
        conflict: &[HardLimit],
    ) -> Result<ConflictNote, TaskError> {
        let facts = conflict_facts(request, conflict).map_err(|source| self.pan_error(source))?;
        let named = |limit: &HardLimit| {
            let value = self.conflicting(request, range, *limit)?;
            let words = value.words(&self.enlargement_limit());
            Some(ConflictLimit { limit: *limit, value, words })
        };
        let mut remedies: Vec<RemedyNote> =
            facts.remedies.into_iter().map(|remedy| self.tried(request, range, remedy)).collect();
        if let Some(blamed) = self.blamed(range)? {
            remedies.push(RemedyNote { remedy: None, words: blamed.remedy_words() });
        }
        Ok(ConflictNote {
            limits: conflict.iter().filter_map(named).collect(),
            missing: facts.missing,
            remedies,
        })
    }

    fn tried(&self, request: &Request, range: UsedRange, remedy: Remedy) -> RemedyNote {
        let pinned = |index| self.conflicting(request, range, HardLimit::Pin { index });
        let of_clause = clause_remedy_words(&remedy, &self.asked(range.used));
        let words = of_clause.or_else(|| pin_remedy_words(&remedy, pinned)).unwrap_or_else(|| {
            let (limit, lens) = (self.enlargement_limit(), self.prepared.resolved.lens.as_ref());
            remedy_words(&remedy, self.deliverable, &limit, range.used, lens)
        });
        RemedyNote { remedy: Some(remedy), words }
    }

    /// A limit's value and where it is; `None` only for one that the request does not have.
    pub(super) fn conflicting(
        &self,
        request: &Request,
        range: UsedRange,
        limit: HardLimit,
    ) -> Option<ConflictValue> {
        match limit {
            HardLimit::PanLimit => {
                Some(ConflictValue::Pan { secs_per_width: request.rules.pan_hard? })
            }
            HardLimit::LeastWidth => {
                Some(ConflictValue::Width { least_width_px: request.least_width })
            }
            HardLimit::MostWidth => {
                Some(ConflictValue::MostWidth { greatest_width_px: request.most_width })
            }
            HardLimit::Clause { clause } => {
                let asked = self.asked(range.used).into_iter().nth(clause)?;
                Some(ConflictValue::Clause { name: asked.keep_in, line: asked.line })
            }
            HardLimit::KeepOut { number } => {
                let is_kept_out = |track: &&Track| track.wish() == Wish::KeepOut;
                let track = self.tracks.iter().filter(is_kept_out).nth(number)?;
                let first =
                    range.used.frames().find_map(|frame| Some((frame, track.at(frame)?.region)));
                Some(ConflictValue::keep_out(track.name(), first))
            }
            HardLimit::Pin { index } => {
                let (frame, window) = (range.used.frame_at(index), request.pin_at(index)?.window);
                let pins = self.prepared.resolved.pins.iter();
                let mut of_it = pins
                    .filter(|pin| pin.frame == frame && pin.deliverable == self.deliverable.name);
                Some(ConflictValue::pin(frame, of_it.next().map(|pin| pin.line), &window))
            }
        }
    }
}
