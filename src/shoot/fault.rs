use super::FaultKind;
use std::{error::Error, fmt, fmt::Write as _, path::PathBuf};

/// Which of the files that a user writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sheet {
    /// The shoot file.
    Shoot,
    /// The marks file.
    Marks,
    /// The pins file.
    Pins,
    /// The motion file.
    Motion,
    /// The kit file.
    Kit,
}

/// Something that must be mended before anything is planned: where it is, and what it is.
///
/// Printed as `shoot.toml:12: rate: …`. Control characters of a quoted value are not printed as such.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// Which file.
    pub sheet: Sheet,
    /// Where that file is.
    pub file: PathBuf,
    /// The line, from 1; `None` for the file as a whole.
    pub line: Option<u64>,
    /// The character in the line, from 1, if one is to blame (shoot file only).
    pub column: Option<u64>,
    /// The key of the shoot file, or the column of a table of rows, that is to blame.
    pub field: Option<String>,
    /// What is wrong.
    pub kind: FaultKind,
}

impl Fault {
    /// Whether it only says that nothing is marked yet, or not enough.
    #[must_use]
    pub fn is_for_want_of_marks(&self) -> bool {
        match &self.kind {
            FaultKind::NoMarks { .. }
            | FaultKind::NoSubject { .. }
            | FaultKind::ClauseUnmarked { .. } => true,
            FaultKind::CannotOpen { cause, .. } => {
                self.field.as_deref() == Some("marks") && *cause == std::io::ErrorKind::NotFound
            }
            _ => false,
        }
    }

    /// The faults in the order in which a user meets them: shoot file, marks, pins, motion, each from its top; what
    /// was found twice is told once.
    #[must_use]
    pub fn in_order(mut faults: Vec<Self>) -> Vec<Self> {
        faults.sort_by_key(|fault| (fault.sheet, fault.line, fault.column));
        faults.dedup();
        faults
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file.display())?;
        if let Some(line) = self.line {
            write!(f, ":{line}")?;
        }
        f.write_str(": ")?;
        let field = self.field.as_ref().map(|field| format!("{field}: ")).unwrap_or_default();
        for letter in format!("{field}{}", self.kind).chars() {
            f.write_char(if letter.is_control() { char::REPLACEMENT_CHARACTER } else { letter })?;
        }
        Ok(())
    }
}

impl Error for Fault {
    fn source(&self) -> Option<&(dyn Error + 'static)> {
        self.kind.source()
    }
}
