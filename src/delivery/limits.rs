use serde::{Deserialize, Serialize};
use std::fmt;

/// A number that a plan is held to. Every one can be changed by the user, and is printed beside what it
/// decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(
    missing_docs,
    reason = "each limit's meaning is its row in the table below, which users read too"
)]
pub enum Limit {
    GreatestEnlargement,
    BandHero,
    BandFine,
    BandLook,
    BandShort,
    BandPhone,
    ThinBitsPerPx,
    FullMtf50,
    NeighbourStep,
    MarginAcross,
    MarginDown,
    Headroom,
    LeadRoom,
    LeadSecs,
    HeadingSpeed,
    StillZone,
    PreferredWidth,
    GreatestWidth,
    PanCaution,
    PanHard,
    GreatestTravel,
    FitsShare,
    FitsShort,
    TightShare,
    TightMiddle,
    LeastInside,
    PunchIn,
    WhipSecs,
    BlurLook,
    BlurHold,
    KeyError,
    HandleSecs,
    ShakeHz,
    WeightAcceleration,
    WeightContainment,
    WeightPlace,
    WeightWidth,
    WeightMove,
    WeightMoving,
    WeightMovePlace,
    LeastHold,
    LeastMove,
    GreatestMove,
    Reversal,
    EasePeak,
    LookTolerance,
}

/// What a limit is called, means and may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitSpec {
    /// Which.
    pub limit: Limit,
    /// Its name in the shoot file.
    pub name: &'static str,
    /// Its default; `None` is off.
    pub default: Option<f64>,
    /// The least value it may have.
    pub least: f64,
    /// The greatest value it may have.
    pub greatest: f64,
    /// Whether it may be switched off.
    pub may_be_off: bool,
    /// What it is, with its unit.
    pub meaning: &'static str,
}

const fn number(
    limit: Limit,
    name: &'static str,
    default: f64,
    (least, greatest): (f64, f64),
    meaning: &'static str,
) -> LimitSpec {
    LimitSpec { limit, name, default: Some(default), least, greatest, may_be_off: false, meaning }
}

const fn switched(
    limit: Limit,
    name: &'static str,
    default: Option<f64>,
    (least, greatest): (f64, f64),
    meaning: &'static str,
) -> LimitSpec {
    LimitSpec { limit, name, default, least, greatest, may_be_off: true, meaning }
}

