use super::*;
use crate::{
    geometry::Raster,
    lens::{FieldOfView, Span},
};

fn lens() -> Lens {
    let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
    Lens::new(Raster::new(4000, 3000).unwrap(), Mapping::Rectilinear, &[field]).unwrap()
}

fn uhd() -> Window {
    Window::inside(lens().raster(), (80.0, 420.0), (3840.0, 2160.0)).unwrap()
}

fn budget_of(yaw: f64, pitch: f64, roll: f64) -> ShakeBudget {
    let shake = Shake::from_degrees(yaw, pitch, roll).unwrap();
    ShakeBudget::of(&lens(), &Levelling::none(lens().raster()), &uhd(), &shake)
}

/// Three turns one after the other, written out: yaw about the vertical, pitch about the horizontal, roll
/// about the axis, in one of the six orders.
fn in_turn(order: [usize; 3], [pitch, yaw, roll]: [f64; 3], at: [f64; 3]) -> [f64; 3] {
    order.into_iter().fold(at, |[x, y, z], axis| match axis {
        0 => [x, y * pitch.cos() - z * pitch.sin(), y * pitch.sin() + z * pitch.cos()],
        1 => [x * yaw.cos() + z * yaw.sin(), y, z * yaw.cos() - x * yaw.sin()],
        _ => [x * roll.cos() - y * roll.sin(), x * roll.sin() + y * roll.cos(), z],
    })
}

/// The furthest that any point of a dense outline is carried to the right, over dense angles, by three turns
/// in an order.
fn furthest_right(width: f64, amplitudes: [f64; 3], order: [usize; 3]) -> f64 {
    let (half_width, half_height) = (width / 2.0, width * 9.0 / 32.0);
    let share = |step: i32, of: i32| f64::from(2 * step - of) / f64::from(of);
    let mut furthest = f64::NEG_INFINITY;
    for along in 0..=40 {
        let along = share(along, 40);
        let outline = [
            [half_width, along * half_height],
            [-half_width, along * half_height],
            [along * half_width, half_height],
            [along * half_width, -half_height],
        ];
        for step in 0..343 {
            let angles = [
                amplitudes[0] * share(step % 7, 6),
                amplitudes[1] * share(step / 7 % 7, 6),
                amplitudes[2] * share(step / 49, 6),
            ];
            for [x, y] in outline {
                let [x, _, z] = in_turn(order, angles, [x, y, 2000.0]);
                furthest = furthest.max(2000.0 * x / z);
            }
        }
    }
    furthest
}

const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

#[test]
fn yaw_alone_moves_the_middle_of_the_edge_by_the_difference_of_tangents() {
    // By hand: atan(1920/2000) = 43.8309; 2000 tan 45.3309 - 1920 = 103.23 px, against 80.
    let budget = budget_of(1.5, 0.0, 0.0);
    let by_hand = 2000.0 * ((0.96_f64).atan() + 1.5_f64.to_radians()).tan() - 1920.0;
    assert!((by_hand - 103.23).abs() < 0.005);
    assert!((budget.needed.right_px - by_hand).abs() < 1e-6, "{budget:?}");
    let of_all = budget_of(1.5, 1.5, 1.0).needed_by_one_turn;
    assert!((of_all.left_px - by_hand).abs() < 1e-6, "{of_all:?}");
    // Up and down: atan(1080/2000) = 28.3690; 2000 tan 29.8690 - 1080 = 68.6.
    assert!((of_all.top_px - 68.6).abs() < 0.05, "{of_all:?}");
    assert!((budget.available.right_px - 80.0).abs() < 1e-9);
    assert!(!budget.passes());
    // Twice the centre's 52.37 px, as the secant squared at 45 degrees says.
    let centre = 2000.0 * 1.5_f64.to_radians().tan();
    assert!((centre - 52.37).abs() < 0.005 && by_hand / centre > 1.9, "{centre}");
}

