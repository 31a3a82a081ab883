//! Published values: safe areas, rasters and crops, timecode. The source stands beside each.

use lookroom::{
    delivery::SafeAreas,
    geometry::{Raster, largest_window},
    sharpness::enlargement,
    timecode::{Counting, FrameRate, Timecode},
};

fn raster(width: u32, height: u32) -> Raster {
    Raster::new(width, height).unwrap()
}

/// EBU R 95 rev. 1 (2016) and ITU-R BT.1848-1 (10/2015): 3.5 % and 5 % in from each edge; 1786 x 1004 and
/// 1728 x 972 at 1920 x 1080 and 3456 x 1944 at 3840 x 2160 were read in second-hand sources, the others are
/// computed from the shares with whole-px insets; none was checked against the primary text.
#[test]
fn safe_areas_have_the_published_sizes() {
    for (size, insets, action, graphics) in [
        ((1280, 720), (45, 25), (1190, 670), (1152, 648)),
        ((1920, 1080), (67, 38), (1786, 1004), (1728, 972)),
        ((3840, 2160), (134, 76), (3572, 2008), (3456, 1944)),
        ((7680, 4320), (269, 151), (7142, 4018), (6912, 3888)),
    ] {
        let safe = SafeAreas::of(raster(size.0, size.1));
        assert_eq!((safe.action.inset_x_px, safe.action.inset_y_px), insets);
        assert_eq!((safe.action.width_px, safe.action.height_px), action);
        assert_eq!((safe.graphics.width_px, safe.graphics.height_px), graphics);
    }
}

/// Zero-based first and last px at 1080 lines, computed from the same insets; the standard's own numbering was
/// not seen.
#[test]
fn safe_areas_begin_and_end_where_the_insets_say() {
    let safe = SafeAreas::of(raster(1920, 1080));
    let last = |inset: u32, size: u32| inset + size - 1;
    assert_eq!((safe.action.inset_x_px, last(67, safe.action.width_px)), (67, 1852));
    assert_eq!((safe.action.inset_y_px, last(38, safe.action.height_px)), (38, 1041));
    assert_eq!((safe.graphics.inset_x_px, last(96, safe.graphics.width_px)), (96, 1823));
    assert_eq!((safe.graphics.inset_y_px, last(54, safe.graphics.height_px)), (54, 1025));
}

/// One broadcaster's glossary prints the two boxes the wrong way round; graphics is the smaller.
#[test]
fn the_graphics_box_is_the_smaller_one() {
    let safe = SafeAreas::of(raster(3840, 2160));
    assert!(safe.graphics.width_px < safe.action.width_px);
}

/// Cinema rasters (2048 x 1080, 4096 x 2160, 1998 x 1080, 2048 x 858, 4096 x 1716, read in second-hand sources
/// for SMPTE 428-1): their shapes, computed.
#[test]
fn cinema_rasters_have_their_shapes() {
    let ratio = |width, height| raster(width, height).shape().width_over_height();
    assert!((ratio(1998, 1080) - 1.85).abs() < 1e-12);
    assert!((ratio(2048, 858) - 2.386_95).abs() < 5e-6);
    assert_eq!(raster(2048, 858).shape(), raster(4096, 1716).shape());
    assert_eq!(raster(4096, 2160).shape().to_string(), "256:135");
    assert_eq!(raster(2048, 1080).shape(), raster(4096, 2160).shape());
}

/// Crops of 4000 x 3000, computed: window, its share of the area, and source px for each delivered px.
#[test]
fn crops_of_a_tall_capture() {
    let capture = raster(4000, 3000);
    for (delivered, window, area_percent, source_px) in [
        ((3840, 2160), (4000.0, 2250.0), 75.0, 1.041_67),
        ((1920, 1080), (4000.0, 2250.0), 75.0, 2.083_33),
        ((1080, 1920), (1687.5, 3000.0), 42.19, 1.5625),
        ((1080, 1080), (3000.0, 3000.0), 75.0, 2.777_78),
        ((2160, 3840), (1687.5, 3000.0), 42.19, 0.781_25),
        ((1080, 1350), (2400.0, 3000.0), 60.0, 2.222_22),
    ] {
        let delivered = raster(delivered.0, delivered.1);
        let largest = largest_window(capture, delivered.shape());
        assert_eq!(largest, window);
        assert!((100.0 * largest.0 * largest.1 / 12e6 - area_percent).abs() < 0.005);
        assert!((1.0 / enlargement(delivered.width(), largest.0) - source_px).abs() < 5e-6);
    }
}

