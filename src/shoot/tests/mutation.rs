//! No bytes at all make reading, or resolving what was read, panic.

use super::{
    copies::{PAIR, REPEATS, with},
    *,
};
use crate::delivery::Limit;
use proptest::prelude::*;
use std::sync::LazyLock;

/// Pieces that are likely to lead somewhere odd when they replace a part of a file.
const PIECES: [&str; 30] = [
    "",
    "\"",
    "'",
    "\n",
    "\r",
    "\r\n",
    ",",
    ";",
    ":",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "=",
    ".",
    "#",
    "-",
    "nan",
    "inf",
    "0",
    "1e999",
    "-1",
    "99999999999999999999",
    "0x1F",
    "off",
    "\u{FEFF}",
    "é",
    "\u{1b}[31m",
    "\0",
];

/// A file with some stretches of its bytes replaced.
fn mutated(text: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let edit = (0..text.len(), 0..12_usize, prop::sample::select(&PIECES[..]), any::<u8>());
    prop::collection::vec(edit, 0..6).prop_map(move |edits| {
        let mut bytes = text.as_bytes().to_vec();
        for (at, cut, piece, byte) in edits {
            let from = at.min(bytes.len());
            let to = (from + cut).min(bytes.len());
            let odd_byte = (byte > 250).then_some(byte);
            bytes.splice(from..to, piece.bytes().chain(odd_byte));
        }
        bytes
    })
}

/// The good file with a repeated take and a mirrored pair; it lives as long as the tests do.
fn with_copies() -> &'static str {
    static TEXT: LazyLock<String> = LazyLock::new(|| with(REPEATS, PAIR));
    &TEXT
}

fn read_and_resolve(files: &Files) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("shoot.toml"), &files.shoot).unwrap();
    fs::write(folder.path().join("marks.csv"), files.marks.as_ref().unwrap()).unwrap();
    fs::write(folder.path().join("pins.csv"), files.pins.as_ref().unwrap()).unwrap();
    let Ok(Reading { shoot, faults }) = read(&folder.path().join("shoot.toml")) else { return };
    for fault in &faults {
        assert!(!fault.to_string().contains(char::is_control));
    }
    for clip in &shoot.clips {
        match shoot.resolve(clip, &facts()) {
            Err(faults) => assert!(!faults.is_empty()),
            // Whatever it takes its path from, be it itself.
            Ok(resolved) => {
                let copied = shoot.resolve_copy(clip, &resolved, &resolved);
                assert!(
                    copied.is_ok_and(|copy| copy.is_some() == clip.copy.is_some())
                        || clip.copy.is_some()
                );
            }
        }
        for deliverable in shoot.deliverables_of(clip) {
            assert!(shoot.limits_for(clip, deliverable).number(Limit::KeyError) > 0.0);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_good_shoot_file_with_parts_replaced_never_panics(shoot in mutated(SHOOT)) {
        read_and_resolve(&Files::shoot(shoot));
    }

    #[test]
    fn a_good_shoot_file_with_takes_and_pairs_and_parts_replaced_never_panics(
        shoot in mutated(with_copies())
    ) {
        read_and_resolve(&Files::shoot(shoot));
    }

    #[test]
    fn good_tables_with_parts_replaced_never_panic(marks in mutated(MARKS), pins in mutated(PINS)) {
        read_and_resolve(&Files { marks: Some(marks), pins: Some(pins), ..Files::default() });
    }

    #[test]
    fn any_bytes_at_all_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        read_and_resolve(&Files { shoot: bytes.clone(), marks: Some(bytes.clone()), pins: Some(bytes) });
    }
}

#[test]
fn a_key_of_a_hundred_thousand_parts_is_a_fault_and_no_panic() {
    let deep = format!("{}a = 1\n", "a.".repeat(100_000));
    assert!(!Files::shoot(deep).read().faults.is_empty());
    let nested = format!("a = {}\n", "[".repeat(100_000));
    assert!(!Files::shoot(nested).read().faults.is_empty());
}
