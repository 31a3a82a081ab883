//! How well a subject is seen, and the chance that its box is right.

/// What tells whether a box still has the subject in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cues {
    /// The filter's highest answer, over that to the mark's own frame: about 1 at first, 0 for nothing.
    pub height: f64,
    /// How alike the colours inside are to those at the mark, from 0 to 1.
    pub likeness: f64,
}

/// Weights of [`Cues::measures`] and the constant, fitted to the boxed clips from marks a dozen frames apart, both
/// ways, each clip counting as much as the others.
const WEIGHTS: [f64; 3] = [3.80, 6.41, 1.20];

impl Cues {
    /// A chance below this is doubtful: the box is more likely wrong than right.
    pub const DOUBTFUL_BELOW: f64 = 0.5;

    /// Nothing was seen.
    pub(super) const NOTHING: Self = Self { height: 0.0, likeness: 0.0 };

    /// What the chance is a logistic function of: the logarithm of the height (not below a hundredth) and the
    /// likeness.
    #[must_use]
    pub fn measures(&self) -> [f64; 2] {
        [self.height.max(0.01).ln(), self.likeness]
    }

    /// The chance, above 0 and below 1, that the box overlaps the true one by more than half.
    ///
    /// Logistic regression on the boxed clips; `tests/it/tracking.rs` fits it again with one clip left out at a
    /// time.
    #[must_use]
    pub fn confidence(&self) -> f64 {
        let [height, likeness] = self.measures();
        let sum = WEIGHTS[0] * height + WEIGHTS[1] * likeness + WEIGHTS[2];
        1.0 / (1.0 + (-sum).exp())
    }
}
