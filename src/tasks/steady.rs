//! A window that stands still against the world: how much of its shake it can ride with, and what comes of that.

use super::{TaskError, decide::Case, stand::Stand};
use crate::{
    action::high_passed,
    pan::{Outcome, Planned, Request, Way},
    plan::{SteadyNote, recording_of},
};

/// A plan that rides, what was asked for it, and what is said of it.
pub(super) struct Ridden {
    pub(super) request: Request,
    pub(super) planned: Planned,
    pub(super) note: SteadyNote,
}

/// The steps in which the factor is searched: a hundredth of the shake is far below what anyone sees.
const STEPS: u32 = 100;

impl Case<'_> {
    /// The share of the shake that may be left beside what a factor leaves: what a following window adds of its own
    /// quick moves. Chosen: a tenth cannot be seen in what is left.
    const LEFT_BESIDE: f64 = 0.1;

    /// The plan that rides with as much of the shake as it can: with every limit kept, as good as the plan without,
    /// which is given, and with a window that really rides.
    ///
    /// More shake takes more room, so that the factor is found by halving.
    pub(super) fn ridden(
        &self,
        stand: &Stand,
        request: Request,
        without: Planned,
    ) -> Result<Ridden, TaskError> {
        let before_rms_px = shake_rms_px(stand, None);
        let is_as_good = |factor: f64, planned: &Planned| {
            let way_is_kept = without.way != Way::Hold || planned.way == Way::Hold;
            // A path that is pressed against the frame's edge at each swing rides in name only.
            let left_px = (1.0 - factor + Self::LEFT_BESIDE) * before_rms_px;
            planned.assessment.verdict <= without.assessment.verdict
                && way_is_kept
                && shake_rms_px(stand, Some(planned)) <= left_px
        };
        let with = |step: u32| -> Result<Option<(Request, Planned)>, TaskError> {
            let factor = f64::from(step) / f64::from(STEPS);
            let ride = stand.ride.iter().map(|(x, y)| (factor * x, factor * y)).collect();
            let request = Request { ride, ..request.clone() };
            Ok(match self.outcome_of(&request)? {
                Outcome::Planned(planned) if is_as_good(factor, &planned) => {
                    Some((request, planned))
                }
                _ => None,
            })
        };
        let (mut enough, mut too_much) = (0, STEPS);
        let mut best = with(STEPS)?;
        if best.is_some() {
            enough = STEPS;
        }
        while too_much - enough > 1 && enough < STEPS {
            let middle = u32::midpoint(enough, too_much);
            match with(middle)? {
                Some(found) => (enough, best) = (middle, Some(found)),
                None => too_much = middle,
            }
        }
        let enlargement_without = self.greatest_enlargement(&without);
        let (request, planned) = best.unwrap_or((request, without));
        let note = SteadyNote {
            factor: f64::from(enough) / f64::from(STEPS),
            shake_hz: stand.shake_hz,
            before_rms_px,
            after_rms_px: shake_rms_px(stand, Some(&planned)),
            enlargement: self.greatest_enlargement(&planned),
            enlargement_without,
            unknown_frames: stand.unknown_frames(),
        };
        Ok(Ridden { request, planned, note })
    }

    fn greatest_enlargement(&self, planned: &Planned) -> f64 {
        let least = planned.windows.iter().map(|w| w.width()).fold(f64::INFINITY, f64::min);
        recording_of(self.clip()).enlargement(self.deliverable.raster.width(), least)
    }
}

/// How much the background shakes over the used frames, in the frame or in the windows of a plan: the part of its
/// way against them that is quicker than the cut-off, both axes together, root of the mean square.
#[expect(clippy::cast_precision_loss, reason = "a run has far fewer frames than 2^53")]
fn shake_rms_px(stand: &Stand, planned: Option<&Planned>) -> f64 {
    let (way, secs) = stand.way();
    if way.is_empty() {
        return 0.0;
    }
    let seen = |index: usize| {
        let window = planned.and_then(|planned| planned.windows.get(index));
        let (x, y) = window.map_or((0.0, 0.0), |w| (w.centre_x(), w.centre_y()));
        (way[index].0 - x, way[index].1 - y)
    };
    let seen: Vec<(f64, f64)> = (0..way.len()).map(seen).collect();
    let squares = |along: fn(&(f64, f64)) -> f64| -> f64 {
        let values: Vec<f64> = seen.iter().map(along).collect();
        high_passed(&values, secs, stand.shake_hz).iter().map(|value| value * value).sum()
    };
    ((squares(|place| place.0) + squares(|place| place.1)) / way.len() as f64).sqrt()
}
