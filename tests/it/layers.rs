//! The rooms of `src/` use only the rooms listed beside them here; `DEVELOPERS.md` shows the same table.
//!
//! Paths are followed through `crate::`, the library's own name (in the binary's room), chains of `super::`
//! that lead out of a room, and re-exports in `lib.rs`, of which there may be none.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// Each room's floor, the room, and the rooms it may use: only rooms on lower floors.
const ROOMS: &[(u32, &str, &str)] = &[
    (0, "geometry", ""),
    (0, "timecode", ""),
    (1, "picture", "geometry timecode"),
    (1, "clip", "geometry timecode"),
    (1, "delivery", "geometry timecode"),
    (1, "lens", "geometry"),
    (2, "capture", "geometry timecode lens"),
    (2, "action", "geometry timecode picture"),
    (2, "sharpness", "geometry picture delivery"),
    (2, "subject", "geometry timecode picture"),
    (2, "pan", "geometry timecode"),
    (3, "brief", "geometry timecode delivery lens capture sharpness"),
    (3, "mount", "geometry delivery lens sharpness"),
    (3, "keyframe", "geometry timecode pan"),
    (4, "plan", "geometry timecode clip delivery lens sharpness subject pan keyframe"),
    (5, "process", ""),
    (
        5,
        "draw",
        "geometry timecode picture clip delivery lens mount sharpness subject pan keyframe plan",
    ),
    (5, "page", "geometry timecode subject"),
    (5, "handoff", "geometry timecode clip delivery subject keyframe plan"),
    (
        5,
        "shoot",
        "geometry timecode clip delivery lens capture brief mount action sharpness subject pan keyframe plan",
    ),
    (6, "media", "geometry timecode picture clip process"),
    (
        7,
        "tasks",
        "geometry timecode picture clip delivery lens capture brief mount action sharpness subject pan keyframe plan process draw page handoff shoot media",
    ),
    (8, "cli", "geometry timecode clip delivery lens mount sharpness shoot plan media tasks"),
];

/// Files that stand in `src/` itself: the list of rooms, and the binary's door.
const DOORS: [&str; 2] = ["lib.rs", "main.rs"];

fn src() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

#[test]
fn every_room_is_listed_and_uses_only_lower_floors() {
    let on_disk: BTreeSet<String> =
        entries(&src()).iter().filter(|p| p.is_dir()).map(|p| name(p)).collect();
    let listed: BTreeSet<String> = ROOMS.iter().map(|room| room.1.to_owned()).collect();
    assert_eq!(on_disk, listed, "the rooms on disk and those listed differ");
    for (floor, room, may_use) in ROOMS {
        for used in may_use.split_whitespace() {
            let lower = ROOMS.iter().any(|other| other.1 == used && other.0 < *floor);
            assert!(lower, "`{room}` may use `{used}`, which is not on a lower floor");
        }
    }
}

