//! One motion for many points, some of which move otherwise.

use super::flow::Moved;

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
        (draws % limit as u64) as usize
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
    for _ in 0..3 {
        let inliers: Vec<&Moved> = moved.iter().filter(|m| off(&found, m) < within).collect();
        if inliers.len() < 6 {
            return None;
        }
        for axis in 0..2 {
            let count = inliers.len() as f64;
            let from = inliers.iter().map(|m| m.from[axis]).sum::<f64>() / count;
            let to = inliers.iter().map(|m| m.to[axis]).sum::<f64>() / count;
            let (mut both, mut own) = (0.0, 0.0);
            for m in &inliers {
                both += (m.from[axis] - from) * (m.to[axis] - to);
                own += (m.from[axis] - from).powi(2);
            }
            let scale = if own > 0.0 { both / own } else { 1.0 };
            found.scale[axis] = scale;
            found.shift[axis] = to - scale * from;
        }
        found.agreed = inliers.len() as f64 / moved.len() as f64;
    }
    Some(found)
}

fn off(stretch: &Stretch, moved: &Moved) -> f64 {
    let there = stretch.apply(moved.from);
    (there[0] - moved.to[0]).abs().max((there[1] - moved.to[1]).abs())
}
