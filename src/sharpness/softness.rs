use super::{Band, Recording, enlargement, kept_detail, off_centre};
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
    /// softer. A guess: it gives way to what was measured.
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

/// How sharp the file is about a window, as it was measured, and what that makes of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AsMeasured {
    /// How far the window's centre is off the frame's, as a share of the way to a corner.
    pub off_centre: f64,
    /// The MTF50 there, in cycles per px of the file.
    pub mtf50_cycles_per_px: f64,
    /// What a px of the file counts for there: the MTF50 over that of a px that counts in full, and at most 1.
    pub share: f64,
    /// The enlargement at which a window of px that count in full is as soft as this one.
    pub as_soft_as: f64,
    /// How many px across the delivered picture resolves, at most its width.
    pub resolved_across_px: f64,
}

impl AsMeasured {
    /// As it follows an enlargement: "at MTF50 0.213, as soft as 1.76".
    #[must_use]
    pub fn after_enlargement(&self) -> String {
        format!("at MTF50 {:.3}, as soft as {:.2}", self.mtf50_cycles_per_px, self.as_soft_as)
    }
}

impl fmt::Display for AsMeasured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:.0} % of the way to a corner, MTF50 {:.3} cycles/px as measured: as soft as E {:.2}, {:.0} px across resolved",
            100.0 * self.off_centre,
            self.mtf50_cycles_per_px,
            self.as_soft_as,
            self.resolved_across_px
        )
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
    /// What it is good for: by its enlargement, or by what it is as soft as where that was measured.
    pub band: Band,
    /// How sharp it is there; `None` where nobody measured it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<AsMeasured>,
    /// Every reason for which the band is one stricter, in the order of [`Stricter`]; empty if there is none.
    pub stricter: Vec<Stricter>,
}

impl Softness {
    /// The softness of a window in a delivered raster, under the user's limits.
    ///
    /// Where the file's sharpness was measured, that takes the place of what is guessed without: that an inside crop and a
    /// window far off the centre cost a band. It was measured in the file, after the inside crop, so that of the two
    /// shares the smaller counts.
    #[must_use]
    pub fn of(
        window: &Window,
        capture: Raster,
        delivered: Raster,
        recording: &Recording,
        limits: &Limits,
    ) -> Self {
        let across_px = recording.carried_px(window.width());
        let down_px = recording.carried_px(window.height());
        let enlargement = enlargement(delivered.width(), across_px);
        let measured = as_measured(window, (capture, delivered), recording, limits);
        let stricter = reasons(window, capture, recording, limits);
        let band = Band::of(measured.map_or(enlargement, |measured| measured.as_soft_as), limits);
        Self {
            enlargement,
            kept_across: kept_detail(across_px, delivered.width()),
            kept_down: kept_detail(down_px, delivered.height()),
            carried_across_px: across_px.min(delivered.width()),
            carried_down_px: down_px.min(delivered.height()),
            band: if stricter.is_empty() { band } else { band.one_stricter() },
            measured,
            stricter,
        }
    }

    /// The enlargement that its band is by, before a band is added: what it is as soft as where that was measured.
    #[must_use]
    pub fn soft_as(&self) -> f64 {
        self.measured.map_or(self.enlargement, |measured| measured.as_soft_as)
    }

