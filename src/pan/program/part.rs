//! Some stages of a program, with what lies beyond them.

use super::{VARIABLES, band::WIDTH, factor::Factor, interior::Method};
use std::ops::Range;

/// The stages that are solved for. What lies beyond rests, and goes along with the two stages next to it.
pub(super) struct Part<'e> {
    variables: Range<usize>,
    /// How many variables lie beyond the part's last one.
    beyond: usize,
    /// All rows at rest, eliminated from both ends to within this part.
    ends: &'e Factor,
    /// How far everything had moved when the part began.
    from: Vec<f64>,
}

impl<'e> Part<'e> {
    /// The part with these stages at work, which the method is put on.
    pub(super) fn of(at_work: Range<usize>, method: &mut Method<'_>, ends: &'e Factor) -> Self {
        /// Rows reach two stages, and what rests meets two more.
        const BESIDE: usize = 4;
        let size = method.values.len();
        let count = size / VARIABLES;
        let stages = at_work.start.saturating_sub(BESIDE)..(at_work.end + BESIDE).min(count);
        let variables = VARIABLES * stages.start..VARIABLES * stages.end;
        let beyond = size - variables.end;
        method.put_on(variables.clone(), stages.start.saturating_sub(2)..stages.end);
        let part = Self { variables, beyond, ends, from: method.moved.clone() };
        part.join(method);
        part
    }

    /// The variable next to the front or the back, so many places from it.
    const fn next_to_front(&self, places: usize) -> usize {
        self.variables.start + places
    }

    const fn next_to_back(&self, places: usize) -> usize {
        self.variables.end - 1 - places
    }

    /// Has what lies beyond stand for itself.
    fn join(&self, method: &mut Method<'_>) {
        let Some(base) = &mut method.base else { return };
        let mut set = |left: [[f64; WIDTH]; WIDTH], variable: &dyn Fn(usize) -> usize| {
            for (row, entries) in left.iter().enumerate() {
                for (column, entry) in entries.iter().enumerate().take(row + 1) {
                    base.matrix.set(variable(row), variable(column), *entry);
                }
            }
        };
        if self.variables.start > 0 {
            let left = self.ends.left_by_first(self.variables.start);
            set(left, &|places| self.next_to_front(places));
        }
        if self.beyond > 0 {
            set(self.ends.left_by_last(self.beyond), &|places| self.next_to_back(places));
        }
    }

    /// Has what lies beyond go along with the stages that are solved for.
    pub(super) fn take_along(&self, method: &mut Method<'_>) {
        let gone = |variable: usize| method.moved[variable] - self.from[variable];
        let mut along = Vec::new();
        if self.variables.start > 0 {
            let beside = std::array::from_fn(|places| gone(self.next_to_front(places)));
            let gone = self.ends.first_going_along(self.variables.start, beside);
            along.extend(gone.into_iter().enumerate());
        }
        if self.beyond > 0 {
            let last = method.values.len() - 1;
            let beside = std::array::from_fn(|places| gone(self.next_to_back(places)));
            let gone = self.ends.last_going_along(self.beyond, beside).into_iter().enumerate();
            along.extend(gone.map(|(place, gone)| (last - place, gone)));
        }
        for (variable, gone) in along {
            let now = self.from[variable] + gone;
            method.values[variable] += now - method.moved[variable];
            method.moved[variable] = now;
        }
    }
}
