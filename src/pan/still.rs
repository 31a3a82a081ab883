//! One still window where the picture is levelled or the window rides on something: it stands still against the
//! ride, and lies between slanted edges at every frame.
//!
//! A program of a single window that every frame's limits and wishes hold for, at the costs of [`super::hold`]. The
//! window is not rounded: a picture that is turned or moved by parts of a px is resampled anyway, and whole px
//! would save nothing.

use super::{
    Reason, Request, Side,
    frame_rows::{StageWindow, WishCosts},
    hold::{per_run, width_cost},
    program::{self, Program, Solution},
    sides::Area,
};
use crate::geometry::Window;

/// The variables of the only window.
const X: usize = 0;
const Y: usize = 1;
const WIDTH: usize = 2;

/// Windows that hold, a frame each, and what they may cost more than the best.
type Held = (Vec<Window>, Option<f64>);

/// A range of less than this is one value.
const NO_ROOM_PX: f64 = 1e-6;

/// The windows of the best still one, a frame each, and what it may cost more than the best, in reference widths, where
/// the solver came no nearer; else why there is none.
pub(super) fn held(request: &Request, sides: &[Side]) -> Result<Held, Reason> {
    held_by(request, sides, program::solve)
}

/// The same by this way to solve.
fn held_by(
    request: &Request,
    sides: &[Side],
    solve: impl Fn(&Program) -> Solution,
) -> Result<Held, Reason> {
    if !request.pins.is_empty() {
        return held_by_pins(request, sides).map(|windows| (windows, None));
    }
    let area = Area::still(request, sides);
    let program = assemble(request, sides, &area).ok_or(Reason::NoStillPlace)?;
    let solution = solve(&program);
    if solution.broken_px > program::KEPT_PX {
        return Err(Reason::NoStillPlace);
    }
    let width = solution.values[WIDTH].clamp(request.least_width, area.greatest_width(request));
    let size = (width, request.shape.height_for(width));
    let within = |centre: f64, size: f64, (from, to): (f64, f64)| {
        let (low, high) = (from + size / 2.0, to - size / 2.0);
        if low <= high { centre.clamp(low, high) } else { f64::midpoint(low, high) }
    };
    let x = within(solution.values[X], size.0, (area.left, area.right));
    let y = within(solution.values[Y], size.1, (area.top, area.bottom));
    let windows = ridden(request, sides, (x, y), size).ok_or(Reason::NoStillPlace)?;
    let may_cost_more = (!solution.is_optimal).then(|| solution.gap_px / request.reference_width());
    Ok((windows, may_cost_more))
}

/// The window about a place that it stands still at, moved by the ride at each frame; `None` if it is not inside
/// at some frame.
fn ridden(
    request: &Request,
    sides: &[Side],
    (x, y): (f64, f64),
    size: (f64, f64),
) -> Option<Vec<Window>> {
    /// What the solver leaves.
    const NOISE_PX: f64 = 1e-3;
    let at = |index: usize| {
        let (across, down) = request.ride_at(index);
        let corner = (x + across - size.0 / 2.0, y + down - size.1 / 2.0);
        let window = Window::inside(request.raster, corner, size).ok()?;
        let area = Area::at(request, sides, index);
        (area.holds(&window) && area.is_between_slants(&window, NOISE_PX)).then_some(window)
    };
    (0..request.frame_count()).map(at).collect()
}

/// The pinned window, if it is one and the same with the ride taken off.
fn held_by_pins(request: &Request, sides: &[Side]) -> Result<Vec<Window>, Reason> {
    const SAME_PX: f64 = 1e-6;
    let base = |pin: &super::Pin| {
        let (across, down) = request.ride_at(pin.index);
        (pin.window.centre_x() - across, pin.window.centre_y() - down, pin.window.width())
    };
    let first = &request.pins[0];
    let (x, y, width) = base(first);
    let differs = |pin: &&super::Pin| {
        let other = base(pin);
        let apart = (other.0 - x).abs().max((other.1 - y).abs()).max((other.2 - width).abs());
        apart > SAME_PX
    };
    if let Some(second) = request.pins.iter().find(differs) {
        return Err(Reason::PinsDiffer { first: first.index, second: second.index });
    }
    let size = (width, first.window.height());
    let mut windows = ridden(request, sides, (x, y), size).ok_or(Reason::NoStillPlace)?;
    for pin in &request.pins {
        windows[pin.index] = pin.window;
    }
    Ok(windows)
}

