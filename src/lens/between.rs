use serde::{Serialize, Serializer};
use std::fmt;

/// What a value is, or the two ends that it lies between where it is not known better.
///
/// Printed with the digits that are asked for, `{:.2}`: "1.28" where it is known or both ends print alike, and
/// "1.28 to 1.46" where not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Between {
    from: f64,
    to: f64,
}

impl Between {
    /// A value that is known.
    #[must_use]
    pub const fn exactly(value: f64) -> Self {
        Self { from: value, to: value }
    }

    /// The least and the greatest of some values; `None` of none.
    pub fn all(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        values
            .into_iter()
            .map(Self::exactly)
            .reduce(|all, value| Self { from: all.from.min(value.from), to: all.to.max(value.to) })
    }

    /// The lower end.
    #[must_use]
    pub const fn from(&self) -> f64 {
        self.from
    }

    /// The upper end.
    #[must_use]
    pub const fn to(&self) -> f64 {
        self.to
    }

    /// Whether a value lies between the ends or on one.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        (self.from..=self.to).contains(&value)
    }

    /// Radians as degrees.
    #[must_use]
    pub fn to_degrees(&self) -> Self {
        Self { from: self.from.to_degrees(), to: self.to.to_degrees() }
    }

    /// What another way of printing makes of it: one text, or both ends.
    #[must_use]
    pub fn words(&self, print: impl Fn(f64) -> String) -> String {
        let [from, to] = [self.from, self.to].map(print);
        if from == to { from } else { format!("{from} to {to}") }
    }
}

impl fmt::Display for Between {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let print = |value: f64| match f.precision() {
            // A negative nought is nought.
            Some(digits) => format!("{:.digits$}", value + 0.0),
            None => value.to_string(),
        };
        f.write_str(&self.words(print))
    }
}

/// A number where it is known, and a list of both ends where it is not.
impl Serialize for Between {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.from < self.to {
            [self.from, self.to].serialize(serializer)
        } else {
            self.from.serialize(serializer)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_prints_as_one_number_or_two() {
        let range = Between::all([1.461, 1.2806]).unwrap();
        assert_eq!(format!("{range:.2}"), "1.28 to 1.46");
        assert_eq!(format!("{:.2}", Between::exactly(1.2806)), "1.28");
        assert_eq!(format!("{range:.0}"), "1");
        assert_eq!(serde_json::to_string(&range).unwrap(), "[1.2806,1.461]");
        assert_eq!(serde_json::to_string(&Between::exactly(90.0)).unwrap(), "90.0");
        assert_eq!(format!("{:.2}", Between::exactly(-0.0)), "0.00");
        assert_eq!(Between::all([]), None);
        assert!(range.contains(1.4) && range.contains(1.461) && !range.contains(1.5));
    }
}
