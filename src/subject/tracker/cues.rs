//! How well a subject is seen, and the chance that its box is right.

/// What tells whether a box still has the subject in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cues {
    /// The filter's highest answer, over that to the mark's own frame: about 1 at first, 0 for nothing.
    pub height: f64,
    /// The mean chance of colours inside the box less that around it, from -1 to 1.
    pub contrast: f64,
    /// How alike the colours inside are to those at the mark, from 0 to 1.
    pub likeness: f64,
}

/// Weights of [`Cues::measures`] and the constant, fitted to the boxed clips.
const WEIGHTS: [f64; 4] = [3.61, 0.81, 6.29, 0.65];

impl Cues {
    /// Nothing was seen.
    pub(super) const NOTHING: Self = Self { height: 0.0, contrast: -1.0, likeness: 0.0 };

    /// What the chance is a logistic function of: the logarithm of the height (not below a hundredth), the
    /// contrast and the likeness.
    #[must_use]
    pub fn measures(&self) -> [f64; 3] {
        [self.height.max(0.01).ln(), self.contrast, self.likeness]
    }

    /// The chance, above 0 and below 1, that the box overlaps the true one by more than half.
    ///
    /// Logistic regression on the boxed clips; left out one at a time, they are told as well
    /// (`tests/it/tracking.rs`).
    #[must_use]
    pub fn confidence(&self) -> f64 {
        let [height, contrast, likeness] = self.measures();
        let sum = WEIGHTS[0] * height + WEIGHTS[1] * contrast + WEIGHTS[2] * likeness + WEIGHTS[3];
        1.0 / (1.0 + (-sum).exp())
    }
}
