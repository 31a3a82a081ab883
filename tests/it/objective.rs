//! The follow program's optimum, against another general solver than the one in use.

use crate::{footage, python, real_clips::vertical};
use lookroom::{
    geometry::{Raster, Region, Shape, SourcePoint},
    pan::{FrameWish, Insets, Objective, Pace, Place, PlacedPoint, Request, WishedBox, follow},
};
use serde_json::{Value, json};

/// Relative agreement asked for, and the floor below which two costs count as equal: a hold costs 0.
const RELATIVE: f64 = 1e-6;
const FLOOR: f64 = 1e-6;

/// The least cost by an outside solver, from an independent statement; `None` where it is not installed.
pub(crate) fn outside_cost(request: &Request) -> Option<f64> {
    python::has(&["numpy", "scipy", "piqp"]).then(|| {
        let least = python::run("oracle/follow_optimum.py", &[], &as_json(request).to_string());
        least.trim().parse().unwrap()
    })
}

fn assert_optimal(name: &str, request: &Request) {
    let Some(outside) = outside_cost(request) else { return };
    let windows = follow(request, &[]).unwrap().expect("a path");
    let ours = Objective::of(request, &windows).total();
    eprintln!("{name}: ours {ours:.9}, outside {outside:.9}, difference {:.2e}", ours - outside);
    assert!(
        (ours - outside).abs() <= RELATIVE * outside.abs() + FLOOR,
        "{name}: ours {ours}, outside {outside}"
    );
}

pub(crate) fn as_json(request: &Request) -> Value {
    let (usable, insets, weights) = (&request.usable, request.insets(), &request.rules.weights);
    let frames: Vec<Value> = request
        .frames
        .iter()
        .enumerate()
        .map(|(index, wish)| {
            let boxes: Vec<_> = wish
                .boxes
                .iter()
                .map(|b| {
                    (b.region.left(), b.region.top(), b.region.width(), b.region.height(), b.weight)
                })
                .collect();
            let point = wish.point.map(|p| (p.at.x, p.at.y, p.place.across, p.place.down));
            let width = request.width_share(index);
            json!({ "boxes": boxes, "weight": wish.weight(), "point": point, "width": width })
        })
        .collect();
    let steps_secs: Vec<f64> =
        (0..request.frame_count()).map(|index| request.pace.step_secs(index)).collect();
    json!({
        "shape": (request.shape.wide(), request.shape.high()),
        "usable": (usable.left(), usable.top(), usable.right(), usable.bottom()),
        "least_width": request.least_width,
        "preferred_width": request.preferred_width,
        "reference_width": request.reference_width(),
        "steps_secs": steps_secs,
        "insets": (insets.left, insets.top, insets.right, insets.bottom),
        "still_zone": request.rules.still_zone,
        "pan_hard": request.rules.pan_hard,
        "ride": (0..request.frame_count()).map(|index| request.ride_at(index)).collect::<Vec<_>>(),
        "pins": request
            .pins
            .iter()
            .map(|pin| (pin.index, pin.window.left(), pin.window.top(), pin.window.width()))
            .collect::<Vec<_>>(),
        "weights": {
            "acceleration": weights.acceleration,
            "containment": weights.containment,
            "place": weights.place,
            "width": weights.width,
        },
        "frames": frames,
    })
}

/// A made subject that swings across a 1440 x 1080 frame and grows, with a gap in which it is not tracked.
fn made_track(frame_count: u32) -> Vec<FrameWish> {
    (0..frame_count).map(|frame| made_wish(f64::from(frame) / 25.0)).collect()
}

/// The made subject after so many seconds.
fn made_wish(t: f64) -> FrameWish {
    if (2.4..3.0).contains(&t) {
        return FrameWish::default();
    }
    let across = 720.0 + 480.0 * (0.9 * t).sin() + 30.0 * (5.3 * t).sin();
    let down = 520.0 + 160.0 * (0.55 * t).cos();
    let (width, height) = (150.0 + 10.0 * t, 220.0 + 8.0 * t);
    let region = Region::new(across - width / 2.0, down - height / 2.0, width, height).unwrap();
    FrameWish {
        boxes: vec![WishedBox { region, weight: 0.4 + 0.6 / (1.0 + t) }],
        required: Vec::new(),
        point: Some(PlacedPoint {
            at: SourcePoint { x: across, y: region.top() },
            place: Place::MIDDLE,
        }),
    }
}

fn made(shape: (u32, u32)) -> Request {
    let raster = Raster::new(1440, 1080).unwrap();
    let request = vertical(&[], (270, 480));
    let request = Request {
        raster,
        usable: Region::trimmed(raster, 8.0, 0.0, 8.0, 30.0).unwrap(),
        shape: Shape::new(shape.0, shape.1).unwrap(),
        least_width: 300.0,
        pace: Pace::even(1.0 / 25.0),
        frames: made_track(220),
        margins: (0.05, 0.05),
        ..request
    };
    Request { preferred_width: request.greatest_width(), ..request }
}

