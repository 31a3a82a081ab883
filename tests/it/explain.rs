//! `plan --explain`: what was done and why, the tightest moment, and what to do about it, in sentences.

use crate::ride::{Ride, clip_of, number};

/// Without margins and pan limits, so that what is left can be reckoned by hand.
fn shoot(limits: &str, deliverables: &str, clip_keys: &str) -> String {
    format!(
        "version = 1\ntimeline_rate = 25\nmarks = \"marks.csv\"\nrounding = \"exact\"\n[limits]\nmargin_across = 0\n\
         margin_down = 0\npan_hard = \"off\"\npan_caution = \"off\"\n{limits}\n{deliverables}{}",
        clip_of("ride", ("4000x3000", 25), clip_keys)
    )
}

const VERTICAL: &str = "[[deliverable]]\nname = \"vertical\"\nraster = \"1080x1920\"\n";

fn explained(ride: &Ride) -> String {
    let (text, status) = ride.plan_with(&["--explain"]);
    assert_eq!(status, Some(0), "{text}");
    text
}

/// By hand: a box from column 100 on is left of the middle of any window in the frame, so that the window starts at 0 and 100 px
/// are left; 1080 / 1687.5 = 0.64.
#[test]
fn a_hold_says_why_and_that_there_is_nothing_to_do() {
    let ride =
        Ride::new(&shoot("", VERTICAL, ""), "ride,0,100,900,600,1200\nride,499,100,900,600,1200\n");
    let text = explained(&ride);
    for line in [
        "CLIP ride, 4000x3000 with 500 frames",
        "  vertical, 9:16, 1080x1920: fine.",
        "    The window stands still: one still window is enough for the subject and its margins.",
        "    It fits: all of it is inside on every frame of the subject.",
        "    The tightest moment is frame 0: the margin at the left has 100 px to spare.",
        "    It is enlarged 0.64 times at most: hero shot.",
        "    Nothing has to be done about it.",
    ] {
        assert!(text.lines().any(|printed| printed == line), "{line}\n{text}");
    }
    assert!(text.ends_with("if they differ from this page, they win.\n"), "{text}");
}

/// Each move is told as it stands in the keys, here and in the report.
#[test]
fn moves_are_told_one_by_one() {
    let walk = "ride,0,500,1200,400,900\nride,200,500,1200,400,900\nride,240,2900,1200,400,900\n\
        ride,499,2900,1200,400,900\n";
    let ride = Ride::new(&shoot("", VERTICAL, ""), walk);
    let text = explained(&ride);
    let keys = ride.rows("ride_vertical_keys.csv");
    let pairs = keys.windows(2).filter(|pair| pair[0]["to_next"].starts_with("ease "));
    let mut told = 0;
    for (move_number, pair) in pairs.enumerate() {
        let (from, to) = (&pair[0], &pair[1]);
        let gone = number(to, "left_px") - number(from, "left_px");
        let frames = number(to, "frame") - number(from, "frame");
        let line = format!(
            "ove {}, frames {} to {}, {:.2} s: its middle goes {:.0}",
            move_number + 1,
            from["frame"],
            to["frame"],
            frames / 25.0,
            gone.trunc()
        );
        assert!(gone > 1000.0, "{gone}");
        assert!(text.contains(&format!("    M{line}")), "{line}\n{text}");
        assert!(ride.read("report.txt").contains(&format!("    m{line}")), "{line}");
        told += 1;
    }
    assert_eq!(told, 1);
    assert!(
        text.contains("The window stands still, and moves once in between: a still window would"),
        "{text}"
    );
}

/// By hand: 3000 px of a 16:9 window of 1687.5 are no room for 2000, and 312.5 px are missing; a pan of 1 in 4 s is above no
/// limit that is off.
#[test]
fn a_refusal_says_what_would_mend_it() {
    let ride = Ride::new(
        &shoot(
            "",
            &format!("{VERTICAL}[[deliverable]]\nname = \"film\"\nraster = \"1920x1080\"\n"),
            "",
        ),
        "ride,0,1000,900,2000,1200\nride,499,1000,900,2000,1200\n",
    );
    let text = explained(&ride);
    for words in [
        "  vertical, 9:16, 1080x1920: not in this shape.",
        "    It does not fit: the subject with its margins is 2000 px wide, and the largest 9:16 window has \
         1687.5 px: 312.5 px missing.",
        "    In the best attempt the tightest moment is frame 0: 312.5 px are missing.",
        "    What would mend it, the cheapest first:",
        "      - any shape from 0.67:1 up has room",
        "  film, 16:9, 1920x1080: fine.",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}

/// What is not known is asked for: the middle of 200 frames without the subject.
#[test]
fn a_gap_is_to_be_marked() {
    let marks = "clip,frame,left,top,width,height,kind,name\nride,0,1500,900,600,1200,subject,\n\
        ride,100,1500,900,600,1200,subject,\nride,101,,,,,gone,\nride,301,1500,900,600,1200,subject,\n\
        ride,499,1500,900,600,1200,subject,\n";
    let text = explained(&Ride::new(&shoot("", VERTICAL, ""), marks));
    assert!(text.contains("To do: mark the subject at frame 201, or mark it gone;"), "{text}");
}

#[test]
fn sentences_and_json_are_not_asked_for_at_once() {
    let ride = Ride::new(&shoot("", VERTICAL, ""), "ride,0,1500,900,600,1200\n");
    assert_eq!(ride.plan_with(&["--explain", "--json"]).1, Some(2));
}
