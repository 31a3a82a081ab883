use super::{
    EdgeFault,
    light::{LightGrid, mean},
};
use std::f64::consts::PI;

/// The least slant. Chosen: at one degree the edge takes 57 rows to cross one px.
const LEAST_DEGREES: f64 = 1.0;

/// The most slant. Chosen: the standard's edge has 5 degrees, and the measure holds to 10; a little more, so that
/// a chart of 10 degrees in a hand is still measured.
const GREATEST_DEGREES: f64 = 12.0;

/// The least px between the edge and the region's side. Chosen: an edge of a usual camera rises within 5 px.
const LEAST_ROOM_PX: f64 = 6.0;

/// How far the edge may be off the line, as a root mean square. Chosen: a lens that bends a line by this much
/// within the region smears it as much again.
const GREATEST_OFF_PX: f64 = 1.0;

/// So many rows together say how far the edge is off the line, so that noise, which moves each row by itself,
/// is not taken for a bend. Chosen.
const ROWS_TOGETHER: usize = 10;

/// The least share of the rows in which the edge must show.
const LEAST_ROWS: f64 = 0.9;

/// Where a standing edge is: at a row `y`, `at_middle + slope * (y - middle)`, in px from the first column's
/// centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct EdgeLine {
    at_middle: f64,
    pub(super) slope: f64,
    middle: f64,
}

impl EdgeLine {
    /// Finds the edge: the centroid of each row's derivative, and the line through all of them, twice; the second
    /// time each row is seen through a window about the first line.
    pub(super) fn through(grid: &LightGrid) -> Result<Self, EdgeFault> {
        let half_width = half(grid.width() - 1);
        let middle = half(grid.height() - 1);
        let (first, _) = fit(grid, middle, |_| half_width)?;
        let (line, off_px) = fit(grid, middle, |y| first.at(y))?;
        if off_px > GREATEST_OFF_PX {
            let what = format!(
                "it is off a straight line by {off_px:.2} px (root mean square) and at most {GREATEST_OFF_PX} px may be"
            );
            return Err(EdgeFault::NoLine { what });
        }
        line.check(grid)?;
        Ok(line)
    }

    /// The place on a row.
    fn at(&self, y: f64) -> f64 {
        self.at_middle + self.slope * (y - self.middle)
    }

    /// How far right of the edge a px is, along its row.
    #[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
    pub(super) fn distance(&self, x: usize, y: usize) -> f64 {
        x as f64 - self.at(y as f64)
    }

    /// Off the columns, with the sign of the slope.
    pub(super) fn angle(&self) -> f64 {
        self.slope.atan()
    }

    /// Where it is on the middle row.
    pub(super) const fn at_middle(&self) -> f64 {
        self.at_middle
    }

    fn check(&self, grid: &LightGrid) -> Result<(), EdgeFault> {
        let angle_degrees = self.angle().to_degrees().abs();
        if angle_degrees > GREATEST_DEGREES {
            let greatest_degrees = GREATEST_DEGREES;
            return Err(EdgeFault::TooSlanted { angle_degrees, greatest_degrees });
        }
        let travel_px = 2.0 * self.middle * self.slope.abs();
        if angle_degrees < LEAST_DEGREES || travel_px < 1.0 {
            return Err(EdgeFault::NotSlanted {
                angle_degrees,
                travel_px,
                length_px: grid.height(),
                least_degrees: LEAST_DEGREES,
            });
        }
        let last = 2.0 * half(grid.width() - 1);
        let room = |y: f64| self.at(y).min(last - self.at(y));
        let room_px = room(0.0).min(room(2.0 * self.middle));
        if room_px < LEAST_ROOM_PX {
            return Err(EdgeFault::Leaves { room_px, least_px: LEAST_ROOM_PX });
        }
        Ok(())
    }
}

#[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
const fn half(whole: usize) -> f64 {
    whole as f64 / 2.0
}

/// The line through the rows' centroids, by least squares, and how far they are off it.
#[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
fn fit(
    grid: &LightGrid,
    middle: f64,
    centre: impl Fn(f64) -> f64,
) -> Result<(EdgeLine, f64), EdgeFault> {
    let mut found: Vec<(f64, f64)> = Vec::with_capacity(grid.height());
    for (y, row) in grid.rows().enumerate() {
        let y = y as f64;
        found.extend(centroid(row, centre(y), grid.step()).map(|x| (y - middle, x)));
    }
    let (count, all) = (found.len() as f64, grid.height() as f64);
    if count < LEAST_ROWS * all {
        let what = format!(
            "it shows on {count} of {all} lines across it and {:.0} are needed",
            LEAST_ROWS * all
        );
        return Err(EdgeFault::NoLine { what });
    }
    let mean_of = |part: fn(&(f64, f64)) -> f64| found.iter().map(part).sum::<f64>() / count;
    let (mean_y, mean_x) = (mean_of(|row| row.0), mean_of(|row| row.1));
    let sum_of = |part: &dyn Fn(f64, f64) -> f64| {
        found.iter().map(|(y, x)| part(y - mean_y, x - mean_x)).sum::<f64>()
    };
    // More than one row, so that the divisor is above zero.
    let slope = sum_of(&|y, x| y * x) / sum_of(&|y, _| y * y);
    let at_middle = mean_x - slope * mean_y;
    let off = |rows: &[(f64, f64)]| {
        rows.iter().map(|(y, x)| x - at_middle - slope * y).sum::<f64>() / rows.len() as f64
    };
    let squares = mean(found.chunks(ROWS_TOGETHER).map(|rows| off(rows).powi(2)));
    Ok((EdgeLine { at_middle, slope, middle }, squares.sqrt()))
}

/// The centroid of a row's derivative, seen through a Hamming window as wide as it takes to reach both ends;
/// `None` where the row does not rise or fall as the whole does.
#[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
fn centroid(row: &[f64], centre: f64, step: f64) -> Option<f64> {
    let last = (row.len() - 1) as f64;
    let reach = centre.max(last - centre).max(1.0);
    let (mut weighted, mut sum) = (0.0, 0.0);
    for (place, three) in row.windows(3).enumerate() {
        let x = (place + 1) as f64;
        let window = 0.54 + 0.46 * (PI * (x - centre) / reach).cos();
        let rise = window * (three[2] - three[0]) / 2.0;
        weighted += x * rise;
        sum += rise;
    }
    // Half a step the right way: less is a row without the edge, and its centroid could be anywhere.
    let centroid = weighted / sum;
    (sum / step > 0.5 && (0.0..=last).contains(&centroid)).then_some(centroid)
}
