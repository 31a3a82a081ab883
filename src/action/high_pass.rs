/// What is quicker than a cut-off in a run of values, each measured at a time of its own.
///
/// What is slower is the curve `p` that minimises `Σ hᵢ (dᵢ − pᵢ)² + T⁴ Σ (change of slope)² / h` for the values `d`:
/// a smoothing spline on the values' own times. The rest, `d − p`, is what is returned. It has no delay (the sums are
/// the same forwards and backwards), leaves any straight line out to the last digit, needs no values beyond the
/// ends, and its gain at an even pace is `1 − 1 / (1 + (f/f₀)⁴)` with `sin(π f h)` for `f`: a half at the cut-off,
/// that of a Butterworth filter of the second order run forwards and backwards. (The minimum is worked out by hand
/// from the sums; "A perfect smoother", Analytical Chemistry, 2003, doi:10.1021/ac034173t, has the even case; from
/// memory.)
///
/// `secs` are increasing and as many as the values, else the shorter list counts; `cutoff_hz` is above 0, and what is
/// above half the mean rate counts as that. Fewer than three values are a straight line.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "a run has far fewer values than 2^53")]
pub fn high_passed(values: &[f64], secs: &[f64], cutoff_hz: f64) -> Vec<f64> {
    let count = values.len().min(secs.len());
    if count < 3 {
        return vec![0.0; count];
    }
    let (first, last) = (0, count - 1);
    let mean_secs = (secs[last] - secs[first]) / last as f64;
    let half_turn = std::f64::consts::PI * (cutoff_hz * mean_secs).min(0.5);
    let stiffness = (mean_secs / (2.0 * half_turn.sin())).powi(4);
    // A straight line costs nothing, and without it the numbers are small and their digits many.
    let slope = (values[last] - values[first]) / (secs[last] - secs[first]);
    let rest: Vec<f64> = values
        .iter()
        .zip(secs)
        .map(|(value, at)| value - values[first] - slope * (at - secs[first]))
        .collect();
    let (matrix, weights) = normal_equations(&secs[..count], mean_secs, stiffness);
    let wanted: Vec<f64> =
        rest.iter().zip(&weights).map(|(value, weight)| value * weight).collect();
    let slow = solved(matrix, wanted);
    rest.iter().zip(slow).map(|(value, slow)| value - slow).collect()
}

/// The rows of a symmetric matrix with two diagonals on either side: the diagonal, and the next two to its right.
type Band = Vec<[f64; 3]>;

/// The matrix of the minimum, and the weight of each value: how long it stays.
fn normal_equations(secs: &[f64], mean_secs: f64, stiffness: f64) -> (Band, Vec<f64>) {
    let count = secs.len();
    let steps: Vec<f64> = secs.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let weights: Vec<f64> =
        (0..count).map(|at| steps.get(at).copied().unwrap_or(mean_secs)).collect();
    let mut matrix: Band = weights.iter().map(|weight| [*weight, 0.0, 0.0]).collect();
    for (before, pair) in steps.windows(2).enumerate() {
        let bend = [1.0 / pair[0], -1.0 / pair[0] - 1.0 / pair[1], 1.0 / pair[1]];
        let cost = stiffness / f64::midpoint(pair[0], pair[1]);
        for row in 0..3 {
            for column in row..3 {
                matrix[before + row][column - row] += cost * bend[row] * bend[column];
            }
        }
    }
    (matrix, weights)
}

