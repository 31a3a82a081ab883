//! What each camera of a brief will see from where it is to be fixed, and how long it will run there.

use super::{
    TaskError,
    endurance::{endurance, exposure},
    kit::Prepared,
    mount_answer::{
        CrossingAnswer, GroundRushAnswer, MountAnswer, MountShapeAnswer, MountsAnswer,
        RoundsAnswer, SubjectAnswer, SubjectAtAnswer, ThroughAnswer, UnmetAnswer,
    },
    mount_musts::Musts,
    planned_mounts::{PlannedMount, planned_mounts},
};
use crate::{
    capture::{Rounds, SlowMotion, Stop},
    delivery::{Deliverable, Limit},
    geometry::{Levelling, Window},
    lens::{Between, GroundSpeed, Lens, Shake, ShakeBudget, Span},
    mount::{
        AskedOf, Crossing, Outlook, Passing, ShapeOutlook, Subject, Way, WindowRoom, remedies,
    },
    sharpness::Softness,
    shoot::WrittenMount,
};
use std::path::Path;

/// Predicts every mount of a brief, or only those named.
///
/// # Errors
/// As [`super::compare_modes`]; [`TaskError::Problems`] for a mode that the kit does not have or has no field of view;
/// [`TaskError::NoMounts`] without any; [`TaskError::NoSuchMount`].
pub fn predict_mounts(
    brief: &Path,
    kit: Option<&Path>,
    only: &[String],
) -> Result<MountsAnswer, TaskError> {
    let prepared = Prepared::read(brief, kit)?;
    let planned = planned_mounts(&prepared, only)?;
    Ok(mounts_answer(&prepared, &planned))
}

