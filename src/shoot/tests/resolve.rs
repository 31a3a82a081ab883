use super::{faults::variant, *};
use crate::{
    clip::FrameTimes,
    geometry::Region,
    shoot::ResolvedClip,
    subject::Wish,
    timecode::{FrameIndex, FrameRange, Timecode},
};

pub(super) fn resolve(
    files: &Files,
    facts: &ClipFacts,
) -> Result<ResolvedClip, Vec<(String, String)>> {
    let folder = tempfile::tempdir().unwrap();
    let reading = files.read_in(folder.path());
    assert_eq!(printed(&reading.faults, folder.path()), [""; 0], "only the footage brings it out");
    reading.shoot.resolve(bridge(&reading.shoot), facts).map_err(|faults| {
        let kinds: Vec<_> = faults.iter().map(variant).collect();
        kinds.into_iter().zip(printed(&faults, folder.path())).collect()
    })
}

/// Asserts the one fault that there is: its kind, and its message.
pub(super) fn has_one_fault(files: &Files, facts: &ClipFacts, (kind, message): (&str, &str)) {
    assert_eq!(resolve(files, facts).unwrap_err(), [(kind.to_owned(), message.to_owned())]);
}

fn range(first: u64, end: u64) -> FrameRange {
    FrameRange::new(FrameIndex(first), FrameIndex(end)).unwrap()
}

#[test]
fn timecodes_become_frames_and_handles_are_added() {
    let resolved = resolve(&Files::default(), &facts()).unwrap();
    let ranges: Vec<_> = resolved.clip.ranges.iter().map(|r| (r.used, r.with_handles)).collect();
    // The camera asks for 2 s of handles at 25 frames/s; 10:12:36:00 is 6 s after the first frame.
    assert_eq!(
        ranges,
        [(range(0, 100), range(0, 150)), (range(150, 200), range(100, 200))],
        "handles may overlap"
    );
    assert_eq!(resolved.clip.timecode_at(FrameIndex(25)).unwrap().to_string(), "10:12:31:00");
    assert_eq!(Some(resolved.usable), Region::new(16.0, 0.0, 3967.5, 3000.0));
}

#[test]
fn a_clips_inside_crop_wins_over_its_cameras() {
    let trim = "trim = {";
    let on_camera = |crop: &str| changed(SHOOT, trim, &format!("inside_crop = {crop}\n{trim}"));
    let play = "play = \"every-frame\"";
    let both = |of_clip: &str| {
        changed(&on_camera("{ of_width = 0.1 }"), play, &format!("inside_crop = {of_clip}"))
    };
    for (shoot, factor) in [
        (SHOOT.to_owned(), 1.0),
        (on_camera("{ per_side = 0.1 }"), 0.8),
        (on_camera("{ of_width = 0.1 }"), 0.9),
        (both("{ of_area = 0.19 }"), 0.9),
        (both("{ per_side = 0.125 }"), 0.75),
        (both("{ per_side = 0 }"), 1.0),
    ] {
        let resolved = resolve(&Files::shoot(shoot), &facts()).unwrap();
        assert!((resolved.clip.inside_crop.linear_factor() - factor).abs() < 1e-12, "{factor}");
    }
}

#[test]
fn marks_become_tracks_and_pins_windows() {
    let resolved = resolve(&Files::default(), &facts()).unwrap();
    let [paddler, rail] = resolved.tracks.as_slice() else { panic!("two tracks") };
    assert_eq!((paddler.name(), paddler.wish()), ("paddler", Wish::Subject));
    let frames: Vec<u64> = paddler.marked_frames().map(|frame| frame.0).collect();
    assert_eq!(frames, [0, 198, 199]);
    assert_eq!((rail.name(), rail.wish()), ("rail, left", Wish::KeepOut));
    let [film, vertical] = resolved.pins.as_slice() else { panic!("two pins") };
    assert_eq!((film.deliverable.as_str(), film.frame, film.line), ("film-hd", FrameIndex(12), 2));
    assert_eq!((vertical.frame, vertical.window.height()), (FrameIndex(99), 1600.0));
}

#[test]
fn without_ranges_the_whole_clip_is_used_and_the_footage_names_its_first_timecode() {
    let line = SHOOT.lines().find(|line| line.starts_with("ranges")).unwrap();
    let mut shoot = changed(SHOOT, &format!("{line}\n"), "");
    shoot = changed(&shoot, "start_timecode = \"10:12:30:00\"\n", "");
    let start_timecode = Timecode::parse("10:12:30:00", FrameRate::new(25, 1).unwrap()).ok();
    let resolved = resolve(&Files::shoot(shoot), &ClipFacts { start_timecode, ..facts() }).unwrap();
    assert_eq!(resolved.clip.ranges[0].used, range(0, 200));
    assert_eq!(resolved.clip.facts.start_timecode, start_timecode);
}

