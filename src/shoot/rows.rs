//! Tables of rows: a heading row that names the columns in any order, then a row a line.
//!
//! Each line is parsed by itself, so that one opened quote cannot swallow the rest of the file and every row
//! knows its line.

use super::{
    FaultKind,
    names::{listed, nearest},
    page::Page,
    value::LONGEST_TEXT,
};

/// A column that a table may have.
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) is_required: bool,
}

impl Column {
    pub(super) const fn required(name: &'static str) -> Self {
        Self { name, is_required: true }
    }

    pub(super) const fn optional(name: &'static str) -> Self {
        Self { name, is_required: false }
    }
}

/// One row below the heading.
pub(super) struct Row<'p> {
    page: &'p Page<'p>,
    /// The line, from 1.
    pub(super) line: u64,
    /// Each with the name of its column.
    cells: Vec<(&'static str, String)>,
}

impl Row<'_> {
    /// The text of a cell without the spaces around it; empty where the table has no such column.
    pub(super) fn cell(&self, column: &str) -> &str {
        self.cells.iter().find(|(name, _)| *name == column).map_or("", |(_, cell)| cell)
    }

    /// Reads a cell, and tells what is wrong with it.
    pub(super) fn take<T>(
        &self,
        column: &str,
        read: impl FnOnce(&str) -> Result<T, FaultKind>,
    ) -> Option<T> {
        read(self.cell(column)).map_err(|kind| self.fault(column, kind)).ok()
    }

    /// Tells a fault of a cell.
    pub(super) fn fault(&self, column: &str, kind: FaultKind) {
        self.page.fault(Some(self.line), Some(column.to_owned()), kind);
    }
}

/// Reads the rows of a table. Blank lines, rows of empty cells and lines that begin with `#` are skipped;
/// faulty rows are told and left out, and counted in the second value. `None` if there is no heading to read
/// them by.
pub(super) fn rows<'p>(
    page: &'p Page<'p>,
    columns: &'static [Column],
) -> Option<(Vec<Row<'p>>, usize)> {
    let mut lines = written_lines(page.text());
    let Some((heading_line, heading)) = lines.next() else {
        page.fault(None, None, FaultKind::NoHeader { expected: required(columns) });
        return None;
    };
    let heading = read_heading(page, heading_line, heading, columns)?;
    let (mut rows, mut faulty) = (Vec::new(), 0);
    for (line, text) in lines {
        match cells(text, heading.len()) {
            Ok(cells) if cells.iter().all(String::is_empty) => {}
            Ok(cells) => {
                let named = heading.iter().zip(cells);
                let cells = named.filter_map(|(name, cell)| Some(((*name)?, cell))).collect();
                rows.push(Row { page, line, cells });
            }
            Err(kind) => {
                page.fault(Some(line), None, kind);
                faulty += 1;
            }
        }
    }
    Some((rows, faulty))
}

/// The lines with something on them, and their numbers from 1.
fn written_lines(text: &str) -> impl Iterator<Item = (u64, &str)> {
    let numbered = (1..).zip(text.split('\n'));
    numbered
        .map(|(number, line)| (number, line.trim_matches(['\r', ' '])))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'))
}

/// The cells of one line, as many as there are columns.
fn cells(line: &str, expected: usize) -> Result<Vec<String>, FaultKind> {
    let cells = split(line)?;
    if cells.len() != expected {
        return Err(FaultKind::CellCount { found: cells.len(), expected });
    }
    Ok(cells)
}

fn split(line: &str) -> Result<Vec<String>, FaultKind> {
    if line.bytes().filter(|byte| *byte == b'"').count() % 2 == 1 {
        return Err(FaultKind::OpenQuote);
    }
    if line.contains('\r') {
        return Err(FaultKind::LoneReturn);
    }
    let mut record = csv::StringRecord::new();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .trim(csv::Trim::All)
        .buffer_capacity(line.len().max(1))
        .from_reader(line.as_bytes());
    // Reading from memory what is known to be text cannot fail; a line without a record has one empty cell.
    let _ = reader.read_record(&mut record);
    let cells: Vec<String> = record.iter().map(str::to_owned).collect();
    match cells.iter().map(|cell| cell.chars().count()).max() {
        Some(letters) if letters > LONGEST_TEXT => {
            Err(FaultKind::TooLong { letters, limit: LONGEST_TEXT })
        }
        _ => Ok(cells),
    }
}

/// The column that each cell belongs to, `None` where there is none; `None` at all if rows cannot be read.
fn read_heading(
    page: &Page<'_>,
    line: u64,
    text: &str,
    columns: &'static [Column],
) -> Option<Vec<Option<&'static str>>> {
    let fault = |kind| page.fault(Some(line), None, kind);
    let cells = split(text).map_err(fault).ok()?;
    if let ([_], Some(separator)) = (cells.as_slice(), other_separator(text)) {
        fault(FaultKind::Separator { separator });
        return None;
    }
    let known = |cell: &String| columns.iter().map(|c| c.name).find(|name| name == cell);
    let heading: Vec<Option<&'static str>> = cells.iter().map(known).collect();
    if heading.iter().all(Option::is_none) {
        fault(FaultKind::NoHeader { expected: required(columns) });
        return None;
    }
    let mut is_readable = true;
    for (place, (name, cell)) in heading.iter().zip(&cells).enumerate() {
        if name.is_none() {
            fault(unknown_column(cell, columns));
        } else if heading[..place].contains(name) {
            fault(FaultKind::ColumnTwice { column: cell.clone() });
            is_readable = false;
        }
    }
    for column in columns.iter().filter(|column| column.is_required) {
        if !heading.contains(&Some(column.name)) {
            fault(FaultKind::MissingColumn { column: column.name });
            is_readable = false;
        }
    }
    is_readable.then_some(heading)
}

fn other_separator(text: &str) -> Option<&'static str> {
    [(';', "semicolons"), ('\t', "tabs"), ('|', "bars")]
        .into_iter()
        .find(|(separator, _)| text.contains(*separator))
        .map(|(_, name)| name)
}

fn unknown_column(cell: &str, columns: &[Column]) -> FaultKind {
    let names = || columns.iter().map(|column| column.name);
    FaultKind::UnknownColumn {
        column: cell.to_owned(),
        nearest: nearest(cell, names()).map(str::to_owned),
        known: listed(names()),
    }
}

fn required(columns: &[Column]) -> String {
    listed(columns.iter().filter(|column| column.is_required).map(|column| column.name))
}
