use super::{
    MountScene, Prediction,
    gutter::{Gutter, left_end, metres},
};
use crate::{
    draw::{
        area::{Area, PictureFromCapture, nearest_px, side_px, whole_px},
        ink::{BLACK, Look, WHITE},
        outline::{Stroke, fill},
        placing::{Label, place},
        plate::Plate,
        polyline::{Pen, fill_inside, hatch},
        scale::fitted_size,
        text::Type,
    },
    geometry::{Region, SourcePoint},
    mount::{GroundLine, Run},
    picture::RgbImage,
};
use image::{Rgb, imageops::replace};

pub(super) const FACE: Type = Type::of_px(50);
const UNIT_PX: i32 = 2;
/// Free paper round the frame.
const GAP_PX: i32 = 14;

/// Lightness alone tells sky, ground and what is not drawn apart.
const SKY: Rgb<u8> = WHITE;
const GROUND: Rgb<u8> = Rgb([218, 218, 218]);
const NOT_DRAWN: Rgb<u8> = Rgb([70, 70, 70]);
const GRID: Rgb<u8> = Rgb([96, 96, 96]);

/// Sky and ground are told apart so many px at a time; the line of the horizon lies over the steps.
const STEP_PX: i32 = 3;
const DASHES: (f64, f64) = (16.0, 12.0);
/// How much of a board hides what is behind it.
const BOARD_COVER: f64 = 0.8;

/// A frame with room for figures beside it.
pub(super) struct Drawing<'a> {
    scene: &'a MountScene,
    width: i32,
    /// The frame's size in px of the picture, and its left edge.
    size: (i32, i32),
    left: i32,
}

impl<'a> Drawing<'a> {
    pub(super) fn new(scene: &'a MountScene, (width, tallest): (i32, i32)) -> Self {
        let gutter = Gutter::width() + GAP_PX;
        let shape = (scene.raster.width_px(), scene.raster.height_px());
        let size = fitted_size(shape, (width - gutter - GAP_PX, tallest));
        let left = gutter + (width - gutter - GAP_PX - size.0) / 2;
        Self { scene, width, size, left }
    }

    pub(super) fn draw(&self) -> RgbImage {
        let frame_top = FACE.line_height() / 2;
        let (frame, unplaced) = self.frame();
        let below = FACE.line_height() + GAP_PX;
        let listed: i32 = unplaced.iter().map(|plate| plate.size().1 + GAP_PX).sum();
        let height = frame_top + self.size.1 + below + listed;
        let mut canvas = RgbImage::from_pixel(side_px(self.width), side_px(height), WHITE);
        replace(&mut canvas, &frame, self.left.into(), frame_top.into());
        let area = Area::sized((self.left, frame_top), self.size);
        Gutter::around(area, self.scale()).draw(&mut canvas, self.scene.predictions.first());
        let mut top = area.bottom + below;
        for plate in unplaced {
            plate.draw(&mut canvas, (self.left, top));
            top += plate.size().1 + GAP_PX;
        }
        canvas
    }

    /// Px of the picture for each px of the frame.
    fn scale(&self) -> f64 {
        f64::from(self.size.0) / self.scene.raster.width()
    }

    fn points(&self, run: &Run) -> Vec<(f64, f64)> {
        run.iter().map(|point| (point.x * self.scale(), point.y * self.scale())).collect()
    }