fn code(rate: (u32, u32), counting: Counting, frames: u64) -> String {
    let rate = FrameRate::new(rate.0, rate.1).unwrap();
    Timecode::from_frames(rate, counting, frames).unwrap().to_string()
}

/// SMPTE ST 12-1 drop frame at 30000/1001 and 60000/1001. The table was checked by running two open
/// libraries (the Python packages `opentimelineio` 0.18.1 and `timecode` 1.5.1) over these frames; the standard's text
/// was not read.
#[test]
fn drop_frame_timecode_has_the_published_labels() {
    for (frames, label) in [
        (1799, "00:00:59;29"),
        (1800, "00:01:00;02"),
        (3597, "00:01:59;29"),
        (3598, "00:02:00;02"),
        (15_000, "00:08:20;16"),
        (17_981, "00:09:59;29"),
        (17_982, "00:10:00;00"),
        (107_892, "01:00:00;00"),
        (2_589_407, "23:59:59;29"),
    ] {
        assert_eq!(code((30_000, 1001), Counting::Drop, frames), label);
    }
    for (frames, label) in [
        (3599, "00:00:59;59"),
        (3600, "00:01:00;04"),
        (7195, "00:01:59;59"),
        (7196, "00:02:00;04"),
        (35_963, "00:09:59;59"),
        (35_964, "00:10:00;00"),
        (215_784, "01:00:00;00"),
        (5_178_815, "23:59:59;59"),
    ] {
        assert_eq!(code((60_000, 1001), Counting::Drop, frames), label);
    }
}

/// 24000/1001 has no drop frame; 86,400 frames are an hour of labels and 3603.6 s (computed).
#[test]
fn non_drop_timecode_counts_every_label() {
    let film = FrameRate::new(24_000, 1001).unwrap();
    assert!(Timecode::from_frames(film, Counting::Drop, 0).is_err());
    assert_eq!(code((24_000, 1001), Counting::NonDrop, 86_400), "01:00:00:00");
    assert!((film.seconds_at(lookroom::timecode::FrameIndex(86_400)) - 3603.6).abs() < 1e-9);
}

/// Labels that drop frame leaves out, refused by an open library as well (`smpte-timecode` 0.1.1).
#[test]
fn labels_that_do_not_exist_are_refused() {
    let parse =
        |text: &str, frames: u32| Timecode::parse(text, FrameRate::new(frames, 1001).unwrap());
    for (text, frames) in
        [("00:01:00;00", 30_000), ("00:01:00;01", 30_000), ("00:01:00;03", 60_000)]
    {
        assert!(parse(text, frames).is_err(), "{text}");
    }
    assert!(parse("00:10:00;00", 30_000).is_ok());
    for nonsense in [
        "",
        "1:2:3:4",
        "00:00:00",
        "00:00:60:00",
        "24:00:00:00",
        "00:00:00:30",
        "aa:bb:cc:dd",
        "00;00;00;-1",
    ] {
        assert!(parse(nonsense, 30_000).is_err(), "{nonsense}");
    }
}

/// Every label of a day is read back as the frame it was made from.
#[test]
fn every_timecode_of_a_day_reads_back() {
    let rate = FrameRate::new(30_000, 1001).unwrap();
    for frames in (0..2_589_408).step_by(7).chain(1790..1810).chain(17_975..17_990) {
        let code = Timecode::from_frames(rate, Counting::Drop, frames).unwrap();
        let read = Timecode::parse(&code.to_string(), rate).unwrap();
        assert_eq!(read.frames_since_midnight(), frames, "{code}");
    }
}