impl Limit {
    /// Every limit, in the order of [`Limit`]. Defaults are common practice without a source, except: pan
    /// caution, one picture width in 7 s at 24 frames/s from a published tutorial; the shake's cut-off, chosen: an arm
    /// swings quicker, a camera is turned slower; the speed of a heading, chosen: slower than a caution of a pan, and
    /// more than a subject sways on the spot; the MTF50 of a px that counts in full, chosen: that of a good small camera that
    /// sharpens little; the punch-in, the 20 % of a published editing glossary; the four weights, chosen
    /// by measurement on made tracks and real boxes (`examples/choose_weights.rs` prints the table).
    pub const TABLE: [LimitSpec; 46] = [
        number(
            Self::GreatestEnlargement,
            "greatest_enlargement",
            2.0,
            (0.05, 16.0),
            "delivered px for each window px, an inside crop taken off; a window is never smaller",
        ),
        number(
            Self::BandHero,
            "band_hero",
            0.80,
            (0.05, 16.0),
            "enlargement up to here: good for a hero shot",
        ),
        number(Self::BandFine, "band_fine", 1.00, (0.05, 16.0), "enlargement up to here: fine"),
        number(
            Self::BandLook,
            "band_look",
            1.20,
            (0.05, 16.0),
            "enlargement up to here: look at it at full size",
        ),
        number(
            Self::BandShort,
            "band_short",
            1.50,
            (0.05, 16.0),
            "enlargement up to here: short or fast shots only",
        ),
        number(
            Self::BandPhone,
            "band_phone",
            2.00,
            (0.05, 16.0),
            "enlargement up to here: phone only, client told; above: do not deliver",
        ),
        switched(
            Self::ThinBitsPerPx,
            "thin_bits_per_px",
            Some(0.10),
            (0.0, 10.0),
            "bits of the file for each px of each frame; fewer cost one band, where the bit rate is known",
        ),
        number(
            Self::FullMtf50,
            "full_mtf50",
            0.35,
            (0.05, 1.0),
            "cycles/px at which a px counts in full, where the sharpness of the footage was measured",
        ),
        number(
            Self::NeighbourStep,
            "neighbour_step",
            1.5,
            (1.0, 16.0),
            "a step in enlargement between neighbouring clips above this factor shows",
        ),
        number(
            Self::MarginAcross,
            "margin_across",
            0.05,
            (0.0, 0.45),
            "room kept left and right of the subject, share of the window's width",
        ),
        number(
            Self::MarginDown,
            "margin_down",
            0.05,
            (0.0, 0.45),
            "room kept above and below the subject, share of the window's height",
        ),
        switched(
            Self::Headroom,
            "headroom",
            None,
            (0.0, 0.9),
            "wanted room above the subject, share of the window's height; off: the subject's middle in the window's middle",
        ),
        switched(
            Self::LeadRoom,
            "lead_room",
            None,
            (1.0, 10.0),
            "wanted room ahead of a moving subject over the room behind it: 2 is usual in wide shapes, 1.2 in 9:16; off: its middle in the window's middle",
        ),
        switched(
            Self::LeadSecs,
            "lead_secs",
            Some(0.5),
            (0.0, 60.0),
            "where lead room is wanted: seconds of timeline that a subject needs to the window's edge ahead of it; less is a caution",
        ),
        number(
            Self::HeadingSpeed,
            "heading_speed",
            0.05,
            (0.001, 10.0),
            "where lead room is wanted: window widths in a second of timeline below which a subject hardly moves and has no heading",
        ),
        number(
            Self::StillZone,
            "still_zone",
            0.12,
            (0.0, 0.5),
            "how far the subject may wander before the window should move, share of the window, each way",
        ),
        number(
            Self::PreferredWidth,
            "preferred_width",
            1.0,
            (0.01, 1.0),
            "wanted window width, share of the largest window of the shape",
        ),
        number(
            Self::GreatestWidth,
            "greatest_width",
            1.0,
            (0.01, 1.0),
            "share of the largest window of the shape; a window is never wider",
        ),
        switched(
            Self::PanCaution,
            "pan_caution",
            Some(7.0),
            (0.1, 600.0),
            "seconds of timeline for one window width; a faster pan is a caution",
        ),
        switched(
            Self::PanHard,
            "pan_hard",
            Some(5.0),
            (0.1, 600.0),
            "seconds of timeline for one window width; no pan is ever faster",
        ),
        switched(
            Self::GreatestTravel,
            "greatest_travel",
            None,
            (1.01, 100.0),
            "how far a moving window may travel in all, in times the least that keeps as much inside; off: as far as the weights make it",
        ),
        number(
            Self::FitsShare,
            "fits_share",
            0.995,
            (0.0, 1.0),
            "fits: share of the subject's frames with the whole box and its margins inside, at least",
        ),
        number(
            Self::FitsShort,
            "fits_short",
            0.02,
            (0.0, 1.0),
            "fits: no frame lacks more than this share of the window's width",
        ),
        number(
            Self::TightShare,
            "tight_share",
            0.90,
            (0.0, 1.0),
            "tight: share of the subject's frames with the whole box and its margins inside, at least",
        ),
        number(
            Self::TightMiddle,
            "tight_middle",
            0.5,
            (0.0, 1.0),
            "tight: this middle share of the box is inside on every frame",
        ),
        switched(
            Self::LeastInside,
            "least_inside",
            Some(1.0),
            (0.04, 600.0),
            "seconds of timeline that a subject which crosses or leaves is wholly inside, at least; off: never let go",
        ),
        number(
            Self::PunchIn,
            "punch_in",
            1.2,
            (1.0, 16.0),
            "a planned cut that changes the window's width by less than this factor is called a small jump",
        ),
        switched(
            Self::WhipSecs,
            "whip_secs",
            Some(0.4),
            (0.04, 2.0),
            "seconds of timeline that a whip takes at most, which is told of where it could stand for a planned cut",
        ),
        switched(
            Self::BlurLook,
            "blur_look",
            Some(0.005),
            (0.0001, 1.0),
            "share of the window's width that a subject moves in one exposure; above, look at its blur",
        ),
        switched(
            Self::BlurHold,
            "blur_hold",
            Some(0.01),
            (0.0001, 1.0),
            "share of the window's width that a subject moves in one exposure; above, it is held for and not followed",
        ),
        number(
            Self::KeyError,
            "key_error",
            0.5,
            (0.01, 100.0),
            "delivered px by which the straight lines between keys may miss the path",
        ),
        number(
            Self::HandleSecs,
            "handle_secs",
            1.0,
            (0.0, 60.0),
            "seconds of capture before and after the used range that the path goes on, held",
        ),
        number(
            Self::ShakeHz,
            "shake_hz",
            0.5,
            (0.05, 10.0),
            "background motion quicker than this many Hz of capture is shake, slower is the camera's journey",
        ),
        number(
            Self::WeightAcceleration,
            "weight_acceleration",
            0.4,
            (0.0, 1e4),
            "follow: cost of squared acceleration against speed, s³ per window width",
        ),
        number(
            Self::WeightContainment,
            "weight_containment",
            5000.0,
            (0.1, 1e6),
            "follow: cost of a subject outside the window, per second",
        ),
        number(
            Self::WeightPlace,
            "weight_place",
            3.0,
            (0.0, 1e6),
            "follow: cost of a subject off its wanted place, per second",
        ),
        number(
            Self::WeightWidth,
            "weight_width",
            30.0,
            (0.0, 1e6),
            "follow: cost of a width off the preferred one, per second",
        ),
        number(
            Self::WeightMove,
            "weight_move",
            1.0,
            (0.0, 1e4),
            "moves: cost of an eased move, in window widths of travel",
        ),
        number(
            Self::WeightMoving,
            "weight_moving",
            0.05,
            (0.0, 1e4),
            "moves: cost of each second of an eased move, in window widths of travel",
        ),
        number(
            Self::WeightMovePlace,
            "weight_move_place",
            60.0,
            (0.0, 1e6),
            "moves: cost of a subject off its wanted place, beyond the still zone, per second",
        ),
        number(
            Self::LeastHold,
            "least_hold",
            1.0,
            (0.1, 60.0),
            "seconds of timeline that the window stands still before, between and after eased moves, at least",
        ),
        number(
            Self::LeastMove,
            "least_move",
            0.5,
            (0.1, 60.0),
            "seconds of timeline that an eased move takes, at least",
        ),
        number(
            Self::GreatestMove,
            "greatest_move",
            6.0,
            (0.1, 60.0),
            "seconds of timeline that an eased move takes, at most",
        ),
        switched(
            Self::Reversal,
            "reversal_secs",
            Some(2.0),
            (0.1, 60.0),
            "seconds of timeline from one change of direction to the next, across and down each for itself, at least",
        ),
        number(
            Self::EasePeak,
            "ease_peak",
            1.5,
            (1.5, 2.0),
            "fastest moment of an eased move over its mean speed: 1.5 starts and stops smoothly, 2 as a hand does",
        ),
        number(
            Self::LookTolerance,
            "look_tolerance",
            0.01,
            (0.0, 1.0),
            "one look: share by which the subject's height in the window, and its place down in it, may differ between shapes",
        ),
    ];

