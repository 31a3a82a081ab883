use super::{
    area::Area,
    ink::{BLACK, Look, WHITE},
    outline::{Stroke, fill},
    text::Type,
};
use crate::picture::RgbImage;

/// Most lines of one text on a plate, and of all its texts together.
const LINES_PER_TEXT: usize = 2;
const LINES_PER_PLATE: usize = 8;

/// A few lines of black text on an opaque white box with a black edge, with a piece of the line that they
/// belong to beside them.
#[derive(Debug, Clone)]
pub(super) struct Plate {
    lines: Vec<String>,
    face: Type,
    unit_px: i32,
    key: Option<Stroke>,
}

impl Plate {
    /// A plate no wider than this. `None` if there is nothing to read on it.
    pub(super) fn new(texts: &[String], face: Type, unit_px: i32, widest: i32) -> Option<Self> {
        let mut plate = Self { lines: Vec::new(), face, unit_px, key: None };
        let widest =
            widest - 2 * plate.margin() - plate.key_room(&Stroke::coded(Look::default(), unit_px));
        let wrapped = texts.iter().flat_map(|text| face.wrapped(text, widest, LINES_PER_TEXT));
        plate.lines = wrapped.take(LINES_PER_PLATE).collect();
        (!plate.lines.is_empty()).then_some(plate)
    }

    /// The plate with a piece of a deliverable's line at its left edge.
    pub(super) fn with_key(self, look: Look) -> Self {
        Self { key: Some(Stroke::coded(look, self.unit_px)), ..self }
    }

    /// Px that the plate covers.
    pub(super) fn covered_px(&self) -> i64 {
        let (width, height) = self.size();
        i64::from(width) * i64::from(height)
    }

    fn margin(&self) -> i32 {
        self.face.line_height() / 4
    }

    fn key_room(&self, key: &Stroke) -> i32 {
        key.width() + self.margin()
    }

    /// Width and height in px.
    pub(super) fn size(&self) -> (i32, i32) {
        let text = self.lines.iter().map(|line| self.face.width(line)).max().unwrap_or(0);
        let key = self.key.as_ref().map_or(0, |key| self.key_room(key));
        let lines = i32::try_from(self.lines.len()).unwrap_or(0);
        (text + key + 2 * self.margin(), lines * self.face.line_height() + self.margin())
    }

    /// Draws the plate with its top left corner at a place.
    pub(super) fn draw(&self, picture: &mut RgbImage, (left, top): (i32, i32)) {
        let area = Area::sized((left, top), self.size());
        fill(picture, area, BLACK);
        fill(picture, area.inset(self.unit_px), WHITE);
        let mut text_left = left + self.margin();
        if let Some(key) = &self.key {
            let (edge, length) = (2 * self.unit_px, area.height() - 4 * self.unit_px);
            key.draw_down(picture, (left + edge, top + edge), length);
            text_left += self.key_room(key);
        }
        let mut line_top = top + self.margin() / 2;
        for line in &self.lines {
            self.face.draw(picture, (text_left, line_top), BLACK, line);
            line_top += self.face.line_height();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_plate_has_dark_text_on_a_light_ground_and_stays_in_its_box() {
        let texts = ["vertical 9:16".to_owned(), "E 0.64 fine".to_owned()];
        let plate = Plate::new(&texts, Type::SMALLEST, 1, 300).unwrap().with_key(Look::of_slot(2));
        let area = Area::sized((20, 30), plate.size());
        let ground = Rgb([119; 3]);
        let mut picture = RgbImage::from_pixel(400, 200, ground);
        plate.draw(&mut picture, (20, 30));
        let (mut dark, mut light) = (0, 0);
        for (x, y, pixel) in picture.enumerate_pixels() {
            let place = (i32::try_from(x).unwrap(), i32::try_from(y).unwrap());
            if !area.holds(Area::sized(place, (1, 1))) {
                assert_eq!(*pixel, ground, "{x},{y}");
            } else if *pixel == BLACK {
                dark += 1;
            } else if *pixel == WHITE {
                light += 1;
            }
        }
        assert!(dark > 500 && light > 2000, "{dark} {light}");
    }

    #[test]
    fn a_plate_is_never_wider_than_asked_and_needs_a_text() {
        assert!(Plate::new(&["  ".to_owned()], Type::SMALLEST, 1, 300).is_none());
        let long = ["an endless name ".repeat(100), "x".repeat(9000)];
        let plate = Plate::new(&long, Type::SMALLEST, 1, 300).unwrap().with_key(Look::default());
        assert!(plate.size().0 <= 300, "{:?}", plate.size());
    }
}
