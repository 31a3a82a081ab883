use super::*;
use crate::{
    geometry::{Raster, Region, Shape, SourcePoint, Window},
    pan::{
        Ease, FrameWish, KeepOut, Moves, Outcome, Pace, Pin, Place, PlacedPoint, Rules, Weights,
        plan, testing,
    },
};

/// Less is asked of starts, stops and what is outside than by default.
const RULES: Rules = Rules {
    weights: Weights { acceleration: 0.15, containment: 1000.0, place: 3.0, width: 30.0 },
    ..testing::RULES
};

fn request((wide, high): (u32, u32), boxes: &[Region]) -> Request {
    let raster = Raster::new(4000, 3000).unwrap();
    let frames = boxes.iter().copied().map(FrameWish::for_box).collect();
    let shape = Shape::new(wide, high).unwrap();
    Request::plain((raster, shape), Pace::even(0.04), frames, RULES)
}

fn alone(request: Request) -> (Request, Planned) {
    let Outcome::Planned(planned) = plan(&request).unwrap() else { panic!("refused") };
    (request, planned)
}

fn look(shapes: &[(Request, Planned)]) -> Vec<Result<Planned, Apart>> {
    let shapes: Vec<_> =
        shapes.iter().map(|(request, planned)| (request.clone(), Alone::of(planned))).collect();
    let told = share_look(&shapes).into_iter();
    told.map(|told| told.map(|shared| shared.planned)).collect()
}

/// A subject that stands left, walks to the right within a second and a half, and stands there.
fn walking(frame_count: u32) -> Vec<Region> {
    (0..frame_count)
        .map(|frame| {
            let along = ((f64::from(frame) - 75.0) / 38.0).clamp(0.0, 1.0);
            Region::new(500.0 + 2400.0 * along, 1200.0, 400.0, 900.0).unwrap()
        })
        .collect()
}

fn moves_of(planned: &Planned) -> Vec<(usize, usize)> {
    planned.moves.iter().flat_map(Moves::moves).map(|one| (one.first, one.last)).collect()
}

/// T6 of the trade study: the helmet's top at row 300, hands down to row 1900, the deck from row 2400 kept out. By
/// hand: 16:9 is 2250 high, and 8 % headroom puts it at 300 - 180 = 120; 4:5 and 9:16 have no choice but 2400 and row
/// 0, where the helmet is at 12.5 %. 16:9 comes to 12.5 % at 300 - 281.25 = 18.75, rounded 18, which is 12.53 %.
#[test]
fn the_widest_shape_is_brought_to_the_headroom_of_those_without_a_choice() {
    let paddler = Region::new(1700.0, 300.0, 600.0, 1600.0).unwrap();
    let deck = Region::new(0.0, 2400.0, 4000.0, 600.0);
    let shape = |shape: (u32, u32), least_width: f64| {
        let mut request = request(shape, &[paddler; 50]);
        for wish in &mut request.frames {
            let at = SourcePoint { x: 2000.0, y: 300.0 };
            wish.point = Some(PlacedPoint { at, place: Place { across: 0.5, down: 0.08 } });
        }
        request.keep_outs = vec![KeepOut { regions: vec![deck; 50] }];
        alone(Request { least_width, ..request })
    };
    let shapes = [shape((16, 9), 1000.0), shape((4, 5), 1920.0), shape((9, 16), 1350.0)];
    assert_eq!(shapes[0].1.windows[0].top(), 120.0);
    let looks: Vec<Planned> = look(&shapes).into_iter().map(Result::unwrap).collect();
    for (look, (size, top)) in looks.iter().zip([
        ((4000.0, 2250.0), 18.0),
        ((1920.0, 2400.0), 0.0),
        ((1350.0, 2400.0), 0.0),
    ]) {
        let window = look.windows[0];
        assert_eq!((window.width(), window.height(), window.top()), (size.0, size.1, top));
        assert_eq!((look.way, look.assessment.verdict), (Way::Hold, Verdict::Fits));
    }
    let headroom = (300.0 - looks[0].windows[0].top()) / 2250.0;
    assert!((headroom - 0.1253).abs() < 5e-5, "{headroom}");
}

