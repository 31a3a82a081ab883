use super::{Shape, Window};

/// One straight edge of what a window may use: every point of the window is on its inner side.
///
/// With the normal `n`, of length 1 and pointing outwards, a point `p` is inside where `n·p ≤ reach`. An upright
/// window of centre `c`, width `w` and height `h` is inside where `n·c + (|nx| w + |ny| h) / 2 ≤ reach`: its
/// furthest corner decides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfPlane {
    /// The outward normal's part across, right positive.
    pub across: f64,
    /// Its part down.
    pub down: f64,
    /// How far the inner side reaches along the normal, in px from the origin.
    pub reach_px: f64,
}

impl HalfPlane {
    /// How far a window of this shape reaches beyond its centre along the normal, for each px of its width.
    #[must_use]
    pub fn reach_per_width(&self, shape: Shape) -> f64 {
        (self.across.abs() + self.down.abs() * shape.height_for(1.0)) / 2.0
    }

    /// The room between a window and the edge, in px at right angles to the edge; below 0 the window hangs
    /// over it by so much.
    #[must_use]
    pub fn room_px(&self, window: &Window) -> f64 {
        let half = self.across.abs() * window.width() + self.down.abs() * window.height();
        let centre = self.across * window.centre_x() + self.down * window.centre_y();
        self.reach_px - centre - half / 2.0
    }
}
