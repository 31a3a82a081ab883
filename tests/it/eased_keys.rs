//! Each eased move, a push included, is two keys in the hand-off's own columns.

use crate::{
    command::{demo, lookroom_in},
    python,
};
use lookroom::{
    delivery::Limits,
    geometry::{Raster, Window},
    keyframe::{keys_of_moves, reduce},
    pan::{Ease, FrameWish, Hold, Moves, Pace, Request},
    tasks::pan_rules,
};
use std::fs;

const EVEN: Pace = Pace::even(0.04);

fn rasters() -> (Raster, Raster) {
    (Raster::new(4000, 3000).unwrap(), Raster::new(1080, 1920).unwrap())
}

/// A hold, an eased push with a pan, and a hold, as the planner bakes it.
fn pushed(ease: Ease) -> Vec<Window> {
    let (raster, delivered) = rasters();
    let rules = pan_rules(&Limits::default());
    let frames = vec![FrameWish::default(); 100];
    let request = Request::plain((raster, delivered.shape()), EVEN, frames, rules);
    let window = |left: f64, width: f64| {
        Window::inside(raster, (left, 0.0), (width, width * 16.0 / 9.0)).unwrap()
    };
    let holds = vec![
        Hold { first: 0, last: 20, window: window(100.0, 1404.0) },
        Hold { first: 60, last: 99, window: window(900.0, 1053.0) },
    ];
    Moves { holds, ease, may_cost_more: None }.windows(&request).unwrap()
}

#[test]
fn a_push_is_two_keys_by_its_ease_and_many_by_straight_lines() {
    for ease in [Ease::SMOOTH, Ease::with_peak(2.0).unwrap()] {
        let path = pushed(ease);
        let bound = (rasters(), 0.01);
        let eased = keys_of_moves(&path, &EVEN, (&[(20, 60)], ease), &[], bound).unwrap();
        assert_eq!(eased.keys, [0, 20, 60, 99]);
        let to_next: Vec<String> = eased.to_next.iter().map(ToString::to_string).collect();
        assert_eq!(to_next, ["straight", &ease.to_string(), "straight", "straight"]);
        assert!(eased.worst_error_px < 1e-3, "{}", eased.worst_error_px);
        assert!(reduce(&path, &EVEN, &[], rasters(), 0.5).keys.len() > 8);
        let other = Ease::with_peak(1.75).unwrap();
        assert!(keys_of_moves(&path, &EVEN, (&[(20, 60)], other), &[], bound).is_none());
    }
}

#[test]
fn a_pin_in_a_hold_is_a_key_and_one_that_a_move_runs_over_is_not() {
    let path = pushed(Ease::SMOOTH);
    let (moves, bound) = ((&[(20, 60)][..], Ease::SMOOTH), (rasters(), 0.01));
    let keys = keys_of_moves(&path, &EVEN, moves, &[10, 40, 70], bound).unwrap().keys;
    assert_eq!(keys, [0, 10, 20, 60, 70, 99]);
}

/// The demo's square is planned in eased moves: two rows a move, the first and the last, and nothing else.
#[test]
fn the_demos_moves_are_two_rows_each_and_a_reader_rebuilds_them() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().expect("a plain path");
    let output = lookroom_in(&demo(), &["plan", "shoot.toml", "--out", out, "--json"]);
    let plan: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let entries = plan["clips"][0]["entries"].as_array().unwrap();
    let mut eased = 0;
    for entry in entries {
        let planned = &entry["segments"][0]["outcome"]["planned"];
        if planned["way"] != "moves" {
            continue;
        }
        eased += 1;
        let name = format!("weir-bridge_{}", entry["deliverable"].as_str().unwrap());
        let keys = folder.path().join(format!("{name}_keys.csv"));
        let text = fs::read_to_string(&keys).unwrap();
        let moves = text.lines().filter(|row| row.contains("ease 0.333333,0,0.666667,1")).count();
        let rows = text.lines().count() - 1;
        assert!((1..=6).contains(&moves), "{moves} moves");
        assert!(rows <= 2 * moves + 2, "{rows} rows for {moves} moves");
        if !python::has(&[]) {
            continue;
        }
        let every_frame = folder.path().join(format!("{name}_every-frame.csv"));
        let files = [keys.to_str().unwrap(), every_frame.to_str().unwrap()];
        let read: serde_json::Value =
            serde_json::from_str(&python::run("reader/rebuild_windows.py", &files, "")).unwrap();
        let worst = read["offset and scale"]["worst_error_px"].as_f64().unwrap();
        assert!(worst < 0.01, "{name}: {worst} delivered px");
    }
    assert!(eased > 0, "no shape of the demo is planned in moves");
}
