//! How each camera is to be fixed, and what is asked of its pictures.

use super::{
    FaultKind, Shoot,
    clip::ClipNames,
    day::WrittenGear,
    names::Names,
    parts::{known_names, name},
    table::{TableReader, Written},
    value::{number, number_within, one_of, text, wrong_type},
};
use crate::{
    capture::WayUp,
    geometry::Region,
    mount::{MountError, Pose, Subject, Way},
};
use toml::de::DeValue;

/// One camera that will be mounted, as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenMount {
    /// Its name.
    pub name: String,
    /// The capture mode, by its name in the kit.
    pub mode: String,
    /// The camera of the shoot file; what it says goes before the kit.
    pub camera: Option<String>,
    /// Which way up.
    pub way_up: WayUp,
    /// Where and how it is fixed.
    pub pose: Pose,
    /// What it is put up for.
    pub subject: Option<Subject>,
    /// The distances at which the subject passes, in metres: one to three, the nearest first.
    pub distances_m: Vec<f64>,
    /// The least share of a window's height above the horizon, where that has to be inside.
    pub horizon_above: Option<f64>,
    /// The parts of the rig that its picture shows, in px of the frame as it is shown.
    pub rig: Vec<(String, Region)>,
    /// What it is used for.
    pub deliverables: Vec<String>,
    /// Card, battery, exposure; what is left out here is as the day's.
    pub gear: WrittenGear,
    /// How many minutes it takes to put up.
    pub minutes: Option<f64>,
    /// How hard it is to reach, the larger the harder.
    pub reach: f64,
    /// The line on which it begins.
    pub line: u64,
    /// The line of `mode`.
    pub mode_line: u64,
}

pub(super) const WAYS_UP: [(&str, WayUp); 2] =
    [("upright", WayUp::Upright), ("on-its-side", WayUp::OnItsSide)];

const WAYS: [(&str, Way); 2] = [("across", Way::Across), ("along", Way::Along)];

/// At most so many distances are looked at: near, middle and far.
const MOST_DISTANCES: usize = 3;

/// How hard a place is to reach, and how long it takes: beyond, there are only slips of the pen.
const REACH: (f64, f64) = (0.0, 100.0);
const MINUTES: (f64, f64) = (0.5, 600.0);

/// Reads one `[[mount]]`; `None` if it lacks what makes one.
pub(super) fn mount(
    root: &TableReader<'_>,
    written: &Written<'_>,
    shoot: &Shoot,
    names: &ClipNames,
    mounts: &mut Names,
) -> Option<WrittenMount> {
    let mut table = TableReader::open(root.page(), written, "[[mount]]")?;
    let found = table.page().found();
    let name = name(&mut table, mounts);
    let mode = table.need("mode", "the name of a capture mode of the kit", text);
    let camera = table.take("camera", |value| names.cameras.known(text(value)?));
    let way_up = table.take("way_up", one_of(&WAYS_UP)).unwrap_or(WayUp::Upright);
    let pose = pose(&mut table);
    let (subject, distances_m) = subject(&mut table);
    let horizon_above = table.take("horizon_above", number_within(0.0, 0.9, "of the frame"));
    let rig = rig(&mut table);
    let deliverables = known_names(&mut table, "deliverables", &names.deliverables)
        .unwrap_or_else(|| shoot.deliverables.iter().map(|other| other.name.clone()).collect());
    let gear = WrittenGear::read(&mut table);
    let minutes = table.take("minutes", number_within(MINUTES.0, MINUTES.1, "minutes"));
    let reach = table.take("reach", number_within(REACH.0, REACH.1, "m")).unwrap_or(0.0);
    let (line, mode_line) = (table.line(), table.line_of("mode"));
    table.finish();
    let is_sound = root.page().found() == found;
    let mount = WrittenMount {
        name: name?,
        mode: mode?.to_owned(),
        camera,
        way_up,
        pose: pose?,
        subject,
        distances_m,
        horizon_above,
        rig,
        deliverables,
        gear,
        minutes,
        reach,
        line,
        mode_line,
    };
    is_sound.then_some(mount)
}

fn pose(table: &mut TableReader<'_>) -> Option<Pose> {
    let height = table.need("height", "metres above the ground or the water", number);
    let tilt = table.need("tilt_down", "degrees below level; below 0 is up", number);
    let roll = table.take("roll", number).unwrap_or(0.0);
    let (height, tilt) = (height?, tilt?);
    let fault = |error: MountError| table.fault(key_of(&error), error.into());
    Pose::from_degrees(height, tilt, roll).map_err(fault).ok()
}

