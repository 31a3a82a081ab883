//! One file per thing a user asks for. Everything the command can do, these do: no printing and no flags here.
//!
//! A task takes an [`Observer`] that hears of progress and notices, and a [`CancelToken`] that ends it early.

mod aim_answer;
mod causes;
mod check_shoot;
mod clauses;
mod compare_modes;
mod conflicts;
mod copying;
mod crop_answer;
mod cut;
mod decide;
mod describe_clip;
mod endurance;
mod find_action;
mod kit;
mod lead;
mod looking;
mod made_table;
mod marking_sheets;
mod motions;
mod mount_answer;
mod mount_musts;
mod mount_sheets;
mod mount_words;
mod notices;
mod observe;
mod one_look;
mod outputs;
mod pictures;
mod plan_shoot;
mod planned_mounts;
mod predict_mounts;
mod prepare;
mod requests;
mod shake_answer;
mod sharpness_answer;
mod smear;
mod stand;
mod steady;
mod stills;
mod stretch_answer;
mod sync_answer;
mod track_shoot;
mod tracks;

pub use aim_answer::{AimAnswer, AimQuestion, aim_answer, still_raster};
pub use causes::with_causes;
pub use check_shoot::{CheckedClip, CheckedShoot, check_shoot};
pub use compare_modes::{
    HeldAnswer, Instead, ModeAnswer, ModesAnswer, MustAnswer, ShapeAnswer, ViewerAnswer,
    compare_modes,
};
pub use crop_answer::{CropAnswer, CropQuestion, DeliveredAnswer, Spare, crop_answer};
pub use describe_clip::{
    ClipAnswer, ClipQuestion, Decoded, DeliveryAnswer, Depth, USUAL_DELIVERIES, clips_that_go_on,
    describe_clip,
};
pub use endurance::{Endurance, ExposureAnswer, FilterAnswer, whole_minutes};
pub use find_action::{FindAnswer, FindQuestion, FoundWindow, ShotAction, find_action};
pub use made_table::MadeTable;
pub use marking_sheets::{MarkingDone, MarkingOptions, marking_sheets};
pub use motions::{FoundRig, MeasuredShake, MotionNote};
pub use mount_answer::{
    CrossingAnswer, GroundRushAnswer, MountAnswer, MountShapeAnswer, MountsAnswer, RoundsAnswer,
    SubjectAnswer, SubjectAtAnswer, ThroughAnswer, UnmetAnswer, remedy_words,
};
pub use mount_sheets::{MountSheetsDone, WrittenMountSheet, mount_sheets};
pub use observe::{CancelToken, Event, Observer, Unobserved};
pub use outputs::Outputs;
pub use pictures::Overlays;
pub use plan_shoot::{PlanDone, PlanOptions, plan_shoot};
pub use predict_mounts::predict_mounts;
pub use prepare::Problem;
pub use requests::pan_rules;
pub use shake_answer::{CentreOnlyAnswer, LensAnswer, ShakeAnswer};
pub use sharpness_answer::{
    CurveSource, EdgeAnswer, SharpnessAnswer, SharpnessQuestion, sharpness_answer,
};
pub use stills::{
    BlurAnswer, BlurOf, BoxesFrom, ClipStills, PrintAnswer, ScoreParts, Still, StillsDone,
    StillsFor, StillsOptions, stills,
};
pub use stretch_answer::{StraightAnswer, StretchAnswer};
pub use sync_answer::{SoundDelay, SyncAnswer, SyncQuestion, sync_answer};
pub use track_shoot::{MotionOf, TrackDone, TrackOptions, TrackedClip, track_shoot};
pub use tracks::{FollowedThing, MadeFrom, TrackNote, Weak};

use crate::{
    action::ActionError,
    geometry::{GeometryError, Raster, Shape},
    handoff::{HandoffError, TrackRowError},
    lens::LensError,
    media::{MediaError, NotKept, StillError},
    mount::MountError,
    pan::PanError,
    picture::FrameError,
    sharpness::{EdgeFault, ToneCurveError},
    shoot::ShootError,
    subject::FollowError,
    timecode::TimecodeError,
};
use std::path::PathBuf;

