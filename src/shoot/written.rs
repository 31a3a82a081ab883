use super::{
    Before, Camera, MarkRow, MotionRow, PinRow, ShootClip, Stance, View, WrittenClause,
    limits::{Layers, LimitTable},
    marks::Coverage,
    motion::MotionRows,
};
use crate::{
    delivery::{Deliverable, Limits, Origin},
    timecode::FrameRate,
};
use sha2::{Digest, Sha256};
use std::{
    collections::BTreeMap,
    fmt::Write as _,
    path::{Path, PathBuf},
};

/// What tells this writing of the three files from another: SHA-256, in hexadecimal, over all their bytes.
#[derive(Debug, Clone, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
pub struct SheetHashes {
    /// Of the shoot file.
    pub shoot: String,
    /// Of the marks file, if it could be opened.
    pub marks: Option<String>,
    /// Of the pins file, if there is one.
    pub pins: Option<String>,
    /// Of the motion file, if there is one.
    pub motion: Option<String>,
}

/// Everything that a user wrote, checked as far as it can be without the footage.
#[derive(Debug, Clone, PartialEq)]
pub struct Shoot {
    /// Where the shoot file is.
    pub path: PathBuf,
    /// The folder that relative paths start from: the shoot file's own.
    pub folder: PathBuf,
    /// The rate of the timeline; 25 where it could not be read, and then there is a fault.
    pub timeline_rate: FrameRate,
    /// The folder for what is made, joined to `folder`.
    pub outputs: PathBuf,
    /// What is to be delivered, in the order of the file.
    pub deliverables: Vec<Deliverable>,
    /// The cameras, in the order of the file.
    pub cameras: Vec<Camera>,
    /// The clips, in the order of the file.
    pub clips: Vec<ShootClip>,
    /// A client's conditions, in the order of the file.
    pub clauses: Vec<WrittenClause>,
    /// The rows of the marks file, in its order.
    pub marks: Vec<MarkRow>,
    /// The rows of the pins file, in its order.
    pub pins: Vec<PinRow>,
    /// Which writing of the files this was.
    pub hashes: SheetHashes,
    /// Where the marks file is, joined to `folder`; empty where it could not be read.
    pub marks_path: PathBuf,
    /// Where the pins file is, joined to `folder`, if there is one.
    pub pins_path: Option<PathBuf>,
    /// Where the motion file is, joined to `folder`, if there is one.
    pub motion_path: Option<PathBuf>,
    /// What is said of the time before mounting.
    pub before: Before,
    pub(super) motion: MotionRows,
    /// Whether clips have one look over their deliverables, unless they say otherwise.
    pub(super) one_look: bool,
    pub(super) limits: LimitTable,
    /// By deliverable.
    pub(super) limits_of_deliverables: BTreeMap<String, LimitTable>,
    pub(super) coverage: Coverage,
}

impl Shoot {
    /// A shoot of which nothing has been read.
    pub(super) fn empty(path: &Path, hash: String) -> Self {
        let folder = path.parent().unwrap_or(Path::new("")).to_owned();
        Self {
            path: path.to_owned(),
            timeline_rate: FrameRate::new(25, 1).expect("25 frames/s is a rate"),
            outputs: folder.join("out"),
            folder,
            deliverables: Vec::new(),
            cameras: Vec::new(),
            clips: Vec::new(),
            clauses: Vec::new(),
            marks: Vec::new(),
            pins: Vec::new(),
            hashes: SheetHashes { shoot: hash, ..SheetHashes::default() },
            marks_path: PathBuf::new(),
            pins_path: None,
            motion_path: None,
            before: Before::default(),
            motion: MotionRows::default(),
            one_look: false,
            limits: LimitTable::default(),
            limits_of_deliverables: BTreeMap::new(),
            coverage: Coverage::Unknown,
        }
    }

    /// The clip of this name.
    #[must_use]
    pub fn clip(&self, name: &str) -> Option<&ShootClip> {
        self.clips.iter().find(|clip| clip.name == name)
    }

