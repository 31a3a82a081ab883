use image::GrayImage;

/// A picture of one value a pixel, for measuring. Places in it are counted from the middle of its first pixel, so
/// that a pixel's place is its row and column.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plane {
    width: usize,
    height: usize,
    values: Vec<f32>,
}

/// A place inside a plane, as the pixel up and left of it and the share of the way to the next ones.
#[derive(Debug, Clone, Copy)]
pub(super) struct Between {
    pub(super) column: usize,
    pub(super) row: usize,
    pub(super) across: f32,
    pub(super) down: f32,
}

impl Plane {
    /// A plane of one value.
    pub(super) fn even(width: usize, height: usize, value: f32) -> Self {
        Self { width, height, values: vec![value; width * height] }
    }

    /// A plane of values, row by row; there are as many as it has pixels.
    pub(super) fn of(width: usize, height: usize, values: Vec<f32>) -> Self {
        debug_assert_eq!(values.len(), width * height, "a value for every pixel");
        Self { width, height, values }
    }

    /// A plane of whatever each column and row have.
    pub(super) fn made((width, height): (usize, usize), at: impl Fn(usize, usize) -> f32) -> Self {
        let values = (0..height).flat_map(|row| (0..width).map(move |column| (column, row)));
        Self { width, height, values: values.map(|(column, row)| at(column, row)).collect() }
    }

    pub(super) fn from_luma(luma: &GrayImage) -> Self {
        let values = luma.as_raw().iter().map(|value| f32::from(*value)).collect();
        Self { width: luma.width() as usize, height: luma.height() as usize, values }
    }

    pub(super) const fn width(&self) -> usize {
        self.width
    }

    pub(super) const fn height(&self) -> usize {
        self.height
    }

    pub(super) fn values(&self) -> &[f32] {
        &self.values
    }

    pub(super) fn values_mut(&mut self) -> &mut [f32] {
        &mut self.values
    }

    pub(super) fn row(&self, row: usize) -> &[f32] {
        &self.values[row * self.width..][..self.width]
    }

    pub(super) fn at(&self, column: usize, row: usize) -> f32 {
        self.values[row * self.width + column]
    }

    /// The value nearest to a place that may lie outside.
    fn nearest(&self, column: isize, row: isize) -> f32 {
        self.at(held_in(column, self.width), held_in(row, self.height))
    }

    /// The pixels about a place, or `None` if there are not `margin` whole pixels on every side of it.
    pub(super) fn between(&self, x: f64, y: f64, margin: usize) -> Option<Between> {
        let room = margin as f64;
        let inside = |place: f64, side: usize| {
            place >= room && place < side as f64 - 1.0 - room && place.is_finite()
        };
        if !inside(x, self.width) || !inside(y, self.height) {
            return None;
        }
        let (column, row) = (floored(x), floored(y));
        let share = |place: f64, whole: usize| narrowed(place - whole as f64);
        Some(Between { column, row, across: share(x, column), down: share(y, row) })
    }

    /// The value at a place, by straight lines between the four pixels about it; `None` outside.
    pub(super) fn sampled(&self, x: f64, y: f64) -> Option<f32> {
        let Between { column, row, across, down } = self.between(x, y, 0)?;
        let (upper, lower) = (&self.row(row)[column..], &self.row(row + 1)[column..]);
        let above = upper[0] + across * (upper[1] - upper[0]);
        let below = lower[0] + across * (lower[1] - lower[0]);
        Some(above + down * (below - above))
    }

    /// The plane smoothed by the binomial weights 1 4 6 4 1 both ways; edges are continued.
    pub(super) fn smoothed(&self) -> Self {
        let mut across = Self::even(self.width, self.height, 0.0);
        // The row with its ends continued by two, so that every pixel is reckoned alike.
        let mut wide = vec![0.0; self.width + 4];
        for (row, to) in across.values.chunks_exact_mut(self.width).enumerate() {
            let from = self.row(row);
            wide[2..self.width + 2].copy_from_slice(from);
            wide[..2].fill(from[0]);
            wide[self.width + 2..].fill(from[self.width - 1]);
            for (value, about) in to.iter_mut().zip(wide.windows(5)) {
                *value = binomial(about[0] + about[4], about[1] + about[3], about[2]);
            }
        }
        let mut both = Self::even(self.width, self.height, 0.0);
        for (row, to) in both.values.chunks_exact_mut(self.width).enumerate() {
            let at = |step: isize| across.row(held_in(row as isize + step, self.height)).iter();
            let outer = at(-2).zip(at(2));
            let inner = at(-1).zip(at(1));
            for ((value, middle), (outer, inner)) in to.iter_mut().zip(at(0)).zip(outer.zip(inner))
            {
                *value = binomial(outer.0 + outer.1, inner.0 + inner.1, *middle);
            }
        }
        both
    }

    /// The slopes of every pixel across and down, row by row; see [`Self::slope`].
    pub(super) fn slopes(&self) -> [Vec<f32>; 2] {
        let mut across = Vec::with_capacity(self.values.len());
        let mut down = Vec::with_capacity(self.values.len());
        let half = |(after, before): (&f32, &f32)| 0.5 * (after - before);
        // The row with its ends continued by one, so that every pixel is reckoned alike.
        let mut wide = vec![0.0; self.width + 2];
        for row in 0..self.height {
            let (above, below) = (row.saturating_sub(1), (row + 1).min(self.height - 1));
            let here = self.row(row);
            wide[1..=self.width].copy_from_slice(here);
            (wide[0], wide[self.width + 1]) = (here[0], here[self.width - 1]);
            across.extend(wide[2..].iter().zip(&wide).map(half));
            down.extend(self.row(below).iter().zip(self.row(above)).map(half));
        }
        [across, down]
    }

