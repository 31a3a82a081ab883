//! Tables that are made beside the marks and used as long as nothing has changed, and what a hand did to them.

use super::{TaskError, outputs::sha256};
use serde::{Deserialize, Serialize};
use std::{
    fs, io,
    path::{Path, PathBuf},
};

/// Under which name a table was written, and its hash then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MadeTable {
    name: String,
    sha256: String,
}

/// A table that is used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct UsedTable {
    pub(super) path: PathBuf,
    pub(super) bytes: Vec<u8>,
    /// What a person should know of it; `None` if nobody changed anything.
    pub(super) said: Option<String>,
}

impl MadeTable {
    pub(super) fn new(name: String, bytes: &[u8]) -> Self {
        Self { name, sha256: sha256(bytes) }
    }
}

/// Reads the table that was made last; `None` if it is not there. Where a changed one was in its place it was written beside
/// that, under another name, which is gone once somebody has given it the plain one. Of one that was made before names were
/// noted only the plain one is known, and not whether it was changed.
///
/// # Errors
/// [`TaskError::Output`] for one that cannot be read.
pub(super) fn read_table(
    folder: &Path,
    plain: &str,
    made: Option<&MadeTable>,
) -> Result<Option<UsedTable>, TaskError> {
    for name in made.map(|made| made.name.as_str()).into_iter().chain([plain]) {
        let path = folder.join(name);
        match fs::read(&path) {
            Ok(bytes) => {
                let said = made.and_then(|made| said_of(folder, (name, plain), made, &bytes));
                return Ok(Some(UsedTable { path, bytes, said }));
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {}
            Err(source) => return Err(TaskError::Output { path, source }),
        }
    }
    Ok(None)
}

fn said_of(
    folder: &Path,
    (name, plain): (&str, &str),
    made: &MadeTable,
    bytes: &[u8],
) -> Option<String> {
    if sha256(bytes) != made.sha256 {
        return Some(format!(
            "{name} was changed by hand and is used as it is; where the marks have a box, theirs is used"
        ));
    }
    (name != plain && folder.join(plain).exists()).then(|| {
        format!(
            "{plain} was changed by hand and then made anew: {name} is used; delete the one that you do not want"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(folder: &Path, made: &MadeTable) -> (String, Option<String>) {
        let used = read_table(folder, "a.csv", Some(made)).unwrap().unwrap();
        (String::from_utf8(used.bytes).unwrap(), used.said)
    }

    #[test]
    fn a_changed_table_is_used_and_told() {
        let folder = tempfile::tempdir().unwrap();
        let made = MadeTable::new("a.csv".to_owned(), b"made");
        assert_eq!(read_table(folder.path(), "a.csv", Some(&made)).unwrap(), None);
        fs::write(folder.path().join("a.csv"), "made").unwrap();
        assert_eq!(read(folder.path(), &made), ("made".to_owned(), None));
        fs::write(folder.path().join("a.csv"), "mine").unwrap();
        let (text, said) = read(folder.path(), &made);
        assert_eq!(text, "mine");
        assert!(said.unwrap().contains("a.csv was changed by hand and is used as it is"));
    }

    /// Changed, then made anew from other marks: the changed one is of marks that are no more.
    #[test]
    fn what_was_made_anew_beside_a_changed_table_is_used_until_somebody_decides() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("a.csv"), "mine").unwrap();
        fs::write(at("a.new.csv"), "made").unwrap();
        let made = MadeTable::new("a.new.csv".to_owned(), b"made");
        let (text, said) = read(folder.path(), &made);
        assert_eq!(text, "made");
        assert!(
            said.unwrap()
                .contains("a.csv was changed by hand and then made anew: a.new.csv is used")
        );
        fs::rename(at("a.new.csv"), at("a.csv")).unwrap();
        assert_eq!(read(folder.path(), &made), ("made".to_owned(), None));
        fs::write(at("a.csv"), "mine").unwrap();
        assert!(read(folder.path(), &made).1.unwrap().contains("is used as it is"));
    }

    #[test]
    fn of_a_table_from_before_names_were_noted_nothing_is_said() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.csv"), "old").unwrap();
        let used = read_table(folder.path(), "a.csv", None).unwrap().unwrap();
        assert_eq!((used.bytes, used.said), (b"old".to_vec(), None));
    }
}
