//! What the tests of this room share: which outside things are here.

use crate::process::Job;
use std::{
    path::{Path, PathBuf},
    time::Duration,
};

/// Whether the decoder's programs are on the PATH. Says so where they are not, or fails if the environment
/// asks for them.
pub(super) fn ffmpeg_is_here() -> bool {
    let runs = |program: &str| {
        let version = Job::new(program).with_argument("-version");
        version.collect(1 << 20, Duration::from_secs(60)).is_ok()
    };
    let here = runs("ffmpeg") && runs("ffprobe");
    if !here {
        skip("LOOKROOM_REQUIRE_FFMPEG", "the programs `ffmpeg` and `ffprobe` are not on the PATH");
    }
    here
}

/// The folder of real footage, where there is one.
pub(super) fn footage() -> Option<PathBuf> {
    let beside = || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared");
    let folder =
        std::env::var_os("LOOKROOM_SHARED").map_or_else(beside, PathBuf::from).join("footage");
    if folder.is_dir() {
        return Some(folder);
    }
    skip("LOOKROOM_REQUIRE_FOOTAGE", "the folder ../shared/footage is not there");
    None
}

#[expect(clippy::print_stderr, reason = "a test that is skipped says why")]
fn skip(requirement: &str, reason: &str) {
    assert!(std::env::var_os(requirement).is_none(), "{requirement} is set, and {reason}");
    eprintln!("skipped: {reason}");
}
