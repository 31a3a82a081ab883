//! The trade study's hand-checkable scenarios, on an invented 4000 x 3000 camera. Their numbers are arithmetic
//! that can be done by hand from the rasters and boxes given there; where they lean on a rule of the trade, it
//! is common practice without a source.

use lookroom::{
    delivery::Limits,
    geometry::{
        Allowed, AxisLimits, InsideCrop, OutputFromSource, Raster, Rounding, Shape, SourcePoint,
        Window, largest_window, snap_size,
    },
    sharpness::{enlargement, kept_detail},
    tasks::{CropQuestion, crop_answer},
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
    let question = |to: &str| CropQuestion {
        capture: raster("4000x3000"),
        shape: shape(to),
        delivered: Vec::new(),
        place: (None, None),
        rounding: Rounding::Exact,
        inside_crop: InsideCrop::NONE,
    };
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
            capture: raster("4000x3000"),
            shape: shape("16:9"),
            delivered: vec![raster("3840x2160")],
            place: (None, None),
            rounding: Rounding::Exact,
            inside_crop,
        };
        let answer = crop_answer(&question, &Limits::default()).unwrap();
        let softness = &answer.delivered[0].softness;
        close(softness.enlargement, true_e, 1e-6);
        close(softness.carried_across_px, 4000.0 * factor, 0.005);
    }
}
