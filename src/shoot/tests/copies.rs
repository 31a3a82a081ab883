//! Clips that take the path of another.

use super::{faults::variant, *};
use crate::{
    clip::{CopyKind, FrameTimes, PathCopy},
    shoot::ResolvedClip,
    timecode::FrameIndex,
};

/// The good file and two clips that take the path of its second one, each with these keys; pictures, so that they
/// have a rate.
pub(super) fn with(repeat: &str, pair: &str) -> String {
    let clip = |name: &str, keys: &str| {
        format!(
            "[[clip]]\nname = \"{name}\"\nframes = \"{name}/%04d.png\"\nrate = 25\n\
             deliverables = [\"film-hd\"]\n{keys}\n"
        )
    };
    format!("{SHOOT}{}{}", clip("again", repeat), clip("twin", pair))
}

pub(super) const REPEATS: &str =
    "repeats = { clip = \"weir-helmet\", its_frame = 30, this_frame = 40, right = -12.5 }";
pub(super) const PAIR: &str = "pair_of = { clip = \"weir-helmet\" }";

/// The same, with the second clip's subject marked on both sides of its cut too.
fn marked(shoot: impl Into<Vec<u8>>) -> Files {
    let marks = format!("{MARKS}weir-helmet,160,1,2,3,4,,\n");
    Files { marks: Some(marks.into()), ..Files::shoot(shoot) }
}

/// What is found when a file is read.
fn faults_of(files: &Files) -> Vec<(String, String)> {
    let folder = tempfile::tempdir().unwrap();
    let faults = files.read_in(folder.path()).faults;
    faults.iter().map(variant).zip(printed(&faults, folder.path())).collect()
}

fn has_one_fault(files: &Files, kind: &str, says: &str) {
    let faults = faults_of(files);
    assert!(
        faults.len() == 1 && faults[0].0 == kind && faults[0].1.contains(says),
        "{kind}: {says}\nfound {faults:#?}"
    );
}

#[test]
fn copies_are_read_and_need_no_marks() {
    let shoot = Files::shoot(with(REPEATS, PAIR)).read().checked().unwrap();
    let again = shoot.clip("again").unwrap().copy.as_ref().unwrap();
    assert_eq!((again.from.as_str(), again.kind), ("weir-helmet", CopyKind::Repeat));
    assert_eq!((again.right_px, again.down_px, again.line), (-12.5, 0.0, 53));
    let twin = shoot.clip("twin").unwrap().copy.as_ref().unwrap();
    assert_eq!((twin.kind, &twin.moments), (CopyKind::Mirror, &None));
    assert_eq!(shoot.clip("weir-helmet").unwrap().copy, None);
}

#[test]
fn what_is_wrong_with_a_copy_is_told_at_its_line() {
    for (repeat, kind, says) in [
        (
            "repeats = \"weir-helmet\"",
            "WrongType",
            "shoot.toml:53: repeats: this is a text, expected a table such as { clip = \"take-1\", its_frame = 300",
        ),
        (
            "repeats = { its_frame = 1, this_frame = 2 }",
            "Missing",
            "repeats needs `clip`, the clip whose path is taken",
        ),
        (
            "repeats = { clip = \"weir-helmet\", its_frame = 1 }",
            "Missing",
            "repeats needs `this_frame`, the frame of this clip at that moment",
        ),
        (
            "pair_of = { clip = \"weir-helmet\", this_frame = 1 }",
            "Missing",
            "pair_of needs `its_frame`",
        ),
        (
            "pair_of = { clip = \"weir-helmet\", right = 1 }",
            "UnknownKey",
            "there is no key `right` in pair_of",
        ),
        (
            "repeats = { clip = \"weir-helmet\", its_frame = 1, this_frame = 2, down = 2e6 }",
            "OutOfRange",
            "repeats.down: 2000000 is out of range",
        ),
        (
            "repeats = { clip = \"weir-helmte\", its_frame = 1, this_frame = 2 }",
            "UnknownName",
            "shoot.toml:53: repeats: there is no clip `weir-helmte`; did you mean `weir-helmet`?",
        ),
        (
            "pair_of = { clip = \"again\" }",
            "CopyOfItself",
            "pair_of: `again` is this clip itself; name the one whose path is planned",
        ),
        (
            "pair_of = { clip = \"weir-bridge\" }\nsteady = \"rig\"\nlevel = 2",
            "CopyOfTurned",
            "pair_of: `again` is levelled, or steady against the world, and its path is that of its own pictures",
        ),
    ] {
        has_one_fault(&Files::shoot(with(repeat, PAIR)), kind, says);
    }
    let both = format!("{REPEATS}\n{PAIR}");
    has_one_fault(
        &Files::shoot(with(&both, PAIR)),
        "Both",
        "shoot.toml:54: pair_of: [[clip]] has both `repeats` and `pair_of`; leave one of them out",
    );
}

