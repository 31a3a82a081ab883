//! Windows of levelled pictures, as they lie turned in the displayed frame.

use super::{
    area::{Area, nearest_px},
    outline::{Stroke, darken},
};
use crate::{
    geometry::{Levelling, Raster, SourcePoint, Window},
    picture::RgbImage,
};

/// A window of a levelled picture, drawn in a picture of the displayed frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct TurnedWindow {
    level: Levelling,
    window: Window,
    /// Picture px for each px of the capture, across and down.
    scale: (f64, f64),
}

impl TurnedWindow {
    /// A window in a picture of a frame that fills all of it. A roll that no levelling has is none.
    pub(super) fn new(
        (capture, picture): (Raster, Area),
        window: &Window,
        roll_degrees: f64,
    ) -> Self {
        let level = Levelling::from_degrees(capture, roll_degrees)
            .unwrap_or_else(|_| Levelling::none(capture));
        let scale = (
            f64::from(picture.width()) / capture.width(),
            f64::from(picture.height()) / capture.height(),
        );
        Self { level, window: *window, scale }
    }

    /// The upright box of picture px round it.
    pub(super) fn hull(&self) -> Area {
        let corners = self.level.displayed_corners(&self.window);
        let across = corners.map(|corner| nearest_px(corner.x * self.scale.0));
        let down = corners.map(|corner| nearest_px(corner.y * self.scale.1));
        let least = |px: [i32; 4]| px.into_iter().min().unwrap_or(0);
        let most = |px: [i32; 4]| px.into_iter().max().unwrap_or(0);
        Area {
            left: least(across),
            top: least(down),
            right: most(across).max(least(across) + 1),
            bottom: most(down).max(least(down) + 1),
        }
    }

    /// How far the middle of a picture px lies inside the window from its left, top, right and bottom edge, in
    /// picture px.
    fn depths(&self, (x, y): (i32, i32)) -> [f64; 4] {
        let displayed = SourcePoint {
            x: (f64::from(x) + 0.5) / self.scale.0,
            y: (f64::from(y) + 0.5) / self.scale.1,
        };
        let place = self.level.levelled(displayed);
        let window = &self.window;
        [
            (place.x - window.left()) * self.scale.0,
            (place.y - window.top()) * self.scale.1,
            (window.right() - place.x) * self.scale.0,
            (window.bottom() - place.y) * self.scale.1,
        ]
    }

    /// Whether the middle of a picture px lies in the window.
    fn holds(&self, px: (i32, i32)) -> bool {
        self.depths(px).into_iter().all(|depth| depth >= 0.0)
    }
}

impl Stroke {
    /// Draws the line round a turned window, its outer edge so many px inside the window's.
    pub(super) fn draw_turned(&self, picture: &mut RgbImage, turned: &TurnedWindow, inset_px: i32) {
        let shown = turned.hull().clipped(Area::of(picture));
        for y in shown.top..shown.bottom {
            for x in shown.left..shown.right {
                let [left, top, right, bottom] =
                    turned.depths((x, y)).map(|depth| depth - f64::from(inset_px));
                let (across, down) = (left.min(right), top.min(bottom));
                // Near the sides a line runs down, as the corners belong to the lines across.
                let (depth, along) = if down <= across { (down, left) } else { (across, top) };
                if let Some(colour) = self.colour(depth, along) {
                    picture.put_pixel(x.unsigned_abs(), y.unsigned_abs(), colour);
                }
            }
        }
    }
}

/// Darkens a picture except what lies in one of the windows to keep.
pub(super) fn dim_outside_turned(picture: &mut RgbImage, keep: &[TurnedWindow]) {
    let whole = Area::of(picture);
    darken(picture, whole, |px| !keep.iter().any(|turned| turned.holds(px)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::ink::Look;
    use image::Rgb;

    fn drawn(roll_degrees: f64) -> (RgbImage, TurnedWindow) {
        let capture = Raster::new(400, 300).unwrap();
        let mut picture = RgbImage::from_pixel(400, 300, Rgb([200; 3]));
        let window = Window::inside(capture, (80.0, 60.0), (240.0, 135.0)).unwrap();
        let turned = TurnedWindow::new((capture, Area::of(&picture)), &window, roll_degrees);
        dim_outside_turned(&mut picture, &[turned]);
        Stroke::coded(Look::of_slot(0), 1).draw_turned(&mut picture, &turned, 0);
        (picture, turned)
    }

    #[test]
    fn a_turned_window_is_kept_bright_and_all_else_darkened() {
        let (picture, turned) = drawn(10.0);
        let line_px = f64::from(Stroke::coded(Look::of_slot(0), 1).width());
        for (x, y, pixel) in picture.enumerate_pixels() {
            let px = (i32::try_from(x).unwrap(), i32::try_from(y).unwrap());
            let depth = turned.depths(px).into_iter().fold(f64::INFINITY, f64::min);
            if depth < 0.0 {
                assert_eq!(pixel.0, [70; 3], "{px:?} is outside");
            } else if depth > line_px {
                assert_eq!(pixel.0, [200; 3], "{px:?} is inside");
            } else {
                assert_ne!(pixel.0, [200; 3], "{px:?} is on the line");
            }
        }
    }

    #[test]
    fn the_corners_of_the_outline_are_where_the_map_puts_them() {
        // The upper right corner of a window turned by 10 degrees clockwise picture: turned back, by hand.
        let (picture, _) = drawn(10.0);
        let (sine, cosine) = 10.0_f64.to_radians().sin_cos();
        let (across, down) = (320.0 - 200.0, 60.0 - 150.0);
        let corner = (200.0 + across * cosine + down * sine, 150.0 - across * sine + down * cosine);
        let bright = |x: f64, y: f64| {
            let whole = |v: f64| format!("{v:.0}").parse::<u32>().unwrap();
            picture.get_pixel(whole(x), whole(y)).0 != [70; 3]
        };
        // Two px inside along both edges it is drawn, two px outside it is dim.
        let along = (cosine + sine, cosine - sine);
        assert!(bright(corner.0 - 3.0 * along.0, corner.1 + 3.0 * along.1));
        assert!(!bright(corner.0 + 3.0 * along.0, corner.1 - 3.0 * along.1));
    }

    #[test]
    fn without_a_turn_it_is_the_upright_outline_to_the_px() {
        let (picture, _) = drawn(0.0);
        let mut upright = RgbImage::from_pixel(400, 300, Rgb([200; 3]));
        let (whole, area) = (Area::of(&upright), Area::sized((80, 60), (240, 135)));
        super::super::outline::dim_outside(&mut upright, whole, &[area]);
        Stroke::coded(Look::of_slot(0), 1).draw_round(&mut upright, area);
        let differing = picture.pixels().zip(upright.pixels()).filter(|(a, b)| a != b).count();
        assert_eq!(differing, 0);
    }
}
