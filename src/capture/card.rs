use super::{CaptureError, within};

/// A memory card.
///
/// ```
/// use lookroom::capture::Card;
/// // 128 GB at 120 Mb/s, by hand: 128 · 8000 / 120 / 60.
/// assert_eq!(format!("{:.1}", Card::new(128.0)?.minutes(120.0)), "142.2");
/// # Ok::<(), lookroom::capture::CaptureError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Card {
    gigabytes: f64,
}

impl Card {
    /// The least and the greatest size, in GB of 10⁹ bytes. They catch slips of the pen.
    pub const LIMITS_GIGABYTES: (f64, f64) = (1.0, 100_000.0);

    /// How full a card is planned to get (common practice, no source): the last tenth is for the take that runs on.
    pub const FILLED: f64 = 0.9;

    /// The longest file on a card that is formatted as FAT32, in bytes: 4 GiB less one byte, taken as 4 GiB (from
    /// memory, not checked against the file system's specification).
    pub const LONGEST_FAT32_FILE_BYTES: f64 = 4_294_967_296.0;

    /// How much faster than the bit rate a card should write (common practice, no source).
    pub const WRITE_SPEED_RESERVE: f64 = 1.3;

    /// A card of so many GB, of 10⁹ bytes as on its label.
    ///
    /// # Errors
    /// [`CaptureError::OutOfRange`] outside [`Self::LIMITS_GIGABYTES`].
    pub fn new(gigabytes: f64) -> Result<Self, CaptureError> {
        Ok(Self { gigabytes: within("a card", "GB", gigabytes, Self::LIMITS_GIGABYTES)? })
    }

    /// Its size in GB.
    #[must_use]
    pub const fn gigabytes(&self) -> f64 {
        self.gigabytes
    }

    /// How many minutes fit on it at so many Mb/s, sound and the file system's own share not counted.
    #[must_use]
    pub fn minutes(&self, megabits_a_second: f64) -> f64 {
        self.gigabytes * 8000.0 / megabits_a_second / 60.0
    }

    /// The minutes until it is as full as it should get.
    #[must_use]
    pub fn planned_minutes(&self, megabits_a_second: f64) -> f64 {
        self.minutes(megabits_a_second) * Self::FILLED
    }

    /// After how many seconds a recorder begins a new file on a card that is formatted as FAT32.
    #[must_use]
    pub fn split_secs(megabits_a_second: f64) -> f64 {
        Self::LONGEST_FAT32_FILE_BYTES * 8.0 / (megabits_a_second * 1e6)
    }

    /// How many files so many minutes make on such a card.
    #[must_use]
    pub fn split_files(megabits_a_second: f64, minutes: f64) -> f64 {
        (minutes * 60.0 / Self::split_secs(megabits_a_second)).ceil().max(1.0)
    }

    /// The speed in MB/s that a card should hold while it writes.
    #[must_use]
    pub fn least_write_speed(megabits_a_second: f64) -> f64 {
        megabits_a_second / 8.0 * Self::WRITE_SPEED_RESERVE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_are_those_of_the_table_of_bit_rates() {
        // Computed: GB · 8000 / (Mb/s) / 60, two decimals.
        for (gigabytes, megabits, minutes) in [
            (64.0, 45.0, 189.63),
            (64.0, 200.0, 42.67),
            (128.0, 100.0, 170.67),
            (256.0, 60.0, 568.89),
            (256.0, 150.0, 227.56),
        ] {
            let card = Card::new(gigabytes).unwrap();
            assert!((card.minutes(megabits) - minutes).abs() < 0.005, "{gigabytes} {megabits}");
        }
        assert!((Card::new(128.0).unwrap().planned_minutes(120.0) - 128.0).abs() < 1e-9);
    }

    #[test]
    fn files_are_split_every_four_gibibytes() {
        // By hand: 2^32 · 8 / 120e6 = 286.33 s; 54 minutes are 11.3 of them.
        assert!((Card::split_secs(120.0) - 286.33).abs() < 0.005);
        assert_eq!(Card::split_files(120.0, 54.0), 12.0);
        assert_eq!(Card::split_files(120.0, 0.5), 1.0);
        assert!((Card::least_write_speed(120.0) - 19.5).abs() < 1e-12);
    }

    #[test]
    fn a_card_of_no_size_is_none() {
        for gigabytes in [0.0, -5.0, f64::NAN, 1e9] {
            assert!(Card::new(gigabytes).is_err());
        }
    }
}
