use crate::geometry::{Raster, Region};

/// Every place of a frame that is clear of some boxes and can be made no larger: a window that meets none of them lies in one.
pub(super) fn clear_places(frame: Raster, boxes: &[Region]) -> Vec<Region> {
    let within = |row: f64| row > 0.0 && row < frame.height();
    let mut tops: Vec<f64> = boxes.iter().map(Region::bottom).filter(|row| within(*row)).collect();
    let mut bottoms: Vec<f64> = boxes.iter().map(Region::top).filter(|row| within(*row)).collect();
    tops.push(0.0);
    bottoms.push(frame.height());
    for rows in [&mut tops, &mut bottoms] {
        rows.sort_by(f64::total_cmp);
        rows.dedup();
    }
    let mut places = Vec::new();
    for top in &tops {
        for bottom in bottoms.iter().filter(|bottom| *bottom > top) {
            let gaps = gaps(frame, boxes, (*top, *bottom));
            let largest = gaps.into_iter().filter(|gap| {
                let meets = |part: &&Region| part.left() < gap.1 && part.right() > gap.0;
                let is_end = |edge: f64, end: f64| (edge - end).abs() < NOISE_PX;
                let mut beside = boxes.iter().filter(meets);
                let held_above =
                    is_end(*top, 0.0) || beside.clone().any(|part| is_end(part.bottom(), *top));
                let held_below = is_end(*bottom, frame.height())
                    || beside.any(|part| is_end(part.top(), *bottom));
                held_above && held_below
            });
            places.extend(
                largest.filter_map(|(left, right)| {
                    Region::new(left, *top, right - left, bottom - top)
                }),
            );
        }
    }
    places
}

const NOISE_PX: f64 = 1e-9;

/// The columns that no box covers of some rows, from where to where.
fn gaps(frame: Raster, boxes: &[Region], (top, bottom): (f64, f64)) -> Vec<(f64, f64)> {
    let mut covered: Vec<(f64, f64)> = boxes
        .iter()
        .filter(|part| part.top() < bottom && part.bottom() > top)
        .map(|part| (part.left(), part.right()))
        .collect();
    covered.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut gaps, mut from) = (Vec::new(), 0.0_f64);
    for (left, right) in covered {
        if left > from {
            gaps.push((from, left.min(frame.width())));
        }
        from = from.max(right);
    }
    if from < frame.width() {
        gaps.push((from, frame.width()));
    }
    gaps.retain(|(from, to)| to > from);
    gaps
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(boxes: &[(f64, f64, f64, f64)]) -> Vec<[f64; 4]> {
        let boxes: Vec<Region> = boxes
            .iter()
            .map(|(left, top, right, bottom)| {
                Region::new(*left, *top, right - left, bottom - top).unwrap()
            })
            .collect();
        let edges = |place: Region| [place.left(), place.top(), place.right(), place.bottom()];
        clear_places(Raster::new(400, 300).unwrap(), &boxes).into_iter().map(edges).collect()
    }

    #[test]
    fn one_box_in_the_middle_leaves_four_places() {
        let found = places(&[(100.0, 100.0, 200.0, 200.0)]);
        assert_eq!(found.len(), 4);
        for place in [
            [0.0, 0.0, 400.0, 100.0],
            [0.0, 200.0, 400.0, 300.0],
            [0.0, 0.0, 100.0, 300.0],
            [200.0, 0.0, 400.0, 300.0],
        ] {
            assert!(found.contains(&place), "{place:?} is not in {found:?}");
        }
    }

    #[test]
    fn boxes_at_the_edges_leave_what_is_between_them() {
        assert_eq!(places(&[]), [[0.0, 0.0, 400.0, 300.0]]);
        let deck_and_visor = [(0.0, 250.0, 400.0, 300.0), (-10.0, -5.0, 410.0, 20.0)];
        assert_eq!(places(&deck_and_visor), [[0.0, 20.0, 400.0, 250.0]]);
        assert!(places(&[(-1.0, -1.0, 500.0, 500.0)]).is_empty(), "nothing is clear");
    }
}