    /// Every second pixel of every second row: the next level of a pyramid, of a plane that was smoothed.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width.div_ceil(2), self.height.div_ceil(2));
        let mut values = Vec::with_capacity(width * height);
        for row in (0..self.height).step_by(2) {
            values.extend(self.row(row).iter().step_by(2));
        }
        Self { width, height, values }
    }

    /// A smaller plane by the mean of what each of its pixels covers, to whole pixels of this one.
    pub(super) fn shrunk(&self, width: usize, height: usize) -> Self {
        let (width, height) = (width.clamp(1, self.width), height.clamp(1, self.height));
        let span = |at: usize, parts: usize, side: usize| {
            let from = at * side / parts;
            from..((at + 1) * side / parts).max(from + 1)
        };
        Self::made((width, height), |column, row| {
            let columns = span(column, width, self.width);
            let rows = span(row, height, self.height);
            let count = (columns.len() * rows.len()) as f32;
            let sum: f32 = rows.map(|row| self.row(row)[columns.clone()].iter().sum::<f32>()).sum();
            sum / count
        })
    }

    /// Half the difference of the neighbours across and down, by straight continuation at the edges.
    pub(super) fn slope(&self, column: usize, row: usize) -> (f32, f32) {
        let (column, row) = (column as isize, row as isize);
        let across = self.nearest(column + 1, row) - self.nearest(column - 1, row);
        let down = self.nearest(column, row + 1) - self.nearest(column, row - 1);
        (0.5 * across, 0.5 * down)
    }

    /// The mean of the square of `2 * reach + 1` pixels about each pixel, as far as it lies inside.
    pub(super) fn box_mean(&self, reach: usize) -> Self {
        // Sums of whole pictures need more digits than single values do.
        let stride = self.width + 1;
        let mut sums = vec![0.0_f64; stride * (self.height + 1)];
        for row in 0..self.height {
            let mut along = 0.0;
            for column in 0..self.width {
                along += f64::from(self.at(column, row));
                sums[(row + 1) * stride + column + 1] = sums[row * stride + column + 1] + along;
            }
        }
        Self::made((self.width, self.height), |column, row| {
            let (left, right) =
                (column.saturating_sub(reach), (column + reach + 1).min(self.width));
            let (top, bottom) = (row.saturating_sub(reach), (row + reach + 1).min(self.height));
            let sum = sums[bottom * stride + right] + sums[top * stride + left]
                - sums[top * stride + right]
                - sums[bottom * stride + left];
            narrowed(sum / ((right - left) * (bottom - top)) as f64)
        })
    }
}

/// A picture and its halves, the largest first, each the one before smoothed and of that every second pixel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pyramid {
    pub(super) levels: Vec<Plane>,
}

impl Pyramid {
    /// No level has a side below this: a window of the tracker would not fit.
    const LEAST_SIDE: usize = 32;

    /// The pyramid of a picture, and the picture itself smoothed.
    pub(super) fn new(largest: Plane, level_count: usize) -> (Self, Plane) {
        let smooth = largest.smoothed();
        let is_large = |plane: &Plane| plane.width().min(plane.height()) >= 2 * Self::LEAST_SIDE;
        let mut next = is_large(&largest).then(|| smooth.halved());
        let mut levels = vec![largest];
        while let Some(level) = next.take().filter(|_| levels.len() < level_count) {
            let has_next = is_large(&level) && levels.len() + 1 < level_count;
            next = has_next.then(|| level.smoothed().halved());
            levels.push(level);
        }
        (Self { levels }, smooth)
    }

    pub(super) fn largest(&self) -> &Plane {
        &self.levels[0]
    }
}

/// The binomial mean of five values, of which the outer two and the inner two are added already.
fn binomial(outer: f32, inner: f32, middle: f32) -> f32 {
    (outer + 4.0 * inner + 6.0 * middle) * (1.0 / 16.0)
}

#[expect(clippy::cast_sign_loss, reason = "held at or above zero")]
fn held_in(place: isize, side: usize) -> usize {
    (place.max(0) as usize).min(side - 1)
}

/// The whole part of a number that is not below zero; of any other, 0.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast holds what is out of range at its ends, which is what is wanted"
)]
pub(super) fn floored(value: f64) -> usize {
    value as usize
}

/// To the digits that pixels are kept with.
#[expect(clippy::cast_possible_truncation, reason = "pixels are kept with fewer digits on purpose")]
pub(super) const fn narrowed(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slanted_plane_is_read_exactly_between_its_pixels() {
        let slant = Plane::made((20, 10), |column, row| 3.0 * column as f32 - 2.0 * row as f32);
        assert_eq!(slant.sampled(4.25, 7.5), Some(3.0 * 4.25 - 2.0 * 7.5));
        assert_eq!(slant.slope(5, 5), (3.0, -2.0));
        assert_eq!((slant.sampled(19.5, 3.0), slant.sampled(f64::NAN, 3.0)), (None, None));
        let smooth = slant.smoothed();
        assert!((smooth.at(8, 5) - slant.at(8, 5)).abs() < 1e-5);
        assert!((slant.box_mean(2).at(8, 5) - slant.at(8, 5)).abs() < 1e-4);
    }

    #[test]
    fn a_half_has_its_pixels_at_every_second_place() {
        let slant = Plane::made((41, 31), |column, _| column as f32);
        let half = slant.smoothed().halved();
        assert_eq!((half.width(), half.height()), (21, 16));
        assert!((half.at(7, 5) - 14.0).abs() < 1e-5);
        assert_eq!(slant.shrunk(1, 1).at(0, 0), 20.0);
        assert_eq!(Pyramid::new(slant, 4).0.levels.len(), 1);
    }
}
