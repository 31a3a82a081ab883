use super::{Pose, Subject, WindowRoom, Wishes};
use crate::{
    delivery::{Deliverable, Limit, Limits},
    geometry::{Raster, Region, SourcePoint},
    lens::Lens,
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
    /// The same with its drift.
    pub with_drift: Option<Region>,
}

/// What one deliverable gets.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapeOutlook {
    /// Its name.
    pub deliverable: String,
    /// Its window, or what it lacks.
    pub room: WindowRoom,
    /// The enlargement of that window; of the largest of the shape where it lacks something.
    pub enlargement: f64,
    /// Where the top of the subject is in the window, as a share of its height, and its bottom, a distance each.
    pub subject_rows: Vec<Option<(f64, f64)>>,
    /// How much of the window's width the subject takes, a distance each.
    pub subject_widths: Vec<Option<f64>>,
    /// By how many px the horizon lies inside the window's nearer edge; below 0 outside. `None` where it is not drawn.
    pub horizon_inside_px: Option<f64>,
}

/// What a camera will see through one lens.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// The frame as it is shown.
    pub frame: Raster,
    /// The row of the horizon on the axis's column; it may lie beyond the frame.
    pub horizon_row: Option<f64>,
    /// The subject at each distance.
    pub seen: Vec<SeenSubject>,
    /// How many metres ahead the ground is seen at the frame's lowest row and at its highest, on the axis's column; `None` where
    /// there is sky.
    pub ground_m: [Option<f64>; 2],
    /// What each deliverable gets, in their order.
    pub shapes: Vec<ShapeOutlook>,
}

impl Outlook {
    /// What a camera that is fixed so will see through a lens, which is that of the frame as it is shown.
    #[must_use]
    pub fn of(
        pose: &Pose,
        lens: &Lens,
        scene: &Scene,
        recording: &Recording,
        deliverables: &[(Deliverable, Limits)],
    ) -> Self {
        let frame = lens.raster();
        let horizon_row = pose.horizon_row(lens);
        let seen = Self::seen_by(pose, lens, scene);
        let ahead = |y| {
            let column = SourcePoint { x: lens.centre().x, y };
            pose.ground_at(lens, column).map(|[_, ahead]| ahead)
        };
        let shapes = deliverables
            .iter()
            .map(|(deliverable, limits)| {
                let asked = AskedOf { deliverable, limits, recording, scene };
                asked.outlook(frame, horizon_row, &seen)
            })
            .collect();
        Self { frame, horizon_row, seen, ground_m: [ahead(frame.height()), ahead(0.0)], shapes }
    }

    /// The subject of a scene at each of its distances.
    pub(super) fn seen_by(pose: &Pose, lens: &Lens, scene: &Scene) -> Vec<SeenSubject> {
        let Some(subject) = &scene.subject else { return Vec::new() };
        let at = |distance_m: &f64| SeenSubject {
            distance_m: *distance_m,
            region: subject.seen(pose, lens, (0.0, *distance_m)),
            with_drift: subject.seen_with_drift(pose, lens, *distance_m),
        };
        scene.distances_m.iter().map(at).collect()
    }
}

/// One deliverable of a scene.
pub(super) struct AskedOf<'a> {
    pub(super) deliverable: &'a Deliverable,
    pub(super) limits: &'a Limits,
    pub(super) recording: &'a Recording,
    pub(super) scene: &'a Scene,
}

impl AskedOf<'_> {
    /// The room of its window; `None` where something that has to be inside is not drawn at all.
    pub(super) fn room(
        &self,
        frame: Raster,
        horizon_row: Option<f64>,
        seen: &[SeenSubject],
    ) -> Option<WindowRoom> {
        let subjects: Option<Vec<Region>> = seen.iter().map(|seen| seen.with_drift).collect();
        let horizon = match self.scene.horizon_above {
            Some(above) => Some((horizon_row?, above)),
            None => None,
        };
        let greatest = self.limits.number(Limit::GreatestEnlargement);
        let wishes = Wishes {
            shape: self.deliverable.shape(),
            least_width_px: self.recording.least_px(self.deliverable.raster.width(), greatest),
            margin_across: self.limits.number(Limit::MarginAcross),
            margin_down: self.limits.number(Limit::MarginDown),
            headroom: self.limits.value(Limit::Headroom).unwrap_or(0.0),
            blocked: &self.deliverable.blocked,
            subjects: &subjects?,
            horizon,
            rig: &self.scene.rig,
        };
        Some(WindowRoom::of(frame, &wishes))
    }

    fn outlook(
        &self,
        frame: Raster,
        horizon_row: Option<f64>,
        seen: &[SeenSubject],
    ) -> ShapeOutlook {
        let shape = self.deliverable.shape();
        // What is not drawn at all lacks the whole frame.
        let nothing = super::Lack { across_px: 0.0, down_px: frame.height(), rig: None };
        let room = self.room(frame, horizon_row, seen).unwrap_or(WindowRoom::Lacks(nothing));
        let largest = frame.width().min(shape.width_for(frame.height()));
        let width = room.window().map_or(largest, crate::geometry::Window::width);
        let (top, height) = room.window().map_or_else(
            || ((frame.height() - shape.height_for(largest)) / 2.0, shape.height_for(largest)),
            |window| (window.top(), window.height()),
        );
        let rows = |seen: &SeenSubject| {
            seen.region.map(|r| ((r.top() - top) / height, (r.bottom() - top) / height))
        };
        ShapeOutlook {
            deliverable: self.deliverable.name.clone(),
            enlargement: self.recording.enlargement(self.deliverable.raster.width(), width),
            subject_rows: seen.iter().map(rows).collect(),
            subject_widths: seen.iter().map(|seen| Some(seen.region?.width() / width)).collect(),
            horizon_inside_px: horizon_row.map(|row| (row - top).min(top + height - row)),
            room,
        }
    }
}
