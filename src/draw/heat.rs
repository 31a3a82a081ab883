use crate::picture::RgbImage;
use image::Rgb;

/// A picture with the brightness of each place by how much of something is there: the frame in grey, dark where there is next to
/// nothing and as it is where there is the most. It reads in print and without colours.
///
/// `shares` are those of a grid of so many columns over the whole picture, row by row; an empty one leaves all dark.
#[must_use]
pub fn heat(picture: &RgbImage, (columns, shares): (usize, &[f32])) -> RgbImage {
    /// How bright a place is where there is nothing.
    const LEAST: f32 = 0.22;
    let most = shares.iter().copied().fold(0.0, f32::max);
    let (width, height) = picture.dimensions();
    let rows = shares.len().checked_div(columns).unwrap_or(0);
    let share_at = |x: u32, y: u32| -> f32 {
        if most <= 0.0 || rows == 0 {
            return 0.0;
        }
        let place = |at: u32, side: u32, cells: usize| {
            (at as usize * cells / side.max(1) as usize).min(cells - 1)
        };
        let (column, row) = (place(x, width, columns), place(y, height, rows));
        // A square root: what has a quarter of the most is half as bright.
        (shares[row * columns + column] / most).max(0.0).sqrt()
    };
    RgbImage::from_fn(width, height, |x, y| {
        let [red, green, blue] = picture.get_pixel(x, y).0.map(f32::from);
        // Luma by ITU-R BT.601.
        let luma = 0.299 * red + 0.587 * green + 0.114 * blue;
        let bright = LEAST + (1.0 - LEAST) * share_at(x, y);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 255")]
        let grey = (luma * bright).round().clamp(0.0, 255.0) as u8;
        Rgb([grey; 3])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_is_as_bright_as_it_was_and_nothing_is_dark() {
        let picture = RgbImage::from_pixel(4, 2, Rgb([200, 200, 200]));
        let drawn = heat(&picture, (2, &[0.0, 1.0]));
        assert_eq!(drawn.get_pixel(0, 0), &Rgb([44; 3]));
        assert_eq!(drawn.get_pixel(3, 1), &Rgb([200; 3]));
        assert_eq!(heat(&picture, (0, &[])).get_pixel(3, 1), &Rgb([44; 3]));
    }
}
