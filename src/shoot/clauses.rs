//! A client's conditions on things that are kept in: how large, how long, how far from the edges.

use super::{
    FaultKind, MarkRow, Shoot, ShootClip,
    clip::ClipNames,
    marks::Coverage,
    names::{listed, nearest},
    page::Page,
    parts::known_names,
    table::{TableReader, Written},
    value::{number_within, text},
};
use crate::{
    delivery::Deliverable,
    geometry::Raster,
    subject::{MarkKind, Track, Wish},
};

/// A client's condition on a keep-in, as it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct WrittenClause {
    /// The name of the keep-in.
    pub keep_in: String,
    /// The clips that it holds for; `None` is every clip that marks the keep-in.
    pub clips: Option<Vec<String>>,
    /// What it holds for of what is made of them; `None` is all of it.
    pub deliverables: Option<Vec<String>>,
    /// How long the thing is kept without a break, timeline seconds; `None` is on every frame on which it is seen.
    pub least_secs: Option<f64>,
    /// How wide it is in the delivered picture, px; `None` asks for nothing.
    pub least_px: Option<f64>,
    /// How far it stays from the edges, share of the window's width and height; `None` is the limits' margins.
    pub margin: Option<f64>,
    /// The line on which it begins.
    pub line: u64,
    keep_in_line: u64,
}

/// How long a clause may ask for, timeline seconds: the range of the limit on what is let go.
const SECS: (f64, f64) = (0.04, 600.0);

/// The range of a clause's margin: that of the limits on margins.
const MARGIN: (f64, f64) = (0.0, 0.45);

impl WrittenClause {
    /// Whether it holds for a deliverable.
    #[must_use]
    pub fn is_for(&self, deliverable: &str) -> bool {
        self.deliverables.as_ref().is_none_or(|names| names.iter().any(|name| name == deliverable))
    }

    /// Whether it holds for a clip with these tracks.
    pub(super) fn is_of(&self, clip: &ShootClip, tracks: &[Track]) -> bool {
        let marks_it = |track: &Track| track.wish() == Wish::KeepIn && track.name() == self.keep_in;
        match &self.clips {
            Some(clips) => clips.contains(&clip.name),
            None => tracks.iter().any(marks_it),
        }
    }

    /// How much of the delivered picture's width it asks for, beside its margins.
    fn most_px(&self, deliverable: &Deliverable) -> f64 {
        deliverable.raster.width() * (1.0 - 2.0 * self.margin.unwrap_or(0.0))
    }
}

/// Reads one `[[clause]]`; `None` if it does not say on what it is.
pub(super) fn clause(
    page: &Page<'_>,
    written: &Written<'_>,
    shoot: &Shoot,
    names: &ClipNames,
) -> Option<WrittenClause> {
    let mut table = TableReader::open(page, written, "[[clause]]")?;
    let keep_in = table.need("keep_in", "the name of a keep-in of the marks file", |value| {
        text(value).map(str::to_owned)
    });
    let clips = known_names(&mut table, "clips", &names.clips);
    let deliverables = known_names(&mut table, "deliverables", &names.deliverables);
    let least_secs = table.take("least_secs", number_within(SECS.0, SECS.1, "s"));
    let greatest_px = f64::from(Raster::GREATEST_SIDE_PX);
    let least_px = table.take("least_px", number_within(1.0, greatest_px, "px"));
    let margin = table.take("margin", number_within(MARGIN.0, MARGIN.1, "of the window"));
    let clause = WrittenClause {
        keep_in: keep_in.unwrap_or_default(),
        clips,
        deliverables,
        least_secs,
        least_px,
        margin,
        line: table.line(),
        keep_in_line: table.line_of("keep_in"),
    };
    tell_too_large(&table, &clause, shoot);
    tell_undelivered(&table, &clause, shoot);
    let is_known = !table.has("clips") || clause.clips.is_some();
    table.finish();
    // Of what it is may only be unknown because of a fault that is told already.
    Some(clause).filter(|clause| is_known && !clause.keep_in.is_empty())
}

