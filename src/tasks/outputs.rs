//! The outputs folder: every file whole or not at all, and nothing that a person changed is ever lost.
//!
//! A manifest holds the hash of each file that was written. A file that no longer matches has been changed by
//! hand (or was never ours) and is left alone; the new one is written beside it. What an earlier run wrote and this one does not
//! write again is removed if it is untouched, and set aside if it is not.

use super::TaskError;
use crate::plan::OutputNote;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::{
    collections::{BTreeMap, BTreeSet},
    fs, io,
    io::Write,
    path::{Path, PathBuf},
};
use tempfile::NamedTempFile;

const MANIFEST: &str = "manifest.json";
const SET_ASIDE: &str = "set-aside";

/// What was written before, by file name.
#[derive(Debug, Default, Serialize, Deserialize)]
struct Manifest {
    manifest_version: u32,
    /// SHA-256 of each file as it was written; two while a file is being replaced.
    files: BTreeMap<String, Vec<String>>,
}

/// An outputs folder that is being written.
#[derive(Debug)]
pub struct Outputs {
    folder: PathBuf,
    manifest: Manifest,
    written: BTreeSet<String>,
    notes: Vec<OutputNote>,
}

impl Outputs {
    /// Opens or makes the folder, and tries whether files can be written there.
    ///
    /// A manifest that cannot be read counts as none: every file that is there is then left alone.
    ///
    /// # Errors
    /// [`TaskError::Output`] if the folder cannot be made or written to.
    pub fn open(folder: &Path) -> Result<Self, TaskError> {
        let failed = |source| TaskError::Output { path: folder.to_owned(), source };
        fs::create_dir_all(folder).map_err(failed)?;
        NamedTempFile::new_in(folder).map_err(failed)?;
        let manifest = fs::read(folder.join(MANIFEST))
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok())
            .unwrap_or_default();
        Ok(Self {
            folder: folder.to_owned(),
            manifest,
            written: BTreeSet::new(),
            notes: Vec::new(),
        })
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The names of the files written so far, in order.
    pub fn written(&self) -> impl Iterator<Item = &str> {
        self.written.iter().map(String::as_str)
    }

    /// Files that were changed by hand, so far.
    #[must_use]
    pub fn notes(&self) -> &[OutputNote] {
        &self.notes
    }

    /// Writes a file under its name, or beside it if what is there is not ours; the name it was written
    /// under.
    ///
    /// # Errors
    /// [`TaskError::Output`] if it cannot be written.
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<String, TaskError> {
        let mut chosen = name.to_owned();
        let mut attempt = 1;
        while !self.may_write(&chosen, bytes)? {
            chosen = beside(name, attempt);
            attempt += 1;
        }
        if chosen != name {
            self.notes.push(OutputNote { kept: name.to_owned(), new: Some(chosen.clone()) });
        }
        // The new hash is noted first: a run that is ended in between leaves no file that looks changed.
        let hash = sha256(bytes);
        let known = self.manifest.files.entry(chosen.clone()).or_default();
        if !known.contains(&hash) {
            known.push(hash.clone());
            self.save_manifest()?;
        }
        write_whole(&self.folder.join(&chosen), bytes)?;
        self.manifest.files.insert(chosen.clone(), vec![hash]);
        self.written.insert(chosen.clone());
        Ok(chosen)
    }

    /// Whether a name is free, ours and untouched, or already holds these bytes.
    fn may_write(&self, name: &str, bytes: &[u8]) -> Result<bool, TaskError> {
        if self.written.contains(name) {
            return Ok(false);
        }
        Ok(match hash_of(&self.folder.join(name))? {
            None => true,
            Some(hash) => self.is_ours(name, &hash) || hash == sha256(bytes),
        })
    }

    fn is_ours(&self, name: &str, hash: &str) -> bool {
        self.manifest.files.get(name).is_some_and(|known| known.iter().any(|ours| ours == hash))
    }

    /// Clears away what earlier runs wrote, this one did not write again, and `belongs` says is of a kind
    /// that this run writes: removed if untouched, else moved to a folder of its own. The names of those that were removed.
    ///
    /// # Errors
    /// [`TaskError::Output`] if a file cannot be removed or moved.
    pub fn sweep(&mut self, belongs: impl Fn(&str) -> bool) -> Result<Vec<String>, TaskError> {
        let hand_kept: BTreeSet<String> = self.notes.iter().map(|note| note.kept.clone()).collect();
        let stale: Vec<String> = self
            .manifest
            .files
            .keys()
            .filter(|name| {
                !self.written.contains(*name) && !hand_kept.contains(*name) && belongs(name)
            })
            .cloned()
            .collect();
        let mut removed = Vec::new();
        for name in stale {
            let path = self.folder.join(&name);
            if let Some(hash) = hash_of(&path)? {
                if self.is_ours(&name, &hash) {
                    fs::remove_file(&path).map_err(|source| TaskError::Output { path, source })?;
                    removed.push(name.clone());
                } else {
                    self.set_aside(&name)?;
                }
            }
            self.manifest.files.remove(&name);
        }
        Ok(removed)
    }

    fn set_aside(&mut self, name: &str) -> Result<(), TaskError> {
        let folder = self.folder.join(SET_ASIDE);
        let failed = |path: &Path| {
            let path = path.to_owned();
            move |source| TaskError::Output { path, source }
        };
        fs::create_dir_all(&folder).map_err(failed(&folder))?;
        let free = (0..).map(|n| if n == 0 { name.to_owned() } else { beside(name, n) });
        let target = free.into_iter().find(|name| !folder.join(name).exists());
        let target = target.unwrap_or_else(|| name.to_owned());
        let from = self.folder.join(name);
        fs::rename(&from, folder.join(&target)).map_err(failed(&from))?;
        self.notes.push(OutputNote { kept: format!("{SET_ASIDE}/{target}"), new: None });
        Ok(())
    }

