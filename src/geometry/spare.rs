use super::{Raster, Window};

/// What is left of a frame outside a window, a side at a time, in capture px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpareRoom {
    /// Left of the window.
    pub left_px: f64,
    /// Above the window.
    pub top_px: f64,
    /// Right of the window.
    pub right_px: f64,
    /// Below the window.
    pub bottom_px: f64,
}

impl SpareRoom {
    /// Left and right together: what a window of this width can slide sideways.
    #[must_use]
    pub fn across_px(&self) -> f64 {
        self.left_px + self.right_px
    }

    /// Top and bottom together: what a window of this height can slide up and down.
    #[must_use]
    pub fn down_px(&self) -> f64 {
        self.top_px + self.bottom_px
    }

    /// The smallest of the four sides.
    #[must_use]
    pub fn least_px(&self) -> f64 {
        self.left_px.min(self.top_px).min(self.right_px).min(self.bottom_px)
    }

    /// Each side as a percentage of the capture: left and right of its width, top and bottom of its height.
    #[must_use]
    pub fn percent_of_capture(&self, raster: Raster) -> Self {
        self.percent_of(raster.width(), raster.height())
    }

    /// Each side as a percentage of the window: left and right of its width, top and bottom of its height.
    #[must_use]
    pub fn percent_of_window(&self, window: &Window) -> Self {
        self.percent_of(window.width(), window.height())
    }

    fn percent_of(&self, width: f64, height: f64) -> Self {
        Self {
            left_px: 100.0 * self.left_px / width,
            top_px: 100.0 * self.top_px / height,
            right_px: 100.0 * self.right_px / width,
            bottom_px: 100.0 * self.bottom_px / height,
        }
    }
}
