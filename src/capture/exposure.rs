use super::{CaptureError, within};
use crate::timecode::FrameRate;

/// The exposure in seconds of a shutter angle at a capture rate: `angle / 360 / rate`.
#[must_use]
pub fn shutter_secs(angle_degrees: f64, rate: FrameRate) -> f64 {
    angle_degrees / 360.0 * rate.frame_secs()
}

/// The shutter angle in degrees of an exposure at a capture rate; above 360 no frame has the time for it.
#[must_use]
pub fn shutter_angle_degrees(exposure_secs: f64, rate: FrameRate) -> f64 {
    exposure_secs * rate.per_second() * 360.0
}

/// How bright it is, and what the lens and the sensor make of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    exposure_value: f64,
    f_number: f64,
    iso: f64,
}

impl Light {
    /// A bright day (common practice, no source); snow or foam is one more.
    pub const BRIGHT_DAY: f64 = 15.0;

    /// An exposure value at ISO 100, the lens's f-number, and the lowest ISO the camera goes to.
    ///
    /// # Errors
    /// [`CaptureError::OutOfRange`] outside -10 to 25, f/0.7 to f/64, ISO 1 to 1,000,000.
    pub fn new(exposure_value: f64, f_number: f64, iso: f64) -> Result<Self, CaptureError> {
        Ok(Self {
            exposure_value: within(
                "an exposure value",
                "at ISO 100",
                exposure_value,
                (-10.0, 25.0),
            )?,
            f_number: within("an aperture", "as an f-number", f_number, (0.7, 64.0))?,
            iso: within("a sensitivity", "ISO", iso, (1.0, 1e6))?,
        })
    }

    /// The exposure that a camera without a filter takes: `N² / 2^EV · 100 / ISO` seconds.
    #[must_use]
    pub fn bare_secs(&self) -> f64 {
        self.f_number * self.f_number / self.exposure_value.exp2() * 100.0 / self.iso
    }

    /// The stops of a neutral filter that make it so many seconds; below 0 there is not enough light.
    #[must_use]
    pub fn stops_to(&self, wanted_secs: f64) -> f64 {
        (wanted_secs / self.bare_secs()).log2()
    }

    /// What a filter of so many stops makes of it.
    #[must_use]
    pub fn through(&self, stops: f64, rate: FrameRate) -> Exposure {
        let secs = self.bare_secs() * stops.exp2();
        Exposure { stops, secs, angle_degrees: shutter_angle_degrees(secs, rate) }
    }
}

/// One exposure through a filter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Stops of the filter; 0 without one.
    pub stops: f64,
    /// How long each frame is exposed, in seconds.
    pub secs: f64,
    /// The same as a shutter angle.
    pub angle_degrees: f64,
}

impl Exposure {
    /// Whether a frame has the time: up to 360 degrees.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        self.angle_degrees <= 360.0
    }
}

/// Which filter of those at hand to take.
#[derive(Debug, Clone, PartialEq)]
pub struct FilterChoice {
    /// The angle that is aimed at, and not to be passed.
    pub wanted_degrees: f64,
    /// How many stops would give just that.
    pub wanted_stops: f64,
    /// The strongest filter that does not pass it, or no filter; `None` where even that is too dark for it.
    pub take: Option<Exposure>,
    /// The next stronger one, to show what it would do; `None` if there is none, or no frame has the time for it.
    pub next_stronger: Option<Exposure>,
}

/// Which filter of those at hand to take where the exposure is set, so that the sensitivity meets the light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilterForSet {
    /// How many stops would be just right at the lowest sensitivity; below 0 there is not enough light for it.
    pub wanted_stops: f64,
    /// The stops of the weakest filter that is at least that, 0 without one; if none is, of the strongest.
    pub take_stops: f64,
}

impl FilterForSet {
    /// Chooses among filters, in stops; to take none is always among them. What a filter takes too much, the sensitivity
    /// gives back at the price of some noise; what it takes too little is clipped for good.
    #[must_use]
    pub fn of(light: &Light, exposure_secs: f64, filters: &[f64]) -> Self {
        let wanted_stops = light.stops_to(exposure_secs);
        let at_hand = stops_at_hand(filters);
        let take_stops = at_hand.iter().copied().find(|stops| *stops >= wanted_stops);
        Self { wanted_stops, take_stops: take_stops.or(at_hand.last().copied()).unwrap_or(0.0) }
    }

    /// By how many stops the sensitivity has to rise above the lowest; below 0, by how many the picture is too bright.
    #[must_use]
    pub fn rise_stops(&self) -> f64 {
        self.take_stops - self.wanted_stops
    }
}

/// Filters from the weakest, in stops; 0 is none of them.
fn stops_at_hand(filters: &[f64]) -> Vec<f64> {
    let mut stops: Vec<f64> =
        filters.iter().copied().filter(|s| s.is_finite() && *s > 0.0).collect();
    stops.push(0.0);
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    stops
}

impl FilterChoice {
    /// The angle for pictures that are cropped and not stabilised afterwards: 180 degrees of the capture rate (common
    /// practice, no source).
    pub const USUAL_DEGREES: f64 = 180.0;

    /// The angle for pictures that are stabilised afterwards (common practice, no source): the blur of a shake stays when the
    /// shake is taken out.
    pub const TO_BE_STABILISED_DEGREES: f64 = 90.0;

    /// Below this angle movement looks chopped (common practice, no source): what an automatic shutter in sun does.
    pub const CHOPPY_DEGREES: f64 = 45.0;

