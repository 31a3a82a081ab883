//! A client's conditions on keep-ins.

use super::{faults::variant, *};

/// The good file with a clause of these keys at its end.
fn with(keys: &str) -> String {
    format!("{SHOOT}[[clause]]\n{keys}\n")
}

/// The good marks with a logo to keep in on the first clip.
fn marks() -> String {
    // The second clip has a subject on both sides of its cut, so that it can be held against its footage too.
    format!("{MARKS}weir-helmet,160,1,2,3,4,,\nweir-bridge,0,1500,1400,240,100,keep-in,logo\n")
}

fn files(keys: &str, marks: &str) -> Files {
    Files { marks: Some(marks.into()), ..Files::shoot(with(keys)) }
}

/// The line of the clause's head, which the good file ends before.
fn head_line() -> u64 {
    SHOOT.lines().count() as u64 + 1
}

#[test]
fn a_clause_is_read_and_holds_for_the_clips_that_mark_its_thing() {
    let keys = "keep_in = \"logo\"\ndeliverables = [\"vertical\"]\nleast_secs = 3\nleast_px = 120\nmargin = 0.05";
    let shoot = files(keys, &marks()).read().checked().unwrap();
    let clause = &shoot.clauses[0];
    assert_eq!((clause.keep_in.as_str(), clause.line), ("logo", head_line()));
    assert_eq!(
        (clause.least_secs, clause.least_px, clause.margin),
        (Some(3.0), Some(120.0), Some(0.05))
    );
    assert!(clause.is_for("vertical") && !clause.is_for("film-hd"));
    let bridge = shoot.resolve(bridge(&shoot), &facts()).unwrap();
    assert_eq!(bridge.clauses, shoot.clauses);
    let helmet = shoot.resolve(shoot.clip("weir-helmet").unwrap(), &facts());
    assert!(helmet.is_ok_and(|helmet| helmet.clauses.is_empty()), "it does not mark the logo");
}

#[test]
fn a_clause_may_ask_for_nothing_but_to_be_kept_and_two_may_be_on_one_thing() {
    let keys = "keep_in = \"logo\"\n[[clause]]\nkeep_in = \"logo\"\nleast_secs = 3\nclips = [\"weir-bridge\"]";
    let shoot = files(keys, &marks()).read().checked().unwrap();
    assert_eq!(shoot.clauses.len(), 2);
    assert_eq!((shoot.clauses[0].least_secs, shoot.clauses[0].least_px), (None, None));
    assert!(shoot.clauses[0].is_for("film-hd"), "for all that is made of the clip");
}

/// Keys of a clause, so many lines below its head the fault, its kind, and words of its message.
const FAULTY: &[(&str, u64, &str, &str)] = &[
    ("least_px = 120", 0, "Missing", "[[clause]] needs `keep_in`, the name of a keep-in"),
    ("keep_in = 3", 1, "WrongType", "keep_in: this is a whole number"),
    (
        "keep_in = \"lgoo\"",
        1,
        "UnknownName",
        "keep_in: there is no keep-in `lgoo`; did you mean `logo`?",
    ),
    ("keep_in = \"hull\"", 1, "UnknownName", "there is no keep-in `hull`; there are logo"),
    (
        "keep_in = \"rail, left\"",
        1,
        "NotAKeepIn",
        "`rail, left` is marked as a keep-out on line 7 of the marks file, and a clause is on a keep-in",
    ),
    (
        "keep_in = \"logo\"\nclips = [\"weir-bridge\", \"weir-helmet\"]",
        1,
        "ClauseUnmarked",
        "keep_in: `weir-helmet` has no keep-in `logo`; mark it there, or leave the clip out",
    ),
    (
        "keep_in = \"paddler\"\nclips = [\"weir-bridge\"]",
        1,
        "NotAKeepIn",
        "`paddler` is marked as a subject on line 3",
    ),
    (
        "keep_in = \"logo\"\nclips = [\"weir-brigde\"]",
        2,
        "UnknownName",
        "clips: there is no clip `weir-brigde`",
    ),
    ("keep_in = \"logo\"\nclips = []", 2, "Empty", "clips: "),
    (
        "keep_in = \"logo\"\ndeliverables = [\"upright\"]",
        2,
        "UnknownName",
        "deliverables: there is no deliverable `upright`",
    ),
    (
        "keep_in = \"logo\"\ndeliverables = [\"vertical\", \"vertical\"]",
        2,
        "ListedTwice",
        "deliverables: `vertical` is in this list twice",
    ),
    (
        "keep_in = \"logo\"\nleast_secs = 0",
        2,
        "OutOfRange",
        "least_secs: 0 is out of range, expected 0.04 to 600",
    ),
    (
        "keep_in = \"logo\"\nleast_px = 0.5",
        2,
        "OutOfRange",
        "least_px: 0.5 is out of range, expected 1 to",
    ),
    (
        "keep_in = \"logo\"\nmargin = 5",
        2,
        "OutOfRange",
        "margin: 5 is out of range, expected 0 to 0.45",
    ),
    (
        "keep_in = \"logo\"\nleast_sec = 3",
        2,
        "UnknownKey",
        "there is no key `least_sec` in [[clause]]; did you mean `least_secs`?",
    ),
    // 1080 px less 5 % on both sides are 972.
    (
        "keep_in = \"logo\"\nmargin = 0.05\nleast_px = 972.5",
        3,
        "ClauseTooLarge",
        "least_px: one thing cannot be 972.5 px wide in `vertical`, which is 1080x1920: within the clause's margin there \
             are 972.0 px; ask for less, or name the `deliverables` that it is for",
    ),
];

#[test]
fn what_is_wrong_with_a_clause_is_told_where_it_is() {
    for (keys, below, kind, says) in FAULTY {
        let folder = tempfile::tempdir().unwrap();
        let faults = files(keys, &marks()).read_in(folder.path()).faults;
        let messages = printed(&faults, folder.path());
        let place = format!("shoot.toml:{}: ", head_line() + below);
        assert!(
            messages.len() == 1
                && messages[0].starts_with(&place)
                && messages[0].contains(says)
                && variant(&faults[0]) == *kind,
            "{keys}: {kind} at {place}{says}\nfound {messages:#?}"
        );
    }
    let enough = "keep_in = \"logo\"\nmargin = 0.05\nleast_px = 972";
    assert_eq!(files(enough, &marks()).read().faults, []);
}

/// The second clip is made for the film only.
#[test]
fn a_deliverable_that_none_of_the_clips_is_made_for_is_a_fault() {
    let marks = format!("{}weir-helmet,0,1500,1400,240,100,keep-in,logo\n", marks());
    let keys = |clips: &str| {
        format!("keep_in = \"logo\"\nclips = [{clips}]\ndeliverables = [\"vertical\"]")
    };
    let faults = files(&keys("\"weir-helmet\""), &marks).read().faults;
    assert_eq!(faults.len(), 1);
    assert_eq!(variant(&faults[0]), "ClauseUndelivered");
    assert!(faults[0].to_string().contains("delivered as `vertical`; leave it out, or add it to"));
    assert_eq!(files(&keys("\"weir-helmet\", \"weir-bridge\""), &marks).read().faults, []);
}

#[test]
fn a_thing_that_may_be_marked_in_a_row_with_a_fault_is_not_said_to_be_unmarked() {
    let marks = format!("{MARKS}weir-bridge,0,1500,1400,240,wide,keep-in,logo\n");
    let faults = files("keep_in = \"logo\"", &marks).read().faults;
    let kinds: Vec<String> = faults.iter().map(variant).collect();
    assert_eq!(kinds, ["NotANumber"]);
}
