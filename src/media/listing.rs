use super::{
    MediaError,
    pattern::{Pattern, leaves_a_number_open},
    still::{StillKind, kind_of},
};
use crate::timecode::FrameIndex;
use std::{
    ffi::{OsStr, OsString},
    fs, io,
    path::{Path, PathBuf},
};

#[cfg(test)]
mod tests;

/// How many other names a refusal lists.
const NAMED_OTHERS: usize = 5;

/// What makes a file name a glob.
const GLOB_CHARACTERS: [char; 3] = ['*', '?', '['];

/// The files of a sequence in the order of its frames, without gaps; at least one.
///
/// The path is a folder, or a file name with one `printf` number (as soon as there is a `%` in it), or a glob:
/// a file name with `*`, `?` or `[`, where no file has that very name.
///
/// # Errors
/// [`MediaError`] if there are none, or their numbers do not form one run.
pub(super) fn files_of(path: &Path) -> Result<Vec<PathBuf>, MediaError> {
    let mut numbered = if path.is_dir() { in_folder(path)? } else { of_name(path)? };
    numbered.sort();
    check_doubles(&numbered)?;
    check_gaps(&numbered)?;
    Ok(numbered.into_iter().map(|file| file.path).collect())
}

fn check_doubles(numbered: &[Numbered]) -> Result<(), MediaError> {
    let mut doubles = numbered.windows(2).enumerate().filter_map(|(place, pair)| match pair {
        [first, second] if first.number == second.number => Some((place, first, second)),
        _ => None,
    });
    let Some((place, first, second)) = doubles.next() else { return Ok(()) };
    Err(MediaError::SameNumber {
        frame: FrameIndex(place as u64),
        first: first.path.clone(),
        second: second.path.clone(),
        number: first.number,
        more_count: doubles.count() as u64,
    })
}

