use super::{MediaError, video::decoder_fault};
use crate::process::Job;
use std::{
    collections::BTreeSet,
    path::{Path, PathBuf},
    sync::{Mutex, PoisonError},
    time::Duration,
};

/// The programs that video is read with: names that are looked up on the PATH, or paths.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Programs {
    /// The decoder, version 5.1 or later.
    pub ffmpeg: PathBuf,
    /// Its companion that describes files.
    pub ffprobe: PathBuf,
}

impl Default for Programs {
    /// `ffmpeg` and `ffprobe` on the PATH.
    fn default() -> Self {
        Self { ffmpeg: PathBuf::from("ffmpeg"), ffprobe: PathBuf::from("ffprobe") }
    }
}

/// How long and how large an answer may be. Our choice, far above any.
const ANSWER_LIMIT: Duration = Duration::from_secs(60);
const ANSWER_LIMIT_BYTES: usize = 1 << 20;

/// The oldest version of the decoder that knows every word it is told.
const LEAST_VERSION: (u32, u32) = (5, 1);

/// The programs that were asked for their version and found new enough, so that each is asked once.
static NEW_ENOUGH: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// Finds out now, and not at the first frame, whether there is a decoder, and one that is new enough.
pub(super) fn check_decoder(programs: &Programs, path: &Path) -> Result<(), MediaError> {
    let known = || NEW_ENOUGH.lock().unwrap_or_else(PoisonError::into_inner);
    for program in [&programs.ffmpeg, &programs.ffprobe] {
        if known().contains(program) {
            continue;
        }
        let version = Job::new(program).with_argument("-version");
        let answer = version
            .collect(ANSWER_LIMIT_BYTES, ANSWER_LIMIT)
            .map_err(|fault| decoder_fault(path, fault))?;
        let text = String::from_utf8_lossy(&answer.stdout);
        let words = text.lines().next().unwrap_or_default();
        if let Some(found) = version_in(words).filter(|found| *found < LEAST_VERSION) {
            return Err(MediaError::DecoderTooOld {
                program: program.display().to_string(),
                found,
                least: LEAST_VERSION,
            });
        }
        known().insert(program.clone());
    }
    Ok(())
}

/// The version in `ffmpeg version 5.1.9-0+deb12u1 Copyright …`; `None` for a build that is named otherwise,
/// by a date or a revision, which is taken to be new.
fn version_in(words: &str) -> Option<(u32, u32)> {
    let version = words.split_whitespace().nth(2)?.trim_start_matches('n');
    let mut numbers = version.split(|c: char| !c.is_ascii_digit());
    let major = numbers.next()?.parse().ok()?;
    let minor = numbers.next().and_then(|minor| minor.parse().ok()).unwrap_or(0);
    // A build named by its date begins with the year.
    (major < 1000).then_some((major, minor))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_read_and_builds_without_one_are_taken() {
        for (words, version) in [
            ("ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000-2026", Some((5, 1))),
            ("ffmpeg version 4.4.2", Some((4, 4))),
            ("ffmpeg version n7.1", Some((7, 1))),
            ("ffmpeg version 8", Some((8, 0))),
            ("ffmpeg version N-109741-gbbe95f7353", None),
            ("ffmpeg version 2026-01-02-git-abc", None),
            ("", None),
        ] {
            assert_eq!(version_in(words), version, "{words}");
        }
    }
}