/// What mounts of a brief will see, and in which order to put up all of them.
pub(super) fn mounts_answer(prepared: &Prepared, planned: &[PlannedMount<'_>]) -> MountsAnswer {
    let mounts = planned.iter().map(PlannedMount::answer).collect();
    let before = &prepared.brief.before;
    // Who writes minutes of their own knows what they wear.
    let longer = if before.day.is_in_gloves { Stop::WITH_GLOVES } else { 1.0 };
    let stop = |mount: &WrittenMount| Stop {
        name: mount.name.clone(),
        minutes: mount.minutes.unwrap_or(longer * Stop::USUAL_MINUTES),
        reach: mount.reach,
    };
    let rounds = before.day.light_minutes.map(|light_minutes| {
        let stops: Vec<Stop> = before.mounts.iter().map(stop).collect();
        let plan = Rounds::plan(&stops, light_minutes);
        let order = plan.rounds.iter().map(|r| (r.stop.name.clone(), r.begins, r.done, r.fits));
        RoundsAnswer {
            light_minutes,
            available_minutes: plan.available_minutes,
            total_minutes: plan.total_minutes(),
            order: order.collect(),
        }
    });
    let brief = prepared.brief.path.clone();
    MountsAnswer { brief, kit: prepared.kit_path.clone(), mounts, rounds }
}

impl PlannedMount<'_> {
    /// What each deliverable gets, in their order.
    pub(super) fn shapes(&self, outlooks: &[Outlook]) -> Vec<ShapeOutlook> {
        let placed = (&self.written.pose, &self.scene);
        let of = |(deliverable, limits)| {
            let asked = AskedOf { deliverable, limits, recording: &self.recording };
            ShapeOutlook::of(&asked, placed, &self.lenses, outlooks)
        };
        self.deliverables.iter().map(|(deliverable, limits)| of((deliverable, limits))).collect()
    }

    pub(super) fn answer(&self) -> MountAnswer {
        let (written, mode, gear) = (self.written, &self.mode, &self.gear);
        let (pose, day) = (&written.pose, &self.prepared.brief.before.day);
        let outlooks = self.outlooks();
        let exposure = exposure(gear, day, mode.rate);
        let exposure_secs = gear
            .shutter_secs
            .or_else(|| exposure.as_ref().and_then(|exposure| exposure.taken_secs()));
        let musts = Musts::of(self);
        let seen = self.shapes(&outlooks);
        let shapes: Vec<MountShapeAnswer> = (0..self.deliverables.len())
            .map(|place| self.shape((place, &seen[place]), exposure_secs, &musts))
            .collect();
        let unmet = musts.of_the_mode();
        let have_rooms = seen.iter().all(|shape| shape.room.window().is_some());
        let timeline_rate = self.prepared.brief.timeline_rate;
        let ground = |edge: usize| every(&outlooks, |outlook| Some(outlook.ground_m[edge]?.0));
        let across = |edge: usize| every(&outlooks, |outlook| outlook.ground_m[edge]?.1);
        MountAnswer {
            name: written.name.clone(),
            camera: mode.camera.clone(),
            mode: mode.name.clone(),
            way_up: written.way_up.to_string(),
            shown: self.lenses.raster().to_string(),
            rate: mode.rate,
            slow_motion: SlowMotion::of(mode.rate, timeline_rate).factor(),
            lens: self.lenses.words(),
            lens_from: self.lens_from,
            depends_on_lens: self.lenses.known().is_none(),
            fov_degrees: [Span::Horizontal, Span::Vertical]
                .map(|span| self.lenses.field_of_view(span).to_degrees()),
            height_m: pose.height_m(),
            tilt_down_degrees: pose.tilt_down().to_degrees(),
            roll_degrees: pose.roll().to_degrees(),
            horizon_row: every(&outlooks, |outlook| outlook.horizon_row),
            ground_m: [ground(0), ground(1)],
            ground_across_m: [across(0), across(1)],
            subject: self.scene.subject.as_ref().map(|s| self.subject(s, &outlooks, exposure_secs)),
            remedy: if have_rooms { None } else { self.remedy() },
            passes: unmet.is_empty() && shapes.iter().all(|shape| shape.fits),
            have_rooms,
            unmet,
            shapes,
            exposure,
            endurance: endurance(gear, day, mode.megabits_a_second),
        }
    }

    fn remedy(&self) -> Option<crate::mount::Remedy> {
        let pose = &self.written.pose;
        let found = remedies(pose, &self.lenses, &self.scene, &self.recording, &self.deliverables);
        found.is_some().then_some(found)
    }

    fn passing(
        &self,
        subject: &Subject,
        distance_m: f64,
        of: impl Fn(&Passing) -> f64,
    ) -> Option<Between> {
        self.lenses.every(|lens| {
            Passing::of(subject, &self.written.pose, lens, distance_m).map(|passing| of(&passing))
        })
    }

    fn subject(
        &self,
        subject: &Subject,
        outlooks: &[Outlook],
        exposure_secs: Option<f64>,
    ) -> SubjectAnswer {
        let at = |(place, distance_m): (usize, &f64)| {
            let seen = |of: fn(&crate::geometry::Region) -> f64| {
                every(outlooks, |outlook| outlook.seen[place].region.as_ref().map(of))
            };
            SubjectAtAnswer {
                distance_m: *distance_m,
                top_row: seen(|region| region.top()),
                bottom_row: seen(|region| region.bottom()),
                width_px: seen(|region| region.width()),
                ground_across_m: every(outlooks, |outlook| outlook.seen[place].ground_across_m),
                degrees_a_second: self
                    .passing(subject, *distance_m, |passing| passing.radians_a_second.to_degrees()),
                px_a_second: self.passing(subject, *distance_m, |passing| passing.px_a_second),
                blur_px: exposure_secs.and_then(|secs| {
                    self.passing(subject, *distance_m, |passing| passing.blur_px(secs))
                }),
            }
        };
        SubjectAnswer {
            name: subject.name.clone(),
            speed_m_s: subject.speed_m_s,
            ground_rush: self.ground_rush(subject),
            at: self.scene.distances_m.iter().enumerate().map(at).collect(),
        }
    }

    /// How fast the ground that the axis meets goes by, where the subject goes along the line of sight.
    fn ground_rush(&self, subject: &Subject) -> Option<GroundRushAnswer> {
        let pose = &self.written.pose;
        let speed = GroundSpeed::of(subject.speed_m_s, pose.height_m(), pose.tilt_down())?;
        let is_along = subject.way == Way::Along && subject.speed_m_s > 0.0;
        is_along.then(|| GroundRushAnswer {
            along_degrees_a_second: speed.along.to_degrees(),
            abeam_degrees_a_second: speed.abeam.to_degrees(),
        })
    }

    fn shape(
        &self,
        (place, seen): (usize, &ShapeOutlook),
        exposure_secs: Option<f64>,
        musts: &Musts<'_>,
    ) -> MountShapeAnswer {
        let (deliverable, limits) = &self.deliverables[place];
        let window = &seen.window;
        let fitting = seen.through.iter().filter(|room| room.window().is_some()).count();
        let distances = || self.scene.distances_m.iter();
        let passing = |of: &dyn Fn(&Passing) -> f64| {
            let at = |distance_m: &f64| {
                let subject = self.scene.subject.as_ref()?;
                self.passing(subject, *distance_m, of)
            };
            distances().map(at).collect::<Vec<_>>()
        };
        let blur = exposure_secs
            .map(|secs| passing(&|passing: &Passing| passing.blur_px(secs) / window.width()));
        let steady = self.gear.shake.map(|shake| self.steady(window, deliverable, &shake));
        let unmet = self.unmet((place, window), steady, musts);
        let softness =
            Softness::of(window, self.lenses.raster(), deliverable.raster, &self.recording, limits);
        let fits = seen.room.window().is_some() && unmet.is_empty();
        let (window_px, top_from_to_px) = placed(&seen.room);
        MountShapeAnswer {
            deliverable: deliverable.name.clone(),
            fits,
            depends_on_lens: seen.room.window().is_none() && fitting > 0,
            window_px,
            top_from_to_px,
            through: self.through(seen),
            lacks_px: lacks(seen),
            unmet,
            enlargement: seen.enlargement,
            because: softness.after_enlargement(),
            band: softness.band,
            subject_top: seen.subject_top.clone(),
            subject_bottom: seen.subject_bottom.clone(),
            subject_width: seen.subject_width.clone(),
            horizon_inside_px: seen.horizon_inside_px,
            follow_secs_a_width: passing(&|passing: &Passing| passing.secs_a_width(window.width())),
            pan_limits_secs: [Limit::PanCaution, Limit::PanHard].map(|limit| limits.value(limit)),
            crossing: distances().map(|distance_m| self.crossing(window, *distance_m)).collect(),
            blur_share: blur.unwrap_or_default(),
            blur_limits: [Limit::BlurLook, Limit::BlurHold].map(|limit| limits.value(limit)),
            steady_enlargement: steady.flatten(),
        }
    }

    /// What a window does not give: room for the mount's own shake, and what the brief asks.
    fn unmet(
        &self,
        (place, window): (usize, &Window),
        steady: Option<Option<Between>>,
        musts: &Musts<'_>,
    ) -> Vec<UnmetAnswer> {
        let greatest = self.deliverables[place].1.number(Limit::GreatestEnlargement);
        let shaken = steady.filter(|steady| steady.is_none_or(|e| e.to() > greatest));
        let own = shaken.map(|value| UnmetAnswer::of_the_shake(value, greatest));
        own.into_iter().chain(musts.of_a_shape(self, place, window)).collect()
    }

    /// What each lens by itself gives, where that is not known and no window fits through all.
    fn through(&self, seen: &ShapeOutlook) -> Vec<ThroughAnswer> {
        let is_told = self.lenses.known().is_none() && seen.room.window().is_none();
        let answer = |(lens, room): (&Lens, &WindowRoom)| {
            let (window_px, top_from_to_px) = placed(room);
            let lacks_px = match room {
                WindowRoom::Fits { .. } => [0.0; 2],
                WindowRoom::Lacks(lack) => [lack.across_px, lack.down_px],
            };
            let lens = lens.mapping().with_article();
            ThroughAnswer { lens: lens.to_owned(), window_px, top_from_to_px, lacks_px }
        };
        let all = self.lenses.iter().zip(&seen.through).map(answer);
        all.filter(|_| is_told).collect()
    }

    fn crossing(&self, window: &Window, distance_m: f64) -> Option<CrossingAnswer> {
        let subject = self.scene.subject.as_ref()?;
        let of = |lens| Crossing::of(subject, &self.written.pose, lens, distance_m, window);
        let crossings: Vec<Crossing> = self.lenses.iter().map(of).collect::<Option<_>>()?;
        let range = |of: fn(&Crossing) -> f64| Between::all(crossings.iter().map(of));
        Some(CrossingAnswer {
            nose_in_secs: range(|crossing| crossing.nose_in_secs)?,
            tail_out_secs: range(|crossing| crossing.tail_out_secs)?,
            wholly_inside_secs: range(Crossing::wholly_inside_secs)?,
        })
    }

    /// The least enlargement of a window about the same centre that a shaking mount leaves its room.
    pub(super) fn steady(
        &self,
        window: &Window,
        deliverable: &Deliverable,
        shake: &Shake,
    ) -> Option<Between> {
        let level = Levelling::none(self.lenses.raster());
        self.lenses.every(|lens| {
            let width = ShakeBudget::of(lens, &level, window, shake).largest_width_px?;
            let width = width.min(window.width());
            Some(self.recording.enlargement(deliverable.raster.width(), width))
        })
    }
}

