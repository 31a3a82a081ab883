use super::{Horizon, Lack, Pose, Subject, WindowRoom, Wishes, passing::ground_across_m};
use crate::{
    delivery::{Deliverable, Limit, Limits},
    geometry::{Raster, Region, SourcePoint, Window},
    lens::{Between, Lens, PossibleLenses},
    sharpness::Recording,
};

/// What is in front of a camera, and what is asked of its pictures.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// What it is put up for; `None` to look at the horizon and the rig alone.
    pub subject: Option<Subject>,
    /// The distances at which the subject passes, in metres along the ground: near, middle, far, as many as there are.
    pub distances_m: Vec<f64>,
    /// The least share of a window's height above the horizon, if that has to be inside.
    pub horizon_above: Option<f64>,
    /// Parts of the rig, in px of the frame as it is shown.
    pub rig: Vec<Region>,
}

/// A subject as it is seen at one distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeenSubject {
    /// How far away, in metres along the ground.
    pub distance_m: f64,
    /// The box round it where it passes the axis; `None` where the lens does not draw all of it.
    pub region: Option<Region>,
    /// How many metres of the ground the frame is wide there; `None` where the lens does not draw that far.
    pub ground_across_m: Option<f64>,
}

/// What a camera will see through one lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The row of the horizon on the axis's column; it may lie beyond the frame.
    pub horizon_row: Option<f64>,
    /// All of the horizon.
    pub horizon: Option<Horizon>,
    /// The subject at each distance.
    pub seen: Vec<SeenSubject>,
    /// How many metres ahead the ground is seen at the frame's lowest row and at its highest, on the axis's column, and how many
    /// metres of it the frame is wide there; `None` where there is sky.
    pub ground_m: [Option<(f64, Option<f64>)>; 2],
}

impl Outlook {
    /// What a camera that is fixed so will see through a lens, which is that of the frame as it is shown.
    #[must_use]
    pub fn of(pose: &Pose, lens: &Lens, scene: &Scene) -> Self {
        let ground = |y| {
            let column = SourcePoint { x: lens.centre().x, y };
            let [_, ahead] = pose.ground_at(lens, column)?;
            Some((ahead, ground_across_m(pose, lens, ahead)))
        };
        let seen = scene.subject.iter().flat_map(|subject| {
            scene.distances_m.iter().map(|distance_m| SeenSubject {
                distance_m: *distance_m,
                region: subject.seen(pose, lens, (0.0, *distance_m)),
                ground_across_m: ground_across_m(pose, lens, *distance_m),
            })
        });
        Self {
            horizon_row: pose.horizon_row(lens),
            horizon: Horizon::seen(pose, lens),
            seen: seen.collect(),
            ground_m: [ground(lens.raster().height()), ground(0.0)],
        }
    }
}

/// What one deliverable gets, whatever the lens is.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeOutlook {
    /// Its name.
    pub deliverable: String,
    /// Its window, which keeps everything through every lens that there may be, or what it lacks.
    pub room: WindowRoom,
    /// The same through each lens by itself, in their order.
    pub through: Vec<WindowRoom>,
    /// That window, or else the largest of the shape in the middle of the frame; all that follows is of this one.
    pub window: Window,
    /// Its enlargement.
    pub enlargement: f64,
    /// Where the top of the subject is in it, as a share of its height, a distance each; `None` where a lens does not draw it.
    pub subject_top: Vec<Option<Between>>,
    /// The same of its bottom.
    pub subject_bottom: Vec<Option<Between>>,
    /// How much of its width the subject takes.
    pub subject_width: Vec<Option<Between>>,
    /// By how many px the horizon lies inside its nearer edge all over its width; below 0 outside. `None` where it is not drawn.
    pub horizon_inside_px: Option<Between>,
}

/// What is asked of one deliverable of a camera.
#[derive(Debug, Clone, Copy)]
pub struct AskedOf<'a> {
    /// The deliverable.
    pub deliverable: &'a Deliverable,
    /// Its limits.
    pub limits: &'a Limits,
    /// What the camera's files hide.
    pub recording: &'a Recording,
}

/// What a window has to keep through one lens; `None` where some of it is not drawn at all.
pub(super) struct Kept {
    subjects: Vec<Region>,
    horizon: Option<Horizon>,
}

