//! The trade study's hand-checkable scenarios, on an invented 4000 x 3000 camera. Their numbers are arithmetic
//! that can be done by hand from the rasters and boxes given there; where they lean on a rule of the trade, it
//! is common practice without a source.

use crate::{
    before_mounting::folder,
    command::{lookroom_in, stderr, stdout},
};
use lookroom::{
    delivery::Limits,
    geometry::{
        Allowed, AxisLimits, InsideCrop, Orientation, OutputFromSource, QuarterTurn, Raster,
        Rounding, Shape, SourcePoint, Window, largest_window, snap_size,
    },
    lens::{FieldOfView, GroundSpeed, Lens, Mapping, PossibleLenses, SaidMapping, Shake, Span},
    sharpness::{enlargement, kept_detail},
    tasks::{CropQuestion, ShakeAnswer, crop_answer},
    timecode::{FrameIndex, FrameRate, Timecode},
};

fn raster(text: &str) -> Raster {
    text.parse().unwrap()
}

fn shape(text: &str) -> Shape {
    text.parse().unwrap()
}

fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!(
        (actual - expected).abs() <= tolerance,
        "{actual} is not {expected} within {tolerance}"
    );
}

/// E of the largest window of a delivered raster's shape, before rounding.
fn least_enlargement(capture: &str, delivered: &str) -> f64 {
    let (capture, delivered) = (raster(capture), raster(delivered));
    enlargement(delivered.width(), largest_window(capture, delivered.shape()).0)
}

/// T1: five modes against UHD and 9:16, and the spare height of a 16:9 window in percent of the capture.
#[test]
fn t1_modes_against_deliverables() {
    for (mode, uhd, vertical, spare_percent) in [
        ("4000x3000", 0.960, 0.640, 25.0),
        ("3840x2160", 1.000, 0.889, 0.0),
        ("2720x2040", 1.412, 0.941, 25.0),
        ("1920x1080", 2.000, 1.778, 0.0),
        ("3000x3000", 1.280, 0.640, 43.75),
    ] {
        close(least_enlargement(mode, "3840x2160"), uhd, 0.0005);
        close(least_enlargement(mode, "1080x1920"), vertical, 0.0005);
        let capture = raster(mode);
        let (_, height) = largest_window(capture, shape("16:9"));
        close(100.0 * (capture.height() - height) / capture.height(), spare_percent, 1e-9);
    }
}

/// T1: the full table of the first mode.
#[test]
fn t1_full_table_of_the_tall_mode() {
    for (delivered, expected) in
        [("1920x1080", 0.480), ("2048x858", 0.512), ("1080x1080", 0.360), ("1080x1350", 0.450)]
    {
        close(least_enlargement("4000x3000", delivered), expected, 1e-9);
    }
    let capture = raster("4000x3000");
    let (_, height) = largest_window(capture, raster("2048x858").shape());
    close(height, 1675.78, 0.005);
    close(3000.0 - height, 1324.2, 0.05);
    close(100.0 * (3000.0 - height) / 3000.0, 44.1, 0.05);
    assert_eq!(largest_window(capture, shape("1:1")).0, 3000.0);
    assert_eq!(4000.0 - largest_window(capture, shape("4:5")).0, 1600.0);
    assert_eq!(largest_window(capture, shape("9:16")), (1687.5, 3000.0));
    close(100.0 * 2312.5 / 4000.0, 57.8, 0.05);
}

/// T2: spare room of a centred 16:9 and 9:16 window, px only.
#[test]
fn t2_spare_room_of_centred_windows() {
    let question = |to: &str| CropQuestion::plain(raster("4000x3000"), shape(to));
    let wide = crop_answer(&question("16:9"), &Limits::default()).unwrap();
    assert_eq!(wide.spare.px, [0.0, 375.0, 0.0, 375.0]);
    assert_eq!(wide.spare.percent_of_capture, [0.0, 12.5, 0.0, 12.5]);
    close(wide.spare.percent_of_window[1], 100.0 / 6.0, 1e-9);
    assert_eq!(wide.spare.px[1] + wide.window_px[3] + wide.spare.px[3], 3000.0);
    let tall = crop_answer(&question("9:16"), &Limits::default()).unwrap();
    assert_eq!(tall.spare.px, [1156.25, 0.0, 1156.25, 0.0]);
}

