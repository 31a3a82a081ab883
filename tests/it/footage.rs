//! Real footage that nobody on this project made, kept beside the project and not in it.

use lookroom::geometry::Region;
use std::{
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

/// The folder of real footage, or `None`, with the reason printed, where it is absent.
///
/// # Panics
/// If it is absent and `LOOKROOM_REQUIRE_FOOTAGE` says that it must be there.
pub(crate) fn folder() -> Option<PathBuf> {
    beside("footage")
}

/// The folder of made tracks, on the same terms.
pub(crate) fn tracks() -> Option<PathBuf> {
    beside("tracks")
}

fn beside(name: &str) -> Option<PathBuf> {
    let root = std::env::var_os("LOOKROOM_SHARED")
        .map_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let folder = root.join(name);
    if folder.is_dir() {
        return Some(folder);
    }
    assert!(
        std::env::var_os("LOOKROOM_REQUIRE_FOOTAGE").is_none(),
        "LOOKROOM_REQUIRE_FOOTAGE is set, and ../shared/{name} is not there"
    );
    eprintln!("skipped: the folder ../shared/{name} is not there");
    None
}

/// Whether the video decoder is there; if not, the reason is printed.
///
/// # Panics
/// If it is absent and `LOOKROOM_REQUIRE_FFMPEG` says that it must be there.
pub(crate) fn has_decoder() -> bool {
    let answers = |program: &str| {
        let answer = Command::new(program)
            .arg("-version")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        answer.is_ok_and(|status| status.success())
    };
    if answers("ffmpeg") && answers("ffprobe") {
        return true;
    }
    assert!(
        std::env::var_os("LOOKROOM_REQUIRE_FFMPEG").is_none(),
        "LOOKROOM_REQUIRE_FFMPEG is set, and ffmpeg and ffprobe are not there"
    );
    eprintln!("skipped: ffmpeg and ffprobe are not there");
    false
}

/// The six boxed clips.
pub(crate) const BOXED: [&str; 6] =
    ["bmx-trees", "car-roundabout", "car-shadow", "motocross-jump", "parkour", "scooter-black"];

/// The true boxes of one of the boxed clips (the DAVIS video-segmentation set, validation half), a frame each.
pub(crate) fn boxes(clip: &str) -> Option<Vec<Region>> {
    let path = folder()?.join("boxed").join(clip).join("boxes.csv");
    let text = std::fs::read_to_string(&path).expect("a boxed clip has its boxes");
    Some(text.lines().skip(1).map(region).collect())
}

fn region(row: &str) -> Region {
    let numbers: Vec<f64> = row.split(',').skip(1).map(|n| n.parse().expect("a number")).collect();
    Region::new(numbers[0], numbers[1], numbers[2], numbers[3]).expect("a box")
}

/// The pictures of one of the boxed clips, in order.
pub(crate) fn pictures(clip: &str) -> Option<Vec<PathBuf>> {
    let folder = folder()?.join("boxed").join(clip);
    let entries = std::fs::read_dir(&folder).expect("a boxed clip has its folder");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut pictures: Vec<PathBuf> =
        paths.filter(|path| path.extension().is_some_and(|end| end == "jpg")).collect();
    pictures.sort();
    Some(pictures)
}
