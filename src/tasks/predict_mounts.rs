//! What each camera of a brief will see from where it is to be fixed, and how long it will run there.

use super::{
    TaskError,
    endurance::{endurance, exposure},
    kit::Prepared,
    mount_answer::{
        CrossingAnswer, MountAnswer, MountShapeAnswer, MountsAnswer, RemedyAnswer, RoundsAnswer,
        SubjectAnswer, SubjectAtAnswer,
    },
};
use crate::{
    capture::{CaptureMode, Rounds, SlowMotion, Stop},
    delivery::{Deliverable, Limit, Limits},
    geometry::{Levelling, Raster, Window, largest_window},
    lens::{Between, GroundSpeed, PossibleLenses, Shake, ShakeBudget, Span},
    mount::{
        Crossing, Outlook, Passing, Remedy, Scene, ShapeOutlook, Subject, Way, WindowRoom, remedies,
    },
    sharpness::{Band, Recording},
    shoot::{Fault, FaultKind, Sheet, WrittenMount},
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

/// One mount with everything that it needs.
#[derive(Debug, Clone)]
pub(super) struct PlannedMount<'a> {
    pub(super) written: &'a WrittenMount,
    pub(super) mode: &'a CaptureMode,
    /// Before the frame as it is shown, the inside crop taken off.
    pub(super) lenses: PossibleLenses,
    pub(super) is_lens_measured: bool,
    pub(super) scene: Scene,
    pub(super) recording: Recording,
    pub(super) deliverables: Vec<(Deliverable, Limits)>,
    pub(super) prepared: &'a Prepared,
}

/// The mounts that are asked for; all where none is named.
pub(super) fn planned_mounts<'a>(
    prepared: &'a Prepared,
    only: &[String],
) -> Result<Vec<PlannedMount<'a>>, TaskError> {
    let mounts = &prepared.brief.before.mounts;
    if mounts.is_empty() {
        return Err(TaskError::NoMounts { brief: prepared.brief.path.clone() });
    }
    let known = || mounts.iter().map(|mount| mount.name.clone()).collect();
    if let Some(name) = only.iter().find(|name| mounts.iter().all(|mount| mount.name != **name)) {
        return Err(TaskError::NoSuchMount { name: name.clone(), known: known() });
    }
    let asked = mounts.iter().filter(|mount| only.is_empty() || only.contains(&mount.name));
    let (mut planned, mut faults) = (Vec::new(), Vec::new());
    for mount in asked {
        match planned_mount(prepared, mount) {
            Ok(mount) => planned.push(mount),
            Err((line, kind)) => faults.push(Fault {
                sheet: Sheet::Shoot,
                file: prepared.brief.path.clone(),
                line: Some(line),
                column: None,
                field: Some("mode".to_owned()),
                kind,
            }),
        }
    }
    if faults.is_empty() { Ok(planned) } else { Err(super::kit::problems(faults)) }
}

fn planned_mount<'a>(
    prepared: &'a Prepared,
    written: &'a WrittenMount,
) -> Result<PlannedMount<'a>, (u64, FaultKind)> {
    let at_mode = |kind| (written.mode_line, kind);
    let mode = prepared.mode(&written.mode).map_err(at_mode)?;
    let own = written.camera.as_ref().and_then(|name| {
        prepared.brief.cameras.iter().find(|camera| camera.name == *name)?.lens.as_ref()
    });
    let lenses = match own {
        Some(said) => Some(said.before(mode.raster).map_err(|error| at_mode(error.into()))?),
        None => mode.lens,
    };
    let lenses =
        lenses.ok_or_else(|| at_mode(FaultKind::NoFieldOfView { mode: written.mode.clone() }))?;
    let scene = Scene {
        subject: written.subject.clone(),
        distances_m: written.distances_m.clone(),
        horizon_above: written.horizon_above,
        rig: written.rig.iter().map(|(_, region)| *region).collect(),
    };
    let of_mount =
        |(deliverable, _): &(Deliverable, Limits)| written.deliverables.contains(&deliverable.name);
    Ok(PlannedMount {
        written,
        mode,
        lenses: lenses
            .shown(written.way_up.orientation())
            .behind_inside_crop(mode.inside_crop.linear_factor()),
        is_lens_measured: own.is_some(),
        scene,
        recording: Recording {
            inside_factor: mode.inside_crop.linear_factor(),
            bits_per_px: mode.bits_per_px(),
            ..Recording::default()
        },
        deliverables: prepared.deliverables().into_iter().filter(of_mount).collect(),
        prepared,
    })
}

