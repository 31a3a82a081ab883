//! From the rows of one still, through the command: what helps, what contradicts itself, and what does not depend on the lens.
//! Arithmetic by hand stands beside the numbers; scenarios and stories are those of the trade study.

use crate::command::{lookroom_in, stderr, stdout};
use std::{path::Path, process::Output};

fn aim(to: &str, more: &[&str]) -> Output {
    let all =
        [&["aim", "--from", "4000x3000", "--fov-horizontal", "90", "--to", to], more].concat();
    lookroom_in(Path::new("."), &all)
}

#[track_caller]
fn has(output: &Output, expected: &str) {
    let text = format!("{}{}", stdout(output), stderr(output));
    assert!(text.contains(expected), "`{expected}` is not in\n{text}");
}

#[test]
fn headroom_and_what_is_blocked_are_reckoned_as_in_a_plan() {
    // By hand: 20 % of headroom over 12 % blocked are 20 %: 600 - 300 = 300 px are missing at the full height.
    let more = ["--blocked-top", "0.12", "--headroom", "0.2", "--subject-top", "300"];
    has(&aim("9:16", &more), "does not fit as the camera stands, by 300 px of the largest window");
}

#[test]
fn px_do_not_depend_on_the_lens_and_degrees_do() {
    // Story 4: windows, px and E of three mappings are the same; atan(0.6) - atan(0.57) = 1.28 degrees, and
    // 60 px · 90 / 4000 = 1.35.
    let lines = |mapping: &str| {
        let more = ["--mapping", mapping, "--blocked-top", "0.12", "--subject-top", "300"];
        let text = stdout(&aim("1080x1920", &more));
        let all: Vec<String> = text.lines().map(str::to_owned).collect();
        (all[0].clone(), all[1].clone(), all.into_iter().find(|line| line.contains(" or accept ")))
    };
    let (first, tilt, smaller) = lines("rectilinear");
    assert_eq!(first, "9:16 does not fit as the camera stands, by 60 px of the largest window");
    assert_eq!(tilt, "  tilt 1.28 degrees up");
    assert!(
        smaller
            .as_ref()
            .is_some_and(|line| line.contains("1406.2 x 2500.0 px at 1296.9,0.0, E 0.768"))
    );
    for (mapping, other) in [("equidistant", "1.35"), ("unknown", "1.28 to 1.35")] {
        let told = lines(mapping);
        assert_eq!(told.1, format!("  tilt {other} degrees up"));
        assert_eq!((told.0, told.2), (first.clone(), smaller.clone()), "{mapping}");
    }
    let more = ["--blocked-top", "0.12", "--subject-top", "300"];
    has(
        &aim("1080x1920", &more),
        "windows, px and E do not depend on the lens, degrees and centimetres do",
    );
}

#[test]
fn a_window_that_is_enlarged_too_much_is_not_offered() {
    // By hand: 12 % above row 10 are a window 83.3 px high, 46.9 px wide, E 23; 1080 px within E 2 are 540.
    let high = ["--mapping", "rectilinear", "--blocked-top", "0.12", "--subject-top", "10"];
    let output = aim("1080x1920", &high);
    let text = stdout(&output);
    assert!(!text.contains("accept a smaller window"), "{text}");
    has(&output, "no window as it stands that is 540 px wide or more keeps everything");
    // Of a shape alone, half of the largest: 843.75 of 1687.5.
    has(&aim("9:16", &high), "no window as it stands that is 843.8 px wide or more");
    // Nothing at all helps where the rig covers all below: exit status 3.
    let nothing = aim("9:16", &[&high[..], &["--rig-top", "500"]].concat());
    assert_eq!(nothing.status.code(), Some(3), "{}", stdout(&nothing));
}

