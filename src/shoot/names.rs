use super::{FaultKind, page::Page};
use std::ops::Range;

/// The names that things of one kind have been given, whether or not the rest of the thing could be read.
#[derive(Debug)]
pub(super) struct Names {
    noun: &'static str,
    given: Vec<(String, u64)>,
    /// Whether some name could not be read, so that an unknown one may only be a consequence.
    some_unread: bool,
}

/// The longest name: a file's name is made of two and a few words.
const LONGEST_NAME: usize = 80;

impl Names {
    pub(super) const fn of(noun: &'static str) -> Self {
        Self { noun, given: Vec::new(), some_unread: false }
    }

    /// From here on, an unknown name is no fault.
    pub(super) const fn note_unread(&mut self) {
        self.some_unread = true;
    }

    /// Takes a name in, and says whether it is one. After a name that is not, an unknown name is no fault: it
    /// may be the one that was meant.
    pub(super) fn enter(&mut self, page: &Page<'_>, span: &Range<usize>, name: &str) -> bool {
        let fault = self.fault_of(name);
        let is_sound = fault.is_none();
        if let Some(kind) = fault {
            page.fault_at(span, Some("name".to_owned()), kind);
            self.some_unread = true;
        }
        self.given.push((name.to_owned(), page.line_of(span.start)));
        is_sound
    }

    fn fault_of(&self, name: &str) -> Option<FaultKind> {
        if !is_name(name) {
            return Some(FaultKind::BadName { name: name.to_owned(), longest: LONGEST_NAME });
        }
        let first = self.given.iter().find(|(given, _)| given.eq_ignore_ascii_case(name));
        let (noun, name) = (self.noun, name.to_owned());
        first.map(|(_, line)| FaultKind::DuplicateName { noun, name, first_line: *line })
    }

    /// The names in the order in which they were given.
    pub(super) fn iter(&self) -> impl Iterator<Item = &str> {
        self.given.iter().map(|(name, _)| name.as_str())
    }

    /// The line on which a name was given.
    pub(super) fn line_of(&self, name: &str) -> Option<u64> {
        self.given.iter().find(|(given, _)| given == name).map(|(_, line)| *line)
    }

    /// Whether something is called so.
    pub(super) fn has(&self, name: &str) -> bool {
        self.iter().any(|given| given == name)
    }

    /// The name, if something is called so.
    pub(super) fn known(&self, name: &str) -> Result<String, FaultKind> {
        if self.some_unread || self.has(name) {
            return Ok(name.to_owned());
        }
        Err(FaultKind::UnknownName {
            noun: self.noun,
            name: name.to_owned(),
            nearest: nearest(name, self.iter()).map(str::to_owned),
            known: listed(self.iter()),
        })
    }
}

fn is_name(name: &str) -> bool {
    let allowed = |byte: u8| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte);
    (1..=LONGEST_NAME).contains(&name.len())
        && name.bytes().all(allowed)
        && name != "."
        && name != ".."
}

/// `a, b, c` for a message, cut short after twenty.
pub(super) fn listed<'n>(names: impl Iterator<Item = &'n str>) -> String {
    const MOST: usize = 20;
    let mut names: Vec<&str> = names.take(MOST + 1).collect();
    if names.len() > MOST {
        names[MOST] = "…";
    }
    names.join(", ")
}

/// The name that was probably meant: the fewest letters differ, and fewer than half of them.
pub(super) fn nearest<'n>(written: &str, names: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    const LONGEST_COMPARED: usize = 2 * LONGEST_NAME;
    let written: String = written.to_lowercase().chars().take(LONGEST_COMPARED).collect();
    names
        .map(|name| (strsim::osa_distance(&written, &name.to_lowercase()), name))
        .filter(|(apart, name)| 2 * apart < name.len().max(written.len()))
        .min_by_key(|(apart, _)| *apart)
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_misspelt_name_is_answered_with_the_one_it_looks_like() {
        let keys = ["frames", "file", "rate", "ranges", "start_timecode"];
        for (written, meant) in [
            ("frame", Some("frames")),
            ("Rate", Some("rate")),
            ("flie", Some("file")),
            ("start_time_code", Some("start_timecode")),
            ("colour", None),
            ("", None),
        ] {
            assert_eq!(nearest(written, keys.into_iter()), meant, "{written}");
        }
    }

    #[test]
    fn names_are_those_that_every_file_system_takes() {
        for name in ["film-hd", "C0001.take_2", "..."] {
            assert!(is_name(name), "{name}");
        }
        for name in ["", ".", "..", "a/b", "weir bridge", "brücke", "a\\b", "a:b", &"x".repeat(81)]
        {
            assert!(!is_name(name), "{name}");
        }
    }
}
