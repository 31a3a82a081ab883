use fast_image_resize::{
    FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer, images::ImageRef,
};
use image::RgbImage;

/// A copy of the picture no larger than `width_px` by `height_px`, in its own shape; the picture itself if
/// it is small enough. At least one pixel each way. Lanczos, three lobes.
///
/// # Panics
/// Never: the buffers are made to the sizes given.
#[must_use]
pub fn shrink_to_fit(picture: &RgbImage, width_px: u32, height_px: u32) -> RgbImage {
    let (width, height) = picture.dimensions();
    let factor =
        (f64::from(width_px) / f64::from(width)).min(f64::from(height_px) / f64::from(height));
    if factor >= 1.0 {
        return picture.clone();
    }
    let (width_px, height_px) = (scaled(width, factor), scaled(height, factor));
    let mut small = fast_image_resize::images::Image::new(width_px, height_px, PixelType::U8x3);
    let large = ImageRef::new(width, height, picture.as_raw(), PixelType::U8x3)
        .expect("an RGB picture has three bytes a pixel");
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3));
    Resizer::new().resize(&large, &mut small, &options).expect("both pictures are 8-bit RGB");
    RgbImage::from_raw(width_px, height_px, small.into_vec())
        .expect("the buffer has the picture's size")
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a side scaled down by a factor between 0 and 1 is a smaller positive number"
)]
fn scaled(side_px: u32, factor: f64) -> u32 {
    ((f64::from(side_px) * factor).round() as u32).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn an_even_picture_stays_even_and_keeps_its_shape() {
        let picture = RgbImage::from_pixel(1440, 1080, Rgb([10, 200, 30]));
        let small = shrink_to_fit(&picture, 400, 400);
        assert_eq!(small.dimensions(), (400, 300));
        assert!(small.pixels().all(|pixel| *pixel == Rgb([10, 200, 30])));
    }

    #[test]
    fn a_small_picture_is_not_enlarged() {
        let picture = RgbImage::new(20, 10);
        assert_eq!(shrink_to_fit(&picture, 400, 400).dimensions(), (20, 10));
    }
}
