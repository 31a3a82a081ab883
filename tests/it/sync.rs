//! Two recordings brought together by claps: the trade study's T10, through the command.
//!
//! Arithmetic by hand: offsets 655 - 412 = 243 and 90652 - 90412 = 240, so 3 frames in 90,000 fewer; half-way
//! between, 45412 + 243 - 1.5. 50 m at 343 m/s are 0.1458 s, 7.29 frames of 50 a second.

use crate::command::{lookroom_in, stderr, stdout};
use lookroom::timecode::{SPEED_OF_SOUND_M_PER_SEC, sound_delay_secs};
use std::path::Path;

fn sync(arguments: &[&str]) -> (String, Option<i32>) {
    let all = [&["sync", "--rate", "50"], arguments].concat();
    let output = lookroom_in(Path::new("."), &all);
    (format!("{}{}", stdout(&output), stderr(&output)), output.status.code())
}

const T10: [&str; 4] = ["--clap", "412,655", "--end-clap", "90412,90652"];

#[test]
fn t10_offsets_drift_and_the_matching_frame_are_told() {
    let more = ["--frame", "45412,22912", "--clapper-distance", "50"];
    let (text, status) = sync(&[&T10[..], &more].concat());
    assert_eq!(status, Some(0), "{text}");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines,
        [
            "offset 243 frames, 4.8600 s at 50 frames/s: frame 412 of the first is frame 655 of the second",
            "offset 240 frames at the end: frame 90412 of the first is frame 90652 of the second",
            "drift -33.3 ppm: the second counts 33.3 frames in a million fewer, 6.0 an hour; a frame more or less at a \
             clap is 11.1 ppm",
            "frame 45412 of the first is frame 45653.5 of the second: 45653 and 45654 are as near, each half a frame off",
            "frame 22912 of the first is frame 23154.25 of the second: 23154 is the nearest, 0.250 of a frame off, and \
             23155 the next",
            "a clap 50 m away is heard 0.1458 s late, 7.29 frames, at 343 m/s (20 °C): use the frame on which it is \
             seen",
        ]
    );
}

#[test]
fn the_answer_for_programs_has_the_same_numbers() {
    let (text, status) = sync(&[&T10[..], &["--frame", "45412", "--json"]].concat());
    assert_eq!(status, Some(0), "{text}");
    let answer: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(
        (&answer["offset_frames"], &answer["end_offset_frames"]),
        (&243.into(), &240.into())
    );
    assert!((answer["drift_ppm"].as_f64().unwrap() + 100.0 / 3.0).abs() < 1e-9);
    assert_eq!(
        answer["matching"][0],
        serde_json::json!({
            "first_frame": 45412, "second_frame": 45653.5, "neighbours": [45653, 45654], "residual_frames": 0.5
        })
    );
    assert!(answer["sound"].is_null());
}

/// Common practice, no source: 20 ppm each, up to 40 apart, 7 frames an hour at 50 frames/s.
#[test]
fn one_clap_says_that_it_tells_no_drift() {
    let (text, status) = sync(&["--clap", "500,20", "--frame", "100"]);
    assert_eq!(status, Some(0), "{text}");
    assert!(text.contains("offset -480 frames, -9.6000 s"), "{text}");
    assert!(
        text.contains("frame 100 of the first is frame -380 of the second, which had not begun")
    );
    assert!(text.contains("two clocks may run 40 ppm apart, 7.2 frames an hour"), "{text}");
}

#[test]
fn claps_that_make_no_sync_are_told_with_what_is_wrong() {
    for (arguments, status, words) in [
        (
            &["--clap", "412,655", "--end-clap", "412,700"][..],
            1,
            "the clap at the end, frames 412 and 700, is not later than the one at the start, 412 and 655",
        ),
        (
            &["--clap", "0,0", "--end-clap", "1000,1011"],
            1,
            "the claps make a drift of 11000 ppm, and at most 10000 are taken for one",
        ),
        (
            &["--clap", "0,0", "--end-clap", "1001000,1000000"],
            0,
            "999 ppm is more than clocks drift",
        ),
        (&["--clap", "412"], 2, "`412` is no clap; write two frames from 0, such as 412,655"),
        (&["--clap", "1,2", "--clap", "3,4"], 2, "cannot be used multiple times"),
        (&[], 2, "--clap"),
        (
            &["--clap", "1,2", "--clapper-distance", "-5"],
            1,
            "a clapper -5 m away is out of range, expected 0 to 10000 m",
        ),
        (
            &["--clap", "1,2", "--clapper-distance", "nan"],
            1,
            "a clapper NaN m away is out of range",
        ),
        (&["--clap", "1,18446744073709551615"], 1, "is beyond 9007199254740992"),
    ] {
        let (text, ended) = sync(arguments);
        assert_eq!(ended, Some(status), "{text}");
        assert!(text.contains(words), "{words}\nis not in\n{text}");
    }
}

/// The speed of sound in dry air, 331.3 m/s at 0 °C and rising with the root of the absolute temperature (from
/// memory): 343.2 at 20 °C.
#[test]
fn sound_is_as_fast_as_in_air_at_20_degrees() {
    let at_20 = 331.3 * (1.0_f64 + 20.0 / 273.15).sqrt();
    assert!((at_20 - SPEED_OF_SOUND_M_PER_SEC).abs() < 0.5, "{at_20}");
    assert!((sound_delay_secs(50.0) * 50.0 - 7.29).abs() < 0.005);
    // 13.7 m are a frame of 25 a second (common practice, no source).
    assert!((sound_delay_secs(13.7) * 25.0 - 1.0).abs() < 0.01);
}
