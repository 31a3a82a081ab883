use super::{EdgeDirection, EdgeFault, EdgeRegion, line::EdgeLine};
use crate::{picture::LumaPlane, sharpness::ToneCurve};

/// The least side of a region. Chosen: below it there are not eight px on each side of an edge that stands still
/// slanted; the standard's own example is far larger.
const LEAST_SIDE_PX: usize = 20;

/// The least step between the two sides, of the full code range. Chosen: 13 of 255 steps, so that rounding to
/// eight bits is at most 2 % of the edge.
const LEAST_STEP: f64 = 0.05;

/// The most of one side's px that may be at the end of the code range. Chosen: the published case in the tests
/// has some at both ends and is measured right; where most are, nothing tells how much of the edge was cut.
const GREATEST_CLIPPED: f64 = 0.5;

/// The light in a region, turned so that the edge stands.
pub(super) struct LightGrid {
    width: usize,
    /// Light, row by row.
    light: Vec<f64>,
    /// Whether each is at the dark end of the code range, or at the light one.
    ends: Vec<Option<End>>,
    greatest_code: u32,
    /// Light on the last columns less that on the first.
    step: f64,
}

/// An end of the code range.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Dark,
    Light,
}

impl LightGrid {
    pub(super) fn of(
        plane: &LumaPlane,
        region: EdgeRegion,
        curve: &ToneCurve,
    ) -> Result<(Self, EdgeDirection), EdgeFault> {
        let (columns, rows) = region.inside(plane).ok_or_else(|| EdgeFault::Outside {
            region,
            width_px: plane.width_px(),
            height_px: plane.height_px(),
        })?;
        if columns.len().min(rows.len()) < LEAST_SIDE_PX {
            return Err(EdgeFault::TooSmall { region, least_px: LEAST_SIDE_PX });
        }
        let width = columns.len();
        let codes: Vec<f64> = rows
            .flat_map(|y| &plane.row(y)[columns.clone()])
            .map(|value| f64::from(*value))
            .collect();
        let lying = transposed(&codes, width);
        let (across, down) = (step_across(&codes, width), step_across(&lying, lying.len() / width));
        let stands = across.abs() >= down.abs();
        let step = if stands { across } else { down };
        if step.abs() < LEAST_STEP {
            return Err(EdgeFault::LowContrast { step: step.abs(), least: LEAST_STEP });
        }
        let (codes, width, direction) = if stands {
            (codes, width, EdgeDirection::Stands)
        } else {
            let height = lying.len() / width;
            (lying, height, EdgeDirection::Lies)
        };
        Ok((Self::linear(&codes, width, plane.greatest_code(), curve)?, direction))
    }

    fn linear(
        codes: &[f64],
        width: usize,
        greatest_code: u32,
        curve: &ToneCurve,
    ) -> Result<Self, EdgeFault> {
        let light = |code: &f64| {
            curve.light(*code, greatest_code).ok_or_else(|| beyond(*code, greatest_code, curve))
        };
        let light = codes.iter().map(light).collect::<Result<Vec<f64>, _>>()?;
        let half_a_code = 0.5 / f64::from(greatest_code);
        let end = |code: &f64| match *code {
            code if code < half_a_code => Some(End::Dark),
            code if code > 1.0 - half_a_code => Some(End::Light),
            _ => None,
        };
        let ends = codes.iter().map(end).collect();
        let step = step_across(&light, width);
        Ok(Self { width, light, ends, greatest_code, step })
    }

    pub(super) const fn width(&self) -> usize {
        self.width
    }

    pub(super) fn rows(&self) -> impl ExactSizeIterator<Item = &[f64]> {
        self.light.chunks_exact(self.width)
    }

    pub(super) const fn height(&self) -> usize {
        self.light.len() / self.width
    }

    pub(super) const fn step(&self) -> f64 {
        self.step
    }

    /// Refuses a side of which most is at an end of the code range.
    pub(super) fn check_clipping(&self, line: &EdgeLine) -> Result<(), EdgeFault> {
        // Px, those at the dark end and those at the light end, on each side.
        let mut sides = [[0.0; 3]; 2];
        for (y, row) in self.ends.chunks_exact(self.width).enumerate() {
            for (x, end) in row.iter().enumerate() {
                let counts = &mut sides[usize::from(line.distance(x, y) > 0.0)];
                counts[0] += 1.0;
                counts[1] += f64::from(u8::from(*end == Some(End::Dark)));
                counts[2] += f64::from(u8::from(*end == Some(End::Light)));
            }
        }
        let is_rising = self.step > 0.0;
        for (place, [px, dark, light]) in sides.into_iter().enumerate() {
            let side = if (place == 1) == is_rising { "light" } else { "dark" };
            for (count, code) in [(dark, 0), (light, self.greatest_code)] {
                let share: f64 = count / f64::max(px, 1.0);
                if share > GREATEST_CLIPPED {
                    return Err(EdgeFault::Clipped { side, code, share, limit: GREATEST_CLIPPED });
                }
            }
        }
        Ok(())
    }

    /// The share of all px that are at an end of the code range.
    #[expect(clippy::cast_precision_loss, reason = "a region has far fewer px than 2^53")]
    pub(super) fn clipped_share(&self) -> f64 {
        let clipped = self.ends.iter().filter(|end| end.is_some()).count();
        clipped as f64 / self.ends.len() as f64
    }
}

fn beyond(code: f64, greatest_code: u32, curve: &ToneCurve) -> EdgeFault {
    let (least, greatest) = match curve {
        ToneCurve::Table(table) => table.codes(),
        _ => (0.0, f64::from(greatest_code)),
    };
    EdgeFault::BeyondCurve { code: code * f64::from(greatest_code), least, greatest }
}

fn transposed(values: &[f64], width: usize) -> Vec<f64> {
    (0..width).flat_map(|x| values.iter().skip(x).step_by(width).copied()).collect()
}

/// The mean of the last tenth of the columns less that of the first.
fn step_across(values: &[f64], width: usize) -> f64 {
    let tenth = (width / 10).max(1);
    let mean = |columns: std::ops::Range<usize>| {
        let rows = values.chunks_exact(width);
        mean(rows.flat_map(|row| row[columns.clone()].iter().copied()))
    };
    mean(width - tenth..width) - mean(0..tenth)
}

/// The mean, 0 of nothing.
pub(super) fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
    if count > 0.0 { sum / count } else { 0.0 }
}
