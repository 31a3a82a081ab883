use super::{Raster, SourcePoint};
use std::fmt;

/// A turn by whole quarters, clockwise as seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum QuarterTurn {
    /// As it is.
    #[default]
    None,
    /// A quarter clockwise: the top becomes the right side.
    Clockwise,
    /// Upside down.
    Half,
    /// A quarter counterclockwise: the top becomes the left side.
    Counterclockwise,
}

impl QuarterTurn {
    const ALL: [Self; 4] = [Self::None, Self::Clockwise, Self::Half, Self::Counterclockwise];

    /// The turn by so many degrees clockwise; `None` if they are no multiple of 90.
    #[must_use]
    pub fn of_degrees(degrees: i64) -> Option<Self> {
        let turned = degrees.rem_euclid(360);
        Self::ALL.into_iter().find(|turn| i64::from(turn.degrees()) == turned)
    }

    /// Degrees clockwise: 0, 90, 180 or 270.
    #[must_use]
    pub const fn degrees(self) -> u16 {
        match self {
            Self::None => 0,
            Self::Clockwise => 90,
            Self::Half => 180,
            Self::Counterclockwise => 270,
        }
    }

    fn plus(self, degrees: i64) -> Self {
        Self::of_degrees(i64::from(self.degrees()) + degrees).unwrap_or(self)
    }
}

/// How stored pictures are shown: turned by quarters, then mirrored left to right or not.
///
/// ```
/// use lookroom::geometry::{Orientation, QuarterTurn, Raster, SourcePoint};
/// let on_its_side = Orientation { turn: QuarterTurn::Clockwise, is_mirrored: false };
/// let stored = Raster::new(4000, 3000)?;
/// assert_eq!(on_its_side.shown_raster(stored).to_string(), "3000x4000");
/// let shown = on_its_side.shown(SourcePoint { x: 1000.0, y: 600.0 }, stored);
/// assert_eq!(shown, SourcePoint { x: 2400.0, y: 1000.0 });
/// # Ok::<(), lookroom::geometry::GeometryError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Orientation {
    /// The turn, which comes first.
    pub turn: QuarterTurn,
    /// Whether left and right change places after it.
    pub is_mirrored: bool,
}

impl Orientation {
    /// Whether pictures are shown as they are stored.
    #[must_use]
    pub fn is_upright(self) -> bool {
        self == Self::default()
    }

    /// Whether width and height change places.
    #[must_use]
    pub const fn swaps_sides(self) -> bool {
        matches!(self.turn, QuarterTurn::Clockwise | QuarterTurn::Counterclockwise)
    }

    /// This, and then another on what it shows.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        // A turn behind a mirror is the contrary turn before it.
        let degrees = i64::from(next.turn.degrees());
        Self {
            turn: self.turn.plus(if self.is_mirrored { -degrees } else { degrees }),
            is_mirrored: self.is_mirrored != next.is_mirrored,
        }
    }

    /// What undoes it.
    #[must_use]
    pub fn inverse(self) -> Self {
        let degrees = i64::from(self.turn.degrees());
        let back = if self.is_mirrored { degrees } else { -degrees };
        Self { turn: QuarterTurn::None.plus(back), ..self }
    }

    /// The raster as it is shown.
    ///
    /// # Panics
    /// Never: the sides of a raster are allowed either way round.
    #[must_use]
    pub fn shown_raster(self, stored: Raster) -> Raster {
        if self.swaps_sides() {
            Raster::new(stored.height_px(), stored.width_px())
                .expect("the sides of a raster may change places")
        } else {
            stored
        }
    }

    /// Where a point of the stored picture is shown, in edge coordinates.
    #[must_use]
    pub fn shown(self, point: SourcePoint, stored: Raster) -> SourcePoint {
        let SourcePoint { x, y } = point;
        let (width, height) = (stored.width(), stored.height());
        let turned = match self.turn {
            QuarterTurn::None => SourcePoint { x, y },
            QuarterTurn::Clockwise => SourcePoint { x: height - y, y: x },
            QuarterTurn::Half => SourcePoint { x: width - x, y: height - y },
            QuarterTurn::Counterclockwise => SourcePoint { x: y, y: width - x },
        };
        if self.is_mirrored {
            SourcePoint { x: self.shown_raster(stored).width() - turned.x, ..turned }
        } else {
            turned
        }
    }
}

impl fmt::Display for Orientation {
    /// What has to be done: `turned 90° clockwise, then mirrored left to right`; `as stored` if nothing.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.turn, self.is_mirrored) {
            (QuarterTurn::None, false) => f.write_str("as stored"),
            (QuarterTurn::None, true) => f.write_str("mirrored left to right"),
            (turn, false) => write!(f, "turned {}° clockwise", turn.degrees()),
            (turn, true) => {
                write!(f, "turned {}° clockwise, then mirrored left to right", turn.degrees())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every() -> impl Iterator<Item = Orientation> {
        QuarterTurn::ALL
            .into_iter()
            .flat_map(|turn| [false, true].map(|is_mirrored| Orientation { turn, is_mirrored }))
    }

    #[test]
    fn one_after_another_moves_points_as_both_do() {
        let stored = Raster::new(40, 30).unwrap();
        let point = SourcePoint { x: 7.0, y: 11.0 };
        for (first, next) in every().flat_map(|first| every().map(move |next| (first, next))) {
            let both = first.then(next);
            let between = first.shown_raster(stored);
            assert_eq!(both.shown_raster(stored), next.shown_raster(between));
            assert_eq!(
                both.shown(point, stored),
                next.shown(first.shown(point, stored), between),
                "{first}, then {next}"
            );
        }
    }

    #[test]
    fn the_inverse_brings_every_point_back() {
        let stored = Raster::new(40, 30).unwrap();
        let point = SourcePoint { x: 7.0, y: 11.0 };
        for orientation in every() {
            let shown = orientation.shown(point, stored);
            let back = orientation.inverse().shown(shown, orientation.shown_raster(stored));
            assert_eq!(back, point, "{orientation}");
            assert!(orientation.then(orientation.inverse()).is_upright(), "{orientation}");
        }
    }
}
