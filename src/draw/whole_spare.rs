use super::area::nearest_px;
use crate::geometry::{Raster, Window};

/// A window and what is spare on each side, in whole capture px that add up to the frame: the edges are
/// rounded, and the lengths are what lies between them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct WholeSpare {
    pub(super) left: i32,
    pub(super) width: i32,
    pub(super) right: i32,
    pub(super) top: i32,
    pub(super) height: i32,
    pub(super) bottom: i32,
}

impl WholeSpare {
    pub(super) fn of(raster: Raster, window: &Window) -> Self {
        let (left, right) = (nearest_px(window.left()), nearest_px(window.right()));
        let (top, bottom) = (nearest_px(window.top()), nearest_px(window.bottom()));
        Self {
            left,
            width: right - left,
            right: nearest_px(raster.width()) - right,
            top,
            height: bottom - top,
            bottom: nearest_px(raster.height()) - bottom,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sums_come_out_for_windows_between_whole_px() {
        let raster = Raster::new(4000, 3000).unwrap();
        for step in 0..400 {
            let left = f64::from(step) * 0.37;
            let window = Window::inside(raster, (left, left / 3.0), (1687.5, 2700.1)).unwrap();
            let spare = WholeSpare::of(raster, &window);
            assert_eq!(spare.left + spare.width + spare.right, 4000, "{window:?}");
            assert_eq!(spare.top + spare.height + spare.bottom, 3000, "{window:?}");
            assert!((f64::from(spare.left) - left).abs() <= 0.5, "{window:?}");
        }
    }
}
