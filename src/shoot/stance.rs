//! How a clip's picture is held: what levels it, and what its windows stand still against.

use super::{
    table::TableReader,
    value::{number_within, one_of, word, wrong_type},
};
use crate::geometry::Levelling;
use toml::de::DeValue;

/// What turns a clip's picture level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Level {
    /// The same turn at every frame, in degrees, clockwise positive, about the frame's centre.
    Degrees(f64),
    /// At each frame the contrary of what shakes in the roll that the motion file tells.
    Motion,
}

/// Against what a window that holds stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Steady {
    /// The rig: the frame itself.
    #[default]
    Rig,
    /// The world, as far as it shakes: the motion file tells.
    World,
}

/// How a picture is held, as far as that was written.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stance {
    /// What levels it.
    pub level: Option<Level>,
    /// What windows stand still against.
    pub steady: Option<Steady>,
}

const STEADY: [(&str, Steady); 2] = [("rig", Steady::Rig), ("world", Steady::World)];
const LEVEL_WORDS: [(&str, Level); 1] = [("motion", Level::Motion)];

impl Stance {
    /// Reads `level` and `steady` of a camera or a clip.
    pub(super) fn read(table: &mut TableReader<'_>) -> Self {
        let greatest = Levelling::GREATEST_DEGREES;
        let level = table.take("level", |value| match value {
            DeValue::String(text) => word(text, &LEVEL_WORDS),
            DeValue::Integer(_) | DeValue::Float(_) => {
                number_within(-greatest, greatest, "degrees")(value).map(Level::Degrees)
            }
            _ => Err(wrong_type("degrees clockwise such as 6.0, or \"motion\"", value)),
        });
        Self { level, steady: table.take("steady", one_of(&STEADY)) }
    }

    /// This where it says something, and else the other.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self { level: self.level.or(other.level), steady: self.steady.or(other.steady) }
    }

    /// Whether the motion file is needed.
    #[must_use]
    pub fn needs_motion(self) -> bool {
        self.level == Some(Level::Motion) || self.steady == Some(Steady::World)
    }
}