#[test]
fn a_box_that_hangs_over_the_edge_is_a_mark_and_one_beside_the_frame_is_not() {
    let first = "0,100,200,300,400,subject";
    let hanging = changed(MARKS, first, "0,-299.5,2999.5,300,400,subject");
    resolve(&Files::marks(hanging), &facts()).unwrap();
    let beside = changed(MARKS, first, "0,-300,200,300,400,subject");
    has_one_fault(
        &Files::marks(beside),
        &facts(),
        (
            "MarkOutside",
            "marks.csv:3: the box 300 x 400 px at -300,200 is wholly outside the 4000x3000 frame; mark what is \
             seen, or mark it gone",
        ),
    );
    let huge = changed(MARKS, first, "0,-300,200,16001,400,subject");
    has_one_fault(
        &Files::marks(huge),
        &facts(),
        (
            "MarkTooLarge",
            "marks.csv:3: the box 16001 x 400 px at -300,200 is more than 4 times the 4000x3000 frame; check \
             its numbers",
        ),
    );
}

#[test]
fn a_used_range_without_a_subject_is_told() {
    let marks = changed(MARKS, "10:12:37:23", "10:12:35:24");
    let marks = changed(&marks, "bridge,199,,,,,gone", "bridge,150,,,,,gone");
    has_one_fault(
        &Files::marks(marks),
        &facts(),
        (
            "NoSubject",
            "shoot.toml:34: no subject is marked in the used range 150 to 199 of weir-bridge; mark a box at two \
             frames at least",
        ),
    );
}

#[test]
fn a_subject_marked_only_within_a_range_touches_it() {
    let marks = format!("{MARKS}weir-bridge,160,1,1,9,9,subject,boat\n");
    let marks = changed(&marks, "10:12:37:23", "10:12:35:24");
    let marks = changed(&marks, "bridge,199,,,,,gone", "bridge,150,,,,,gone");
    resolve(&Files::marks(marks), &facts()).unwrap();
}

#[test]
fn more_keep_outs_than_can_be_tried_are_told_at_the_first_of_them() {
    // Beside the rail that is marked already.
    let rows: String =
        (1..=4).map(|n| format!("weir-bridge,0,{n},1,9,9,keep-out,strut-{n}\n")).collect();
    let message = "marks.csv:13: `strut-4` is the 5th thing to be kept out of weir-bridge, and at most 4 can be; mark \
                   things that lie together as one, or trim the edge where they are";
    let marks = format!("{MARKS}{rows}");
    has_one_fault(&Files::marks(marks), &facts(), ("TooManyKeepOuts", message));
}

#[test]
fn marks_that_make_no_track_are_told_at_their_rows() {
    for (row, kind, message) in [
        (
            "weir-bridge,0,1,1,9,9,subject,paddler",
            "MarkedTwice",
            "`paddler` is already marked at frame 0, on line 3; leave one of them out",
        ),
        (
            "weir-bridge,50,1,1,9,9,keep-in,paddler",
            "Track",
            "`paddler` is marked subject at first and keep-in at frame 50; use two names",
        ),
        ("weir-bridge,50,,,,,gone,boat", "Track", "`boat` has no box, only gone at frame 50"),
    ] {
        let marks = format!("{MARKS}{row}\n");
        has_one_fault(&Files::marks(marks), &facts(), (kind, &format!("marks.csv:10: {message}")));
    }
}

#[test]
fn a_moment_that_the_clip_does_not_have_is_told() {
    let marks = changed(MARKS, "weir-bridge,199,", "weir-bridge,200,");
    let after = "marks.csv:6: frame: frame 200 is after the clip's last frame, 199";
    has_one_fault(&Files::marks(marks), &facts(), ("AfterClip", after));
    let marks = changed(MARKS, "10:12:37:23", "10:12:29:24");
    let before = "marks.csv:4: frame: the timecode 10:12:29:24 is outside the clip, which goes from 10:12:30:00 \
                  to 10:12:37:24";
    has_one_fault(&Files::marks(marks), &facts(), ("OutsideTimecodes", before));
    let marks = changed(MARKS, "10:12:37:23", "10:12:37:25");
    let no_such =
        "marks.csv:4: frame: the timecode 10:12:37:25 has a frame of 25, and the last is 24";
    has_one_fault(&Files::marks(marks), &facts(), ("Timecode", no_such));
}

