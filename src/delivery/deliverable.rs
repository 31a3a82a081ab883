use crate::geometry::{Raster, Rounding, Shape};
use serde::{Deserialize, Serialize};

/// Parts of the delivered picture that something else will cover: captions, buttons, a clock. Each is a
/// share of the picture, measured from its edge.
///
/// They change often and differ from client to client: ask for today's template (common practice, no
/// source), and write its date beside the numbers.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct BlockedZones {
    /// Share of the height from the top.
    pub top: f64,
    /// Share of the height from the bottom.
    pub bottom: f64,
    /// Share of the width from the left.
    pub left: f64,
    /// Share of the width from the right.
    pub right: f64,
    /// The date of the template, as written in the shoot file.
    pub as_of: Option<String>,
}

impl BlockedZones {
    /// Whether nothing is blocked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        [self.top, self.bottom, self.left, self.right].iter().all(|share| *share <= 0.0)
    }
}

/// Something to be delivered.
#[derive(Debug, Clone, PartialEq)]
pub struct Deliverable {
    /// Its name in the shoot file; letters, digits, `-`, `_` and `.` only.
    pub name: String,
    /// The raster it is delivered in.
    pub raster: Raster,
    /// How a held window is rounded.
    pub rounding: Rounding,
    /// What will be covered.
    pub blocked: BlockedZones,
}

impl Deliverable {
    /// The shape of its raster.
    #[must_use]
    pub fn shape(&self) -> Shape {
        self.raster.shape()
    }
}