    /// What was measured and the reasons that hold as they follow an enlargement, with a space before them: empty if there
    /// is nothing of it.
    #[must_use]
    pub fn after_enlargement(&self) -> String {
        let measured = self.measured.iter().map(AsMeasured::after_enlargement);
        let guessed = self.stricter.iter().map(Stricter::after_enlargement);
        let reasons: Vec<String> = measured.chain(guessed).collect();
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

fn as_measured(
    window: &Window,
    (capture, delivered): (Raster, Raster),
    recording: &Recording,
    limits: &Limits,
) -> Option<AsMeasured> {
    let off_centre = off_centre(window, capture);
    let mtf50_cycles_per_px = recording.sharpness.as_ref()?.at(off_centre);
    let share = (mtf50_cycles_per_px / limits.number(Limit::FullMtf50)).min(1.0);
    let resolved_across_px = window.width() * share.min(recording.inside_factor);
    Some(AsMeasured {
        off_centre,
        mtf50_cycles_per_px,
        share,
        as_soft_as: enlargement(delivered.width(), resolved_across_px),
        resolved_across_px: resolved_across_px.min(delivered.width()),
    })
}

fn reasons(
    window: &Window,
    capture: Raster,
    recording: &Recording,
    limits: &Limits,
) -> Vec<Stricter> {
    /// Of the way to a corner. Common practice, no source.
    const FAR_OFF: f64 = 0.5;
    let Recording { inside_factor, bits_per_px, sharpness } = recording;
    let is_guessed = sharpness.is_none();
    let is_thin = |(bits_per_px, limit): &(f64, f64)| bits_per_px < limit;
    let thin = bits_per_px.zip(limits.value(Limit::ThinBitsPerPx)).filter(is_thin);
    [
        (is_guessed && *inside_factor < 1.0)
            .then_some(Stricter::InsideCrop { inside_factor: *inside_factor }),
        (is_guessed && off_centre(window, capture) > FAR_OFF).then_some(Stricter::FarOffCentre),
        thin.map(|(bits_per_px, limit)| Stricter::ThinBitRate { bits_per_px, limit }),
    ]
    .into_iter()
    .flatten()
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sharpness::{MeasuredSharpness, SharpPlace};

    /// A 1000 px window of a 4000 x 3000 frame, one for one.
    fn softness((left, top): (f64, f64), recording: &Recording, limits: &Limits) -> Softness {
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
        assert_eq!(softness(MIDDLE, &plain, &limits).band, Band::Fine);
        let far = softness(CORNER, &plain, &limits);
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
        let softness = of(&recording);
        assert!((of(&Recording::default()).enlargement - 0.96).abs() < 1e-12);
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
            softness(MIDDLE, &Recording { bits_per_px, ..Recording::default() }, &limits)
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
        assert_eq!(softness(MIDDLE, &thin, &off).stricter, []);
    }

    #[test]
    fn all_reasons_are_told_and_together_they_are_one_band() {
        // E = 1 / 0.99, which alone is to be looked at.
        let recording =
            Recording { inside_factor: 0.99, bits_per_px: Some(0.05), ..Recording::default() };
        let softness = softness(CORNER, &recording, &Limits::default());
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

    /// Half as sharp in the corners as a px that counts in full.
    fn measured(inside_factor: f64) -> Recording {
        let place =
            |off_centre, mtf50_cycles_per_px| SharpPlace { off_centre, mtf50_cycles_per_px };
        let sharpness = MeasuredSharpness::new(vec![place(0.0, 0.42), place(1.0, 0.175)]);
        Recording { inside_factor, sharpness, ..Recording::default() }
    }

    #[test]
    fn what_was_measured_takes_the_place_of_the_guess_about_corners() {
        let limits = Limits::default();
        // Sharper than counts in full is no more than that: E 1, fine, as without a measurement.
        let middle = softness(MIDDLE, &measured(1.0), &limits);
        assert_eq!((middle.band, middle.measured.unwrap().share), (Band::Fine, 1.0));
        // By hand: the window's centre is (1500, 1000) off, of (2000, 1500): 1802.776 of 2500, 0.72111; MTF50 0.42 - 0.72111 x
        // 0.245 = 0.243328; of 0.35 that is 0.695222; 1000 / (1000 x 0.695222) = 1.438390. A guess had made it E 1, one band
        // stricter.
        let corner = softness(CORNER, &measured(1.0), &limits);
        let found = corner.measured.unwrap();
        for (found, by_hand) in [
            (found.off_centre, 0.721_110),
            (found.mtf50_cycles_per_px, 0.243_328),
            (found.share, 0.695_223),
            (found.as_soft_as, 1.438_388),
            (found.resolved_across_px, 695.223),
        ] {
            assert!((found / by_hand - 1.0).abs() < 2e-6, "{found} and {by_hand}");
        }
        assert_eq!((corner.enlargement, corner.band), (1.0, Band::ShortShots));
        assert_eq!(corner.stricter, []);
        assert_eq!(corner.after_enlargement(), " at MTF50 0.243, as soft as 1.44");
    }

    #[test]
    fn of_an_inside_crop_and_what_was_measured_behind_it_the_smaller_share_counts() {
        let limits = Limits::default();
        let soft_as = |inside_factor| {
            let softness = softness(CORNER, &measured(inside_factor), &limits);
            assert_eq!(softness.stricter, []);
            softness.measured.unwrap().as_soft_as
        };
        assert_eq!(soft_as(0.9), soft_as(1.0));
        assert!((soft_as(0.5) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn thin_bits_cost_a_band_beside_what_was_measured() {
        let recording = Recording { bits_per_px: Some(0.05), ..measured(1.0) };
        let softness = softness(CORNER, &recording, &Limits::default());
        assert_eq!(softness.band, Band::PhoneOnly);
        assert_eq!(
            softness.after_enlargement(),
            " at MTF50 0.243, as soft as 1.44 and at 0.050 bit/px"
        );
    }
}