impl PlannedMount<'_> {
    /// What it will see, through each lens that it may have.
    pub(super) fn outlooks(&self) -> Vec<Outlook> {
        let of = |lens| {
            Outlook::of(&self.written.pose, lens, &self.scene, &self.recording, &self.deliverables)
        };
        self.lenses.iter().map(of).collect()
    }

    pub(super) fn answer(&self) -> MountAnswer {
        let (written, mode) = (self.written, self.mode);
        let (pose, day) = (&written.pose, &self.prepared.brief.before.day);
        let gear = written.gear.or(&day.gear);
        let outlooks = self.outlooks();
        let exposure = exposure(&gear, day, mode.rate);
        let exposure_secs = gear
            .shutter_secs
            .or_else(|| exposure.as_ref().and_then(|exposure| exposure.taken_secs()));
        let shapes: Vec<MountShapeAnswer> = (0..self.deliverables.len())
            .map(|place| self.shape(place, &outlooks, (exposure_secs, gear.shake)))
            .collect();
        let passes = shapes.iter().all(|shape| shape.fits);
        let timeline_rate = self.prepared.brief.timeline_rate;
        let ground = |edge: usize| every(&outlooks, |outlook| outlook.ground_m[edge]);
        MountAnswer {
            name: written.name.clone(),
            camera: mode.camera.clone(),
            mode: mode.name.clone(),
            way_up: written.way_up.to_string(),
            shown: self.lenses.raster().to_string(),
            rate: mode.rate,
            slow_motion: SlowMotion::of(mode.rate, timeline_rate).factor(),
            lens: self.lenses.words(),
            lens_from: if self.is_lens_measured { "measured" } else { "spec" },
            fov_degrees: [Span::Horizontal, Span::Vertical]
                .map(|span| self.lenses.field_of_view(span).to_degrees()),
            height_m: pose.height_m(),
            tilt_down_degrees: pose.tilt_down().to_degrees(),
            roll_degrees: pose.roll().to_degrees(),
            horizon_row: every(&outlooks, |outlook| outlook.horizon_row),
            ground_m: [ground(0), ground(1)],
            subject: self.scene.subject.as_ref().map(|s| self.subject(s, &outlooks, exposure_secs)),
            remedy: if passes { None } else { self.remedy() },
            passes,
            shapes,
            exposure,
            endurance: endurance(&gear, day, mode.megabits_a_second),
        }
    }

    fn remedy(&self) -> Option<RemedyAnswer> {
        let pose = &self.written.pose;
        let Remedy { tilt_down_degrees, raise_m, back_m } =
            remedies(pose, &self.lenses, &self.scene, &self.recording, &self.deliverables);
        let found = RemedyAnswer { tilt_down_degrees, raise_m, back_m };
        let is_some = tilt_down_degrees.is_some() || raise_m.is_some() || back_m.is_some();
        is_some.then_some(found)
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
            ground_degrees_a_second: self.ground_rush(subject),
            at: self.scene.distances_m.iter().enumerate().map(at).collect(),
        }
    }

    /// How fast the ground that the axis meets goes by, where the subject goes along the line of sight.
    fn ground_rush(&self, subject: &Subject) -> Option<f64> {
        let pose = &self.written.pose;
        let speed = GroundSpeed::of(subject.speed_m_s, pose.height_m(), pose.tilt_down())?;
        let is_along = subject.way == Way::Along && subject.speed_m_s > 0.0;
        is_along.then(|| speed.along.to_degrees())
    }

    fn shape(
        &self,
        place: usize,
        outlooks: &[Outlook],
        (exposure_secs, shake): (Option<f64>, Option<Shake>),
    ) -> MountShapeAnswer {
        let (deliverable, limits) = &self.deliverables[place];
        let shapes: Vec<&ShapeOutlook> =
            outlooks.iter().map(|outlook| &outlook.shapes[place]).collect();
        let fitting = shapes.iter().filter(|shape| shape.room.window().is_some()).count();
        let lacks = |of: fn(&crate::mount::Lack) -> f64| {
            let all = shapes.iter().map(|shape| match &shape.room {
                WindowRoom::Fits { .. } => 0.0,
                WindowRoom::Lacks(lack) => of(lack),
            });
            Between::all(all).unwrap_or(Between::exactly(0.0))
        };
        let enlargement =
            every_shape(&shapes, |shape| Some(shape.enlargement)).unwrap_or(Between::exactly(0.0));
        let first = shapes.iter().find_map(|shape| match shape.room {
            WindowRoom::Fits { window, top, .. } => Some((window, top)),
            WindowRoom::Lacks(_) => None,
        });
        let frame = self.lenses.raster();
        let window = first.map_or_else(|| centred(frame, deliverable), |(window, _)| window);
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
        MountShapeAnswer {
            deliverable: deliverable.name.clone(),
            fits: fitting == shapes.len(),
            depends_on_lens: fitting > 0 && fitting < shapes.len(),
            window_px: first.map(|(w, _)| [w.left(), w.top(), w.width(), w.height()]),
            top_from_to_px: first.map(|(_, (from, to))| [from, to]),
            lacks_px: [lacks(|lack| lack.across_px), lacks(|lack| lack.down_px)],
            enlargement,
            band: Band::of(enlargement.to(), limits),
            subject_top: self.at_distances(&shapes, |shape, at| Some(shape.subject_rows[at]?.0)),
            subject_bottom: self.at_distances(&shapes, |shape, at| Some(shape.subject_rows[at]?.1)),
            subject_width: self.at_distances(&shapes, |shape, at| shape.subject_widths[at]),
            horizon_inside_px: every_shape(&shapes, |shape| shape.horizon_inside_px),
            follow_secs_a_width: passing(&|passing: &Passing| passing.secs_a_width(window.width())),
            pan_limits_secs: [Limit::PanCaution, Limit::PanHard].map(|limit| limits.value(limit)),
            crossing: distances().map(|distance_m| self.crossing(&window, *distance_m)).collect(),
            blur_share: blur.unwrap_or_default(),
            blur_limits: [Limit::BlurLook, Limit::BlurHold].map(|limit| limits.value(limit)),
            steady_enlargement: shake.and_then(|shake| self.steady(&window, deliverable, &shake)),
        }
    }

    /// Something of the subject at each distance, where there is one.
    fn at_distances(
        &self,
        shapes: &[&ShapeOutlook],
        ask: impl Fn(&ShapeOutlook, usize) -> Option<f64>,
    ) -> Vec<Option<Between>> {
        let count = if self.scene.subject.is_some() { self.scene.distances_m.len() } else { 0 };
        (0..count).map(|at| every_shape(shapes, |shape| ask(shape, at))).collect()
    }

    fn crossing(&self, window: &Window, distance_m: f64) -> Option<CrossingAnswer> {
        let subject = self.scene.subject.as_ref()?;
        let of = |lens| Crossing::of(subject, &self.written.pose, lens, distance_m, window);
        let crossings: Option<Vec<Crossing>> = self.lenses.iter().map(of).collect();
        let crossings = crossings?;
        let fold = |of: fn(&Crossing) -> f64, pick: fn(f64, f64) -> f64| {
            crossings.iter().map(of).reduce(pick)
        };
        Some(CrossingAnswer {
            nose_in_secs: fold(|crossing| crossing.nose_in_secs, f64::max)?,
            tail_out_secs: fold(|crossing| crossing.tail_out_secs, f64::min)?,
            wholly_inside_secs: fold(Crossing::wholly_inside_secs, f64::min)?,
        })
    }

    /// The least enlargement of a window about the same centre that a shaking mount leaves its room.
    fn steady(&self, window: &Window, deliverable: &Deliverable, shake: &Shake) -> Option<Between> {
        let level = Levelling::none(self.lenses.raster());
        self.lenses.every(|lens| {
            let width = ShakeBudget::of(lens, &level, window, shake).largest_width_px?;
            let width = width.min(window.width());
            Some(self.recording.enlargement(deliverable.raster.width(), width))
        })
    }
}

/// The largest window of a shape in the middle of a frame.
pub(super) fn centred(frame: Raster, deliverable: &Deliverable) -> Window {
    let (width, _) = largest_window(frame, deliverable.shape());
    Window::about(frame, deliverable.shape(), (frame.width() / 2.0, frame.height() / 2.0), width)
        .expect("the largest window lies in the middle of its frame")
}

/// The range of something over all that may be seen; `None` if one has none.
fn every(outlooks: &[Outlook], ask: impl Fn(&Outlook) -> Option<f64>) -> Option<Between> {
    let answers: Option<Vec<f64>> = outlooks.iter().map(ask).collect();
    Between::all(answers?)
}

/// The range of something of a shape over all that may be seen; `None` if one has none.
fn every_shape(
    shapes: &[&ShapeOutlook],
    ask: impl Fn(&ShapeOutlook) -> Option<f64>,
) -> Option<Between> {
    let answers: Option<Vec<f64>> = shapes.iter().map(|shape| ask(shape)).collect();
    Between::all(answers?)
}
