use super::*;
use crate::{
    geometry::{Levelling, QuarterTurn, Window},
    lens::{FisheyePolynomial, PossibleLenses, SaidMapping, Span},
};
use proptest::prelude::*;

fn capture() -> Raster {
    Raster::new(4000, 3000).unwrap()
}

fn field(span: Span, degrees: f64) -> FieldOfView {
    FieldOfView::from_degrees(span, degrees).unwrap()
}

fn lens(mapping: Mapping, span: Span, degrees: f64) -> Lens {
    Lens::new(capture(), mapping, &[field(span, degrees)]).unwrap()
}

/// 90 by 73.74 degrees, f 2000.
fn tall() -> Lens {
    lens(Mapping::Rectilinear, Span::Horizontal, 90.0)
}

fn unknown(fields: &[FieldOfView]) -> Result<PossibleLenses, LensError> {
    PossibleLenses::new(capture(), SaidMapping::Unknown, fields)
}

fn measured(k: [f64; 4]) -> Mapping {
    Mapping::Polynomial(FisheyePolynomial::new(k).unwrap())
}

fn near(a: f64, b: f64, within: f64) {
    assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
}

#[test]
fn fields_of_view_are_those_of_the_handbook() {
    // 2·atan(w / 2f) for a 36 mm wide picture: f 18, 24, 50 mm (computed; the formula is the textbook's).
    for (focal, degrees) in [(18.0, 90.0), (24.0, 73.7398), (50.0, 39.5978)] {
        let raster = Raster::new(36, 24).unwrap();
        let found =
            Calibrated { focal_px: (focal, focal), centre: SourcePoint { x: 18.0, y: 12.0 } };
        let lens = Lens::calibrated(raster, Mapping::Rectilinear, found).unwrap();
        near(lens.field_of_view(Span::Horizontal).to_degrees(), degrees, 5e-5);
    }
    // 90 degrees corner to corner: 16:9 is 82.1492 x 52.2338, 4:3 is 77.3196 x 61.9275 (computed).
    for ((wide, high), across, down) in
        [((1600, 900), 82.1492, 52.2338), ((4000, 3000), 77.3196, 61.9275)]
    {
        let raster = Raster::new(wide, high).unwrap();
        let lens = Lens::new(raster, Mapping::Rectilinear, &[field(Span::Diagonal, 90.0)]).unwrap();
        near(lens.field_of_view(Span::Horizontal).to_degrees(), across, 5e-5);
        near(lens.field_of_view(Span::Vertical).to_degrees(), down, 5e-5);
        near(lens.field_of_view(Span::Diagonal).to_degrees(), 90.0, 1e-9);
    }
}

#[test]
fn half_the_width_of_a_wide_picture_is_not_half_of_its_angle() {
    // The half-width window of a 120 degree picture: 81.7868 degrees straight-line, 60 equidistant (computed).
    let across = |mapping| {
        let lens = lens(mapping, Span::Horizontal, 120.0);
        lens.angle_across(1000.0, 3000.0).unwrap().to_degrees()
    };
    near(across(Mapping::Rectilinear), 81.7868, 5e-5);
    near(across(Mapping::Equidistant), 60.0, 1e-9);
}

#[test]
fn a_measured_fisheye_agrees_with_opencv() {
    // The model and its order of coefficients as in OpenCV's `calib3d.hpp`, "Fisheye camera model"; values of
    // `cv2.fisheye.projectPoints` and `undistortPoints` of cv2 5.0.0, points of z = 1.
    let raster = Raster::new(1920, 1080).unwrap();
    let found =
        Calibrated { focal_px: (1000.0, 1000.0), centre: SourcePoint { x: 960.0, y: 540.0 } };
    let lens = Lens::calibrated(raster, measured([-0.02, 0.01, -0.003, 0.0005]), found).unwrap();
    for ((x, y), (u, v)) in [
        ((0.5, 0.0), (1_421.855_148, 540.0)),
        ((1.0, 0.0), (1738.201, 540.0)),
        ((1.0, 1.0), (1_627.501_206, 1_207.501_206)),
        ((3.0, 0.0), (2_189.944_862, 540.0)),
    ] {
        let point = lens.point([x, y, 1.0]).unwrap();
        near(point.x, u, 1e-6);
        near(point.y, v, 1e-6);
    }
    let [right, down, ahead] = lens.direction(SourcePoint { x: 1700.0, y: 540.0 }).unwrap();
    near(right / ahead, 0.924_802, 1e-6);
    near(down, 0.0, 1e-12);
}