/// The program; `None` if the limits leave no window of the least width.
fn assemble(request: &Request, sides: &[Side], area: &Area) -> Option<Program> {
    let high = request.shape.height_for(1.0);
    let (least, greatest) = (request.least_width, area.greatest_width(request));
    if greatest < least || greatest <= 0.0 {
        return None;
    }
    let mut program = Program::of(1);
    program.start(X, f64::midpoint(area.left, area.right));
    program.start(Y, f64::midpoint(area.top, area.bottom));
    program.start(WIDTH, request.preferred_width.clamp(least, greatest));
    if greatest - least < NO_ROOM_PX {
        program.fix(WIDTH, f64::midpoint(least, greatest));
    } else {
        program.at_least([(WIDTH, 1.0)], least);
        program.at_most(&[(WIDTH, 1.0)], greatest);
    }
    let spans = [(X, 1.0, area.left, area.right), (Y, high, area.top, area.bottom)];
    for (centre, size_per_width, from, to) in spans {
        if to - from - least * size_per_width < NO_ROOM_PX {
            program.fix(centre, f64::midpoint(from, to));
        } else {
            program.at_least([(centre, 1.0), (WIDTH, -size_per_width / 2.0)], from);
            program.at_most(&[(centre, 1.0), (WIDTH, size_per_width / 2.0)], to);
        }
    }
    let costs = WishCosts {
        containment: per_run(request, request.rules.weights.containment),
        place: request.rules.weights.place * request.pace.mean_step_secs(),
    };
    for index in 0..request.frame_count() {
        let (across, down) = request.ride_at(index);
        for edge in Area::at(request, sides, index).slanted_edges(high) {
            let terms = [(X, edge.normal.0), (Y, edge.normal.1), (WIDTH, edge.per_width)];
            program.at_most(&terms, edge.bound - edge.normal.0 * across - edge.normal.1 * down);
        }
        let stage = StageWindow::of(request, 0, index);
        for required in &request.frames[index].required {
            stage.require(&mut program, required);
        }
        stage.wish(&mut program, request, index, &costs);
    }
    program.off(&[(WIDTH, 1.0)], request.preferred_width, width_cost(request));
    Some(program)
}

#[cfg(test)]
mod tests {
    use super::super::{FrameWish, Pace, Roll, Rules, Weights, testing};
    use super::*;
    use crate::geometry::{Levelling, Raster, Region};

    const RULES: Rules = Rules {
        pan_caution: Some(7.0),
        pan_hard: Some(5.0),
        weights: Weights { acceleration: 0.15, containment: 1000.0, place: 3.0, width: 30.0 },
        ..testing::RULES
    };

    fn raster() -> Raster {
        Raster::new(4000, 3000).unwrap()
    }

    /// 20 frames of a box that stands at a place, for 16:9.
    fn request(left: f64, top: f64) -> Request {
        let wish = FrameWish::for_box(Region::new(left, top, 300.0, 400.0).unwrap());
        let shape = "16:9".parse().unwrap();
        let request = Request::plain((raster(), shape), Pace::even(0.04), vec![wish; 20], RULES);
        Request { least_width: 1500.0, ..request }
    }

    /// What a window about a place costs, worked out again: outside, off its place, off the preferred width.
    fn cost(request: &Request, (x, y): (f64, f64), width: f64) -> f64 {
        let (wish, run) = (&request.frames[0], 20.0 * 0.04);
        let (region, height) = (wish.boxes[0].region, width * 9.0 / 16.0);
        let lacking = |from: f64, to: f64, centre: f64, size: f64| {
            (centre - size / 2.0 - from).max(0.0) + (to - centre - size / 2.0).max(0.0)
        };
        let off = |at: f64, centre: f64, size: f64| ((at - centre).abs() - 0.12 * size).max(0.0);
        let outside = lacking(region.left(), region.right(), x, width)
            + lacking(region.top(), region.bottom(), y, height);
        let misplaced = off(region.centre_x(), x, width) + off(region.centre_y(), y, height);
        20.0 * (1000.0 * run * outside + 3.0 * 0.04 * misplaced)
            + 30.0 * run * (width - request.preferred_width).abs()
    }

