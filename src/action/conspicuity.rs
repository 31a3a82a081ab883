use super::{
    plane::{Plane, narrowed},
    spectrum::{plane_of, spectrum},
};

/// Size at which a picture is looked at: the published one is 64 px wide. (From memory.)
const SIZE: (usize, usize) = (64, 36);

/// Where a still picture is unlike the rest of itself, as a map of [`SIZE`] or smaller whose values add up to 1: the
/// part of its log spectrum that is not the mean of what is near it, brought back with the picture's own phases,
/// squared and smoothed ("Saliency detection: a spectral residual approach", CVPR, 2007, from memory).
///
/// A plain picture is alike everywhere.
pub(super) fn conspicuity(plane: &Plane) -> Plane {
    let small = plane.shrunk(SIZE.0, SIZE.1);
    let (width, height) = (small.width(), small.height());
    let waves = spectrum(&small);
    // A wave of less than a grey level in all of the picture is rounding, whose logarithm would be the largest of all.
    let logs = waves.iter().map(|wave| wave.norm().max(1.0).ln()).collect();
    let logs = Plane::of(width, height, logs);
    let means = logs.box_mean(1);
    let residual = waves
        .iter()
        .zip(logs.values().iter().zip(means.values()))
        .map(|(wave, (log, mean))| {
            let length = wave.norm();
            if length > 1.0 { wave * ((log - mean).exp() / length) } else { wave * 0.0 }
        })
        .collect();
    let squares = plane_of(residual, width).iter().map(|value| value.norm_sqr()).collect();
    shared_out(Plane::of(width, height, squares).smoothed().smoothed())
}

/// A map scaled so that its values add up to 1; an even one if there is nothing in it.
pub(super) fn shared_out(mut map: Plane) -> Plane {
    let total: f64 = map.values().iter().map(|value| f64::from(*value)).sum();
    if total <= 0.0 || !total.is_finite() {
        let share = narrowed(1.0 / map.values().len() as f64);
        return Plane::even(map.width(), map.height(), share);
    }
    let scale = narrowed(1.0 / total);
    map.values_mut().iter_mut().for_each(|value| *value *= scale);
    map
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_odd_one_out_among_stripes_is_conspicuous() {
        let plane = Plane::made((128, 72), |column, row| {
            let is_odd = (88..100).contains(&column) && (20..32).contains(&row);
            if is_odd {
                220.0
            } else if column / 4 % 2 == 0 {
                70.0
            } else {
                90.0
            }
        });
        let map = conspicuity(&plane);
        let near: f32 = (8..18).map(|row| map.row(row)[42..52].iter().sum::<f32>()).sum();
        // A 23rd of the picture has seven times its share.
        assert!(near > 0.3, "{near}");
        let total: f32 = map.values().iter().sum();
        assert!((total - 1.0).abs() < 1e-3);
    }

    #[test]
    fn a_plain_picture_is_alike_everywhere() {
        let map = conspicuity(&Plane::even(128, 72, 80.0));
        let (least, most) = (
            map.values().iter().copied().fold(1.0, f32::min),
            map.values().iter().copied().fold(0.0, f32::max),
        );
        assert!(most < 1.5 * least, "{least} {most}");
    }
}