/// Solves a positive definite band by elimination from the top, which needs no exchange of rows.
fn solved(mut matrix: Band, mut right: Vec<f64>) -> Vec<f64> {
    let count = right.len();
    for row in 0..count {
        let [pivot, next, after] = matrix[row];
        for (below, entry) in [(1, next), (2, after)] {
            if row + below >= count {
                continue;
            }
            let factor = entry / pivot;
            right[row + below] -= factor * right[row];
            if below == 1 {
                matrix[row + 1][0] -= factor * next;
                matrix[row + 1][1] -= factor * after;
            } else {
                matrix[row + 2][0] -= factor * after;
            }
        }
    }
    for row in (0..count).rev() {
        let [pivot, next, after] = matrix[row];
        let at = |place: usize| right.get(place).copied().unwrap_or(0.0);
        right[row] = (at(row) - next * at(row + 1) - after * at(row + 2)) / pivot;
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn even(count: u32, rate: f64) -> Vec<f64> {
        (0..count).map(|frame| f64::from(frame) / rate).collect()
    }

    fn sine(secs: &[f64], hz: f64) -> Vec<f64> {
        secs.iter().map(|at| (TAU * hz * at).sin()).collect()
    }

    fn rms(values: &[f64]) -> f64 {
        let sum: f64 = values.iter().map(|value| value * value).sum();
        (sum / values.iter().map(|_| 1.0).sum::<f64>()).sqrt()
    }

    #[test]
    fn a_sine_is_kept_by_the_gain_of_its_frequency() {
        // By hand at 25 a second: 1 − 1/(1 + (sin(π f/25) / sin(π f₀/25))⁴); a half at the cut-off.
        let secs = even(2000, 25.0);
        for hz in [0.1, 0.25, 0.5, 1.0, 2.0, 5.0] {
            let ratio = (TAU / 2.0 * hz / 25.0).sin() / (TAU / 2.0 * 0.5 / 25.0).sin();
            let by_hand = 1.0 - 1.0 / (1.0 + ratio.powi(4));
            let quick = high_passed(&sine(&secs, hz), &secs, 0.5);
            // Away from the ends by four seconds, where no end is felt.
            let gain = rms(&quick[100..1900]) / rms(&sine(&secs, hz)[100..1900]);
            assert!((gain - by_hand).abs() < 0.01, "{hz} Hz: {gain} {by_hand}");
        }
    }

    #[test]
    fn a_straight_line_is_left_alone_to_the_ends_and_the_middle_of_nothing_is_nothing() {
        let secs = even(500, 50.0);
        let line: Vec<f64> = secs.iter().map(|at| 9000.0 - 370.0 * at).collect();
        assert!(high_passed(&line, &secs, 0.5).iter().all(|value| value.abs() < 1e-6));
        assert_eq!(high_passed(&[1.0, 5.0], &secs, 0.5), [0.0, 0.0]);
        assert_eq!(high_passed(&[], &[], 0.5), [0.0; 0]);
    }

    #[test]
    fn it_has_no_delay_forwards_is_backwards() {
        let secs = even(300, 30.0);
        let values: Vec<f64> = (0..300_u32).map(|n| f64::from(n * n * 7 % 31)).collect();
        let forwards = high_passed(&values, &secs, 0.7);
        let reversed: Vec<f64> = values.iter().rev().copied().collect();
        let mut backwards = high_passed(&reversed, &secs, 0.7);
        backwards.reverse();
        // The last value has the mean step for its weight, which at an even pace is the step itself.
        assert!(forwards.iter().zip(&backwards).all(|(a, b)| (a - b).abs() < 1e-7));
    }

    #[test]
    fn the_ends_are_as_good_as_the_middle_for_a_quick_sine() {
        let secs = even(250, 25.0);
        let wave = sine(&secs, 3.0);
        let quick = high_passed(&wave, &secs, 0.5);
        let worst = quick.iter().zip(&wave).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        assert!(worst < 0.25, "{worst}");
    }

    #[test]
    fn uneven_steps_are_told_apart() {
        // 30 a second with every fifth frame dropped, on a drift and a 2 Hz shake.
        let secs: Vec<f64> =
            (0..900_u32).filter(|n| n % 5 != 3).map(|n| f64::from(n) / 30.0).collect();
        let wave = sine(&secs, 2.0);
        let values: Vec<f64> =
            wave.iter().zip(&secs).map(|(wave, at)| 100.0 * at + 10.0 * wave).collect();
        let quick = high_passed(&values, &secs, 0.5);
        let middle = 100..wave.len() - 100;
        let off: Vec<f64> = middle.map(|place| quick[place] - 10.0 * wave[place]).collect();
        assert!(rms(&off) < 0.2, "{}", rms(&off));
    }
}
