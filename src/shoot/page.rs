use super::{Fault, FaultKind, Sheet};
use std::{
    cell::{Cell, RefCell},
    collections::BTreeSet,
    ops::Range,
    path::{Path, PathBuf},
};

/// One of the files: its text, where its lines begin, and what has been found wrong in it.
#[derive(Debug)]
pub(super) struct Page<'t> {
    sheet: Sheet,
    path: PathBuf,
    text: &'t str,
    line_starts: Vec<usize>,
    /// Lines that could not be parsed: what else is wrong there is a consequence.
    broken_lines: BTreeSet<u64>,
    faults: RefCell<Vec<Fault>>,
    /// How many faults there were, those left out as consequences included.
    found: Cell<usize>,
}

impl<'t> Page<'t> {
    pub(super) fn new(sheet: Sheet, path: &Path, text: &'t str) -> Self {
        let breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        let line_starts = std::iter::once(0).chain(breaks.map(|(at, _)| at + 1)).collect();
        Self {
            sheet,
            path: path.to_owned(),
            text,
            line_starts,
            broken_lines: BTreeSet::new(),
            faults: RefCell::default(),
            found: Cell::new(0),
        }
    }

    pub(super) const fn text(&self) -> &'t str {
        self.text
    }

    /// The line that a byte is on, from 1.
    pub(super) fn line_of(&self, byte: usize) -> u64 {
        self.line_starts.partition_point(|start| *start <= byte) as u64
    }

    /// Tells that the text cannot be parsed at a place.
    pub(super) fn syntax_fault(&mut self, span: &Range<usize>, cause: &str) {
        self.fault_at(span, None, FaultKind::Syntax { cause: cause.to_owned() });
        self.broken_lines.insert(self.line_of(span.start));
    }

    pub(super) fn has_syntax_faults(&self) -> bool {
        !self.broken_lines.is_empty()
    }

    /// Tells a fault at a place in the text.
    pub(super) fn fault_at(&self, span: &Range<usize>, field: Option<String>, kind: FaultKind) {
        let line = self.line_of(span.start);
        let line_start = usize::try_from(line - 1).ok().and_then(|at| self.line_starts.get(at));
        let before = line_start.and_then(|start| self.text.get(*start..span.start));
        let column = before.map(|before| before.chars().count() as u64 + 1);
        self.push(Some(line), column, field, kind);
    }

    /// Tells a fault of a line; `None` is the file as a whole.
    pub(super) fn fault(&self, line: Option<u64>, field: Option<String>, kind: FaultKind) {
        self.push(line, None, field, kind);
    }

    fn push(&self, line: Option<u64>, column: Option<u64>, field: Option<String>, kind: FaultKind) {
        self.found.set(self.found.get() + 1);
        let on_broken_line = line.is_some_and(|line| self.broken_lines.contains(&line));
        let may_follow = self.has_syntax_faults() && matches!(kind, FaultKind::Missing { .. });
        if !on_broken_line && !may_follow {
            let (sheet, file) = (self.sheet, self.path.clone());
            self.faults.borrow_mut().push(Fault { sheet, file, line, column, field, kind });
        }
    }

    /// How many faults have been found so far: what was read in between is sound if it stays the same.
    pub(super) const fn found(&self) -> usize {
        self.found.get()
    }

    pub(super) fn into_faults(self) -> Vec<Fault> {
        self.faults.into_inner()
    }
}
