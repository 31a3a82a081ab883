use super::{
    Moment,
    decimal::{decimal_px, within},
    marks::known_clip,
    names::Names,
    page::Page,
    rows::{Column, Row, rows},
};
use std::collections::BTreeSet;

/// A row of the motion file: how the background moved in the picture from the frame before.
#[derive(Debug, Clone, PartialEq)]
pub struct MotionRow {
    /// The clip; it is in the shoot file.
    pub clip: String,
    /// The frame.
    pub moment: Moment,
    /// Px to the right.
    pub across_px: f64,
    /// Px down.
    pub down_px: f64,
    /// Degrees clockwise about the frame's centre, if that was written.
    pub roll_degrees: Option<f64>,
    /// The line, from 1.
    pub line: u64,
}

const COLUMNS: [Column; 5] = [
    Column::required("clip"),
    Column::required("frame"),
    Column::required("dx"),
    Column::required("dy"),
    Column::optional("roll_degrees"),
];

/// The rows of a motion file.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct MotionRows {
    pub(super) rows: Vec<MotionRow>,
    /// Clips with a row that could not be read; `None` if some rows could not even be told to be a clip's.
    pub(super) faulty: Option<BTreeSet<String>>,
}

impl MotionRows {
    /// Whether all rows of a clip could be read.
    pub(super) fn is_whole(&self, clip: &str) -> bool {
        self.faulty.as_ref().is_some_and(|faulty| !faulty.contains(clip))
    }
}

/// Reads the motion file.
pub(super) fn read(page: &Page<'_>, clips: &Names) -> MotionRows {
    let Some((rows, unreadable_rows)) = rows(page, &COLUMNS) else {
        return MotionRows::default();
    };
    let mut read = Vec::with_capacity(rows.len());
    let (mut faulty, mut all_clips_known) = (BTreeSet::new(), unreadable_rows == 0);
    for row in &rows {
        let clip = row.take("clip", |cell| known_clip(cell, clips));
        match (motion(row, clip.clone()), clip) {
            (Some(motion), _) => read.push(motion),
            (None, Some(clip)) => {
                faulty.insert(clip);
            }
            (None, None) => all_clips_known = false,
        }
    }
    MotionRows { rows: read, faulty: all_clips_known.then_some(faulty) }
}

fn motion(row: &Row<'_>, clip: Option<String>) -> Option<MotionRow> {
    let moment = row.take("frame", Moment::parse);
    let (across, down) = (row.take("dx", decimal_px), row.take("dy", decimal_px));
    let roll = match row.cell("roll_degrees") {
        "" => Some(None),
        // More than half a turn from one frame to the next is a slip of the pen.
        _ => row
            .take("roll_degrees", |cell| within(decimal_px(cell)?, (-180.0, 180.0), "degrees"))
            .map(Some),
    };
    Some(MotionRow {
        clip: clip?,
        moment: moment?,
        across_px: across?,
        down_px: down?,
        roll_degrees: roll?,
        line: row.line,
    })
}
