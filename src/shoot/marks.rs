use super::{
    FaultKind, Moment,
    decimal::{decimal_px, size_px, within},
    names::Names,
    page::Page,
    rows::{Column, Row, rows},
    value::word,
};
use crate::{geometry::Region, subject::MarkKind};
use std::collections::BTreeSet;

/// A row of the marks file.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkRow {
    /// The clip that is marked; it is in the shoot file.
    pub clip: String,
    /// Where in the clip.
    pub moment: Moment,
    /// What the mark says.
    pub kind: MarkKind,
    /// What is marked; `subject` if nothing was written.
    pub name: String,
    /// The box in px of the displayed frame; `None` for a *gone*.
    pub region: Option<Region>,
    /// How much it counts against other subjects, if that was written.
    pub weight: Option<f64>,
    /// The line, from 1.
    pub line: u64,
}

/// How much of the marks is known, so that no clip is said to lack what could only not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Coverage {
    /// Some rows could not even be told to be a clip's.
    Unknown,
    /// Every row belongs to a known clip.
    Known {
        /// Clips without a row.
        no_row: Vec<String>,
        /// Clips with a row that could not be read.
        faulty: BTreeSet<String>,
    },
}

impl Coverage {
    /// Whether all marks of a clip could be read, and there are some.
    pub(super) fn is_whole(&self, clip: &str) -> bool {
        match self {
            Self::Unknown => false,
            Self::Known { no_row, faulty } => {
                !faulty.contains(clip) && !no_row.iter().any(|name| name == clip)
            }
        }
    }
}

const COLUMNS: [Column; 9] = [
    Column::required("clip"),
    Column::required("frame"),
    Column::required("left"),
    Column::required("top"),
    Column::required("width"),
    Column::required("height"),
    Column::optional("kind"),
    Column::optional("name"),
    Column::optional("weight"),
];

const KINDS: [(&str, MarkKind); 4] = [
    (MarkKind::Subject.name(), MarkKind::Subject),
    (MarkKind::KeepIn.name(), MarkKind::KeepIn),
    (MarkKind::KeepOut.name(), MarkKind::KeepOut),
    (MarkKind::Gone.name(), MarkKind::Gone),
];

/// The longest name of something marked; it is printed on overlays.
const LONGEST_LABEL: usize = 80;

/// Reads the marks file.
pub(super) fn read(page: &Page<'_>, clips: &Names) -> (Vec<MarkRow>, Coverage) {
    let Some((rows, unreadable_rows)) = rows(page, &COLUMNS) else {
        return (Vec::new(), Coverage::Unknown);
    };
    let mut marks = Vec::with_capacity(rows.len());
    let (mut seen, mut faulty) = (BTreeSet::new(), BTreeSet::new());
    let mut all_clips_known = unreadable_rows == 0;
    for row in &rows {
        let clip = row.take("clip", |name| known_clip(name, clips));
        let mark = mark(row, clip.clone());
        match (clip, mark) {
            (_, Some(mark)) => {
                seen.insert(mark.clip.clone());
                marks.push(mark);
            }
            (Some(clip), None) => {
                seen.insert(clip.clone());
                faulty.insert(clip);
            }
            (None, None) => all_clips_known = false,
        }
    }
    let no_row = clips.iter().filter(|clip| !seen.contains(*clip)).map(str::to_owned).collect();
    let coverage =
        if all_clips_known { Coverage::Known { no_row, faulty } } else { Coverage::Unknown };
    (marks, coverage)
}

/// The clip that a cell names.
pub(super) fn known_clip(cell: &str, clips: &Names) -> Result<String, FaultKind> {
    if cell.is_empty() {
        return Err(FaultKind::Empty { expected: "the name of a clip" });
    }
    clips.known(cell)
}

fn mark(row: &Row<'_>, clip: Option<String>) -> Option<MarkRow> {
    let moment = row.take("frame", Moment::parse);
    let kind = match row.cell("kind") {
        "" => Some(MarkKind::Subject),
        _ => row.take("kind", |cell| word(cell, &KINDS)),
    };
    let name = kind.and_then(|kind| row.take("name", |cell| label(cell, kind)));
    let region =
        if kind == Some(MarkKind::Gone) { gone_box(row) } else { marked_box(row).map(Some) };
    let weight = row.take("weight", weight);
    Some(MarkRow {
        weight: weight?,
        clip: clip?,
        moment: moment?,
        kind: kind?,
        name: name?,
        region: region?,
        line: row.line,
    })
}

/// How much a subject counts; empty is not said.
fn weight(cell: &str) -> Result<Option<f64>, FaultKind> {
    /// More than this between two subjects is a slip of the pen.
    const RANGE: (f64, f64) = (0.001, 1000.0);
    if cell.is_empty() {
        return Ok(None);
    }
    within(decimal_px(cell)?, RANGE, "").map(Some)
}

fn label(cell: &str, kind: MarkKind) -> Result<String, FaultKind> {
    let is_too_long = cell.chars().count() > LONGEST_LABEL;
    if is_too_long || cell.contains(char::is_control) {
        return Err(FaultKind::BadLabel { name: cell.to_owned(), longest: LONGEST_LABEL });
    }
    match (cell, kind) {
        ("", MarkKind::KeepIn | MarkKind::KeepOut) => Err(FaultKind::Nameless { kind }),
        ("", MarkKind::Subject | MarkKind::Gone) => Ok("subject".to_owned()),
        _ => Ok(cell.to_owned()),
    }
}

/// The box of a row, with every fault of its four numbers told.
fn marked_box(row: &Row<'_>) -> Option<Region> {
    let (left, top) = (row.take("left", decimal_px), row.take("top", decimal_px));
    let (width, height) = (row.take("width", size_px), row.take("height", size_px));
    Region::new(left?, top?, width?, height?)
}

/// A *gone* has no box: what is in its cells must be numbers, if anything, and goes unused.
#[expect(clippy::option_option, reason = "faulty, or read and without a box")]
fn gone_box(row: &Row<'_>) -> Option<Option<Region>> {
    let is_sound =
        |column: &&str| row.cell(column).is_empty() || row.take(column, decimal_px).is_some();
    let sound = ["left", "top", "width", "height"].iter().filter(|column| is_sound(column)).count();
    (sound == 4).then_some(None)
}
