//! From a shoot file to clips that can be planned, with every problem gathered on the way.

use super::{
    CancelToken, Event, Observer, TaskError,
    made_table::UsedTable,
    motions::{self, KeptMotion},
    observe::watch_counting,
    with_causes,
};
use crate::{
    clip::{Footage, PathCopy, Reading},
    delivery::{Limit, Limits},
    media::{self, MediaError, Opened, Programs},
    plan::WeakTrack,
    shoot::{self, Fault, FaultKind, ResolvedClip, Sheet, Shoot, ShootClip},
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
    /// The tables beside the marks that are used for it, with what is in them.
    pub(super) made: Vec<(PathBuf, Vec<u8>)>,
    /// Where its track, if one is used, is weakest on used frames.
    pub(super) weak: Vec<WeakTrack>,
    /// Hard cuts that were found when it was followed and that the shoot file does not have.
    pub(super) found_cuts: Vec<u64>,
}

impl PreparedClip {
    const fn new(resolved: ResolvedClip, opened: Opened, place: usize) -> Self {
        Self {
            resolved,
            opened,
            copy: None,
            place,
            made: Vec::new(),
            weak: Vec::new(),
            found_cuts: Vec::new(),
        }
    }
}

/// A shoot whose clips can all be planned.
pub(super) struct Prepared {
    pub(super) shoot: Shoot,
    pub(super) clips: Vec<PreparedClip>,
}

impl Prepared {
    fn unless(self, problems: Vec<Problem>) -> Result<Self, TaskError> {
        if problems.is_empty() { Ok(self) } else { Err(TaskError::Problems { problems }) }
    }

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

/// Reads the shoot file and opens the footage of every clip, for planning.
///
/// # Errors
/// [`TaskError::Problems`] with all there are: those of what was written and those of the footage together.
pub(super) fn prepare(
    path: &Path,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<Prepared, TaskError> {
    let (mut prepared, mut problems) = prepare_all(path, Wanted::Marked, (&mut *observer, cancel))?;
    // What a motion file with faults lacks may only follow from them.
    let is_of_motion = |problem: &Problem| matches!(problem, Problem::Written(fault) if fault.sheet == Sheet::Motion);
    if problems.iter().any(is_of_motion) {
        return prepared.unless(problems);
    }
    for clip in &mut prepared.clips {
        let told = join_motion(&prepared.shoot, clip, observer)?;
        problems.extend(told.into_iter().map(Problem::Written));
    }
    prepared.unless(problems)
}

/// The same for following marks, before which the motion of a background need not be known.
///
/// # Errors
/// As [`prepare`].
pub(super) fn prepare_to_follow(
    path: &Path,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<Prepared, TaskError> {
    prepare_wanted(path, Wanted::Marked, (observer, cancel))
}

/// Reads the shoot file and opens the footage of the clips that are wanted; motion is not joined.
///
/// # Errors
/// As [`prepare`]; [`TaskError::NoSuchClip`].
pub(super) fn prepare_wanted(
    path: &Path,
    wanted: Wanted<'_>,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<Prepared, TaskError> {
    let (prepared, problems) = prepare_all(path, wanted, (observer, cancel))?;
    prepared.unless(problems)
}

/// Gives a clip the measured motion of its background where the shoot's own motion file has none, and tells what is wrong
/// with it, or that there is none and the clip cannot do without.
fn join_motion(
    shoot: &Shoot,
    prepared: &mut PreparedClip,
    observer: &mut dyn Observer,
) -> Result<Vec<Fault>, TaskError> {
    let clip = &shoot.clips[prepared.place];
    let name = clip.name.clone();
    if motions::is_written(shoot, &name) || !motions::is_wanted(shoot, clip, &prepared.resolved) {
        return Ok(Vec::new());
    }
    let is_needed = motions::is_needed(&prepared.resolved);
    let lacking = |kind| {
        let (sheet, file, line) = (Sheet::Shoot, shoot.path.clone(), Some(clip.line));
        vec![Fault { sheet, file, line, column: None, field: None, kind }]
    };
    match motions::kept(shoot, prepared)? {
        KeptMotion::None if is_needed => {
            let is_file_named = shoot.motion_path.is_some();
            return Ok(lacking(FaultKind::NoMotion { clip: name, is_file_named }));
        }
        KeptMotion::None => {}
        KeptMotion::Stale if is_needed => {
            return Ok(lacking(FaultKind::StaleMotion { clip: name }));
        }
        KeptMotion::Stale => observer.hear(Event::Notice(&format!(
            "the motion of clip {name}'s background was measured with other marks, ranges or footage and is not used; follow \
             the marks again"
        ))),
        KeptMotion::Fresh(_, UsedTable { path, bytes, said }) => {
            said.iter().for_each(|said| observer.hear(Event::Notice(said)));
            let held = (&prepared.opened.facts, &prepared.resolved);
            match shoot.measured_motion(clip, held, (&path, &bytes)) {
                Ok(motion) => {
                    prepared.resolved.motion = motion;
                    prepared.made.push((path, bytes));
                }
                Err(faults) => return Ok(faults),
            }
        }
    }
    Ok(Vec::new())
}

/// Everything that can be prepared, and every problem there is.
fn prepare_all(
    path: &Path,
    wanted: Wanted<'_>,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<(Prepared, Vec<Problem>), TaskError> {
    let shoot::Reading { shoot, faults } = shoot::read(path)?;
    let mut problems = Vec::new();
    let mut written: Vec<Fault> =
        faults.into_iter().filter(|fault| wanted.is_told(fault)).collect();
    if let Wanted::Shown(Some(name)) = wanted
        && written.is_empty()
        && shoot.clip(name).is_none()
    {
        let known = shoot.clips.iter().map(|clip| clip.name.clone()).collect();
        return Err(TaskError::NoSuchClip { name: name.to_owned(), known });
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
                Ok(resolved) => clips.push(PreparedClip::new(resolved, opened, place)),
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
    Ok((Prepared { shoot, clips }, all))
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
