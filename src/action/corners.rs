use super::plane::Plane;

/// How many cells the picture is parted into, across and down: the best corner of each is taken, so that no well drawn
/// subject outvotes a plain background. Chosen; 16 x 9 cells of a 640 x 360 picture are 40 px.
const CELLS: (usize, usize) = (16, 9);
/// The least strength of a corner, in squared grey levels a px: a slope of 1.4 both ways, which noise of two levels
/// does not reach after smoothing. Chosen.
const LEAST_STRENGTH: f32 = 2.0;
/// A corner is weak beside one this many times stronger, whose errors are the noise of the whole: common practice.
const LEAST_SHARE: f32 = 0.002;

/// Well drawn corners that are spread over the picture, as column and row, in the order of their cells: where the
/// smaller eigenvalue of the slopes' second moments, smoothed over 5 x 5 px, is greatest ("Good features to track", CVPR, 1994,
/// from memory). `is_free` says where a corner may be; none is nearer to the edge than `margin`.
pub(super) fn corners(
    plane: &Plane,
    margin: usize,
    is_free: impl Fn(usize, usize) -> bool,
) -> Vec<(usize, usize)> {
    let strength = strengths(plane);
    let strongest = strength.values().iter().copied().fold(0.0, f32::max);
    let least = LEAST_STRENGTH.max(LEAST_SHARE * strongest);
    let mut found = Vec::new();
    for cell in 0..CELLS.0 * CELLS.1 {
        let span = |at: usize, cells: usize, side: usize| {
            (at * side / cells).max(margin)
                ..((at + 1) * side / cells).min(side.saturating_sub(margin))
        };
        let rows = span(cell / CELLS.0, CELLS.1, plane.height());
        let columns = span(cell % CELLS.0, CELLS.0, plane.width());
        let mut best: Option<(f32, usize, usize)> = None;
        for row in rows {
            // In a picture smaller than its margins there are none.
            let values = strength.row(row).get(columns.clone()).unwrap_or_default();
            for (column, value) in columns.clone().zip(values) {
                let is_best = *value >= least && best.is_none_or(|(most, ..)| *value > most);
                if is_best && is_free(column, row) {
                    best = Some((*value, column, row));
                }
            }
        }
        found.extend(best.map(|(_, column, row)| (column, row)));
    }
    found
}

fn strengths(plane: &Plane) -> Plane {
    let size = (plane.width(), plane.height());
    let [across, down] = plane.slopes();
    let moment = |one: &[f32], other: &[f32]| {
        let product = one.iter().zip(other).map(|(one, other)| one * other).collect();
        Plane::of(size.0, size.1, product).smoothed()
    };
    let both = moment(&across, &down);
    let (across, down) = (moment(&across, &across), moment(&down, &down));
    let least = across
        .values()
        .iter()
        .zip(down.values())
        .zip(both.values())
        .map(|((xx, yy), xy)| 0.5 * (xx + yy - ((xx - yy).powi(2) + 4.0 * xy * xy).sqrt()));
    Plane::of(size.0, size.1, least.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_corners_of_a_square_are_found_and_its_edges_are_not() {
        let inside = |place: usize, from: usize, to: usize| (from..to).contains(&place);
        let plane = Plane::made((160, 90), |column, row| {
            if inside(column, 43, 118) && inside(row, 24, 68) { 200.0 } else { 40.0 }
        })
        .smoothed();
        let found = corners(&plane, 4, |_, _| true);
        for corner in [(43, 24), (117, 24), (43, 67), (117, 67)] {
            let near = |place: &&(usize, usize)| {
                place.0.abs_diff(corner.0) <= 3 && place.1.abs_diff(corner.1) <= 3
            };
            assert!(found.iter().any(|place| near(&place)), "{corner:?} is not in {found:?}");
        }
        let on_an_edge =
            |place: &&(usize, usize)| inside(place.0, 60, 100) || inside(place.1, 34, 58);
        assert_eq!(found.iter().filter(on_an_edge).count(), 0, "{found:?}");
        assert_eq!(corners(&plane, 4, |column, _| column > 130), []);
    }

    #[test]
    fn a_plain_picture_and_a_tiny_one_have_none() {
        assert_eq!(corners(&Plane::even(160, 90, 50.0), 4, |_, _| true), []);
        assert_eq!(corners(&Plane::even(3, 2, 50.0), 4, |_, _| true), []);
    }
}