#[test]
fn a_polynomial_that_turns_back_in_the_frame_is_refused_with_the_angle() {
    // t − t³/3 turns back at 1 radian, 57.30 degrees, two thirds of a focal length out.
    let turning = measured([-1.0 / 3.0, 0.0, 0.0, 0.0]);
    let refusal = |lens: Result<Lens, LensError>| lens.unwrap_err().to_string();
    let found = |focal: f64| Calibrated {
        focal_px: (focal, focal),
        centre: SourcePoint { x: 2000.0, y: 1500.0 },
    };
    // The corners are 2500 px out: 2500 / (2/3) = 3750.
    let told = refusal(Lens::calibrated(capture(), turning, found(3749.0)));
    assert!(told.contains("turns back at 57.30 degrees") && told.contains("2500.0 px"), "{told}");
    assert!(Lens::calibrated(capture(), turning, found(3751.0)).is_ok());
    let told = refusal(Lens::new(capture(), turning, &[field(Span::Horizontal, 120.0)]));
    assert!(told.contains("57.30 degrees") && told.contains("of 120 degrees reaches"), "{told}");
    // 100 degrees across reach to 50 at the edge, and the corners further than that.
    assert!(Lens::new(capture(), turning, &[field(Span::Horizontal, 100.0)]).is_err());
    assert!(Lens::new(capture(), turning, &[field(Span::Diagonal, 100.0)]).is_ok());
}

#[test]
fn a_field_of_view_up_to_the_rim_is_a_lens() {
    let turning = measured([-0.31, 0.013, 0.0, 0.0]);
    for mapping in [Mapping::Orthographic, Mapping::Equisolid, Mapping::Equidistant, turning] {
        let degrees = mapping.greatest_field_degrees();
        let lens = lens(mapping, Span::Diagonal, degrees);
        near(lens.field_of_view(Span::Diagonal).to_degrees(), degrees, 1e-6);
    }
}

#[test]
fn what_no_calibration_finds_is_refused_with_its_range() {
    let with = |focal_px, (x, y)| {
        let found = Calibrated { focal_px, centre: SourcePoint { x, y } };
        Lens::calibrated(capture(), Mapping::Equidistant, found).unwrap_err().to_string()
    };
    assert!(with((0.5, 900.0), (1.0, 1.0)).contains("0.5 px is out of range, expected 1 to"));
    assert!(with((900.0, f64::NAN), (1.0, 1.0)).contains("NaN px"));
    assert!(with((900.0, 900.0), (4001.0, 1.0)).contains("4001,1 does not meet the 4000x3000"));
}

/// Every mapping over the frame, as wide as it goes or nearly.
fn all_round() -> Vec<Lens> {
    vec![
        lens(Mapping::Rectilinear, Span::Diagonal, 170.0),
        lens(Mapping::Equidistant, Span::Diagonal, 360.0),
        lens(Mapping::Equidistant, Span::Horizontal, 180.0),
        lens(Mapping::Equisolid, Span::Diagonal, 360.0),
        lens(Mapping::Stereographic, Span::Diagonal, 340.0),
        lens(Mapping::Orthographic, Span::Diagonal, 180.0),
        lens(Mapping::Orthographic, Span::Horizontal, 180.0),
        lens(measured([-0.02, 0.01, -0.003, 0.0005]), Span::Diagonal, 220.0),
        lens(measured([0.08, -0.02, 0.004, 0.0]), Span::Horizontal, 190.0),
        Lens::calibrated(
            capture(),
            measured([-0.02, 0.01, -0.003, 0.0005]),
            Calibrated { focal_px: (1500.0, 1480.0), centre: SourcePoint { x: 1985.0, y: 1510.5 } },
        )
        .unwrap(),
    ]
}

