use super::{Prediction, frame::FACE};
use crate::{
    draw::{
        area::{Area, nearest_px},
        ink::BLACK,
        outline::fill,
    },
    geometry::SourcePoint,
    mount::{GroundLine, Run},
    picture::RgbImage,
};

/// The figures beside and below a frame: metres ahead, metres to the side.
pub(super) struct Gutter {
    frame: Area,
    scale: f64,
}

const HORIZON: &str = "horizon";
const TICK_PX: i32 = 12;
/// A line ends at an edge of the frame if it comes so near to it, in px of the frame.
const AT_EDGE_PX: f64 = 0.5;

impl Gutter {
    /// How wide the words at the left are.
    pub(super) fn width() -> i32 {
        FACE.width(HORIZON) + TICK_PX
    }

    pub(super) const fn around(frame: Area, scale: f64) -> Self {
        Self { frame, scale }
    }

    pub(super) fn draw(&self, canvas: &mut RgbImage, prediction: Option<&Prediction>) {
        let Some(prediction) = prediction else { return };
        let lines = &prediction.lines;
        let horizon = left_end(&lines.horizon).map(|y| (y, HORIZON.to_owned()));
        let ahead = |line: &GroundLine| Some((left_end(&line.runs)?, metres(line.metres)));
        let words = horizon.into_iter().chain(lines.across.iter().filter_map(ahead));
        self.at_the_left(canvas, words);
        let low = prediction.lens.raster().height() - AT_EDGE_PX;
        let to_the_side = |line: &GroundLine| {
            let end = ends_of(&line.runs).find(|point| point.y >= low)?;
            Some((end.x, aside(line.metres)))
        };
        // Straight ahead first, then to both sides: what finds no room is then at the edges.
        let mut along: Vec<&GroundLine> = lines.along.iter().collect();
        along.sort_by(|one, other| one.metres.abs().total_cmp(&other.metres.abs()));
        self.below(canvas, along.into_iter().filter_map(to_the_side));
    }

    /// Each word beside its row, unless an earlier one is there.
    fn at_the_left(&self, canvas: &mut RgbImage, words: impl Iterator<Item = (f64, String)>) {
        let mut taken: Vec<i32> = Vec::new();
        for (y, word) in words {
            let row = self.frame.top + nearest_px(y * self.scale);
            let high = FACE.line_height();
            if taken.iter().any(|other| (row - other).abs() < high) {
                continue;
            }
            taken.push(row);
            fill(canvas, Area::sized((self.frame.left - TICK_PX, row - 1), (TICK_PX, 3)), BLACK);
            let left = self.frame.left - TICK_PX - 6 - FACE.width(&word);
            FACE.draw(canvas, (left, row - high / 2), BLACK, &word);
        }
    }

    fn below(&self, canvas: &mut RgbImage, words: impl Iterator<Item = (f64, String)>) {
        let mut taken: Vec<(i32, i32)> = Vec::new();
        for (x, word) in words {
            let column = self.frame.left + nearest_px(x * self.scale);
            let wide = FACE.width(&word);
            let (left, right) = (column - wide / 2, column + wide / 2);
            let is_free = taken.iter().all(|(from, to)| right + 20 < *from || left > *to + 20);
            if !is_free || right > self.frame.right {
                continue;
            }
            taken.push((left, right));
            fill(canvas, Area::sized((column - 1, self.frame.bottom), (3, TICK_PX)), BLACK);
            FACE.draw(canvas, (left, self.frame.bottom + TICK_PX), BLACK, &word);
        }
    }
}

fn ends_of(runs: &[Run]) -> impl Iterator<Item = SourcePoint> {
    runs.iter().flat_map(|run| [run.first(), run.last()]).flatten().copied()
}

/// The row at which a line meets the frame's left edge; the highest of several, and `None` if it does not.
pub(super) fn left_end(runs: &[Run]) -> Option<f64> {
    let ends = ends_of(runs).filter(|point| point.x <= AT_EDGE_PX);
    ends.min_by(|a, b| a.y.total_cmp(&b.y)).map(|point| point.y)
}

/// Metres as they stand on the sheet: `0.5 m`, `20 m`.
pub(super) fn metres(metres: f64) -> String {
    format!("{} m", (metres * 100.0).round() / 100.0)
}

/// How far to the side, with the way.
fn aside(right_m: f64) -> String {
    if right_m > 0.0 {
        format!("{} →", metres(right_m))
    } else if right_m < 0.0 {
        format!("← {}", metres(-right_m))
    } else {
        "0 m".to_owned()
    }
}
