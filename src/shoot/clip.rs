use super::{
    FaultKind, Moment,
    copies::{COPY_KEYS, WrittenCopy},
    inside_crop::inside_crop,
    limits::{LimitTable, Scope},
    moment::has_timecode_form,
    names::Names,
    page::Page,
    parts::{known_names, name},
    retimes::{WrittenRetime, retimes},
    sharpness::sharpness,
    shutter::shutter,
    stance::Stance,
    table::{TableReader, Written},
    value::{moment, one_of, rate, text, truth, whole, wrong_type},
    view::{ProxyOf, View, proxy},
};
use crate::{
    clip::{Footage, Play},
    geometry::InsideCrop,
    sharpness::MeasuredSharpness,
    timecode::{FrameRange, FrameRate},
};
use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
};
use toml::de::DeValue;

/// A used part of a clip, as it was written: half-open, so that `to` is the first frame after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenRange {
    /// The first frame.
    pub from: Moment,
    /// The first frame after the range.
    pub to: Moment,
    /// The line it is written on.
    pub line: u64,
}

/// A cut inside a clip, as it was written: the first frame after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WrittenCut {
    /// The first frame after the cut.
    pub first_after: Moment,
    /// The line it is written on.
    pub line: u64,
}

/// A clip as the shoot file describes it, before its footage has been opened.
#[derive(Debug, Clone, PartialEq)]
pub struct ShootClip {
    /// Its name: letters, digits, `-`, `_` and `.` only.
    pub name: String,
    /// The name of its camera, if it has one.
    pub camera: Option<String>,
    /// Where its frames are; a relative path is already joined to the shoot file's folder.
    pub footage: Footage,
    /// Its rate, if it was written; an image sequence always has one.
    pub rate: Option<FrameRate>,
    /// Which video track of its file is read, from 1, if it was written.
    pub track: Option<u32>,
    /// How its pictures are turned and mirrored, as far as it says so itself and not its camera.
    pub view: View,
    /// Of what its footage is a proxy, if it is one.
    pub proxy: Option<ProxyOf>,
    /// The timecode of its first frame, if it was written; it has the form of a timecode.
    pub start_timecode: Option<String>,
    /// How the timeline plays it.
    pub play: Play,
    /// How its speed was changed on the timeline; empty is not at all.
    pub retimes: Vec<WrittenRetime>,
    /// Where it is cut inside.
    pub cuts: Vec<WrittenCut>,
    /// From which clip it takes its path, if it is not planned by itself.
    pub copy: Option<WrittenCopy>,
    /// What levels its pictures and what windows stand still against, as far as it says so itself and not its
    /// camera.
    pub stance: Stance,
    /// What its camera cropped before it wrote the file, if it was written; it wins over the camera's.
    pub inside_crop: Option<InsideCrop>,
    /// How sharp its frames are, if it says so itself and not its camera.
    pub sharpness: Option<MeasuredSharpness>,
    /// How long each of its frames was exposed, in seconds, if it was written; it wins over the camera's.
    pub shutter_secs: Option<f64>,
    /// Whether its deliverables share one look, if it says so itself and not the shoot.
    pub one_look: Option<bool>,
    /// The names of what is made of it, at least one; all there are if nothing was written.
    pub deliverables: Vec<String>,
    /// The parts that are used; empty is the whole clip.
    pub ranges: Vec<WrittenRange>,
    /// The line on which it begins.
    pub line: u64,
    pub(super) rate_line: u64,
    pub(super) proxy_line: u64,
    pub(super) start_timecode_line: u64,
    pub(super) limits: LimitTable,
    /// By deliverable.
    pub(super) limits_for: BTreeMap<String, LimitTable>,
}

/// The names that a clip may refer to, and those of the clips before it.
pub(super) struct ClipNames {
    pub(super) deliverables: Names,
    pub(super) cameras: Names,
    pub(super) clips: Names,
    /// The clips that take the path of another, rightly or wrongly.
    pub(super) copies: Vec<String>,
}

impl Default for ClipNames {
    fn default() -> Self {
        Self {
            deliverables: Names::of("deliverable"),
            cameras: Names::of("camera"),
            clips: Names::of("clip"),
            copies: Vec::new(),
        }
    }
}

impl ClipNames {
    /// Tells all of them that some names could not be read.
    pub(super) const fn note_unread(&mut self) {
        self.deliverables.note_unread();
        self.cameras.note_unread();
        self.clips.note_unread();
    }

    /// The name of a deliverable, if a clip with these deliverables is made for it. One that may only be known
    /// by a name that could not be read is let pass.
    pub(super) fn delivered(&self, name: &str, of_clip: &[String]) -> Result<String, FaultKind> {
        let name = self.deliverables.known(name)?;
        if self.deliverables.has(&name) && !of_clip.contains(&name) {
            return Err(FaultKind::NotDelivered { name });
        }
        Ok(name)
    }
}

