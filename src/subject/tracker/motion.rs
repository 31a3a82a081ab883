//! One motion for many points, some of which move otherwise.

use super::flow::Moved;

/// Rounds of weighted squares after the best draw.
const REFINED: usize = 6;
/// Points count less and less up to this many medians of what they are off by, and beyond that not at all.
const SPREAD: f64 = 8.0;
/// No point counts less for being off by a small share of this, px: that is what points are followed to.
const LEAST_WIDTH_PX: f64 = 0.2;

/// How a box goes on: each axis scaled and shifted by itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub(super) scale: [f64; 2],
    pub(super) shift: [f64; 2],
    /// The share of the points that agree, 0 to 1.
    pub(super) agreed: f64,
}

/// How the background goes on: x and y to a sum of both and a constant, an axis a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Affine(pub(super) [[f64; 3]; 2]);

impl Affine {
    pub(super) fn apply(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        self.0.map(|[a, b, c]| a * x + b * y + c)
    }
}

impl Stretch {
    pub(super) fn apply(&self, point: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|axis| self.scale[axis] * point[axis] + self.shift[axis])
    }
}

pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    let (_, value, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(*value)
}

/// The background's motion: squares weighted again and again, from the median shift on.
pub(super) fn background(moved: &[Moved]) -> Option<Affine> {
    if moved.len() < 12 {
        return None;
    }
    let shift = [0, 1].map(|axis| {
        let mut ways: Vec<f64> = moved.iter().map(|m| m.to[axis] - m.from[axis]).collect();
        median(&mut ways).unwrap_or(0.0)
    });
    let mut affine = Affine([[1.0, 0.0, shift[0]], [0.0, 1.0, shift[1]]]);
    for round in 0..8 {
        let off: Vec<f64> = moved
            .iter()
            .map(|m| {
                let there = affine.apply(m.from);
                (there[0] - m.to[0]).hypot(there[1] - m.to[1])
            })
            .collect();
        let middle = median(&mut off.clone())?;
        let width =
            if round < 3 { (3.0 * middle).max(2.0) } else { (2.0 * middle).clamp(0.5, 6.0) };
        let weights: Vec<f64> =
            off.iter().map(|off| (1.0 + (off / width).powi(2)).powi(-2)).collect();
        affine = Affine([solve(moved, &weights, 0)?, solve(moved, &weights, 1)?]);
    }
    Some(affine)
}

/// Weighted least squares of one axis.
fn solve(moved: &[Moved], weights: &[f64], axis: usize) -> Option<[f64; 3]> {
    let total: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(&Moved) -> f64| {
        moved.iter().zip(weights).map(|(m, w)| w * of(m)).sum::<f64>() / total
    };
    let (mx, my) = (mean(&|m| m.from[0]), mean(&|m| m.from[1]));
    let mt = mean(&|m| m.to[axis]);
    let (mut xx, mut xy, mut yy, mut xt, mut yt) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (m, w) in moved.iter().zip(weights) {
        let (x, y, t) = (m.from[0] - mx, m.from[1] - my, m.to[axis] - mt);
        xx += w * x * x;
        xy += w * x * y;
        yy += w * y * y;
        xt += w * x * t;
        yt += w * y * t;
    }
    let det = xx * yy - xy * xy;
    if det <= 1.0e-9 * xx * yy {
        return None;
    }
    let (a, b) = ((yy * xt - xy * yt) / det, (xx * yt - xy * xt) / det);
    Some([a, b, mt - a * mx - b * my])
}

