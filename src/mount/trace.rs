use crate::geometry::{Raster, SourcePoint};

/// A line of the scene as it lies in the frame, from point to point; none of them is outside of it.
pub type Run = Vec<SourcePoint>;

/// How far a straight piece may be from the line that it stands for, in px: nothing that is seen.
const TOLERANCE_PX: f64 = 0.05;

/// Halvings of one step at the most; by then a step is shorter than anything that bends.
const DEEPEST: u32 = 14;

/// A piece longer than this share of the frame's diagonal that no halving has shortened is no piece of a line: there the
/// picture is torn, as straight behind a fisheye.
const TORN: f64 = 0.25;

/// The pieces of a curve that lie in a frame. `see` says where the point of a parameter is seen, if the lens draws it; it is
/// looked at in so many even steps and then as closely as it bends.
pub(super) fn runs_within(
    frame: Raster,
    (from, to): (f64, f64),
    steps: u32,
    see: &dyn Fn(f64) -> Option<SourcePoint>,
) -> Vec<Run> {
    let tracer = Tracer { frame, see };
    let mut runs = Runs { frame, done: Vec::new(), open: Vec::new() };
    let at = |step: u32| from + (to - from) * f64::from(step) / f64::from(steps);
    let mut before = (from, see(from));
    for step in 1..=steps {
        let after = (at(step), see(at(step)));
        tracer.piece(before, after, DEEPEST, &mut runs);
        before = after;
    }
    runs.finish()
}

struct Tracer<'a> {
    frame: Raster,
    see: &'a dyn Fn(f64) -> Option<SourcePoint>,
}

type Seen = (f64, Option<SourcePoint>);

impl Tracer<'_> {
    fn piece(&self, before: Seen, after: Seen, depth: u32, runs: &mut Runs) {
        let middle = f64::midpoint(before.0, after.0);
        let seen = match (before.1, after.1) {
            (None, None) => return runs.cut(),
            (Some(one), Some(other)) => {
                if !self.may_cross(one, other) {
                    return runs.cut();
                }
                let seen = (self.see)(middle);
                let is_straight = seen.is_some_and(|seen| is_straight(one, other, seen));
                if is_straight || depth == 0 {
                    let torn = TORN * self.frame.width().hypot(self.frame.height());
                    let is_torn = !is_straight && distance(one, other) > torn;
                    return if is_torn { runs.cut() } else { runs.add(one, other) };
                }
                seen
            }
            // Up to the rim of what the lens draws, as near as halving comes to it.
            _ if depth == 0 => return runs.cut(),
            _ => (self.see)(middle),
        };
        self.piece(before, (middle, seen), depth - 1, runs);
        self.piece((middle, seen), after, depth - 1, runs);
    }

    /// Whether what is between two points may come into the frame: it may bend as far beside them as they are apart.
    fn may_cross(&self, one: SourcePoint, other: SourcePoint) -> bool {
        let reach = distance(one, other);
        let is_beyond =
            |a: f64, b: f64, limit: f64| a.max(b) + reach < 0.0 || a.min(b) - reach > limit;
        !is_beyond(one.x, other.x, self.frame.width())
            && !is_beyond(one.y, other.y, self.frame.height())
    }
}

fn distance(one: SourcePoint, other: SourcePoint) -> f64 {
    (one.x - other.x).hypot(one.y - other.y)
}

/// Whether what is seen half-way from one point to another lies between them, neither beside them nor nearly at one: across a
/// tear all points are at one or the other.
fn is_straight(one: SourcePoint, other: SourcePoint, seen: SourcePoint) -> bool {
    const NEAR_AN_END: f64 = 0.1;
    let (dx, dy) = (other.x - one.x, other.y - one.y);
    let (x, y) = (seen.x - one.x, seen.y - one.y);
    let square = dx * dx + dy * dy;
    if square <= TOLERANCE_PX * TOLERANCE_PX {
        return x.hypot(y) <= TOLERANCE_PX;
    }
    let share = (x * dx + y * dy) / square;
    let off = (x - share * dx).hypot(y - share * dy);
    off <= TOLERANCE_PX && (NEAR_AN_END..=1.0 - NEAR_AN_END).contains(&share)
}