    /// Chooses among filters, in stops; to take none is always among them.
    #[must_use]
    pub fn of(light: &Light, rate: FrameRate, wanted_degrees: f64, filters: &[f64]) -> Self {
        /// What a division leaves above the limit.
        const ROUNDING: f64 = 1e-9;
        let at_hand = stops_at_hand(filters);
        let exposures: Vec<Exposure> =
            at_hand.iter().map(|stops| light.through(*stops, rate)).collect();
        let limit = wanted_degrees * (1.0 + ROUNDING);
        let passing = exposures.partition_point(|exposure| exposure.angle_degrees <= limit);
        Self {
            wanted_degrees,
            wanted_stops: light.stops_to(shutter_secs(wanted_degrees, rate)),
            take: passing.checked_sub(1).map(|last| exposures[last]),
            next_stronger: exposures.get(passing).copied().filter(Exposure::is_possible),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    #[test]
    fn angles_and_exposures_are_those_of_the_tables() {
        // angle / 360 / rate: 180 at 24 is 1/48, 172.8 at 24 is 1/50, 90 at 50 is 1/200, 270 at 24 is 1/32 (published).
        let rate = |whole| FrameRate::new(whole, 1).unwrap();
        for (angle, frames, part) in [
            (180.0, 24, 48.0),
            (180.0, 25, 50.0),
            (172.8, 24, 50.0),
            (90.0, 50, 200.0),
            (270.0, 24, 32.0),
            (360.0, 25, 25.0),
        ] {
            near(shutter_secs(angle, rate(frames)), 1.0 / part, 1e-12);
            near(shutter_angle_degrees(1.0 / part, rate(frames)), angle, 1e-9);
        }
        // 120 frames/s by the 180 degree rule want 1/240 s; the nearest marked shutter, 1/250 s, is 172.8 degrees.
        near(shutter_secs(180.0, rate(120)), 1.0 / 240.0, 1e-12);
        near(shutter_angle_degrees(1.0 / 250.0, rate(120)), 172.8, 1e-9);
    }

    #[test]
    fn a_bright_day_asks_for_a_filter_and_the_strongest_that_does_not_pass_is_taken() {
        // By hand: 2.8² / 2^15 = 1/4180 s; 1/100 s at 50 frames/s is 5.39 stops; five give 1/131 s and 137.8 degrees, six
        // 1/65 s and 275.6.
        let (light, fifty) =
            (Light::new(15.0, 2.8, 100.0).unwrap(), FrameRate::new(50, 1).unwrap());
        near(1.0 / light.bare_secs(), 4179.6, 0.05);
        let choice =
            FilterChoice::of(&light, fifty, FilterChoice::USUAL_DEGREES, &[6.0, 4.0, 5.0, 3.0]);
        near(choice.wanted_stops, 5.385, 5e-4);
        let (take, next) = (choice.take.unwrap(), choice.next_stronger.unwrap());
        assert_eq!((take.stops, next.stops), (5.0, 6.0));
        near(take.angle_degrees, 137.8, 0.05);
        near(1.0 / take.secs, 130.6, 0.05);
        near(next.angle_degrees, 275.6, 0.05);
        near(1.0 / next.secs, 65.3, 0.05);
        // To be stabilised: at most 90 degrees, 4.39 stops; four give 1/261 s and 68.9 degrees.
        let steady = FilterChoice::of(
            &light,
            fifty,
            FilterChoice::TO_BE_STABILISED_DEGREES,
            &[3.0, 4.0, 5.0, 6.0],
        );
        near(steady.wanted_stops, 4.385, 5e-4);
        near(steady.take.unwrap().angle_degrees, 68.9, 0.05);
    }

    #[test]
    fn where_it_is_too_dark_even_no_filter_passes() {
        let (light, rate) = (Light::new(5.0, 2.8, 100.0).unwrap(), FrameRate::new(50, 1).unwrap());
        let choice = FilterChoice::of(&light, rate, 180.0, &[2.0, f64::NAN, -3.0]);
        assert_eq!(choice.take, None);
        assert!(choice.wanted_stops < 0.0);
        assert_eq!(choice.next_stronger, None, "no frame has the time");
    }

    #[test]
    fn with_the_exposure_set_the_filter_never_lets_it_be_too_bright_if_one_can() {
        let light = Light::new(15.0, 2.8, 100.0).unwrap();
        // By hand: 1/200 s is 20.9 times 1/4180 s, 4.385 stops: five, and ISO 100 x 2^0.615 = 153.
        let choice = FilterForSet::of(&light, 1.0 / 200.0, &[3.0, 6.0, 4.0, 5.0]);
        near(choice.wanted_stops, 4.385, 5e-4);
        near(choice.take_stops, 5.0, 0.0);
        near(100.0 * choice.rise_stops().exp2(), 153.1, 0.05);
        // With three at most it is 1.385 stops too bright; where it is dark, no filter and ISO 100 x 2^1.
        let weak = FilterForSet::of(&light, 1.0 / 200.0, &[3.0]);
        near(weak.rise_stops(), -1.385, 5e-4);
        let dark = FilterForSet::of(&light, light.bare_secs() / 2.0, &[3.0]);
        near(dark.take_stops, 0.0, 0.0);
        near(dark.rise_stops(), 1.0, 1e-12);
    }

    #[test]
    fn slips_of_the_pen_are_refused() {
        assert!(Light::new(15.0, 0.0, 100.0).is_err());
        assert!(Light::new(f64::NAN, 2.8, 100.0).is_err());
        let refusal = Light::new(15.0, 2.8, 0.0).unwrap_err().to_string();
        assert!(refusal.contains("expected 1 to 1000000"), "{refusal}");
    }
}
