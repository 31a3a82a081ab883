//! What a camera will see, drawn before it is mounted, and a page of it.

mod frame;
mod gutter;

use self::frame::Drawing;
use super::{
    area::{Area, side_px, whole_px},
    ink::{BLACK, WHITE},
    outline::fill,
    overlay::DrawnWindow,
    text::Type,
};
use crate::{
    geometry::{Raster, Region},
    lens::Lens,
    mount::{Pose, SeenLines},
    picture::RgbImage,
};
use image::imageops::replace;

/// What is predicted through one lens that a camera may have.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// Before the frame as it is shown.
    pub lens: Lens,
    /// How the camera is fixed.
    pub pose: Pose,
    /// What is drawn of it, in px of the frame.
    pub lines: SeenLines,
}

/// A frame that was never recorded.
#[derive(Debug, Clone)]
pub struct MountScene {
    /// The frame as it is shown.
    pub raster: Raster,
    /// One through each lens that the camera may have: the first is drawn with full lines, the others with dashed ones.
    pub predictions: Vec<Prediction>,
    /// What the boards are called, the nearest first: `near 6 m`.
    pub board_labels: Vec<String>,
    /// The windows of what is delivered.
    pub windows: Vec<DrawnWindow>,
    /// Parts of the rig, with their names.
    pub rig: Vec<(String, Region)>,
}

/// A page of a mount: large lines, the frame, and lines under headings.
#[derive(Debug, Clone)]
pub struct MountSheet<'a> {
    /// Lines at the top, the first one large.
    pub title: Vec<String>,
    /// The drawn frame.
    pub frame: &'a RgbImage,
    /// What follows below, each a heading with its lines.
    pub sections: Vec<(String, Vec<String>)>,
}

/// How wide the drawing and the page are. On paper 180 mm wide, some 200 px an inch.
const WIDTH_PX: i32 = 1400;
/// The tallest frame, so that a page has room for words.
const GREATEST_HEIGHT_PX: i32 = 1400;
const MARGIN_PX: i32 = 30;
const RULE_PX: i32 = 3;

const NAME: Type = Type::of_px(72);
const HEADING: Type = Type::of_px(44);
const TEXT: Type = Type::of_px(36);
const LINES_PER_TEXT: usize = 8;

/// Draws what a camera will see: the ground gray under a horizon with a black line, round distances as lines with their metres at
/// the left, places to the side below, the subject as a white board with the dashed box of its drift, parts of the
/// rig hatched, and each window with its label. What the lens does not draw is dark.
#[must_use]
pub fn predicted_frame(scene: &MountScene) -> RgbImage {
    Drawing::new(scene, (WIDTH_PX, GREATEST_HEIGHT_PX)).draw()
}

/// Draws a page, black on white, as wide as the drawing of a frame.
#[must_use]
pub fn mount_sheet(sheet: &MountSheet<'_>) -> RgbImage {
    let within = WIDTH_PX - 2 * MARGIN_PX;
    let lines = |text: &String, face: Type| {
        face.wrapped(text, within, LINES_PER_TEXT).into_iter().map(move |line| (face, line))
    };
    let faces = std::iter::once(NAME).chain(std::iter::repeat(TEXT));
    let above: Vec<(Type, String)> =
        sheet.title.iter().zip(faces).flat_map(|(text, face)| lines(text, face)).collect();
    let section = |(heading, texts): &(String, Vec<String>)| {
        let heading = lines(heading, HEADING);
        heading.chain(texts.iter().flat_map(|text| lines(text, TEXT))).collect::<Vec<_>>()
    };
    let below: Vec<Vec<(Type, String)>> = sheet.sections.iter().map(section).collect();
    let height_of = |lines: &[(Type, String)]| -> i32 {
        lines.iter().map(|(face, _)| face.line_height()).sum()
    };
    let frame_height = whole_px(sheet.frame.height());
    let sections: i32 = below.iter().map(|lines| height_of(lines) + MARGIN_PX).sum();
    let height = 3 * MARGIN_PX + height_of(&above) + frame_height + sections;
    let mut canvas = RgbImage::from_pixel(side_px(WIDTH_PX), side_px(height), WHITE);
    let mut top = MARGIN_PX;
    write(&mut canvas, &mut top, &above);
    top += MARGIN_PX / 2;
    replace(&mut canvas, sheet.frame, 0, top.into());
    top += frame_height + MARGIN_PX / 2;
    for lines in &below {
        fill(&mut canvas, Area::sized((MARGIN_PX, top), (within, RULE_PX)), BLACK);
        top += MARGIN_PX / 2;
        write(&mut canvas, &mut top, lines);
        top += MARGIN_PX / 2;
    }
    canvas
}

fn write(canvas: &mut RgbImage, top: &mut i32, lines: &[(Type, String)]) {
    for (face, line) in lines {
        face.draw(canvas, (MARGIN_PX, *top), BLACK, line);
        *top += face.line_height();
    }
}

#[cfg(test)]
mod tests;
