//! Stills side by side, the best first, with what is to be known of each below it.

use super::{
    area::{Area, nearest_px, side_px, whole_px},
    ink::{BLACK, WHITE},
    outline::{Stroke, dim_outside},
    text::Type,
};
use crate::picture::RgbImage;
use image::imageops;

/// One still.
#[derive(Debug, Clone)]
pub struct ContactCell {
    /// The still, at the size that it is shown in.
    pub picture: RgbImage,
    /// The subject's box: left, top, width and height as shares of the still. It may hang over.
    pub subject: Option<[f64; 4]>,
    /// What something else will cover, as shares from the left, top, right and bottom.
    pub blocked: [f64; 4],
    /// Lines below it, a short one each.
    pub lines: Vec<String>,
}

const TYPE: Type = Type::SMALLEST;
const GAP_PX: i32 = 16;
/// Wide enough for a line of words below a narrow still.
const LEAST_CELL_PX: i32 = 350;
/// Rows are about this wide.
const ROW_PX: i32 = 1500;
const LINES_PER_TEXT: usize = 2;

/// Stills in rows under some lines of heading, on white. What is blocked is darkened.
#[must_use]
pub fn contact_sheet(heading: &[String], cells: &[ContactCell]) -> RgbImage {
    let widest = cells.iter().map(|cell| whole_px(cell.picture.width())).max().unwrap_or(0);
    let cell_px = widest.max(LEAST_CELL_PX);
    let in_a_row = usize::try_from(ROW_PX / (cell_px + GAP_PX)).unwrap_or(1).max(1);
    let columns = i32::try_from(cells.len().clamp(1, in_a_row)).unwrap_or(1);
    let width = GAP_PX + columns * (cell_px + GAP_PX);
    let wrapped = |texts: &[String], width| -> Vec<String> {
        texts.iter().flat_map(|text| TYPE.wrapped(text, width, LINES_PER_TEXT)).collect()
    };
    let title = wrapped(heading, width - 2 * GAP_PX);
    let rows: Vec<Vec<(&ContactCell, Vec<String>)>> = cells
        .chunks(in_a_row)
        .map(|row| row.iter().map(|cell| (cell, wrapped(&cell.lines, cell_px))).collect())
        .collect();
    let heights: Vec<i32> = rows
        .iter()
        .map(|row| {
            let cell = |(cell, lines): &(&ContactCell, Vec<String>)| {
                whole_px(cell.picture.height()) + text_height(lines)
            };
            row.iter().map(cell).max().unwrap_or(0)
        })
        .collect();
    let height = GAP_PX
        + text_height(&title)
        + heights.iter().map(|height| height + 2 * GAP_PX).sum::<i32>();
    let mut sheet = RgbImage::from_pixel(side_px(width), side_px(height), WHITE);
    draw_lines(&mut sheet, (GAP_PX, GAP_PX), &title);
    let mut top = 2 * GAP_PX + text_height(&title);
    for (row, height) in rows.iter().zip(heights) {
        let mut left = GAP_PX;
        for (cell, lines) in row {
            let picture = drawn(cell);
            imageops::replace(&mut sheet, &picture, left.into(), top.into());
            draw_lines(&mut sheet, (left, top + whole_px(picture.height())), lines);
            left += cell_px + GAP_PX;
        }
        top += height + 2 * GAP_PX;
    }
    sheet
}

/// A still with its subject's box and what is blocked.
fn drawn(cell: &ContactCell) -> RgbImage {
    let mut picture = cell.picture.clone();
    let whole = Area::of(&picture);
    let (width, height) = (f64::from(whole.width()), f64::from(whole.height()));
    let [left, top, right, bottom] = cell.blocked;
    let free = Area {
        left: nearest_px(left * width),
        top: nearest_px(top * height),
        right: nearest_px((1.0 - right) * width),
        bottom: nearest_px((1.0 - bottom) * height),
    };
    if free != whole {
        dim_outside(&mut picture, whole, &[free]);
    }
    if let Some([left, top, wide, high]) = cell.subject {
        let area = Area {
            left: nearest_px(left * width),
            top: nearest_px(top * height),
            right: nearest_px((left + wide) * width),
            bottom: nearest_px((top + high) * height),
        };
        Stroke::subject(1).draw_round(&mut picture, area);
    }
    picture
}

fn text_height(lines: &[String]) -> i32 {
    i32::try_from(lines.len()).unwrap_or(0) * TYPE.line_height() + 4
}

fn draw_lines(sheet: &mut RgbImage, (left, top): (i32, i32), lines: &[String]) {
    for (place, line) in (0..).zip(lines) {
        TYPE.draw(sheet, (left, top + 4 + place * TYPE.line_height()), BLACK, line);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    fn cell(grey: u8, blocked: [f64; 4]) -> ContactCell {
        ContactCell {
            picture: RgbImage::from_pixel(480, 270, Rgb([grey; 3])),
            subject: Some([0.25, 0.25, 0.5, 0.5]),
            blocked,
            lines: vec!["1   frame 12".to_owned(), "sharpness 97 %".to_owned()],
        }
    }

    #[test]
    fn each_still_has_its_place_and_its_words_below_it() {
        let cells: Vec<ContactCell> = (1..=4).map(|k| cell(40 * k, [0.0; 4])).collect();
        let sheet = contact_sheet(&["Stills".to_owned()], &cells);
        assert_eq!(sheet.width(), 16 + 3 * 496);
        let first_row = (0..sheet.height()).find(|y| sheet.get_pixel(17, *y).0 == [40; 3]).unwrap();
        assert_eq!(sheet.get_pixel(17 + 496, first_row).0, [80; 3]);
        assert_eq!(sheet.get_pixel(17 + 992, first_row).0, [120; 3]);
        let below = (first_row + 270..sheet.height())
            .find(|y| sheet.get_pixel(17, *y).0 == [160; 3])
            .expect("the fourth stands in a second row");
        let is_inked = |y: u32| (16..200).any(|x| sheet.get_pixel(x, y).0[0] < 100);
        assert!((first_row + 270..below).any(is_inked), "words stand between the rows");
    }

    #[test]
    fn what_is_blocked_is_darker_and_the_box_is_drawn() {
        let picture = drawn(&cell(200, [0.0, 0.1, 0.0, 0.2]));
        assert_eq!(picture.get_pixel(240, 10).0, [70; 3]);
        assert_eq!(picture.get_pixel(240, 260).0, [70; 3]);
        assert_eq!(picture.get_pixel(10, 135).0, [200; 3]);
        let line = (120..360).map(|x| picture.get_pixel(x, 68).0[0]);
        assert!(line.clone().any(|ink| ink == 0) && line.clone().any(|ink| ink == 255));
    }

    #[test]
    fn without_stills_there_is_still_a_heading() {
        assert!(contact_sheet(&["Stills".to_owned()], &[]).height() > 20);
    }
}