#[test]
fn the_whole_shake_is_what_turns_in_any_order_give() {
    // Three turns in six orders, on a dense outline and at dense angles: the orders differ among themselves
    // by two px and more, and the one turn about one axis lies among them.
    for (degrees, least_px, most_px) in [(1.5, 151.0, 155.0), (2.0, 198.0, 203.0)] {
        let amplitudes = [degrees, degrees, 1.0].map(f64::to_radians);
        let needed = ORDERS.map(|order| furthest_right(3840.0, amplitudes, order) - 1920.0);
        let least = needed.into_iter().fold(f64::INFINITY, f64::min);
        let most = needed.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let found = budget_of(degrees, degrees, 1.0);
        assert!(least_px < least && most < most_px, "{least} {most}");
        let needed = found.needed.right_px;
        assert!((least..=most).contains(&needed), "{needed} in {least} to {most}");
        assert!((found.missing_px - (needed - 80.0)).abs() < 1e-9);
        assert!((found.needed.left_px - needed).abs() < 1e-6, "the same on the left");
    }
}

#[test]
fn a_small_shake_moves_a_point_as_the_derivative_says() {
    // x' = f·x/z: a yaw a moves x by a (f + x²/f), a pitch b by b x y / f, a roll c by c y. At the corner of the
    // window (1920, 1080), f 2000, all signs at their worst: a·3843.2 + b·1036.8 + c·1080.
    let (a, b, c) = (0.015_f64, 0.012_f64, 0.01_f64);
    let by_hand = (a * 3843.2 + b * 1036.8 + c * 1080.0).to_radians();
    let found = budget_of(a, b, c).needed.right_px;
    assert!((found - by_hand).abs() < 1e-3 * by_hand, "{found} {by_hand}");
}

#[test]
fn the_least_enlargement_is_that_of_the_corrected_study() {
    for (degrees, width, enlargement) in [(1.5, 3706.0, 1.036), (2.0, 3626.0, 1.059)] {
        let found = budget_of(degrees, degrees, 1.0).largest_width_px.unwrap();
        assert!((found - width).abs() < 2.0, "{found}");
        assert!((3840.0 / found - enlargement).abs() < 0.0005, "{}", 3840.0 / found);
        // Just at the frame's edge by the brute force too, as far as the orders agree.
        let amplitudes = [degrees, degrees, 1.0].map(f64::to_radians);
        let reach = ORDERS.map(|order| furthest_right(found, amplitudes, order));
        assert!(reach.iter().any(|reach| *reach <= 2000.0), "{reach:?}");
        assert!(reach.iter().any(|reach| *reach >= 2000.0), "{reach:?}");
    }
}

#[test]
fn the_centre_only_figures_are_a_comparison_that_passes_too_much() {
    // By hand: 3840 cos 1° + 2160 sin 1° + 104.74 = 3981.86, 9.07 px a side; the height 2331.43, 668.6 spare.
    let narrow = budget_of(1.5, 1.5, 1.0).centre_only;
    assert!((narrow.needed_width_px - 3981.86).abs() < 0.005, "{narrow:?}");
    assert!((narrow.spare_across_px - 9.07).abs() < 0.005, "{narrow:?}");
    assert!((narrow.needed_height_px - 2331.43).abs() < 0.005, "{narrow:?}");
    assert!((2.0 * narrow.spare_down_px - 668.6).abs() < 0.05, "{narrow:?}");
    assert!(narrow.passes() && !budget_of(1.5, 1.5, 1.0).passes());
    let wide = budget_of(2.0, 2.0, 1.0).centre_only;
    assert!((wide.needed_width_px - 4016.80).abs() < 0.005, "{wide:?}");
    assert!(!wide.passes());
    assert!((3840.0 / wide.largest_width_px - 1.0044).abs() < 0.00005, "{wide:?}");
    assert!((wide.largest_width_px - 3823.4).abs() < 0.06, "{wide:?}");
}

#[test]
fn without_a_shake_nothing_is_needed_and_a_wild_one_is_out_of_sight() {
    let still = budget_of(0.0, 0.0, 0.0);
    assert!(still.passes() && still.needed.least_px().abs() < 1e-9, "{still:?}");
    assert!((still.largest_width_px.unwrap() - 4000.0).abs() < 1e-6);
    let field = FieldOfView::from_degrees(Span::Horizontal, 170.0).unwrap();
    let wide = Lens::new(lens().raster(), Mapping::Rectilinear, &[field]).unwrap();
    let shake = Shake::from_degrees(30.0, 30.0, 30.0).unwrap();
    let level = Levelling::none(wide.raster());
    assert!(!ShakeBudget::of(&wide, &level, &uhd(), &shake).passes());
    for (yaw, pitch, roll) in [(-1.0, 0.0, 0.0), (0.0, 31.0, 0.0), (0.0, 0.0, f64::NAN)] {
        assert!(Shake::from_degrees(yaw, pitch, roll).is_err());
    }
}

