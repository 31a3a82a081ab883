//! What a still is worth on paper and on a phone: megapixels, the size of a print, and how large its blur is there.

use std::fmt;

/// How a still is printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Print {
    /// Width of the still in px.
    pub width_px: f64,
    /// Height of the still in px.
    pub height_px: f64,
    /// Px of the still for each inch of paper: twice the screen ruling of a magazine (266 for 133 lines to the inch; read in a
    /// printer's guide), or 300 by habit (common practice, no source).
    pub px_per_in: f64,
}

/// Millimetres in an inch, exactly.
const MM_PER_IN: f64 = 25.4;

impl Print {
    /// Px for each inch by habit; common practice, no source.
    pub const USUAL_PX_PER_IN: f64 = 300.0;

    /// A blur of more than this share of the distance that it is seen from shows: the circle of confusion of depth of field
    /// tables, a 1500th of a picture's diagonal seen from as far as that (common practice, no source). It is 2.3 minutes of arc.
    pub const SHOWN_SHARE: f64 = 1.0 / 1500.0;

    /// A feed is seen on a phone of this width, in mm, from 300 mm: common practice, no source.
    const PHONE_MM: f64 = 70.0;
    const PHONE_DISTANCE_MM: f64 = 300.0;

    /// Millions of px.
    ///
    /// ```
    /// use lookroom::sharpness::Print;
    /// let still = Print { width_px: 4000.0, height_px: 2250.0, px_per_in: 300.0 };
    /// assert_eq!(still.megapixels(), 9.0);
    /// assert_eq!(format!("{:.1} x {:.1} cm", still.size_mm().0 / 10.0, still.size_mm().1 / 10.0), "33.9 x 19.1 cm");
    /// assert_eq!(format!("{:.2} mm", still.mm(5.0)), "0.42 mm");
    /// ```
    #[must_use]
    pub fn megapixels(&self) -> f64 {
        self.width_px * self.height_px / 1e6
    }

    /// Width and height on paper, in inches.
    #[must_use]
    pub fn size_in(&self) -> (f64, f64) {
        (self.width_px / self.px_per_in, self.height_px / self.px_per_in)
    }

    /// Width and height on paper, in mm.
    #[must_use]
    pub fn size_mm(&self) -> (f64, f64) {
        (self.mm(self.width_px), self.mm(self.height_px))
    }

    /// A length in px of the still, on paper in mm.
    #[must_use]
    pub fn mm(&self, px: f64) -> f64 {
        px / self.px_per_in * MM_PER_IN
    }

    /// Whether it does for a poster, which is seen from as far as its diagonal, with a blur of so many px: whatever size it
    /// is printed in, its px are to be no larger than a minute of arc (Rec. ITU-R BT.500, the design distance; from a second-hand
    /// source) and its blur no larger than [`Self::SHOWN_SHARE`] of the diagonal.
    #[must_use]
    pub fn poster(&self, blur_px: f64) -> Use {
        let diagonal_px = self.width_px.hypot(self.height_px);
        Use::of((diagonal_px, one_minute()), (blur_px, diagonal_px * Self::SHOWN_SHARE))
    }

    /// Whether it does for a feed, where it is as wide as a phone that is held.
    #[must_use]
    pub fn feed(&self, blur_px: f64) -> Use {
        let px_per_mm = self.width_px / Self::PHONE_MM;
        let least_px = Self::PHONE_MM / Self::PHONE_DISTANCE_MM * one_minute();
        let most_blur_px = Self::PHONE_DISTANCE_MM * Self::SHOWN_SHARE * px_per_mm;
        Use::of((self.width_px, least_px), (blur_px, most_blur_px))
    }
}

/// How many minutes of arc a length takes that is seen from as far as it is long: one over the tangent of 1/60 degree.
fn one_minute() -> f64 {
    1.0 / (1.0_f64 / 60.0).to_radians().tan()
}