/// The key that a figure out of range was written with.
fn key_of(error: &MountError) -> &'static str {
    match error {
        MountError::OutOfRange { what: "a tilt", .. } => "tilt_down",
        MountError::OutOfRange { what: "a roll", .. } => "roll",
        MountError::OutOfRange { what: "a subject's width", .. } => "width",
        MountError::OutOfRange { what: "a subject's height above the ground", .. } => "above",
        MountError::OutOfRange { what: "a subject's drift", .. }
        | MountError::DriftReaches { .. } => "drift",
        MountError::OutOfRange { what: "a subject's speed", .. } => "speed",
        _ => "height",
    }
}

/// Reads `subject = { name = "boat", width = 3.5, … }` and how far away it passes.
fn subject(table: &mut TableReader<'_>) -> (Option<Subject>, Vec<f64>) {
    let Some(mut inner) = table.inner("subject", "subject") else { return (None, Vec::new()) };
    let name = inner.take("name", text).unwrap_or("subject").to_owned();
    let width = inner.need("width", "metres, as it is seen from the camera", number);
    let height = inner.need("height", "metres, from its lowest point to its top", number);
    let mut or_none = |key| inner.take(key, number).unwrap_or(0.0);
    let (above, drift, speed) = (or_none("above"), or_none("drift"), or_none("speed"));
    let way = inner.take("way", one_of(&WAYS));
    if inner.has("speed") && !inner.has("way") {
        inner.missing("way", "`across` the picture or `along` the line of sight");
    }
    let distances = distances(&mut inner);
    let read = width.zip(height).map(|(width_m, height_m)| Subject {
        name,
        width_m,
        height_m,
        above_m: above,
        drift_m: drift,
        speed_m_s: speed,
        way: way.unwrap_or(Way::Across),
    });
    let subject = read.and_then(|subject| {
        let subject = subject.checked();
        let subject = subject.and_then(|subject| {
            distances.iter().try_for_each(|distance| subject.stays_before(*distance))?;
            Ok(subject)
        });
        subject.map_err(|error| inner.fault(key_of(&error), error.into())).ok()
    });
    inner.finish();
    (subject, distances)
}

fn distances(table: &mut TableReader<'_>) -> Vec<f64> {
    if !table.has("distances") {
        table
            .missing("distances", "metres along the ground, such as [6, 8, 20]: near, middle, far");
    }
    let Some(list) = table.list("distances", "one distance in metres or up to three") else {
        return Vec::new();
    };
    if list.len() > MOST_DISTANCES {
        table.fault(
            "distances",
            FaultKind::TooManyDistances { found: list.len(), most: MOST_DISTANCES },
        );
    }
    let read = |written: &Written<'_>| {
        let distance = number_within(0.1, Subject::GREATEST_M, "m")(written.get_ref());
        let fault =
            |kind| table.page().fault_at(&written.span(), Some("distances".to_owned()), kind);
        distance.map_err(fault).ok()
    };
    let mut distances: Vec<f64> = list.iter().filter_map(read).collect();
    distances.sort_by(f64::total_cmp);
    distances
}

/// More than any rig shows: each is a box, and every place that is clear of all of them is tried.
const MOST_RIG_PARTS: usize = 24;

/// Reads `rig = [{ name = "deck", left = 0, top = 2400, width = 4000, height = 600 }]`.
fn rig(table: &mut TableReader<'_>) -> Vec<(String, Region)> {
    let Some(list) = table.list("rig", "a list of boxes in px") else { return Vec::new() };
    if list.len() > MOST_RIG_PARTS {
        let kind = FaultKind::TooManyRigParts { found: list.len(), most: MOST_RIG_PARTS };
        table.fault("rig", kind);
        return Vec::new();
    }
    let page = table.page();
    let read = |written: &Written<'_>| {
        let DeValue::Table(_) = written.get_ref() else {
            page.fault_at(
                &written.span(),
                Some("rig".to_owned()),
                wrong_type(
                    "a box such as { left = 0, top = 2400, width = 4000, height = 600 }",
                    written.get_ref(),
                ),
            );
            return None;
        };
        let mut part = TableReader::open(page, written, "rig")?;
        let name = part.take("name", text).unwrap_or("rig").to_owned();
        let mut px =
            |key| part.need(key, "px of the frame as it is shown", number_within(0.0, 1e6, "px"));
        let (left, top, width, height) = (px("left"), px("top"), px("width"), px("height"));
        let region = Region::new(left?, top?, width?, height?);
        if region.is_none() {
            part.fault("width", FaultKind::NoSize { value: 0.0 });
        }
        part.finish();
        Some((name, region?))
    };
    list.iter().filter_map(read).collect()
}

impl From<MountError> for FaultKind {
    fn from(source: MountError) -> Self {
        Self::Mount { source }
    }
}
