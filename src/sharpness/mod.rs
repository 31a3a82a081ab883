//! How soft a crop is: what a window's pixels become when they are delivered.
//!
//! Enlargement `E = delivered px / window px` is the number everything else follows from; where the camera
//! cropped inside, it is `E / factor`, since each px of the file carries less than one of the sensor. Bands put
//! trade words to it (common practice, no source) and their limits are the user's. Where a slanted edge was measured, a
//! window counts as soft as one of fully sharp px would be at the enlargement [`AsMeasured`] names; who sees it, and from
//! where, is [`Viewing`].

mod blur;
mod detail;
mod edge;
mod measured;
mod print;
mod recording;
mod softness;
mod tone_curve;
mod viewing;

pub use blur::{EdgeBlur, edge_blur};
pub use detail::{CannotTell, Confidence, FineDetail, fine_detail};
pub use edge::{
    EdgeDirection, EdgeFault, EdgeRegion, EdgeRegionError, EdgeResponse, ResponsePoint,
    edge_response,
};
pub use measured::{MeasuredSharpness, SharpPlace, off_centre};
pub use print::{Print, Use};
pub use recording::Recording;
pub use softness::{AsMeasured, Softness, Stricter};
pub use tone_curve::{ToneCurve, ToneCurveError, ToneTable};
pub use viewing::Viewing;

use crate::delivery::{Limit, Limits};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Delivered px for each window px: above 1, pixels are invented.
///
/// ```
/// // A 4000 px wide window in a 3840 px wide film:
/// assert_eq!(lookroom::sharpness::enlargement(3840.0, 4000.0), 0.96);
/// ```
#[must_use]
pub fn enlargement(delivered_px: f64, window_px: f64) -> f64 {
    delivered_px / window_px
}

/// The share of the delivered pixels along an axis that have a capture pixel behind them, 0 to 1.
///
/// It is 1 when the window has at least as many pixels as are delivered, and `window / delivered` below
/// that. Lens blur and motion blur are not in it.
///
/// ```
/// // 1440 px of the capture stretched to a 1920 px wide delivery:
/// assert_eq!(lookroom::sharpness::kept_detail(1440.0, 1920.0), 0.75);
/// ```
#[must_use]
pub fn kept_detail(window_px: f64, delivered_px: f64) -> f64 {
    (window_px / delivered_px).min(1.0)
}

/// The share of the delivered picture's pixels that are invented: `1 − 1/E²`, and 0 up to E 1.
#[must_use]
pub fn invented_share(enlargement: f64) -> f64 {
    if enlargement <= 1.0 { 0.0 } else { 1.0 - 1.0 / (enlargement * enlargement) }
}

/// What a crop is good for, by its enlargement; common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Band {
    /// Small-camera pixels are soft one for one, so that a hero shot wants some in hand.
    Hero,
    /// As many pixels as are delivered.
    Fine,
    /// Look at it at full size.
    LookAtIt,
    /// Short or fast shots only.
    ShortShots,
    /// Phone only, and the client is told.
    PhoneOnly,
    /// Do not deliver.
    DoNotDeliver,
}

impl Band {
    /// Every band, softest last.
    pub const ALL: [Self; 6] = [
        Self::Hero,
        Self::Fine,
        Self::LookAtIt,
        Self::ShortShots,
        Self::PhoneOnly,
        Self::DoNotDeliver,
    ];

    /// The band of an enlargement under the user's limits.
    #[must_use]
    pub fn of(enlargement: f64, limits: &Limits) -> Self {
        Self::ALL
            .into_iter()
            .find(|band| {
                band.up_to(limits).is_some_and(|greatest| enlargement <= greatest + Self::ROUNDING)
            })
            .unwrap_or(Self::DoNotDeliver)
    }

    /// An enlargement this little above a limit is at the limit: it is what a division leaves.
    const ROUNDING: f64 = 1e-9;

    /// The greatest enlargement of the band; `None` for the last, which has none.
    #[must_use]
    pub fn up_to(self, limits: &Limits) -> Option<f64> {
        let limit = match self {
            Self::Hero => Limit::BandHero,
            Self::Fine => Limit::BandFine,
            Self::LookAtIt => Limit::BandLook,
            Self::ShortShots => Limit::BandShort,
            Self::PhoneOnly => Limit::BandPhone,
            Self::DoNotDeliver => return None,
        };
        Some(limits.number(limit))
    }

    /// The next softer band: low light, a stabiliser at work, a window far off the centre or a thin bit rate
    /// cost one (common practice, no source).
    #[must_use]
    pub fn one_stricter(self) -> Self {
        let place = Self::ALL.iter().position(|band| *band == self).unwrap_or(0);
        Self::ALL[(place + 1).min(Self::ALL.len() - 1)]
    }
}

impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Hero => "hero shot",
            Self::Fine => "fine",
            Self::LookAtIt => "look at it at full size",
            Self::ShortShots => "short or fast shots only",
            Self::PhoneOnly => "phone only, client told",
            Self::DoNotDeliver => "do not deliver",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_belongs_to_the_better_band() {
        let limits = Limits::default();
        assert_eq!(Band::of(0.80, &limits), Band::Hero);
        assert_eq!(Band::of(1.00, &limits), Band::Fine);
        assert_eq!(Band::of(1.01, &limits), Band::LookAtIt);
        assert_eq!(Band::of(2.01, &limits), Band::DoNotDeliver);
    }

    #[test]
    fn nothing_is_invented_up_to_one_for_one() {
        assert_eq!(invented_share(0.5), 0.0);
        assert_eq!(invented_share(2.0), 0.75);
    }
}
