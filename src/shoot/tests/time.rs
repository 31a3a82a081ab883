//! Retimes and cuts, held against the footage.

use super::{
    resolve::{has_one_fault, resolve},
    *,
};
use crate::{
    clip::FrameTimes,
    timecode::{FrameIndex, FrameRange, RampLaw},
};

/// The good file with other keys of the clip in place of how it is played.
fn with(keys: &str) -> Files {
    Files::shoot(changed(SHOOT, "play = \"every-frame\"", keys))
}

#[test]
fn retimes_are_read_in_frames_and_timecodes_and_in_any_order() {
    let files = with(
        "retimes = [ { from = 100, to = \"10:12:36:00\", speed = [1.0, 0.5], law = \"linear-in-timeline\" }, \
         { from = \"10:12:30:00\", to = 100, speed = 1 } ]",
    );
    let clip = resolve(&files, &facts()).unwrap().clip;
    let retime = clip.retime.as_ref().unwrap();
    assert_eq!(retime.stretches()[0].speed.ends(), (1.0, 1.0));
    assert_eq!(retime.stretches()[1].speed.ends(), (1.0, 0.5));
    // 100 frames at 25 a second, 50 more at 0.75 in the mean, and 50 beside the table at a half.
    let secs = |from, to| clip.timeline_secs(FrameIndex(from), FrameIndex(to));
    assert_eq!(secs(0, 100), 4.0);
    assert!((secs(100, 150) - 50.0 / 0.75 / 25.0).abs() < 1e-12);
    assert_eq!(secs(150, 200), 4.0);
    assert_eq!(secs(200, 150), -4.0);
    assert_eq!(clip.even_step_secs(), None);
}

#[test]
fn a_clip_that_is_slowed_throughout_has_even_steps() {
    let clip =
        resolve(&with("retimes = [{ from = 0, to = 10, speed = 0.25 }]"), &facts()).unwrap().clip;
    assert_eq!(clip.even_step_secs(), Some(0.16));
    assert_eq!(clip.timeline_frames(FrameIndex(0), FrameIndex(200)), 800.0);
}

#[test]
fn a_ramp_without_a_law_is_told_with_both_of_its_lengths() {
    // By hand: (100 / 0.75) ln 4 = 184.84 and 100 / 0.625 = 160, at 25 frames/s on a timeline of 25.
    has_one_fault(
        &with("retimes = [{ from = 20, to = 120, speed = [1.0, 0.25] }]"),
        &facts(),
        (
            "RampWithoutLaw",
            "shoot.toml:33: retimes: the ramp from 1 to 0.25 over frames 20 to 119 can be two things: law = \
             \"linear-in-source\" makes it 184.84 timeline frames long, law = \"linear-in-timeline\" 160.00; write \
             the one that the editor uses",
        ),
    );
    assert_eq!(RampLaw::ALL.map(RampLaw::name), ["linear-in-source", "linear-in-timeline"]);
}

#[test]
fn retimes_that_do_not_follow_on_each_other_or_leave_the_clip_are_told_at_their_line() {
    for (retimes, kind, message) in [
        (
            "{ from = 0, to = 60, speed = 1 },\n{ from = 50, to = 100, speed = 2 }",
            "Timecode",
            "shoot.toml:35: retimes: the retime of frames 50 to 99 begins before that of frames 0 to 59 ends; end \
             the one where the other begins",
        ),
        (
            "{ from = 0, to = 50, speed = 1 },\n{ from = 60, to = 100, speed = 2 }",
            "Timecode",
            "shoot.toml:35: retimes: frames 50 to 59 lie between the retimes of frames 0 to 49 and 60 to 99 and have \
             no speed; write them down too",
        ),
        (
            "{ from = 0, to = 201, speed = 1 }",
            "RangeAfterClip",
            "shoot.toml:34: retimes: the range ends before frame 201, and the clip has 200 frames; end it at 200 at \
             most",
        ),
        (
            "{ from = \"10:12:00:00\", to = 100, speed = 1 }",
            "OutsideTimecodes",
            "shoot.toml:34: retimes: the timecode 10:12:00:00 is outside the clip, which goes from 10:12:30:00 to \
             10:12:37:24",
        ),
    ] {
        has_one_fault(&with(&format!("retimes = [\n{retimes}\n]")), &facts(), (kind, message));
    }
}

