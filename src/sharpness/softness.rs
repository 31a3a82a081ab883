use super::{Band, Recording, enlargement, kept_detail};
use crate::{
    delivery::{Limit, Limits},
    geometry::{Raster, Window},
};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Why a band is one stricter than the enlargement alone would have it. However many hold, it is one band
/// (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "reason")]
pub enum Stricter {
    /// The camera cropped inside, mostly for a stabiliser at work, and enlarged what was left.
    InsideCrop {
        /// The share of the width that it left.
        inside_factor: f64,
    },
    /// The window's centre lies beyond half-way from the frame's centre to its corner, where small lenses are
    /// softer.
    FarOffCentre,
    /// The file has few bits for its px: fine detail turns to blocks.
    ThinBitRate {
        /// Bits for each px of each frame.
        bits_per_px: f64,
        /// The user's limit, which it is below.
        limit: f64,
    },
}

impl Stricter {
    /// The reason as it follows an enlargement: "enlargement 1.07 with an inside crop".
    #[must_use]
    pub fn after_enlargement(&self) -> String {
        match self {
            Self::InsideCrop { .. } => "with an inside crop".to_owned(),
            Self::FarOffCentre => "this far off the centre".to_owned(),
            Self::ThinBitRate { bits_per_px, .. } => format!("at {bits_per_px:.3} bit/px"),
        }
    }
}

impl fmt::Display for Stricter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::InsideCrop { inside_factor } => {
                write!(f, "the inside crop leaves {inside_factor:.3}")
            }
            Self::FarOffCentre => f.write_str("far off the frame's centre"),
            Self::ThinBitRate { bits_per_px, limit } => {
                write!(f, "{bits_per_px:.3} bit/px is under {limit}")
            }
        }
    }
}

/// How soft one window is in one deliverable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Softness {
    /// Delivered px for each px that the window carries, across: its own px, an inside crop taken off.
    pub enlargement: f64,
    /// The share of the delivered width with sensor pixels behind it, 0 to 1.
    pub kept_across: f64,
    /// The share of the delivered height with sensor pixels behind it, 0 to 1.
    pub kept_down: f64,
    /// How many px across the delivered picture really carries, at most its width.
    pub carried_across_px: f64,
    /// How many px down the delivered picture really carries, at most its height.
    pub carried_down_px: f64,
    /// What it is good for.
    pub band: Band,
    /// Every reason for which the band is one stricter, in the order of [`Stricter`]; empty if there is none.
    pub stricter: Vec<Stricter>,
}

impl Softness {
    /// The softness of a window in a delivered raster, under the user's limits.
    #[must_use]
    pub fn of(
        window: &Window,
        capture: Raster,
        delivered: Raster,
        recording: Recording,
        limits: &Limits,
    ) -> Self {
        let across_px = recording.carried_px(window.width());
        let down_px = recording.carried_px(window.height());
        let enlargement = enlargement(delivered.width(), across_px);
        let stricter = reasons(window, capture, recording, limits);
        let band = Band::of(enlargement, limits);
        Self {
            enlargement,
            kept_across: kept_detail(across_px, delivered.width()),
            kept_down: kept_detail(down_px, delivered.height()),
            carried_across_px: across_px.min(delivered.width()),
            carried_down_px: down_px.min(delivered.height()),
            band: if stricter.is_empty() { band } else { band.one_stricter() },
            stricter,
        }
    }

    /// The reasons that hold as they follow an enlargement, each with a space before it: empty if none does.
    #[must_use]
    pub fn after_enlargement(&self) -> String {
        let reasons: Vec<String> = self.stricter.iter().map(Stricter::after_enlargement).collect();
        match reasons.as_slice() {
            [] => String::new(),
            [only] => format!(" {only}"),
            [first @ .., last] => format!(" {} and {last}", first.join(", ")),
        }
    }

    /// The reasons that hold, parted by commas; `None` if none does.
    #[must_use]
    pub fn stricter_words(&self) -> Option<String> {
        let reasons: Vec<String> = self.stricter.iter().map(ToString::to_string).collect();
        (!reasons.is_empty()).then(|| reasons.join(", "))
    }
}

