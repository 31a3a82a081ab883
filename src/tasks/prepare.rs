//! From a shoot file to clips that can be planned, with every problem gathered on the way.

use super::{CancelToken, Observer, TaskError, observe::watch_counting, with_causes};
use crate::{
    clip::{Footage, PathCopy, Reading},
    delivery::{Limit, Limits},
    media::{self, MediaError, Opened, Programs},
    shoot::{self, Fault, ResolvedClip, Shoot, ShootClip},
};
use std::{
    error::Error,
    fmt,
    path::{Path, PathBuf},
};

/// Something that must be mended before anything is planned.
#[derive(Debug)]
pub enum Problem {
    /// In what was written.
    Written(Fault),
    /// In a clip's footage.
    Footage {
        /// The shoot file.
        file: PathBuf,
        /// The line of the clip.
        line: u64,
        /// The clip.
        clip: String,
        /// What is wrong.
        error: Box<MediaError>,
    },
    /// Margins and blocked zones together leave no room in the window.
    NoRoomInside {
        /// The shoot file.
        file: PathBuf,
        /// The line of the clip.
        line: u64,
        /// The clip.
        clip: String,
        /// The deliverable.
        deliverable: String,
        /// The share of the window that they take along the fuller axis.
        taken_percent: f64,
    },
}

impl Problem {
    /// The file and the line that is to blame; no line for a file as a whole.
    #[must_use]
    pub fn place(&self) -> (&Path, Option<u64>) {
        match self {
            Self::Written(fault) => (&fault.file, fault.line),
            Self::Footage { file, line, .. } | Self::NoRoomInside { file, line, .. } => {
                (file, Some(*line))
            }
        }
    }

    /// The most of a window that margins and blocked zones may take along an axis.
    const MOST_TAKEN: f64 = 0.95;
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Written(fault) => fault.fmt(f),
            Self::Footage { file, line, clip, error } => {
                let words = with_causes(error.as_ref());
                write!(f, "{}:{line}: clip {clip}: {words}", file.display())
            }
            Self::NoRoomInside { file, line, clip, deliverable, taken_percent } => write!(
                f,
                "{}:{line}: clip {clip}, deliverable {deliverable}: margins and blocked zones take {taken_percent:.0} % \
                 of the window, and at most {:.0} % can be taken; make the margins smaller",
                file.display(),
                100.0 * Self::MOST_TAKEN
            ),
        }
    }
}

impl Error for Problem {}

/// A clip that can be planned.
pub(super) struct PreparedClip {
    pub(super) resolved: ResolvedClip,
    pub(super) opened: Opened,
    /// From which clip it takes its path, if it is not planned by itself.
    pub(super) copy: Option<PathCopy>,
    /// Its place among the clips of the shoot file.
    pub(super) place: usize,
}

/// A shoot whose clips can all be planned.
pub(super) struct Prepared {
    pub(super) shoot: Shoot,
    pub(super) clips: Vec<PreparedClip>,
}

impl Prepared {
    /// Refuses a folder to write to in which a clip's frames are: the pictures that are written would be read as frames.
    ///
    /// # Errors
    /// [`TaskError::OutputsAmongFrames`].
    pub(super) fn check_outputs(&self, folder: &Path) -> Result<(), TaskError> {
        // One that is not there yet holds no frames.
        let Ok(outputs) = folder.canonicalize() else { return Ok(()) };
        let is_among = |clip: &&ShootClip| {
            let frames = frames_folder(&clip.footage).and_then(|frames| frames.canonicalize().ok());
            frames.as_ref() == Some(&outputs)
        };
        let mut clips = self.shoot.clips.iter();
        clips.find(is_among).map_or(Ok(()), |clip| {
            let (folder, clip) = (folder.to_owned(), clip.name.clone());
            Err(TaskError::OutputsAmongFrames { folder, clip })
        })
    }
}

/// The folder of numbered pictures; a video file is never taken for something that is written.
fn frames_folder(footage: &Footage) -> Option<&Path> {
    match footage {
        Footage::Sequence(path) if path.is_dir() => Some(path),
        Footage::Sequence(path) => path.parent(),
        Footage::Video(_) => None,
    }
}

/// Which clips are opened, and whether they have to be marked.
#[derive(Debug, Clone, Copy)]
pub(super) enum Wanted<'n> {
    /// Every clip, each with its marks.
    Marked,
    /// The clip of this name, or every clip; those without a mark too.
    Shown(Option<&'n str>),
}

impl Wanted<'_> {
    fn is_wanted(self, clip: &ShootClip) -> bool {
        match self {
            Self::Marked | Self::Shown(None) => true,
            Self::Shown(Some(name)) => clip.name == name,
        }
    }

    fn is_told(self, fault: &Fault) -> bool {
        matches!(self, Self::Marked) || !fault.is_for_want_of_marks()
    }
}

