use super::{
    area::{Area, PictureFromCapture, side_px, whole_px},
    ink::{BLACK, Look, WHITE},
    outline::{Stroke, dim_outside, fill},
    placing::{Label, place},
    plate::Plate,
    scale::{at_size, fitted_size, shown_shape},
    text::Type,
    turned::{TurnedWindow, dim_outside_turned},
};
use crate::{
    geometry::{Raster, Region, Window},
    picture::RgbImage,
};
use image::imageops::replace;

/// One deliverable's window on a frame.
#[derive(Debug, Clone)]
pub struct DrawnWindow {
    /// What stands on its plate, a line each, for example `vertical 9:16` and `E 0.64 fine`. No plate if
    /// all of it is blank.
    pub label: Vec<String>,
    /// The window.
    pub window: Window,
    /// By how many degrees the picture is turned clockwise to be level, in which the window stands upright; the
    /// window is drawn turned back by as much.
    pub roll_degrees: f64,
    /// Its colour and dashes.
    pub look: Look,
}

/// One frame with the windows of all deliverables on it.
#[derive(Debug, Clone)]
pub struct Scene<'a> {
    /// The whole frame, at any size.
    pub picture: &'a RgbImage,
    /// The capture raster that windows and subjects are measured in.
    pub raster: Raster,
    /// The windows; those first in the list are described first where there is no room for plates.
    pub windows: Vec<DrawnWindow>,
    /// Boxes of the subjects; they may hang over the frame.
    pub subjects: Vec<Region>,
    /// Lines above the picture: clip, frame, source timecode, capture mode.
    pub caption: Vec<String>,
    /// What must not be missed, on a black bar, for example `does not fit: 170 px short`.
    pub note: Option<String>,
}

/// The narrowest and widest overlay that is drawn, in px: below, its texts could not be read; above, it
/// would not fit in memory on a small machine.
const WIDTHS_PX: (u32, u32) = (320, 8192);
/// The tallest picture of a frame, as a multiple of its width: taller frames are drawn narrower.
const GREATEST_HEIGHT_OVER_WIDTH: i32 = 2;
const LINES_PER_CAPTION: usize = 3;
const CAPTION_LINES: usize = 12;
/// The share of the frame that plates may cover, as its denominator: beyond a fifth, the picture can no longer
/// be judged, and all plates go below it. Chosen by looking.
const GREATEST_COVER: i64 = 5;
/// How many windows without a plate are listed below the picture before the rest is counted.
const LISTED_BELOW: usize = 40;

/// Draws one frame with every window on it, `width_px` wide (320 to 8192; others are drawn at the nearest).
///
/// The caption stands above the frame and covers nothing. The frame is darkened where no window reaches. Each
/// window has its colour and dash pattern on black between white lines, their outer edge on the window's
/// edge, and a plate with its label and a piece of its line; plates do not cover one another. A window that
/// equals an earlier one is drawn just inside it. A plate that finds no room stands below the frame, and all
/// of them do where they would cover more than a fifth of it.
#[must_use]
pub fn overlay(scene: &Scene<'_>, width_px: u32) -> RgbImage {
    let width = whole_px(width_px.clamp(WIDTHS_PX.0, WIDTHS_PX.1));
    let sheet = Sheet::new(width);
    let framed = sheet.frame(scene);
    let caption = sheet.caption(&scene.caption);
    let note = sheet.note(scene.note.as_deref());
    let (below, below_height) = sheet.flow(sheet.below(framed.unplaced, scene.windows.len()));
    let heights = [
        sheet.text_height(caption.len()),
        sheet.text_height(note.len()),
        whole_px(framed.picture.height()),
        below_height,
    ];
    let mut canvas = RgbImage::from_pixel(side_px(width), side_px(heights.iter().sum()), WHITE);
    sheet.draw_lines(&mut canvas, 0, &caption, BLACK);
    let mut top = heights[0];
    fill(&mut canvas, Area::sized((0, top), (width, heights[1])), BLACK);
    sheet.draw_lines(&mut canvas, top, &note, WHITE);
    top += heights[1];
    let left = (width - whole_px(framed.picture.width())) / 2;
    replace(&mut canvas, &framed.picture, left.into(), top.into());
    top += heights[2];
    for placed in &below {
        placed.plate.draw(&mut canvas, (placed.left, top + placed.top));
    }
    canvas
}