/// Why a task could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TaskError {
    /// The shoot file cannot be read at all.
    #[error(transparent)]
    Shoot(#[from] ShootError),
    /// Things that must be mended first, all of them.
    #[error("{} to mend first", counted(problems.len(), "thing"))]
    Problems {
        /// In the order in which a user meets them.
        problems: Vec<Problem>,
    },
    /// A delivered raster is not of the shape that was asked for.
    #[error("{delivered} is {}, and the window is {shape}", delivered.shape())]
    ShapesDiffer {
        /// The raster.
        delivered: Raster,
        /// The shape.
        shape: Shape,
    },
    /// Frames that do not go together.
    #[error(transparent)]
    Timecode(#[from] TimecodeError),
    /// A clapper at no distance that a clap is heard from.
    #[error("a clapper {distance_m} m away is out of range, expected 0 to {greatest_m} m")]
    ClapperDistance {
        /// How far away it is said to be.
        distance_m: f64,
        /// The most.
        greatest_m: f64,
    },
    /// A clip that the shoot file does not have.
    #[error("there is no clip `{name}`; the shoot file has {}", known.join(", "))]
    NoSuchClip {
        /// What was asked for.
        name: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// A deliverable that the shoot file does not have.
    #[error("there is no deliverable `{name}`; the shoot file has {}", known.join(", "))]
    NoSuchDeliverable {
        /// What was asked for.
        name: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// Pictures that cannot be measured.
    #[error(transparent)]
    Action(#[from] ActionError),
    /// A window that cannot be.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
    /// A lens that cannot be.
    #[error(transparent)]
    Lens(#[from] LensError),
    /// A mount that cannot be.
    #[error(transparent)]
    Mount(#[from] MountError),
    /// A path could not be computed.
    #[error("clip {clip}, deliverable {deliverable}: the path could not be computed")]
    Pan {
        /// The clip.
        clip: String,
        /// The deliverable.
        deliverable: String,
        /// Why.
        source: PanError,
    },
    /// A file is no footage that can be read.
    #[error("{source}")]
    Footage {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: Box<MediaError>,
    },
    /// A picture could not be read.
    #[error("clip {clip}: a picture could not be read")]
    Frame {
        /// The clip.
        clip: String,
        /// Why.
        source: FrameError,
    },
    /// A frame was asked for that the clip does not use.
    #[error(
        "frame {frame} was asked for, and no clip has more than {frame_count} frames, counted from 0"
    )]
    NoSuchFrame {
        /// The frame.
        frame: u64,
        /// The frames of the longest clip.
        frame_count: u64,
    },
    /// A thing that could not be followed through the pictures.
    #[error("clip {clip}: `{name}` could not be followed")]
    Follow {
        /// The clip.
        clip: String,
        /// The thing.
        name: String,
        /// Why.
        source: Box<FollowError>,
    },
    /// A track that does not say what it should.
    #[error("{} cannot be used; mend the row, or delete the file and follow again", path.display())]
    Track {
        /// The file.
        path: PathBuf,
        /// Which row, and what is wrong with it.
        source: TrackRowError,
    },
    /// A still cannot be read.
    #[error("{} is not a still that can be measured", path.display())]
    Still {
        /// The file.
        path: PathBuf,
        /// Why.
        source: StillError,
    },
    /// A slanted edge cannot be measured.
    #[error("{}: no edge was measured", path.display())]
    Edge {
        /// The still.
        path: PathBuf,
        /// Why.
        source: EdgeFault,
    },
    /// A tone curve's file cannot be read.
    #[error("the tone curve {} could not be read", path.display())]
    CurveUnread {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A tone curve's file is no tone curve.
    #[error("{} is not a tone curve", path.display())]
    Curve {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: ToneCurveError,
    },
    /// Pictures could not be kept while they are looked at.
    #[error(transparent)]
    NotKept(#[from] NotKept),
    /// A picture could not be put into its file format.
    #[error("{name} could not be made")]
    Encode {
        /// The file.
        name: String,
        /// Why.
        source: image::ImageError,
    },
    /// A hand-off file could not be made.
    #[error("{name} could not be made")]
    Handoff {
        /// The file.
        name: String,
        /// Why.
        source: HandoffError,
    },
    /// The report could not be made.
    #[error("the report could not be made")]
    Report {
        /// Why.
        #[from]
        source: serde_json::Error,
    },
    /// The outputs folder is the one that a clip's frames are in.
    #[error(
        "the outputs folder {} holds the frames of clip {clip}, and pictures that are written there would be read as frames; \
         name another folder, such as one called out beside it, with --out or with `outputs` in the shoot file",
        folder.display()
    )]
    OutputsAmongFrames {
        /// The folder.
        folder: PathBuf,
        /// The first clip whose frames are in it.
        clip: String,
    },
    /// A file could not be written.
    #[error("{} could not be written", path.display())]
    Output {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A brief in which no camera is mounted.
    #[error("{} has no [[mount]], so that there is nothing to predict; write one for each camera, with name, mode, height and tilt_down", brief.display())]
    NoMounts {
        /// The brief.
        brief: PathBuf,
    },
    /// A mount that the brief does not have.
    #[error("there is no mount `{name}`; the brief has {}", known.join(", "))]
    NoSuchMount {
        /// What was asked for.
        name: String,
        /// Those there are.
        known: Vec<String>,
    },
    /// No kit is named.
    #[error("no kit of capture modes is named")]
    NoKit {
        /// The brief that could have named one.
        brief: PathBuf,
    },
    /// A file that is not to be written over.
    #[error("{} is there already and is left alone; name another file", path.display())]
    IsThere {
        /// The file.
        path: PathBuf,
    },
    /// The task was ended early.
    #[error("ended before it was done")]
    Cancelled,
}

fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}
