use super::{
    plane::{Plane, narrowed},
    spectrum::{plane_of, spectrum},
};
use rustfft::num_complex::Complex;

/// Size at which pictures are correlated: 256 x 128 takes a few ms and tells a px of 640 after the peak is fitted.
const SIZE: (usize, usize) = (256, 128);

/// A shift of the whole picture, and how far the best one stands out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shift {
    /// Px of the pictures right and down.
    pub(super) right: f64,
    pub(super) down: f64,
    /// The share of the peak that the next best place elsewhere lacks: 0 is a toss-up, 1 stands alone.
    pub(super) clearness: f64,
}

/// How far a picture is shifted against another, by the phases of their waves alone ("The phase correlation image
/// alignment method", IEEE conference on cybernetics and society, 1975, from memory), the peak fitted by a parabola each
/// way. `weights` says how much each pixel counts, at the pictures' size; fades them out at the edges by itself. Turns
/// and enlargements are not told. `None` for plain pictures.
pub(super) fn shift(from: &Plane, to: &Plane, weights: &Plane) -> Option<Shift> {
    let (width, height) = SIZE;
    let weights = weights.shrunk(width, height).smoothed().smoothed();
    // Pictures smaller than the size stay as they are.
    let (width, height) = (weights.width(), weights.height());
    let waves = |plane: &Plane| spectrum(&weighted(&plane.shrunk(width, height), &weights));
    let (before, after) = (waves(from), waves(to));
    let crossed: Vec<Complex<f32>> = before
        .iter()
        .zip(&after)
        .map(|(before, after)| {
            let crossed = before.conj() * after;
            let length = crossed.norm();
            // Waves with nothing in them would come in with the phase of rounding.
            if length > 1e-3 { crossed / length } else { Complex::new(0.0, 0.0) }
        })
        .collect();
    let values = plane_of(crossed, width).iter().map(|value| value.re).collect();
    let likeness = Plane::of(width, height, values);
    let (column, row) = greatest(&likeness, |_, _| true)?;
    let peak = likeness.at(column, row);
    let near = |at: usize, other: usize, side: usize| {
        let apart = at.abs_diff(other);
        apart.min(side - apart) <= 4
    };
    let rival = greatest(&likeness, |other_column, other_row| {
        !(near(column, other_column, width) && near(row, other_row, height))
    })?;
    if peak <= 0.0 {
        return None;
    }
    let right = place(column, width, |at| likeness.at(at, row));
    let down = place(row, height, |at| likeness.at(column, at));
    Some(Shift {
        right: right * from.width() as f64 / width as f64,
        down: down * from.height() as f64 / height as f64,
        clearness: f64::from(1.0 - likeness.at(rival.0, rival.1).max(0.0) / peak),
    })
}

/// A picture without its mean, times its weights and a raised cosine each way.
fn weighted(plane: &Plane, weights: &Plane) -> Plane {
    let total: f32 = weights.values().iter().sum::<f32>().max(1e-6);
    let mean = plane.values().iter().zip(weights.values()).map(|(v, w)| v * w).sum::<f32>() / total;
    let fade = |at: usize, side: usize| {
        let turn = std::f64::consts::TAU * (at as f64 + 0.5) / side as f64;
        narrowed(0.5 - 0.5 * turn.cos())
    };
    let (width, height) = (plane.width(), plane.height());
    Plane::made((width, height), |column, row| {
        let weight = weights.at(column, row) * fade(column, width) * fade(row, height);
        (plane.at(column, row) - mean) * weight
    })
}

/// The place of the greatest value among those that count.
fn greatest(plane: &Plane, counts: impl Fn(usize, usize) -> bool) -> Option<(usize, usize)> {
    let mut best: Option<((usize, usize), f32)> = None;
    for row in 0..plane.height() {
        for (column, value) in plane.row(row).iter().enumerate() {
            if best.is_none_or(|(_, most)| *value > most) && counts(column, row) {
                best = Some(((column, row), *value));
            }
        }
    }
    best.map(|(place, _)| place)
}

/// Where the peak is between its neighbours, with the far half counted backwards.
fn place(at: usize, side: usize, value: impl Fn(usize) -> f32) -> f64 {
    let (before, here, after) = (value((at + side - 1) % side), value(at), value((at + 1) % side));
    let bend = f64::from(before - 2.0 * here + after);
    let off = if bend < 0.0 { 0.5 * f64::from(before - after) / bend } else { 0.0 };
    let whole = if 2 * at > side { at as f64 - side as f64 } else { at as f64 };
    whole + off.clamp(-0.5, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cloud(right: f64, down: f64) -> Plane {
        // Spots at made-up places, so that no shift looks like another.
        let spots: Vec<(f64, f64)> =
            (0..60_u32).map(|at| (f64::from(at * 97 % 256), f64::from(at * 59 % 128))).collect();
        Plane::made((256, 128), |column, row| {
            let (x, y) = (column as f64 - right, row as f64 - down);
            let spot = |(u, v): &(f64, f64)| (-((x - u).powi(2) + (y - v).powi(2)) / 8.0).exp();
            narrowed(200.0 * spots.iter().map(spot).sum::<f64>())
        })
    }

    #[test]
    fn a_large_shift_is_found_to_a_share_of_a_px() {
        let even = Plane::even(256, 128, 1.0);
        let found = shift(&cloud(0.0, 0.0), &cloud(31.0, -14.5), &even).unwrap();
        assert!((found.right - 31.0).abs() < 0.3 && (found.down + 14.5).abs() < 0.5, "{found:?}");
        assert!(found.clearness > 0.5, "{found:?}");
    }

    #[test]
    fn plain_pictures_tell_nothing_and_strangers_are_a_toss_up() {
        let even = Plane::even(256, 128, 1.0);
        let plain = Plane::even(256, 128, 77.0);
        assert!(shift(&plain, &plain, &even).is_none_or(|shift| shift.clearness < 0.3));
        let strange = Plane::made((256, 128), |column, row| {
            ((column * 7919 + row * 104_729 + column * row * 31) % 251) as f32
        });
        let found = shift(&cloud(0.0, 0.0), &strange, &even);
        assert!(found.is_none_or(|shift| shift.clearness < 0.3), "{found:?}");
    }
}