    /// The deliverable of this name.
    #[must_use]
    pub fn deliverable(&self, name: &str) -> Option<&Deliverable> {
        self.deliverables.iter().find(|deliverable| deliverable.name == name)
    }

    /// Whether the deliverables of a clip share one look: as it says itself, or else the shoot. One that takes its
    /// path from another clip has that one's look.
    #[must_use]
    pub fn has_one_look(&self, clip: &ShootClip) -> bool {
        clip.copy.is_none() && clip.one_look.unwrap_or(self.one_look)
    }

    /// The camera of a clip, if it has one.
    #[must_use]
    pub fn camera_of(&self, clip: &ShootClip) -> Option<&Camera> {
        self.cameras.iter().find(|camera| clip.camera.as_ref() == Some(&camera.name))
    }

    /// How a clip's pictures are turned and mirrored: as it says itself, or else its camera.
    #[must_use]
    pub fn view_of(&self, clip: &ShootClip) -> View {
        let of_camera = self.camera_of(clip).map_or(View::default(), |camera| camera.view);
        clip.view.or(of_camera)
    }

    /// What levels a clip's pictures and what its windows stand still against: as it says itself, or else its
    /// camera.
    #[must_use]
    pub fn stance_of(&self, clip: &ShootClip) -> Stance {
        let of_camera = self.camera_of(clip).map_or(Stance::default(), |camera| camera.stance);
        clip.stance.or(of_camera)
    }

    /// The rows of the motion file, in its order.
    #[must_use]
    pub fn motion(&self) -> &[MotionRow] {
        &self.motion.rows
    }

    /// What is made of a clip, in the order of the shoot file.
    pub fn deliverables_of<'s>(
        &'s self,
        clip: &'s ShootClip,
    ) -> impl Iterator<Item = &'s Deliverable> {
        self.deliverables.iter().filter(|deliverable| clip.deliverables.contains(&deliverable.name))
    }

    /// The limits that one clip's one deliverable is held to: defaults, shoot, camera, deliverable, clip, and
    /// clip and deliverable, each over those before it.
    #[must_use]
    pub fn limits_for(&self, clip: &ShootClip, deliverable: &Deliverable) -> Limits {
        self.layers(Some(clip), Some(deliverable)).limits()
    }

    /// The limits of a clip that all its deliverables share, such as the length of its handles: those of a
    /// deliverable are not in them.
    #[must_use]
    pub fn clip_limits(&self, clip: &ShootClip) -> Limits {
        self.layers(Some(clip), None).limits()
    }

    /// The limits of a deliverable where no clip has been shot: defaults, shoot, the camera that will be, if there is one, and
    /// deliverable.
    #[must_use]
    pub fn deliverable_limits(&self, deliverable: &Deliverable, camera: Option<&Camera>) -> Limits {
        self.layered(camera, (None, Some(deliverable))).limits()
    }

    pub(super) fn layers<'s>(
        &'s self,
        clip: Option<&'s ShootClip>,
        deliverable: Option<&Deliverable>,
    ) -> Layers<'s> {
        self.layered(clip.and_then(|clip| self.camera_of(clip)), (clip, deliverable))
    }

    fn layered<'s>(
        &'s self,
        camera: Option<&'s Camera>,
        (clip, deliverable): (Option<&'s ShootClip>, Option<&Deliverable>),
    ) -> Layers<'s> {
        let name = deliverable.map(|deliverable| &deliverable.name);
        let layers = [
            (Origin::Shoot, Some(&self.limits)),
            (Origin::Camera, camera.map(|camera| &camera.limits)),
            (Origin::Deliverable, name.and_then(|name| self.limits_of_deliverables.get(name))),
            (Origin::Clip, clip.map(|clip| &clip.limits)),
            (Origin::ClipDeliverable, clip.zip(name).and_then(|(c, name)| c.limits_for.get(name))),
        ];
        let written = |(origin, table): (Origin, Option<&'s LimitTable>)| Some((origin, table?));
        Layers(layers.into_iter().filter_map(written).collect())
    }
}

/// SHA-256 in hexadecimal.
pub(super) fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        // Writing to a text cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
