use super::Raster;
use fast_image_resize::{
    FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer, images::ImageRef,
};
use image::{GrayImage, RgbImage};

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

/// The luma of a picture of red, green and blue, 0 to 255, at another size that is no larger: by the mean of what each px
/// covers. Weights of BT.601 in 256ths.
pub(super) fn luma_of(from: (u32, u32), rgb: &[u8], to: Raster) -> GrayImage {
    let luma = |px: &[u8]| {
        let [red, green, blue] = [px[0], px[1], px[2]].map(u16::from);
        // At most 255 and a half, so that the upper byte is what is wanted.
        (77 * red + 150 * green + 29 * blue + 128).to_be_bytes()[0]
    };
    let luma: Vec<u8> = rgb.chunks_exact(3).map(luma).collect();
    shrunk_luma(from, &luma, to)
}

/// Luma at another size that is no larger, by the mean of what each px covers.
pub(super) fn shrunk_luma((width, height): (u32, u32), luma: &[u8], to: Raster) -> GrayImage {
    let (width_px, height_px) = (to.width_px(), to.height_px());
    let large = ImageRef::new(width, height, luma, PixelType::U8)
        .expect("the luma of a picture has a byte a pixel");
    let mut small = fast_image_resize::images::Image::new(width_px, height_px, PixelType::U8);
    let options = ResizeOptions::new().resize_alg(ResizeAlg::Convolution(FilterType::Box));
    Resizer::new().resize(&large, &mut small, &options).expect("both pictures are 8-bit luma");
    GrayImage::from_raw(width_px, height_px, small.into_vec())
        .expect("the buffer has the size that was asked for")
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
    fn luma_is_the_mean_of_what_a_px_covers() {
        let stripes =
            |column: u32, _| Rgb(if column.is_multiple_of(2) { [255; 3] } else { [55; 3] });
        let picture = RgbImage::from_fn(40, 20, stripes);
        let of = |picture: &RgbImage, size| luma_of(picture.dimensions(), picture, size);
        let small = of(&picture, Raster::new(20, 10).unwrap());
        assert!(small.pixels().all(|pixel| pixel.0[0].abs_diff(155) <= 1));
        // BT.601: 0.299 of red, 0.587 of green, 0.114 of blue.
        let red = RgbImage::from_pixel(4, 4, Rgb([200, 0, 0]));
        assert_eq!(of(&red, Raster::new(4, 4).unwrap()).get_pixel(1, 1).0[0], 60);
    }

    #[test]
    fn a_small_picture_is_not_enlarged() {
        let picture = RgbImage::new(20, 10);
        assert_eq!(shrink_to_fit(&picture, 400, 400).dimensions(), (20, 10));
    }
}
