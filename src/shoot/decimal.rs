use super::FaultKind;

/// How far from the frame's corner a number of px may lie; beyond it there is only a slip of the pen.
const GREATEST_PX: f64 = 1e6;

/// Reads a number of px: digits with a decimal point, and nothing else that a parser might take.
pub(super) fn decimal_px(text: &str) -> Result<f64, FaultKind> {
    within(decimal(text, "a number of px")?, (-GREATEST_PX, GREATEST_PX), "px")
}

/// Reads a number: digits with a decimal point, and nothing else that a parser might take.
pub(super) fn decimal(text: &str, expected: &'static str) -> Result<f64, FaultKind> {
    if text.is_empty() {
        return Err(FaultKind::Empty { expected });
    }
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || b"+-.".contains(&byte));
    let value = text.parse::<f64>().ok().filter(|_| plain);
    value.ok_or_else(|| FaultKind::NotANumber { value: text.to_owned() })
}

/// Reads a size in px, above 0.
pub(super) fn size_px(text: &str) -> Result<f64, FaultKind> {
    let value = decimal_px(text)?;
    if value > 0.0 { Ok(value) } else { Err(FaultKind::NoSize { value }) }
}

/// The value in this unit, if it is from `least` to `greatest`; NaN is not. A number without a unit has the empty one.
pub(super) fn within(
    value: f64,
    (least, greatest): (f64, f64),
    unit: &'static str,
) -> Result<f64, FaultKind> {
    if (least..=greatest).contains(&value) {
        Ok(value)
    } else {
        Err(FaultKind::OutOfRange { value, least, greatest, unit })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_decimal_numbers_are_read() {
        assert_eq!(decimal_px("-12.25"), Ok(-12.25));
        assert_eq!(decimal_px("+.5"), Ok(0.5));
        for text in
            ["", "NaN", "inf", "-inf", "0x10", "1e3", "12,5", "1 000", "1_000", "-", ".", "٣"]
        {
            assert!(decimal_px(text).is_err(), "{text}");
        }
        assert!(matches!(decimal_px(&"9".repeat(400)), Err(FaultKind::OutOfRange { .. })));
        assert!(matches!(size_px("0.0"), Err(FaultKind::NoSize { .. })));
    }
}