proptest! {
    #[test]
    fn a_point_comes_back_from_its_direction(x in 0.0..=4000.0_f64, y in 0.0..=3000.0_f64) {
        for lens in all_round() {
            let Some(direction) = lens.direction(SourcePoint { x, y }) else { continue };
            let length = direction.iter().map(|part| part * part).sum::<f64>();
            prop_assert!((length - 1.0).abs() < 1e-12);
            let back = lens.point(direction).unwrap();
            prop_assert!((back.x - x).hypot(back.y - y) < 1e-9, "{lens:?} {x} {y} {back:?}");
        }
    }

    #[test]
    fn a_direction_comes_back_from_its_point(
        right in -1.0..=1.0_f64, down in -1.0..=1.0_f64, ahead in -1.0..=1.0_f64,
    ) {
        for lens in all_round() {
            let Some(point) = lens.point([right, down, ahead]) else { continue };
            prop_assert!(point.x.is_finite() && point.y.is_finite());
            // Where the picture hardly grows with the angle, px say little of it.
            let Some(scale) = lens.local_scale(point) else { continue };
            if scale.radial_px_per_radian < 1e-3 * lens.focal_px() {
                continue;
            }
            let [a, b, c] = lens.direction(point).unwrap();
            let across = (b * ahead - c * down)
                .hypot(c * right - a * ahead)
                .hypot(a * down - b * right);
            let off = across.atan2(a * right + b * down + c * ahead);
            prop_assert!(off < 1e-9, "{lens:?} {right} {down} {ahead} {off}");
        }
    }

    #[test]
    fn columns_and_rows_come_back_from_their_angles(share in 0.0..=1.0_f64) {
        for lens in all_round() {
            let (x, y) = (4000.0 * share, 3000.0 * share);
            for (back, from) in [
                (lens.column_angle(x).map(|angle| lens.column_at(angle)), x),
                (lens.row_angle(y).map(|angle| lens.row_at(angle)), y),
            ] {
                let Some(back) = back else { continue };
                prop_assert!((back.unwrap() - from).abs() < 1e-9, "{lens:?} {from} {back:?}");
            }
        }
    }
}

#[test]
fn the_edges_of_the_frame_come_back_to_the_last_px() {
    for lens in all_round() {
        let mut seen = 0;
        for step in 0..=200 {
            let share = f64::from(step) / 200.0;
            for (x, y) in
                [(4000.0 * share, 0.0), (0.0, 3000.0 * share), (4000.0 * share, 3000.0 * share)]
            {
                let Some(direction) = lens.direction(SourcePoint { x, y }) else { continue };
                let back = lens.point(direction).unwrap();
                near((back.x - x).hypot(back.y - y), 0.0, 1e-9);
                seen += 1;
            }
        }
        assert!(seen > 200, "{lens:?}");
    }
}

#[test]
fn what_is_not_drawn_has_no_direction_and_no_point() {
    let round = lens(Mapping::Orthographic, Span::Horizontal, 180.0);
    assert_eq!(round.direction(SourcePoint { x: 0.0, y: 0.0 }), None);
    assert_eq!(round.point([1.0, 0.0, -0.01]), None);
    for behind in
        [[1.0, 0.0, 0.0], [1.0, 0.0, -1.0], [0.0; 3], [f64::NAN, 0.0, 1.0], [0.0, 0.0, -1.0]]
    {
        assert_eq!(tall().point(behind), None);
    }
    assert_eq!(tall().direction(SourcePoint { x: f64::NAN, y: 0.0 }), None);
    assert_eq!(tall().point([f64::INFINITY, 0.0, 1.0]), None);
    // 360 degrees across: the sides of the frame are straight behind, and its corners are outside.
    let all = lens(Mapping::Equidistant, Span::Horizontal, 360.0);
    assert_eq!(all.direction(SourcePoint { x: 1.0, y: 1.0 }), None);
    near(all.direction(SourcePoint { x: 0.0, y: 1500.0 }).unwrap()[2], -1.0, 1e-12);
    near(all.field_of_view(Span::Diagonal).to_degrees(), 360.0, 1e-9);
}

#[test]
fn spare_room_in_degrees_is_a_difference_of_edge_angles() {
    // By hand: 36.870 - 29.358 = 7.512 up and down, 45 - 22.874 = 22.126 to the sides.
    let upright = Levelling::none(capture());
    let film = Window::inside(capture(), (0.0, 375.0), (4000.0, 2250.0)).unwrap();
    let [left, top, right, bottom] = tall().spare_angles(&upright, &film).map(f64::to_degrees);
    assert_eq!((left, right), (0.0, 0.0));
    near(top, 7.512, 5e-4);
    near(bottom, 7.512, 5e-4);
    let vertical = Window::inside(capture(), (1156.25, 0.0), (1687.5, 3000.0)).unwrap();
    near(tall().spare_angles(&upright, &vertical)[0].to_degrees(), 22.126, 5e-4);
    // The shortcut of so many degrees for each px would say 9.22, which is wrong.
    assert!((top - 73.74 / 3000.0 * 375.0).abs() > 1.5);
    // By hand, 120 degrees across an equidistant picture of 4000 px, 0.03 degrees each: 11.25 and 34.69.
    let even = lens(Mapping::Equidistant, Span::Horizontal, 120.0);
    near(even.spare_angles(&upright, &film)[1].to_degrees(), 11.25, 1e-9);
    near(even.spare_angles(&upright, &vertical)[2].to_degrees(), 34.6875, 1e-9);
}

