use super::{FaultKind, table::TableReader, value::number};
use crate::geometry::{CropReading, InsideCrop};
use toml::de::DeValue;

const KEY: &str = "inside_crop";

/// The keys of the table, and what each makes of its share.
const READINGS: [(&str, CropReading); 3] = [
    ("per_side", CropReading::PerSide),
    ("of_width", CropReading::OfWidth),
    ("of_area", CropReading::OfArea),
];

/// Reads what a camera crops before it writes the file: a table with one key, which says what its share is of.
/// `None` if it is left out or has a fault.
pub(super) fn inside_crop(table: &mut TableReader<'_>) -> Option<InsideCrop> {
    match table.written(KEY)?.get_ref() {
        DeValue::Table(_) => one_reading(table.inner(KEY, KEY)?),
        bare => {
            table.fault(KEY, bare_kind(bare));
            None
        }
    }
}

fn one_reading(mut table: TableReader<'_>) -> Option<InsideCrop> {
    let mut first: Option<&'static str> = None;
    let mut crop = None;
    for (key, reading) in READINGS {
        let taken = table.take(key, |value| Ok(InsideCrop::new(number(value)?, reading)?));
        crop = crop.or(taken);
        match first {
            Some(first) if table.has(key) => {
                table.fault(key, FaultKind::Both { table: KEY, first, second: key });
            }
            _ if table.has(key) => first = Some(key),
            _ => {}
        }
    }
    if first.is_none() {
        let remedy = "`of_width` or `of_area`, a share such as 0.1";
        table.missing(READINGS[0].0, remedy);
    }
    table.finish();
    crop
}

/// What is wrong with a value that is no table. A number alone is told what it could mean.
fn bare_kind(value: &DeValue<'_>) -> FaultKind {
    let share = match value {
        DeValue::Integer(_) | DeValue::Float(_) => {
            number(value).ok().and_then(|number| InsideCrop::bare_share(&number.to_string()))
        }
        DeValue::String(text) => InsideCrop::bare_share(text),
        _ => None,
    };
    match share {
        Some(share) => FaultKind::BareInsideCrop { share },
        None => super::value::wrong_type("a table such as { per_side = 0.1 }", value),
    }
}
