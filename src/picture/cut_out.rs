use crate::geometry::{Levelling, Raster, SourcePoint, Window};
use image::{Rgb, RgbImage, imageops};

/// The part of a picture that a window of its levelled copy shows, in the picture's own px.
///
/// Window and levelling are in px of `raster`, which the picture may be a smaller copy of. A window of whole px of a
/// picture that is not turned is copied as it is; any other is resampled between px, by the cubic whose slope at a px is
/// that between its neighbours. What would be read beyond the picture's edge is its last px.
///
/// # Panics
/// Never for a picture with a px: the window lies in its raster.
#[must_use]
pub fn cut_out(
    picture: &RgbImage,
    window: &Window,
    (raster, level): (Raster, &Levelling),
) -> RgbImage {
    let scale = (
        f64::from(picture.width()) / raster.width(),
        f64::from(picture.height()) / raster.height(),
    );
    let (left, top) = (window.left() * scale.0, window.top() * scale.1);
    let size = (whole(window.width() * scale.0).max(1), whole(window.height() * scale.1).max(1));
    let parts = [left, top, window.width() * scale.0, window.height() * scale.1];
    if level.is_none() && parts.iter().all(|px| is_whole(*px)) {
        return imageops::crop_imm(picture, whole(left), whole(top), size.0, size.1).to_image();
    }
    let step = (window.width() / f64::from(size.0), window.height() / f64::from(size.1));
    RgbImage::from_fn(size.0, size.1, |x, y| {
        let levelled = SourcePoint {
            x: window.left() + (f64::from(x) + 0.5) * step.0,
            y: window.top() + (f64::from(y) + 0.5) * step.1,
        };
        let displayed = level.displayed(levelled);
        sampled(picture, (displayed.x * scale.0 - 0.5, displayed.y * scale.1 - 0.5))
    })
}

/// The colour at a place, px middles having whole numbers.
fn sampled(picture: &RgbImage, (x, y): (f64, f64)) -> Rgb<u8> {
    let ((left, across), (top, down)) = (apart(x), apart(y));
    let (columns, rows) = (weights(across), weights(down));
    let inside = |px: i64, side: u32| u32::try_from(px.clamp(0, i64::from(side) - 1)).unwrap_or(0);
    let mut sums = [0.0; 3];
    for (row, down) in (top - 1..).zip(rows) {
        for (column, across) in (left - 1..).zip(columns) {
            let place = (inside(column, picture.width()), inside(row, picture.height()));
            let Rgb(colour) = picture.get_pixel(place.0, place.1);
            for (sum, part) in sums.iter_mut().zip(colour) {
                *sum += across * down * f64::from(*part);
            }
        }
    }
    Rgb(sums.map(code))
}

/// The weights of the px before a place, the two about it, and the one after.
fn weights(share: f64) -> [f64; 4] {
    let (square, cube) = (share * share, share * share * share);
    [
        0.5 * (-cube + 2.0 * square - share),
        0.5 * (3.0 * cube - 5.0 * square + 2.0),
        0.5 * (-3.0 * cube + 4.0 * square + share),
        0.5 * (cube - square),
    ]
}

/// A place as a whole number and what is over.
#[expect(clippy::cast_possible_truncation, reason = "a place in or beside a picture")]
fn apart(place: f64) -> (i64, f64) {
    let whole = place.floor();
    (whole as i64, place - whole)
}

fn is_whole(px: f64) -> bool {
    const NOISE_PX: f64 = 1e-6;
    (px - px.round()).abs() < NOISE_PX
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a length or place in a picture, not below 0"
)]
fn whole(px: f64) -> u32 {
    px.round() as u32
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held between 0 and 255"
)]
fn code(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture whose colours tell the place: red goes up across, green down.
    fn slope(width: u32, height: u32) -> RgbImage {
        let part = |at: u32, side: u32| u8::try_from(at * 240 / side).unwrap();
        RgbImage::from_fn(width, height, |x, y| Rgb([part(x, width), part(y, height), 9]))
    }

    fn window(raster: Raster, corner: (f64, f64), size: (f64, f64)) -> Window {
        Window::inside(raster, corner, size).unwrap()
    }

    #[test]
    fn whole_px_are_copied_as_they_are() {
        let (picture, raster) = (slope(80, 60), Raster::new(80, 60).unwrap());
        let level = Levelling::none(raster);
        let cut = cut_out(&picture, &window(raster, (10.0, 20.0), (32.0, 18.0)), (raster, &level));
        assert_eq!(cut.dimensions(), (32, 18));
        assert!(cut.enumerate_pixels().all(|(x, y, px)| px == picture.get_pixel(x + 10, y + 20)));
    }

    #[test]
    fn a_window_of_the_full_raster_is_cut_from_a_smaller_copy_where_it_stands_there() {
        let (small, full) = (slope(80, 60), Raster::new(320, 240).unwrap());
        let level = Levelling::none(full);
        let cut = cut_out(&small, &window(full, (40.0, 80.0), (128.0, 72.0)), (full, &level));
        assert_eq!(cut.dimensions(), (32, 18));
        assert!(cut.enumerate_pixels().all(|(x, y, px)| px == small.get_pixel(x + 10, y + 20)));
    }

    #[test]
    fn parts_of_a_px_are_between_its_neighbours_and_edges_go_on() {
        let picture = RgbImage::from_fn(8, 4, |x, _| Rgb([u8::try_from(20 * x).unwrap(); 3]));
        let raster = Raster::new(8, 4).unwrap();
        let level = Levelling::none(raster);
        let cut = cut_out(&picture, &window(raster, (2.5, 0.0), (4.0, 4.0)), (raster, &level));
        let row: Vec<u8> = (0..4).map(|x| cut.get_pixel(x, 1).0[0]).collect();
        assert_eq!(row, [50, 70, 90, 110], "a straight slope stays one");
        let whole = cut_out(&picture, &window(raster, (0.0, 0.5), (8.0, 3.0)), (raster, &level));
        assert_eq!(whole.get_pixel(0, 0).0, [0; 3]);
        assert_eq!(whole.get_pixel(7, 2).0, [140; 3]);
    }

    #[test]
    fn a_levelled_window_shows_the_place_that_its_map_says() {
        let (picture, raster) = (slope(200, 150), Raster::new(200, 150).unwrap());
        let level = Levelling::from_degrees(raster, 10.0).unwrap();
        let window = window(raster, (60.0, 45.0), (80.0, 60.0));
        let cut = cut_out(&picture, &window, (raster, &level));
        let at = level.displayed(SourcePoint { x: 60.0 + 70.5, y: 45.0 + 10.5 });
        let Rgb([across, down, _]) = *cut.get_pixel(70, 10);
        assert!((f64::from(across) - (at.x - 0.5) * 1.2).abs() < 1.5, "{across} at {}", at.x);
        assert!((f64::from(down) - (at.y - 0.5) * 1.6).abs() < 2.0, "{down} at {}", at.y);
    }
}