/// Pieces that become runs.
struct Runs {
    frame: Raster,
    done: Vec<Run>,
    open: Run,
}

impl Runs {
    fn add(&mut self, one: SourcePoint, other: SourcePoint) {
        let Some((from, to)) = clipped(self.frame, one, other) else { return self.cut() };
        let goes_on = self.open.last().is_some_and(|last| distance(*last, from) <= TOLERANCE_PX);
        if !goes_on {
            self.cut();
            self.open.push(from);
        }
        self.open.push(to);
    }

    fn cut(&mut self) {
        let run = std::mem::take(&mut self.open);
        if run.len() > 1 {
            self.done.push(run);
        }
    }

    fn finish(mut self) -> Vec<Run> {
        self.cut();
        self.done
    }
}

/// What of a straight piece lies in the frame.
fn clipped(
    frame: Raster,
    one: SourcePoint,
    other: SourcePoint,
) -> Option<(SourcePoint, SourcePoint)> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let axes = [(one.x, other.x - one.x, frame.width()), (one.y, other.y - one.y, frame.height())];
    for (start, along, limit) in axes {
        // Where it does not move along this axis, it is inside all along or nowhere.
        if along == 0.0 {
            if !(0.0..=limit).contains(&start) {
                return None;
            }
            continue;
        }
        let (a, b) = (-start / along, (limit - start) / along);
        from = from.max(a.min(b));
        to = to.min(a.max(b));
    }
    let at = |share: f64| SourcePoint {
        x: one.x + share * (other.x - one.x),
        y: one.y + share * (other.y - one.y),
    };
    (from <= to).then(|| (at(from), at(to)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame() -> Raster {
        Raster::new(400, 300).unwrap()
    }

    #[test]
    fn a_circle_that_leaves_the_frame_comes_in_pieces_that_lie_on_it() {
        // About the middle with a radius of 180: out above and below, inside at the left and the right.
        let circle = |angle: f64| {
            let (sine, cosine) = angle.sin_cos();
            Some(SourcePoint { x: 200.0 + 180.0 * cosine, y: 150.0 + 180.0 * sine })
        };
        let runs = runs_within(frame(), (0.5, 0.5 + std::f64::consts::TAU), 12, &circle);
        assert!(runs.len() >= 2, "{}", runs.len());
        for run in &runs {
            for pair in run.windows(2) {
                let middle =
                    (f64::midpoint(pair[0].x, pair[1].x), f64::midpoint(pair[0].y, pair[1].y));
                let radius = (middle.0 - 200.0).hypot(middle.1 - 150.0);
                assert!((radius - 180.0).abs() <= 0.1, "{radius}");
                assert!((0.0..=300.0).contains(&middle.1), "{middle:?}");
            }
        }
        let length: f64 =
            runs.iter().flat_map(|run| run.windows(2).map(|p| distance(p[0], p[1]))).sum();
        // By hand: of each side, 2 asin(150 / 180) = 1.9702 radians are inside.
        assert!((length - 2.0 * 1.9702 * 180.0).abs() < 0.5, "{length}");
    }

    #[test]
    fn a_picture_that_is_torn_is_not_joined_across_the_tear() {
        let torn =
            |at: f64| Some(SourcePoint { x: if at < 0.5 { 10.0 } else { 390.0 }, y: 300.0 * at });
        let runs = runs_within(frame(), (0.0, 1.0), 7, &torn);
        assert_eq!(runs.len(), 2);
        assert!(runs.iter().all(|run| run.iter().all(|point| point.x == run[0].x)));
    }

    #[test]
    fn what_is_not_drawn_or_outside_gives_nothing() {
        assert!(runs_within(frame(), (0.0, 1.0), 8, &|_| None).is_empty());
        let outside = |at: f64| Some(SourcePoint { x: 400.0 * at, y: -5.0 });
        assert!(runs_within(frame(), (0.0, 1.0), 8, &outside).is_empty());
    }
}