/// T5: a logo to keep in with 5 % margin against a face wanted in the middle third, in a full-height 9:16.
#[test]
fn t5_logo_against_face() {
    let width = 1687.5;
    let logo = AxisLimits::default().lying_within(0.0, 4000.0).keeping_in(1500.0, 1740.0, 0.05);
    assert_eq!(logo.allowed(width), Allowed::Between { from_px: 136.875, to_px: 1415.625 });
    let face = AxisLimits::default().placing(2600.0, 1.0 / 3.0, 2.0 / 3.0);
    let Allowed::Between { from_px, to_px } = face.allowed(width) else {
        panic!("the face has a place")
    };
    close(from_px, 1475.0, 1e-9);
    close(to_px, 2037.5, 1e-9);
    let both = logo.placing(2600.0, 1.0 / 3.0, 2.0 / 3.0);
    let Allowed::Nowhere { missing_px, wanted_from_px, wanted_to_px } = both.allowed(width) else {
        panic!("the two contradict each other")
    };
    close(missing_px, 59.375, 1e-9);
    close(wanted_from_px, 1475.0, 1e-9);
    // The nearest that keeps the logo puts the face at 70.2 % of the width.
    close(100.0 * (2600.0 - wanted_to_px) / width, 70.2, 0.05);
    close(240.0 * enlargement(1080.0, width), 153.6, 1e-9);
}

/// T5: the same in a square, where both have a place and the logo is delivered 86.4 px wide.
#[test]
fn t5_logo_and_face_in_a_square() {
    let square = AxisLimits::default()
        .lying_within(0.0, 4000.0)
        .keeping_in(1500.0, 1740.0, 0.05)
        .placing(2600.0, 1.0 / 3.0, 2.0 / 3.0);
    let Allowed::Between { from_px, to_px } = square.allowed(3000.0) else {
        panic!("both have a place")
    };
    close(from_px, 600.0, 1e-9);
    close(to_px, 1000.0, 1e-9);
    let logo_alone = AxisLimits::default().keeping_in(1500.0, 1740.0, 0.05);
    assert_eq!(logo_alone.allowed(3000.0), Allowed::Between { from_px: -1110.0, to_px: 1350.0 });
    close(240.0 * enlargement(1080.0, 3000.0), 86.4, 1e-9);
    for (delivered, px) in [("1080x1350", 108.0), ("1920x1080", 115.2), ("3840x2160", 230.4)] {
        close(240.0 * least_enlargement("4000x3000", delivered), px, 1e-9);
    }
}

/// T5: two subjects of 300 px, centres 1500 px apart: a span of 1800 px.
#[test]
fn t5_two_subjects() {
    let both = AxisLimits::default().lying_within(0.0, 4000.0).keeping_in(1000.0, 2800.0, 0.0);
    let Allowed::Nowhere { missing_px, .. } = both.allowed(1687.5) else {
        panic!("too wide for 9:16")
    };
    close(missing_px, 112.5, 1e-9);
    let Allowed::Between { from_px, to_px } = both.allowed(2400.0) else { panic!("4:5 has room") };
    let middle = f64::midpoint(from_px, to_px);
    close(1000.0 - middle, 300.0, 1e-9);
    close(100.0 * 300.0 / 2400.0, 12.5, 1e-9);
}

/// T6: rows of a facing paddler: helmet top 300, hands 1900, deck from 2400.
#[test]
fn t6_headroom_against_the_deck() {
    let rows = AxisLimits::default().lying_within(0.0, 3000.0);
    let deck_out = rows.clone().ending_before(2400.0);
    assert_eq!(deck_out.allowed(2250.0), Allowed::Between { from_px: 0.0, to_px: 150.0 });
    let with_headroom = deck_out.clone().leaving_before(300.0, 0.08);
    assert_eq!(with_headroom.allowed(2250.0), Allowed::Between { from_px: 0.0, to_px: 120.0 });
    // 4:5 with the deck out: as high as the deck allows, and E 0.5625.
    let (_, height) = deck_out.sizes(0.0, 3000.0).unwrap();
    assert_eq!(height, 2400.0);
    let width = shape("4:5").width_for(height);
    assert_eq!((width, enlargement(1080.0, width)), (1920.0, 0.5625));
    close(100.0 * 300.0 / height, 12.5, 1e-9);
}

