use super::{
    Pose, Scene,
    outlook::{AskedOf, Kept},
};
use crate::{
    delivery::{Deliverable, Limits},
    lens::PossibleLenses,
    sharpness::Recording,
};
use serde::Serialize;

/// What would make everything that is asked fit, each change by itself, whatever the lens may be: the least that was tried and
/// that does. What would do only between two of the steps that are tried is not found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Remedy {
    /// By how many degrees to tilt further down; up if below 0. In tenths, as a level shows them.
    pub tilt_down_degrees: Option<f64>,
    /// By how many metres to raise the camera; to lower it if below 0. In whole centimetres.
    pub raise_m: Option<f64>,
    /// By how many metres to go further back. In tenths.
    pub back_m: Option<f64>,
}

impl Remedy {
    /// Whether there is any.
    #[must_use]
    pub const fn is_some(&self) -> bool {
        self.tilt_down_degrees.is_some() || self.raise_m.is_some() || self.back_m.is_some()
    }
}

/// A mount that is to be mended.
#[derive(Clone, Copy)]
struct Mount<'a> {
    lenses: &'a PossibleLenses,
    asked: &'a [AskedOf<'a>],
}

/// How far each change is tried: further, and it is another mount.
const MOST_TENTHS_OF_A_DEGREE: i32 = 600;
const MOST_CENTIMETRES: i32 = 500;
const MOST_TENTHS_OF_A_METRE: i32 = 300;

/// The least changes of a mount after which every one of some deliverables fits, through every lens that it may have.
#[must_use]
pub fn remedies(
    pose: &Pose,
    lenses: &PossibleLenses,
    scene: &Scene,
    recording: &Recording,
    deliverables: &[(Deliverable, Limits)],
) -> Remedy {
    let asked: Vec<AskedOf<'_>> = deliverables
        .iter()
        .map(|(deliverable, limits)| AskedOf { deliverable, limits, recording })
        .collect();
    let mount = Mount { lenses, asked: &asked };
    let tilt = |tenths: f64| mount.fits(&pose.tilted_down_by((tenths / 10.0).to_radians()), scene);
    let raise = |centimetres: f64| {
        pose.raised_by(centimetres / 100.0).is_some_and(|pose| mount.fits(&pose, scene))
    };
    let back = |tenths: f64| mount.fits(pose, &scene.further_by(tenths / 10.0));
    let both_ways = |most: i32| (1..=most).flat_map(|step| [-step, step]).map(f64::from);
    // Without a subject there is nothing to go further back from, and no height changes where the horizon is.
    let is_subject = scene.subject.is_some();
    let found = |steps: &mut dyn Iterator<Item = f64>, fits: &dyn Fn(f64) -> bool| {
        steps.filter(|_| is_subject).find(|step| fits(*step))
    };
    Remedy {
        tilt_down_degrees: both_ways(MOST_TENTHS_OF_A_DEGREE).find(|t| tilt(*t)).map(|t| t / 10.0),
        raise_m: found(&mut both_ways(MOST_CENTIMETRES), &raise).map(|c| c / 100.0),
        back_m: found(&mut (1..=MOST_TENTHS_OF_A_METRE).map(f64::from), &back).map(|t| t / 10.0),
    }
}

impl Scene {
    /// The same, with the subject so many metres further away.
    fn further_by(&self, metres: f64) -> Self {
        Self {
            distances_m: self.distances_m.iter().map(|distance| distance + metres).collect(),
            ..self.clone()
        }
    }
}

