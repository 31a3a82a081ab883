//! What a shoot file says of the time before mounting: what every capture mode has to give.

use super::{
    FaultKind, Shoot,
    clip::ClipNames,
    day::{WrittenDay, day, shake},
    mounts::{WAYS_UP, WrittenMount, mount},
    names::Names,
    parts::known_names,
    table::{TableReader, Written},
    value::{number, number_within, one_of, text},
};
use crate::{
    brief::{Ask, Must},
    capture::WayUp,
    sharpness::Viewing,
};
use std::path::PathBuf;

/// All that is written for the time before mounting.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Before {
    /// Where the kit file is, joined to the shoot file's folder, if one is named.
    pub kit_path: Option<PathBuf>,
    /// What a capture mode has to give, in the order of the file.
    pub musts: Vec<Must>,
    /// The way up that a camera has to be mounted, if one is said.
    pub way_up: Option<WayUp>,
    /// Where what is delivered will be seen, each with its name, in the order of the file.
    pub viewers: Vec<(String, Viewing)>,
    /// The cameras that will be mounted, in the order of the file.
    pub mounts: Vec<WrittenMount>,
    /// The day.
    pub day: WrittenDay,
}

impl Before {
    /// The ways up that modes are looked at in: the one that must be, or both.
    #[must_use]
    pub fn ways_up(&self) -> Vec<WayUp> {
        self.way_up.map_or_else(|| WayUp::ALL.to_vec(), |way_up| vec![way_up])
    }
}

/// Reads what the file says of it; deliverables are read before.
pub(super) fn read(root: &mut TableReader<'_>, shoot: &mut Shoot, names: &ClipNames) {
    shoot.before.kit_path = root.take("kit", text).map(|path| shoot.folder.join(path));
    if let Some(list) = root.list("must", "one table or more, each headed [[must]]") {
        for written in list {
            read_must(root, written, shoot, names);
        }
    }
    if let Some(list) = root.list("viewer", "one table or more, each headed [[viewer]]") {
        shoot.before.viewers = list.iter().filter_map(|written| viewer(root, written)).collect();
    }
    if let Some(list) = root.list("mount", "one table or more, each headed [[mount]]") {
        let mut mounts = Names::of("mount");
        let read = |written| mount(root, written, shoot, names, &mut mounts);
        let mounts: Vec<WrittenMount> = list.iter().filter_map(read).collect();
        shoot.before.mounts = mounts;
    }
    if let Some(table) = root.inner("day", "[day]") {
        shoot.before.day = day(table);
    }
}

fn read_must(root: &TableReader<'_>, written: &Written<'_>, shoot: &mut Shoot, names: &ClipNames) {
    let Some(mut table) = TableReader::open(root.page(), written, "[[must]]") else { return };
    let (line, found) = (table.line(), table.page().found());
    let named = known_names(&mut table, "deliverables", &names.deliverables);
    let enlargement = table.take("enlargement", number_within(0.01, 100.0, ""));
    let spare_across = table.take("spare_across", number_within(0.0, 0.99, "of the frame"));
    let spare_down = table.take("spare_down", number_within(0.0, 0.99, "of the frame"));
    let slow_motion = table.take("slow_motion", number_within(0.01, 1000.0, "times"));
    let way_up = table.take("way_up", one_of(&WAYS_UP));
    let shake = shake(&mut table);
    if shake.is_some() && !table.has("enlargement") {
        let remedy =
            "what the steady window may be enlarged at most, for example enlargement = 1.0";
        table.missing("enlargement", remedy);
    }
    table.finish();
    if root.page().found() > found {
        return;
    }
    let deliverables: Vec<String> = named
        .unwrap_or_else(|| shoot.deliverables.iter().map(|other| other.name.clone()).collect());
    let asks = |deliverable: &String| {
        let name = || deliverable.clone();
        let enlarged = enlargement.map(|at_most| match shake {
            Some(shake) => Ask::Steady { deliverable: name(), shake, at_most },
            None => Ask::Enlargement { deliverable: name(), at_most },
        });
        let across =
            spare_across.map(|at_least| Ask::SpareAcross { deliverable: name(), at_least });
        let down = spare_down.map(|at_least| Ask::SpareDown { deliverable: name(), at_least });
        [enlarged, across, down].into_iter().flatten().collect::<Vec<_>>()
    };
    let slow = slow_motion.map(|at_least| Ask::SlowMotion { at_least });
    let asked: Vec<Ask> = deliverables.iter().flat_map(asks).chain(slow).collect();
    if asked.is_empty() && way_up.is_none() {
        let kind = FaultKind::MustOfNothing;
        root.page().fault_at(&written.span(), None, kind);
    }
    if let (Some(way_up), Some(first)) = (way_up, shoot.before.way_up)
        && way_up != first
    {
        let kind = FaultKind::WaysUp { first: first.to_string(), second: way_up.to_string() };
        root.page().fault(Some(line), Some("way_up".to_owned()), kind);
    }
    shoot.before.way_up = way_up.or(shoot.before.way_up);
    shoot.before.musts.extend(asked.into_iter().map(|ask| Must { ask, line }));
}

/// Reads `[[viewer]]`: a name, how wide the picture is on the screen, and how far away the eye is, in one unit.
fn viewer(root: &TableReader<'_>, written: &Written<'_>) -> Option<(String, Viewing)> {
    let mut table = TableReader::open(root.page(), written, "[[viewer]]")?;
    let name = table.need("name", "for example \"phone\"", text);
    let width = table.need("screen_width", "how wide the picture is on it", number);
    let distance = table.need("distance", "from the eye to the screen, in the same unit", number);
    table.finish();
    let (name, width, distance) = (name?, width?, distance?);
    let viewing = Viewing::new(width, distance);
    if viewing.is_none() {
        let field = Some("screen_width".to_owned());
        let kind = FaultKind::NoScreen { width, distance };
        root.page().fault_at(&written.span(), field, kind);
    }
    Some((name.to_owned(), viewing?))
}
