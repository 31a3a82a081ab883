use super::area::{nearest_px, side_px};
use crate::{
    geometry::Raster,
    picture::{RgbImage, shrink_to_fit},
};
use image::{
    Rgb,
    imageops::{FilterType, resize},
};

/// What a frame without pixels is shown as.
const NO_PICTURE: Rgb<u8> = Rgb([119, 119, 119]);

/// The largest size of a shape in a box, at least one px each way.
pub(super) fn fitted_size((width, height): (u32, u32), within: (i32, i32)) -> (i32, i32) {
    let (width, height) = (f64::from(width.max(1)), f64::from(height.max(1)));
    let factor = (f64::from(within.0) / width).min(f64::from(within.1) / height);
    (nearest_px(width * factor).max(1), nearest_px(height * factor).max(1))
}

/// The shape that a picture of a frame is shown in: its own, or the frame's if it has no pixels.
pub(super) fn shown_shape(picture: &RgbImage, raster: Raster) -> (u32, u32) {
    match picture.dimensions() {
        (0, _) | (_, 0) => (raster.width_px(), raster.height_px()),
        shape => shape,
    }
}

/// The picture at exactly this size, made smaller or larger; gray if it has no pixels.
pub(super) fn at_size(picture: &RgbImage, (width, height): (i32, i32)) -> RgbImage {
    let (width, height) = (side_px(width), side_px(height));
    if picture.width() == 0 || picture.height() == 0 {
        return RgbImage::from_pixel(width, height, NO_PICTURE);
    }
    let small = shrink_to_fit(picture, width, height);
    if small.dimensions() == (width, height) {
        return small;
    }
    resize(&small, width, height, FilterType::Triangle)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_of_any_shape_comes_out_at_the_size_asked_for() {
        for shape in [(1, 1), (1, 3000), (3000, 1), (0, 0), (0, 5), (640, 480)] {
            let picture = RgbImage::new(shape.0, shape.1);
            let made = at_size(&picture, (48, 36));
            assert_eq!(made.dimensions(), (48, 36), "{shape:?}");
        }
    }

    #[test]
    fn the_largest_size_touches_the_box() {
        assert_eq!(fitted_size((4000, 3000), (480, 480)), (480, 360));
        assert_eq!(fitted_size((3000, 4000), (480, 480)), (360, 480));
        assert_eq!(fitted_size((30_000, 1), (480, 480)), (480, 1));
    }
}
