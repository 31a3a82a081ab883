use super::area::Area;

/// A label that looks for a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Label {
    /// What it belongs to.
    pub(super) window: Area,
    /// Its width and height.
    pub(super) size: (i32, i32),
}

/// Finds each label a place inside the picture where it covers no other label: in its window near the top
/// edge, else just outside of it, else further down, else across its edge; clear of the boxes to spare if it
/// can. `None` if there is no such place. `line_px` is kept free along the window's edge.
///
/// Small windows choose first, since they have the least choice. One pass, no going back.
pub(super) fn place(
    labels: &[Label],
    picture: Area,
    spared: &[Area],
    line_px: i32,
) -> Vec<Option<Area>> {
    let mut order: Vec<usize> = (0..labels.len()).collect();
    order.sort_by_key(|at| {
        let window = labels[*at].window.clipped(picture);
        i64::from(window.width()) * i64::from(window.height())
    });
    let mut placed: Vec<Option<Area>> = vec![None; labels.len()];
    let mut taken: Vec<Area> = Vec::new();
    for at in order {
        let places = places(labels[at], picture, line_px);
        let is_free = |area: &&Area| picture.holds(**area) && !meets(**area, &taken);
        let clear = places.iter().filter(is_free).find(|area| !meets(**area, spared));
        if let Some(found) = clear.or_else(|| places.iter().find(is_free)).copied() {
            placed[at] = Some(found);
            taken.push(found);
        }
    }
    placed
}

fn meets(area: Area, others: &[Area]) -> bool {
    others.iter().any(|other| area.overlaps(*other))
}

/// Places for one label, the best first.
fn places(label: Label, picture: Area, line_px: i32) -> Vec<Area> {
    let window = label.window.clipped(picture);
    let inner = window.inset(2 * line_px);
    let (_, height) = label.size;
    let down = down_the_window(label.size, inner, line_px);
    let (inside, across): (Vec<Area>, Vec<Area>) =
        down.into_iter().partition(|area| inner.holds(*area));
    let is_roomy = inner.height() >= 3 * height;
    let top_end = if is_roomy { inner.top + 2 * height + line_px } else { inner.top };
    let (near_the_top, further_down): (Vec<Area>, Vec<Area>) =
        inside.into_iter().partition(|area| area.top < top_end);
    let outside = beside(label.size, window, line_px);
    [near_the_top, outside, further_down, across].concat()
}

/// At the left, the right and the middle, row by row.
fn down_the_window((width, height): (i32, i32), inner: Area, line_px: i32) -> Vec<Area> {
    let step = (height / 2 + line_px).max(1);
    let mut places = Vec::new();
    let mut top = inner.top;
    while top <= inner.top.max(inner.bottom - height) {
        for left in [inner.left, inner.right - width, inner.centre().0 - width / 2] {
            places.push(Area::sized((left, top), (width, height)));
        }
        top += step;
    }
    places
}

/// Above, below, right and left of the window.
fn beside((width, height): (i32, i32), window: Area, line_px: i32) -> Vec<Area> {
    [
        (window.left, window.top - line_px - height),
        (window.right - width, window.top - line_px - height),
        (window.left, window.bottom + line_px),
        (window.right - width, window.bottom + line_px),
        (window.right + line_px, window.top),
        (window.left - line_px - width, window.top),
    ]
    .map(|corner| Area::sized(corner, (width, height)))
    .to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    const PICTURE: Area = Area { left: 0, top: 0, right: 1440, bottom: 1080 };

    fn five_shapes() -> Vec<Label> {
        [
            Area { left: 0, top: 135, right: 1440, bottom: 945 },
            Area { left: 0, top: 239, right: 1440, bottom: 842 },
            Area { left: 416, top: 0, right: 1024, bottom: 1080 },
            Area { left: 180, top: 0, right: 1260, bottom: 1080 },
            Area { left: 288, top: 0, right: 1152, bottom: 1080 },
        ]
        .map(|window| Label { window, size: (260, 84) })
        .to_vec()
    }

    fn assert_apart(placed: &[Option<Area>]) {
        for (at, one) in placed.iter().flatten().enumerate() {
            assert!(PICTURE.holds(*one), "{one:?}");
            for other in placed.iter().flatten().skip(at + 1) {
                assert!(!one.overlaps(*other), "{one:?} {other:?}");
            }
        }
    }

    #[test]
    fn labels_of_five_overlapping_windows_are_all_placed_and_apart() {
        let placed = place(&five_shapes(), PICTURE, &[], 14);
        assert!(placed.iter().all(Option::is_some), "{placed:?}");
        assert_apart(&placed);
    }

    #[test]
    fn labels_keep_off_the_subject_while_there_is_room() {
        let subject = Area { left: 400, top: 0, right: 1040, bottom: 500 };
        let placed = place(&five_shapes(), PICTURE, &[subject], 14);
        assert_apart(&placed);
        assert!(placed.iter().flatten().all(|area| !area.overlaps(subject)), "{placed:?}");
    }

    #[test]
    fn equal_windows_stack_their_labels() {
        let label = Label { window: PICTURE, size: (700, 100) };
        let placed = place(&[label; 6], PICTURE, &[], 7);
        assert_eq!(placed.iter().flatten().count(), 6);
        assert_apart(&placed);
    }

    #[test]
    fn a_label_that_finds_no_room_is_left_out_not_laid_over_another() {
        let label = Label { window: PICTURE, size: (1400, 700) };
        let placed = place(&[label; 3], PICTURE, &[], 7);
        assert_eq!(placed.iter().flatten().count(), 1);
        let too_wide = Label { window: PICTURE, size: (1441, 10) };
        assert_eq!(place(&[too_wide], PICTURE, &[], 7), [None]);
    }

    #[test]
    fn the_label_of_a_small_window_stands_outside_it() {
        let window = Area::sized((700, 500), (40, 40));
        let placed = place(&[Label { window, size: (200, 60) }], PICTURE, &[], 7);
        assert!(!placed[0].unwrap().overlaps(window), "{placed:?}");
    }
}
