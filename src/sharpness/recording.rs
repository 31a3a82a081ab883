use super::{MeasuredSharpness, enlargement};

/// What the camera hides inside a file: a crop before it was written, how few bits it has, and how sharp it is.
///
/// The default is a file that hides nothing, and changes nothing.
///
/// ```
/// use lookroom::sharpness::Recording;
/// // A stabiliser left 0.9 of the width: a 4000 px wide window carries 3600 px, and E is 0.96 / 0.9.
/// let recording = Recording { inside_factor: 0.9, ..Recording::default() };
/// assert_eq!(recording.carried_px(4000.0), 3600.0);
/// assert_eq!(format!("{:.4}", recording.enlargement(3840.0, 4000.0)), "1.0667");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Recording {
    /// Sensor px for each px of the file along an axis, above 0 to 1: 1 without a crop inside the camera.
    pub inside_factor: f64,
    /// Bits of the file for each px of each frame; `None` where no bit rate is known.
    pub bits_per_px: Option<f64>,
    /// How sharp its frames are, where that was measured. It is in what a window is good for, and in no enlargement:
    /// how far a window may be enlarged would else depend on where it is.
    pub sharpness: Option<MeasuredSharpness>,
}

impl Default for Recording {
    fn default() -> Self {
        Self { inside_factor: 1.0, bits_per_px: None, sharpness: None }
    }
}

impl Recording {
    /// How many sensor px a length in px of the file carries.
    #[must_use]
    pub fn carried_px(&self, length_px: f64) -> f64 {
        length_px * self.inside_factor
    }

    /// Delivered px for each px that the window carries: the true enlargement.
    #[must_use]
    pub fn enlargement(&self, delivered_px: f64, window_px: f64) -> f64 {
        enlargement(delivered_px, self.carried_px(window_px))
    }

    /// The least length in px of the file that is delivered within an enlargement.
    #[must_use]
    pub fn least_px(&self, delivered_px: f64, greatest_enlargement: f64) -> f64 {
        delivered_px / (greatest_enlargement * self.inside_factor)
    }
}