#[test]
fn beyond_the_rim_of_the_image_circle_nothing_is_spare() {
    // 160 degrees down put the rim 1500 / sin 80° = 1523 px out, and the frame's sides beyond it.
    let round = lens(Mapping::Orthographic, Span::Vertical, 160.0);
    near(round.field_of_view(Span::Horizontal).to_degrees(), 180.0, 1e-9);
    let film = Window::inside(capture(), (400.0, 375.0), (3200.0, 1800.0)).unwrap();
    let [left, top, right, _] = round.spare_angles(&Levelling::none(capture()), &film);
    assert_eq!((left, right), (0.0, 0.0));
    near(top, 80_f64.to_radians() - (1125.0 * 80_f64.to_radians().sin() / 1500.0).asin(), 1e-12);
    assert_eq!(round.angle_across(0.0, 2000.0), None);
}

#[test]
fn a_boat_before_a_footbridge_is_in_these_rows_whatever_the_mapping() {
    // By hand: the lens 6 m above the water, pitched down 30 degrees; the boat 8 m out is 36.870 degrees below
    // level, 6.870 below the axis. Straight-line 1500 + 2000 tan 6.870° = 1741.0, and 1500 − 2000 tan 30° = 345.3 for
    // the horizon; equidistant of the same height 1779.5 and 279.5.
    let lenses = unknown(&[field(Span::Vertical, 2.0 * 0.75_f64.atan().to_degrees())]).unwrap();
    let below_axis = (6.0_f64 / 8.0).atan() - 30_f64.to_radians();
    let row = |angle: f64| lenses.every(|lens| lens.row_at(angle)).unwrap();
    assert_eq!(format!("{:.1}", row(below_axis)), "1741.0 to 1779.5");
    assert_eq!(format!("{:.1}", row(-30_f64.to_radians())), "279.5 to 345.3");
}

#[test]
fn a_diagonal_gives_each_candidate_its_own_width() {
    // By hand, 102.68 degrees corner to corner: straight-line 90.00 across; equidistant 102.68 · 0.8 = 82.14.
    let lenses = unknown(&[field(Span::Diagonal, 102.68)]).unwrap();
    let across = lenses.field_of_view(Span::Horizontal).to_degrees();
    assert_eq!(format!("{across:.2}"), "82.14 to 90.00");
    assert_eq!(format!("{:.2}", lenses.field_of_view(Span::Diagonal).to_degrees()), "102.68");
    assert_eq!(lenses.words(), "a straight-line lens or an equidistant fisheye");
    assert!(lenses.known().is_none());
}

#[test]
fn two_fields_of_view_can_tell_the_mapping() {
    let across = field(Span::Horizontal, 90.0);
    let straight = unknown(&[across, field(Span::Vertical, 74.0)]).unwrap();
    assert_eq!(straight.known(), Some(&tall()));
    // 90 · 3/4 = 67.5.
    let even = unknown(&[across, field(Span::Vertical, 67.5)]).unwrap();
    assert_eq!(even.known().unwrap().mapping(), &Mapping::Equidistant);
    let neither = unknown(&[across, field(Span::Vertical, 90.0)]).unwrap_err().to_string();
    assert!(neither.contains("makes the vertical one 67.50 to 73.74 degrees"), "{neither}");
    // An unknown lens of 180 degrees is no straight-line one: its mapping has to be said.
    let wide = unknown(&[field(Span::Horizontal, 180.0)]).unwrap_err().to_string();
    assert!(wide.contains("expected 1 to 170 degrees for a straight-line lens"), "{wide}");
}

#[test]
fn the_candidates_hold_stereographic_pictures_between_them_and_others_lie_beyond() {
    let angle = |mapping| lens(mapping, Span::Horizontal, 120.0).column_angle(3000.0).unwrap();
    let [straight, even] = SaidMapping::CANDIDATES.map(angle);
    let between = even..straight;
    assert!(between.contains(&angle(Mapping::Stereographic)));
    assert!(
        angle(Mapping::Equisolid) < even
            && angle(Mapping::Orthographic) < angle(Mapping::Equisolid)
    );
}

#[test]
fn a_tilt_is_the_angle_between_the_two_rows_themselves() {
    // By hand: atan(0.600) - atan(0.570) = 30.9638 - 29.6831, the rows 1200 and 1140 px above the middle.
    near(tall().angle_down(300.0, 360.0).unwrap().to_degrees(), 1.2806, 5e-5);
    assert!(tall().angle_down(360.0, 300.0).unwrap() < 0.0);
}

