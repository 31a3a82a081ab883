use super::{
    area::{Area, PictureFromCapture, nearest_px},
    ink::{BLACK, WHITE},
    outline::{Run, Stroke, darken, dim_outside, fill},
    plate::Plate,
    scale::{at_size, fitted_size, shown_shape},
    text::Type,
    turned::{TurnedWindow, dim_outside_turned},
    whole_spare::WholeSpare,
};
use crate::{
    geometry::{Raster, Region, Window},
    picture::RgbImage,
};
use image::imageops::replace;

/// One frame of a proof sheet: start, worst, widest or end.
#[derive(Debug, Clone)]
pub struct ProofCell<'a> {
    /// The whole frame, at any size.
    pub picture: &'a RgbImage,
    /// The capture raster that window and subjects are measured in.
    pub raster: Raster,
    /// The window. The whole frame is shown as cut if there is none.
    pub window: Option<Window>,
    /// Which shares of the window's width and height something else will cover: from the left, the top, the right, the bottom.
    pub blocked: [f64; 4],
    /// By how many degrees the picture is turned clockwise to be level, in which the window stands upright. What is covered is
    /// then not shown.
    pub roll_degrees: f64,
    /// Boxes of the subjects; they may hang over the frame.
    pub subjects: Vec<Region>,
    /// Lines above the frame, for example `start · frame 0 · 10:12:30:00`.
    pub above: Vec<String>,
    /// Lines below the frame, for example the spare room on each side as sums.
    pub below: Vec<String>,
    /// Why this deliverable is refused, for example `does not fit · 170 px short`. It stands on a black bar
    /// under the frame, and the window's outline is broken.
    pub refused: Option<String>,
}

const UNIT_PX: i32 = 1;
const TYPE: Type = Type::SMALLEST;
const LINES_PER_TEXT: usize = 3;
const LINES_PER_PART: usize = 12;
const GAP_PX: i32 = 6;

/// A cell with its texts broken into lines.
pub(super) struct LaidCell<'a> {
    cell: &'a ProofCell<'a>,
    picture_size: (i32, i32),
    above: Vec<String>,
    note: Vec<String>,
    /// As wide as the picture, unless that is too narrow for words.
    bar_width: i32,
    below: Vec<String>,
}

impl<'a> LaidCell<'a> {
    /// Lays a cell out in a square of this side and the text above and below it.
    pub(super) fn new(cell: &'a ProofCell<'a>, side: i32) -> Self {
        let shape = shown_shape(cell.picture, cell.raster);
        let picture_size = fitted_size(shape, (side, side));
        let refused = cell.refused.as_deref().unwrap_or_default();
        let bar_width = if 2 * picture_size.0 > side { picture_size.0 } else { side };
        Self {
            cell,
            picture_size,
            above: lines(&cell.above, side),
            note: TYPE.wrapped(refused, bar_width - 2 * GAP_PX, LINES_PER_TEXT),
            bar_width,
            below: lines(&cell.below, side),
        }
    }

    /// Heights of the lines above, and of all that follows.
    pub(super) fn heights(&self) -> (i32, i32) {
        let note = text_height(self.note.len());
        (text_height(self.above.len()), self.picture_size.1 + note + text_height(self.below.len()))
    }

    /// Draws the cell, its picture's top left corner at a place and its caption above that.
    pub(super) fn draw(&self, canvas: &mut RgbImage, (left, top): (i32, i32)) {
        let (above, _) = self.heights();
        draw_lines(canvas, (left, top - above), &self.above, BLACK);
        replace(canvas, &self.picture(), left.into(), top.into());
        let mut top = top + self.picture_size.1;
        let note_height = text_height(self.note.len());
        fill(canvas, Area::sized((left, top), (self.bar_width, note_height)), BLACK);
        draw_lines(canvas, (left + GAP_PX, top), &self.note, WHITE);
        top += note_height;
        draw_lines(canvas, (left, top), &self.below, BLACK);
    }

    fn picture(&self) -> RgbImage {
        let cell = self.cell;
        let mut picture = at_size(cell.picture, self.picture_size);
        let whole = Area::of(&picture);
        let picture_from_capture = PictureFromCapture::new(cell.raster, whole);
        let window =
            cell.window.map(|window| picture_from_capture.area(window.region()).clipped(whole));
        let subjects: Vec<Area> =
            cell.subjects.iter().map(|subject| picture_from_capture.area(subject)).collect();
        let is_turned = cell.roll_degrees.abs() > 0.0;
        let turned = cell
            .window
            .filter(|_| is_turned)
            .map(|window| TurnedWindow::new((cell.raster, whole), &window, cell.roll_degrees));
        match &turned {
            Some(turned) => dim_outside_turned(&mut picture, std::slice::from_ref(turned)),
            None => dim_outside(&mut picture, whole, window.as_slice()),
        }
        if let Some(window) = window.filter(|_| turned.is_none()) {
            stripe_blocked(&mut picture, window, cell.blocked);
        }
        for subject in &subjects {
            Stroke::subject(UNIT_PX).draw_round(&mut picture, *subject);
        }
        if let (Some(area), Some(window)) = (window, cell.window) {
            let stroke = match cell.refused {
                Some(_) => Stroke::refused(UNIT_PX),
                None => Stroke::plain(UNIT_PX),
            };
            if let Some(turned) = &turned {
                stroke.draw_turned(&mut picture, turned, 0);
                return picture;
            }
            stroke.draw_round(&mut picture, area);
            draw_spare(&mut picture, area, WholeSpare::of(cell.raster, &window), &subjects);
        }
        picture
    }
}

