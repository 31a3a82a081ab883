use super::*;
use crate::timecode::FrameIndex;

const MILLISECONDS: TimeBase = TimeBase { seconds: 1, ticks: 1000 };

fn rate(text: &str) -> FrameRate {
    text.parse().unwrap()
}

fn ordered(ticks: impl IntoIterator<Item = i64>) -> Ordered {
    Ordered { ticks: ticks.into_iter().collect(), last_duration: None }
}

fn rounded(rate: &str, count: i64) -> Ordered {
    let rate: FrameRate = rate.parse().unwrap();
    let (frames, seconds) = (i64::from(rate.frames()), i64::from(rate.seconds()));
    ordered((0..count).map(|n| 83 + (n * seconds * 1000 + frames / 2) / frames))
}

#[test]
fn stamps_rounded_to_milliseconds_fit_their_exact_rate_for_hours() {
    for text in ["24000/1001", "30000/1001", "60000/1001", "120000/1001", "24", "60", "25/2"] {
        let stamps = rounded(text, 500_000);
        let found = stamps.constant_rate(MILLISECONDS, None, &[rate("1000"), rate(text)]);
        assert_eq!(found, Ok(rate(text)));
    }
}

#[test]
fn a_rate_that_drifts_is_not_the_rate() {
    let stamps = rounded("30000/1001", 2000);
    let found = stamps.constant_rate(MILLISECONDS, Some(rate("30")), &[rate("30000/1001")]);
    assert_eq!(found, Err(RateFault::NotAsGiven { found: rate("30000/1001") }));
}

#[test]
fn where_milliseconds_cannot_tell_the_given_rate_holds() {
    let stamps = rounded("30000/1001", 10);
    let found = stamps.constant_rate(MILLISECONDS, Some(rate("30")), &[rate("30000/1001")]);
    assert_eq!(found, Ok(rate("30")));
}

#[test]
fn a_declared_field_rate_gives_way_to_the_gaps() {
    let base = TimeBase { seconds: 1, ticks: 50 };
    let stamps = ordered((0..100).map(|n| n * 2));
    assert_eq!(stamps.constant_rate(base, None, &[rate("50")]), Ok(rate("25")));
}

/// 500 ticks of 1/11988 s are 23.976 frames/s, 41,666 microseconds are 24.0004.
#[test]
fn a_rate_that_was_rounded_on_the_way_is_the_known_one() {
    for (ticks, gap, known, other) in
        [(11_988, 500, "24000/1001", "24"), (1_000_000, 41_666, "24", "24000/1001")]
    {
        let base = TimeBase { seconds: 1, ticks };
        let stamps = ordered((0..50_000).map(|n| n * gap));
        let declared = [FrameRate::new(ticks, u32::try_from(gap).unwrap()).unwrap()];
        assert_eq!(stamps.constant_rate(base, None, &declared), Ok(rate(known)));
        assert_eq!(stamps.constant_rate(base, Some(rate(known)), &declared), Ok(rate(known)));
        let refused = stamps.constant_rate(base, Some(rate(other)), &declared);
        assert_eq!(refused, Err(RateFault::NotAsGiven { found: rate(known) }));
    }
}

#[test]
fn gaps_that_jitter_by_a_tick_keep_a_known_rate_only_on_a_straight_line() {
    let base = TimeBase { seconds: 1, ticks: 90_000 };
    let jitter =
        ordered((0..2000).map(|n| n * 3000 + [0, 1, 2, 1][usize::try_from(n % 4).unwrap()]));
    assert_eq!(jitter.constant_rate(base, None, &[]), Ok(rate("30")));
    let bent = ordered((0..4000).map(|n| n * 3000 + (2000_i64 - n).abs()));
    let refused = bent.constant_rate(base, None, &[]);
    assert!(matches!(refused, Err(RateFault::Variable { .. })), "{refused:?}");
}

#[test]
fn uneven_gaps_are_told_in_milliseconds() {
    let found = ordered([0, 33, 66, 140]).constant_rate(MILLISECONDS, None, &[rate("30")]);
    let expected = RateFault::Variable { smallest_gap_ms: 33.0, largest_gap_ms: 74.0 };
    assert_eq!(found, Err(expected));
}

#[test]
fn stamps_that_repeat_or_crawl_have_no_rate() {
    for ticks in [[7, 7, 7], [0, 5000, 10_000], [i64::from(i32::MIN), 0, 1 << 31]] {
        let found = ordered(ticks).constant_rate(MILLISECONDS, None, &[]);
        assert!(matches!(found, Err(RateFault::OutOfRange { .. })), "{found:?}");
    }
}

#[test]
fn packets_come_in_decoding_order_and_some_are_cut_off() {
    let mut stamps = Stamps::default();
    for line in
        ["pts=0|dts=-2|flags=KD", "pts=6|dts=0|flags=K_|", "", "pts=2|dts=2|flags=__", "junk"]
    {
        stamps.take_line(line);
    }
    assert_eq!((stamps.shown_count(), stamps.discarded_count()), (2, 1));
    assert_eq!(stamps.shown().unwrap().ticks(), [2, 6]);
}

#[test]
fn decoding_stamps_serve_where_those_of_presentation_are_missing() {
    let mut stamps = Stamps::default();
    stamps.take_line("pts=N/A|dts=0|size=9|flags=K_");
    stamps.take_line("pts=N/A|dts=1|size=4|flags=__");
    assert!(stamps.shown().is_none());
    assert_eq!(stamps.decoded().unwrap().ticks(), [0, 1]);
    assert_eq!(stamps.shown_bytes(), 13);
    stamps.take_line("pts=N/A|dts=1|flags=__");
    assert!(stamps.decoded().is_none(), "two frames cannot be shown at one time");
}

#[test]
fn the_last_frame_stays_as_long_as_the_file_says_or_else_as_the_one_before() {
    let stamped = |last: &str| {
        let mut stamps = Stamps::default();
        for line in ["pts=10|dts=0|duration=5|flags=K_", "pts=15|dts=1|flags=__", last] {
            stamps.take_line(line);
        }
        let times = stamps.shown().unwrap().times(MILLISECONDS).unwrap();
        times.seconds_at(FrameIndex(3))
    };
    assert_eq!(stamped("pts=30|dts=2|duration=7|flags=__"), 0.027);
    assert_eq!(stamped("pts=30|dts=2|flags=__"), 0.035);
}

/// Frames in the order of decoding, two of which are shown before one that is decoded earlier. The file ends
/// after the fifth: the fourth is there, and what is shown before it is not.
#[test]
fn frames_behind_lost_ones_are_left_out() {
    let mut stamps = Stamps::default();
    for (shown, decoded) in [(0, -2), (3, -1), (1, 0), (2, 1), (6, 2)] {
        stamps.take_line(&format!("pts={shown}|dts={decoded}|flags=__"));
    }
    assert!(stamps.cut_where_it_breaks_off());
    assert_eq!(stamps.shown().unwrap().ticks(), [0, 1, 2, 3]);
    assert!(!stamps.cut_where_it_breaks_off(), "nothing more is lost");
    assert_eq!(stamps.shown_count(), 4);
}