/// T6: 9:16 with the top 12 % and the bottom 20 % covered, without the deck and with it.
#[test]
fn t6_both_vertical_answers() {
    let rows = AxisLimits::default().lying_within(0.0, 3000.0);
    let free = rows.clone().leaving_before(300.0, 0.12).leaving_after(1900.0, 0.20);
    let Allowed::Nowhere { missing_px, .. } = free.allowed(3000.0) else {
        panic!("the helmet is covered")
    };
    close(missing_px, 60.0, 1e-9);
    let (_, height) = free.sizes(0.0, 3000.0).unwrap();
    close(height, 2500.0, 1e-9);
    let vertical = shape("9:16");
    close(vertical.width_for(height), 1406.25, 1e-9);
    close(enlargement(1080.0, vertical.width_for(height)), 0.768, 1e-9);
    let size =
        snap_size(Rounding::EvenExactShape, vertical, vertical.width_for(height), (4000.0, 3000.0))
            .unwrap();
    assert_eq!((size.width_px, size.height_px), (1404.0, 2496.0));
    close(enlargement(1080.0, size.width_px), 0.7692, 0.00005);
    close(100.0 * 300.0 / size.height_px, 12.02, 0.005);
    close(100.0 * 1900.0 / size.height_px, 76.1, 0.05);
    assert_eq!(2000.0 - size.width_px / 2.0, 1298.0);
    // With the deck kept out as well.
    let (_, height) = free.ending_before(2400.0).sizes(0.0, 3000.0).unwrap();
    close(height, 2400.0, 1e-9);
    let width = vertical.width_for(height);
    close(width, 1350.0, 1e-9);
    close(enlargement(1080.0, width), 0.800, 1e-9);
    close(100.0 * 300.0 / height, 12.5, 1e-9);
    close(100.0 * 1900.0 / height, 79.2, 0.05);
}

/// T11: frame numbers, scale, offsets and timecode of one hand-off.
#[test]
fn t11_hand_off_numbers() {
    let rate = FrameRate::new(25, 1).unwrap();
    let start = Timecode::parse("10:12:30:00", rate).unwrap();
    let event = Timecode::parse("10:12:34:12", rate).unwrap();
    assert_eq!(event.frames_since_midnight() - start.frames_since_midnight(), 112);

    let (source, delivered) = (raster("4000x3000"), raster("1080x1920"));
    let window = Window::inside(source, (2312.5, 0.0), (1687.5, 3000.0)).unwrap();
    let map = OutputFromSource::upright(source, &window, delivered);
    close(map.scale().0, 0.64, 1e-12);
    close(map.scale().1, 0.64, 1e-12);
    assert_eq!((window.centre_x(), window.centre_y()), (3156.25, 1500.0));
    let (offset_x, offset_y) = map.picture_offset_px();
    close(offset_x, -740.0, 1e-9);
    close(offset_y, 0.0, 1e-9);
    close(offset_x / 1080.0, -0.6852, 0.00005);
    close(map.scale_from_fit(), 2.3704, 0.00005);
    // By the convention that counts pixel centres the same place reads half a px less.
    close(window.centre_x() - 0.5, 3155.75, 0.0);

    let proxy = raster("2000x1500");
    let half = Window::inside(proxy, (1156.25, 0.0), (843.75, 1500.0)).unwrap();
    let map = OutputFromSource::upright(proxy, &half, delivered);
    close(map.scale().0, 1.28, 1e-12);
    close(map.picture_offset_px().0, -740.0, 1e-9);

    let hundred = FrameRate::new(100, 1).unwrap();
    close(hundred.seconds_at(FrameIndex(448)), 4.48, 1e-12);
    close(rate.seconds_at(FrameIndex(448)), 17.92, 1e-12);
}

/// A 1440-line capture in HD and UHD: "full resolution" and "a little low" (common practice, no source).
#[test]
fn the_usual_tall_capture_is_one_for_one_in_hd() {
    assert_eq!(least_enlargement("1920x1440", "1920x1080"), 1.0);
    assert_eq!(least_enlargement("1920x1440", "3840x2160"), 2.0);
    assert_eq!(1440.0 - largest_window(raster("1920x1440"), shape("16:9")).1, 360.0);
    assert_eq!(kept_detail(1920.0, 3840.0), 0.5);
}

