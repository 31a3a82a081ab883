//! The mounts of a brief with everything that they need: the kit's mode as the brief's own camera changes it.

use super::{TaskError, kit::Prepared};
use crate::{
    brief::recording,
    capture::CaptureMode,
    delivery::{Deliverable, Limits},
    geometry::Raster,
    lens::{PossibleLenses, SaidLens},
    mount::{MountError, Outlook, Scene},
    sharpness::Recording,
    shoot::{Camera, Fault, FaultKind, Sheet, WrittenGear, WrittenMount},
};

/// One mount with everything that it needs.
#[derive(Debug, Clone)]
pub(super) struct PlannedMount<'a> {
    pub(super) written: &'a WrittenMount,
    /// The kit's mode, with what the brief's own camera says instead.
    pub(super) mode: CaptureMode,
    /// Before the frame as it is shown, the inside crop taken off.
    pub(super) lenses: PossibleLenses,
    /// Where the lens is known from: `measured`, `as written`, or `spec`.
    pub(super) lens_from: &'static str,
    pub(super) scene: Scene,
    pub(super) recording: Recording,
    /// Card, battery and exposure: the mount's own, or else its camera's, or else the day's.
    pub(super) gear: WrittenGear,
    pub(super) deliverables: Vec<(Deliverable, Limits)>,
    pub(super) prepared: &'a Prepared,
}

impl PlannedMount<'_> {
    /// What it will see, through each lens that it may have.
    pub(super) fn outlooks(&self) -> Vec<Outlook> {
        self.lenses.iter().map(|l| Outlook::of(&self.written.pose, l, &self.scene)).collect()
    }
}

/// A fault of a mount: the line and the key that it is at.
type MountFault = (u64, &'static str, FaultKind);

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
            Err((line, field, kind)) => faults.push(Fault {
                sheet: Sheet::Shoot,
                file: prepared.brief.path.clone(),
                line: Some(line),
                column: None,
                field: Some(field.to_owned()),
                kind,
            }),
        }
    }
    if faults.is_empty() { Ok(planned) } else { Err(super::kit::problems(faults)) }
}

fn planned_mount<'a>(
    prepared: &'a Prepared,
    written: &'a WrittenMount,
) -> Result<PlannedMount<'a>, MountFault> {
    let at_mode = |kind| (written.mode_line, "mode", kind);
    let camera = written
        .camera
        .as_ref()
        .and_then(|name| prepared.brief.cameras.iter().find(|camera| camera.name == *name));
    let own_lens = camera.and_then(|camera| camera.lens.as_ref());
    let mode = mode_of(prepared.mode(&written.mode).map_err(at_mode)?, camera)
        .map_err(|kind| (written.mode_line, "camera", kind))?;
    let lenses = mode
        .lens
        .ok_or_else(|| at_mode(FaultKind::NoFieldOfView { mode: written.mode.clone() }))?;
    let lenses = lenses
        .shown(written.way_up.orientation())
        .behind_inside_crop(mode.inside_crop.linear_factor());
    rig_is_seen(written, lenses.raster()).map_err(|kind| (written.line, "rig", kind))?;
    let scene = Scene {
        subject: written.subject.clone(),
        distances_m: written.distances_m.clone(),
        horizon_above: written.horizon_above,
        rig: written.rig.iter().map(|(_, region)| *region).collect(),
    };
    let of_mount =
        |(deliverable, _): &(Deliverable, Limits)| written.deliverables.contains(&deliverable.name);
    let of_camera = WrittenGear {
        shutter_secs: camera.and_then(|camera| camera.shutter_secs),
        ..WrittenGear::default()
    };
    Ok(PlannedMount {
        written,
        lenses,
        lens_from: match own_lens.map(SaidLens::is_measured) {
            Some(true) => "measured",
            Some(false) => "as written",
            None => "spec",
        },
        scene,
        recording: Recording {
            sharpness: camera.and_then(|camera| camera.sharpness.clone()),
            ..recording(&mode)
        },
        gear: written.gear.or(&of_camera).or(&prepared.brief.before.day.gear),
        mode,
        deliverables: prepared.deliverables(camera).into_iter().filter(of_mount).collect(),
        prepared,
    })
}

/// A mode of the kit with the lens and the inside crop that a camera of the brief has instead, where they are written.
fn mode_of(mode: &CaptureMode, camera: Option<&Camera>) -> Result<CaptureMode, FaultKind> {
    let Some(camera) = camera else { return Ok(mode.clone()) };
    let lens = match &camera.lens {
        Some(said) => Some(said.before(mode.raster)?),
        None => mode.lens,
    };
    let inside_crop = camera.inside_crop.unwrap_or(mode.inside_crop);
    Ok(CaptureMode { lens, inside_crop, ..mode.clone() })
}

/// A part of the rig that lies beside the picture is a slip of the pen.
fn rig_is_seen(written: &WrittenMount, frame: Raster) -> Result<(), FaultKind> {
    let is_outside = |region: &crate::geometry::Region| {
        region.left() >= frame.width()
            || region.top() >= frame.height()
            || region.right() <= 0.0
            || region.bottom() <= 0.0
    };
    let outside = written.rig.iter().map(|(_, region)| region).find(|region| is_outside(region));
    outside.map_or(Ok(()), |region| {
        Err(MountError::RigOutside {
            left: region.left(),
            top: region.top(),
            right: region.right(),
            bottom: region.bottom(),
            frame,
        }
        .into())
    })
}
