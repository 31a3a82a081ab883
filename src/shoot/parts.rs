use super::{
    FaultKind,
    inside_crop::inside_crop,
    lens::lens,
    limits::{LimitTable, Scope},
    names::Names,
    page::Page,
    sharpness::sharpness,
    shutter::shutter,
    stance::Stance,
    table::{TableReader, Written},
    value::{date, number_within, one_of, parsed, text},
    view::View,
};
use crate::{
    delivery::{BlockedZones, Deliverable},
    geometry::{InsideCrop, Raster, Rounding},
    lens::SaidLens,
    sharpness::MeasuredSharpness,
};
use toml::de::DeValue;

/// Edges of the displayed frame that are never used: a stabiliser's inset, bodywork along a side.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Trim {
    /// Px off the left edge.
    pub left: f64,
    /// Px off the top edge.
    pub top: f64,
    /// Px off the right edge.
    pub right: f64,
    /// Px off the bottom edge.
    pub bottom: f64,
}

/// A camera as the shoot file describes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// Its name in the shoot file.
    pub name: String,
    /// How its pictures are turned and mirrored, where a clip does not say otherwise.
    pub view: View,
    /// The edges of its frames that are never used, of the picture as it is shown after that.
    pub trim: Trim,
    /// What it crops before it writes a file, if that was written.
    pub inside_crop: Option<InsideCrop>,
    /// How sharp its frames are, if that was measured: of its file, behind the inside crop.
    pub sharpness: Option<MeasuredSharpness>,
    /// Its lens, if that was written: of the picture as it stores it, without an inside crop.
    pub lens: Option<SaidLens>,
    /// What levels its pictures and what windows stand still against, where a clip does not say otherwise.
    pub stance: Stance,
    /// How long it exposes each frame, in seconds, if that was written.
    pub shutter_secs: Option<f64>,
    /// The line on which it begins.
    pub line: u64,
    pub(super) trim_line: u64,
    pub(super) lens_line: u64,
    pub(super) limits: LimitTable,
}

pub(super) const ROUNDINGS: [(&str, Rounding); 3] = [
    (Rounding::Exact.name(), Rounding::Exact),
    (Rounding::Even.name(), Rounding::Even),
    (Rounding::EvenExactShape.name(), Rounding::EvenExactShape),
];

/// The greatest share of a side that one zone may block, and what two opposite ones stay below.
const MOST_BLOCKED: f64 = 0.9;
const BLOCKED_TOGETHER: f64 = 0.95;

/// Reads and takes in the name of a thing. A name that is none is taken in too, so that it is known.
pub(super) fn name(table: &mut TableReader<'_>, names: &mut Names) -> Option<String> {
    let name = table.need("name", "of letters, digits, `-`, `_` and `.`", text);
    let Some(name) = name else {
        names.note_unread();
        return None;
    };
    let span = table.written("name")?.span();
    names.enter(table.page(), &span, name).then(|| name.to_owned())
}

/// Reads one `[[deliverable]]`; `None` if it lacks what makes one.
pub(super) fn deliverable(
    page: &Page<'_>,
    written: &Written<'_>,
    names: &mut Names,
    rounding: Rounding,
) -> Option<(Deliverable, LimitTable)> {
    let Some(mut table) = TableReader::open(page, written, "[[deliverable]]") else {
        names.note_unread();
        return None;
    };
    let name = name(&mut table, names);
    let raster = table.need("raster", "for example \"1920x1080\"", parsed::<Raster>);
    let rounding = table.take("rounding", one_of(&ROUNDINGS)).unwrap_or(rounding);
    let blocked = table.inner("blocked", "blocked").map(blocked).unwrap_or_default();
    let limits = LimitTable::within(&mut table, "[deliverable.limits]", Scope::OneDeliverable);
    table.finish();
    Some((Deliverable { name: name?, raster: raster?, rounding, blocked }, limits))
}

fn blocked(mut table: TableReader<'_>) -> BlockedZones {
    let mut share =
        |key| table.take(key, number_within(0.0, MOST_BLOCKED, "of the window")).unwrap_or(0.0);
    let (top, bottom, left, right) = (share("top"), share("bottom"), share("left"), share("right"));
    let as_of = table.take("as_of", date);
    for ((first, a), (second, b)) in
        [(("top", top), ("bottom", bottom)), (("left", left), ("right", right))]
    {
        if a + b >= BLOCKED_TOGETHER {
            let limit = BLOCKED_TOGETHER;
            table.fault(first, FaultKind::AllBlocked { first, second, sum: a + b, limit });
        }
    }
    table.finish();
    BlockedZones { top, bottom, left, right, as_of }
}

/// Reads one `[[camera]]`; `None` if it has no name.
pub(super) fn camera(page: &Page<'_>, written: &Written<'_>, names: &mut Names) -> Option<Camera> {
    let Some(mut table) = TableReader::open(page, written, "[[camera]]") else {
        names.note_unread();
        return None;
    };
    let name = name(&mut table, names);
    let view = View::read(&mut table);
    let trim = table.inner("trim", "trim").map(trim).unwrap_or_default();
    let inside_crop = inside_crop(&mut table);
    let sharpness = sharpness(&mut table);
    let (lens, stance) = (lens(&mut table), Stance::read(&mut table));
    let shutter_secs = shutter(&mut table);
    let limits = LimitTable::within(&mut table, "[camera.limits]", Scope::Clips);
    let (line, trim_line, lens_line) = (table.line(), table.line_of("trim"), table.line_of("lens"));
    table.finish();
    Some(Camera {
        name: name?,
        view,
        trim,
        inside_crop,
        sharpness,
        lens,
        stance,
        shutter_secs,
        line,
        trim_line,
        lens_line,
        limits,
    })
}

fn trim(mut table: TableReader<'_>) -> Trim {
    let greatest = f64::from(Raster::GREATEST_SIDE_PX);
    let mut px = |key| table.take(key, number_within(0.0, greatest, "px")).unwrap_or(0.0);
    let trim = Trim { left: px("left"), top: px("top"), right: px("right"), bottom: px("bottom") };
    table.finish();
    trim
}

/// Reads a list of names that must be known, each once; `None` if it is left out or has a fault.
pub(super) fn known_names(
    table: &mut TableReader<'_>,
    key: &'static str,
    names: &Names,
) -> Option<Vec<String>> {
    let found = table.page().found();
    let mut listed: Vec<String> = Vec::new();
    for written in table.list(key, "a list of at least one name in quotes")? {
        match new_name(written.get_ref(), names, &listed) {
            Ok(name) => listed.push(name),
            Err(kind) => table.page().fault_at(&written.span(), Some(key.to_owned()), kind),
        }
    }
    (table.page().found() == found).then_some(listed)
}

fn new_name(value: &DeValue<'_>, names: &Names, listed: &[String]) -> Result<String, FaultKind> {
    let name = names.known(text(value)?)?;
    if listed.contains(&name) { Err(FaultKind::ListedTwice { name }) } else { Ok(name) }
}