/// A map and its inverse return, and the window's corners are the delivered picture's.
#[test]
fn corners_of_the_window_are_corners_of_the_picture() {
    let (source, delivered) = (raster("4000x3000"), raster("1920x1080"));
    let window = Window::inside(source, (120.0, 376.0), (3000.0, 1688.0)).unwrap();
    let map = OutputFromSource::upright(source, &window, delivered);
    for (x, y, to_x, to_y) in
        [(window.left(), window.top(), 0.0, 0.0), (window.right(), window.bottom(), 1920.0, 1080.0)]
    {
        let point = map.map(SourcePoint { x, y });
        close(point.x, to_x, 1e-9);
        close(point.y, to_y, 1e-9);
        let back = map.source_of(point);
        close(back.x, x, 1e-9);
        close(back.y, y, 1e-9);
    }
}

/// T7: "10 %" is refused with its three factors, and each reading is a true E of its own (D14: E / factor).
#[test]
fn t7_stabiliser_ambiguity() {
    let refusal = "10 %".parse::<InsideCrop>().unwrap_err().to_string();
    for factor in ["per side leaves 0.800", "of width 0.900", "of area 0.949"] {
        assert!(refusal.contains(factor), "{refusal}");
    }
    // A 4000 px wide window in 3840: E 0.96 in the file; 0.96 / 0.8 = 1.2, / 0.9 = 1.0667, / 0.948683 = 1.0119.
    for (crop, factor, true_e) in [
        ("per-side:0.1", 0.80, 1.2),
        ("of-width:0.1", 0.90, 1.066_667),
        ("of-area:0.1", 0.948_683, 1.011_929),
    ] {
        let inside_crop: InsideCrop = crop.parse().unwrap();
        close(inside_crop.linear_factor(), factor, 1e-6);
        let question = CropQuestion {
            delivered: vec![raster("3840x2160")],
            inside_crop,
            ..CropQuestion::plain(raster("4000x3000"), shape("16:9"))
        };
        let answer = crop_answer(&question, &Limits::default()).unwrap();
        let softness = &answer.delivered[0].softness;
        close(softness.enlargement, true_e, 1e-6);
        close(softness.carried_across_px, 4000.0 * factor, 0.005);
    }
}

/// T2: the same spare room in degrees, through a lens of 90 degrees: 36.870 - 29.358 and 45 - 22.874.
#[test]
fn t2_spare_room_in_degrees() {
    let question = |to: &str| CropQuestion {
        fields_of_view: vec![FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap()],
        ..CropQuestion::plain(raster("4000x3000"), shape(to))
    };
    let degrees = |question: &CropQuestion| {
        let answer = crop_answer(question, &Limits::default()).unwrap();
        answer.spare.degrees.unwrap().map(|side| (side.from(), side.to()))
    };
    let [_, top, _, bottom] = degrees(&question("16:9"));
    let [left, _, right, _] = degrees(&question("9:16"));
    for ((from, to), degrees) in [(top, 7.512), (bottom, 7.512), (left, 22.126), (right, 22.126)] {
        close(from, degrees, 0.0005);
        close(to, degrees, 0.0005);
    }
    // K6: 120 degrees across an equidistant picture, 0.03 a px: 375 px are 11.25 and 1156.25 px are 34.69.
    let k6 = |to: &str| CropQuestion {
        fields_of_view: vec![FieldOfView::from_degrees(Span::Horizontal, 120.0).unwrap()],
        mapping: SaidMapping::Known(Mapping::Equidistant),
        ..question(to)
    };
    close(degrees(&k6("16:9"))[1].0, 11.25, 1e-9);
    close(degrees(&k6("9:16"))[0].0, 34.6875, 1e-9);
    let without = CropQuestion::plain(raster("4000x3000"), shape("16:9"));
    assert_eq!(crop_answer(&without, &Limits::default()).unwrap().spare.degrees, None);
}

/// Story 3: 102.68 degrees corner to corner are 90.00 by 73.74, and as horizontal they are told to disagree.
#[test]
fn story_3_the_field_of_view_is_diagonal() {
    let lens = |fields: &[(Span, f64)]| {
        let fields: Vec<FieldOfView> = fields
            .iter()
            .map(|(span, degrees)| FieldOfView::from_degrees(*span, *degrees).unwrap())
            .collect();
        Lens::new(raster("4000x3000"), Mapping::Rectilinear, &fields)
    };
    let diagonal = lens(&[(Span::Diagonal, 102.68)]).unwrap();
    close(diagonal.field_of_view(Span::Horizontal).to_degrees(), 90.0, 0.005);
    close(diagonal.field_of_view(Span::Vertical).to_degrees(), 73.74, 0.005);
    assert!(lens(&[(Span::Horizontal, 102.68), (Span::Vertical, 73.74)]).is_err());
}

