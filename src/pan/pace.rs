use super::PanError;
use std::ops::Range;

/// How much timeline time passes from each frame of a run to the next.
///
/// Most clips have an even pace. A variable-rate clip has a step of its own after each frame, and neighbouring
/// steps may differ a hundredfold. What a frame shows counts for as long as it stays, which is its own step.
///
/// ```
/// use lookroom::pan::Pace;
///
/// let even = Pace::even(1.0 / 25.0);
/// let uneven = Pace::uneven(vec![1.0 / 30.0, 1.0 / 60.0, 1.0 / 30.0]);
/// assert_eq!(even.step_secs(2), 0.04);
/// assert_eq!(uneven.step_secs(1), 1.0 / 60.0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Pace(Steps);

#[derive(Debug, Clone, PartialEq)]
enum Steps {
    Even(f64),
    Uneven {
        /// One a frame.
        steps_secs: Vec<f64>,
        mean_secs: f64,
    },
}

impl Pace {
    /// The same step after every frame, in timeline seconds.
    ///
    /// Nothing is checked here: a step that is not above 0 and finite is a [`PanError::Step`] of the plan.
    #[must_use]
    pub const fn even(step_secs: f64) -> Self {
        Self(Steps::Even(step_secs))
    }

    /// A step for each frame of the run, in timeline seconds: from it to the next, and for the last frame how
    /// long it stays.
    ///
    /// Nothing is checked here: a step that is not above 0 and finite is a [`PanError::Step`] of the plan, and
    /// another number of steps than of frames a [`PanError::StepCount`].
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
    pub fn uneven(steps_secs: Vec<f64>) -> Self {
        let mean_secs = steps_secs.iter().sum::<f64>() / steps_secs.len() as f64;
        Self(Steps::Uneven { steps_secs, mean_secs })
    }

    /// Timeline seconds from a frame of the run to the next; NaN beyond the run of an uneven pace, which a
    /// plan does not reach.
    #[must_use]
    pub fn step_secs(&self, index: usize) -> f64 {
        match &self.0 {
            Steps::Even(step_secs) => *step_secs,
            Steps::Uneven { steps_secs, .. } => steps_secs.get(index).copied().unwrap_or(f64::NAN),
        }
    }

    /// The mean step of a run, in timeline seconds; NaN for an uneven pace without any.
    #[must_use]
    pub const fn mean_step_secs(&self) -> f64 {
        match &self.0 {
            Steps::Even(step_secs) => *step_secs,
            Steps::Uneven { mean_secs, .. } => *mean_secs,
        }
    }

    /// The change of speed at a frame that has one on either side. A step of less than a 64th of the mean one is
    /// taken for that long: a speed over a hundredth of a millisecond says nothing of how a window moves.
    pub(super) fn bend(&self, index: usize) -> Bend {
        /// In mean steps. Chosen: far below the gaps of ordinary clips, and still within what numbers can tell.
        const SHORTEST: f64 = 1.0 / 64.0;
        let mean_secs = self.mean_step_secs();
        let long_enough = |step_secs: f64| step_secs.max(SHORTEST * mean_secs);
        let steps_secs =
            (long_enough(self.step_secs(index - 1)), long_enough(self.step_secs(index)));
        Bend {
            secs: f64::midpoint(steps_secs.0, steps_secs.1),
            before: mean_secs / steps_secs.0,
            after: mean_secs / steps_secs.1,
        }
    }

    /// When each of so many frames starts, counted in steps from the first one: for an even pace the frame's
    /// own number, for an uneven one the time in mean steps.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
    pub fn starts(&self, frame_count: usize) -> Vec<f64> {
        match &self.0 {
            Steps::Even(_) => (0..frame_count).map(|index| index as f64).collect(),
            Steps::Uneven { steps_secs, mean_secs } => {
                let secs = (0..frame_count).scan(0.0, |start, index| {
                    let now = *start;
                    *start += steps_secs.get(index).copied().unwrap_or(f64::NAN);
                    Some(now / mean_secs)
                });
                secs.collect()
            }
        }
    }

    /// The pace of some of the run's frames; frames beyond the run have none.
    #[must_use]
    pub fn part(&self, frames: Range<usize>) -> Self {
        match &self.0 {
            Steps::Even(step_secs) => Self::even(*step_secs),
            Steps::Uneven { steps_secs, .. } => {
                let last = steps_secs.len();
                let range = frames.start.min(last)..frames.end.min(last);
                Self::uneven(steps_secs.get(range).unwrap_or_default().to_vec())
            }
        }
    }

    /// Checks that there is a step for each of so many frames, above 0 and finite.
    pub(super) fn check(&self, frame_count: usize) -> Result<(), PanError> {
        let steps_secs = match &self.0 {
            Steps::Even(step_secs) => std::slice::from_ref(step_secs),
            Steps::Uneven { steps_secs, .. } if steps_secs.len() == frame_count => steps_secs,
            Steps::Uneven { steps_secs, .. } => {
                return Err(PanError::StepCount { steps: steps_secs.len(), frame_count });
            }
        };
        let is_step = |step_secs: &f64| step_secs.is_finite() && *step_secs > 0.0;
        match steps_secs.iter().position(|step_secs| !is_step(step_secs)) {
            Some(index) => Err(PanError::Step { index, step_secs: steps_secs[index] }),
            None => Ok(()),
        }
    }
}

/// The change of speed at a frame: the place changes `Δ⁻` before it and `Δ⁺` after it, and so the speed in px a
/// mean step by `after Δ⁺ − before Δ⁻`. At an even pace both factors are exactly 1.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bend {
    /// From the middle of the step before to the middle of the step after: the mean of both.
    pub(super) secs: f64,
    /// How many of the steps before make a mean step.
    pub(super) before: f64,
    /// How many of the steps after make a mean step.
    pub(super) after: f64,
}

impl Bend {
    /// What the places before, at and after the frame are weighed with: 1, -2 and 1 at an even pace.
    pub(super) fn factors(self) -> [f64; 3] {
        [self.before, -(self.before + self.after), self.after]
    }
}