#[test]
fn ranges_are_held_against_the_clip_and_each_other() {
    let shoot = changed(SHOOT, "to = 200", "to = 201");
    let beyond = "shoot.toml:34: ranges: the range ends before frame 201, and the clip has 200 frames; end it \
                  at 200 at most";
    has_one_fault(&Files::shoot(shoot), &facts(), ("RangeAfterClip", beyond));
    let shoot = changed(SHOOT, "to = 100", "to = 151");
    let overlap = "shoot.toml:34: ranges: the range 150 to 199 overlaps the range 0 to 150 of line 34; join \
                   them or part them";
    has_one_fault(&Files::shoot(shoot), &facts(), ("RangesOverlap", overlap));
    let shoot = changed(SHOOT, "to = 200", "to = \"10:12:35:00\"");
    let empty = "shoot.toml:34: ranges: the range 150 to 125 holds no frame; its end is the first frame after \
                 it";
    has_one_fault(&Files::shoot(shoot), &facts(), ("Timecode", empty));
}

#[test]
fn a_timecode_without_a_first_one_is_told_wherever_it_is_written() {
    let shoot = changed(SHOOT, "start_timecode = \"10:12:30:00\"\n", "");
    let faults = resolve(&Files::shoot(shoot), &facts()).unwrap_err();
    let places: Vec<&str> = faults.iter().map(|(_, message)| &message[..14]).collect();
    assert_eq!(places, ["shoot.toml:33:", "marks.csv:4: f", "pins.csv:3: fr"]);
    assert!(faults.iter().all(|(kind, _)| kind == "NoStartTimecode"), "{faults:#?}");
    assert!(faults[1].1.ends_with("set start_timecode, or write the frame's number"));
}

#[test]
fn a_faulty_first_timecode_is_told_once_and_not_at_every_timecode() {
    let shoot = changed(SHOOT, "10:12:30:00", "10:12:30;00");
    let no_drop = "shoot.toml:32: start_timecode: there is no drop-frame timecode at 25 frames/s, only at \
                   30000/1001 and 60000/1001";
    has_one_fault(&Files::shoot(shoot), &facts(), ("Timecode", no_drop));
}

#[test]
fn timecodes_of_one_clip_count_alike() {
    let shoot = SHOOT.replace("rate = \"25\"", "rate = \"30000/1001\"");
    let shoot = changed(&shoot, "10:12:30:00", "10:12:30;00");
    let timing = Timing::Constant(FrameRate::new(30_000, 1001).unwrap());
    let faults = resolve(&Files::shoot(shoot), &ClipFacts { timing, frame_count: 240, ..facts() })
        .unwrap_err();
    assert!(faults.iter().all(|(kind, _)| kind == "CountingDiffers"), "{faults:#?}");
    assert_eq!(
        faults[0].1,
        "shoot.toml:34: ranges: `10:12:36:00` and the first timecode 10:12:30;00 do not both count in drop \
         frame; write `;` before the frames of both, or of none"
    );
}

#[test]
fn footage_that_is_not_what_was_written_is_told() {
    let timing = Timing::Constant(FrameRate::new(50, 1).unwrap());
    let differs = "shoot.toml:31: rate: the rate is 25 here and 50 in the footage; leave it out, or correct it";
    let faults = resolve(&Files::default(), &ClipFacts { timing, ..facts() }).unwrap_err();
    assert_eq!(faults[0], ("RateDiffers".to_owned(), differs.to_owned()));
    let none = ClipFacts { frame_count: 0, ..facts() };
    let no_frames = "shoot.toml:27: the footage of `weir-bridge` has no frame";
    has_one_fault(&Files::default(), &none, ("NoFrames", no_frames));
    let shoot = changed(SHOOT, "left = 16,", "left = 3984,");
    let trimmed = "shoot.toml:23: trim: trimming 4000.5 px across and 0 px down leaves nothing of the 4000x3000 \
                   frame of `weir-bridge`; trim opposite edges by less than its width and its height together";
    has_one_fault(&Files::shoot(shoot), &facts(), ("AllTrimmed", trimmed));
}

#[test]
fn a_pin_is_in_the_usable_area_and_at_a_used_frame() {
    let pins = changed(PINS, "12,100,100", "12,15,100");
    let outside = "pins.csv:2: the window 1600 x 900 px at 15,100 is not inside the usable area 3967.5 x 3000 \
                   px at 16,0; move it or make it smaller";
    has_one_fault(&Files::pins(pins), &facts(), ("PinOutside", outside));
    let unused = Files::pins(changed(PINS, ",12,", ",120,"));
    let message = "pins.csv:2: frame: frame 120 is in no used range of `weir-bridge` (0 to 99, 150 to 199); in \
                   handles the window is held: move the pin, or use the frame";
    has_one_fault(&unused, &facts(), ("PinUnused", message));
    let twice = format!("{PINS}weir-bridge,film-hd,10:12:30:12,200,200,1600,\n");
    let message = "pins.csv:4: `film-hd` is already pinned at frame 12 on line 2; leave one out";
    has_one_fault(&Files::pins(twice), &facts(), ("PinTwice", message));
}