#[test]
fn a_clip_of_a_variable_rate_is_not_retimed() {
    let times = FrameTimes::new((1, 1000), (0..200).map(|n| n * 30 + n % 2).collect(), 30).unwrap();
    let variable = ClipFacts { timing: Timing::Variable(times), ..facts() };
    let faults =
        resolve(&with("retimes = [{ from = 0, to = 9, speed = 0.5 }]"), &variable).unwrap_err();
    let told = faults.iter().find(|(kind, _)| kind == "RetimedVariableRate").unwrap();
    assert_eq!(
        told.1,
        "shoot.toml:33: retimes: `weir-bridge` has a variable rate, and retimes count evenly spaced source frames; \
         convert it to a constant rate first, and plan the converted file"
    );
}

/// The good file with these cuts, and the paddler marked at every frame.
fn marked_throughout(cuts: &str) -> Files {
    let rows: String = (1..198).map(|n| format!("weir-bridge,{n},9,9,9,9,,paddler\n")).collect();
    Files { marks: Some(format!("{MARKS}{rows}").into()), ..with(&format!("cuts = [{cuts}]")) }
}

#[test]
fn ranges_are_parted_at_cuts_and_no_handle_reaches_over_one() {
    // The camera asks for 50 frames of handles. The ranges are 0 to 100 and 150 to 200.
    let parts = |cuts: &str| -> Vec<_> {
        let clip = resolve(&marked_throughout(cuts), &facts()).unwrap().clip;
        let bounds = |r: FrameRange| (r.first().0, r.end().0);
        clip.ranges.iter().map(|r| (bounds(r.used), bounds(r.with_handles))).collect()
    };
    let second = ((150, 200), (100, 200));
    // In no order, one as a timecode, one in a range, one in a handle, one in none.
    assert_eq!(
        parts("130, \"10:12:31:10\", 140"),
        [((0, 35), (0, 35)), ((35, 100), (35, 130)), ((150, 200), (140, 200))]
    );
    // At a range's first frame, and on the first one after it.
    assert_eq!(parts("150"), [((0, 100), (0, 150)), ((150, 200), (150, 200))]);
    assert_eq!(parts("100"), [((0, 100), (0, 100)), second]);
    // Single frames.
    assert_eq!(parts("1, 2"), [((0, 1), (0, 1)), ((1, 2), (1, 2)), ((2, 100), (2, 150)), second]);
}

#[test]
fn a_part_between_cuts_needs_a_subject_of_its_own() {
    // The paddler is marked at 0 and 198: from 2 to 149 nothing says where it is.
    has_one_fault(
        &with("cuts = [2, 120]"),
        &facts(),
        (
            "NoSubject",
            "shoot.toml:34: no subject is marked in the used range 2 to 99 of weir-bridge; mark a box at two frames \
             at least",
        ),
    );
}

#[test]
fn cuts_that_are_none_are_told_at_their_line() {
    for (cuts, kind, message) in [
        (
            "0",
            "CutAtStart",
            "shoot.toml:34: cuts: frame 0 is the clip's first, and there is nothing to cut it from; leave it out",
        ),
        ("200", "AfterClip", "shoot.toml:34: cuts: frame 200 is after the clip's last frame, 199"),
        (
            "40,\n\"10:12:31:15\"",
            "CutTwice",
            "shoot.toml:35: cuts: the cut before frame 40 is already written on line 34; leave one out",
        ),
    ] {
        has_one_fault(&marked_throughout(&format!("\n{cuts}\n")), &facts(), (kind, message));
    }
}
