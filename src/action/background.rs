use super::high_passed;
use std::ops::Range;

/// How the background moved in the picture from the frame before to a frame, at the frame's centre.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct BackgroundStep {
    /// Px to the right in the displayed picture.
    pub across_px: f64,
    /// Px down.
    pub down_px: f64,
    /// Radians clockwise about the frame's centre.
    pub roll_radians: f64,
}

/// The way of the background through a clip: a step for each frame, from the frame before. The first frame has
/// none before it; a later one without a step is a gap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BackgroundMotion {
    steps: Vec<Option<BackgroundStep>>,
}

/// What is quick of the background's way, a frame each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shaking {
    /// How far the background is off its slow way, in px right and down.
    pub offsets_px: Vec<(f64, f64)>,
    /// How far it is rolled off its slow way, in radians clockwise.
    pub roll_radians: Vec<f64>,
}

impl Shaking {
    /// How much it shakes: px, both axes together, root of the mean square. 0 without frames.
    #[must_use]
    pub fn rms_px(&self) -> f64 {
        let squares: f64 = self.offsets_px.iter().map(|(x, y)| x * x + y * y).sum();
        (squares / self.offsets_px.len().max(1) as f64).sqrt()
    }
}

impl BackgroundMotion {
    /// The way with these steps, the first frame's first.
    #[must_use]
    pub const fn new(steps: Vec<Option<BackgroundStep>>) -> Self {
        Self { steps }
    }

    /// Whether no step is known at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.steps.iter().all(Option::is_none)
    }

    /// The stretches of frames that are joined by known steps.
    fn runs(&self) -> Vec<Range<usize>> {
        let mut starts: Vec<usize> =
            (0..self.steps.len()).filter(|at| *at == 0 || self.steps[*at].is_none()).collect();
        starts.push(self.steps.len());
        starts.windows(2).map(|pair| pair[0]..pair[1]).collect()
    }

    /// What is quicker than a cut-off, with each frame at a time of its own in seconds.
    ///
    /// Each stretch between gaps is filtered by itself. Towards a gap the result fades out, over half the cut-off's
    /// period, and behind it in again, so that nothing jumps where nothing is known; at the clip's own ends it does
    /// not fade.
    #[must_use]
    pub fn shaking(&self, secs: &[f64], cutoff_hz: f64) -> Shaking {
        let count = self.steps.len().min(secs.len());
        let mut shaking =
            Shaking { offsets_px: vec![(0.0, 0.0); count], roll_radians: vec![0.0; count] };
        for run in self.runs() {
            let run = run.start..run.end.min(count);
            if run.len() < 3 {
                continue;
            }
            let times = &secs[run.clone()];
            let quick = |along: fn(&BackgroundStep) -> f64| {
                high_passed(&self.cumulated(run.clone(), along), times, cutoff_hz)
            };
            let (across, down) = (quick(|step| step.across_px), quick(|step| step.down_px));
            let roll = quick(|step| step.roll_radians);
            let ends = (run.start > 0, run.end < count);
            for place in 0..run.len() {
                let fade = fade(times, place, ends, 0.5 / cutoff_hz);
                shaking.offsets_px[run.start + place] = (fade * across[place], fade * down[place]);
                shaking.roll_radians[run.start + place] = fade * roll[place];
            }
        }
        shaking
    }

    /// The same way in pictures that are turned, each by its own angle in radians clockwise about the centre that
    /// the steps are measured at.
    #[must_use]
    pub fn turned(&self, radians_at: impl Fn(usize) -> f64) -> Self {
        let turn = |(frame, step): (usize, &Option<BackgroundStep>)| {
            step.map(|step| {
                let (sine, cosine) = radians_at(frame).sin_cos();
                BackgroundStep {
                    across_px: step.across_px * cosine - step.down_px * sine,
                    down_px: step.across_px * sine + step.down_px * cosine,
                    ..step
                }
            })
        };
        Self { steps: self.steps.iter().enumerate().map(turn).collect() }
    }

    /// On how many frames of a range, after the clip's first, the step is not known.
    #[must_use]
    pub fn unknown_in(&self, frames: Range<usize>) -> usize {
        let is_unknown =
            |frame: &usize| *frame > 0 && self.steps.get(*frame).is_none_or(Option::is_none);
        frames.filter(is_unknown).count()
    }

    /// Whether the step to each frame of a range is known; the clip's first frame has none.
    #[must_use]
    pub fn is_known_in(&self, frames: Range<usize>) -> Vec<bool> {
        frames.map(|frame| self.steps.get(frame).is_some_and(Option::is_some)).collect()
    }

    /// Where the background is at each frame of a run, from its first.
    fn cumulated(&self, run: Range<usize>, along: fn(&BackgroundStep) -> f64) -> Vec<f64> {
        let mut place = 0.0;
        let first = run.start;
        run.map(|at| {
            if at > first {
                place += self.steps[at].as_ref().map_or(0.0, along);
            }
            place
        })
        .collect()
    }

    /// Where the background is at each frame of a range against its first, in px right and down; beyond a gap
    /// it goes on from where it was, since nothing is known.
    #[must_use]
    pub fn positions_px(&self, frames: Range<usize>) -> Vec<(f64, f64)> {
        let frames = frames.start..frames.end.min(self.steps.len());
        let across = self.cumulated(frames.clone(), |step| step.across_px);
        across.into_iter().zip(self.cumulated(frames, |step| step.down_px)).collect()
    }
}

