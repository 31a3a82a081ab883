use super::{Comparison, HeldMode};

/// Which modes to take.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// Modes that meet everything, as places in [`Comparison::modes`]: the one whose worst enlargement is least first.
    Passes {
        /// The places.
        ranked: Vec<usize>,
    },
    /// None does. The nearest misses, each mode the way up in which it is nearest: those with the fewest must-haves unmet,
    /// the one that falls short by the least factor first.
    NonePasses {
        /// The places.
        nearest: Vec<usize>,
    },
}

impl Comparison {
    /// Which modes to take. Of equals, the one that stands first in the kit.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let mut ranked = self.places(HeldMode::passes);
        ranked.sort_by(|a, b| {
            let worst = |place: &usize| self.modes[*place].worst_enlargement();
            worst(a).total_cmp(&worst(b))
        });
        if ranked.is_empty() {
            Verdict::NonePasses { nearest: self.nearest() }
        } else {
            Verdict::Passes { ranked }
        }
    }

    fn places(&self, is_wanted: impl Fn(&HeldMode) -> bool) -> Vec<usize> {
        (0..self.modes.len()).filter(|place| is_wanted(&self.modes[*place])).collect()
    }

    fn nearest(&self) -> Vec<usize> {
        let unmet = |mode: &HeldMode| mode.unmet().count();
        let fewest = self.modes.iter().map(unmet).min();
        let mut nearest = self.places(|mode| Some(unmet(mode)) == fewest);
        nearest.sort_by(|a, b| {
            let short = |place: &usize| self.modes[*place].worst_shortfall();
            short(a).total_cmp(&short(b))
        });
        let mut seen: Vec<usize> = Vec::new();
        nearest.retain(|place| {
            let is_new =
                seen.iter().all(|other| self.modes[*other].mode != self.modes[*place].mode);
            if is_new {
                seen.push(*place);
            }
            is_new
        });
        nearest
    }
}
