use super::plane::Plane;
use rustfft::{FftDirection, FftPlanner, num_complex::Complex};

/// A plane and its spectrum have the same layout: row by row, no frequency first.
pub(super) type Spectrum = Vec<Complex<f32>>;

/// The waves that a plane is made of, before any scaling.
pub(super) fn spectrum(plane: &Plane) -> Spectrum {
    let mut values: Spectrum =
        plane.values().iter().map(|value| Complex::new(*value, 0.0)).collect();
    transform(&mut values, plane.width(), FftDirection::Forward);
    values
}

/// The plane that is made of these waves, scaled so that [`spectrum`] is undone.
pub(super) fn plane_of(mut waves: Spectrum, width: usize) -> Vec<Complex<f32>> {
    let scale = 1.0 / waves.len() as f32;
    transform(&mut waves, width, FftDirection::Inverse);
    waves.iter().map(|value| value * scale).collect()
}

/// Rows first, then columns.
fn transform(values: &mut Spectrum, width: usize, direction: FftDirection) {
    let height = values.len() / width;
    let mut planner = FftPlanner::new();
    planner.plan_fft(width, direction).process(values);
    let mut turned = turned(values, width);
    planner.plan_fft(height, direction).process(&mut turned);
    *values = self::turned(&turned, height);
}

/// Rows for columns.
fn turned(values: &[Complex<f32>], width: usize) -> Spectrum {
    let height = values.len() / width;
    (0..width).flat_map(|column| (0..height).map(move |row| values[row * width + column])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_comes_back_and_its_first_wave_is_its_sum() {
        let plane = Plane::made((12, 8), |column, row| (column * 5 + row * row) as f32 % 11.0);
        let waves = spectrum(&plane);
        let sum: f32 = plane.values().iter().sum();
        assert!((waves[0].re - sum).abs() < 1e-3 && waves[0].im.abs() < 1e-3);
        let back = plane_of(waves, 12);
        assert!(back.iter().zip(plane.values()).all(|(a, b)| (a.re - b).abs() < 1e-4));
    }

    #[test]
    fn one_wave_across_has_two_peaks() {
        let plane = Plane::made((16, 4), |column, _| {
            (std::f32::consts::TAU * 3.0 * column as f32 / 16.0).cos()
        });
        let waves = spectrum(&plane);
        assert!((waves[3].re - 32.0).abs() < 1e-3 && (waves[13].re - 32.0).abs() < 1e-3);
        assert!(
            waves.iter().enumerate().all(|(at, wave)| at == 3 || at == 13 || wave.norm() < 1e-3)
        );
    }
}
