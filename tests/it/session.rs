//! A follow path that is found again from where it was: the same path as one that is solved anew.

use lookroom::{
    delivery::Limits,
    geometry::{Raster, Region, Shape, Window},
    pan::{FrameWish, Objective, Pace, Pin, Place, PlacedPoint, Request, Session, follow},
    tasks::pan_rules,
};

/// Half a minute in which a subject swings across a frame, faster than the pan limit at times, out of sight for a while, on a
/// mount that shakes.
fn request() -> Request {
    let raster = Raster::new(2704, 2028).unwrap();
    let wish = |frame: u32| {
        let secs = f64::from(frame) / 25.0;
        if (7.0..8.0).contains(&secs) {
            return FrameWish::default();
        }
        let x = 1352.0 + 820.0 * (0.37 * secs).sin() + 160.0 * (1.3 * secs).sin();
        let y = 980.0 + 300.0 * (0.25 * secs).cos();
        let (width, height) = (340.0 + 80.0 * (0.2 * secs).sin(), 420.0);
        let region = Region::new(x - width / 2.0, y - height / 2.0, width, height).unwrap();
        let mut wish = FrameWish::for_box(region);
        let place = Place { across: 0.5 - 0.05 * (0.37 * secs).cos(), down: 0.52 };
        wish.point = wish.point.map(|point| PlacedPoint { place, ..point });
        wish
    };
    let shape = Shape::new(9, 16).unwrap();
    let rules = pan_rules(&Limits::default());
    let frames = (0..750).map(wish).collect();
    let plain = Request::plain((raster, shape), Pace::even(1.0 / 25.0), frames, rules);
    let shake = |frame: u32| {
        let secs = f64::from(frame) / 25.0;
        (4.0 * (19.0 * secs).sin(), 3.0 * (23.0 * secs).sin())
    };
    Request {
        least_width: 0.4 * plain.greatest_width(),
        preferred_width: 0.8 * plain.greatest_width(),
        margins: (0.05, 0.05),
        ride: (0..750).map(shake).collect(),
        ..plain
    }
}

/// A path's window, moved across and made wider.
fn moved(request: &Request, window: &Window, (across, wider): (f64, f64)) -> Window {
    let raster = request.raster;
    let width = (window.width() + wider).clamp(request.least_width, request.greatest_width());
    let height = request.shape.height_for(width);
    let left = (window.centre_x() + across - width / 2.0).clamp(0.0, raster.width() - width);
    let top = (window.centre_y() - height / 2.0).clamp(0.0, raster.height() - height);
    Window::inside(raster, (left, top), (width, height)).unwrap()
}

/// The session's path costs what the best one costs that is found anew, to a millionth, and keeps the pins and the pan
/// limit.
fn holds_against_anew(session: &Session) {
    let (request, windows) = (session.request(), session.windows().unwrap());
    let anew = follow(request, &[]).unwrap().unwrap();
    let cost = |windows: &[Window]| Objective::of(request, windows).total();
    let (ours, best) = (cost(&windows), cost(&anew));
    assert!((ours - best).abs() <= 1e-6 * best, "{ours} and {best}");
    for pin in &request.pins {
        assert_eq!(windows[pin.index], pin.window);
    }
    let share = request.pace.step_secs(0) / request.rules.pan_hard.unwrap();
    for (index, pair) in windows.windows(2).enumerate() {
        let (before, after) = (request.ride_at(index), request.ride_at(index + 1));
        let most = share * f64::midpoint(pair[0].width(), pair[1].width());
        let x = (pair[1].centre_x() - after.0) - (pair[0].centre_x() - before.0);
        let y = (pair[1].centre_y() - after.1) - (pair[0].centre_y() - before.1);
        assert!(x.abs().max(y.abs()) <= most + 1e-6, "frame {index}: {x} {y} of {most}");
    }
}

/// A person drags a window about, in small steps and in leaps; nothing adds up from one to the next.
#[test]
fn a_dragged_pin_gives_the_path_that_is_found_anew() {
    let request = request();
    let windows = follow(&request, &[]).unwrap().unwrap();
    for index in [120, 380, 600] {
        let pin = |by| Pin { index, window: moved(&request, &windows[index], by) };
        let pinned = Request { pins: vec![pin((0.0, 0.0))], ..request.clone() };
        let mut session = Session::new(pinned, &[]).unwrap().unwrap();
        let drag = [2.0, 5.0, 9.0, 14.0, 20.0, 18.0, 10.0, -3.0, -30.0].map(|across| (across, 0.0));
        let leaps = [(60.0, 40.0), (10.0, -60.0), (0.0, 0.0)];
        for by in drag.into_iter().chain(leaps) {
            assert!(session.set_pins(vec![pin(by)]).unwrap());
            holds_against_anew(&session);
        }
    }
}

/// One of three pins is moved; then one is set, and one is taken away.
#[test]
fn other_changes_of_the_pins_give_it_too() {
    let request = request();
    let windows = follow(&request, &[]).unwrap().unwrap();
    let pin = |index: usize, by| Pin { index, window: moved(&request, &windows[index], by) };
    let still = (0.0, 0.0);
    let pins = vec![pin(100, still), pin(400, still), pin(650, still)];
    let mut session = Session::new(Request { pins, ..request.clone() }, &[]).unwrap().unwrap();
    for pins in [
        vec![pin(100, still), pin(400, (12.0, 0.0)), pin(650, still)],
        vec![pin(100, still), pin(400, (12.0, 0.0)), pin(650, still)],
        vec![pin(100, still), pin(250, still), pin(400, (12.0, 0.0)), pin(650, still)],
        vec![pin(250, (-6.0, 5.0)), pin(650, still)],
        Vec::new(),
    ] {
        assert!(session.set_pins(pins.clone()).unwrap());
        assert_eq!(session.request().pins, pins);
        holds_against_anew(&session);
    }
}

/// A pin that the pan limit does not let the window come to leaves the session as it was, and it goes on from there.
#[test]
fn pins_that_cannot_be_kept_change_nothing() {
    let request = request();
    let windows = follow(&request, &[]).unwrap().unwrap();
    let pin = |index: usize, across: f64| Pin {
        index,
        window: moved(&request, &windows[index], (across, 0.0)),
    };
    let pins = vec![pin(300, 0.0), pin(310, 0.0)];
    let mut session = Session::new(Request { pins, ..request.clone() }, &[]).unwrap().unwrap();
    let before = session.windows().unwrap();
    // Ten frames at a width in 5 s are 0.08 of a width: some 70 px.
    assert!(!session.set_pins(vec![pin(300, 0.0), pin(310, 300.0)]).unwrap());
    assert_eq!(session.windows().unwrap(), before);
    assert_eq!(session.request().pins, [pin(300, 0.0), pin(310, 0.0)]);
    assert!(session.set_pins(vec![pin(300, 3.0), pin(310, 3.0)]).unwrap());
    holds_against_anew(&session);
    assert!(
        session.set_pins(vec![pin(750 - 1, 0.0), Pin { index: 750, ..pin(300, 0.0) }]).is_err()
    );
}
