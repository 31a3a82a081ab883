use crate::picture::RgbImage;
use image::{Rgb, imageops};

/// Pictures side by side in rows of so many, on white; one px white if there are none.
#[must_use]
pub fn tiled(pictures: &[RgbImage], in_a_row: usize) -> RgbImage {
    const GAP_PX: u32 = 8;
    let in_a_row = in_a_row.max(1);
    let size = |of: fn(&RgbImage) -> u32| pictures.iter().map(of).max().unwrap_or(1) + GAP_PX;
    let (wide, high) = (size(RgbImage::width), size(RgbImage::height));
    let count = |number: usize| u32::try_from(number).unwrap_or(u32::MAX).max(1);
    let columns = count(in_a_row.min(pictures.len()));
    let rows = count(pictures.len().div_ceil(in_a_row));
    let paper = Rgb([255, 255, 255]);
    let mut sheet = RgbImage::from_pixel(columns * wide + GAP_PX, rows * high + GAP_PX, paper);
    for (place, picture) in pictures.iter().enumerate() {
        let (column, row) = (count(place % in_a_row + 1) - 1, count(place / in_a_row + 1) - 1);
        let at = |step: u32, size: u32| i64::from(GAP_PX + step * size);
        imageops::replace(&mut sheet, picture, at(column, wide), at(row, high));
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_picture_has_a_place_of_its_own() {
        let pictures: Vec<RgbImage> =
            (0..5).map(|k| RgbImage::from_pixel(10, 6, Rgb([k, 0, 0]))).collect();
        let sheet = tiled(&pictures, 3);
        assert_eq!(sheet.dimensions(), (3 * 18 + 8, 2 * 14 + 8));
        assert_eq!(sheet.get_pixel(8, 8), &Rgb([0, 0, 0]));
        assert_eq!(sheet.get_pixel(8 + 18, 8 + 14), &Rgb([4, 0, 0]));
        assert_eq!(sheet.get_pixel(8 + 36, 8 + 14), &Rgb([255, 255, 255]));
    }
}