fn reasons(
    window: &Window,
    capture: Raster,
    recording: Recording,
    limits: &Limits,
) -> Vec<Stricter> {
    let Recording { inside_factor, bits_per_px } = recording;
    let is_thin = |(bits_per_px, limit): &(f64, f64)| bits_per_px < limit;
    let thin = bits_per_px.zip(limits.value(Limit::ThinBitsPerPx)).filter(is_thin);
    [
        (inside_factor < 1.0).then_some(Stricter::InsideCrop { inside_factor }),
        is_far_off_centre(window, capture).then_some(Stricter::FarOffCentre),
        thin.map(|(bits_per_px, limit)| Stricter::ThinBitRate { bits_per_px, limit }),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn is_far_off_centre(window: &Window, capture: Raster) -> bool {
    let (half_width, half_height) = (capture.width() / 2.0, capture.height() / 2.0);
    let off_x = window.centre_x() - half_width;
    let off_y = window.centre_y() - half_height;
    // Squares, so that no square root is needed: beyond half of the half diagonal.
    off_x * off_x + off_y * off_y > (half_width * half_width + half_height * half_height) / 4.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A 1000 px window of a 4000 x 3000 frame, one for one.
    fn softness((left, top): (f64, f64), recording: Recording, limits: &Limits) -> Softness {
        let capture = Raster::new(4000, 3000).unwrap();
        let delivered = Raster::new(1000, 1000).unwrap();
        let window = Window::inside(capture, (left, top), (1000.0, 1000.0)).unwrap();
        Softness::of(&window, capture, delivered, recording, limits)
    }

    const MIDDLE: (f64, f64) = (1500.0, 1000.0);
    const CORNER: (f64, f64) = (3000.0, 2000.0);

    #[test]
    fn a_window_beyond_half_way_to_the_corner_is_one_band_stricter() {
        let (plain, limits) = (Recording::default(), Limits::default());
        assert_eq!(softness(MIDDLE, plain, &limits).band, Band::Fine);
        let far = softness(CORNER, plain, &limits);
        assert_eq!((far.band, far.stricter), (Band::LookAtIt, vec![Stricter::FarOffCentre]));
    }

    #[test]
    fn an_inside_crop_takes_its_share_of_all_that_is_carried() {
        // 4000 x 2250 px of a file that was cropped to 0.9 carry 3600 x 2025; 3840 / 3600 = 1.0667.
        let capture = Raster::new(4000, 3000).unwrap();
        let delivered = Raster::new(3840, 2160).unwrap();
        let window = Window::inside(capture, (0.0, 375.0), (4000.0, 2250.0)).unwrap();
        let recording = Recording { inside_factor: 0.9, ..Recording::default() };
        let of =
            |recording| Softness::of(&window, capture, delivered, recording, &Limits::default());
        let softness = of(recording);
        assert!((of(Recording::default()).enlargement - 0.96).abs() < 1e-12);
        assert!((softness.enlargement - 0.96 / 0.9).abs() < 1e-12);
        assert_eq!((softness.carried_across_px, softness.carried_down_px), (3600.0, 2025.0));
        assert_eq!((softness.kept_across, softness.kept_down), (0.9375, 0.9375));
        assert_eq!(softness.stricter, [Stricter::InsideCrop { inside_factor: 0.9 }]);
        // 1.0667 alone is to be looked at; one stricter is for short shots.
        assert_eq!(softness.band, Band::ShortShots);
    }

    #[test]
    fn a_thin_bit_rate_counts_below_its_limit_and_only_where_it_is_known() {
        let limits = Limits::default();
        let of = |bits_per_px| {
            softness(MIDDLE, Recording { bits_per_px, ..Recording::default() }, &limits)
        };
        for (bits_per_px, band) in
            [(None, Band::Fine), (Some(0.10), Band::Fine), (Some(0.099), Band::LookAtIt)]
        {
            assert_eq!(of(bits_per_px).band, band, "{bits_per_px:?}");
        }
        assert_eq!(of(Some(0.062)).stricter_words().unwrap(), "0.062 bit/px is under 0.1");
        let mut off = crate::delivery::LimitsLayer::default();
        off.set("thin_bits_per_px", None).unwrap();
        let off = Limits::layered(&[(crate::delivery::Origin::Shoot, &off)]);
        let thin = Recording { bits_per_px: Some(0.01), ..Recording::default() };
        assert_eq!(softness(MIDDLE, thin, &off).stricter, []);
    }

    #[test]
    fn all_reasons_are_told_and_together_they_are_one_band() {
        // E = 1 / 0.99, which alone is to be looked at.
        let recording = Recording { inside_factor: 0.99, bits_per_px: Some(0.05) };
        let softness = softness(CORNER, recording, &Limits::default());
        assert_eq!(Band::of(softness.enlargement, &Limits::default()), Band::LookAtIt);
        assert_eq!(softness.band, Band::ShortShots);
        assert_eq!(
            softness.after_enlargement(),
            " with an inside crop, this far off the centre and at 0.050 bit/px"
        );
        assert_eq!(
            softness.stricter_words().unwrap(),
            "the inside crop leaves 0.990, far off the frame's centre, 0.050 bit/px is under 0.1"
        );
    }
}