/// The window of a room in px, and from where to where its top may be.
fn placed(room: &WindowRoom) -> (Option<[f64; 4]>, Option<[f64; 2]>) {
    match room {
        WindowRoom::Fits { window: w, top: (from, to), .. } => {
            (Some([w.left(), w.top(), w.width(), w.height()]), Some([*from, *to]))
        }
        WindowRoom::Lacks(_) => (None, None),
    }
}

/// How many px are missing across and down: through each lens, or where each by itself has room, for all together.
fn lacks(seen: &ShapeOutlook) -> [Between; 2] {
    let lack = |room: &WindowRoom| match room {
        WindowRoom::Fits { .. } => [0.0; 2],
        WindowRoom::Lacks(lack) => [lack.across_px, lack.down_px],
    };
    let together = lack(&seen.room);
    let alone: Vec<[f64; 2]> = seen.through.iter().map(lack).collect();
    let is_nothing = alone.iter().flatten().all(|px| *px <= 0.0);
    let axis = |axis: usize| {
        let all = Between::all(alone.iter().map(|lack| lack[axis])).filter(|_| !is_nothing);
        all.unwrap_or(Between::exactly(together[axis]))
    };
    [axis(0), axis(1)]
}

/// The range of something over all that may be seen; `None` if one has none.
fn every(outlooks: &[Outlook], ask: impl Fn(&Outlook) -> Option<f64>) -> Option<Between> {
    let answers: Option<Vec<f64>> = outlooks.iter().map(ask).collect();
    Between::all(answers?)
}
