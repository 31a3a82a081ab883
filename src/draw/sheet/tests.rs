use super::*;
use crate::geometry::{Raster, Region, Window};
use image::Rgb;

const GRAY: Rgb<u8> = Rgb([200; 3]);

fn capture() -> Raster {
    Raster::new(4000, 3000).unwrap()
}

fn vertical() -> Window {
    Window::inside(capture(), (1156.0, 0.0), (1688.0, 3000.0)).unwrap()
}

fn footage() -> RgbImage {
    RgbImage::from_pixel(480, 360, GRAY)
}

fn cell(picture: &RgbImage) -> ProofCell<'_> {
    ProofCell {
        blocked: [0.0; 4],
        picture,
        raster: capture(),
        roll_degrees: 0.0,
        window: Some(vertical()),
        subjects: Vec::new(),
        above: Vec::new(),
        below: Vec::new(),
        refused: None,
    }
}

fn sheet_of(cells: Vec<ProofCell<'_>>) -> ProofSheet<'_> {
    let rows = vec![ProofRow { heading: Vec::new(), cells }];
    ProofSheet { rows, ..ProofSheet::default() }
}

/// Where the first picture of a sheet without any text begins.
const CORNER: (u32, u32) = (40, 40 + 50);

#[test]
fn four_frames_make_a_sheet_about_2000_px_wide() {
    let picture = footage();
    let sheet = proof_sheet(&sheet_of(vec![cell(&picture); 4]));
    assert_eq!(sheet.dimensions(), (2072, 80 + 50 + 360));
}

#[test]
fn a_fifth_frame_begins_a_new_strip() {
    let picture = footage();
    let sheet = proof_sheet(&sheet_of(vec![cell(&picture); 5]));
    assert_eq!(sheet.dimensions(), (2072, 80 + 50 + 2 * 360));
}

#[test]
fn the_frame_is_bright_in_its_window_and_dark_outside() {
    let picture = footage();
    let sheet = proof_sheet(&sheet_of(vec![cell(&picture)]));
    let at = |x, y| *sheet.get_pixel(CORNER.0 + x, CORNER.1 + y);
    // 1156 of 4000 px are 138.7 of the 480 px; the outline takes 6 px inside that.
    assert_eq!(at(137, 20), Rgb([70; 3]));
    assert_eq!([at(139, 20), at(141, 20), at(143, 20)], [BLACK, WHITE, BLACK]);
    assert_eq!(at(145, 20), GRAY);
    assert_eq!(at(240, 180), GRAY);
}

#[test]
fn spare_px_are_written_outside_the_window_and_never_in_it() {
    let picture = footage();
    let sheet = proof_sheet(&sheet_of(vec![cell(&picture)]));
    let is_white = |x: u32, y: u32| *sheet.get_pixel(CORNER.0 + x, CORNER.1 + y) == WHITE;
    let count =
        |from, to| (from..to).map(|x| (0..360).filter(|y| is_white(x, *y)).count()).sum::<usize>();
    assert!(count(0, 139) > 500);
    assert_eq!(count(145, 335), 4 * 190, "the outline's white above and below, and nothing else");
    assert!(count(341, 480) > 500);
}

#[test]
fn a_refused_frame_carries_its_reason_on_a_black_bar_and_a_broken_outline() {
    let picture = footage();
    let refused =
        ProofCell { refused: Some("does not fit · 170 px short".to_owned()), ..cell(&picture) };
    let sheet = proof_sheet(&sheet_of(vec![refused]));
    let bar_top = CORNER.1 + 360;
    assert!(sheet.height() > 80 + 50 + 360);
    let bar: Vec<Rgb<u8>> = (bar_top..sheet.height() - 40)
        .flat_map(|y| (40..520).map(move |x| (x, y)))
        .map(|(x, y)| *sheet.get_pixel(x, y))
        .collect();
    let (black, white) = (
        bar.iter().filter(|pixel| **pixel == BLACK).count(),
        bar.iter().filter(|pixel| pixel.0[0] > 200).count(),
    );
    assert!(black > bar.len() / 2 && white > 100, "{black} {white} of {}", bar.len());
    let line: Vec<u8> =
        (20..340).map(|y| sheet.get_pixel(CORNER.0 + 141, CORNER.1 + y).0[0]).collect();
    let changes = line.windows(2).filter(|pair| pair[0] != pair[1]).count();
    assert!(changes >= 10, "{changes}");
}

#[test]
fn texts_lengthen_the_sheet_and_stay_within_its_margins() {
    let picture = footage();
    let long = "a name that the client wrote ".repeat(100);
    let texts = vec![long.clone(), "x".repeat(5000), String::new()];
    let wordy = ProofCell {
        above: texts.clone(),
        below: [texts.clone(), vec!["left 1156 + 1688 + right 1156 = 4000".to_owned()]].concat(),
        refused: Some(long),
        ..cell(&picture)
    };
    let rows = vec![ProofRow { heading: texts.clone(), cells: vec![wordy; 4] }];
    let sheet = proof_sheet(&ProofSheet { title: texts.clone(), rows, footer: texts });
    let in_margin = |x: u32| (0..sheet.height()).any(|y| *sheet.get_pixel(x, y) != WHITE);
    assert!(!(0..38).chain(2034..2072).any(in_margin));
    // Between two frames, too, away from the rules and the lines that run across.
    let picture_top =
        (0..sheet.height()).find(|y| *sheet.get_pixel(41, *y) == Rgb([70; 3])).unwrap();
    let between =
        |x: u32| (picture_top - 60..picture_top + 600).any(|y| *sheet.get_pixel(x, y) != WHITE);
    assert!(!(522..542).any(between));
}

#[test]
fn a_sheet_too_tall_for_a_picture_says_where_it_ends() {
    let picture = footage();
    let rows = vec![ProofRow { heading: Vec::new(), cells: vec![cell(&picture)] }; 200];
    let sheet = ProofSheet { rows, ..ProofSheet::default() };
    let page = Page { columns: 4, width: 2072 };
    let blocks = page.within_height(page.blocks(&sheet));
    let height: i32 = blocks.iter().map(Block::height).sum();
    assert!(height + 2 * MARGIN_PX <= GREATEST_HEIGHT_PX);
    let Some(Block::Text { lines, .. }) = blocks.last() else { panic!("no last line") };
    // A row takes 50 px of rule and 360 px of picture: 72 of them fit in 30,000 px.
    assert!(lines[0].contains("72 of 200 strips"), "{lines:?}");
}

#[test]
fn an_empty_sheet_is_a_blank_page() {
    let sheet = proof_sheet(&ProofSheet::default());
    assert!(sheet.pixels().all(|pixel| *pixel == WHITE));
}

#[test]
fn any_frame_can_be_drawn() {
    for (width, height) in [(0, 0), (1, 1), (1, 3000), (3000, 1), (7, 5)] {
        let picture = RgbImage::new(width, height);
        let raster = Raster::new(width.max(1), height.max(1)).unwrap();
        let whole = Window::inside(raster, (0.0, 0.0), (raster.width(), raster.height())).unwrap();
        let part = Window::inside(raster, (0.0, 0.0), (raster.width() / 3.0, 0.5)).unwrap();
        let subjects = vec![Region::new(-1e300, 0.0, 1e301, 1e-3).unwrap()];
        let cells = [Some(whole), Some(part), None].map(|window| ProofCell {
            raster,
            window,
            subjects: subjects.clone(),
            ..cell(&picture)
        });
        let sheet = proof_sheet(&sheet_of(cells.to_vec()));
        assert_eq!(sheet.width(), 2 * 40 + 3 * 480 + 2 * 24, "{width}x{height}");
    }
}

/// The lower fifth of a window from 100 to 300 px of a grey frame, shown at its own size: half of it is darker, the rest is not.
#[test]
fn what_is_blocked_is_striped_inside_the_window() {
    let picture = RgbImage::from_pixel(480, 480, Rgb([200; 3]));
    let raster = Raster::new(480, 480).unwrap();
    let window = Window::inside(raster, (100.0, 100.0), (200.0, 200.0)).unwrap();
    let cell = ProofCell {
        raster,
        window: Some(window),
        blocked: [0.0, 0.0, 0.0, 0.2],
        subjects: Vec::new(),
        above: Vec::new(),
        below: Vec::new(),
        ..cell(&picture)
    };
    let mut canvas = RgbImage::new(480, 480);
    LaidCell::new(&cell, 480).draw(&mut canvas, (0, 0));
    let dark = |rows: std::ops::Range<u32>| {
        let px = rows.flat_map(|y| (110..290).map(move |x| (x, y)));
        let (dark, all) = px.fold((0, 0), |(dark, all), (x, y)| {
            (dark + u32::from(canvas.get_pixel(x, y).0[0] < 150), all + 1)
        });
        f64::from(dark) / f64::from(all)
    };
    assert!((dark(265..295) - 0.5).abs() < 0.05, "{}", dark(265..295));
    assert!(dark(110..255) < 0.01, "{}", dark(110..255));
}
