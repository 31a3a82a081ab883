use super::plane::{Between, Plane, Pyramid};

/// Half the side of the square that is followed, in px of each level: 15 x 15 px hold a corner and little of what is
/// behind it. Common practice is 5 to 10.
pub(super) const REACH: usize = 7;
/// The square and a pixel round it, for slopes.
const WIDE: usize = 2 * REACH + 3;
const SIDE: usize = 2 * REACH + 1;
const COUNT: f32 = (SIDE * SIDE) as f32;
/// Steps on one level at most, and the step in px that is the last: common practice. Smaller levels only bring the
/// largest one near.
const MOST_STEPS: usize = 20;
const LAST_STEP_PX: f64 = 0.01;
const LAST_SMALL_STEP_PX: f64 = 0.05;
/// How far the way there and back may end from its start, in px. ("Forward-backward error", ICPR, 2010, takes the
/// better half; a fixed bound of about a px is common practice. Half a px keeps most right tracks; chosen.)
const THERE_AND_BACK_PX: f64 = 0.5;

/// Where a place of one picture is in another: the square about it is followed from the smallest level to the largest,
/// whatever its brightness ("An iterative image registration technique with an application to stereo vision", IJCAI,
/// 1981; over levels as in "Pyramidal implementation of the Lucas Kanade feature tracker", 2000; both from memory).
///
/// `guess` is how far it may have moved. `None` if it leaves the picture or looks alike along some line.
fn followed(
    (from, to): (&Pyramid, &Pyramid),
    place: (f64, f64),
    guess: (f64, f64),
) -> Option<(f64, f64)> {
    let top = from.levels.len().min(to.levels.len());
    let scale_of = |level: usize| f64::powi(0.5, i32::try_from(level).unwrap_or(0));
    let (mut across, mut down) = guess;
    for level in (0..top).rev() {
        let scale = scale_of(level);
        let planes = (&from.levels[level], &to.levels[level]);
        let start = (across * scale, down * scale);
        let last = if level == 0 { LAST_STEP_PX } else { LAST_SMALL_STEP_PX };
        let moved = on_level(planes, (place.0 * scale, place.1 * scale), start, last);
        match moved {
            Some((x, y)) => (across, down) = (x / scale, y / scale),
            // Near the edge a small level has no room for the square; a larger one may.
            None if level > 0 => {}
            None => return None,
        }
    }
    Some((place.0 + across, place.1 + down))
}

/// Where a place is in another picture, if the way back from there ends where it began.
pub(super) fn tracked(
    from: &Pyramid,
    to: &Pyramid,
    place: (f64, f64),
    guess: (f64, f64),
) -> Option<(f64, f64)> {
    let there = followed((from, to), place, guess)?;
    // Starting the way back at the answer would prove nothing.
    let back = followed((to, from), there, (-guess.0, -guess.1))?;
    ((back.0 - place.0).hypot(back.1 - place.1) <= THERE_AND_BACK_PX).then_some(there)
}

/// The square about a place with a pixel round it, between pixels by straight lines.
fn square(plane: &Plane, (x, y): (f64, f64), into: &mut [[f32; WIDE]; WIDE]) -> Option<()> {
    let Between { column, row, across, down } = plane.between(x, y, REACH + 1)?;
    let (left, top) = (column - REACH - 1, row - REACH - 1);
    for (step, line) in into.iter_mut().enumerate() {
        let upper = &plane.row(top + step)[left..left + WIDE + 1];
        let lower = &plane.row(top + step + 1)[left..left + WIDE + 1];
        for (at, value) in line.iter_mut().enumerate() {
            let above = upper[at] + across * (upper[at + 1] - upper[at]);
            let below = lower[at] + across * (lower[at + 1] - lower[at]);
            *value = above + down * (below - above);
        }
    }
    Some(())
}

/// The square that is followed, its slopes, and what they say of a step.
struct Template {
    values: [[f32; SIDE]; SIDE],
    across: [[f32; SIDE]; SIDE],
    down: [[f32; SIDE]; SIDE],
    moments: (f32, f32, f32),
}