#[test]
fn the_angle_between_two_points_is_that_of_their_directions() {
    let corner = SourcePoint { x: 4000.0, y: 3000.0 };
    // By hand: the corner is atan(2500/2000) = 51.3402 degrees off the axis, and so is its opposite.
    let opposite = SourcePoint { x: 0.0, y: 0.0 };
    near(tall().angle_between(corner, opposite).unwrap().to_degrees(), 102.6804, 5e-5);
    // Two px side by side in the middle are 1/2000 apart, though their cosine is 1 to 7 digits.
    let [one, other] = [1999.5, 2000.5].map(|x| SourcePoint { x, y: 1500.0 });
    near(tall().angle_between(one, other).unwrap(), 2.0 * (0.5_f64 / 2000.0).atan(), 1e-15);
}

#[test]
fn a_diagonal_that_is_given_for_a_horizontal_is_told() {
    let said = |fields: &[FieldOfView]| Lens::new(capture(), Mapping::Rectilinear, fields);
    let (wide, high) = (field(Span::Horizontal, 102.68), field(Span::Vertical, 73.74));
    let told = said(&[wide, high]).unwrap_err().to_string();
    assert!(told.contains("makes the vertical one 86.30 degrees"), "{told}");
    let all =
        [field(Span::Horizontal, 90.0), field(Span::Vertical, 74.0), field(Span::Diagonal, 103.0)];
    assert_eq!(said(&all).unwrap(), tall());
    assert_eq!(said(&[]), Err(LensError::NoFieldOfView));
}

#[test]
fn a_tape_before_a_wall_gives_the_same_lens() {
    // 4.00 m of wall fill the width from 2.00 m away.
    let by_tape = FieldOfView::by_tape(Span::Horizontal, 4.0, 2.0).unwrap();
    let lens = Lens::new(capture(), Mapping::Rectilinear, &[by_tape]).unwrap();
    near(lens.focal_px(), 2000.0, 1e-9);
    let even = Lens::new(capture(), Mapping::Equidistant, &[by_tape]).unwrap();
    near(even.focal_px(), 4000.0 / std::f64::consts::PI * 2.0, 1e-9);
}

#[test]
fn a_turn_changes_the_sides_and_an_inside_crop_the_focal_length() {
    let on_its_side = Orientation { turn: QuarterTurn::Clockwise, is_mirrored: false };
    let turned = tall().shown(on_its_side);
    assert_eq!(turned.raster().to_string(), "3000x4000");
    near(turned.field_of_view(Span::Vertical).to_degrees(), 90.0, 1e-9);
    // By hand: 2·atan(0.9·tan 45°) = 83.97.
    let cropped = tall().behind_inside_crop(0.9);
    near(cropped.field_of_view(Span::Horizontal).to_degrees(), 83.97, 5e-3);
    // Of an equidistant picture the same crop leaves nine tenths of the angle.
    let even = lens(Mapping::Equidistant, Span::Horizontal, 120.0).behind_inside_crop(0.9);
    near(even.field_of_view(Span::Horizontal).to_degrees(), 108.0, 1e-9);
}

#[test]
fn a_turned_cropped_or_scaled_picture_shows_the_same_direction_at_the_same_thing() {
    let found =
        Calibrated { focal_px: (1500.0, 1480.0), centre: SourcePoint { x: 1985.0, y: 1510.5 } };
    let lens = Lens::calibrated(capture(), Mapping::Equisolid, found).unwrap();
    let stored = SourcePoint { x: 700.0, y: 2100.0 };
    let [right, down, ahead] = lens.direction(stored).unwrap();
    // A quarter clockwise carries right to down and down to left; a mirror then exchanges left and right.
    for (is_mirrored, sign) in [(false, -1.0), (true, 1.0)] {
        let turn = Orientation { turn: QuarterTurn::Clockwise, is_mirrored };
        let seen = lens.shown(turn).direction(turn.shown(stored, capture())).unwrap();
        near(seen[0], sign * down, 1e-12);
        near(seen[1], right, 1e-12);
        near(seen[2], ahead, 1e-12);
    }
    let cropped = SourcePoint { x: 2000.0 + (700.0 - 2000.0) / 0.8, y: 1500.0 + 600.0 / 0.8 };
    let seen = lens.behind_inside_crop(0.8).direction(cropped).unwrap();
    near(seen[0], right, 1e-12);
    near(seen[1], down, 1e-12);
    let half = lens.scaled_to(Raster::new(2000, 1500).unwrap());
    let seen = half.direction(SourcePoint { x: 350.0, y: 1050.0 }).unwrap();
    near(seen[0], right, 1e-12);
    near(seen[1], down, 1e-12);
}
