//! A page a clip on which it is marked with the pointer, so that nobody types px.

use super::{
    CancelToken, Event, Observer, Outputs, Problem, TaskError, observe::watch_counting,
    prepare::reading_of, tracks,
};
use crate::{
    media::{self, Opened, Programs},
    page::{MARK_COLUMNS, MarkedThing, MarkingFrame, MarkingSheet},
    picture::{RgbImage, shrink_to_fit},
    shoot::{self, ClipMarks, Fault, Shoot, ShootClip},
    timecode::FrameIndex,
};
use image::codecs::jpeg::JpegEncoder;
use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    ops::ControlFlow,
    path::PathBuf,
};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkingOptions {
    /// The shoot file.
    pub shoot: PathBuf,
    /// The outputs folder; `None` is the shoot file's own.
    pub out: Option<PathBuf>,
    /// Only this clip; `None` is all of them.
    pub clip: Option<String>,
    /// How many evenly spaced frames a page shows, beside those that are marked already.
    pub frames: u32,
}

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkingDone {
    /// The outputs folder.
    pub folder: PathBuf,
    /// The pages in it, by name, in the order of the clips.
    pub pages: Vec<String>,
}

/// What the name of a page ends in.
pub(super) const ENDING: &str = "_marking-sheet.html";

/// The pictures of a page are no larger than this: large enough to draw on, small enough for a page of many.
const SHOWN_PX: u32 = 960;
const JPEG_QUALITY: u8 = 82;

/// Writes a marking sheet for each clip. Clips without a mark, and a marks file that is not there yet, are what this
/// is for.
///
/// # Errors
/// [`TaskError::Problems`] with everything else that must be mended first; [`TaskError::NoSuchClip`]; otherwise the first thing
/// that could not be read or written.
pub fn marking_sheets(
    options: &MarkingOptions,
    observer: &mut dyn Observer,
    cancel: &CancelToken,
) -> Result<MarkingDone, TaskError> {
    let shoot::Reading { shoot, faults } = shoot::read(&options.shoot)?;
    let faults: Vec<Fault> =
        faults.into_iter().filter(|fault| !fault.is_for_want_of_marks()).collect();
    if !faults.is_empty() {
        return Err(problems(faults));
    }
    if let Some(name) = options.clip.as_ref().filter(|name| shoot.clip(name).is_none()) {
        let known = shoot.clips.iter().map(|clip| clip.name.clone()).collect();
        return Err(TaskError::NoSuchClip { name: name.clone(), known });
    }
    let is_wanted = |clip: &&ShootClip| options.clip.as_ref().is_none_or(|name| clip.name == *name);
    let folder = options.out.clone().unwrap_or_else(|| shoot.outputs.clone());
    let mut outputs = Outputs::open(&folder)?;
    let mut pages = Vec::new();
    for clip in shoot.clips.iter().filter(is_wanted) {
        let sheet = sheet_of(&shoot, clip, options.frames, (&mut *observer, cancel))?;
        let name = format!("{}{ENDING}", clip.name);
        let mut page = Vec::new();
        let failed = |source| TaskError::Output { path: folder.join(&name), source };
        sheet.0.write(sheet.1, &mut page).map_err(failed)?;
        pages.push(outputs.write(&name, &page)?);
    }
    outputs.finish()?;
    Ok(MarkingDone { folder, pages })
}

fn problems(faults: Vec<Fault>) -> TaskError {
    TaskError::Problems {
        problems: Fault::in_order(faults).into_iter().map(Problem::Written).collect(),
    }
}

