//! The kit: one capture mode a row, copied from the camera's manual.

use super::{
    Fault, FaultKind, Sheet, ShootError,
    decimal::within,
    page::Page,
    reading::{as_text, on_page},
    rows::{Column, Row, rows},
    value::word,
    written::hash,
};
use crate::{
    capture::CaptureMode,
    geometry::{CropReading, InsideCrop},
    lens::{FieldOfView, Mapping, PossibleLenses, SaidMapping, Span},
};
use std::{fs, path::Path};

/// The modes that were read, and everything that is wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct KitReading {
    /// Every mode that could be read, in the order of the file.
    pub modes: Vec<CaptureMode>,
    /// What must be mended before they are compared.
    pub faults: Vec<Fault>,
    /// SHA-256 of the file, in hexadecimal.
    pub hash: String,
}

const COLUMNS: [Column; 10] = [
    Column::required("camera"),
    Column::required("mode"),
    Column::required("raster"),
    Column::required("rate"),
    Column::optional("mbit_s"),
    Column::optional("mapping"),
    Column::optional("fov_degrees"),
    Column::optional("fov_along"),
    Column::optional("inside_crop"),
    Column::optional("inside_crop_of"),
];

/// What an inside crop's share can be of.
const READINGS: [(&str, CropReading); 3] = [
    ("side", CropReading::PerSide),
    ("width", CropReading::OfWidth),
    ("area", CropReading::OfArea),
];

/// What a field of view can be along.
const SPANS: [(&str, Span); 3] =
    [("horizontal", Span::Horizontal), ("vertical", Span::Vertical), ("diagonal", Span::Diagonal)];

/// The mappings that a manual's words can be put to; a measured one belongs to one camera, and into its shoot file.
const MAPPINGS: [(&str, SaidMapping); 6] = [
    ("unknown", SaidMapping::Unknown),
    ("rectilinear", SaidMapping::Known(Mapping::Rectilinear)),
    ("equidistant", SaidMapping::Known(Mapping::Equidistant)),
    ("equisolid", SaidMapping::Known(Mapping::Equisolid)),
    ("stereographic", SaidMapping::Known(Mapping::Stereographic)),
    ("orthographic", SaidMapping::Known(Mapping::Orthographic)),
];

/// The greatest bit rate in Mb/s; beyond it there is only a slip of the pen.
const GREATEST_MEGABITS: f64 = 100_000.0;

/// Reads a kit file.
///
/// # Errors
/// [`ShootError`] only if the file cannot be opened or is no text; all else is in [`KitReading::faults`].
pub fn read_kit(path: &Path) -> Result<KitReading, ShootError> {
    let bytes =
        fs::read(path).map_err(|source| ShootError::OpenKit { path: path.to_owned(), source })?;
    as_text(&bytes).map_err(|line| ShootError::NotUtf8 { path: path.to_owned(), line })?;
    let mut modes = Vec::new();
    let faults = on_page(Sheet::Kit, path, &bytes, |page| modes = read(page));
    Ok(KitReading { modes, faults: Fault::in_order(faults), hash: hash(&bytes) })
}

fn read(page: &Page<'_>) -> Vec<CaptureMode> {
    let Some((rows, faulty)) = rows(page, &COLUMNS) else { return Vec::new() };
    if rows.is_empty() && faulty == 0 {
        page.fault(None, None, FaultKind::NoModes);
    }
    let mut first_lines: Vec<(String, u64)> = Vec::new();
    let mut modes = Vec::with_capacity(rows.len());
    for row in &rows {
        let Some(mode) = mode(row) else { continue };
        let title = mode.to_string();
        match first_lines.iter().find(|(other, _)| *other == title) {
            Some((_, first_line)) => {
                row.fault("mode", FaultKind::ModeTwice { mode: title, first_line: *first_line });
            }
            None => {
                first_lines.push((title, row.line));
                modes.push(mode);
            }
        }
    }
    modes
}

