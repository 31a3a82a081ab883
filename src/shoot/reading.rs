use super::{
    Fault, FaultKind, Sheet, Shoot, ShootError,
    clauses::tell_unmarked,
    clip::ClipNames,
    marks::{self, Coverage},
    motion,
    page::Page,
    pins,
    root::{self, NamedFile, Purpose},
    written::hash,
};
use std::{fs, path::Path};
use toml::de::DeTable;

/// What was read, and everything that is wrong.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Every part that could be read. A clip is in it if its own keys are right, whatever its limits and
    /// marks are, so that its footage can be opened and looked at too.
    pub shoot: Shoot,
    /// What must be mended before anything is planned, in the order of [`Fault::in_order`].
    pub faults: Vec<Fault>,
}

impl Reading {
    /// The shoot, if nothing is wrong with it.
    ///
    /// # Errors
    /// Every fault there is.
    pub fn checked(self) -> Result<Shoot, Vec<Fault>> {
        if self.faults.is_empty() { Ok(self.shoot) } else { Err(self.faults) }
    }
}

/// Reads a shoot file, and the marks and pins files that it names.
///
/// ```
/// # let folder = tempfile::tempdir()?;
/// let path = folder.path().join("shoot.toml");
/// std::fs::write(&path, "version = 1\ntimeline_rate = 29.97\nmarks = \"marks.csv\"\n")?;
/// let faults = lookroom::shoot::read(&path)?.faults;
/// assert!(faults.iter().any(|fault| fault.to_string().ends_with(
///     "shoot.toml:2: timeline_rate: `29.97` is a rounded frame rate and drifts; \
///      write the exact fraction, 30000/1001"
/// )));
/// assert_eq!(faults.len(), 4, "nor are there deliverables, clips and marks");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`ShootError`] only if the shoot file itself cannot be opened or is no text; all else is in
/// [`Reading::faults`].
pub fn read(path: &Path) -> Result<Reading, ShootError> {
    read_for(path, Purpose::Planning)
}

/// Reads a shoot file for the time before mounting: what is to be delivered and what a capture mode and a mount have to give.
/// Clips and marks need not be there yet; the tables of rows that the file names are not opened.
///
/// # Errors
/// As [`read`].
pub fn read_brief(path: &Path) -> Result<Reading, ShootError> {
    read_for(path, Purpose::Mounting)
}

fn read_for(path: &Path, purpose: Purpose) -> Result<Reading, ShootError> {
    let bytes =
        fs::read(path).map_err(|source| ShootError::Open { path: path.to_owned(), source })?;
    let text =
        as_text(&bytes).map_err(|line| ShootError::NotUtf8 { path: path.to_owned(), line })?;
    let mut page = Page::new(Sheet::Shoot, path, text);
    let (table, syntax_errors) = DeTable::parse_recoverable(text);
    let is_named_table = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("csv"));
    if is_named_table && !syntax_errors.is_empty() {
        return Err(ShootError::Table { path: path.to_owned() });
    }
    for error in syntax_errors {
        page.syntax_fault(&error.span().unwrap_or_default(), error.message());
    }
    let mut shoot = Shoot::empty(path, hash(&bytes));
    let mut names = ClipNames::default();
    if page.has_syntax_faults() {
        names.note_unread();
    }
    let mut faults = Vec::new();
    if let Some(row_files) = root::read(&page, table.get_ref(), (&mut shoot, &mut names), purpose) {
        faults.extend(read_marks(&page, row_files.marks.as_ref(), &mut shoot, &names));
        faults.extend(read_pins(&page, row_files.pins.as_ref(), &mut shoot, &names));
        faults.extend(read_motion(&page, row_files.motion.as_ref(), &mut shoot, &names));
    }
    faults.extend(page.into_faults());
    Ok(Reading { shoot, faults: Fault::in_order(faults) })
}

fn read_marks(
    shoot_page: &Page<'_>,
    file: Option<&NamedFile>,
    shoot: &mut Shoot,
    names: &ClipNames,
) -> Vec<Fault> {
    let Some(file) = file else { return Vec::new() };
    shoot.marks_path.clone_from(&file.path);
    let Some(bytes) = file.bytes(shoot_page) else { return Vec::new() };
    shoot.hashes.marks = Some(hash(&bytes));
    on_page(Sheet::Marks, &file.path, &bytes, |page| {
        let (rows, coverage) = marks::read(page, &names.clips);
        if let Coverage::Known { no_row, .. } = &coverage {
            // What takes the path of another clip needs no marks of its own.
            for clip in no_row.iter().filter(|clip| !names.copies.contains(clip)) {
                let kind = FaultKind::NoMarks { clip: clip.clone() };
                shoot_page.fault(names.clips.line_of(clip), None, kind);
            }
        }
        tell_unmarked(shoot_page, &shoot.clauses, &rows, &coverage);
        shoot.marks = rows;
        shoot.coverage = coverage;
    })
}

fn read_pins(
    shoot_page: &Page<'_>,
    file: Option<&NamedFile>,
    shoot: &mut Shoot,
    names: &ClipNames,
) -> Vec<Fault> {
    let Some((file, bytes)) = file.and_then(|file| Some((file, file.bytes(shoot_page)?))) else {
        return Vec::new();
    };
    shoot.hashes.pins = Some(hash(&bytes));
    shoot.pins_path = Some(file.path.clone());
    on_page(Sheet::Pins, &file.path, &bytes, |page| shoot.pins = pins::read(page, shoot, names))
}

fn read_motion(
    shoot_page: &Page<'_>,
    file: Option<&NamedFile>,
    shoot: &mut Shoot,
    names: &ClipNames,
) -> Vec<Fault> {
    let Some((file, bytes)) = file.and_then(|file| Some((file, file.bytes(shoot_page)?))) else {
        return Vec::new();
    };
    shoot.hashes.motion = Some(hash(&bytes));
    shoot.motion_path = Some(file.path.clone());
    on_page(Sheet::Motion, &file.path, &bytes, |page| {
        shoot.motion = motion::read(page, &names.clips);
    })
}

/// Reads a table of rows, if it is a text, and hands out what is wrong in it.
pub(super) fn on_page(
    sheet: Sheet,
    path: &Path,
    bytes: &[u8],
    read: impl FnOnce(&Page<'_>),
) -> Vec<Fault> {
    match as_text(bytes) {
        Ok(text) => {
            let page = Page::new(sheet, path, text);
            read(&page);
            page.into_faults()
        }
        Err(line) => {
            let page = Page::new(sheet, path, "");
            page.fault(Some(line), None, FaultKind::NotUtf8);
            page.into_faults()
        }
    }
}

/// The text without its byte order mark; else the first line that is none.
pub(super) fn as_text(bytes: &[u8]) -> Result<&str, u64> {
    const BYTE_ORDER_MARK: &[u8] = b"\xEF\xBB\xBF";
    let bytes = bytes.strip_prefix(BYTE_ORDER_MARK).unwrap_or(bytes);
    std::str::from_utf8(bytes).map_err(|error| {
        let sound = &bytes[..error.valid_up_to()];
        sound.iter().filter(|byte| **byte == b'\n').count() as u64 + 1
    })
}
