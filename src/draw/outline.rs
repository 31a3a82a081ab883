use super::{
    area::{Area, nearest_px, side_px},
    ink::{BLACK, Ink, Look, WHITE},
};
use crate::picture::RgbImage;
use image::Rgb;
use imageproc::{drawing::draw_filled_rect_mut, rect::Rect};

/// Fills a box, as much of it as lies in the picture.
pub(super) fn fill(picture: &mut RgbImage, area: Area, colour: Rgb<u8>) {
    let shown = area.clipped(Area::of(picture));
    if shown.is_empty() {
        return;
    }
    let rect =
        Rect::at(shown.left, shown.top).of_size(side_px(shown.width()), side_px(shown.height()));
    draw_filled_rect_mut(picture, rect, colour);
}

/// A line made of stripes of these widths side by side, given from the outside of the box inwards.
#[derive(Debug, Clone)]
pub(super) struct Stroke {
    stripes: Vec<(i32, Ink)>,
}

/// Dashes of a refused window and of a subject, in units of two px or more: far enough apart in length that
/// they are not taken for each other.
const REFUSED_DASHES: &[i32] = &[8, 4];
const SUBJECT_DASHES: &[i32] = &[2, 2];

impl Stroke {
    /// White between two black lines: it shows on any footage.
    pub(super) fn plain(unit_px: i32) -> Self {
        Self::between_black(unit_px, Ink::Solid(WHITE))
    }

    /// As plain, with the white broken up: a window that is refused.
    pub(super) fn refused(unit_px: i32) -> Self {
        let white =
            Ink::Dashed { on: WHITE, off: BLACK, lengths: REFUSED_DASHES, unit_px: 2 * unit_px };
        Self::between_black(unit_px, white)
    }

    fn between_black(unit_px: i32, core: Ink) -> Self {
        let black = Ink::Solid(BLACK);
        let width = 2 * unit_px;
        Self { stripes: vec![(width, black), (width, core), (width, black)] }
    }

    /// The colour and dashes of a look on black, between two white lines. The colour is seen against the
    /// black, the whole against any footage.
    pub(super) fn coded(look: Look, unit_px: i32) -> Self {
        let (white, black) = (Ink::Solid(WHITE), Ink::Solid(BLACK));
        let core_px = 3 * unit_px;
        let core =
            Ink::Dashed { on: look.colour(), off: BLACK, lengths: look.dashes(), unit_px: core_px };
        Self {
            stripes: vec![
                (unit_px, white),
                (unit_px, black),
                (core_px, core),
                (unit_px, black),
                (unit_px, white),
            ],
        }
    }

    /// Black and white by turns, thin: the subject's box.
    pub(super) fn subject(unit_px: i32) -> Self {
        let dashes =
            Ink::Dashed { on: WHITE, off: BLACK, lengths: SUBJECT_DASHES, unit_px: 2 * unit_px };
        Self { stripes: vec![(2 * unit_px, dashes)] }
    }

    /// How wide the line is, in px.
    pub(super) fn width(&self) -> i32 {
        self.stripes.iter().map(|(width, _)| width).sum()
    }

    /// Draws the line round a box, its outer edge on the edge of the box.
    pub(super) fn draw_round(&self, picture: &mut RgbImage, area: Area) {
        let mut ring = area;
        for (width, ink) in &self.stripes {
            draw_ring(picture, ring, *width, *ink);
            ring = ring.inset(*width);
            if ring.is_empty() {
                return;
            }
        }
    }

    /// The colour so many px inside the box's edge and so many along it; `None` beside the line.
    pub(super) fn colour(&self, depth_px: f64, along_px: f64) -> Option<Rgb<u8>> {
        let mut from = 0;
        for (width, ink) in &self.stripes {
            if depth_px >= f64::from(from) && depth_px < f64::from(from + width) {
                return Some(ink.at(nearest_px((along_px - f64::from(from)).floor())));
            }
            from += width;
        }
        None
    }

    /// Draws a straight piece of the line downwards, as wide as the line and as long as asked for.
    pub(super) fn draw_down(&self, picture: &mut RgbImage, (left, top): (i32, i32), length: i32) {
        let mut left = left;
        for (width, ink) in &self.stripes {
            draw_side(picture, Area::sized((left, top), (*width, length)), *ink, Run::Down);
            left += width;
        }
    }
}

/// Which way a line runs.
#[derive(Debug, Clone, Copy)]
pub(super) enum Run {
    Across,
    Down,
}

fn draw_ring(picture: &mut RgbImage, ring: Area, width: i32, ink: Ink) {
    let top = Area { bottom: (ring.top + width).min(ring.bottom), ..ring };
    let bottom = Area { top: (ring.bottom - width).max(ring.top), ..ring };
    let left = Area { right: (ring.left + width).min(ring.right), ..ring };
    let right = Area { left: (ring.right - width).max(ring.left), ..ring };
    for side in [left, right] {
        draw_side(picture, side, ink, Run::Down);
    }
    for side in [top, bottom] {
        draw_side(picture, side, ink, Run::Across);
    }
}

fn draw_side(picture: &mut RgbImage, side: Area, ink: Ink, run: Run) {
    let shown = side.clipped(Area::of(picture));
    if let Ink::Solid(colour) = ink {
        return fill(picture, shown, colour);
    }
    match run {
        Run::Across => {
            for x in shown.left..shown.right {
                let piece = Area { left: x, right: x + 1, ..shown };
                fill(picture, piece, ink.at(x - side.left));
            }
        }
        Run::Down => {
            for y in shown.top..shown.bottom {
                let piece = Area { top: y, bottom: y + 1, ..shown };
                fill(picture, piece, ink.at(y - side.top));
            }
        }
    }
}