/// Reads one `[[clip]]`, and says whether all of it but its limits is sound: one that is not has stand-ins
/// for what could not be read, and is only good for holding its limits against those of other tables.
pub(super) fn clip(
    page: &Page<'_>,
    written: &Written<'_>,
    folder: &Path,
    names: &mut ClipNames,
) -> Option<(ShootClip, bool)> {
    let Some(mut table) = TableReader::open(page, written, "[[clip]]") else {
        names.clips.note_unread();
        return None;
    };
    let found = page.found();
    let name = name(&mut table, &mut names.clips);
    let camera = table.take("camera", |value| names.cameras.known(text(value)?));
    let footage = footage(&mut table, folder);
    let rate = capture_rate(&mut table, footage.as_ref());
    let track = track(&mut table, footage.as_ref());
    let view = View::read(&mut table);
    let proxy = proxy_of(&mut table);
    let start_timecode = table.take("start_timecode", start_timecode);
    let play = table.take("play", one_of(&PLAYS)).unwrap_or_default();
    let retimes = retimes(&mut table, play);
    let cuts = cuts(&mut table);
    let copy = WrittenCopy::read(&mut table);
    let one_look = one_look(&mut table);
    if COPY_KEYS.iter().any(|(key, _)| table.has(key)) {
        names.copies.extend(name.clone());
    }
    let stance = Stance::read(&mut table);
    let inside_crop = inside_crop(&mut table);
    let (sharpness, shutter_secs) = (sharpness(&mut table), shutter(&mut table));
    let deliverables = known_names(&mut table, "deliverables", &names.deliverables);
    let ranges = ranges(&mut table);
    let is_sound = page.found() == found;
    let deliverables =
        deliverables.unwrap_or_else(|| names.deliverables.iter().map(str::to_owned).collect());
    let limits = LimitTable::within(&mut table, "[clip.limits]", Scope::Clips);
    let limits_for = limits_for(&mut table, &deliverables, names);
    let clip = ShootClip {
        name: name.unwrap_or_default(),
        camera,
        footage: footage.unwrap_or_else(|| Footage::video(PathBuf::new())),
        rate,
        track,
        view,
        proxy,
        start_timecode,
        play,
        retimes,
        cuts,
        copy,
        one_look,
        stance,
        inside_crop,
        sharpness,
        shutter_secs,
        deliverables,
        ranges,
        line: table.line(),
        rate_line: table.line_of("rate"),
        proxy_line: table.line_of("proxy"),
        start_timecode_line: table.line_of("start_timecode"),
        limits,
        limits_for,
    };
    table.finish();
    Some((clip, is_sound))
}

/// Its rate, which pictures need and a video has itself.
fn capture_rate(table: &mut TableReader<'_>, footage: Option<&Footage>) -> Option<FrameRate> {
    let rate = table.take("rate", rate);
    if matches!(footage, Some(Footage::Sequence(_))) && !table.has("rate") {
        table.missing("rate", "since pictures do not have one; for example rate = \"25\"");
    }
    rate
}

/// Whether its deliverables share one look. A clip that takes the path of another has that one's look.
fn one_look(table: &mut TableReader<'_>) -> Option<bool> {
    let one_look = table.take("one_look", truth);
    let copies = COPY_KEYS.into_iter().map(|(key, _)| key).find(|key| table.has(key));
    if let (Some(true), Some(first)) = (one_look, copies) {
        table.fault("one_look", FaultKind::Both { table: "[[clip]]", first, second: "one_look" });
    }
    one_look
}

const PLAYS: [(&str, Play); 2] = [("real-time", Play::RealTime), ("every-frame", Play::EveryFrame)];

fn start_timecode(value: &DeValue<'_>) -> Result<String, FaultKind> {
    let text = text(value)?.trim();
    has_timecode_form(text).map(|()| text.to_owned())
}

/// The keys by which footage can be named; one of them is.
const FOOTAGE_KEYS: [&str; 3] = ["frames", "file", "files"];

fn footage(table: &mut TableReader<'_>, folder: &Path) -> Option<Footage> {
    let frames = table.take("frames", text).map(|path| folder.join(path));
    let file = table.take("file", text).map(|path| folder.join(path));
    let files = files(table, folder);
    let mut named = FOOTAGE_KEYS.into_iter().filter(|key| table.has(key));
    match (named.next(), named.next()) {
        (Some(first), Some(second)) => {
            table.fault(second, FaultKind::Both { table: "[[clip]]", first, second });
        }
        (None, _) => table.missing(
            "frames",
            "a pattern such as \"frames/%05d.jpg\"; or `file`, a video, or `files`, several that follow on each other",
        ),
        (Some(_), None) => {}
    }
    frames.map(Footage::Sequence).or_else(|| file.map(Footage::video)).or(files)
}

/// The files that a recorder split one take into, in order; `None` if one of them has a fault.
fn files(table: &mut TableReader<'_>, folder: &Path) -> Option<Footage> {
    let found = table.page().found();
    let expected = "a list of files in quotes, in the order in which they follow on each other";
    let mut paths = Vec::new();
    for written in table.list("files", expected)? {
        match text(written.get_ref()) {
            Ok(path) => paths.push(folder.join(path)),
            Err(kind) => table.page().fault_at(&written.span(), Some("files".to_owned()), kind),
        }
    }
    (table.page().found() == found).then_some(Footage::Video(paths))
}