#[test]
fn a_path_is_taken_from_where_it_is_planned() {
    let chain = with(REPEATS, "pair_of = { clip = \"again\" }");
    has_one_fault(
        &Files::shoot(chain),
        "CopyOfCopy",
        "shoot.toml:59: pair_of: the path of `again` is itself taken from another clip; take it from `weir-helmet`, where \
         it is planned, and count frames and px from there",
    );
    let ring = with("pair_of = { clip = \"twin\" }", "pair_of = { clip = \"again\" }");
    let faults = faults_of(&Files::shoot(ring));
    assert_eq!(faults.len(), 2, "{faults:#?}");
    assert!(
        faults[0].1.ends_with(
            "`twin` takes its path from this clip in its turn, so that nothing is planned; leave it out of one of them"
        ),
        "{faults:#?}"
    );
}

#[test]
fn a_shape_that_the_other_clip_is_not_made_for_cannot_be_taken() {
    let more = format!("{PAIR}\n[clip.limits]");
    let shoot = with(REPEATS, &more).replacen(
        "deliverables = [\"film-hd\"]\npair_of",
        "deliverables = [\"film-hd\", \"vertical\"]\npair_of",
        1,
    );
    has_one_fault(
        &Files::shoot(shoot),
        "CopyUndelivered",
        "pair_of: `weir-helmet` is not delivered as `vertical` and has no path in that shape; add it to the \
         deliverables there, or leave it out here",
    );
}

#[test]
fn a_clip_that_takes_a_path_has_no_pins() {
    let pins = format!("{PINS}again,film-hd,12,100,100,1600,900\n");
    let files = Files { pins: Some(pins.into()), ..Files::shoot(with(REPEATS, PAIR)) };
    has_one_fault(
        &files,
        "PinOfCopy",
        "pins.csv:4: clip: `again` takes its path from `weir-helmet`; pin that clip, or plan this one by itself",
    );
}

/// The good file's second clip and the one that repeats it, held against footage.
fn resolved_copy(
    keys: &str,
    of_this: &ClipFacts,
    of_other: &ClipFacts,
) -> Result<Option<PathCopy>, Vec<(String, String)>> {
    let folder = tempfile::tempdir().unwrap();
    let shoot = marked(with(keys, PAIR)).read_in(folder.path()).checked().unwrap();
    let resolve = |name: &str, facts: &ClipFacts| -> ResolvedClip {
        shoot.resolve(shoot.clip(name).unwrap(), facts).unwrap()
    };
    let (this, other) = (resolve("again", of_this), resolve("weir-helmet", of_other));
    shoot
        .resolve_copy(shoot.clip("again").unwrap(), &this, &other)
        .map_err(|faults| faults.iter().map(variant).zip(printed(&faults, folder.path())).collect())
}