/// T3: where a footbridge's boat and horizon fall, told as a range as long as nobody knows the mapping.
#[test]
fn t3_rows_of_an_unknown_lens() {
    let field = FieldOfView::from_degrees(Span::Vertical, 73.739_795).unwrap();
    let lenses = PossibleLenses::new(raster("4000x3000"), SaidMapping::Unknown, &[field]).unwrap();
    let row = |below_level: f64| {
        lenses.every(|lens| lens.row_at(below_level - 30_f64.to_radians())).unwrap()
    };
    // The lens is 6 m above the water and the boat 8 m out.
    let (boat, horizon) = (row((6.0_f64 / 8.0).atan()), row(0.0));
    assert_eq!(format!("{boat:.1}, {horizon:.1}"), "1741.0 to 1779.5, 279.5 to 345.3");
    // Centred 16:9 begins at row 375: the horizon is above it in either case.
    assert!(horizon.to() < 375.0);
    // 3.5 m of boat, 10 cos 6.870 deg = 9.928 m deep: 705.1 px through the straight-line lens.
    let straight = lenses.iter().next().unwrap();
    let depth = 10.0 * ((6.0_f64 / 8.0).atan() - 30_f64.to_radians()).cos();
    let half = straight.column_at((1.75 / depth).atan()).unwrap() - 2000.0;
    close(2.0 * half, 705.1, 0.05);
}

/// T6: a helmet at row 300 that should be at row 360 is a tilt of atan(0.600) - atan(0.570) up.
#[test]
fn t6_the_tilt_at_that_row() {
    let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
    let lens = Lens::new(raster("4000x3000"), Mapping::Rectilinear, &[field]).unwrap();
    close(lens.angle_down(300.0, 360.0).unwrap().to_degrees(), 1.28, 0.005);
    close(lens.angle_down(300.0, 360.0).unwrap(), 0.6_f64.atan() - 0.57_f64.atan(), 1e-12);
}

/// T7: at the 45 degree edge the same shake moves a point about twice as far as in the centre.
#[test]
fn t7_the_edge_moves_twice_as_far() {
    let field = FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap();
    let lens = Lens::new(raster("4000x3000"), Mapping::Rectilinear, &[field]).unwrap();
    let column = |degrees: f64| lens.column_at(degrees.to_radians()).unwrap();
    // By hand: 2000 (1 - tan 43.5°), 2000 (tan 46.5° - 1), and in the centre 2000 tan 1.5°.
    close(column(45.0) - column(43.5), 102.07, 0.005);
    close(column(46.5) - column(45.0), 107.56, 0.005);
    close(column(1.5) - column(0.0), 52.37, 0.005);
}

/// What the command is asked in T7: UHD one for one from an arm that shakes.
fn shaken(degrees: f64) -> ShakeAnswer {
    shaken_by(Shake::from_degrees(degrees, degrees, 1.0).unwrap())
}

fn shaken_by(shake: Shake) -> ShakeAnswer {
    let question = CropQuestion {
        delivered: vec![raster("3840x2160")],
        fields_of_view: vec![FieldOfView::from_degrees(Span::Horizontal, 90.0).unwrap()],
        shake: Some(shake),
        ..CropQuestion::plain(raster("4000x3000"), shape("16:9"))
    };
    crop_answer(&question, &Limits::default()).unwrap().shake.remove(0)
}

/// T7 and story 22, UHD or bust: turned through the lens, 1.5 degrees already are a no.
#[test]
fn t7_shaking_arm_by_true_rotation() {
    for (degrees, edge_px, least_e, width) in
        [(1.5, 103.23, 1.036, 3706.0), (2.0, 138.86, 1.059, 3626.0)]
    {
        let answer = shaken(degrees);
        assert_eq!(answer.window_px, [80.0, 420.0, 3840.0, 2160.0]);
        assert!(!answer.passes);
        close(answer.available_px[0], 80.0, 1e-9);
        // By hand: 2000 tan(atan(0.96) + shake) - 1920.
        close(answer.needed_by_one_turn_px[0], edge_px, 0.005);
        assert!(answer.needed_px[0] > edge_px, "pitch and roll come on top at the corner");
        close(answer.missing_px, answer.needed_px[0] - 80.0, 1e-9);
        close(answer.least_enlargement.unwrap(), least_e, 0.0005);
        close(answer.largest_width_px.unwrap(), width, 2.0);
    }
    // A quieter mount passes.
    assert!(shaken(0.4).passes);
}