    /// Ends the run: the manifest says what is there now.
    ///
    /// # Errors
    /// [`TaskError::Output`] if the manifest cannot be written.
    pub fn finish(self) -> Result<(), TaskError> {
        self.save_manifest()
    }

    fn save_manifest(&self) -> Result<(), TaskError> {
        let manifest = Manifest { manifest_version: 1, files: self.manifest.files.clone() };
        let path = self.folder.join(MANIFEST);
        let mut bytes = serde_json::to_vec_pretty(&manifest)
            .map_err(|error| TaskError::Output { path: path.clone(), source: error.into() })?;
        bytes.push(b'\n');
        write_whole(&path, &bytes)
    }
}

/// Writes a file under a temporary name in its own folder and renames it: it is there whole or not at all.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), TaskError> {
    let failed = |source| TaskError::Output { path: path.to_owned(), source };
    let folder = path.parent().unwrap_or_else(|| Path::new("."));
    // Its own words would name the temporary file.
    let begun = NamedTempFile::new_in(folder);
    let mut file = begun.map_err(|error| failed(io::Error::from(error.kind())))?;
    file.write_all(bytes).and_then(|()| file.as_file().sync_all()).map_err(failed)?;
    readable_by_all(file.as_file()).map_err(failed)?;
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// A temporary file is its owner's alone; what is handed off is not.
#[cfg(unix)]
fn readable_by_all(file: &fs::File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable_by_all(_: &fs::File) -> io::Result<()> {
    Ok(())
}

/// `gate_keys.csv` beside itself: `gate_keys.new.csv`, then `gate_keys.new-2.csv`.
fn beside(name: &str, attempt: usize) -> String {
    let (stem, extension) = name.rsplit_once('.').unwrap_or((name, ""));
    let number = if attempt == 1 { String::new() } else { format!("-{attempt}") };
    let dot = if extension.is_empty() { "" } else { "." };
    format!("{stem}.new{number}{dot}{extension}")
}

fn hash_of(path: &Path) -> Result<Option<String>, TaskError> {
    match fs::read(path) {
        Ok(bytes) => Ok(Some(sha256(&bytes))),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(source) => Err(TaskError::Output { path: path.to_owned(), source }),
    }
}

pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(folder: &Path, name: &str) -> Option<String> {
        fs::read_to_string(folder.join(name)).ok()
    }

    fn run(folder: &Path, files: &[(&str, &str)]) -> Vec<OutputNote> {
        let mut outputs = Outputs::open(folder).unwrap();
        for (name, text) in files {
            outputs.write(name, text.as_bytes()).unwrap();
        }
        outputs.sweep(|_| true).unwrap();
        let notes = outputs.notes().to_vec();
        outputs.finish().unwrap();
        notes
    }

    #[test]
    fn an_untouched_file_is_replaced_and_a_changed_one_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        assert!(run(folder, &[("a.csv", "one"), ("b.csv", "one")]).is_empty());
        fs::write(folder.join("b.csv"), "mine").unwrap();
        let notes = [OutputNote { kept: "b.csv".into(), new: Some("b.new.csv".into()) }];
        assert_eq!(run(folder, &[("a.csv", "two"), ("b.csv", "two")]), notes);
        assert_eq!(read(folder, "a.csv").unwrap(), "two");
        assert_eq!(read(folder, "b.csv").unwrap(), "mine");
        assert_eq!(read(folder, "b.new.csv").unwrap(), "two");
        assert_eq!(run(folder, &[("a.csv", "two"), ("b.csv", "three")]), notes, "and again");
        assert_eq!(read(folder, "b.csv").unwrap(), "mine");
        assert_eq!(read(folder, "b.new.csv").unwrap(), "three");
    }

    #[test]
    fn a_file_that_was_there_before_is_not_ours() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("notes.txt"), "mine").unwrap();
        run(folder.path(), &[("notes.txt", "ours")]);
        assert_eq!(read(folder.path(), "notes.txt").unwrap(), "mine");
        assert_eq!(read(folder.path(), "notes.new.txt").unwrap(), "ours");
    }

    #[test]
    fn what_is_not_written_again_goes_if_untouched_and_is_set_aside_if_not() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path();
        run(folder, &[("a.csv", "one"), ("b.csv", "one")]);
        fs::write(folder.join("b.csv"), "mine").unwrap();
        let mut outputs = Outputs::open(folder).unwrap();
        assert_eq!(outputs.sweep(|_| true).unwrap(), ["a.csv"]);
        let notes = outputs.notes().to_vec();
        outputs.finish().unwrap();
        assert_eq!(notes, [OutputNote { kept: "set-aside/b.csv".into(), new: None }]);
        assert_eq!(read(folder, "a.csv"), None);
        assert_eq!(read(folder, "b.csv"), None);
        assert_eq!(read(folder, "set-aside/b.csv").unwrap(), "mine");
    }

    #[test]
    fn a_spoilt_manifest_makes_every_file_a_kept_one() {
        let folder = tempfile::tempdir().unwrap();
        run(folder.path(), &[("a.csv", "one")]);
        fs::write(folder.path().join(MANIFEST), "not json").unwrap();
        run(folder.path(), &[("a.csv", "two")]);
        assert_eq!(read(folder.path(), "a.csv").unwrap(), "one");
        assert_eq!(read(folder.path(), "a.new.csv").unwrap(), "two");
    }
}