impl Kept {
    pub(super) fn of(pose: &Pose, lens: &Lens, scene: &Scene) -> Option<Self> {
        let seen = |subject: &Subject| -> Option<Vec<Region>> {
            let at = |distance_m: &f64| subject.seen_with_drift(pose, lens, *distance_m);
            scene.distances_m.iter().map(at).collect()
        };
        let subjects = scene.subject.as_ref().map_or(Some(Vec::new()), seen)?;
        let horizon = match scene.horizon_above {
            Some(_) => Some(Horizon::seen(pose, lens)?),
            None => None,
        };
        Some(Self { subjects, horizon })
    }
}

impl ShapeOutlook {
    /// What a deliverable gets from a camera that is fixed so; its outlooks are through the same lenses.
    #[must_use]
    pub fn of(
        asked: &AskedOf<'_>,
        (pose, scene): (&Pose, &Scene),
        lenses: &PossibleLenses,
        outlooks: &[Outlook],
    ) -> Self {
        let frame = lenses.raster();
        let kept: Vec<Option<Kept>> =
            lenses.iter().map(|lens| Kept::of(pose, lens, scene)).collect();
        let room = |kept: &[Option<Kept>]| {
            asked.wishing(scene, kept, |wishes| WindowRoom::of(frame, wishes))
        };
        // What is not drawn at all lacks the whole frame.
        let or_nothing =
            |room: Option<WindowRoom>| room.unwrap_or(WindowRoom::Lacks(Lack::everything(frame)));
        let through: Vec<WindowRoom> =
            kept.iter().map(|kept| or_nothing(room(std::slice::from_ref(kept)))).collect();
        let room = if kept.len() == 1 { through[0] } else { or_nothing(room(&kept)) };
        let shape = asked.deliverable.shape();
        let window = *room.window().unwrap_or(&Window::largest_in_the_middle(frame, shape));
        let at_distances = |ask: &dyn Fn(&Region) -> f64| {
            let at = |place: usize| {
                let answers: Option<Vec<f64>> =
                    outlooks.iter().map(|o| o.seen[place].region.as_ref().map(ask)).collect();
                Between::all(answers?)
            };
            (0..outlooks.first().map_or(0, |first| first.seen.len())).map(at).collect::<Vec<_>>()
        };
        let down = |row: f64| (row - window.top()) / window.height();
        Self {
            deliverable: asked.deliverable.name.clone(),
            enlargement: asked
                .recording
                .enlargement(asked.deliverable.raster.width(), window.width()),
            subject_top: at_distances(&|region| down(region.top())),
            subject_bottom: at_distances(&|region| down(region.bottom())),
            subject_width: at_distances(&|region| region.width() / window.width()),
            horizon_inside_px: horizon_inside(&window, outlooks),
            room,
            through,
            window,
        }
    }
}

fn horizon_inside(window: &Window, outlooks: &[Outlook]) -> Option<Between> {
    let inside = |outlook: &Outlook| {
        let (highest, lowest) = outlook.horizon.as_ref()?.rows(window.left(), window.right())?;
        Some((highest - window.top()).min(window.bottom() - lowest))
    };
    let all: Option<Vec<f64>> = outlooks.iter().map(inside).collect();
    Between::all(all?)
}

impl AskedOf<'_> {
    /// Whether a window keeps everything; as [`ShapeOutlook::of`] has it, and much sooner.
    pub(super) fn fits(&self, frame: Raster, scene: &Scene, kept: &[Option<Kept>]) -> bool {
        self.wishing(scene, kept, |wishes| WindowRoom::is_there(frame, wishes)) == Some(true)
    }

    /// Asks something of what a window has to keep; `None` where some of it is not drawn at all.
    fn wishing<T>(
        &self,
        scene: &Scene,
        kept: &[Option<Kept>],
        ask: impl FnOnce(&Wishes<'_>) -> T,
    ) -> Option<T> {
        let kept: Vec<&Kept> = kept.iter().map(Option::as_ref).collect::<Option<_>>()?;
        let subjects: Vec<Region> = kept.iter().flat_map(|k| k.subjects.iter().copied()).collect();
        let horizons: Vec<Horizon> = kept.iter().filter_map(|k| k.horizon.clone()).collect();
        let greatest = self.limits.number(Limit::GreatestEnlargement);
        Some(ask(&Wishes {
            shape: self.deliverable.shape(),
            least_width_px: self.recording.least_px(self.deliverable.raster.width(), greatest),
            margin_across: self.limits.number(Limit::MarginAcross),
            margin_down: self.limits.number(Limit::MarginDown),
            headroom: self.limits.value(Limit::Headroom).unwrap_or(0.0),
            blocked: &self.deliverable.blocked,
            subjects: &subjects,
            horizon: scene.horizon_above.map(|above| (horizons.as_slice(), above)),
            rig: &scene.rig,
        }))
    }
}