#[test]
fn shapes_that_move_do_so_on_the_same_frames_and_show_the_subject_alike() {
    let boxes = walking(220);
    let shapes: Vec<_> =
        [(16, 9), (1, 1), (4, 5), (9, 16)].map(|shape| alone(request(shape, &boxes))).into();
    let separate: Vec<_> = shapes.iter().map(|(_, planned)| moves_of(planned)).collect();
    assert!(separate[3] != separate[2] || separate[3].is_empty(), "{separate:?}");
    let looks: Vec<Planned> = look(&shapes).into_iter().map(Result::unwrap).collect();
    let moving: Vec<_> = looks.iter().map(moves_of).filter(|moves| !moves.is_empty()).collect();
    assert!(moving.len() >= 2, "{moving:?}");
    for moves in &moving {
        assert_eq!(moves, &moving[0]);
    }
    for (frame, region) in boxes.iter().enumerate() {
        let shown = |look: &Planned| {
            let window: Window = look.windows[frame];
            (region.height() / window.height(), (region.top() - window.top()) / window.height())
        };
        let first = shown(&looks[0]);
        for look in &looks {
            assert_eq!(look.assessment.verdict, Verdict::Fits);
            let (height, top) = shown(look);
            assert!((height - first.0).abs() < 0.002, "frame {frame}: {height} and {}", first.0);
            assert!((top - first.1).abs() < 0.002, "frame {frame}: {top} and {}", first.1);
        }
    }
}

/// A subject that sinks by 300 px as it walks: 16:9 has room for all of it where it stands, and square does not.
#[test]
fn a_shape_that_stands_by_itself_stands_while_others_move() {
    let sinks = |(frame, region): (usize, Region)| {
        let down = 1.0 * f64::from(u32::try_from(frame.min(200)).unwrap());
        Region::new(region.left(), 600.0 + down, 400.0, 900.0).unwrap()
    };
    let boxes: Vec<Region> = walking(220).into_iter().enumerate().map(sinks).collect();
    let shapes: Vec<_> = [(16, 9), (4, 5)].map(|shape| alone(request(shape, &boxes))).into();
    assert_eq!((shapes[0].1.way, shapes[1].1.way), (Way::Hold, Way::Moves));
    let looks: Vec<Planned> = look(&shapes).into_iter().map(Result::unwrap).collect();
    assert_eq!((looks[0].way, looks[1].way), (Way::Hold, Way::Moves));
    for window in &looks[1].windows {
        let same = &looks[0].windows[0];
        assert!((window.top() - same.top()).abs() <= 2.0, "{window:?} and {same:?}");
        assert!((window.height() - same.height()).abs() <= 2.0, "{window:?} and {same:?}");
    }
}

/// The subject is 1300 px wide: 16:9 is 2250 px high, and a 9:16 window of that height is 1266 px wide.
#[test]
fn a_shape_whose_subject_needs_more_is_as_high_as_it_must_be() {
    let boxes = [Region::new(1300.0, 1000.0, 1300.0, 900.0).unwrap(); 60];
    let shapes: Vec<_> = [(16, 9), (9, 16)].map(|shape| alone(request(shape, &boxes))).into();
    let looks: Vec<Planned> = look(&shapes).into_iter().map(Result::unwrap).collect();
    assert_eq!(looks[0].windows[0].height(), 2250.0);
    let tall = looks[1].windows[0];
    assert!(tall.width() >= 1300.0 && tall.width() < 1330.0, "{tall:?}");
}

#[test]
fn a_shape_that_cannot_is_told_apart_and_the_rest_look_alike() {
    let boxes = walking(220);
    let mut shapes: Vec<_> =
        [(16, 9), (1, 1), (4, 5), (9, 16)].map(|shape| alone(request(shape, &boxes))).into();
    let window = shapes[1].1.windows[0];
    shapes[1] = alone(Request { pins: vec![Pin { index: 0, window }], ..shapes[1].0.clone() });
    shapes[2].1.way = Way::Follow;
    shapes[3].0.rules.moves.ease = Ease::with_peak(2.0).unwrap();
    let told = look(&shapes);
    assert_eq!(told[0], Err(Apart::NobodyElse));
    assert_eq!(told[1], Err(Apart::Pinned));
    assert_eq!(told[2], Err(Apart::Follows));
    assert_eq!(told[3], Err(Apart::OtherEase));
}

/// In 9:20 something else is kept, which walks a second earlier: two moves have no room for a hold between them, and
/// no single one suits both.
#[test]
fn a_shape_that_would_lose_something_is_left_out() {
    let (boxes, earlier) = (walking(220), walking(245));
    let mut shapes: Vec<_> = [(9, 16), (2, 3)].map(|shape| alone(request(shape, &boxes))).into();
    shapes.push(alone(request((9, 20), &earlier[25..])));
    let told = look(&shapes);
    let Err(Apart::Short { worst, .. }) = told[2] else { panic!("{:?}", told[2].is_ok()) };
    assert!(worst.missing_px > 0.0);
    let moves: Vec<_> = told[..2].iter().map(|told| moves_of(told.as_ref().unwrap())).collect();
    assert_eq!(moves[0], moves[1]);
    assert_eq!(moves[0].len(), 1);
}
