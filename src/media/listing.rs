use super::{MediaError, pattern::Pattern, pattern::leaves_a_number_open};
use crate::timecode::FrameIndex;
use std::{
    ffi::OsStr,
    fs, io,
    path::{Path, PathBuf},
};

/// How many other names a refusal lists.
const NAMED_OTHERS: usize = 5;

/// The files of a sequence in the order of its frames, without gaps; at least one.
///
/// # Errors
/// [`MediaError`] if there are none, or their numbers do not form one run.
pub(super) fn files_of(path: &Path) -> Result<Vec<PathBuf>, MediaError> {
    let mut numbered = if path.is_dir() { in_folder(path)? } else { of_pattern(path)? };
    numbered.sort();
    for pair in numbered.windows(2) {
        let [before, after] = pair else { continue };
        if before.number == after.number {
            return Err(MediaError::SameNumber {
                first: before.path.clone(),
                second: after.path.clone(),
                number: before.number,
            });
        }
    }
    for (frame, pair) in (1..).map(FrameIndex).zip(numbered.windows(2)) {
        let [before, after] = pair else { continue };
        if before.number.checked_add(1) != Some(after.number) {
            return Err(MediaError::Gap {
                frame,
                expected: before.next_path(),
                before: file_name(&before.path),
                after: file_name(&after.path),
            });
        }
    }
    Ok(numbered.into_iter().map(|file| file.path).collect())
}

/// A file with its number. Ordered by the number first.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Numbered {
    number: u64,
    path: PathBuf,
}

impl Numbered {
    /// Where the next frame should be, written as this one is.
    fn next_path(&self) -> PathBuf {
        let name = file_name(&self.path);
        let stem_length = name.rfind('.').unwrap_or(name.len());
        let (stem, extension) = name.split_at(stem_length);
        let Some((before, digits, after)) = last_digits(stem) else { return self.path.clone() };
        let (next, width) = (self.number.saturating_add(1), digits.len());
        let padded =
            if digits.starts_with('0') { format!("{next:0width$}") } else { next.to_string() };
        self.path.with_file_name(format!("{before}{padded}{after}{extension}"))
    }
}

fn of_pattern(path: &Path) -> Result<Vec<Numbered>, MediaError> {
    let name = file_name(path);
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    if !folder.exists() && leaves_a_number_open(&folder.to_string_lossy()) {
        return Err(MediaError::NumberInFolder { path: path.to_owned() });
    }
    if !name.contains('%') {
        return Err(if path.exists() {
            MediaError::NotASequence { path: path.to_owned() }
        } else {
            MediaError::NoSuchSequence { path: path.to_owned() }
        });
    }
    let pattern = Pattern::parse(&name)?;
    let mut numbered = Vec::new();
    for name in names_in(folder)? {
        let number = name.to_str().and_then(|name| pattern.number_in(name));
        numbered.extend(number.map(|number| Numbered { number, path: folder.join(&name) }));
    }
    if numbered.is_empty() {
        return Err(MediaError::NoMatch { folder: folder.to_owned(), pattern: name });
    }
    Ok(numbered)
}

fn in_folder(folder: &Path) -> Result<Vec<Numbered>, MediaError> {
    let (mut numbered, mut others) = (Vec::new(), Vec::new());
    for name in names_in(folder)? {
        let path = folder.join(&name);
        if !is_frame(&path) {
            others.push(name.to_string_lossy().into_owned());
            continue;
        }
        let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let number = last_digits(&stem).and_then(|(_, digits, _)| digits.parse().ok());
        let Some(number) = number else { return Err(MediaError::NoNumber { path }) };
        numbered.push(Numbered { number, path });
    }
    if numbered.is_empty() {
        others.sort();
        others.truncate(NAMED_OTHERS);
        return Err(MediaError::NoFramesInFolder { folder: folder.to_owned(), others });
    }
    Ok(numbered)
}

/// Hidden files are none: some systems leave one beside each picture, of the same name behind `._`.
fn is_frame(path: &Path) -> bool {
    let extension = path.extension().and_then(OsStr::to_str).unwrap_or_default();
    ["png", "jpg", "jpeg"].iter().any(|known| extension.eq_ignore_ascii_case(known))
        && !file_name(path).starts_with('.')
        && !path.is_dir()
}