/// Darkens slanting stripes where something else will cover the window: as little of the picture as tells it from what is
/// outside.
fn stripe_blocked(picture: &mut RgbImage, window: Area, [left, top, right, bottom]: [f64; 4]) {
    /// Px of the sheet from one stripe to the next, half of them dark. Chosen by looking.
    const STRIPE_PX: i32 = 10;
    let (width, height) = (f64::from(window.width()), f64::from(window.height()));
    let free = Area {
        left: window.left + nearest_px(left * width),
        top: window.top + nearest_px(top * height),
        right: window.right - nearest_px(right * width),
        bottom: window.bottom - nearest_px(bottom * height),
    };
    darken(picture, window, |(x, y)| {
        let is_free = (free.left..free.right).contains(&x) && (free.top..free.bottom).contains(&y);
        !is_free && 2 * (x + y).rem_euclid(STRIPE_PX) < STRIPE_PX
    });
}

fn lines(texts: &[String], width: i32) -> Vec<String> {
    let lines = texts.iter().flat_map(|text| TYPE.wrapped(text, width, LINES_PER_TEXT));
    lines.take(LINES_PER_PART).collect()
}

fn text_height(line_count: usize) -> i32 {
    match i32::try_from(line_count) {
        Ok(count) if count > 0 => count * TYPE.line_height() + 2 * GAP_PX,
        _ => 0,
    }
}

fn draw_lines(
    canvas: &mut RgbImage,
    (left, top): (i32, i32),
    lines: &[String],
    ink: image::Rgb<u8>,
) {
    let mut top = top + GAP_PX;
    for line in lines {
        TYPE.draw(canvas, (left, top), ink, line);
        top += TYPE.line_height();
    }
}

/// Writes the spare px on each side of the window where there is room, on a line as long as they are.
fn draw_spare(picture: &mut RgbImage, window: Area, spare: WholeSpare, subjects: &[Area]) {
    let whole = Area::of(picture);
    let across = |left, right| Area { left, right, ..window };
    let down = |top, bottom| Area { top, bottom, ..window };
    for (strip, px, run) in [
        (across(whole.left, window.left), spare.left, Run::Across),
        (across(window.right, whole.right), spare.right, Run::Across),
        (down(whole.top, window.top), spare.top, Run::Down),
        (down(window.bottom, whole.bottom), spare.bottom, Run::Down),
    ] {
        draw_measure(picture, strip, px, run, subjects);
    }
}

/// Quarters of the strip's side at which the line may stand, the best first.
const QUARTERS: [i32; 3] = [2, 1, 3];

fn draw_measure(picture: &mut RgbImage, strip: Area, px: i32, run: Run, subjects: &[Area]) {
    let Some(plate) = Plate::new(&[px.to_string()], TYPE, UNIT_PX, 200) else { return };
    let (width, height) = plate.size();
    let fits = match run {
        Run::Across => strip.width() >= width + 2 * GAP_PX && strip.height() >= height,
        Run::Down => strip.height() >= height + 2 * GAP_PX && strip.width() >= width,
    };
    if px == 0 || !fits {
        return;
    }
    let middles = QUARTERS.map(|quarter| match run {
        Run::Across => (strip.centre().0, strip.top + strip.height() * quarter / 4),
        Run::Down => (strip.left + strip.width() * quarter / 4, strip.centre().1),
    });
    let place = |(x, y): (i32, i32)| Area::sized((x - width / 2, y - height / 2), (width, height));
    let is_clear = |middle: &&(i32, i32)| {
        let place = place(**middle);
        strip.holds(place) && !subjects.iter().any(|subject| subject.overlaps(place))
    };
    let middle = *middles.iter().find(is_clear).unwrap_or(&middles[0]);
    for (half_px, ink) in [(2, BLACK), (1, WHITE)] {
        fill(picture, measure_line(strip, middle, run, half_px), ink);
    }
    plate.draw(picture, (place(middle).left, place(middle).top));
}

/// From one end of the strip to the other, through a place.
fn measure_line(strip: Area, (x, y): (i32, i32), run: Run, half_px: i32) -> Area {
    match run {
        Run::Across => Area { top: y - half_px, bottom: y + half_px, ..strip },
        Run::Down => Area { left: x - half_px, right: x + half_px, ..strip },
    }
}
