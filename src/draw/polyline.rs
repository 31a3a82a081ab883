use super::area::{nearest_px, side_px, whole_px};
use crate::picture::RgbImage;
use image::Rgb;

/// What a line from point to point is drawn with; its edges are smooth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pen {
    pub(super) width_px: f64,
    pub(super) colour: Rgb<u8>,
    /// Lengths of dash and gap, in px.
    pub(super) dashes: Option<(f64, f64)>,
}

impl Pen {
    /// Draws a line along points in px of the picture; they may lie outside of it.
    pub(super) fn draw(&self, picture: &mut RgbImage, points: &[(f64, f64)]) {
        let mut along = 0.0;
        for pair in points.windows(2) {
            let ((x, y), (to_x, to_y)) = (pair[0], pair[1]);
            let length = (to_x - x).hypot(to_y - y);
            if length > 0.0 && length.is_finite() {
                self.piece(picture, (pair[0], pair[1], length), along);
                along += length;
            }
        }
    }

    fn piece(
        &self,
        picture: &mut RgbImage,
        ((x, y), (to_x, to_y), length): ((f64, f64), (f64, f64), f64),
        along: f64,
    ) {
        let (dx, dy) = ((to_x - x) / length, (to_y - y) / length);
        let half = self.width_px / 2.0;
        let (columns, rows) = (whole_px(picture.width()), whole_px(picture.height()));
        let reach = |a: f64, b: f64, limit: i32| {
            let from = nearest_px((a.min(b) - half - 1.0).floor()).clamp(0, limit);
            from..nearest_px((a.max(b) + half + 2.0).ceil()).clamp(from, limit)
        };
        for row in reach(y, to_y, rows) {
            for column in reach(x, to_x, columns) {
                let (px, py) = (f64::from(column) + 0.5 - x, f64::from(row) + 0.5 - y);
                let share = (px * dx + py * dy).clamp(0.0, length);
                let away = (px - share * dx).hypot(py - share * dy);
                let cover = (half + 0.5 - away).clamp(0.0, 1.0);
                if cover > 0.0 && self.is_on(along + share) {
                    blend(picture, (column, row), self.colour, cover);
                }
            }
        }
    }

    fn is_on(&self, along: f64) -> bool {
        self.dashes.is_none_or(|(dash, gap)| along.rem_euclid(dash + gap) < dash)
    }
}

/// Lays so much of a colour over a px.
pub(super) fn blend(picture: &mut RgbImage, (x, y): (i32, i32), colour: Rgb<u8>, cover: f64) {
    let Rgb(under) = picture.get_pixel_mut(x.unsigned_abs(), y.unsigned_abs());
    for (code, over) in under.iter_mut().zip(colour.0) {
        let mixed = f64::from(*code) + cover * (f64::from(over) - f64::from(*code));
        *code = u8::try_from(nearest_px(mixed)).unwrap_or(*code);
    }
}

/// Lays so much of a colour over what a closed line runs round.
pub(super) fn fill_inside(
    picture: &mut RgbImage,
    points: &[(f64, f64)],
    (colour, cover): (Rgb<u8>, f64),
) {
    for row in 0..whole_px(picture.height()) {
        let middle = f64::from(row) + 0.5;
        let mut crossings: Vec<f64> = points
            .windows(2)
            .filter(|pair| (pair[0].1 <= middle) != (pair[1].1 <= middle))
            .map(|pair| {
                let share = (middle - pair[0].1) / (pair[1].1 - pair[0].1);
                pair[0].0 + share * (pair[1].0 - pair[0].0)
            })
            .collect();
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let limit = whole_px(picture.width());
            let from = nearest_px(pair[0]).clamp(0, limit);
            for column in from..nearest_px(pair[1]).clamp(from, limit) {
                blend(picture, (column, row), colour, cover);
            }
        }
    }
}

/// Stripes from lower left to upper right in a part of a picture.
pub(super) fn hatch(picture: &mut RgbImage, area: super::area::Area, (gap, width): (i32, i32)) {
    let shown = area.clipped(super::area::Area::of(picture));
    for row in shown.top..shown.bottom {
        for column in shown.left..shown.right {
            let is_on = (column + row).rem_euclid(gap) < width;
            let colour = if is_on { super::ink::BLACK } else { super::ink::WHITE };
            picture.put_pixel(column.unsigned_abs(), side_px(row + 1) - 1, colour);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::{
        area::Area,
        ink::{BLACK, WHITE},
    };

    fn paper() -> RgbImage {
        RgbImage::from_pixel(60, 40, WHITE)
    }

    fn ink_of(picture: &RgbImage) -> f64 {
        picture.pixels().map(|pixel| 1.0 - f64::from(pixel.0[0]) / 255.0).sum()
    }

    #[test]
    fn a_line_has_as_much_ink_as_its_length_and_width() {
        let mut picture = paper();
        let pen = Pen { width_px: 4.0, colour: BLACK, dashes: None };
        pen.draw(&mut picture, &[(-20.0, 10.3), (80.0, 10.3)]);
        assert!((ink_of(&picture) - 60.0 * 4.0).abs() < 4.0, "{}", ink_of(&picture));
        let mut dashed = paper();
        let pen = Pen { dashes: Some((5.0, 5.0)), ..pen };
        pen.draw(&mut dashed, &[(0.0, 10.3), (60.0, 10.3)]);
        assert!((ink_of(&dashed) - 30.0 * 4.0).abs() < 8.0, "{}", ink_of(&dashed));
    }

    #[test]
    fn a_closed_line_is_filled_and_nothing_beside_it() {
        let mut picture = paper();
        let box_ = [(10.0, 5.0), (90.0, 5.0), (90.0, 25.0), (10.0, 25.0), (10.0, 5.0)];
        fill_inside(&mut picture, &box_, (BLACK, 1.0));
        assert!((ink_of(&picture) - 50.0 * 20.0).abs() < 1e-9);
    }

    #[test]
    fn a_hatched_box_is_half_ink_and_may_hang_over() {
        let mut picture = paper();
        hatch(&mut picture, Area::sized((40, 20), (100, 100)), (8, 4));
        assert!((ink_of(&picture) - 200.0).abs() < 20.0, "{}", ink_of(&picture));
    }
}