/// T7: the figures of the centre alone are shown for comparison, and pass at 1.5 degrees.
#[test]
fn t7_the_centre_only_comparison() {
    let quiet = shaken(1.5).centre_only;
    assert!(quiet.passes);
    close(quiet.needed_px[0], 3981.86, 0.005);
    close(quiet.needed_px[1], 2331.43, 0.005);
    close(quiet.spare_a_side_px[0], 9.07, 0.005);
    close(2.0 * quiet.spare_a_side_px[1], 668.6, 0.05);
    // Its parts: the width that roll alone asks for, 3840 cos 1° + 2160 sin 1°, the height likewise, and twice 2000 tan 1.5°.
    let rolled = shaken_by(Shake::from_degrees(0.0, 0.0, 1.0).unwrap()).centre_only;
    close(rolled.needed_px[0], 3877.11, 0.005);
    close(rolled.needed_px[1], 2226.69, 0.005);
    for axis in [0, 1] {
        close(quiet.needed_px[axis] - rolled.needed_px[axis], 104.74, 0.005);
    }
    let wild = shaken(2.0).centre_only;
    assert!(!wild.passes);
    close(wild.needed_px[0], 4016.80, 0.005);
    close(wild.least_enlargement.unwrap(), 1.0044, 0.00005);
}

/// T8: on its side 3000 x 4000, and a stored point there and back.
#[test]
fn t8_on_its_side() {
    let turned = raster("3000x4000");
    assert_eq!(largest_window(turned, shape("9:16")), (2250.0, 4000.0));
    close(least_enlargement("3000x4000", "1080x1920"), 0.480, 1e-12);
    assert_eq!(largest_window(turned, shape("16:9")), (3000.0, 1687.5));
    close(least_enlargement("3000x4000", "3840x2160"), 1.280, 1e-12);
    close(least_enlargement("3000x4000", "1920x1080"), 0.640, 1e-12);
    let clockwise = Orientation { turn: QuarterTurn::Clockwise, is_mirrored: false };
    let stored = raster("4000x3000");
    let shown = clockwise.shown(SourcePoint { x: 1000.0, y: 600.0 }, stored);
    assert_eq!(shown, SourcePoint { x: 2400.0, y: 1000.0 });
    let back = clockwise.inverse().shown(shown, turned);
    assert_eq!(back, SourcePoint { x: 1000.0, y: 600.0 });
}

/// T8: upright but 6 degrees off level; by D11, 4000 / (cos 6° + 0.5625 sin 6°).
#[test]
fn t8_tilted() {
    let question = CropQuestion {
        delivered: vec![raster("3840x2160"), raster("1920x1080")],
        level_degrees: 6.0,
        ..CropQuestion::plain(raster("4000x3000"), shape("16:9"))
    };
    let answer = crop_answer(&question, &Limits::default()).unwrap();
    close(answer.largest_px[0], 3797.5, 0.05);
    close(answer.largest_px[1], 2136.1, 0.05);
    assert_eq!(answer.largest_px[0], answer.window_px[2]);
    close(answer.delivered[0].softness.enlargement, 1.0112, 0.00005);
    close(answer.delivered[1].softness.enlargement, 0.5056, 0.00005);
    // It touches the sides of the turned frame and has room above and below.
    close(answer.spare.px[0], 0.0, 1e-9);
    close(answer.spare.px[2], 0.0, 1e-9);
    assert!(answer.spare.px[1] > 200.0);
    let same_the_other_way = CropQuestion { level_degrees: -6.0, ..question };
    let other = crop_answer(&same_the_other_way, &Limits::default()).unwrap();
    close(other.largest_px[0], answer.largest_px[0], 1e-9);
}