fn check_gaps(numbered: &[Numbered]) -> Result<(), MediaError> {
    let mut gaps = numbered.windows(2).enumerate().filter_map(|(place, pair)| match pair {
        [before, after] if after.number - before.number > 1 => Some((place, before, after)),
        _ => None,
    });
    let Some((place, before, after)) = gaps.next() else { return Ok(()) };
    let missing = |before: &Numbered, after: &Numbered| after.number - before.number - 1;
    let rest: u64 = gaps.map(|(_, before, after)| missing(before, after)).sum();
    Err(MediaError::Gap {
        frame: FrameIndex(place as u64 + 1),
        expected: before.next_path(),
        number: before.number + 1,
        before: file_name(&before.path),
        after: file_name(&after.path),
        missing_count: missing(before, after) + rest,
    })
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

/// The files that a name with something left open stands for.
fn of_name(path: &Path) -> Result<Vec<Numbered>, MediaError> {
    let name = file_name(path);
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    if !folder.exists() {
        let name_of_folder = folder.to_string_lossy();
        if leaves_a_number_open(&name_of_folder) {
            return Err(MediaError::NumberInFolder { path: path.to_owned() });
        }
        if name_of_folder.contains(GLOB_CHARACTERS) {
            return Err(MediaError::GlobInFolder { path: path.to_owned() });
        }
        let remedy = folder_meant_by(folder)
            .unwrap_or_else(|| "correct its name, or copy the frames there".to_owned());
        return Err(MediaError::NoSuchFolder { folder: folder.to_owned(), remedy });
    }
    if name.contains('%') {
        let pattern = Pattern::parse(&name)?;
        return of_pattern(folder, &name, &pattern);
    }
    if path.exists() {
        return Err(MediaError::NotASequence { path: path.to_owned() });
    }
    if name.contains(GLOB_CHARACTERS) {
        let glob = glob::Pattern::new(&name)
            .map_err(|source| MediaError::BadGlob { name: name.clone(), source })?;
        return of_glob(folder, &name, &glob);
    }
    let path = path.to_owned();
    Err(match folder_meant_by(&path) {
        Some(remedy) => MediaError::NoSuchFolder { folder: path, remedy },
        None => MediaError::NoSuchSequence { path },
    })
}

fn of_pattern(folder: &Path, name: &str, pattern: &Pattern) -> Result<Vec<Numbered>, MediaError> {
    let names = names_in(folder)?;
    let numbered: Vec<_> = names
        .iter()
        .filter_map(|name| {
            let number = name.to_str().and_then(|name| pattern.number_in(name))?;
            Some(Numbered { number, path: folder.join(name) })
        })
        .collect();
    if numbered.is_empty() { Err(no_match(folder, name, &names)) } else { Ok(numbered) }
}

/// Every file that the glob stands for is a frame, whatever its name ends in: who wants some of them only can
/// say so in the glob.
fn of_glob(folder: &Path, name: &str, glob: &glob::Pattern) -> Result<Vec<Numbered>, MediaError> {
    // As in a folder and as in a shell, hidden files are none unless the dot is written.
    let options = glob::MatchOptions { require_literal_leading_dot: true, ..Default::default() };
    let names = names_in(folder)?;
    let paths: Vec<_> = names
        .iter()
        .filter(|name| glob.matches_with(&name.to_string_lossy(), options))
        .map(|name| folder.join(name))
        .filter(|path| !path.is_dir())
        .collect();
    if paths.is_empty() { Err(no_match(folder, name, &names)) } else { numbered_by_name(paths) }
}

/// The folder whose name is most like that of one that is not there, as a question.
fn folder_meant_by(folder: &Path) -> Option<String> {
    let name = file_name(folder);
    let parent = match folder.parent() {
        Some(parent) if parent != Path::new("") => parent,
        _ => Path::new("."),
    };
    let mut beside: Vec<String> = names_in(parent)
        .unwrap_or_default()
        .iter()
        .filter(|name| parent.join(name).is_dir())
        .map(|name| name.to_string_lossy().into_owned())
        .collect();
    beside.sort();
    // As for names in the shoot file: fewer than half of the letters differ.
    let apart = |other: &String| strsim::osa_distance(&name.to_lowercase(), &other.to_lowercase());
    let is_like = |other: &String| 2 * apart(other) < other.len().max(name.len());
    let nearest = beside.into_iter().filter(is_like).min_by_key(apart);
    nearest.map(|nearest| format!("did you mean `{nearest}`, which is beside it?"))
}

fn no_match(folder: &Path, pattern: &str, names: &[OsString]) -> MediaError {
    let (others, more_count) = named(names.iter().map(|name| name.to_string_lossy()));
    MediaError::NoMatch {
        folder: folder.to_owned(),
        pattern: pattern.to_owned(),
        others,
        more_count,
    }
}

/// The first names in their order, and how many there are besides.
fn named(names: impl Iterator<Item = impl Into<String>>) -> (Vec<String>, usize) {
    let mut names: Vec<String> = names.map(Into::into).collect();
    names.sort();
    let more_count = names.len().saturating_sub(NAMED_OTHERS);
    names.truncate(NAMED_OTHERS);
    (names, more_count)
}

fn in_folder(folder: &Path) -> Result<Vec<Numbered>, MediaError> {
    let names = names_in(folder)?;
    let (frames, others): (Vec<_>, Vec<_>) =
        names.iter().map(|name| folder.join(name)).partition(|path| is_frame(path));
    if !frames.is_empty() {
        return numbered_by_name(frames);
    }
    if let Some(refusal) = other_format(folder, &others) {
        return Err(refusal);
    }
    let (others, more_count) = named(others.iter().map(|path| file_name(path)));
    Err(MediaError::NoFramesInFolder { folder: folder.to_owned(), others, more_count })
}

/// Each file with the last number in its name.
fn numbered_by_name(mut paths: Vec<PathBuf>) -> Result<Vec<Numbered>, MediaError> {
    paths.sort();
    let (mut numbered, mut without) = (Vec::new(), Vec::new());
    for path in paths {
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        match last_digits(&stem).and_then(|(_, digits, _)| digits.parse().ok()) {
            Some(number) => numbered.push(Numbered { number, path }),
            None => without.push(path),
        }
    }
    let more_count = without.len().saturating_sub(1) as u64;
    match without.into_iter().next() {
        Some(path) => Err(MediaError::NoNumber { path, more_count }),
        None => Ok(numbered),
    }
}

/// The refusal of a folder whose pictures are all in a format that is not read, by their first bytes.
fn other_format(folder: &Path, others: &[PathBuf]) -> Option<MediaError> {
    let mut pictures: Vec<_> = others
        .iter()
        .filter(|path| !file_name(path).starts_with('.'))
        .filter_map(|path| match kind_of(path) {
            Ok(StillKind::Other(format)) => Some((file_name(path), format)),
            // What cannot be looked at is named with all the others.
            _ => None,
        })
        .collect();
    pictures.sort();
    let (example, format) = pictures.first().cloned()?;
    let count = pictures.iter().filter(|(_, other)| *other == format).count();
    let (folder, more_count) = (folder.to_owned(), count as u64 - 1);
    Some(MediaError::OtherFormatInFolder { folder, format, example, more_count })
}

/// Hidden files are none: some systems leave one beside each picture, of the same name behind `._`.
fn is_frame(path: &Path) -> bool {
    let extension = path.extension().and_then(OsStr::to_str).unwrap_or_default();
    ["png", "jpg", "jpeg"].iter().any(|known| extension.eq_ignore_ascii_case(known))
        && !file_name(path).starts_with('.')
        && !path.is_dir()
}

fn names_in(folder: &Path) -> Result<Vec<OsString>, MediaError> {
    let unreadable = |fault| MediaError::unreadable(folder, fault);
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
