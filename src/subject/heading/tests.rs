use super::*;

const RULES: HeadingRules = HeadingRules { least_widths_per_sec: 0.05, least_secs: 2.0 };

/// A way at 25 points a second that goes on at each of these speeds, in widths a second, for so many seconds.
fn way(parts: &[(f64, f64)]) -> Vec<Waypoint> {
    let mut widths = 0.0;
    let mut points = vec![Waypoint { secs: 0.0, widths, leg: 0 }];
    let mut end = 0.0;
    for (speed, secs) in parts {
        end += secs;
        while (points.len() as f64) / 25.0 < end + 0.02 {
            widths += speed / 25.0;
            let secs = points.len() as f64 / 25.0;
            points.push(Waypoint { secs, widths, leg: 0 });
        }
    }
    points
}

fn headings(parts: &[(f64, f64)]) -> Headings {
    Headings::of(&way(parts), &RULES)
}

/// Half a second each way, so many times.
fn to_and_fro(times: usize, there: f64, back: f64) -> Vec<(f64, f64)> {
    [(there, 0.5), (back, 0.5)].repeat(times)
}

#[test]
fn a_steady_walker_has_one_heading_and_a_slow_one_has_none() {
    for (speed, heading) in
        [(0.06, Heading::Right), (-0.06, Heading::Left), (0.04, Heading::Nowhere)]
    {
        let walker = headings(&[(speed, 6.0)]);
        assert_eq!((walker.at(0.0), walker.at(6.0)), (heading, heading));
        assert_eq!((walker.lean(3.0), walker.changes().len()), (heading.sign(), 0));
    }
    // A way that is shorter than the two seconds is all there is.
    assert_eq!(headings(&[(0.1, 0.8)]).at(0.4), Heading::Right);
    assert_eq!(headings(&[]).at(0.0), Heading::Nowhere);
}

#[test]
fn who_turns_back_and_forth_every_half_second_keeps_the_heading() {
    // On the whole to the right, by (0.3 - 0.1) / 2 widths a second.
    assert!(headings(&to_and_fro(8, 0.3, -0.1)).changes().is_empty());
    assert_eq!(headings(&to_and_fro(8, 0.3, -0.1)).at(4.0), Heading::Right);
    // Right, then to and fro on the spot, wider than what hardly moves, then right again.
    let parts = [vec![(0.2, 4.0)], to_and_fro(8, 0.3, -0.3), vec![(0.2, 4.0)]].concat();
    let kept = headings(&parts);
    assert_eq!((kept.at(0.0), kept.changes()), (Heading::Right, &[][..]));
    // Never anything else: no heading at all, whatever the time of a turn has to do with the two seconds.
    for half in [0.5, 0.44, 0.36, 0.76] {
        let parts = [(0.3, half), (-0.3, half)].repeat(10);
        let found = headings(&parts);
        assert_eq!((found.at(5.0), found.changes().len()), (Heading::Nowhere, 0), "{half}");
    }
}

#[test]
fn one_true_reversal_is_one_change_at_the_moment_it_turns() {
    let found = headings(&[(0.2, 5.0), (-0.2, 5.0)]);
    assert_eq!(found.changes().len(), 1);
    let (secs, heading) = found.changes()[0];
    assert!((secs - 5.0).abs() < 0.03, "{secs}");
    assert_eq!((found.at(0.0), heading), (Heading::Right, Heading::Left));
    // Of 1.5 s it is none, of 3 s it is one there and one back.
    assert!(headings(&[(0.2, 5.0), (-0.2, 1.5), (0.2, 5.0)]).changes().is_empty());
    assert_eq!(headings(&[(0.2, 5.0), (-0.2, 3.0), (0.2, 5.0)]).changes().len(), 2);
}

/// By hand: over a second about the change, 3u² - 2u³ of the way from 1 to -1.
#[test]
fn the_lean_goes_over_gradually() {
    let found = Headings { first: Heading::Right, changes: vec![(5.0, Heading::Left)] };
    let lean = [4.5, 4.75, 5.0, 5.25, 5.5].map(|secs| found.lean(secs));
    assert_eq!(lean, [1.0, 1.0 - 2.0 * 0.15625, 0.0, 1.0 - 2.0 * 0.84375, -1.0]);
    assert_eq!(
        [4.5, 4.51, 5.49, 5.5].map(|secs| found.is_settled(secs)),
        [true, false, false, true]
    );
    // No step of a fiftieth of a second is more than 2 x 1.5 / 50.
    for step in 200..300 {
        let secs = f64::from(step) / 50.0;
        assert!((found.lean(secs + 0.02) - found.lean(secs)).abs() < 0.0601);
    }
}

#[test]
fn who_stands_for_long_has_no_heading_until_he_walks_on() {
    let found = headings(&[(0.2, 4.0), (0.0, 6.0), (-0.2, 4.0)]);
    let names: Vec<Heading> = found.changes().iter().map(|(_, heading)| *heading).collect();
    assert_eq!((found.at(0.0), names), (Heading::Right, vec![Heading::Nowhere, Heading::Left]));
    // A tenth of a width within the two seconds is what counts: half a second of the 0.2 a second.
    assert!((found.changes()[0].0 - 4.5).abs() < 0.05, "{:?}", found.changes());
    // A stop of two seconds is none.
    assert!(headings(&[(0.2, 4.0), (0.0, 2.0), (0.2, 4.0)]).changes().is_empty());
}

#[test]
fn over_a_gap_the_heading_is_kept_if_it_goes_on_and_changes_in_its_middle_if_not() {
    let gap = |after: f64, leg: usize| {
        let mut points = way(&[(0.2, 4.0)]);
        let last = points[points.len() - 1];
        let later = way(&[(after, 4.0)]);
        points.extend(later.iter().map(|p| Waypoint {
            secs: last.secs + 3.0 + p.secs,
            widths: last.widths + 0.6 + p.widths,
            leg,
        }));
        Headings::of(&points, &RULES)
    };
    assert!(gap(0.2, 0).changes().is_empty());
    assert!(gap(0.2, 1).changes().is_empty());
    // Nothing known of the way between: half-way from 4 s to 7 s. Known, the 0.6 widths to the right of it count.
    assert_eq!(gap(-0.2, 1).changes(), [(5.5, Heading::Left)]);
    let known = gap(-0.2, 0);
    assert_eq!(known.changes().len(), 1);
    assert!((known.changes()[0].0 - 5.5).abs() < 1.5, "{:?}", known.changes());
}