#[test]
fn moments_become_a_difference_of_frames() {
    // One range of the other is 0 to 149, the next 150 to 199.
    let keys = |its: &str, this: &str| {
        format!(
            "repeats = {{ clip = \"weir-helmet\", its_frame = {its}, this_frame = {this} }}\n\
             start_timecode = \"01:00:00:00\"\nranges = [{{ from = 60, to = 70 }}]"
        )
    };
    let later = |its: &str, this: &str| {
        let copy = resolved_copy(&keys(its, this), &facts(), &facts()).unwrap().unwrap();
        copy.frames_later
    };
    assert_eq!(later("30", "40"), 10);
    assert_eq!(later("30", "\"01:00:00:20\""), -10);
    let copy = resolved_copy(&keys("30", "40"), &facts(), &facts()).unwrap().unwrap();
    assert_eq!(copy.its_frame(FrameIndex(60)), Some(FrameIndex(50)));
    for (its, this, kind, says) in [
        ("200", "1", "AfterClip", "repeats: frame 200 is after the clip's last frame, 199"),
        (
            "1",
            "\"00:59:59:00\"",
            "OutsideTimecodes",
            "the timecode 00:59:59:00 is outside the clip",
        ),
        ("\"01:00:00:00\"", "1", "NoStartTimecode", "cannot be found in `weir-helmet`"),
    ] {
        let faults = resolved_copy(&keys(its, this), &facts(), &facts()).unwrap_err();
        assert!(
            faults.len() == 1 && faults[0].0 == kind && faults[0].1.contains(says),
            "{faults:#?}"
        );
    }
}

#[test]
fn clips_that_do_not_match_are_told_when_their_footage_is_known() {
    let range =
        |from: u64, to: u64| format!("{REPEATS}\nranges = [{{ from = {from}, to = {to} }}]");
    let told = |keys: &str, this: &ClipFacts| resolved_copy(keys, this, &facts()).unwrap_err();
    let smaller = ClipFacts { raster: Raster::new(2704, 2028).unwrap(), ..facts() };
    assert_eq!(
        told(&range(60, 70), &smaller),
        [(
            "CopyRasterDiffers".to_owned(),
            "shoot.toml:53: repeats: `weir-helmet` is 4000x3000 and this clip 2704x2028, so that their px do not match; \
             plan this clip by itself"
                .to_owned()
        )]
    );
    let keys = range(60, 70).replace("ranges", "start_timecode = \"00:00:00:00\"\nranges");
    assert!(resolved_copy(&keys, &facts(), &facts()).is_ok());
    // The other ends at 199, which is 209 here; and 155 to 165 here lie over its cut at 150.
    let longer = ClipFacts { frame_count: 400, ..facts() };
    assert_eq!(told(&range(210, 300), &longer)[0].0, "CopyUnused");
    assert!(resolved_copy(&range(209, 300), &longer, &facts()).is_ok());
    assert_eq!(
        told(&range(155, 166), &facts()),
        [(
            "CopyOfSeveral".to_owned(),
            "shoot.toml:53: repeats: the used range 155 to 165 lies over several used ranges of `weir-helmet` (0 to \
             149, 150 to 199), and no path is carried from one to the next; part it with `ranges` or `cuts` as they are"
                .to_owned()
        )]
    );
}

#[test]
fn clips_at_other_rates_have_no_frames_in_common() {
    // A video, whose rate is its own.
    let shoot = with(REPEATS, PAIR)
        .replace("frames = \"again/%04d.png\"\nrate = 25", "file = \"again.mp4\"");
    let shoot = marked(shoot).read().checked().unwrap();
    let other = shoot.resolve(shoot.clip("weir-helmet").unwrap(), &facts()).unwrap();
    let again = shoot.clip("again").unwrap();
    let told = |timing| {
        let this = shoot.resolve(again, &ClipFacts { timing, ..facts() }).unwrap();
        let faults = shoot.resolve_copy(again, &this, &other).unwrap_err();
        faults.iter().map(variant).collect::<Vec<_>>()
    };
    assert_eq!(told(Timing::Constant(FrameRate::new(50, 1).unwrap())), ["CopyRateDiffers"]);
    let times = FrameTimes::new((1, 1000), (0..200).map(|n| n * 30 + n % 2).collect(), 30).unwrap();
    assert_eq!(told(Timing::Variable(times)), ["CopyOfVariableRate"]);
}