    /// The frame with everything on it, and the plates that found no place.
    fn frame(&self) -> (RgbImage, Vec<Plate>) {
        let mut picture = RgbImage::from_pixel(side_px(self.size.0), side_px(self.size.1), SKY);
        if let Some(first) = self.scene.predictions.first() {
            self.tint(&mut picture, first);
        }
        let map = PictureFromCapture::new(self.scene.raster, Area::of(&picture));
        for (place, prediction) in self.scene.predictions.iter().enumerate().rev() {
            self.lines(&mut picture, prediction, (place > 0).then_some(DASHES));
        }
        for (place, prediction) in self.scene.predictions.iter().enumerate().rev() {
            self.boards(&mut picture, prediction, (place > 0).then_some(DASHES));
        }
        // Whatever is behind a part of the rig is hidden by it.
        for (_, region) in &self.scene.rig {
            hatch(&mut picture, map.area(region), (18, 6));
            Stroke::plain(UNIT_PX).draw_round(&mut picture, map.area(region));
        }
        self.windows(&mut picture, &map);
        let whole = Area::of(&picture);
        for edge in [Area { bottom: 3, ..whole }, Area { top: whole.bottom - 3, ..whole }] {
            fill(&mut picture, edge, BLACK);
        }
        for edge in [Area { right: 3, ..whole }, Area { left: whole.right - 3, ..whole }] {
            fill(&mut picture, edge, BLACK);
        }
        let unplaced = self.plates(&mut picture, &map);
        (picture, unplaced)
    }

    fn tint(&self, picture: &mut RgbImage, prediction: &Prediction) {
        let (columns, rows) = (whole_px(picture.width()), whole_px(picture.height()));
        let middle = |from: i32| (f64::from(from) + f64::from(STEP_PX) / 2.0) / self.scale();
        for top in (0..rows).step_by(3) {
            for left in (0..columns).step_by(3) {
                let point = SourcePoint { x: middle(left), y: middle(top) };
                let colour = match prediction.lens.direction(point) {
                    None => NOT_DRAWN,
                    Some(seen) if prediction.pose.level_from_camera(seen)[1] > 0.0 => GROUND,
                    Some(_) => continue,
                };
                fill(picture, Area::sized((left, top), (STEP_PX, STEP_PX)), colour);
            }
        }
    }

    fn lines(&self, picture: &mut RgbImage, prediction: &Prediction, dashes: Option<(f64, f64)>) {
        let grid = Pen { width_px: 2.5, colour: GRID, dashes };
        let lines = &prediction.lines;
        // Of what may be otherwise, distances are enough: a second grid hides the first.
        let along: &[GroundLine] = if dashes.is_some() { &[] } else { &lines.along };
        for run in lines.across.iter().chain(along).flat_map(|line| &line.runs) {
            grid.draw(picture, &self.points(run));
        }
        for run in &lines.horizon {
            Pen { width_px: 6.0, colour: BLACK, dashes }.draw(picture, &self.points(run));
        }
    }

    /// The furthest first, so that the nearest lies on top.
    fn boards(&self, picture: &mut RgbImage, prediction: &Prediction, dashes: Option<(f64, f64)>) {
        let is_dashed = dashes.is_some();
        let map = PictureFromCapture::new(self.scene.raster, Area::of(picture));
        for board in prediction.lines.boards.iter().rev() {
            if let Some(outline) = &board.outline {
                let points = self.points(outline);
                if !is_dashed {
                    fill_inside(picture, &points, (WHITE, BOARD_COVER));
                }
                Pen { width_px: 5.0, colour: BLACK, dashes }.draw(picture, &points);
            }
        }
        // Those further away go on through the nearer ones, as finer lines: a covered one is too faint to be aimed by. Dashed ones
        // cover nothing.
        let covered = prediction.lines.boards.iter().skip(1).filter(|_| !is_dashed);
        for outline in covered.filter_map(|board| board.outline.as_ref()) {
            Pen { width_px: 3.0, colour: BLACK, dashes }.draw(picture, &self.points(outline));
        }
        // Beside what may be, the drift of what may be otherwise would only be clutter.
        let drifts = prediction.lines.boards.iter().filter_map(|board| board.with_drift);
        for region in drifts.filter(|_| !is_dashed) {
            Stroke::subject(UNIT_PX).draw_round(picture, map.area(&region));
        }
    }

