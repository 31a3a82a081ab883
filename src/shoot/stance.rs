//! How a clip's picture is held: its lens, what levels it, and what its windows stand still against.

use super::{
    FaultKind,
    table::TableReader,
    value::{number, number_within, one_of, word, wrong_type},
};
use crate::{
    geometry::Levelling,
    lens::{FieldOfView, Span},
};
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
                number_within(-greatest, greatest)(value).map(Level::Degrees)
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

const FIELDS: [(&str, Span); 3] = [
    ("fov_horizontal", Span::Horizontal),
    ("fov_vertical", Span::Vertical),
    ("fov_diagonal", Span::Diagonal),
];
const MAPPINGS: [(&str, ()); 1] = [("rectilinear", ())];

/// Reads `lens = { mapping = "rectilinear", fov_horizontal = 90 }`: the mapping, and one field of view at least.
/// Empty if it is left out or has a fault. Whether several agree shows once the raster is known.
pub(super) fn lens(table: &mut TableReader<'_>) -> Vec<FieldOfView> {
    let is_table = |value: &DeValue<'_>| match value {
        DeValue::Table(_) => Ok(()),
        _ => Err(wrong_type(
            "a table such as { mapping = \"rectilinear\", fov_horizontal = 90 }",
            value,
        )),
    };
    if table.take("lens", is_table).is_none() {
        return Vec::new();
    }
    let Some(mut lens) = table.inner("lens", "lens") else { return Vec::new() };
    let remedy =
        "how it maps angles: \"rectilinear\", which keeps straight lines straight, is the only one";
    let mapping = lens.need("mapping", remedy, one_of(&MAPPINGS));
    let mut fields = Vec::new();
    for (key, span) in FIELDS {
        let field = lens.take(key, |value| Ok(FieldOfView::from_degrees(span, number(value)?)?));
        fields.extend(field);
    }
    if !FIELDS.iter().any(|(key, _)| lens.has(key)) {
        lens.missing("fov_horizontal", "`fov_vertical` or `fov_diagonal`, in degrees");
    }
    lens.finish();
    if mapping.is_some() { fields } else { Vec::new() }
}

impl From<crate::lens::LensError> for FaultKind {
    fn from(source: crate::lens::LensError) -> Self {
        Self::Lens { source }
    }
}