/// What the footage is a proxy of, if it is one.
fn proxy_of(table: &mut TableReader<'_>) -> Option<ProxyOf> {
    let is_table = |value: &DeValue<'_>| match value {
        DeValue::Table(_) => Ok(()),
        _ => Err(wrong_type("a table such as { of = \"2704x2028\", marks_in = \"proxy\" }", value)),
    };
    table.take("proxy", is_table)?;
    table.inner("proxy", "proxy").and_then(proxy)
}

/// The number of a video track, from 1.
fn track(table: &mut TableReader<'_>, footage: Option<&Footage>) -> Option<u32> {
    let number = table.take("track", |value| {
        let number = whole(value)?;
        u32::try_from(number)
            .ok()
            .filter(|number| *number > 0)
            .ok_or(FaultKind::NoTrackNumber { number })
    });
    if matches!(footage, Some(Footage::Sequence(_))) && table.has("track") {
        table.fault("track", FaultKind::TrackOfPictures);
    }
    number
}

/// Reads the used ranges, and holds those that are written in frames against each other.
fn ranges(table: &mut TableReader<'_>) -> Vec<WrittenRange> {
    let page = table.page();
    let expected = "a list such as [ { from = 0, to = 200 } ]; leave it out to use the whole clip";
    let written = table.list("ranges", expected).unwrap_or_default();
    let mut ranges = Vec::with_capacity(written.len());
    let mut in_frames = Vec::new();
    for entry in written {
        let Some(range) = range(page, entry) else { continue };
        match range.in_frames() {
            Some(Ok(frames)) => in_frames.push((frames, range.line)),
            Some(Err(kind)) => page.fault(Some(range.line), Some("ranges".to_owned()), kind),
            None => {}
        }
        ranges.push(range);
    }
    for (line, kind) in overlaps(&mut in_frames) {
        page.fault(Some(line), Some("ranges".to_owned()), kind);
    }
    ranges
}

/// Reads the cuts; each one is held against the others when timecodes have become frames.
fn cuts(table: &mut TableReader<'_>) -> Vec<WrittenCut> {
    let page = table.page();
    let expected =
        "a list of frames, the first after each cut, such as [300]; leave it out without a cut";
    let written = table.list("cuts", expected).unwrap_or_default();
    let cut = |entry: &Written<'_>| match moment(entry.get_ref()) {
        Ok(first_after) => Some(WrittenCut { first_after, line: page.line_of(entry.span().start) }),
        Err(kind) => {
            page.fault_at(&entry.span(), Some("cuts".to_owned()), kind);
            None
        }
    };
    written.iter().filter_map(cut).collect()
}

fn range(page: &Page<'_>, entry: &Written<'_>) -> Option<WrittenRange> {
    let mut table = TableReader::open(page, entry, "a range such as { from = 0, to = 200 }")?;
    let from = table.need("from", "the first frame", moment);
    let to = table.need("to", "the first frame after the range", moment);
    let line = table.line();
    table.finish();
    Some(WrittenRange { from: from?, to: to?, line })
}

impl WrittenRange {
    /// The range, if both ends were written as frames.
    pub(super) fn in_frames(&self) -> Option<Result<FrameRange, FaultKind>> {
        Some(FrameRange::new(self.from.frame()?, self.to.frame()?).map_err(FaultKind::from))
    }
}

/// Puts ranges in order, and tells by line which of them share frames with one before.
pub(super) fn overlaps(ranges: &mut [(FrameRange, u64)]) -> Vec<(u64, FaultKind)> {
    ranges.sort_by_key(|(range, line)| (range.first(), *line));
    let mut faults = Vec::new();
    let mut furthest: Option<(FrameRange, u64)> = None;
    for &(used, line) in &*ranges {
        match furthest {
            Some((other, other_line)) if used.first() < other.end() => {
                faults.push((line, FaultKind::RangesOverlap { used, other, other_line }));
            }
            _ => {}
        }
        if furthest.is_none_or(|(other, _)| other.end() < used.end()) {
            furthest = Some((used, line));
        }
    }
    faults
}

fn limits_for(
    table: &mut TableReader<'_>,
    deliverables: &[String],
    names: &ClipNames,
) -> BTreeMap<String, LimitTable> {
    let Some(by_name) = table.inner("limits_for", "[clip.limits_for.NAME]") else {
        return BTreeMap::new();
    };
    let mut limits_for = BTreeMap::new();
    for (name, written) in by_name.entries() {
        match names.delivered(name, deliverables) {
            Ok(name) => {
                let table = TableReader::open(by_name.page(), written, "[clip.limits_for.NAME]");
                let limits = table.map(|table| LimitTable::read(&table, Scope::OneDeliverable));
                limits_for.extend(limits.map(|limits| (name, limits)));
            }
            Err(kind) => by_name.fault(name, kind),
        }
    }
    limits_for
}
