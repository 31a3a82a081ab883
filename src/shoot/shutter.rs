use super::{FaultKind, decimal::within, table::TableReader, value::text};
use toml::de::DeValue;

/// The exposures that are no slip of the pen, in seconds.
const RANGE_SECS: (f64, f64) = (1e-6, 60.0);

/// Reads how long a camera exposes each frame, in seconds: a text such as `1/100`, or a number of seconds in a text.
/// `None` if it is left out or has a fault.
pub(super) fn shutter(table: &mut TableReader<'_>) -> Option<f64> {
    table.take("shutter", exposure_secs)
}

fn exposure_secs(value: &DeValue<'_>) -> Result<f64, FaultKind> {
    let written = text(value)?.trim();
    let fault = || FaultKind::Shutter { value: written.to_owned() };
    let plain = |part: &str| {
        let is_plain = part.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.');
        part.parse::<f64>().ok().filter(|number| is_plain && *number > 0.0).ok_or_else(fault)
    };
    let secs = match written.split_once('/') {
        Some((over, under)) => plain(over.trim())? / plain(under.trim())?,
        None => plain(written)?,
    };
    within(secs, RANGE_SECS, "s, such as \"1/100\"")
}