/// Whether a still does for a use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Use {
    /// It does.
    Good,
    /// Its blur shows.
    TooBlurred {
        /// The blur that it has.
        blur_px: f64,
        /// The most that does not show.
        most_px: f64,
    },
    /// It has too few px.
    TooFewPx {
        /// Those that it has, along the line that counts.
        px: f64,
        /// The least that do.
        least_px: f64,
    },
}

impl Use {
    fn of((px, least_px): (f64, f64), (blur_px, most_px): (f64, f64)) -> Self {
        if px < least_px {
            Self::TooFewPx { px, least_px }
        } else if blur_px > most_px {
            Self::TooBlurred { blur_px, most_px }
        } else {
            Self::Good
        }
    }

    /// Whether it does.
    #[must_use]
    pub fn is_good(self) -> bool {
        self == Self::Good
    }
}

impl fmt::Display for Use {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Good => f.write_str("good"),
            Self::TooBlurred { blur_px, most_px } => {
                write!(f, "too soft: blur {blur_px:.1} px, at most {most_px:.1} px")
            }
            Self::TooFewPx { px, least_px } => {
                write!(f, "too few px: {px:.0}, at least {least_px:.0}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, by: f64) {
        assert!((a - b).abs() <= by, "{a} is not {b}");
    }

    #[test]
    fn a_worked_still_of_the_trade_comes_out_to_the_digit() {
        // By hand: a 16:9 window of 4000 x 2250 px at 300 px/in, and a 9:16 one of 1687.5 x 3000 px.
        let wide = Print { width_px: 4000.0, height_px: 2250.0, px_per_in: 300.0 };
        near(wide.megapixels(), 9.0, 1e-12);
        near(wide.size_mm().0, 338.67, 0.005);
        near(wide.size_mm().1, 190.5, 1e-9);
        // 5 px at 300 px/in: 5 x 25.4 / 300.
        near(wide.mm(5.0), 0.4233, 5e-5);
        let tall = Print { width_px: 1687.5, height_px: 3000.0, px_per_in: 300.0 };
        near(tall.megapixels(), 5.0625, 1e-12);
        near(tall.size_in().0, 5.625, 1e-12);
        near(tall.size_in().1, 10.0, 1e-12);
        // A magazine of 133 lines to the inch: 4000 / 266 = 15.04 in.
        near(Print { px_per_in: 2.0 * 133.0, ..wide }.size_in().0, 15.04, 0.005);
    }

    #[test]
    fn five_px_of_blur_are_too_soft_for_a_poster_and_fine_for_a_feed() {
        let still = Print { width_px: 4000.0, height_px: 2250.0, px_per_in: 300.0 };
        // The diagonal is 4589.4 px; a 1500th of it 3.06 px.
        let Use::TooBlurred { most_px, .. } = still.poster(5.0) else { panic!("it is too soft") };
        near(most_px, 3.06, 0.005);
        assert!(still.poster(3.0).is_good());
        assert!(still.feed(5.0).is_good());
        // 0.2 mm of a 70 mm wide phone are 11.4 px of 4000.
        let Use::TooBlurred { most_px, .. } = still.feed(12.0) else { panic!("it is too soft") };
        near(most_px, 11.43, 0.005);
    }

    #[test]
    fn a_still_of_fewer_px_than_the_eye_tells_apart_is_told_so() {
        // A phone of 70 mm from 300 mm shows 802 px: 70 / (300 tan 1'), by hand.
        let small = Print { width_px: 800.0, height_px: 450.0, px_per_in: 300.0 };
        let Use::TooFewPx { least_px, .. } = small.feed(0.0) else { panic!("it is too small") };
        near(least_px, 802.1, 0.05);
        // And a poster takes 3438 px along its diagonal, so that an HD frame (2203 px) is none.
        let hd = Print { width_px: 1920.0, height_px: 1080.0, px_per_in: 300.0 };
        let Use::TooFewPx { px, least_px } = hd.poster(0.0) else { panic!("it is too small") };
        near(px, 2202.9, 0.05);
        near(least_px, 3437.7, 0.05);
        assert!(hd.feed(2.0).is_good());
    }
}
