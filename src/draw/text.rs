use super::area::nearest_px;
use crate::picture::RgbImage;
use ab_glyph::FontRef;
use image::Rgb;
use imageproc::drawing::{draw_text_mut, text_size};
use std::sync::LazyLock;

static FONT: LazyLock<FontRef<'static>> = LazyLock::new(|| {
    FontRef::try_from_slice(include_bytes!("fonts/DejaVuSans.ttf"))
        .expect("the font that is compiled in can be read")
});

/// No line that is drawn has as many characters; what is beyond is not even measured.
const GREATEST_CHARS: usize = 2_000;
const ELLIPSIS: char = '…';

/// One size of text. A character that the font lacks is drawn as an empty box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Type {
    height_px: f32,
}

impl Type {
    /// Capital letters are 0.626 of the height that a size is named by (version 2.37 of the font: cap height 1493,
    /// ascent and descent 1901 and 483 units). At this size they are 12.5 px tall.
    pub(super) const SMALLEST: Self = Self::of_px(20);

    pub(super) const fn of_px(height_px: u8) -> Self {
        Self { height_px: height_px as f32 }
    }

    /// Text for a picture of this width: about 60 capitals across it, within what can be read and what is
    /// not silly.
    pub(super) fn for_picture(width_px: i32) -> Self {
        let height = (width_px / 62).clamp(20, 96);
        Self::of_px(u8::try_from(height).unwrap_or(20))
    }

    /// From one line to the next, in px.
    pub(super) fn line_height(self) -> i32 {
        nearest_px(f64::from(self.height_px) * 1.12)
    }

    /// How wide a text is, in px.
    pub(super) fn width(self, text: &str) -> i32 {
        let (width, _) = text_size(self.height_px, &*FONT, text);
        i32::try_from(width).unwrap_or(i32::MAX)
    }

    /// Draws one line, its top left corner at a place.
    pub(super) fn draw(
        self,
        picture: &mut RgbImage,
        (left, top): (i32, i32),
        colour: Rgb<u8>,
        text: &str,
    ) {
        draw_text_mut(picture, colour, left, top, self.height_px, &*FONT, text);
    }

    /// The text in lines no wider than this, broken at spaces, inside a word if it is too long; the last of
    /// them ends in an ellipsis if there are more than `most_lines`. Nothing for a blank text.
    pub(super) fn wrapped(self, text: &str, width: i32, most_lines: usize) -> Vec<String> {
        let text: String = text.chars().take(GREATEST_CHARS).map(printable).collect();
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if self.width(&longer) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            if lines.len() > most_lines {
                break;
            }
            let mut rest = word;
            while self.width(rest) > width && lines.len() <= most_lines {
                let (start, end) = rest.split_at(self.fitting_bytes(rest, width));
                lines.push(start.to_owned());
                rest = end;
            }
            rest.clone_into(&mut line);
        }
        if !line.is_empty() {
            lines.push(line);
        }
        self.cut_off(lines, width, most_lines)
    }

    fn cut_off(self, mut lines: Vec<String>, width: i32, most_lines: usize) -> Vec<String> {
        if lines.len() > most_lines {
            lines.truncate(most_lines);
            if let Some(last) = lines.last_mut() {
                *last = self.ended(last, width);
            }
        }
        lines
    }

    /// The text with an ellipsis at its end, cut so far that both fit.
    fn ended(self, text: &str, width: i32) -> String {
        let mut kept = text.to_owned();
        loop {
            let ended = format!("{}{ELLIPSIS}", kept.trim_end());
            if self.width(&ended) <= width || kept.pop().is_none() {
                return ended;
            }
        }
    }

    /// How many bytes of a word fit; at least its first character.
    fn fitting_bytes(self, word: &str, width: i32) -> usize {
        let ends: Vec<usize> = word.char_indices().skip(1).map(|(at, _)| at).collect();
        let fitting = ends.partition_point(|end| self.width(&word[..*end]) <= width);
        let whole = ends.first().copied().unwrap_or(word.len());
        ends.get(fitting.wrapping_sub(1)).copied().unwrap_or(whole)
    }
}

fn printable(character: char) -> char {
    if character.is_control() { ' ' } else { character }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TYPE: Type = Type::SMALLEST;

    #[test]
    fn capitals_of_the_smallest_text_are_at_least_12_px_tall() {
        let mut picture = RgbImage::from_pixel(60, 40, Rgb([255; 3]));
        TYPE.draw(&mut picture, (5, 5), Rgb([0; 3]), "H");
        let inked = |y: &u32| (0..60).any(|x| picture.get_pixel(x, *y).0[0] < 128);
        assert!((0..40).filter(inked).count() >= 12);
    }

    #[test]
    fn wrapped_lines_fit_and_lose_nothing_when_there_are_enough() {
        let text =
            "bow camera · frame 112 · 10:12:34:12 · does not fit, 170 px short of the helmet";
        let lines = TYPE.wrapped(text, 220, 20);
        assert!(lines.iter().all(|line| TYPE.width(line) <= 220), "{lines:?}");
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn a_text_too_long_for_its_lines_ends_in_an_ellipsis() {
        let text = "spare ".repeat(800);
        let lines = TYPE.wrapped(&text, 300, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines[2].ends_with('…') && !lines[1].ends_with('…'), "{lines:?}");
        assert!(lines.iter().all(|line| TYPE.width(line) <= 300), "{lines:?}");
    }

    #[test]
    fn one_endless_word_is_broken() {
        let lines = TYPE.wrapped(&"w".repeat(100_000), 200, 4);
        assert_eq!(lines.len(), 4);
        assert!(lines.iter().all(|line| TYPE.width(line) <= 200), "{lines:?}");
    }

    #[test]
    fn a_text_that_fits_stays_as_it_is_and_a_blank_one_has_no_lines() {
        assert_eq!(TYPE.wrapped("vertical 9:16", 400, 1), ["vertical 9:16"]);
        assert!(TYPE.wrapped(" \n ", 400, 1).is_empty());
    }

    #[test]
    fn line_ends_and_characters_without_a_glyph_are_harmless() {
        let mut picture = RgbImage::from_pixel(80, 30, Rgb([255; 3]));
        TYPE.draw(&mut picture, (-20, -3), Rgb([0; 3]), "a\n\u{10FFFF}\u{0301}漢\t");
        assert_eq!(TYPE.wrapped("two\nlines\u{7}", 400, 3), ["two lines"]);
        assert!(!TYPE.wrapped("one", 0, 3).is_empty());
    }
}