/// The stretch that most points agree on within `within` px; `span` is the size of the box they lie in.
pub(super) fn stretch(moved: &[Moved], span: [f64; 2], within: f64) -> Option<Stretch> {
    if moved.len() < 8 {
        return None;
    }
    let mut draws = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = |limit: usize| {
        draws ^= draws << 13;
        draws ^= draws >> 7;
        draws ^= draws << 17;
        usize::try_from(draws >> 33).map_or(0, |drawn| drawn % limit)
    };
    let mut best: Option<(f64, Stretch)> = None;
    for _ in 0..160 {
        let (a, b) = (&moved[draw(moved.len())], &moved[draw(moved.len())]);
        let apart = [0, 1].map(|axis| b.from[axis] - a.from[axis]);
        if apart[0].abs() < 0.2 * span[0] || apart[1].abs() < 0.2 * span[1] {
            continue;
        }
        let scale = [0, 1].map(|axis| (b.to[axis] - a.to[axis]) / apart[axis]);
        if scale.iter().any(|scale| !(0.8..1.25).contains(scale)) {
            continue;
        }
        let shift = [0, 1].map(|axis| a.to[axis] - scale[axis] * a.from[axis]);
        let tried = Stretch { scale, shift, agreed: 0.0 };
        let cost: f64 = moved.iter().map(|m| off(&tried, m).min(within)).sum();
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, tried));
        }
    }
    let (_, mut found) = best?;
    for _ in 0..REFINED {
        let away: Vec<f64> = moved.iter().map(|moved| off(&found, moved)).collect();
        let mut inside: Vec<f64> = away.iter().copied().filter(|away| *away < within).collect();
        if inside.len() < 6 {
            return None;
        }
        found.agreed = inside.len() as f64 / moved.len() as f64;
        let width = (SPREAD * median(&mut inside)?).clamp(LEAST_WIDTH_PX, within);
        let weight = |away: &f64| (1.0 - (away / width).powi(2)).max(0.0).powi(2);
        let weights: Vec<f64> = away.iter().map(weight).collect();
        for axis in 0..2 {
            (found.scale[axis], found.shift[axis]) = line(moved, &weights, axis)?;
        }
    }
    Some(found)
}

/// The straight line through one axis of weighted points.
fn line(moved: &[Moved], weights: &[f64], axis: usize) -> Option<(f64, f64)> {
    let total: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(&Moved) -> f64| {
        moved.iter().zip(weights).map(|(moved, weight)| weight * of(moved)).sum::<f64>() / total
    };
    let (from, to) = (mean(&|moved| moved.from[axis]), mean(&|moved| moved.to[axis]));
    let both = mean(&|moved| (moved.from[axis] - from) * (moved.to[axis] - to));
    let own = mean(&|moved| (moved.from[axis] - from).powi(2));
    (total > 0.0 && own > 0.0).then(|| (both / own, to - both / own * from))
}

fn off(stretch: &Stretch, moved: &Moved) -> f64 {
    let there = stretch.apply(moved.from);
    (there[0] - moved.to[0]).abs().max((there[1] - moved.to[1]).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points on a net, every third of which goes its own way.
    fn points(there: impl Fn([f64; 2]) -> [f64; 2]) -> Vec<Moved> {
        let moved = |at: usize| {
            let from = [(at % 10) as f64 * 12.0, (at / 10) as f64 * 9.0];
            let to = there(from);
            let own = if at.is_multiple_of(3) { 20.0 + (at % 7) as f64 } else { 0.0 };
            Moved { from, to: [to[0] + own, to[1] - own], miss: 0.0 }
        };
        (0..100).map(moved).collect()
    }

    #[test]
    fn the_motion_of_most_points_is_found_exactly() {
        let wanted = Affine([[1.02, -0.01, 3.0], [0.01, 0.99, -2.0]]);
        let found = background(&points(|from| wanted.apply(from))).unwrap();
        for from in [[0.0, 0.0], [108.0, 81.0]] {
            let (one, other) = (found.apply(from), wanted.apply(from));
            assert!((0..2).all(|axis| (one[axis] - other[axis]).abs() < 0.05), "{found:?}");
        }
        let wanted = Stretch { scale: [1.04, 0.97], shift: [-2.0, 5.0], agreed: 1.0 };
        let found = stretch(&points(|from| wanted.apply(from)), [108.0, 81.0], 2.0).unwrap();
        assert!((0..2).all(|axis| (found.scale[axis] - wanted.scale[axis]).abs() < 1e-9));
        assert!((0..2).all(|axis| (found.shift[axis] - wanted.shift[axis]).abs() < 1e-9));
        assert!((0.6..0.7).contains(&found.agreed), "{found:?}");
    }

    #[test]
    fn too_few_points_tell_nothing() {
        let all = points(|from| from);
        assert_eq!(background(&all[..11]), None);
        assert_eq!(stretch(&all[..7], [100.0, 80.0], 2.0), None);
    }
}
