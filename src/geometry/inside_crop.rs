use super::GeometryError;
use serde::{Serialize, Serializer, ser::SerializeStruct};
use std::{fmt, str::FromStr};

/// What a share that a camera crops is a share of: "10 %" says nothing until this is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CropReading {
    /// Of the width off the left and again off the right, and of the height off the top and the bottom.
    PerSide,
    /// Of the width, both sides together, and of the height likewise.
    OfWidth,
    /// Of the picture's area.
    OfArea,
}

impl CropReading {
    /// Every reading, the one that leaves least first.
    pub const ALL: [Self; 3] = [Self::PerSide, Self::OfWidth, Self::OfArea];

    /// The name in an option and in reports.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::PerSide => "per-side",
            Self::OfWidth => "of-width",
            Self::OfArea => "of-area",
        }
    }

    /// The reading in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::PerSide => "per side",
            Self::OfWidth => "of width",
            Self::OfArea => "of area",
        }
    }

    /// The share of the width that is left, and of the height; above 0 only below [`Self::limit`].
    #[must_use]
    pub fn linear_factor(self, share: f64) -> f64 {
        match self {
            Self::PerSide => 1.0 - 2.0 * share,
            Self::OfWidth => 1.0 - share,
            Self::OfArea => (1.0 - share).sqrt(),
        }
    }

    /// The share that leaves nothing; a crop stays below it.
    #[must_use]
    pub const fn limit(self) -> f64 {
        match self {
            Self::PerSide => 0.5,
            Self::OfWidth | Self::OfArea => 1.0,
        }
    }

    /// How a share is written with each reading that leaves something: "per-side:0.1, of-width:0.1 or
    /// of-area:0.1". `write` writes one.
    #[must_use]
    pub fn choices(share: f64, write: impl Fn(Self) -> String) -> String {
        let possible = Self::ALL.into_iter().filter(|reading| share < reading.limit());
        let written: Vec<String> = possible.map(write).collect();
        match written.as_slice() {
            [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
            _ => written.concat(),
        }
    }

    /// What each reading of a share leaves of the width: "per side leaves 0.800 of the width, of width 0.900,
    /// of area 0.949". One that leaves nothing says so.
    #[must_use]
    pub fn compared(share: f64) -> String {
        let left = |reading: Self| {
            if share < reading.limit() {
                format!("{:.3}", reading.linear_factor(share))
            } else {
                "nothing".to_owned()
            }
        };
        let [per_side, of_width, of_area] = Self::ALL.map(left);
        let of_the_width = if share < Self::PerSide.limit() { " of the width" } else { "" };
        format!("per side leaves {per_side}{of_the_width}, of width {of_width}, of area {of_area}")
    }
}

/// The crop that a camera makes before it writes the file: a stabiliser's, mostly. What is left is enlarged
/// again to the file's raster, so that each px of the file carries less than one px of the sensor.
///
/// The default is none: nothing is cropped, and the factor is 1.
///
/// ```
/// use lookroom::geometry::{CropReading, InsideCrop};
/// let crop = InsideCrop::new(0.10, CropReading::OfWidth)?;
/// assert_eq!(crop.linear_factor(), 0.9);
/// assert_eq!(crop.to_string(), "10 % of width, which leaves 0.900 of the width");
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InsideCrop {
    share: f64,
    reading: CropReading,
}

impl InsideCrop {
    /// No crop.
    pub const NONE: Self = Self { share: 0.0, reading: CropReading::OfWidth };

    /// The crop of a share, from 0 up to below [`CropReading::limit`].
    ///
    /// # Errors
    /// [`GeometryError::InsideCropShare`] if the share is below 0, not a number, or leaves nothing.
    pub fn new(share: f64, reading: CropReading) -> Result<Self, GeometryError> {
        // What is left is held against 0 too, lest the last share below the limit leaves nothing.
        if share >= 0.0 && share < reading.limit() && reading.linear_factor(share) > 0.0 {
            Ok(Self { share, reading })
        } else {
            Err(GeometryError::InsideCropShare { share, reading })
        }
    }

    /// The share of the width that is left, and of the height: sensor px for each px of the file, along an
    /// axis. Above 0, and 1 without a crop.
    #[must_use]
    pub fn linear_factor(&self) -> f64 {
        self.reading.linear_factor(self.share)
    }

    /// Whether nothing is cropped.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.share <= 0.0
    }

    /// The crop as it was written: "10 % of width".
    #[must_use]
    pub fn as_written(&self) -> String {
        if self.is_none() {
            return "none".to_owned();
        }
        // A product such as 100 · 0.07 is not whole; nobody means its last digits.
        let percent = (self.share * 1e8).round() / 1e6;
        format!("{percent} % {}", self.reading.words())
    }
}

impl Default for InsideCrop {
    fn default() -> Self {
        Self::NONE
    }
}

impl fmt::Display for InsideCrop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_none() {
            return f.write_str("none");
        }
        write!(f, "{}, which leaves {:.3} of the width", self.as_written(), self.linear_factor())
    }
}

