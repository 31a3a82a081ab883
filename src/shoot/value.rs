//! Single values of the shoot file. Each function takes one value of a table, or says what is wrong with it.

use super::{FaultKind, Moment, decimal::within, names::nearest};
use crate::timecode::{FrameIndex, FrameRate};
use std::str::FromStr;
use toml::{de::DeValue, value::Datetime};

/// The longest text that is read, so that no message is longer than a page.
pub(super) const LONGEST_TEXT: usize = 1000;

pub(super) fn wrong_type(expected: &'static str, value: &DeValue<'_>) -> FaultKind {
    let found = match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or a time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    };
    FaultKind::WrongType { expected, found }
}

/// A text of at least one character that is no space.
pub(super) fn text<'t>(value: &'t DeValue<'_>) -> Result<&'t str, FaultKind> {
    let text = value.as_str().ok_or_else(|| wrong_type("a text in quotes", value))?;
    match text.chars().count() {
        letters if letters > LONGEST_TEXT => {
            Err(FaultKind::TooLong { letters, limit: LONGEST_TEXT })
        }
        _ if text.trim().is_empty() => Err(FaultKind::Empty { expected: "a text" }),
        _ => Ok(text),
    }
}

/// A day of the calendar, with quotes or as TOML writes it without.
pub(super) fn date(value: &DeValue<'_>) -> Result<String, FaultKind> {
    let written = match value {
        DeValue::Datetime(date) => date.to_string(),
        _ => text(value)?.trim().to_owned(),
    };
    let is_day = |date: Datetime| date.date.is_some() && date.time.is_none();
    match written.parse::<Datetime>() {
        Ok(date) if is_day(date) => Ok(written),
        _ => Err(FaultKind::NotADate { value: written }),
    }
}

/// A text that has its own way of being read.
pub(super) fn parsed<T>(value: &DeValue<'_>) -> Result<T, FaultKind>
where
    T: FromStr,
    FaultKind: From<T::Err>,
{
    Ok(text(value)?.parse()?)
}

/// A finite number, whole or decimal.
pub(super) fn number(value: &DeValue<'_>) -> Result<f64, FaultKind> {
    let digits = match value {
        DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str(),
        DeValue::Float(decimal) => decimal.as_str(),
        DeValue::Integer(_) => return Err(FaultKind::NotANumber { value: value_text(value) }),
        _ => return Err(wrong_type("a number", value)),
    };
    let number = digits.parse::<f64>().ok().filter(|number| number.is_finite());
    number.ok_or_else(|| FaultKind::NotANumber { value: value_text(value) })
}

/// A number from `least` to `greatest`, in this unit; one without has the empty one.
pub(super) fn number_within(
    least: f64,
    greatest: f64,
    unit: &'static str,
) -> impl Fn(&DeValue<'_>) -> Result<f64, FaultKind> {
    move |value| within(number(value)?, (least, greatest), unit)
}

/// A whole number from 0, in decimal digits.
pub(super) fn whole(value: &DeValue<'_>) -> Result<u64, FaultKind> {
    let DeValue::Integer(integer) = value else {
        return Err(wrong_type("a whole number", value));
    };
    let digits = Some(integer.as_str()).filter(|_| integer.radix() == 10);
    digits
        .and_then(|digits| digits.parse().ok())
        .ok_or_else(|| FaultKind::NotWhole { value: value_text(value) })
}

/// `true` or `false`.
pub(super) fn truth(value: &DeValue<'_>) -> Result<bool, FaultKind> {
    value.as_bool().ok_or_else(|| wrong_type("true or false, without quotes", value))
}

/// A rate: a fraction in a text, or a whole number. A decimal is refused with the fraction it stands for.
pub(super) fn rate(value: &DeValue<'_>) -> Result<FrameRate, FaultKind> {
    match value {
        DeValue::Integer(_) | DeValue::Float(_) => Ok(value_text(value).parse()?),
        DeValue::String(_) => parsed(value),
        _ => Err(wrong_type("a rate such as 25 or \"30000/1001\"", value)),
    }
}

/// A frame as a whole number, or a timecode as a text.
pub(super) fn moment(value: &DeValue<'_>) -> Result<Moment, FaultKind> {
    match value {
        DeValue::Integer(_) => Ok(Moment::Frame(FrameIndex(whole(value)?))),
        DeValue::String(_) => Moment::parse(text(value)?),
        _ => Err(wrong_type("a frame, or a timecode in quotes", value)),
    }
}

/// One of a few words.
pub(super) fn one_of<T: Copy>(
    words: &'static [(&'static str, T)],
) -> impl Fn(&DeValue<'_>) -> Result<T, FaultKind> {
    move |value| word(text(value)?, words)
}

/// What a word stands for.
pub(super) fn word<T: Copy>(written: &str, words: &[(&'static str, T)]) -> Result<T, FaultKind> {
    if let Some((_, meaning)) = words.iter().find(|(word, _)| *word == written) {
        return Ok(*meaning);
    }
    let all = || words.iter().map(|(word, _)| *word);
    let choices = match nearest(written, all()) {
        Some(nearest) => {
            format!("{} (did you mean `{nearest}`?)", all().collect::<Vec<_>>().join(", "))
        }
        None => all().collect::<Vec<_>>().join(", "),
    };
    Err(FaultKind::NotOneOf { value: written.to_owned(), choices })
}

/// The digits of a number as they were written.
fn value_text(value: &DeValue<'_>) -> String {
    match value {
        DeValue::Integer(integer) => integer.to_string(),
        DeValue::Float(float) => float.to_string(),
        _ => String::new(),
    }
}
