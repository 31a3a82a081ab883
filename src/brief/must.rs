use crate::lens::Shake;

/// Something that a capture mode has to give.
#[derive(Debug, Clone, PartialEq)]
pub struct Must {
    /// What.
    pub ask: Ask,
    /// The line of the brief, from 1.
    pub line: u64,
}

/// What a must-have asks.
#[derive(Debug, Clone, PartialEq)]
pub enum Ask {
    /// The enlargement of a deliverable's largest window, at most.
    Enlargement {
        /// The deliverable.
        deliverable: String,
        /// At most.
        at_most: f64,
    },
    /// The room left and right of a deliverable's largest window together, as a share of the capture's width.
    SpareAcross {
        /// The deliverable.
        deliverable: String,
        /// At least.
        at_least: f64,
    },
    /// The room above and below it together, as a share of the capture's height.
    SpareDown {
        /// The deliverable.
        deliverable: String,
        /// At least.
        at_least: f64,
    },
    /// The enlargement of the largest window that a shaking mount leaves its room, at most.
    Steady {
        /// The deliverable.
        deliverable: String,
        /// How the mount shakes.
        shake: Shake,
        /// At most.
        at_most: f64,
    },
    /// The capture rate over the timeline's, at least.
    SlowMotion {
        /// At least.
        at_least: f64,
    },
}

impl Ask {
    /// The deliverable that it is about, if it is about one.
    #[must_use]
    pub fn deliverable(&self) -> Option<&str> {
        match self {
            Self::Enlargement { deliverable, .. }
            | Self::SpareAcross { deliverable, .. }
            | Self::SpareDown { deliverable, .. }
            | Self::Steady { deliverable, .. } => Some(deliverable),
            Self::SlowMotion { .. } => None,
        }
    }

    /// The number that it is held against.
    #[must_use]
    pub const fn limit(&self) -> f64 {
        match self {
            Self::Enlargement { at_most, .. } | Self::Steady { at_most, .. } => *at_most,
            Self::SpareAcross { at_least, .. }
            | Self::SpareDown { at_least, .. }
            | Self::SlowMotion { at_least } => *at_least,
        }
    }

    /// By what factor a value falls short of the limit, above 1 where it does: how much more frame, or more frames, a mode
    /// would need. It makes misses of different kinds comparable.
    ///
    /// For room it is the share that the window takes over the share that it may take: all of a height of which 85 %
    /// may be taken is 1.18 times too much.
    #[must_use]
    pub fn shortfall(&self, value: f64) -> f64 {
        match self {
            Self::Enlargement { at_most, .. } | Self::Steady { at_most, .. } => value / at_most,
            Self::SpareAcross { at_least, .. } | Self::SpareDown { at_least, .. } => {
                (1.0 - value) / (1.0 - at_least)
            }
            Self::SlowMotion { at_least } => at_least / value,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misses_of_different_kinds_are_told_by_one_measure() {
        let deliverable = || "film".to_owned();
        let enlargement = Ask::Enlargement { deliverable: deliverable(), at_most: 1.1 };
        let room = Ask::SpareDown { deliverable: deliverable(), at_least: 0.15 };
        let slow = Ask::SlowMotion { at_least: 4.0 };
        // By hand: 1.412 / 1.1, 1 / 0.85 and 4 / 2.
        let told = [enlargement.shortfall(1.412), room.shortfall(0.0), slow.shortfall(2.0)];
        assert_eq!(told.map(|s| format!("{s:.3}")), ["1.284", "1.176", "2.000"]);
        assert!(room.shortfall(0.25) < 1.0);
    }
}
