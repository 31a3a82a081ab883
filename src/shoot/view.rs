//! How footage stands to what a clip's numbers mean: turned and mirrored mounts, and proxies.

use super::{
    FaultKind,
    table::TableReader,
    value::{one_of, parsed, truth, whole},
};
use crate::geometry::{Orientation, QuarterTurn, Raster};

/// How pictures are turned and mirrored after their file's own flag, as far as that was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct View {
    /// The turn, clockwise.
    pub turn: Option<QuarterTurn>,
    /// Whether left and right change places after it.
    pub mirror: Option<bool>,
}

impl View {
    /// Reads `turn` and `mirror` of a camera or a clip.
    pub(super) fn read(table: &mut TableReader<'_>) -> Self {
        let turn = table.take("turn", |value| {
            let degrees = whole(value)?;
            i64::try_from(degrees)
                .ok()
                .filter(|degrees| *degrees < 360)
                .and_then(QuarterTurn::of_degrees)
                .ok_or(FaultKind::NoQuarterTurn { degrees })
        });
        Self { turn, mirror: table.take("mirror", truth) }
    }

    /// This where it says something, and else the other.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self { turn: self.turn.or(other.turn), mirror: self.mirror.or(other.mirror) }
    }

    /// What it comes to: upright where nothing was written.
    #[must_use]
    pub fn orientation(self) -> Orientation {
        Orientation {
            turn: self.turn.unwrap_or_default(),
            is_mirrored: self.mirror.unwrap_or_default(),
        }
    }
}

/// What a smaller copy of a clip stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ProxyOf {
    /// The raster of the full clip, upright: that of all px in the shoot file, the pins and every result.
    pub full: Raster,
    /// In which px the marks were measured.
    pub marks: MarkedIn,
}

/// In which px a clip's marks were measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MarkedIn {
    /// In those of the proxy.
    Proxy,
    /// In those of the full clip.
    Full,
}

const MARKED_IN: [(&str, MarkedIn); 2] = [("proxy", MarkedIn::Proxy), ("full", MarkedIn::Full)];

/// Reads `proxy = { of = "2704x2028", marks_in = "proxy" }`. Nothing is assumed: marks that are measured in
/// the one and taken for the other would all be off by the same factor.
pub(super) fn proxy(mut table: TableReader<'_>) -> Option<ProxyOf> {
    let full = table.need("of", "the raster of the full clip, for example \"2704x2028\"", parsed);
    let marks = table.need(
        "marks_in",
        "the px that the marks were measured in: \"proxy\" or \"full\"",
        one_of(&MARKED_IN),
    );
    table.finish();
    Some(ProxyOf { full: full?, marks: marks? })
}
