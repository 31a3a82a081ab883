use std::str::FromStr;

/// How much light a code value stands for: what a picture's values are put through before an edge is measured.
///
/// A camera bends the tones, and an edge that is measured in bent tones is sharper or softer than the light was
/// (ISO 12233 asks for the inverse of the opto-electronic conversion function first).
///
/// ```
/// use lookroom::sharpness::ToneCurve;
/// let curve: ToneCurve = "2.2".parse()?;
/// assert_eq!(curve.light(0.0, 255), Some(0.0));
/// assert!((curve.light(0.5, 255).unwrap() - 0.5_f64.powf(2.2)).abs() < 1e-12);
/// # Ok::<(), lookroom::sharpness::ToneCurveError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub enum ToneCurve {
    /// Code values are taken as they are.
    #[default]
    AsCoded,
    /// The curve of sRGB (IEC 61966-2-1).
    Srgb,
    /// A power: light is the code value, 0 to 1, to this.
    Gamma(f64),
    /// A measured one.
    Table(ToneTable),
}

/// The greatest and the least gamma: 1 over the other. Chosen: no camera's is near either.
const GREATEST_GAMMA: f64 = 10.0;

/// Why a text is no tone curve.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ToneCurveError {
    /// Neither `srgb` nor a number.
    #[error("`{text}` is neither srgb nor a gamma such as 2.2")]
    NotACurve {
        /// What was read.
        text: String,
    },
    /// A gamma that no camera has.
    #[error("a gamma of {gamma} is out of range, expected {} to {GREATEST_GAMMA}", 1.0 / GREATEST_GAMMA)]
    Gamma {
        /// What was read.
        gamma: f64,
    },
    /// A row of a table that is not two numbers.
    #[error(
        "line {line}: `{row}` is not two numbers, an exposure and the code value it gives, such as 0.18 118"
    )]
    Row {
        /// The line, from 1.
        line: usize,
        /// What was read.
        row: String,
    },
    /// A row of a table that goes back.
    #[error(
        "line {line}: the {what} {value} is not above the {before} before it; rows go from dark to light, exposure first"
    )]
    NotRising {
        /// The line, from 1.
        line: usize,
        /// Which of the two.
        what: &'static str,
        /// Its value.
        value: f64,
        /// The value before it.
        before: f64,
    },
    /// A table that is hardly one.
    #[error("the table has {rows} rows and a curve needs at least {least}")]
    TooShort {
        /// How many it has.
        rows: usize,
        /// The fewest.
        least: usize,
    },
}

impl FromStr for ToneCurve {
    type Err = ToneCurveError;

    /// `srgb`, or a gamma.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.eq_ignore_ascii_case("srgb") {
            return Ok(Self::Srgb);
        }
        let not_a_curve = || ToneCurveError::NotACurve { text: text.to_owned() };
        let gamma = text.parse::<f64>().map_err(|_| not_a_curve())?;
        if (1.0 / GREATEST_GAMMA..=GREATEST_GAMMA).contains(&gamma) {
            Ok(Self::Gamma(gamma))
        } else {
            Err(ToneCurveError::Gamma { gamma })
        }
    }
}

impl ToneCurve {
    /// The light that a code value stands for, on the curve's own scale; the code value is from 0 to 1, of so
    /// many. `None` beyond both ends of a table.
    #[must_use]
    pub fn light(&self, code: f64, greatest_code: u32) -> Option<f64> {
        match self {
            Self::AsCoded => Some(code),
            Self::Srgb if code <= 0.04045 => Some(code / 12.92),
            Self::Srgb => Some(((code + 0.055) / 1.055).powf(2.4)),
            Self::Gamma(gamma) => Some(code.powf(*gamma)),
            Self::Table(table) => table.light(code * f64::from(greatest_code)),
        }
    }

    /// The curve in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::AsCoded => "code values as they are, no tone curve".to_owned(),
            Self::Srgb => "the tone curve of sRGB taken out".to_owned(),
            Self::Gamma(gamma) => format!("gamma {gamma} taken out"),
            Self::Table(table) => format!("a tone curve of {} rows taken out", table.rows.len()),
        }
    }
}

/// A measured tone curve: exposures, or luminances, each with the code value it gives.
///
/// One row a line, exposure first, from dark to light; spaces, tabs, commas or semicolons between the two, and
/// remarks behind a `#`. Exposure is on any scale that is proportional to light, code values on the picture's own
/// (0 to 255 of 8 bits). Between rows the curve is a straight line.
///
/// ```
/// use lookroom::sharpness::ToneTable;
/// let table: ToneTable = "0.0 0\n0.2 100\n1.0 255".parse()?;
/// assert_eq!(table.light(50.0), Some(0.1));
/// # Ok::<(), lookroom::sharpness::ToneCurveError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ToneTable {
    /// Exposure and code value.
    rows: Vec<(f64, f64)>,
}