/// From 0 at a gap to 1 at so many seconds from it, as half a wave of a cosine.
fn fade(
    secs: &[f64],
    place: usize,
    (gap_before, gap_after): (bool, bool),
    length_secs: f64,
) -> f64 {
    let eased = |share: f64| 0.5 - 0.5 * (std::f64::consts::PI * share.clamp(0.0, 1.0)).cos();
    let before = if gap_before { eased((secs[place] - secs[0]) / length_secs) } else { 1.0 };
    let last = secs.len() - 1;
    let after = if gap_after { eased((secs[last] - secs[place]) / length_secs) } else { 1.0 };
    before.min(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A shake of 12 px across at 2 Hz on a drift of 40 px a second, at 25 frames a second.
    fn shaken(count: u32) -> (BackgroundMotion, Vec<f64>) {
        let secs: Vec<f64> = (0..count).map(|frame| f64::from(frame) / 25.0).collect();
        let at = |secs: f64| 40.0 * secs + 12.0 * (TAU * 2.0 * secs).sin();
        let step = |pair: &[f64]| {
            let across_px = at(pair[1]) - at(pair[0]);
            Some(BackgroundStep { across_px, ..BackgroundStep::default() })
        };
        let steps = std::iter::once(None).chain(secs.windows(2).map(step)).collect();
        (BackgroundMotion::new(steps), secs)
    }

    #[test]
    fn the_shake_is_found_and_the_drift_left_alone() {
        let (motion, secs) = shaken(250);
        let shaking = motion.shaking(&secs, 0.5);
        // 12 / √2 = 8.485, times the gain 0.996 at 2 Hz.
        assert!((shaking.rms_px() - 8.485).abs() < 0.15, "{}", shaking.rms_px());
        assert_eq!(Shaking::default().rms_px(), 0.0);
        let found = shaking.offsets_px;
        assert!(found.iter().all(|(x, y)| x.abs() < 16.0 && *y == 0.0));
    }

    #[test]
    fn nothing_jumps_at_a_gap_and_nothing_is_guessed_in_it() {
        let (BackgroundMotion { mut steps }, secs) = shaken(250);
        steps[100..110].fill(None);
        let motion = BackgroundMotion::new(steps);
        assert_eq!((motion.unknown_in(0..250), motion.unknown_in(0..105)), (10, 5));
        assert_eq!(motion.is_known_in(98..102), [true, true, false, false]);
        let found = motion.shaking(&secs, 0.5).offsets_px;
        assert!(found[99..110].iter().all(|(x, _)| x.abs() < 1e-9), "{:?}", &found[99..110]);
        let whole = shaken(250).0.shaking(&secs, 0.5).offsets_px;
        let greatest = |offsets: &[(f64, f64)]| {
            offsets.windows(2).map(|pair| (pair[1].0 - pair[0].0).abs()).fold(0.0, f64::max)
        };
        assert!(greatest(&found) < 1.1 * greatest(&whole), "no step larger than the shake's own");
        // Two seconds from the gap it is as without it.
        assert!((found[40].0 - whole[40].0).abs() < 0.3, "{} {}", found[40].0, whole[40].0);
        assert!((found[180].0 - whole[180].0).abs() < 0.3);
    }

    #[test]
    fn without_steps_nothing_shakes() {
        let motion = BackgroundMotion::new(vec![None; 20]);
        let secs: Vec<f64> = (0..20_u32).map(f64::from).collect();
        assert!(motion.is_empty());
        assert_eq!(motion.shaking(&secs, 0.5).offsets_px, vec![(0.0, 0.0); 20]);
        assert_eq!(BackgroundMotion::default().shaking(&secs, 0.5).offsets_px, []);
    }
}