impl FromStr for InsideCrop {
    type Err = GeometryError;

    /// Reads `per-side:0.1`, `of-width:0.1` or `of-area:0.1`. A number alone is refused: it can mean any of them.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let not_a_crop = || GeometryError::NotAnInsideCrop { text: text.to_owned() };
        let Some((name, share)) = text.split_once(':') else {
            let share = Self::bare_share(text).ok_or_else(not_a_crop)?;
            return Err(GeometryError::BareInsideCrop { text: text.to_owned(), share });
        };
        let reading = CropReading::ALL.into_iter().find(|reading| reading.name() == name.trim());
        let share = share.trim().parse().ok().filter(|share: &f64| share.is_finite());
        match (reading, share) {
            (Some(reading), Some(share)) => Self::new(share, reading),
            _ => Err(not_a_crop()),
        }
    }
}

impl InsideCrop {
    /// The share that a number alone, or a percentage, stands for; `None` if it can be none. It never makes a
    /// crop: it is what a refusal compares the readings of.
    #[must_use]
    pub fn bare_share(text: &str) -> Option<f64> {
        let number = text.trim();
        let (number, in_percent) =
            number.strip_suffix('%').map_or((number, false), |number| (number.trim_end(), true));
        let number: f64 = number.parse().ok()?;
        let share = if in_percent || number >= 1.0 { number / 100.0 } else { number };
        (0.0..1.0).contains(&share).then_some(share)
    }
}

impl Serialize for InsideCrop {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("InsideCrop", 3)?;
        fields.serialize_field("reading", self.reading.name())?;
        fields.serialize_field("share", &self.share)?;
        fields.serialize_field("linear_factor", &self.linear_factor())?;
        fields.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_readings_of_ten_percent_leave_three_widths() {
        // T7 of the trade study; √0.9 = 0.94868 by hand: 0.94868² = 0.89999.
        let factor = |reading| InsideCrop::new(0.10, reading).unwrap().linear_factor();
        assert_eq!(factor(CropReading::PerSide), 0.8);
        assert_eq!(factor(CropReading::OfWidth), 0.9);
        assert!((factor(CropReading::OfArea) - 0.948_683).abs() < 5e-7);
        assert_eq!(
            CropReading::compared(0.10),
            "per side leaves 0.800 of the width, of width 0.900, of area 0.949"
        );
        assert_eq!(
            CropReading::compared(0.6),
            "per side leaves nothing, of width 0.400, of area 0.632"
        );
    }

    #[test]
    fn a_crop_prints_as_it_was_written_and_with_what_it_leaves() {
        let crop: InsideCrop = "per-side:0.07".parse().unwrap();
        assert_eq!(crop.to_string(), "7 % per side, which leaves 0.860 of the width");
        assert_eq!("of-area:0.125".parse::<InsideCrop>().unwrap().as_written(), "12.5 % of area");
        assert_eq!(InsideCrop::default().to_string(), "none");
        assert_eq!(InsideCrop::default().linear_factor(), 1.0);
        assert!("per-side:0".parse::<InsideCrop>().unwrap().is_none());
    }

    #[test]
    fn a_share_that_leaves_nothing_is_refused_with_its_limit() {
        for (text, message) in [
            (
                "per-side:0.5",
                "an inside crop of 0.5 per side is out of range, expected 0 up to below 0.5",
            ),
            (
                "of-width:1",
                "an inside crop of 1 of width is out of range, expected 0 up to below 1",
            ),
            (
                "of-area:-0.1",
                "an inside crop of -0.1 of area is out of range, expected 0 up to below 1",
            ),
        ] {
            assert_eq!(text.parse::<InsideCrop>().unwrap_err().to_string(), message);
        }
        assert!(InsideCrop::new(f64::NAN, CropReading::OfArea).is_err());
        assert!(InsideCrop::new(1.0 - f64::EPSILON / 2.0, CropReading::OfArea).is_ok());
    }

    #[test]
    fn a_number_alone_is_refused_with_what_it_could_mean() {
        let asks = "0.1 can mean three things: per side leaves 0.800 of the width, of width 0.900, of area \
                    0.949; write per-side:0.1, of-width:0.1 or of-area:0.1";
        for text in ["0.1", "10 %", "10%", "10"] {
            assert_eq!(text.parse::<InsideCrop>().unwrap_err().to_string(), asks, "{text}");
        }
        let half = "0.6".parse::<InsideCrop>().unwrap_err().to_string();
        assert!(half.ends_with("; write of-width:0.6 or of-area:0.6"), "{half}");
        for text in
            ["", "strong", "per-side", "per_side:0.1", "of-width:nan", "of-width:10 %", "100", "-1"]
        {
            let refusal = text.parse::<InsideCrop>().unwrap_err();
            assert!(matches!(refusal, GeometryError::NotAnInsideCrop { .. }), "{text}: {refusal}");
        }
    }
}