/// A clip's page, and the size of its pictures.
fn sheet_of(
    shoot: &Shoot,
    clip: &ShootClip,
    count: u32,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<(MarkingSheet, (u32, u32)), TaskError> {
    let mut watch = watch_counting(&mut *observer, cancel);
    let opened =
        media::open_with(&Programs::default(), &clip.footage, &reading_of(shoot, clip), &mut watch);
    drop(watch);
    cancel.check()?;
    let mut opened = opened.map_err(|error| TaskError::Problems {
        problems: vec![Problem::Footage {
            file: shoot.path.clone(),
            line: clip.line,
            clip: clip.name.clone(),
            error: Box::new(error),
        }],
    })?;
    let marked = shoot.marks_of(clip, &opened.facts).map_err(problems)?;
    let asked = tracks::asks_in(shoot, &clip.name);
    let whole = opened.facts.whole();
    let asked: BTreeMap<FrameIndex, String> =
        asked.into_iter().filter(|(frame, _)| whole.contains(*frame)).collect();
    let mut wanted = frames_to_show(&marked, count);
    wanted.extend(asked.keys().copied());
    let pictures = pictures(&mut opened, clip, &wanted, (observer, cancel))?;
    let size = pictures.values().next().map_or((1, 1), |(size, _)| *size);
    let frames = pictures.into_iter().map(|(frame, (_, jpeg))| MarkingFrame {
        frame,
        timecode: marked.start_timecode.map(|start| start.after(frame).to_string()),
        why: asked.get(&frame).cloned(),
        jpeg,
    });
    let facts = &opened.facts;
    let name = shoot
        .marks_path
        .file_name()
        .map_or_else(|| "marks.csv".to_owned(), |name| name.to_string_lossy().into_owned());
    let sheet = MarkingSheet {
        clip: clip.name.clone(),
        facts: format!(
            "{}, {} frames at {} frames/s; boxes are in px of {}",
            facts.raster, facts.frame_count, facts.timing, marked.raster
        ),
        marks_name: name,
        raster: marked.raster,
        frame_count: facts.frame_count,
        frames: frames.collect(),
        things: MarkedThing::all_of(&marked.marks),
        other_rows: other_rows(shoot, clip)?,
    };
    Ok((sheet, size))
}

/// Those that are marked, those on either side of a cut, and so many evenly spaced over each used range, its first and last
/// ones among them.
fn frames_to_show(marked: &ClipMarks, count: u32) -> BTreeSet<FrameIndex> {
    let mut frames: BTreeSet<FrameIndex> = marked.marks.iter().map(|mark| mark.frame).collect();
    let total: u64 = marked.used.iter().map(|used| used.frame_count()).sum();
    for used in &marked.used {
        let steps =
            (u64::from(count).max(2) * used.frame_count()).div_ceil(total.max(1)).max(2) - 1;
        let (first, last) = (used.first().0, used.last().0);
        frames.extend((0..=steps).map(|step| FrameIndex(first + (last - first) * step / steps)));
    }
    let is_used = |frame: &FrameIndex| marked.used.iter().any(|used| used.contains(*frame));
    let beside = marked.cuts.iter().flat_map(|cut| [FrameIndex(cut.0 - 1), *cut]);
    frames.extend(beside.filter(is_used));
    frames
}

type Shown = ((u32, u32), Vec<u8>);

fn pictures(
    opened: &mut Opened,
    clip: &ShootClip,
    wanted: &BTreeSet<FrameIndex>,
    (observer, cancel): (&mut dyn Observer, &CancelToken),
) -> Result<BTreeMap<FrameIndex, Shown>, TaskError> {
    observer.hear(Event::Begins { stage: "reading frames to mark", steps: wanted.len() as u64 });
    let (mut shown, mut failed) = (BTreeMap::new(), None);
    let read = opened.frames.visit(wanted, &mut |frame, picture| {
        observer.hear(Event::Step);
        let small = shrink_to_fit(&picture, SHOWN_PX, SHOWN_PX);
        match cancel.check().and_then(|()| jpeg(&clip.name, &small)) {
            Ok(jpeg) => {
                shown.insert(frame, (small.dimensions(), jpeg));
                ControlFlow::Continue(())
            }
            Err(error) => {
                failed = Some(error);
                ControlFlow::Break(())
            }
        }
    });
    if let Some(error) = failed {
        return Err(error);
    }
    read.map_err(|source| TaskError::Frame { clip: clip.name.clone(), source })?;
    cancel.check()?;
    Ok(shown)
}

fn jpeg(clip: &str, picture: &RgbImage) -> Result<Vec<u8>, TaskError> {
    let mut bytes = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut bytes, JPEG_QUALITY);
    picture
        .write_with_encoder(encoder)
        .map_err(|source| TaskError::Encode { name: format!("{clip}{ENDING}"), source })?;
    Ok(bytes)
}

/// The rows of other clips, as they stand in the marks file. It has been read without a fault, so that what does not come
/// apart here is no row.
fn other_rows(
    shoot: &Shoot,
    clip: &ShootClip,
) -> Result<Vec<[String; MARK_COLUMNS.len()]>, TaskError> {
    let text = match fs::read_to_string(&shoot.marks_path) {
        Ok(text) => text,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(source) => return Err(TaskError::Output { path: shoot.marks_path.clone(), source }),
    };
    let mut table = csv::ReaderBuilder::new()
        .flexible(true)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let heading = table.headers().cloned().unwrap_or_default();
    let places = MARK_COLUMNS.map(|column| heading.iter().position(|name| name == column));
    let rows = table
        .records()
        .filter_map(Result::ok)
        .map(|row| places.map(|place| place.and_then(|at| row.get(at)).unwrap_or("").to_owned()));
    Ok(rows.filter(|row| !row[0].is_empty() && row[0] != clip.name).collect())
}