impl Template {
    fn new(wide: &[[f32; WIDE]; WIDE]) -> Option<Self> {
        let mut values = [[0.0; SIDE]; SIDE];
        let (mut across, mut down) = (values, values);
        for row in 0..SIDE {
            let (above, here, below) = (&wide[row], &wide[row + 1], &wide[row + 2]);
            for column in 0..SIDE {
                values[row][column] = here[column + 1];
                across[row][column] = 0.5 * (here[column + 2] - here[column]);
                down[row][column] = 0.5 * (below[column + 1] - above[column + 1]);
            }
        }
        // Without the means a change of exposure moves nothing.
        for square in [&mut values, &mut across, &mut down] {
            let mean = sum(square.iter()) / COUNT;
            square.iter_mut().flatten().for_each(|value| *value -= mean);
        }
        let [xx, xy, yy] = [(&across, &across), (&across, &down), (&down, &down)]
            .map(|(one, other)| sum(products(one, other).iter()));
        let moments = (xx, xy, yy);
        let determinant = moments.0 * moments.2 - moments.1 * moments.1;
        // A step is told by dividing by this; where slopes are of noise or of one direction it tells nothing.
        let is_drawn =
            determinant > 1e-3 * (moments.0 + moments.2).powi(2) && moments.0 > COUNT * 0.1;
        is_drawn.then_some(Self { values, across, down, moments })
    }

    /// The step that would bring the square of the other picture nearer.
    fn step(&self, other: &[[f32; WIDE]; WIDE]) -> (f64, f64) {
        let (mut across, mut down) = ([0.0; SIDE], [0.0; SIDE]);
        for row in 0..SIDE {
            let others = &other[row + 1][1..=SIDE];
            for column in 0..SIDE {
                // The slopes have no mean, so that of the other square falls out by itself.
                let difference = self.values[row][column] - others[column];
                across[column] += difference * self.across[row][column];
                down[column] += difference * self.down[row][column];
            }
        }
        let [across, down] = [across, down].map(|columns| columns.iter().sum::<f32>());
        let (xx, xy, yy) = self.moments;
        let determinant = f64::from(xx * yy - xy * xy);
        let step = |a: f32| f64::from(a) / determinant;
        (step(yy * across - xy * down), step(xx * down - xy * across))
    }
}

/// The sum of a square, column by column first, so that columns are added beside each other.
fn sum<'r>(rows: impl Iterator<Item = &'r [f32; SIDE]>) -> f32 {
    let mut sums = [0.0; SIDE];
    for row in rows {
        sums.iter_mut().zip(row).for_each(|(sum, value)| *sum += value);
    }
    sums.iter().sum()
}

fn products(one: &[[f32; SIDE]; SIDE], other: &[[f32; SIDE]; SIDE]) -> [[f32; SIDE]; SIDE] {
    std::array::from_fn(|row| std::array::from_fn(|at| one[row][at] * other[row][at]))
}

fn on_level(
    (from, to): (&Plane, &Plane),
    place: (f64, f64),
    (mut across, mut down): (f64, f64),
    last_px: f64,
) -> Option<(f64, f64)> {
    let mut wide = [[0.0; WIDE]; WIDE];
    square(from, place, &mut wide)?;
    let template = Template::new(&wide)?;
    for _ in 0..MOST_STEPS {
        square(to, (place.0 + across, place.1 + down), &mut wide)?;
        let step = template.step(&wide);
        (across, down) = (across + step.0, down + step.1);
        if step.0.hypot(step.1) < last_px {
            break;
        }
    }
    Some((across, down))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Smooth hills that are defined everywhere, shifted and brightened.
    fn hills(right: f64, down: f64, brighter: f64) -> Pyramid {
        let plane = Plane::made((200, 140), |column, row| {
            let (x, y) = (column as f64 - right, row as f64 - down);
            let waves = (x / 5.0).sin() * (y / 7.0).cos() + (x / 23.0 + y / 17.0).sin();
            super::super::plane::narrowed(120.0 + brighter + 40.0 * waves)
        });
        Pyramid::new(plane, 3).0
    }

    #[test]
    fn a_shift_between_pixels_is_found_whatever_the_exposure() {
        let (from, to) = (hills(0.0, 0.0, 0.0), hills(3.4, -2.7, 25.0));
        for place in [(60.0, 60.0), (101.0, 77.0), (140.0, 90.0)] {
            let (x, y) = tracked(&from, &to, place, (0.0, 0.0)).unwrap();
            assert!((x - place.0 - 3.4).abs() < 0.05, "{x} from {}", place.0);
            assert!((y - place.1 + 2.7).abs() < 0.05, "{y} from {}", place.1);
        }
    }

    #[test]
    fn what_leaves_the_picture_or_is_plain_is_lost() {
        let (from, to) = (hills(0.0, 0.0, 0.0), hills(3.0, 0.0, 0.0));
        assert_eq!(tracked(&from, &to, (197.0, 60.0), (0.0, 0.0)), None);
        let plain = Pyramid::new(Plane::even(200, 140, 90.0), 3).0;
        assert_eq!(tracked(&plain, &plain, (100.0, 60.0), (0.0, 0.0)), None);
    }
}