/// Reads the shoot file and opens the footage of every clip.
///
/// # Errors
/// [`TaskError::Problems`] with all there are: those of what was written and those of the footage together.
pub(super) fn prepare(
    path: &Path,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<Prepared, TaskError> {
    prepare_wanted(path, Wanted::Marked, (observer, cancel))
}

/// Reads the shoot file and opens the footage of the clips that are wanted.
///
/// # Errors
/// As [`prepare`]; [`TaskError::NoSuchClip`].
pub(super) fn prepare_wanted(
    path: &Path,
    wanted: Wanted<'_>,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<Prepared, TaskError> {
    let shoot::Reading { shoot, faults } = shoot::read(path)?;
    let mut problems = Vec::new();
    let mut written: Vec<Fault> =
        faults.into_iter().filter(|fault| wanted.is_told(fault)).collect();
    if let Wanted::Shown(Some(name)) = wanted {
        if written.is_empty() && shoot.clip(name).is_none() {
            let known = shoot.clips.iter().map(|clip| clip.name.clone()).collect();
            return Err(TaskError::NoSuchClip { name: name.to_owned(), known });
        }
    }
    let mut clips = Vec::new();
    let opened = shoot.clips.iter().enumerate().filter(|(_, clip)| wanted.is_wanted(clip));
    for (place, clip) in opened {
        cancel.check()?;
        problems.extend(crowded_deliverables(&shoot, clip));
        let reading = reading_of(&shoot, clip);
        let mut watch = watch_counting(observer, cancel);
        let opened = media::open_with(&Programs::default(), &clip.footage, &reading, &mut watch);
        drop(watch);
        cancel.check()?;
        match opened {
            Ok(opened) => match shoot.resolve(clip, &opened.facts) {
                Ok(resolved) => clips.push(PreparedClip { resolved, opened, copy: None, place }),
                Err(faults) => written.extend(faults),
            },
            Err(error) => problems.push(Problem::Footage {
                file: shoot.path.clone(),
                line: clip.line,
                clip: clip.name.clone(),
                error: Box::new(error),
            }),
        }
    }
    written.extend(resolve_copies(&shoot, &mut clips));
    let mut all: Vec<Problem> =
        Fault::in_order(written).into_iter().map(Problem::Written).collect();
    all.extend(problems);
    if all.is_empty() {
        Ok(Prepared { shoot, clips })
    } else {
        Err(TaskError::Problems { problems: all })
    }
}

/// Holds each clip that takes the path of another against it. What follows only from a fault of the other is
/// left out.
fn resolve_copies(shoot: &Shoot, clips: &mut [PreparedClip]) -> Vec<Fault> {
    let mut faults = Vec::new();
    let copies: Vec<Option<PathCopy>> = clips
        .iter()
        .map(|prepared| {
            let clip = &shoot.clips[prepared.place];
            let from = &clip.copy.as_ref()?.from;
            let other = clips.iter().find(|other| other.resolved.clip.name == *from)?;
            let copy = shoot.resolve_copy(clip, &prepared.resolved, &other.resolved);
            copy.map_err(|told| faults.extend(told)).ok().flatten()
        })
        .collect();
    for (prepared, copy) in clips.iter_mut().zip(copies) {
        prepared.copy = copy;
    }
    faults
}

/// What the shoot file says of how a clip's footage is to be read.
pub(super) fn reading_of(shoot: &Shoot, clip: &ShootClip) -> Reading {
    let orientation = shoot.view_of(clip).orientation();
    Reading { rate: clip.rate, track: clip.track, orientation }
}

/// The deliverables of a clip whose margins and blocked zones leave no room.
fn crowded_deliverables(shoot: &Shoot, clip: &ShootClip) -> Vec<Problem> {
    let taken = |limits: &Limits, blocked: &crate::delivery::BlockedZones| {
        let across = blocked.left + blocked.right + 2.0 * limits.number(Limit::MarginAcross);
        let down = blocked.top + blocked.bottom + 2.0 * limits.number(Limit::MarginDown);
        across.max(down)
    };
    shoot
        .deliverables_of(clip)
        .filter_map(|deliverable| {
            let taken = taken(&shoot.limits_for(clip, deliverable), &deliverable.blocked);
            (taken > Problem::MOST_TAKEN).then(|| Problem::NoRoomInside {
                file: shoot.path.clone(),
                line: clip.line,
                clip: clip.name.clone(),
                deliverable: deliverable.name.clone(),
                taken_percent: 100.0 * taken,
            })
        })
        .collect()
}