    /// The limit's row of the table.
    #[must_use]
    pub const fn spec(self) -> &'static LimitSpec {
        &Self::TABLE[self as usize]
    }

    /// The limit with this name in a shoot file.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::TABLE.iter().find(|spec| spec.name == name).map(|spec| spec.limit)
    }
}

/// Which layer of a shoot file set a limit; later layers win over earlier ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// Nobody: it is the default.
    Default,
    /// `[limits]`.
    Shoot,
    /// `[camera.limits]`.
    Camera,
    /// `[deliverable.limits]`.
    Deliverable,
    /// `[clip.limits]`.
    Clip,
    /// `[clip.limits_for.NAME]`.
    ClipDeliverable,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Default => "default",
            Self::Shoot => "shoot",
            Self::Camera => "camera",
            Self::Deliverable => "deliverable",
            Self::Clip => "clip",
            Self::ClipDeliverable => "clip and deliverable",
        })
    }
}

/// Why a value is no value for a limit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LimitFault {
    /// There is no limit of that name.
    #[error("there is no limit `{name}`{}", nearest.map(|n| format!("; did you mean `{n}`?")).unwrap_or_default())]
    Unknown {
        /// What was written.
        name: String,
        /// The name that looks most like it, if one does.
        nearest: Option<&'static str>,
    },
    /// It is outside what makes sense.
    #[error("{} is {value}, expected {} to {}", spec.name, spec.least, spec.greatest)]
    OutOfRange {
        /// Which limit.
        spec: &'static LimitSpec,
        /// What was written.
        value: f64,
    },
    /// It cannot be switched off.
    #[error("{} cannot be off, expected {} to {}", spec.name, spec.least, spec.greatest)]
    NotSwitchable {
        /// Which limit.
        spec: &'static LimitSpec,
    },
}