/// Sizes that hold for one overlay.
#[derive(Debug, Clone, Copy)]
struct Sheet {
    width: i32,
    face: Type,
    unit_px: i32,
}

/// The frame with everything on it, and the plates that found no place there.
struct Framed {
    picture: RgbImage,
    unplaced: Vec<Plate>,
}

/// A plate and its top left corner.
struct Placed {
    plate: Plate,
    left: i32,
    top: i32,
}

impl Sheet {
    fn new(width: i32) -> Self {
        Self { width, face: Type::for_picture(width), unit_px: (width / 1000).clamp(1, 8) }
    }

    fn gap(self) -> i32 {
        self.face.line_height() / 3
    }

    fn text_height(self, line_count: usize) -> i32 {
        match i32::try_from(line_count) {
            Ok(count) if count > 0 => count * self.face.line_height() + 2 * self.gap(),
            _ => 0,
        }
    }

    fn caption(self, texts: &[String]) -> Vec<String> {
        let widest = self.width - 2 * self.gap();
        let lines =
            texts.iter().flat_map(|text| self.face.wrapped(text, widest, LINES_PER_CAPTION));
        lines.take(CAPTION_LINES).collect()
    }

    fn note(self, text: Option<&str>) -> Vec<String> {
        self.face.wrapped(text.unwrap_or_default(), self.width - 2 * self.gap(), LINES_PER_CAPTION)
    }

    fn draw_lines(self, canvas: &mut RgbImage, top: i32, lines: &[String], ink: image::Rgb<u8>) {
        let mut top = top + self.gap();
        for line in lines {
            self.face.draw(canvas, (self.gap(), top), ink, line);
            top += self.face.line_height();
        }
    }

    fn frame(self, scene: &Scene<'_>) -> Framed {
        let within = (self.width, GREATEST_HEIGHT_OVER_WIDTH * self.width);
        let size = fitted_size(shown_shape(scene.picture, scene.raster), within);
        let mut picture = at_size(scene.picture, size);
        let whole = Area::of(&picture);
        let picture_from_capture = PictureFromCapture::new(scene.raster, whole);
        let turned = turned_windows(scene, whole);
        let windows: Vec<Area> = if turned.is_empty() {
            let area = |drawn: &DrawnWindow| picture_from_capture.area(drawn.window.region());
            scene.windows.iter().map(|drawn| area(drawn).clipped(whole)).collect()
        } else {
            turned.iter().map(|turned| turned.hull().clipped(whole)).collect()
        };
        let subjects: Vec<Area> =
            scene.subjects.iter().map(|subject| picture_from_capture.area(subject)).collect();
        if !turned.is_empty() {
            dim_outside_turned(&mut picture, &turned);
        } else if !windows.is_empty() {
            dim_outside(&mut picture, whole, &windows);
        }
        for subject in &subjects {
            Stroke::subject(self.unit_px).draw_round(&mut picture, *subject);
        }
        self.draw_outlines(&mut picture, &scene.windows, (&windows, &turned));
        let unplaced = self.draw_plates(&mut picture, scene, &windows, &subjects);
        Framed { picture, unplaced }
    }