#[test]
fn what_only_follows_from_a_faulty_row_is_not_told() {
    let marks = changed(MARKS, "10:12:37:23,2000.5", "10:12:37:23,much");
    let folder = tempfile::tempdir().unwrap();
    let reading = Files::marks(marks).read_in(folder.path());
    assert_eq!(reading.faults.len(), 1);
    let resolved = reading.shoot.resolve(bridge(&reading.shoot), &facts());
    assert!(resolved.is_ok(), "the second range only lacks what could not be read: {resolved:?}");
}

/// Half-size footage whose marks were measured in it: every px is one of the full clip.
#[test]
fn marks_measured_on_a_proxy_are_taken_in_px_of_the_full_clip() {
    let proxy = |marks_in: &str| {
        let proxy = format!("proxy = {{ of = \"4000x3000\", marks_in = \"{marks_in}\" }}");
        let frames = "frames = \"frames/%05d.jpg\"";
        Files::shoot(changed(SHOOT, frames, &format!("{frames}\n{proxy}")))
    };
    let half = ClipFacts { raster: Raster::new(2000, 1500).unwrap(), ..facts() };
    let paddler = |files: &Files| {
        let resolved = resolve(files, &half).unwrap();
        assert_eq!(resolved.clip.facts.raster, Raster::new(4000, 3000).unwrap());
        assert_eq!(resolved.clip.proxy, Some(half.raster));
        resolved.tracks[0].at(FrameIndex(0)).unwrap().region
    };
    assert_eq!(Some(paddler(&proxy("full"))), Region::new(100.0, 200.0, 300.0, 400.0));
    let marks = changed(MARKS, "2000.5,200,300,400", "1000,200,300,400");
    let marks = changed(&marks, "0,1400,4000,100", "0,1400,2000,100");
    let files = Files { marks: Some(marks.into()), ..proxy("proxy") };
    assert_eq!(Some(paddler(&files)), Region::new(200.0, 400.0, 600.0, 800.0));

    let wide = ClipFacts { raster: Raster::new(1920, 1080).unwrap(), ..facts() };
    has_one_fault(
        &proxy("full"),
        &wide,
        (
            "NotAProxy",
            "shoot.toml:31: proxy: the footage as it is shown is 1920x1080 (16:9) and cannot be a proxy of 4000x3000 \
             (4:3): a proxy shows the whole frame, smaller, to within 2 px",
        ),
    );
}

#[test]
fn a_variable_rate_has_no_timecode() {
    let times = FrameTimes::new((1, 1000), (0..200).map(|n| n * 30 + n % 2).collect(), 30).unwrap();
    let variable = ClipFacts { timing: Timing::Variable(times), ..facts() };
    let faults = resolve(&Files::default(), &variable).unwrap_err();
    assert!(faults.iter().all(|(kind, _)| kind == "TimecodeOfVariableRate"), "{faults:#?}");
    assert_eq!(
        faults[0].1,
        "shoot.toml:32: start_timecode: `10:12:30:00` cannot be found in `weir-bridge`, whose rate is variable: \
         timecode counts at a constant one; write the frame's number"
    );
}

#[test]
fn a_shutter_is_the_clips_own_or_its_cameras_and_no_longer_than_a_frame() {
    let with = |camera: &str, clip: &str| {
        let shoot = changed(SHOOT, "trim = {", &format!("{camera}trim = {{"));
        Files::shoot(changed(
            &shoot,
            "camera = \"bridge\"\nframes",
            &format!("camera = \"bridge\"\n{clip}frames"),
        ))
    };
    for (camera, clip, expected) in [
        ("", "", None),
        ("shutter = \"1/100\"\n", "", Some(0.01)),
        ("shutter = \"1/100\"\n", "shutter = \"0.004\"\n", Some(0.004)),
        // A frame of 25 in a second, and no more.
        ("shutter = \"1/25\"\n", "", Some(0.04)),
    ] {
        let resolved = resolve(&with(camera, clip), &facts()).unwrap();
        assert_eq!(resolved.exposure_secs, expected, "{camera}{clip}");
    }
    let faults = resolve(&with("", "shutter = \"1/24\"\n"), &facts()).unwrap_err();
    let [(kind, message)] = &faults[..] else { panic!("{faults:?}") };
    assert_eq!(kind, "ShutterTooLong");
    assert!(
        message.contains("and the frames of `weir-bridge` are only 0.040000 s apart"),
        "{message}"
    );
}