#[test]
fn an_inside_crop_is_taken_off_the_field_of_view_and_told_in_e() {
    // By hand: of width 0.2 leaves 0.8; f is 2000 / 0.8 = 2500 px, and atan(1200 / 2500) - atan(1140 / 2500) = 1.128 degrees;
    // E 0.768 / 0.8 = 0.96.
    let more = [
        "--mapping",
        "rectilinear",
        "--inside-crop",
        "of-width:0.2",
        "--blocked-top",
        "0.12",
        "--subject-top",
        "300",
    ];
    let output = aim("1080x1920", &more);
    has(&output, "tilt 1.13 degrees up");
    has(&output, "E 0.960");
    let bare = aim("1080x1920", &["--inside-crop", "0.2", "--subject-top", "300"]);
    assert_eq!(bare.status.code(), Some(2), "{}", stderr(&bare));
}

#[test]
fn what_contradicts_itself_is_refused() {
    let upside_down = aim("9:16", &["--subject-top", "1900", "--subject-bottom", "300"]);
    assert_eq!(upside_down.status.code(), Some(1));
    has(&upside_down, "the subject's top at row 1900 is not above its bottom at row 300");
    // By hand: row 345.3 is 30 degrees down, and the middle row is level.
    let level = ["--mapping", "rectilinear", "--horizon", "345.3", "--tilt-down"];
    let disagree = aim("16:9", &[&level[..], &["0"]].concat());
    assert_eq!(disagree.status.code(), Some(1));
    has(
        &disagree,
        "the horizon at row 345.3 is that of a camera tilted 30.0 degrees down, and 0.0 degrees are said; read both",
    );
    let agree = aim("16:9", &[&level[..], &["30.4"]].concat());
    assert_ne!(agree.status.code(), Some(1), "{}", stderr(&agree));
}

#[test]
fn heights_are_told_as_a_range_and_not_asked_for_where_none_helps() {
    // 2 m away and level, through either lens: by hand the straight-line one 2 (0.6 - 0.57) = 6 cm, the equal-angle one
    // 2 (tan 27 - tan 25.65) = 5.9, both up to the whole centimetre.
    let raise =
        ["--blocked-top", "0.2", "--subject-top", "300", "--distance", "2", "--tilt-down", "0"];
    let text = stdout(&aim("9:16", &raise));
    let line = text.lines().find(|line| line.contains("raise")).unwrap_or_default();
    // By hand: 20 % are row 600. 2 (0.6 - 0.45) = 30 cm; 2 (tan 27 - tan 20.25) = 28.1, up to 29.
    assert_eq!(line, "  or raise the camera by 29 to 30 cm", "{text}");
    // A subject that takes more than the shape: by hand 2700 px of 16:9's 2250 less a tenth each side, 900 too tall.
    let tall = [
        "--subject-top",
        "100",
        "--subject-bottom",
        "2800",
        "--headroom",
        "0.1",
        "--room-below",
        "0.1",
    ];
    let output = aim("16:9", &tall);
    has(
        &output,
        "no tilt and no height helps: the subject with its room is 900 px taller than the shape; go further back",
    );
    assert!(!stdout(&output).contains("--distance"), "{}", stdout(&output));
}

#[test]
fn a_deck_and_a_helmet_that_cannot_both_be_kept_are_told_with_what_is_missing() {
    // Story 10 by hand: the full 2250 with the deck from row 2400 out asks for a top of at most 150, hands at row 1900 with
    // 25 % below for at least 1900 - 1687.5 = 212.5: 62.5 px are missing.
    let more = [
        "--mapping",
        "rectilinear",
        "--subject-top",
        "300",
        "--subject-bottom",
        "1900",
        "--room-below",
        "0.25",
        "--rig-top",
        "2400",
    ];
    let output = aim("16:9", &more);
    has(&output, "16:9 does not fit as the camera stands, by 62.5 px of the largest window");
    // T6: deck out is a top of at most 150, 8 % of headroom 300 - 180 = 120: 30 px to spare.
    let film = ["--subject-top", "300", "--headroom", "0.08", "--rig-top", "2400"];
    has(&aim("16:9", &film), "its top from row 0 to 120");
    has(&aim("16:9", &["--rig-top", "2400"]), "its top from row 0 to 150");
}
