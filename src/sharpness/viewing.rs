/// A screen, and how far it is looked at from.
///
/// The eye tells two px apart that are a minute of arc from each other: what is delivered finer than that is not seen, and a crop
/// is soft for a viewer only where its px are coarser.
///
/// ```
/// use lookroom::sharpness::Viewing;
/// // A phone 70 mm wide at 300 mm tells 802 px apart: 1080 px may be enlarged to E 1.3464 before that shows.
/// let phone = Viewing::new(70.0, 300.0).ok_or("no screen")?;
/// assert_eq!(format!("{:.0} {:.4}", phone.resolvable_px(), phone.greatest_unseen_enlargement(1080.0)), "802 1.3464");
/// # Ok::<(), &str>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Viewing {
    screen_width: f64,
    distance: f64,
}

/// One minute of arc: normal acuity, and the basis of published design viewing distances (ITU-R BT.500 and BT.1845, by second-hand
/// sources).
const MINUTE: f64 = std::f64::consts::PI / 180.0 / 60.0;

impl Viewing {
    /// From how far a screen is looked at, in widths of it: a head-mounted one is nearer, and nobody watches from further. Chosen to
    /// catch two units.
    pub const LIMITS_WIDTHS: (f64, f64) = (0.1, 100.0);

    /// A picture's width on the screen and the distance of the eye, in one unit; `None` if one is no length above 0, and outside
    /// [`Self::LIMITS_WIDTHS`].
    #[must_use]
    pub fn new(screen_width: f64, distance: f64) -> Option<Self> {
        let is_length = |length: f64| length > 0.0 && length.is_finite();
        let (nearest, furthest) = Self::LIMITS_WIDTHS;
        let is_seen = (nearest..=furthest).contains(&(distance / screen_width));
        (is_length(screen_width) && is_length(distance) && is_seen)
            .then_some(Self { screen_width, distance })
    }

    /// How many px across the picture the eye tells apart: `width / (distance · tan 1')`.
    #[must_use]
    pub fn resolvable_px(&self) -> f64 {
        self.screen_width / (self.distance * MINUTE.tan())
    }

    /// The greatest enlargement of a delivered width that is not seen there. Below 1 where even one for one is coarser than the
    /// eye.
    #[must_use]
    pub fn greatest_unseen_enlargement(&self, delivered_width_px: f64) -> f64 {
        delivered_width_px / self.resolvable_px()
    }

    /// Whether an enlargement of a delivered width is seen there.
    #[must_use]
    pub fn shows(&self, enlargement: f64, delivered_width_px: f64) -> bool {
        enlargement > self.greatest_unseen_enlargement(delivered_width_px)
    }

    /// From how many picture heights on a minute of arc is one px of so many lines: `1 / (lines · tan 1')`.
    #[must_use]
    pub fn heights_for(lines: f64) -> f64 {
        1.0 / (lines * MINUTE.tan())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn design_distances_are_the_published_ones() {
        // Computed by the formula; 3.16 H for 1080 and 4.76 H for 720 lines are printed second-hand, 3.2 / 1.6 / 0.8 H in the
        // recommendations' tables (from memory, not checked against the primary text).
        for (lines, heights) in
            [(480.0, 7.1620), (720.0, 4.7746), (1080.0, 3.1831), (2160.0, 1.5915), (4320.0, 0.7958)]
        {
            assert!((Viewing::heights_for(lines) - heights).abs() < 5e-5, "{lines}");
        }
    }

    #[test]
    fn a_crop_that_passes_on_a_phone_shows_on_a_wall() {
        let phone = Viewing::new(70.0, 300.0).unwrap();
        assert!(!phone.shows(1.34, 1080.0) && phone.shows(1.35, 1080.0));
        let wall = Viewing::new(1000.0, 1500.0).unwrap();
        assert!(wall.shows(1.0, 1080.0));
    }

    #[test]
    fn a_screen_without_size_is_none() {
        for (width, distance) in [
            (0.0, 300.0),
            (70.0, -1.0),
            (f64::NAN, 300.0),
            (70.0, f64::INFINITY),
            (70.0, 0.3),
            (0.07, 300.0),
        ] {
            assert_eq!(Viewing::new(width, distance), None);
        }
    }
}