#[test]
fn each_room_uses_only_the_rooms_it_may() {
    let mut wrong = Vec::new();
    for (_, room, may_use) in ROOMS {
        for file in rust_files(&src().join(room)) {
            let text = fs::read_to_string(&file).expect("source files are readable");
            // A module written inside the file stands one step further down.
            let (code, tests) = text.split_once("\nmod tests {").unwrap_or((&text, ""));
            let depth = depth_in_room(&file, room);
            let mut used = rooms_used(code, depth);
            used.extend(rooms_used(tests, depth + 1));
            for used in used {
                if used != *room && !may_use.split_whitespace().any(|allowed| allowed == used) {
                    wrong.push(format!("{} uses `{used}`", file.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "rooms may not reach these rooms:\n{}", wrong.join("\n"));
}

#[test]
fn nothing_but_doors_stands_outside_the_rooms() {
    for path in entries(&src()).into_iter().filter(|path| path.is_file()) {
        assert!(DOORS.contains(&name(&path).as_str()), "{} stands in no room", path.display());
    }
    let lib = fs::read_to_string(src().join("lib.rs")).expect("lib.rs is readable");
    let code = code_of(&lib);
    assert!(!code.contains("use "), "lib.rs re-exports something, which would hide who uses what");
}

#[test]
fn the_developers_table_is_this_one() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let text = fs::read_to_string(path).expect("DEVELOPERS.md is there");
    for (floor, room, may_use) in ROOMS {
        let row = format!("| {floor} | `{room}` |");
        let line = text.lines().find(|line| line.starts_with(&row));
        let line = line.unwrap_or_else(|| panic!("DEVELOPERS.md has no row `{row}`"));
        let last = line.trim_end_matches('|').rsplit('|').next().unwrap_or("").trim();
        let written: BTreeSet<&str> =
            last.split([',', ' ']).filter(|w| !w.is_empty() && *w != "–").collect();
        let listed: BTreeSet<&str> = may_use.split_whitespace().collect();
        assert_eq!(written, listed, "the row of `{room}` in DEVELOPERS.md");
    }
}

#[test]
fn a_path_out_of_a_room_is_seen_however_it_is_written() {
    let used = |text: &str, depth| rooms_used(text, depth).into_iter().collect::<Vec<_>>();
    assert_eq!(used("use crate::{geometry::{Raster, Shape}, pan as p};", 1), ["geometry", "pan"]);
    assert_eq!(used("use super::super::media::open;", 1), ["media"]);
    assert_eq!(used("use super::media;", 1), [""; 0], "one step up is still inside the room");
    assert_eq!(used("let x = super::super::super::draw::overlay;", 2), ["draw"]);
    assert_eq!(used("use lookroom::tasks::plan_shoot;", 1), ["tasks"]);
    assert_eq!(used("// crate::media is not used here", 1), [""; 0]);
    assert_eq!(used("use crate as all; use self::media;", 1), ["crate itself"]);
    assert_eq!(used("use crate::{self, clip};", 1), ["clip", "crate itself"]);
}

/// The rooms that a source text names, where it stands `depth` modules below the crate's root.
fn rooms_used(text: &str, depth: usize) -> BTreeSet<String> {
    let code = code_of(text).replace("lookroom::", "crate::");
    // Every chain of `super::` that leads to the root is a way to write `crate::`.
    let mut code = code.replace(&format!("{}{}", "super::".repeat(depth), "super::"), "crate::");
    if code.contains("crate as ") {
        code.push_str("crate::itself");
    }
    let mut names = BTreeSet::new();
    for rest in code.split("crate::").skip(1) {
        match rest.strip_prefix('{') {
            None => {
                names.insert(first_word(rest));
            }
            Some(group) => names.extend(items_of(group)),
        }
    }
    names
        .into_iter()
        .filter_map(|word| match word.as_str() {
            "self" | "itself" | "*" => Some("crate itself".to_owned()),
            room if ROOMS.iter().any(|listed| listed.1 == room) => Some(word),
            _ => None,
        })
        .collect()
}

/// The first words of the items between two braces, at their own depth.
fn items_of(group: &str) -> Vec<String> {
    let (mut depth, mut item, mut items) = (0, String::new(), Vec::new());
    for letter in group.chars() {
        match letter {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => items.push(first_word(&std::mem::take(&mut item))),
            _ if depth == 0 => item.push(letter),
            _ => {}
        }
    }
    items.push(first_word(&item));
    items
}

fn first_word(text: &str) -> String {
    let text = text.trim_start();
    if text.starts_with('*') {
        return "*".to_owned();
    }
    text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
}

/// A text without its comments.
fn code_of(text: &str) -> String {
    text.lines().map(|line| line.split("//").next().unwrap_or("")).collect::<Vec<_>>().join("\n")
}

/// How many modules a file is below the root: `room/mod.rs` and what it declares are in the room.
fn depth_in_room(file: &Path, room: &str) -> usize {
    let below = file.strip_prefix(src().join(room)).expect("a file of the room");
    let folders = below.components().count() - 1;
    if name(file) == "mod.rs" { folders } else { folders + 1 }
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for path in entries(folder) {
        if path.is_dir() {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry").path()).collect()
}

fn name(path: &Path) -> String {
    path.file_name().expect("a name").to_string_lossy().into_owned()
}
