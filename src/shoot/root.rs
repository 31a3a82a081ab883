use super::{
    FaultKind, Shoot, ShootClip, before,
    clauses::clause,
    clip::{ClipNames, clip},
    copies::tell_unsound_copies,
    limits::{LimitTable, Scope, tell_out_of_order},
    page::Page,
    parts::{ROUNDINGS, camera, deliverable},
    table::{TableReader, Written},
    value::{one_of, rate, text, truth, whole},
};
use crate::geometry::Rounding;
use std::{fs, path::PathBuf};
use toml::de::DeTable;

/// The version of the shoot file that is read.
const VERSION: u64 = 1;

/// What a shoot file is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To plan what was shot: clips and marks must be there.
    Planning,
    /// To prepare what will be shot: nothing but deliverables must be.
    Mounting,
}

/// The tables of rows that a shoot file names.
#[derive(Default)]
pub(super) struct RowFiles {
    pub(super) marks: Option<NamedFile>,
    pub(super) pins: Option<NamedFile>,
    pub(super) motion: Option<NamedFile>,
}

/// A file that the shoot file names, and by which key on which line.
pub(super) struct NamedFile {
    pub(super) path: PathBuf,
    key: &'static str,
    line: u64,
}

impl NamedFile {
    /// All that is in the file; if it cannot be opened, the shoot file's page is told.
    pub(super) fn bytes(&self, page: &Page<'_>) -> Option<Vec<u8>> {
        let fault = |error: std::io::Error| {
            let kind = FaultKind::CannotOpen { path: self.path.clone(), cause: error.kind() };
            page.fault(Some(self.line), Some(self.key.to_owned()), kind);
        };
        fs::read(&self.path).map_err(fault).ok()
    }
}

/// Reads all of the shoot file into `shoot`; `None` if it is of a version that is not read.
pub(super) fn read(
    page: &Page<'_>,
    table: &DeTable<'_>,
    (shoot, names): (&mut Shoot, &mut ClipNames),
    purpose: Purpose,
) -> Option<RowFiles> {
    let mut root = TableReader::root(page, table);
    let version = root.need("version", "for example version = 1", whole);
    if let Some(found) = version.filter(|version| *version != VERSION) {
        root.fault("version", FaultKind::Version { found, only_read: VERSION });
        return None;
    }
    let rate = root.need("timeline_rate", "for example timeline_rate = \"25\"", rate);
    shoot.timeline_rate = rate.unwrap_or(shoot.timeline_rate);
    if !root.has("marks") && purpose == Purpose::Planning {
        root.missing("marks", "the file of the marked boxes, for example marks = \"marks.csv\"");
    }
    let row_files = RowFiles {
        marks: named_file(&mut root, "marks", shoot),
        pins: named_file(&mut root, "pins", shoot),
        motion: named_file(&mut root, "motion", shoot),
    };
    shoot.outputs = shoot.folder.join(root.take("outputs", text).unwrap_or("out"));
    shoot.one_look = root.take("one_look", truth).unwrap_or_default();
    let rounding = root.take("rounding", one_of(&ROUNDINGS)).unwrap_or_default();
    shoot.limits = LimitTable::within(&mut root, "[limits]", Scope::Clips);
    read_deliverables(&mut root, shoot, names, rounding);
    read_cameras(&mut root, shoot, names);
    before::read(&mut root, shoot, names);
    if root.has("clip") || purpose == Purpose::Planning {
        read_clips(&mut root, shoot, names);
    } else {
        tell_out_of_order(root.page(), shoot, &[]);
    }
    if let Some(list) = root.list("clause", "one table or more, each headed [[clause]]") {
        let read = |written| clause(root.page(), written, shoot, names);
        shoot.clauses = list.iter().filter_map(read).collect();
    }
    root.finish();
    Some(if purpose == Purpose::Planning { row_files } else { RowFiles::default() })
}

fn named_file(root: &mut TableReader<'_>, key: &'static str, shoot: &Shoot) -> Option<NamedFile> {
    let path = shoot.folder.join(root.take(key, text)?);
    Some(NamedFile { path, key, line: root.line_of(key) })
}

fn read_deliverables(
    root: &mut TableReader<'_>,
    shoot: &mut Shoot,
    names: &mut ClipNames,
    rounding: Rounding,
) {
    let Some(list) =
        need_tables(root, "deliverable", "one table or more, each headed [[deliverable]]")
    else {
        return names.deliverables.note_unread();
    };
    for written in list {
        let read = deliverable(root.page(), written, &mut names.deliverables, rounding);
        if let Some((deliverable, limits)) = read {
            shoot.limits_of_deliverables.insert(deliverable.name.clone(), limits);
            shoot.deliverables.push(deliverable);
        }
    }
}

fn read_cameras(root: &mut TableReader<'_>, shoot: &mut Shoot, names: &mut ClipNames) {
    match root.list("camera", "one table or more, each headed [[camera]]") {
        Some(list) => {
            let read = |written| camera(root.page(), written, &mut names.cameras);
            shoot.cameras = list.iter().filter_map(read).collect();
        }
        None if root.has("camera") => names.cameras.note_unread(),
        None => {}
    }
}

/// Reads the clips, and holds the limits of every table against each other.
fn read_clips(root: &mut TableReader<'_>, shoot: &mut Shoot, names: &mut ClipNames) {
    let Some(list) = need_tables(root, "clip", "one table or more, each headed [[clip]]") else {
        names.clips.note_unread();
        return tell_out_of_order(root.page(), shoot, &[]);
    };
    let read = |written| clip(root.page(), written, &shoot.folder, names);
    let clips: Vec<(ShootClip, bool)> = list.iter().filter_map(read).collect();
    let all: Vec<&ShootClip> = clips.iter().map(|(clip, _)| clip).collect();
    tell_out_of_order(root.page(), shoot, &all);
    let faulty = tell_unsound_copies(root.page(), shoot, &clips, names);
    let is_sound = |(clip, is_sound): &(ShootClip, bool)| *is_sound && !faulty.contains(&clip.name);
    shoot.clips = clips.into_iter().filter(is_sound).map(|(clip, _)| clip).collect();
}

/// The tables of a list that must be there.
fn need_tables<'t>(
    root: &mut TableReader<'t>,
    key: &'static str,
    expected: &'static str,
) -> Option<&'t [Written<'t>]> {
    if !root.has(key) {
        root.missing(key, expected);
    }
    root.list(key, expected)
}