    /// Large windows first, so that the small ones lie on top where edges are shared.
    fn windows(&self, picture: &mut RgbImage, map: &PictureFromCapture) {
        let mut order: Vec<usize> = (0..self.scene.windows.len()).collect();
        let size = |at: usize| self.scene.windows[at].window.width();
        order.sort_by(|one, other| size(*other).total_cmp(&size(*one)));
        for at in order {
            let drawn = &self.scene.windows[at];
            let area = map.area(drawn.window.region()).clipped(Area::of(picture));
            Stroke::coded(drawn.look, UNIT_PX).draw_round(picture, area);
        }
    }

    fn plates(&self, picture: &mut RgbImage, map: &PictureFromCapture) -> Vec<Plate> {
        let whole = Area::of(picture);
        let widest = self.size.0 * 3 / 5;
        let plain = |text: &String| Plate::new(std::slice::from_ref(text), FACE, UNIT_PX, widest);
        let boards: Vec<Area> = self.boards_of_first();
        let named = self.scene.board_labels.iter().zip(&boards);
        let of_boards = named.filter_map(|(text, area)| Some((plain(text)?, *area)));
        let rig = self.scene.rig.iter();
        let of_rig = rig.filter_map(|(text, region)| Some((plain(text)?, map.area(region))));
        let windows = self.scene.windows.iter();
        let of_windows = windows.filter_map(|drawn| {
            let plate = Plate::new(&drawn.label, FACE, UNIT_PX, widest)?;
            Some((plate.with_key(drawn.look), map.area(drawn.window.region())))
        });
        let bowed = self.bowed_lines(map);
        let of_lines = bowed.iter().filter_map(|(text, area)| Some((plain(text)?, *area)));
        let plates: Vec<(Plate, Area)> =
            of_boards.chain(of_rig).chain(of_lines).chain(of_windows).collect();
        let labels: Vec<Label> = plates
            .iter()
            .map(|(plate, area)| Label { window: area.clipped(whole), size: plate.size() })
            .collect();
        let line_px = Stroke::coded(Look::default(), UNIT_PX).width();
        let places = place(&labels, whole, &boards, line_px);
        let mut unplaced = Vec::new();
        for ((plate, _), place) in plates.into_iter().zip(places) {
            match place {
                Some(area) => plate.draw(picture, (area.left, area.top)),
                None => unplaced.push(plate),
            }
        }
        unplaced
    }

    /// Lines across that do not meet the left edge, beside which their figure would stand: what it is, and where they begin.
    fn bowed_lines(&self, map: &PictureFromCapture) -> Vec<(String, Area)> {
        let across = self.scene.predictions.first().map_or(&[][..], |first| &first.lines.across);
        let bowed = across.iter().filter(|line| left_end(&line.runs).is_none());
        let begins = |line: &GroundLine| {
            let points = line.runs.iter().flatten();
            let first = points.min_by(|one, other| one.x.total_cmp(&other.x))?;
            let here = Region::new(first.x, first.y, 1.0, 1.0)?;
            Some((format!("{} ahead", metres(line.metres)), map.area(&here)))
        };
        bowed.filter_map(begins).collect()
    }

    /// The boxes round the boards as the first lens shows them; an empty one for a board that it does not.
    fn boards_of_first(&self) -> Vec<Area> {
        let boards = self.scene.predictions.first().map_or(&[][..], |first| &first.lines.boards);
        let area = |outline: &Run| {
            let points = self.points(outline);
            let over = |of: fn(&(f64, f64)) -> f64, pick: fn(f64, f64) -> f64| {
                nearest_px(points.iter().map(of).fold(of(&points[0]), pick))
            };
            Area {
                left: over(|point| point.0, f64::min),
                top: over(|point| point.1, f64::min),
                right: over(|point| point.0, f64::max),
                bottom: over(|point| point.1, f64::max),
            }
        };
        let nowhere = Area::sized((0, 0), (0, 0));
        boards.iter().map(|board| board.outline.as_ref().map_or(nowhere, area)).collect()
    }
}
