use super::super::{BackgroundStep, MeasuredBy};
use super::*;
use image::Luma;

const WIDTH: u32 = 320;
const HEIGHT: u32 = 180;

/// Blocks that wander by 3 px a frame, and a square in front of them at so many px from the left.
fn frame(number: u32, square: Option<u32>) -> GrayImage {
    GrayImage::from_fn(WIDTH, HEIGHT, |column, row| {
        let inside = |place: u32, from: u32| (from..from + 30).contains(&place);
        match square {
            Some(left) if inside(column, left) && inside(row, 70) => Luma([240]),
            _ => {
                let (u, v) = ((column + 1000 - 3 * number) / 9, row / 9);
                Luma([u8::try_from(60 + (u * 37 + v * 53 + u * v * 11) % 90).unwrap()])
            }
        }
    })
}

fn step(across_px: f64) -> MeasuredStep {
    let step = BackgroundStep { across_px, ..BackgroundStep::default() };
    MeasuredStep { step, zoom: 1.0, confidence: 1.0, by: MeasuredBy::Corners }
}

fn map(frames: impl Iterator<Item = GrayImage>, across_px: f64) -> ActionMap {
    let size = Raster::new(WIDTH, HEIGHT).unwrap();
    let mut finder = ActionFinder::new(size, size, None, ActionWeights::default()).unwrap();
    for (number, frame) in frames.enumerate() {
        let step = step(across_px);
        finder.take(&frame, (number > 0).then_some(&step)).unwrap();
    }
    finder.finish()
}

fn upright() -> Shape {
    Shape::new(9, 16).unwrap()
}

#[test]
fn the_window_is_about_what_moves_against_the_background() {
    // The square wobbles about 250 px from the left while all else wanders.
    let left = |number: u32| 235 + 6 * (number % 4);
    let map = map((0..60).map(|number| frame(number, Some(left(number)))), 3.0);
    let found = map.held_window(upright()).unwrap();
    assert!(found.window.left() < 235.0 && found.window.region().right() > 283.0, "{found:?}");
    assert!(found.kept_share > found.centred_share + 0.1, "{found:?}");
    assert!(found.confidence > 0.9, "{found:?}");
    let (width, shares) = map.shares();
    let total: f32 = shares.iter().sum();
    assert!(width == 160 && shares.len() == 160 * 90 && (total - 1.0).abs() < 1e-3);
}

#[test]
fn a_world_that_only_wanders_and_a_still_suggest_nothing() {
    let wandering = map((0..40).map(|number| frame(number, None)), 3.0);
    assert_eq!(wandering.held_window(upright()), None, "{}", wandering.moving_share());
    let still = map((0..40).map(|_| frame(0, Some(240))), 0.0);
    assert_eq!(still.held_window(upright()), None);
    assert_eq!(map(std::iter::empty(), 0.0).held_window(upright()), None);
}

#[test]
fn a_wide_shape_slides_up_and_down_and_the_frames_own_stays() {
    let left = |number: u32| 150 + 6 * (number % 4);
    let map = map((0..40).map(|number| frame(number, Some(left(number)))), 3.0);
    let wide = map.held_window(Shape::new(4, 1).unwrap()).unwrap().window;
    assert_eq!((wide.left(), wide.width(), wide.region().height()), (0.0, 320.0, 80.0));
    assert!(wide.region().top() < 70.0 && wide.region().bottom() > 100.0);
    let whole = map.held_window(Shape::new(16, 9).unwrap()).unwrap();
    assert_eq!(whole.window.width(), 320.0);
    assert!(
        whole.confidence < 0.01,
        "a window without room to move is no better than the centred one"
    );
}

#[test]
fn spells_are_put_together_and_none_is_lost() {
    let left = |number: u32| 235 + 6 * (number % 4);
    let map = map((0..700).map(|number| frame(number % 200, Some(left(number)))), 3.0);
    assert!(map.spells.len() <= MOST_SPELLS);
    let total: f64 = map.spells.iter().flat_map(|(columns, _)| columns).sum();
    // Each frame has as much as the weights add up to, but for rounding.
    let weights = ActionWeights::default();
    let expected =
        699.0 * map.moving_share * (weights.motion + weights.conspicuity + weights.centre);
    assert!((total / expected - 1.0).abs() < 0.01, "{total} {expected}");
}