/// Two rows are a straight line, which is no tone curve that somebody measured.
const LEAST_ROWS: usize = 3;

impl FromStr for ToneTable {
    type Err = ToneCurveError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let mut rows: Vec<(f64, f64)> = Vec::new();
        for (place, written) in text.trim_start_matches('\u{feff}').lines().enumerate() {
            let line = place + 1;
            let row = written.split('#').next().unwrap_or("").trim();
            if row.is_empty() {
                continue;
            }
            let (exposure, code) = two_numbers(row)
                .ok_or_else(|| ToneCurveError::Row { line, row: row.chars().take(80).collect() })?;
            if let Some(&(darker, lower)) = rows.last() {
                let not_rising =
                    |what, value, before| ToneCurveError::NotRising { line, what, value, before };
                if exposure <= darker {
                    return Err(not_rising("exposure", exposure, darker));
                }
                if code <= lower {
                    return Err(not_rising("code value", code, lower));
                }
            }
            rows.push((exposure, code));
        }
        if rows.len() < LEAST_ROWS {
            return Err(ToneCurveError::TooShort { rows: rows.len(), least: LEAST_ROWS });
        }
        Ok(Self { rows })
    }
}

fn two_numbers(row: &str) -> Option<(f64, f64)> {
    let is_between = |letter: char| letter.is_whitespace() || matches!(letter, ',' | ';');
    let mut numbers = row
        .split(is_between)
        .filter(|word| !word.is_empty())
        .map(|word| word.parse::<f64>().ok().filter(|number| number.is_finite()));
    let pair = (numbers.next()??, numbers.next()??);
    numbers.next().is_none().then_some(pair)
}

impl ToneTable {
    /// The exposure that gives a code value; `None` beyond both ends.
    #[must_use]
    pub fn light(&self, code: f64) -> Option<f64> {
        let above = self.rows.partition_point(|row| row.1 < code);
        let (lighter, upper) = *self.rows.get(above)?;
        let Some(below) = above.checked_sub(1) else {
            // Nothing lies below the first row, and the row itself is on the curve.
            return (upper <= code).then_some(lighter);
        };
        let (darker, lower) = self.rows[below];
        Some(darker + (lighter - darker) * (code - lower) / (upper - lower))
    }

    /// The least and the greatest code value of the table.
    #[must_use]
    pub fn codes(&self) -> (f64, f64) {
        let ends = self.rows.first().zip(self.rows.last());
        ends.map_or((0.0, 0.0), |(first, last)| (first.1, last.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of IEC 61966-2-1's curve worked out by hand; 0.18 of the light is about code 118 (from memory).
    #[test]
    fn srgb_is_a_line_and_then_a_power() {
        let light = |code| ToneCurve::Srgb.light(code, 255).unwrap();
        assert_eq!((light(0.0), light(1.0)), (0.0, 1.0));
        assert!((light(0.04) - 0.04 / 12.92).abs() < 1e-12);
        assert!((light(118.0 / 255.0) - 0.18).abs() < 0.002);
    }

    #[test]
    fn a_table_is_read_with_remarks_and_any_separator() {
        let table: ToneTable =
            "# exposure, code\n0,0\n\n0.25;\t100 # grey\n1 200\n".parse().unwrap();
        assert_eq!(table.light(0.0), Some(0.0));
        assert_eq!(table.light(150.0), Some(0.625));
        assert_eq!(table.light(200.0), Some(1.0));
        assert_eq!((table.light(200.5), table.light(-1.0)), (None, None));
        assert_eq!(table.codes(), (0.0, 200.0));
    }

    #[test]
    fn what_is_wrong_with_a_table_is_told_with_its_line() {
        let fault = |text: &str| text.parse::<ToneTable>().unwrap_err().to_string();
        assert!(fault("0 0\n1 x\n").starts_with("line 2: `1 x` is not two numbers"));
        assert!(fault("0 0\n1 2 3\n").starts_with("line 2: `1 2 3`"));
        assert!(fault("0 0\n1 nan\n").starts_with("line 2: `1 nan`"));
        assert!(fault("0 10\n1 10\n").starts_with("line 2: the code value 10 is not above the 10"));
        assert!(fault("0 10\n0 20\n").starts_with("line 2: the exposure 0 is not above"));
        assert_eq!(fault("0 10\n1 20\n"), "the table has 2 rows and a curve needs at least 3");
    }

    #[test]
    fn a_word_or_a_number_is_a_curve() {
        assert_eq!("sRGB".parse(), Ok(ToneCurve::Srgb));
        assert_eq!("1.8".parse(), Ok(ToneCurve::Gamma(1.8)));
        assert!("0".parse::<ToneCurve>().unwrap_err().to_string().contains("0.1 to 10"));
        assert!("nan".parse::<ToneCurve>().is_err());
        assert!("film".parse::<ToneCurve>().unwrap_err().to_string().contains("`film`"));
    }
}
