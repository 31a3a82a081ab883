//! Some stages of a program, with what lies beyond them.

use super::{
    VARIABLES,
    band::{Band, End, WIDTH},
    interior::Method,
};
use std::ops::Range;

/// The stages that are solved for. What lies beyond rests, and goes along with the two stages next to it.
pub(super) struct Part {
    variables: Range<usize>,
    front: Option<End>,
    back: Option<End>,
    /// How far everything had moved when the part began.
    from: Vec<f64>,
}

impl Part {
    /// The part with these stages at work, which the method is put on; the matrix is that of all rows at rest.
    pub(super) fn of(at_work: Range<usize>, method: &mut Method<'_>, matrix: &Band) -> Self {
        /// Rows reach two stages, and what rests meets two more.
        const BESIDE: usize = 4;
        let size = method.values.len();
        let count = size / VARIABLES;
        let stages = at_work.start.saturating_sub(BESIDE)..(at_work.end + BESIDE).min(count);
        let variables = VARIABLES * stages.start..VARIABLES * stages.end;
        let resting = method.isolated(matrix);
        let beyond = size - variables.end;
        let front = (variables.start > 0).then(|| End::front(&resting, variables.start));
        let back = (beyond > 0).then(|| End::back(&resting, beyond));
        method.put_on(variables.clone(), stages.start.saturating_sub(2)..stages.end);
        let part = Self { variables, front, back, from: method.moved.clone() };
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
        for row in 0..WIDTH {
            for column in 0..=row {
                if let Some(front) = &self.front {
                    let (a, b) = (self.next_to_front(row), self.next_to_front(column));
                    base.matrix.set(a, b, front.left(row, column));
                }
                if let Some(back) = &self.back {
                    let (a, b) = (self.next_to_back(row), self.next_to_back(column));
                    base.matrix.set(a, b, back.left(row, column));
                }
            }
        }
    }

    /// Has what lies beyond go along with the stages that are solved for.
    pub(super) fn take_along(&self, method: &mut Method<'_>) {
        let gone = |variable: usize| method.moved[variable] - self.from[variable];
        let mut along = Vec::new();
        if let Some(front) = &self.front {
            let beside = std::array::from_fn(|places| gone(self.next_to_front(places)));
            along.extend(front.gone_along(beside).into_iter().enumerate());
        }
        if let Some(back) = &self.back {
            let last = method.values.len() - 1;
            let beside = std::array::from_fn(|places| gone(self.next_to_back(places)));
            let gone = back.gone_along(beside).into_iter().enumerate();
            along.extend(gone.map(|(place, gone)| (last - place, gone)));
        }
        for (variable, gone) in along {
            let now = self.from[variable] + gone;
            method.values[variable] += now - method.moved[variable];
            method.moved[variable] = now;
        }
    }
}
