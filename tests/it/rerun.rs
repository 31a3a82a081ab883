//! Story 24 of the trade study: a plan is run again after a window was fixed by hand. What is fixed stays to the last
//! byte, the rest is solved again through it, and the limits are held as before.

use crate::ride::{Ride, number};
use std::collections::BTreeMap;

/// Played frame by frame, so that 612 px take 8 s.
fn walk() -> Ride {
    Ride::walking("play = \"every-frame\"")
}

const TABLE: &str = "ride_vertical_every-frame.csv";

/// The hand's window at frame 400: some px beside the planned one, in fractions that no plan would choose.
fn pinned_row(ride: &Ride) -> String {
    let row = &ride.rows(TABLE)[400];
    let px = |column| number(row, column);
    format!(
        "ride,vertical,400,{:.4},{},{}\n",
        px("left_px") + 17.0625,
        px("top_px"),
        px("width_px")
    )
}

fn windows(ride: &Ride) -> Vec<[f64; 4]> {
    let columns = ["left_px", "top_px", "width_px", "height_px"];
    ride.rows(TABLE).iter().map(|row| columns.map(|column| number(row, column))).collect()
}

fn planned(ride: &Ride) -> String {
    let (text, status) = ride.plan();
    assert_eq!(status, Some(0), "{text}");
    text
}

#[test]
fn what_is_fixed_by_hand_stays_and_the_rest_is_solved_through_it() {
    let first = walk();
    planned(&first);
    let (before, row) = (windows(&first), pinned_row(&first));
    let ride = walk().pinned(&row);
    planned(&ride);
    let fixed: Vec<f64> = row.trim().split(',').skip(3).map(|px| px.parse().unwrap()).collect();
    let after = windows(&ride);
    assert_eq!(after[400][..3], fixed[..]);
    let keys = ride.rows("ride_vertical_keys.csv");
    let key = |row: &&BTreeMap<String, String>| row["frame"] == "400";
    let key = keys.iter().find(key).expect("a pinned frame is a key");
    assert_eq!(["left_px", "top_px", "width_px"].map(|column| number(key, column))[..], fixed[..]);
    // Its neighbours go along, since a step is at most 9.18 px of its 17.0625; far from it nothing changed.
    let moved = |frame: usize| after[frame][0] - before[frame][0];
    assert!(moved(399) > 7.0 && moved(401) > 7.0, "{} {}", moved(399), moved(401));
    assert!(moved(0).abs() < 0.01, "{}", moved(0));
    // The pan limit, one width in 5 s: 0.008 of the mean width at 25 frames a second.
    for pair in after.windows(2) {
        let most = 0.008 * f64::midpoint(pair[0][2], pair[1][2]);
        let centre = |window: &[f64; 4]| window[0] + window[2] / 2.0;
        assert!((centre(&pair[1]) - centre(&pair[0])).abs() <= most + 1e-6, "{pair:?}");
    }
    // Run once more, byte for byte; and under another limit what is fixed is still the same bytes.
    let (table, pins) = (ride.read(TABLE), ride.pins());
    planned(&ride);
    assert_eq!(ride.read(TABLE), table);
    ride.change_shoot(
        "rounding = \"exact\"\n",
        "rounding = \"exact\"\n[limits]\nweight_place = 6\n",
    );
    planned(&ride);
    assert_eq!(ride.pins(), pins, "the pins file is only read");
    let line = |table: &str| table.lines().nth(401).unwrap().to_owned();
    assert_eq!(line(&ride.read(TABLE)), line(&table));
    assert_ne!(ride.read(TABLE), table);
}

/// Two of them that the pan limit does not join are refused by name: 20 frames at 0.008 of 1147.5 px are 183.6 px.
#[test]
fn limits_are_held_against_what_is_fixed_by_hand() {
    let ride = walk();
    planned(&ride);
    let width = windows(&ride)[0][2];
    let rows = format!("ride,vertical,100,200,0,{width}\nride,vertical,120,500,0,{width}\n");
    let (text, status) = walk().pinned(&rows).plan();
    assert_eq!(status, Some(3), "{text}");
    for words in ["pan_hard", "pinned at frame 100 (line 2 of the pins file", "frame 120 (line 3"] {
        assert!(text.contains(words), "{words}\n{text}");
    }
}
