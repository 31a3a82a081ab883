//! The must-haves of a brief, as far as a mount and its windows give them.

use super::{mount_answer::UnmetAnswer, planned_mounts::PlannedMount};
use crate::{
    brief::{Answer, Ask, Asked, Comparison, Held, Must},
    geometry::Window,
    lens::Between,
};

/// The must-haves, held against the mode of a mount, the way up that it is mounted.
pub(super) struct Musts<'a> {
    musts: &'a [Must],
    held: Vec<Held>,
}

impl<'a> Musts<'a> {
    pub(super) fn of(mount: &'a PlannedMount<'_>) -> Self {
        let brief = &mount.prepared.brief;
        let musts = brief.before.musts.as_slice();
        let asked = Asked {
            timeline_rate: brief.timeline_rate,
            deliverables: &mount.deliverables,
            musts,
            ways_up: &[mount.written.way_up],
        };
        let held = Comparison::of(std::slice::from_ref(&mount.mode), &asked).modes;
        let held = held.into_iter().next().map(|mode| mode.held).unwrap_or_default();
        Self { musts, held }
    }

    /// What the mode does not give, whatever the windows are.
    pub(super) fn of_the_mode(&self) -> Vec<UnmetAnswer> {
        self.unmet(|ask| matches!(ask, Ask::SlowMotion { .. })).collect()
    }

    /// What a deliverable's window does not give. Enlargements are those of the window itself; room is that of the largest in
    /// the middle of the frame, as it is asked.
    pub(super) fn of_a_shape(
        &self,
        mount: &PlannedMount<'_>,
        place: usize,
        window: &Window,
    ) -> Vec<UnmetAnswer> {
        let (deliverable, _) = &mount.deliverables[place];
        let is_of = |ask: &Ask| ask.deliverable() == Some(deliverable.name.as_str());
        let is_of_the_mode =
            |ask: &Ask| matches!(ask, Ask::SpareAcross { .. } | Ask::SpareDown { .. });
        let enlarged = self.musts.iter().filter(|must| is_of(&must.ask)).filter_map(|must| {
            let (value, at_most) = match &must.ask {
                Ask::Enlargement { at_most, .. } => {
                    let width = deliverable.raster.width();
                    let enlargement = mount.recording.enlargement(width, window.width());
                    (Some(Between::exactly(enlargement)), at_most)
                }
                Ask::Steady { shake, at_most, .. } => {
                    (mount.steady(window, deliverable, shake), at_most)
                }
                _ => return None,
            };
            let is_met = value.is_some_and(|value| must.ask.shortfall(value.to()) <= ROUNDING);
            (!is_met).then(|| UnmetAnswer { what: what(&must.ask), value, asked: *at_most })
        });
        enlarged.chain(self.unmet(|ask| is_of(ask) && is_of_the_mode(ask))).collect()
    }

    fn unmet(&self, is_asked: impl Fn(&Ask) -> bool) -> impl Iterator<Item = UnmetAnswer> {
        let told = self
            .musts
            .iter()
            .zip(&self.held)
            .filter(move |(must, held)| is_asked(&must.ask) && held.answer != Answer::Met);
        told.map(|(must, held)| UnmetAnswer {
            what: what(&must.ask),
            value: held.value.and_then(|(least, greatest)| Between::all([least, greatest])),
            asked: must.ask.limit(),
        })
    }
}

/// What a division leaves beyond a limit.
const ROUNDING: f64 = 1.0 + 1e-9;

fn what(ask: &Ask) -> &'static str {
    match ask {
        Ask::Enlargement { .. } => UnmetAnswer::ENLARGEMENT,
        Ask::Steady { .. } => UnmetAnswer::STEADY,
        Ask::SpareAcross { .. } => UnmetAnswer::ACROSS,
        Ask::SpareDown { .. } => UnmetAnswer::DOWN,
        Ask::SlowMotion { .. } => UnmetAnswer::SLOW_MOTION,
    }
}