/// The limits that one table of a shoot file sets; `None` is off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitsLayer {
    values: Vec<(Limit, Option<f64>)>,
}

impl LimitsLayer {
    /// Sets a limit by its name; `None` switches it off.
    ///
    /// # Errors
    /// [`LimitFault`] if there is no such limit, or the value is not one it may have.
    pub fn set(&mut self, name: &str, value: Option<f64>) -> Result<(), LimitFault> {
        let limit = Limit::named(name).ok_or_else(|| LimitFault::Unknown {
            name: name.to_owned(),
            nearest: nearest_name(name),
        })?;
        let spec = limit.spec();
        match value {
            None if !spec.may_be_off => return Err(LimitFault::NotSwitchable { spec }),
            Some(value) if !(spec.least..=spec.greatest).contains(&value) => {
                return Err(LimitFault::OutOfRange { spec, value });
            }
            _ => {}
        }
        self.values.retain(|(known, _)| *known != limit);
        self.values.push((limit, value));
        Ok(())
    }
}

/// All the limits that one clip's one deliverable is held to, each with the layer that set it.
///
/// ```
/// use lookroom::delivery::{Limit, Limits, LimitsLayer, Origin};
/// let mut shoot = LimitsLayer::default();
/// shoot.set("greatest_enlargement", Some(1.2))?;
/// let limits = Limits::layered(&[(Origin::Shoot, &shoot)]);
/// assert_eq!(limits.number(Limit::GreatestEnlargement), 1.2);
/// assert_eq!(limits.origin(Limit::GreatestEnlargement), Origin::Shoot);
/// assert_eq!(limits.origin(Limit::StillZone), Origin::Default);
/// # Ok::<(), lookroom::delivery::LimitFault>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    values: [(Option<f64>, Origin); Limit::TABLE.len()],
}

impl Default for Limits {
    fn default() -> Self {
        Self { values: Limit::TABLE.map(|spec| (spec.default, Origin::Default)) }
    }
}

impl Limits {
    /// The defaults with these layers laid over them, in order.
    #[must_use]
    pub fn layered(layers: &[(Origin, &LimitsLayer)]) -> Self {
        let mut limits = Self::default();
        for (origin, layer) in layers {
            for (limit, value) in &layer.values {
                limits.values[*limit as usize] = (*value, *origin);
            }
        }
        limits
    }

    /// The value of a limit that may be off.
    #[must_use]
    pub const fn value(&self, limit: Limit) -> Option<f64> {
        self.values[limit as usize].0
    }

    /// The value of a limit that cannot be off.
    ///
    /// # Panics
    /// If the limit may be off: that is a mistake in the calling code.
    #[must_use]
    pub fn number(&self, limit: Limit) -> f64 {
        self.value(limit).expect("a limit that may be off is asked for with `value`")
    }

    /// Which layer set a limit.
    #[must_use]
    pub const fn origin(&self, limit: Limit) -> Origin {
        self.values[limit as usize].1
    }
}

/// The limit's name that shares the most words with what was written.
fn nearest_name(written: &str) -> Option<&'static str> {
    let words: Vec<&str> = written.split(['_', '-', ' ']).filter(|word| word.len() > 2).collect();
    Limit::TABLE
        .iter()
        .map(|spec| (words.iter().filter(|word| spec.name.contains(*word)).count(), spec.name))
        .filter(|(shared, _)| *shared > 0)
        .max_by_key(|(shared, _)| *shared)
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests;