impl Mount<'_> {
    fn fits(&self, pose: &Pose, scene: &Scene) -> bool {
        let mut kept = Vec::new();
        for lens in self.lenses.iter() {
            let of = Kept::of(pose, lens, scene);
            // What one lens does not draw, no window keeps.
            if of.is_none() {
                return false;
            }
            kept.push(of);
        }
        let frame = self.lenses.raster();
        self.asked.iter().all(|asked| asked.fits(frame, scene, &kept))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        delivery::{BlockedZones, Limit, LimitsLayer, Origin},
        geometry::{Raster, Rounding},
        lens::{FieldOfView, Mapping, SaidMapping, Span},
        mount::{Outlook, ShapeOutlook, Subject, Way},
    };

    fn lenses(mapping: SaidMapping) -> PossibleLenses {
        let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
        PossibleLenses::new(Raster::new(4000, 3000).unwrap(), mapping, &[field]).unwrap()
    }

    fn vertical() -> (Deliverable, Limits) {
        let raster = Raster::new(1080, 1920).unwrap();
        let blocked = BlockedZones { top: 0.12, bottom: 0.20, ..BlockedZones::default() };
        let (name, rounding) = ("vertical".to_owned(), Rounding::Even);
        let mut layer = LimitsLayer::default();
        for limit in [Limit::MarginAcross, Limit::MarginDown] {
            layer.set(limit.spec().name, Some(0.0)).unwrap();
        }
        // The full height is asked for: 1080 px within an enlargement of 0.64.
        layer.set(Limit::GreatestEnlargement.spec().name, Some(0.64)).unwrap();
        let limits = Limits::layered(&[(Origin::Shoot, &layer)]);
        (Deliverable { name, raster, rounding, blocked }, limits)
    }

    /// A paddler's helmet seen 60 px too high for the captions, level with the camera's axis at row 300.
    fn paddler() -> (Pose, Scene) {
        // By hand: row 300 is 1200 px above the middle, atan(0.6) = 30.96 degrees above the axis.
        let above = 2.0 * 0.6;
        let subject = Subject {
            name: "paddler".to_owned(),
            width_m: 0.1,
            height_m: 0.6,
            above_m: 1.0 + above - 0.6,
            drift_m: 0.0,
            speed_m_s: 0.0,
            way: Way::Along,
        };
        let scene = Scene {
            subject: Some(subject),
            distances_m: vec![2.0],
            horizon_above: None,
            rig: Vec::new(),
        };
        (Pose::from_degrees(1.0, 0.0, 0.0).unwrap(), scene)
    }

    #[test]
    fn a_helmet_that_is_too_high_is_mended_by_the_angle_between_two_rows() {
        // T6 by hand: atan(0.600) - atan(0.570) = 1.28 degrees up, so that 1.3 is the first tenth that does.
        let ((pose, scene), lenses) = (paddler(), lenses(SaidMapping::Known(Mapping::Rectilinear)));
        let found = remedies(&pose, &lenses, &scene, &Recording::default(), &[vertical()]);
        assert_eq!(found.tilt_down_degrees, Some(-1.3));
        // Or higher: the helmet at 0.57 of the distance instead of 0.6 is 6 cm.
        assert_eq!(found.raise_m, Some(0.06));
        // Or further back: 1.2 / 0.57 = 2.105 m.
        assert_eq!(found.back_m, Some(0.2), "2.1 m is not enough");
    }

    #[test]
    fn a_lens_that_is_not_known_is_mended_for_both() {
        let ((pose, scene), unknown) = (paddler(), lenses(SaidMapping::Unknown));
        let found = remedies(&pose, &unknown, &scene, &Recording::default(), &[vertical()]);
        let tilt = found.tilt_down_degrees.unwrap();
        assert!(tilt < -1.3, "the equal-angle one sees the helmet higher: {tilt}");
        for mapping in [Mapping::Rectilinear, Mapping::Equidistant] {
            let known = lenses(SaidMapping::Known(mapping));
            let mended = pose.tilted_down_by(tilt.to_radians());
            let (deliverable, limits) = &vertical();
            let recording = &Recording::default();
            let asked = AskedOf { deliverable, limits, recording };
            let outlook = Outlook::of(&mended, known.known().unwrap(), &scene);
            let shape = ShapeOutlook::of(&asked, (&mended, &scene), &known, &[outlook]);
            assert!(shape.room.window().is_some(), "{mapping:?}");
        }
    }
}