/// Tells that a delivered picture is not wide enough for what is asked in it.
fn tell_too_large(table: &TableReader<'_>, clause: &WrittenClause, shoot: &Shoot) {
    let Some(least_px) = clause.least_px else { return };
    // Of a list with a fault it is not known for what the clause is.
    if table.has("deliverables") && clause.deliverables.is_none() {
        return;
    }
    let asked = shoot.deliverables.iter().filter(|deliverable| clause.is_for(&deliverable.name));
    let mut too_small = asked.filter(|deliverable| least_px > clause.most_px(deliverable));
    if let Some(deliverable) = too_small.next() {
        let kind = FaultKind::ClauseTooLarge {
            least_px,
            deliverable: deliverable.name.clone(),
            raster: deliverable.raster,
            most_px: clause.most_px(deliverable),
        };
        table.fault("least_px", kind);
    }
}

/// Tells of a deliverable that none of the clause's clips is made for.
fn tell_undelivered(table: &TableReader<'_>, clause: &WrittenClause, shoot: &Shoot) {
    let (Some(clips), Some(deliverables)) = (&clause.clips, &clause.deliverables) else { return };
    let found: Vec<&ShootClip> = clips.iter().filter_map(|name| shoot.clip(name)).collect();
    // A clip with a fault is not there to be asked.
    if found.len() < clips.len() {
        return;
    }
    for deliverable in deliverables {
        if !found.iter().any(|clip| clip.deliverables.contains(deliverable)) {
            let kind = FaultKind::ClauseUndelivered { deliverable: deliverable.clone() };
            table.fault("deliverables", kind);
        }
    }
}

/// Tells of clauses on what no clip, or not each of their clips, marks as a keep-in.
pub(super) fn tell_unmarked(
    page: &Page<'_>,
    clauses: &[WrittenClause],
    rows: &[MarkRow],
    coverage: &Coverage,
) {
    for clause in clauses {
        for kind in unmarked(clause, rows, coverage) {
            page.fault(Some(clause.keep_in_line), Some("keep_in".to_owned()), kind);
        }
    }
}

fn unmarked(clause: &WrittenClause, rows: &[MarkRow], coverage: &Coverage) -> Vec<FaultKind> {
    let Coverage::Known { faulty, .. } = coverage else { return Vec::new() };
    let name = &clause.keep_in;
    let keep_ins = || rows.iter().filter(|row| row.kind == MarkKind::KeepIn);
    let is_other = |row: &&MarkRow| {
        row.name == *name && !matches!(row.kind, MarkKind::KeepIn | MarkKind::Gone)
    };
    if let Some(clips) = &clause.clips {
        let lacks = |clip: &&String| {
            !faulty.contains(*clip)
                && !keep_ins().any(|row| row.clip == **clip && row.name == *name)
        };
        let kind = |clip: &String| {
            let other = rows.iter().filter(|row| row.clip == *clip).find(is_other);
            other.map_or_else(
                || FaultKind::ClauseUnmarked { clip: clip.clone(), keep_in: name.clone() },
                not_a_keep_in,
            )
        };
        return clips.iter().filter(lacks).map(kind).collect();
    }
    if !faulty.is_empty() || keep_ins().any(|row| row.name == *name) {
        return Vec::new();
    }
    if let Some(row) = rows.iter().find(is_other) {
        return vec![not_a_keep_in(row)];
    }
    let mut known: Vec<&str> = keep_ins().map(|row| row.name.as_str()).collect();
    known.sort_unstable();
    known.dedup();
    vec![FaultKind::UnknownName {
        noun: "keep-in",
        name: name.clone(),
        nearest: nearest(name, known.iter().copied()).map(str::to_owned),
        known: listed(known.into_iter()),
    }]
}

fn not_a_keep_in(row: &MarkRow) -> FaultKind {
    FaultKind::NotAKeepIn { name: row.name.clone(), kind: row.kind, line: row.line }
}