    #[test]
    fn a_hold_in_a_levelled_picture_is_the_best_of_a_grid() {
        for (degrees, left, top) in
            [(6.0, 2900.0, 300.0), (-10.0, 500.0, 1900.0), (3.0, 1800.0, 1200.0)]
        {
            let level = Levelling::from_degrees(raster(), degrees).unwrap();
            let request = Request { roll: Roll::Fixed(level.radians()), ..request(left, top) };
            let windows = held(&request, &[]).unwrap().0;
            let whole = Region::whole(raster());
            assert!(windows.iter().all(|window| *window == windows[0]));
            assert!(level.room(&whole, &windows[0]).least_px() > -1e-3);
            let of = |window: &Window| {
                cost(&request, (window.centre_x(), window.centre_y()), window.width())
            };
            let mut best = f64::INFINITY;
            for step in 0..60_000_u32 {
                let width = 1500.0 + 60.0 * f64::from(step % 40);
                let place = (100.0 * f64::from(step / 40 % 40), 80.0 * f64::from(step / 1600));
                let Ok(window) = Window::about(raster(), request.shape, place, width) else {
                    continue;
                };
                if level.room(&whole, &window).least_px() >= 0.0 {
                    best = best.min(of(&window));
                }
            }
            assert!(best.is_finite());
            assert!(of(&windows[0]) <= best + 1e-6, "{degrees}: {} {best}", of(&windows[0]));
        }
    }

    #[test]
    fn a_hold_that_rides_stands_still_beside_its_ride_and_inside_at_every_frame() {
        let ride: Vec<(f64, f64)> =
            (0..20_u32).map(|n| (f64::from(n % 5) * 10.0 - 20.0, f64::from(n % 3) * 8.0)).collect();
        let request = Request { ride: ride.clone(), ..request(1800.0, 1200.0) };
        let windows = held(&request, &[]).unwrap().0;
        let base = |index: usize| {
            let window: &Window = &windows[index];
            (window.centre_x() - ride[index].0, window.centre_y() - ride[index].1, window.width())
        };
        for index in 0..20 {
            let (first, now) = (base(0), base(index));
            assert!((first.0 - now.0).abs() < 1e-6 && (first.1 - now.1).abs() < 1e-6);
            assert_eq!(first.2, now.2);
        }
        // The ride swings over 40 px, which the 4000 px lack.
        assert!((windows[0].width() - 3960.0).abs() < 0.01, "{}", windows[0].width());
    }

    /// What a broken-off search gives keeps every limit, and costs no more than it says.
    #[test]
    fn a_hold_that_is_not_proven_to_be_the_best_is_taken_and_told() {
        let level = Levelling::from_degrees(raster(), 6.0).unwrap();
        let request = Request { roll: Roll::Fixed(level.radians()), ..request(2900.0, 300.0) };
        let of = |windows: &[Window]| {
            let window = &windows[0];
            cost(&request, (window.centre_x(), window.centre_y()), window.width())
        };
        let (best, proven) = held(&request, &[]).unwrap();
        assert_eq!(proven, None);
        let mut unproven = 0;
        for most_steps in 0..6 {
            let solve = |program: &Program| program::solve_within(program, most_steps);
            let (windows, may_cost_more) = held_by(&request, &[], solve).unwrap();
            assert!(windows.iter().all(|window| *window == windows[0]));
            assert!(level.room(&Region::whole(raster()), &windows[0]).least_px() > -1e-3);
            let more = (of(&windows) - of(&best)) / request.reference_width();
            assert!(more >= -1e-6, "{most_steps}: {more}");
            assert!(more <= may_cost_more.unwrap_or(0.0) + 1e-6, "{most_steps}: {more}");
            unproven += usize::from(may_cost_more.is_some());
        }
        assert!(unproven > 3, "{unproven}");
    }

    #[test]
    fn without_room_for_the_ride_nothing_stands_still() {
        let ride = (0..20_u32).map(|n| (f64::from(n % 2) * 100.0, 0.0)).collect();
        let tight = Request { ride, least_width: 3950.0, ..request(1800.0, 1200.0) };
        assert_eq!(held(&tight, &[]), Err(Reason::NoStillPlace));
    }
}
