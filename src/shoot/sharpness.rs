use super::{
    FaultKind,
    page::Page,
    table::{TableReader, Written},
    value::number_within,
};
use crate::sharpness::{MeasuredSharpness, SharpPlace};
use std::cmp::Ordering;

const KEY: &str = "sharpness";

/// Reads `sharpness = [{ off_centre = 0, mtf50 = 0.31 }]`: how sharp frames were measured to be. `None` if it is left out or has a
/// fault.
pub(super) fn sharpness(table: &mut TableReader<'_>) -> Option<MeasuredSharpness> {
    let expected =
        "a list such as [ { off_centre = 0, mtf50 = 0.31 }, { off_centre = 0.9, mtf50 = 0.18 } ]";
    let written = table.list(KEY, expected)?;
    let page = table.page();
    let mut places: Vec<SharpPlace> = Vec::with_capacity(written.len());
    let mut is_sound = true;
    for entry in written {
        let Some(place) = place(page, entry) else {
            is_sound = false;
            continue;
        };
        let is_at_same = |other: &SharpPlace| {
            other.off_centre.partial_cmp(&place.off_centre) == Some(Ordering::Equal)
        };
        if places.iter().any(is_at_same) {
            let kind = FaultKind::MeasuredTwice { off_centre: place.off_centre };
            page.fault_at(&entry.span(), Some(KEY.to_owned()), kind);
            is_sound = false;
        }
        places.push(place);
    }
    is_sound.then(|| MeasuredSharpness::new(places)).flatten()
}

fn place(page: &Page<'_>, entry: &Written<'_>) -> Option<SharpPlace> {
    let mut table =
        TableReader::open(page, entry, "a place such as { off_centre = 0, mtf50 = 0.31 }")?;
    let (least, greatest) = MeasuredSharpness::MTF50_LIMITS;
    let off_centre = table.need(
        "off_centre",
        "where it was measured: 0 is the frame's centre, 1 a corner",
        number_within(0.0, 1.0, "of the way to a corner"),
    );
    let mtf50 = table.need(
        "mtf50",
        "in cycles per px of the file, of a slanted edge",
        number_within(least, greatest, "cycles/px"),
    );
    table.finish();
    Some(SharpPlace { off_centre: off_centre?, mtf50_cycles_per_px: mtf50? })
}