    /// Large windows first, so that the small ones lie on top where edges are shared.
    fn draw_outlines(
        self,
        picture: &mut RgbImage,
        drawn: &[DrawnWindow],
        (areas, turned): (&[Area], &[TurnedWindow]),
    ) {
        let mut order: Vec<usize> = (0..areas.len()).collect();
        order.sort_by_key(|at| {
            std::cmp::Reverse(i64::from(areas[*at].width()) * i64::from(areas[*at].height()))
        });
        for at in order {
            let stroke = Stroke::coded(drawn[at].look, self.unit_px);
            let is_equal = |other: &&Area| **other == areas[at];
            let earlier = i32::try_from(areas[..at].iter().filter(is_equal).count()).unwrap_or(0);
            let inset_px = earlier.saturating_mul(stroke.width());
            match turned.get(at) {
                Some(turned) => stroke.draw_turned(picture, turned, inset_px),
                None => stroke.draw_round(picture, areas[at].inset(inset_px)),
            }
        }
    }

    fn plate(self, drawn: &DrawnWindow, widest: i32) -> Option<Plate> {
        let plate = Plate::new(&drawn.label, self.face, self.unit_px, widest)?;
        Some(plate.with_key(drawn.look))
    }

    fn draw_plates(
        self,
        picture: &mut RgbImage,
        scene: &Scene<'_>,
        windows: &[Area],
        subjects: &[Area],
    ) -> Vec<Plate> {
        let whole = Area::of(picture);
        let widest = (self.width * 2 / 5).max(WIDTHS_PX.0.cast_signed() / 2);
        let line_px = Stroke::coded(Look::default(), self.unit_px).width();
        let (plates, labels): (Vec<Plate>, Vec<Label>) = scene
            .windows
            .iter()
            .zip(windows)
            .filter_map(|(drawn, window)| Some((self.plate(drawn, widest)?, window)))
            .map(|(plate, window)| {
                let size = plate.size();
                (plate, Label { window: *window, size })
            })
            .unzip();
        let covered_px: i64 = plates.iter().map(Plate::covered_px).sum();
        if covered_px * GREATEST_COVER > i64::from(whole.width()) * i64::from(whole.height()) {
            return plates;
        }
        let places = place(&labels, whole, subjects, line_px);
        let mut unplaced = Vec::new();
        for (plate, place) in plates.into_iter().zip(places) {
            match place {
                Some(area) => plate.draw(picture, (area.left, area.top)),
                None => unplaced.push(plate),
            }
        }
        unplaced
    }

    /// Plates for below the frame; beyond so many, one that counts the rest.
    fn below(self, mut plates: Vec<Plate>, window_count: usize) -> Vec<Plate> {
        let left_off = plates.len().saturating_sub(LISTED_BELOW);
        if left_off > 0 {
            plates.truncate(LISTED_BELOW);
            let text = [format!("{left_off} more of {window_count} windows are not named here")];
            plates.extend(Plate::new(&text, self.face, self.unit_px, self.width - 2 * self.gap()));
        }
        plates
    }

    /// Where each plate stands below the frame, side by side and row by row, and the height of it all.
    fn flow(self, plates: Vec<Plate>) -> (Vec<Placed>, i32) {
        let gap = self.gap();
        let (mut left, mut top, mut end) = (gap, gap, 0);
        let mut placed = Vec::new();
        for plate in plates {
            let (width, height) = plate.size();
            if left > gap && left + width > self.width - gap {
                (left, top) = (gap, end + gap);
            }
            placed.push(Placed { plate, left, top });
            left += width + gap;
            end = end.max(top + height);
        }
        let height = if placed.is_empty() { 0 } else { end + gap };
        (placed, height)
    }
}

/// The windows as they lie in the frame, if one of them is turned; else none, and they are upright boxes.
fn turned_windows(scene: &Scene<'_>, whole: Area) -> Vec<TurnedWindow> {
    if scene.windows.iter().all(|drawn| drawn.roll_degrees.abs() <= 0.0) {
        return Vec::new();
    }
    let turned = |drawn: &DrawnWindow| {
        TurnedWindow::new((scene.raster, whole), &drawn.window, drawn.roll_degrees)
    };
    scene.windows.iter().map(turned).collect()
}

#[cfg(test)]
mod tests;
