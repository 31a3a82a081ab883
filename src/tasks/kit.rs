//! The brief and the kit, read and checked for the tasks of the time before mounting.

use super::{Problem, TaskError};
use crate::{
    capture::CaptureMode,
    delivery::{Deliverable, Limits},
    shoot::{Camera, Fault, FaultKind, Shoot, read_brief, read_kit},
};
use std::path::{Path, PathBuf};

/// What is asked, and the modes that may give it.
#[derive(Debug)]
pub(super) struct Prepared {
    pub(super) brief: Shoot,
    pub(super) kit_path: PathBuf,
    pub(super) modes: Vec<CaptureMode>,
}

impl Prepared {
    /// Reads both: the kit that is named, or else the one that the brief names.
    pub(super) fn read(brief: &Path, kit: Option<&Path>) -> Result<Self, TaskError> {
        let mut faults = Vec::new();
        let read = read_brief(brief)?;
        faults.extend(read.faults);
        let named = kit.map(Path::to_owned).or_else(|| read.shoot.before.kit_path.clone());
        let mut modes = Vec::new();
        if let Some(path) = &named {
            let kit = read_kit(path)?;
            modes = kit.modes;
            faults.extend(kit.faults);
        }
        if !faults.is_empty() {
            return Err(problems(faults));
        }
        let kit_path = named.ok_or_else(|| TaskError::NoKit { brief: brief.to_owned() })?;
        Ok(Self { brief: read.shoot, kit_path, modes })
    }

    /// The mode of this name: its own, or its camera's and its own.
    pub(super) fn mode(&self, name: &str) -> Result<&CaptureMode, FaultKind> {
        let titled = self.modes.iter().find(|mode| mode.to_string() == name);
        let named: Vec<&CaptureMode> = match titled {
            Some(mode) => vec![mode],
            None => self.modes.iter().filter(|mode| mode.name == name).collect(),
        };
        match named.as_slice() {
            [mode] => Ok(mode),
            [] => {
                let known = self.modes.iter().map(|mode| mode.name.as_str());
                Err(FaultKind::unknown_mode(name, known))
            }
            several => {
                let titles = several.iter().map(|mode| format!("\"{mode}\"")).collect::<Vec<_>>();
                Err(FaultKind::ModeOfSeveral { mode: name.to_owned(), titles: titles.join(", ") })
            }
        }
    }

    /// What is to be delivered, with the limits that it is held to where that camera takes it.
    pub(super) fn deliverables(&self, camera: Option<&Camera>) -> Vec<(Deliverable, Limits)> {
        let with_limits = |deliverable: &Deliverable| {
            (deliverable.clone(), self.brief.deliverable_limits(deliverable, camera))
        };
        self.brief.deliverables.iter().map(with_limits).collect()
    }
}

/// Faults as what has to be mended first.
pub(super) fn problems(faults: Vec<Fault>) -> TaskError {
    let problems = Fault::in_order(faults).into_iter().map(Problem::Written).collect();
    TaskError::Problems { problems }
}