/// How bright what is not delivered stays, in per cent of its code values. Chosen by looking: what is cut can
/// still be recognised, and nobody takes it for delivered.
const DIMMED_PERCENT: u16 = 35;

/// Darkens a part of the picture except what lies in one of the boxes to keep.
pub(super) fn dim_outside(picture: &mut RgbImage, part: Area, keep: &[Area]) {
    darken(picture, part, |(x, y)| {
        !keep.iter().any(|area| {
            (area.left..area.right).contains(&x) && (area.top..area.bottom).contains(&y)
        })
    });
}

/// Darkens the px of a part of the picture that are to be.
pub(super) fn darken(picture: &mut RgbImage, part: Area, is_dark: impl Fn((i32, i32)) -> bool) {
    let shown = part.clipped(Area::of(picture));
    for y in shown.top..shown.bottom {
        for x in shown.left..shown.right {
            if is_dark((x, y)) {
                let Rgb(channels) = picture.get_pixel_mut(x.unsigned_abs(), y.unsigned_abs());
                *channels = channels.map(dimmed);
            }
        }
    }
}

fn dimmed(code: u8) -> u8 {
    u8::try_from(u16::from(code) * DIMMED_PERCENT / 100).unwrap_or(code)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::ink::contrast;

    fn footages() -> Vec<RgbImage> {
        let even = |code| RgbImage::from_pixel(160, 120, Rgb([code; 3]));
        // A linear congruential generator, so that the noise is the same everywhere.
        let mut state = 1_u32;
        let noise = RgbImage::from_fn(160, 120, |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let [a, b, c, _] = state.to_be_bytes();
            Rgb([a, b, c])
        });
        vec![even(0), even(255), even(119), even(188), noise]
    }

    /// The greatest contrast between neighbours on a walk from outside the box to its inside.
    fn contrast_across(picture: &RgbImage, area: Area, y: i32, width: i32) -> f64 {
        let walk: Vec<Rgb<u8>> = (area.left - 1..area.left + width + 1)
            .map(|x| *picture.get_pixel(side_px(x), side_px(y)))
            .collect();
        walk.windows(2).map(|pair| contrast(pair[0], pair[1])).fold(1.0, f64::max)
    }

    /// WCAG 2.1, "Non-text Contrast": 3 to 1.
    #[test]
    fn an_outline_shows_on_any_footage_all_along_its_edge() {
        let area = Area::sized((40, 20), (80, 80));
        let mut strokes = vec![Stroke::plain(1), Stroke::plain(2)];
        strokes.extend((0..7).map(|slot| Stroke::coded(Look::of_slot(slot), 1)));
        for (footage, picture) in footages().iter().enumerate() {
            for stroke in &strokes {
                let mut drawn = picture.clone();
                dim_outside(&mut drawn, Area::of(picture), &[area]);
                stroke.draw_round(&mut drawn, area);
                // The corners belong to the lines across.
                for y in area.inset(stroke.width()).top..area.inset(stroke.width()).bottom {
                    let found = contrast_across(&drawn, area, y, stroke.width());
                    assert!(found >= 3.0, "footage {footage}, {stroke:?}, row {y}: {found}");
                }
            }
        }
    }

    #[test]
    fn dashes_show_along_the_line_by_lightness_alone() {
        for slot in 1..6 {
            let stroke = Stroke::coded(Look::of_slot(slot), 1);
            let mut picture = RgbImage::from_pixel(160, 120, Rgb([119; 3]));
            let whole = Area::of(&picture);
            stroke.draw_round(&mut picture, whole);
            let core: Vec<Rgb<u8>> = (0..120).map(|y| *picture.get_pixel(3, y)).collect();
            let changes = core.windows(2).filter(|pair| contrast(pair[0], pair[1]) >= 3.0).count();
            assert!(changes >= 6, "slot {slot}: {changes}");
        }
    }

    #[test]
    fn an_outline_stays_within_its_box() {
        let area = Area::sized((40, 20), (80, 80));
        let blank = RgbImage::from_pixel(160, 120, Rgb([119; 3]));
        let mut drawn = blank.clone();
        Stroke::coded(Look::of_slot(1), 2).draw_round(&mut drawn, area);
        for (x, y, pixel) in drawn.enumerate_pixels() {
            let place = Area::sized((whole(x), whole(y)), (1, 1));
            let on_the_line = area.holds(place) && !area.inset(14).holds(place);
            assert_eq!(*pixel != *blank.get_pixel(x, y), on_the_line, "{x},{y}");
        }
    }

    fn whole(px: u32) -> i32 {
        i32::try_from(px).unwrap()
    }

    #[test]
    fn only_what_is_outside_every_kept_box_is_darkened() {
        let mut picture = RgbImage::from_pixel(10, 10, Rgb([200; 3]));
        let keep = [Area::sized((0, 0), (5, 5)), Area::sized((3, 3), (4, 4))];
        dim_outside(&mut picture, Area::sized((0, 0), (10, 10)), &keep);
        for (x, y, pixel) in picture.enumerate_pixels() {
            let kept = (x < 5 && y < 5) || ((3..7).contains(&x) && (3..7).contains(&y));
            assert_eq!(pixel.0[0], if kept { 200 } else { 70 }, "{x},{y}");
        }
    }

    #[test]
    fn boxes_that_hang_over_or_miss_the_picture_are_harmless() {
        let mut picture = RgbImage::new(1, 1);
        for area in [
            Area::sized((-1_000_000, -1_000_000), (2_000_000, 2_000_000)),
            Area::sized((500, 500), (1, 1)),
            Area::sized((0, 0), (1, 1)),
        ] {
            Stroke::subject(3).draw_round(&mut picture, area);
            Stroke::refused(3).draw_round(&mut picture, area);
        }
    }
}