fn mode(row: &Row<'_>) -> Option<CaptureMode> {
    let camera = row.take("camera", filled);
    let name = row.take("mode", filled);
    let raster = row.take("raster", |cell| Ok(cell.parse()?));
    let rate = row.take("rate", |cell| Ok(cell.parse()?));
    let megabits = optional(row, "mbit_s", |cell| {
        within(decimal(cell)?, (0.001, GREATEST_MEGABITS), "Mbit/s")
    });
    let inside_crop = inside_crop(row);
    let lens = lens(row);
    let (raster, lens) = (raster?, lens?);
    let lens = match lens {
        None => None,
        Some((mapping, field)) => {
            let view = PossibleLenses::new(raster, mapping, &[field]);
            Some(view.map_err(|error| row.fault("fov_degrees", error.into())).ok()?)
        }
    };
    Some(CaptureMode {
        camera: camera?,
        name: name?,
        raster,
        rate: rate?,
        megabits_a_second: megabits?,
        inside_crop: inside_crop?,
        lens,
    })
}

/// A cell that may be empty: `None` where it has a fault.
fn optional<T>(
    row: &Row<'_>,
    column: &str,
    read: impl FnOnce(&str) -> Result<T, FaultKind>,
) -> Option<Option<T>> {
    if row.cell(column).is_empty() { Some(None) } else { row.take(column, read).map(Some) }
}

/// A share alone is refused: it can be of three things.
fn inside_crop(row: &Row<'_>) -> Option<InsideCrop> {
    let share = row.cell("inside_crop");
    match (share, row.cell("inside_crop_of")) {
        ("", "") | ("0", _) => Some(InsideCrop::NONE),
        ("", _) => {
            let kind = FaultKind::KitOfNothing { says: "inside_crop_of", figure: "inside_crop" };
            row.fault("inside_crop_of", kind);
            None
        }
        (share, "") => {
            let kind = match InsideCrop::bare_share(share) {
                Some(share) => FaultKind::KitCropOfWhat { share },
                None => FaultKind::NotANumber { value: share.to_owned() },
            };
            row.fault("inside_crop", kind);
            None
        }
        _ => {
            let reading = row.take("inside_crop_of", |cell| word(cell, &READINGS));
            let share = row.take("inside_crop", decimal);
            let (share, reading) = (share?, reading?);
            row.take("inside_crop", |_| Ok(InsideCrop::new(share, reading)?))
        }
    }
}

/// A field of view alone is refused: spec sheets mean the diagonal as often as not. Without a mapping it is not known.
fn lens(row: &Row<'_>) -> Option<Option<(SaidMapping, FieldOfView)>> {
    let mapping = match row.cell("mapping") {
        "" => Some(SaidMapping::Unknown),
        _ => row.take("mapping", |cell| word(cell, &MAPPINGS)),
    };
    if row.cell("fov_degrees").is_empty() {
        if !row.cell("fov_along").is_empty() {
            let kind = FaultKind::KitOfNothing { says: "fov_along", figure: "fov_degrees" };
            row.fault("fov_along", kind);
            return None;
        }
        return mapping.map(|_| None);
    }
    if row.cell("fov_along").is_empty() {
        row.fault(
            "fov_along",
            FaultKind::KitFieldAlongWhat { value: row.cell("fov_degrees").to_owned() },
        );
        return None;
    }
    let span = row.take("fov_along", |cell| word(cell, &SPANS));
    let degrees = row.take("fov_degrees", decimal);
    let (span, degrees) = (span?, degrees?);
    let field = row.take("fov_degrees", |_| Ok(FieldOfView::from_degrees(span, degrees)?));
    Some(Some((mapping?, field?)))
}

fn filled(cell: &str) -> Result<String, FaultKind> {
    if cell.is_empty() { Err(FaultKind::Empty { expected: "a name" }) } else { Ok(cell.to_owned()) }
}

/// Digits with a decimal point, and nothing else that a parser might take.
fn decimal(cell: &str) -> Result<f64, FaultKind> {
    super::decimal::decimal(cell, "a number")
}