/// T4: 5 m/s over ground seen 30 degrees down, from 0.3 m and from 1.2 m: 238.7 and 59.7 degrees a second along
/// the travel, 477.5 and 119.4 abeam, and exactly four times either way.
#[test]
fn t4_low_and_close_against_high() {
    let seen = |height: f64| GroundSpeed::of(5.0, height, 30.0_f64.to_radians()).unwrap();
    let (low, high) = (seen(0.3), seen(1.2));
    close(low.along.to_degrees(), 238.7, 0.05);
    close(high.along.to_degrees(), 59.7, 0.05);
    close(low.abeam.to_degrees(), 477.5, 0.05);
    close(high.abeam.to_degrees(), 119.4, 0.05);
    close(low.along / high.along, 4.0, 1e-12);
    close(low.abeam / high.abeam, 4.0, 1e-12);
}

/// T2, T6: degrees are differences of edge angles. 375 of 3000 px of 73.74 degrees would be 9.22, and 60 px 1.47; the true ones
/// are 7.512 and 1.28. Every number that a command prints is looked at.
#[test]
fn no_command_takes_degrees_by_the_average() {
    let kit = "camera,mode,raster,rate,mapping,fov_degrees,fov_along\nK,K1,4000x3000,50,rectilinear,90,horizontal\n";
    let brief = "version = 1\ntimeline_rate = \"25\"\nkit = \"kit.csv\"\n[[deliverable]]\nname = \"film\"\nraster = \
                 \"3840x2160\"\n[[mount]]\nname = \"bridge\"\nmode = \"K1\"\nheight = 6\ntilt_down = 30\nsubject = { name = \"boat\", \
                 width = 3.5, height = 1, distances = [8] }\n";
    let here = folder(kit, brief);
    let lens = ["--fov-horizontal", "90", "--mapping", "rectilinear"];
    let crop =
        [&["crop", "--from", "4000x3000", "--to", "3840x2160", "--rounding", "exact"], &lens[..]]
            .concat();
    let aim = [
        &[
            "aim",
            "--from",
            "4000x3000",
            "--to",
            "9:16",
            "--subject-top",
            "300",
            "--headroom",
            "0.12",
        ],
        &lens[..],
    ]
    .concat();
    for (arguments, truth) in [
        (crop, 7.512),
        (aim, 1.28),
        (vec!["modes", "brief.toml"], 7.512),
        (vec!["mount", "brief.toml"], 73.74),
    ] {
        let mut told = String::new();
        for more in [&[][..], &["--json"]] {
            let output = lookroom_in(here.path(), &[&arguments[..], more].concat());
            assert!(output.status.code() != Some(2), "{}", stderr(&output));
            told += &stdout(&output);
        }
        let numbers: Vec<f64> = told
            .split(|letter: char| !letter.is_ascii_digit() && letter != '.')
            .filter_map(|word| word.trim_end_matches('.').parse().ok())
            .collect();
        let has = |wanted: f64| numbers.iter().any(|found| (found - wanted).abs() < 0.006);
        assert!(has(truth), "{arguments:?}: {told}");
        for average in [73.739_795 / 3000.0 * 375.0, 73.739_795 / 3000.0 * 60.0] {
            assert!(!has(average), "{arguments:?} has {average}: {told}");
        }
    }
}

/// Story 6, through the command: the table of modes has both ways up, and the vertical is better on its side.
#[test]
fn story_6_both_ways_up_are_in_the_table() {
    let kit = "camera,mode,raster,rate\nK,K1,4000x3000,50\n";
    let brief = "version = 1\ntimeline_rate = \"25\"\nkit = \"kit.csv\"\n[[deliverable]]\nname = \"uhd\"\nraster = \"3840x2160\"\n\
                 [[deliverable]]\nname = \"vertical\"\nraster = \"1080x1920\"\n";
    let here = folder(kit, brief);
    let text = stdout(&lookroom_in(here.path(), &["modes", "brief.toml"]));
    let row = |title: &str| -> Vec<String> {
        let line =
            text.lines().find(|line| line.starts_with(title)).unwrap_or_else(|| panic!("{text}"));
        line[title.len()..].split_whitespace().map(str::to_owned).collect()
    };
    // T1 and T8: 3840/4000 and 1080/1687.5 upright, 3840/3000 and 1080/2250 on its side.
    assert_eq!(row("K K1, upright  "), ["2x", "0.96", "0.64"]);
    assert_eq!(row("K K1, on its side  "), ["2x", "1.28", "0.48"]);
}