#[test]
fn made_tracks_are_followed_at_the_least_cost() {
    assert_optimal("made 9:16", &made((9, 16)));
    let mut narrower = made((4, 5));
    narrower.preferred_width = 0.7 * narrower.greatest_width();
    assert_optimal("made 4:5, narrower", &narrower);
}

/// The made subject as a variable-rate recording sees it.
fn made_at(steps_secs: &[f64]) -> Request {
    let starts = steps_secs.iter().scan(0.0, |start, step_secs| {
        *start += step_secs;
        Some(*start - step_secs)
    });
    let frames = starts.map(made_wish).collect();
    Request { frames, pace: Pace::uneven(steps_secs.to_vec()), ..made((9, 16)) }
}

/// Steps that are drawn from a few by a fixed rule that looks like chance (a linear congruence).
fn mixed_steps(of: &[f64], frame_count: usize) -> Vec<f64> {
    let draws = std::iter::successors(Some(7_usize), |draw| Some((draw * 1103 + 12345) % 65536));
    draws.take(frame_count).map(|draw| of[(draw >> 7) % of.len()]).collect()
}

#[test]
fn uneven_runs_are_followed_at_the_least_cost() {
    assert_optimal(
        "mixed 30 and 60 a second",
        &made_at(&mixed_steps(&[1.0 / 30.0, 1.0 / 60.0], 300)),
    );
    let stalling = [0.04, 0.004, 0.304, 0.036, 0.04];
    assert_optimal("gaps of 4 and 304 ms", &made_at(&mixed_steps(&stalling, 200)));
    let mut slow = made_at(&mixed_steps(&stalling, 200));
    slow.rules.pan_hard = Some(5.0);
    assert_optimal("gaps of 4 and 304 ms, slow", &slow);
}

#[test]
fn a_pan_limit_and_a_headroom_place_keep_the_least_cost() {
    let mut request = made((9, 16));
    request.rules.pan_hard = Some(5.0);
    for point in request.frames.iter_mut().filter_map(|wish| wish.point.as_mut()) {
        point.place = Place { across: 0.5, down: 0.12 };
    }
    request.blocked = Insets { top: 0.05, bottom: 0.2, left: 0.0, right: 0.1 };
    assert_optimal("made 9:16, slow, headroom", &request);
}

#[test]
fn a_still_subject_is_held_at_no_cost() {
    let region = Region::new(400.0, 300.0, 200.0, 200.0).unwrap();
    let still = FrameWish::for_box(region);
    let mut request = made((9, 16));
    request.frames = vec![still; 100];
    let windows = follow(&request, &[]).unwrap().unwrap();
    assert!(Objective::of(&request, &windows).total() < FLOOR);
    assert_optimal("still", &request);
}

#[test]
fn real_clips_are_followed_at_the_least_cost() {
    for clip in ["bmx-trees", "parkour"] {
        let Some(boxes) = footage::boxes(clip) else { return };
        assert_optimal(clip, &vertical(&boxes, (270, 480)));
        let mut square = vertical(&boxes, (480, 480));
        square.rules.pan_hard = Some(5.0);
        square.margins = (0.05, 0.02);
        assert_optimal(&format!("{clip}, square, slow"), &square);
    }
}

#[test]
fn minute_long_tracks_are_followed_at_the_least_cost() {
    let Some(folder) = footage::tracks() else { return };
    for track in ["one-minute-1", "one-minute-2"] {
        let text = std::fs::read_to_string(folder.join(format!("{track}.csv"))).unwrap();
        let centres =
            text.lines().skip(1).map(|row| row.split(',').nth(1).unwrap().parse::<f64>().unwrap());
        let raster = Raster::new(3840, 2160).unwrap();
        let frames = centres
            .map(|x| FrameWish {
                boxes: vec![WishedBox {
                    region: Region::new(x - 100.0, 900.0, 200.0, 300.0).unwrap(),
                    weight: 1.0,
                }],
                required: Vec::new(),
                point: Some(PlacedPoint { at: SourcePoint { x, y: 1050.0 }, place: Place::MIDDLE }),
            })
            .collect();
        let request = Request {
            raster,
            usable: Region::whole(raster),
            shape: Shape::new(1216, 2160).unwrap(),
            least_width: 540.0,
            pace: Pace::even(1.0 / 30.0),
            frames,
            ..vertical(&[], (270, 480))
        };
        let request = Request { preferred_width: request.greatest_width(), ..request };
        assert_optimal(track, &request);
    }
}