fn names_in(folder: &Path) -> Result<Vec<std::ffi::OsString>, MediaError> {
    let unreadable = |source| MediaError::Unreadable { path: folder.to_owned(), source };
    fs::read_dir(folder)
        .and_then(|entries| {
            entries.map(|entry| entry.map(|entry| entry.file_name())).collect::<io::Result<_>>()
        })
        .map_err(unreadable)
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The last run of digits in a text, with what is before and behind it.
fn last_digits(text: &str) -> Option<(&str, &str, &str)> {
    let end = text.rfind(|c: char| c.is_ascii_digit())? + 1;
    let begin = text.get(..end)?.rfind(|c: char| !c.is_ascii_digit()).map_or(0, |at| {
        at + text.get(at..).and_then(|rest| rest.chars().next()).map_or(1, char::len_utf8)
    });
    Some((text.get(..begin)?, text.get(begin..end)?, text.get(end..)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder_with(names: &[&str]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in names {
            fs::write(folder.path().join(name), "x").unwrap();
        }
        folder
    }

    fn names_of(files: &[PathBuf]) -> Vec<String> {
        files.iter().map(|path| file_name(path)).collect()
    }

    #[test]
    fn a_folder_is_ordered_by_numbers_and_not_by_letters() {
        let folder = folder_with(&["a9.PNG", "a10.jpeg", "a8.jpg", "notes.txt", "._a9.png"]);
        let files = files_of(folder.path()).unwrap();
        assert_eq!(names_of(&files), ["a8.jpg", "a9.PNG", "a10.jpeg"]);
    }

    #[test]
    fn a_pattern_takes_its_own_files_only() {
        let folder = folder_with(&["a_002.png", "a_001.png", "b_001.png", "a_1.png"]);
        let files = files_of(&folder.path().join("a_%03d.png")).unwrap();
        assert_eq!(names_of(&files), ["a_001.png", "a_002.png"]);
    }

    #[test]
    fn a_gap_names_the_frame_and_the_file() {
        let folder = folder_with(&["é98.png", "é99.png", "é101.png"]);
        let refusal = files_of(folder.path()).unwrap_err();
        let MediaError::Gap { frame, expected, .. } = refusal else { panic!("{refusal}") };
        assert_eq!((frame, file_name(&expected).as_str()), (FrameIndex(2), "é100.png"));
    }

    #[test]
    fn two_files_of_one_number_are_refused() {
        let folder = folder_with(&["left_0.jpg", "right_0.jpg", "left_1.jpg"]);
        let refusal = files_of(folder.path()).unwrap_err();
        assert!(matches!(refusal, MediaError::SameNumber { number: 0, .. }), "{refusal}");
    }

    #[test]
    fn a_folder_without_frames_names_what_is_there() {
        let folder = folder_with(&["ride.mp4", "notes.txt"]);
        let refusal = files_of(folder.path()).unwrap_err().to_string();
        assert!(
            refusal.ends_with("holds no PNG or JPEG frames, only notes.txt, ride.mp4"),
            "{refusal}"
        );
    }

    #[test]
    fn a_picture_without_a_place_is_refused() {
        for name in ["cover.png", "99999999999999999999999.png"] {
            let folder = folder_with(&["1.png", name]);
            let refusal = files_of(folder.path()).unwrap_err();
            assert!(matches!(refusal, MediaError::NoNumber { .. }), "{refusal}");
        }
    }

    #[test]
    fn paths_that_are_no_sequence_say_why() {
        let folder = folder_with(&["one.png"]);
        let refused = |name: &str| files_of(&folder.path().join(name)).unwrap_err();
        assert!(matches!(refused("one.png"), MediaError::NotASequence { .. }));
        assert!(matches!(refused("absent"), MediaError::NoSuchSequence { .. }));
        assert!(matches!(refused("take%02d/%05d.png"), MediaError::NumberInFolder { .. }));
        assert!(matches!(refused("f%05d.png"), MediaError::NoMatch { .. }));
        assert!(matches!(refused("absent/f%05d.png"), MediaError::Unreadable { .. }));
    }
}
