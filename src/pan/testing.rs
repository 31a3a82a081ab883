//! What tests of this room plan with.

use super::{Ease, MoveRules, Rules, Weights};

/// The defaults of the limits' table, with the pan limits off.
pub(super) const RULES: Rules = Rules {
    still_zone: 0.12,
    pan_caution: None,
    pan_hard: None,
    greatest_travel: None,
    fits_share: 0.995,
    fits_short: 0.02,
    tight_share: 0.9,
    tight_middle: 0.5,
    least_inside_secs: None,
    weights: Weights { acceleration: 0.4, containment: 5000.0, place: 3.0, width: 30.0 },
    moves: MoveRules {
        least_hold_secs: 1.0,
        least_move_secs: 0.5,
        greatest_move_secs: 6.0,
        reversal_secs: Some(2.0),
        ease: Ease::SMOOTH,
        cost: 1.0,
        cost_per_sec: 0.05,
        place: 60.0,
    },
};
