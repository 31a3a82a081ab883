use super::{
    FaultKind, Moment, Shoot,
    clip::ClipNames,
    decimal::{decimal_px, size_px},
    marks::known_clip,
    page::Page,
    rows::{Column, Row, rows},
};
use crate::geometry::Shape;

/// A row of the pins file: a window fixed by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct PinRow {
    /// The clip; it is in the shoot file.
    pub clip: String,
    /// The deliverable; it is in the shoot file.
    pub deliverable: String,
    /// Where in the clip.
    pub moment: Moment,
    /// Left edge in px of the displayed frame.
    pub left: f64,
    /// Top edge in px.
    pub top: f64,
    /// Width in px, above 0.
    pub width: f64,
    /// Height in px, if it was written; it is that of the deliverable's shape within
    /// [`PinRow::HEIGHT_TOLERANCE_PX`].
    pub height: Option<f64>,
    /// The line, from 1.
    pub line: u64,
}

impl PinRow {
    /// How far a written height may be from the exact shape: what rounding a window to whole px changes.
    pub const HEIGHT_TOLERANCE_PX: f64 = 1.0;
}

const COLUMNS: [Column; 7] = [
    Column::required("clip"),
    Column::required("deliverable"),
    Column::required("frame"),
    Column::required("left"),
    Column::required("top"),
    Column::required("width"),
    Column::optional("height"),
];

/// Reads the pins file.
pub(super) fn read(page: &Page<'_>, shoot: &Shoot, names: &ClipNames) -> Vec<PinRow> {
    let (rows, _) = rows(page, &COLUMNS).unwrap_or_default();
    rows.iter().filter_map(|row| pin(row, shoot, names)).collect()
}

fn pin(row: &Row<'_>, shoot: &Shoot, names: &ClipNames) -> Option<PinRow> {
    let clip = row.take("clip", |cell| {
        let clip = known_clip(cell, &names.clips)?;
        match shoot.clip(&clip).and_then(|clip| clip.copy.as_ref()) {
            Some(copy) => Err(FaultKind::PinOfCopy { clip, from: copy.from.clone() }),
            None => Ok(clip),
        }
    });
    let of_clip = clip.as_deref().and_then(|clip| shoot.clip(clip)).map(|c| &*c.deliverables);
    let deliverable = row.take("deliverable", |cell| delivered(cell, of_clip, names));
    let moment = row.take("frame", Moment::parse);
    let (left, top) = (row.take("left", decimal_px), row.take("top", decimal_px));
    let width = row.take("width", size_px);
    let shape = deliverable.as_ref().and_then(|name| shoot.deliverable(name)).map(|d| d.shape());
    let height = match row.cell("height") {
        "" => Some(None),
        _ => row.take("height", |cell| height(cell, width, shape)).map(Some),
    };
    Some(PinRow {
        clip: clip?,
        deliverable: deliverable?,
        moment: moment?,
        left: left?,
        top: top?,
        width: width?,
        height: height?,
        line: row.line,
    })
}

/// The deliverable that a cell names; the clip is made for it, if its deliverables are known.
fn delivered(
    cell: &str,
    of_clip: Option<&[String]>,
    names: &ClipNames,
) -> Result<String, FaultKind> {
    if cell.is_empty() {
        return Err(FaultKind::Empty { expected: "the name of a deliverable" });
    }
    match of_clip {
        Some(of_clip) => names.delivered(cell, of_clip),
        None => names.deliverables.known(cell),
    }
}

/// The height, if it is that of the shape, as far as width and shape are known.
fn height(cell: &str, width: Option<f64>, shape: Option<Shape>) -> Result<f64, FaultKind> {
    let height_px = size_px(cell)?;
    let tolerance_px = PinRow::HEIGHT_TOLERANCE_PX;
    match width.zip(shape) {
        Some((width_px, shape))
            if (shape.height_for(width_px) - height_px).abs() > tolerance_px =>
        {
            let expected_px = shape.height_for(width_px);
            Err(FaultKind::PinShape { width_px, height_px, expected_px, shape, tolerance_px })
        }
        _ => Ok(height_px),
    }
}