/// The furthest that any point of a very dense outline is carried beyond each side, at the same turns.
fn dense_need(lens: &Lens, window: &Window, shake: &Shake) -> [f64; 4] {
    let mut need = [f64::NEG_INFINITY; 4];
    for step in 0..=300 {
        let share = f64::from(step) / 300.0;
        let (x, y) =
            (window.left() + share * window.width(), window.top() + share * window.height());
        for (x, y) in
            [(x, window.top()), (x, window.bottom()), (window.left(), y), (window.right(), y)]
        {
            let direction = lens.direction(SourcePoint { x, y }).unwrap();
            for turn in shake.turns() {
                let at = lens.point(turn.of(direction)).unwrap();
                let beyond = [
                    window.left() - at.x,
                    window.top() - at.y,
                    at.x - window.right(),
                    at.y - window.bottom(),
                ];
                need = [0, 1, 2, 3].map(|side| need[side].max(beyond[side]));
            }
        }
    }
    need
}

#[test]
fn edges_bow_through_a_fisheye_and_their_middles_can_be_carried_furthest() {
    for (mapping, degrees) in [
        (Mapping::Equidistant, 180.0),
        (Mapping::Stereographic, 160.0),
        (Mapping::Equisolid, 150.0),
        (Mapping::Orthographic, 100.0),
    ] {
        let field = FieldOfView::from_degrees(Span::Diagonal, degrees).unwrap();
        let lens = Lens::new(lens().raster(), mapping, &[field]).unwrap();
        let window = Window::inside(lens.raster(), (300.0, 150.0), (3200.0, 1800.0)).unwrap();
        let shake = Shake::from_degrees(3.0, 2.0, 4.0).unwrap();
        let found = ShakeBudget::of(&lens, &Levelling::none(lens.raster()), &window, &shake).needed;
        let found = [found.left_px, found.top_px, found.right_px, found.bottom_px];
        let dense = dense_need(&lens, &window, &shake);
        for (found, dense) in found.into_iter().zip(dense) {
            assert!((dense - 0.05..=dense + 1e-9).contains(&found), "{mapping} {found} {dense}");
        }
    }
}

#[test]
fn a_yaw_moves_all_of_the_middle_row_of_an_equidistant_picture_alike() {
    // 180 degrees over 4000 px: 1.5 degrees are 33.33 px, at the edge as in the middle.
    let field = FieldOfView::from_degrees(Span::Horizontal, 180.0).unwrap();
    let lens = Lens::new(lens().raster(), Mapping::Equidistant, &[field]).unwrap();
    let shake = Shake::from_degrees(1.5, 0.0, 0.0).unwrap();
    // A strip about the middle row: its outline is all but that row.
    let strip = Window::inside(lens.raster(), (100.0, 1499.0), (3800.0, 2.0)).unwrap();
    let budget = ShakeBudget::of(&lens, &Levelling::none(lens.raster()), &strip, &shake);
    assert!((budget.needed.right_px - 4000.0 * 1.5 / 180.0).abs() < 1e-3, "{budget:?}");
    assert!(
        (budget.centre_only.needed_width_px - 3800.0 - 2.0 * 4000.0 * 1.5 / 180.0).abs() < 1e-9
    );
    assert!(budget.passes());
}

#[test]
fn the_largest_window_of_a_fisheye_has_its_room_and_a_larger_one_has_not() {
    let field = FieldOfView::from_degrees(Span::Horizontal, 150.0).unwrap();
    let lens = Lens::new(lens().raster(), Mapping::Equisolid, &[field]).unwrap();
    let shake = Shake::from_degrees(1.5, 1.5, 1.0).unwrap();
    let level = Levelling::from_degrees(lens.raster(), 4.0).unwrap();
    let largest = ShakeBudget::of(&lens, &level, &uhd(), &shake).largest_width_px.unwrap();
    let of_width = |width: f64| {
        let shape = "16:9".parse().unwrap();
        let window = Window::about(lens.raster(), shape, (2000.0, 1500.0), width).unwrap();
        ShakeBudget::of(&lens, &level, &window, &shake)
    };
    assert!(of_width(largest).passes() && !of_width(largest + 0.01).passes(), "{largest}");
}
