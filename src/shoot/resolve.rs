use super::{
    Fault, FaultKind, Level, MarkRow, MarkedIn, Moment, PinRow, ProxyOf, Sheet, Shoot, ShootClip,
    Steady, Trim, WrittenClause,
    clock::{Clock, Start},
    names::listed,
};
use crate::{
    action::BackgroundMotion,
    clip::{Clip, ClipFacts},
    geometry::{InsideCrop, Levelling, Raster, Region, Window},
    lens::PossibleLenses,
    pan::MOST_KEEP_OUTS,
    sharpness::MeasuredSharpness,
    subject::{Mark, Track, TrackError, Wish, tracks_from_marks},
    timecode::{FrameIndex, FrameRange, Timecode},
};
use std::collections::BTreeMap;

mod marking;
mod measured;
mod time;

pub use marking::ClipMarks;
use time::Times;

/// A clip with all that was written about it, held against its footage.
#[derive(Debug, Clone, PartialEq)]
pub struct ResolvedClip {
    /// The clip; its first timecode is the written one, if there is one.
    pub clip: Clip,
    /// The part of the displayed frame that a window may use: all but the trimmed edges.
    pub usable: Region,
    /// What its marks make, in the order of their names.
    pub tracks: Vec<Track>,
    /// Its windows fixed by hand, in the order of the pins file.
    pub pins: Vec<ResolvedPin>,
    /// The client's conditions that hold for it, in the order of the shoot file.
    pub clauses: Vec<WrittenClause>,
    /// What the lens before the displayed picture may be, if anything is known of it.
    pub lens: Option<PossibleLenses>,
    /// How sharp its frames were measured to be, if they were.
    pub sharpness: Option<MeasuredSharpness>,
    /// What turns its pictures level.
    pub level: Level,
    /// What its windows stand still against.
    pub steady: Steady,
    /// How long each of its frames was exposed, in seconds, if that is known.
    pub exposure_secs: Option<f64>,
    /// How its background moved, in px of the displayed picture: a step a frame, empty where nothing is told.
    pub motion: BackgroundMotion,
}

/// A window fixed by hand at a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct ResolvedPin {
    /// The name of the deliverable.
    pub deliverable: String,
    /// The frame; it is in a used range.
    pub frame: FrameIndex,
    /// The window, inside the usable area; as high as written, or as its deliverable's shape asks for. Where the
    /// picture is levelled by a fixed roll, it is the one of that size about the same point of the levelled picture.
    pub window: Window,
    /// The line of the pins file.
    pub line: u64,
}

impl Shoot {
    /// Holds what was written about a clip against the facts of its footage: timecodes become frames, and
    /// ranges, marks and pins must lie in the clip. What is already known to be faulty from reading is not
    /// told again.
    ///
    /// # Errors
    /// Every [`Fault`] there is, in the order of [`Fault::in_order`].
    pub fn resolve(&self, clip: &ShootClip, facts: &ClipFacts) -> Result<ResolvedClip, Vec<Fault>> {
        let mut faults = Faults { shoot: self, faults: Vec::new() };
        if facts.frame_count == 0 {
            faults.tell(Sheet::Shoot, clip.line, FaultKind::NoFrames { clip: clip.name.clone() });
            return Err(faults.faults);
        }
        let start = faults.start_timecode(clip, facts);
        let Some(raster) = faults.full_raster(clip, facts.raster) else {
            // In which px marks and pins are cannot be told.
            return Err(Fault::in_order(faults.faults));
        };
        let resolver = Resolver {
            shoot: self,
            clip,
            facts,
            raster,
            clock: Clock { clip: &clip.name, frame_count: facts.frame_count, start },
        };
        let usable = resolver.usable(&mut faults);
        let times = resolver.times(&mut faults);
        let tracks = resolver.tracks(&times, &mut faults);
        let stance = self.stance_of(clip);
        let (level, steady) =
            (stance.level.unwrap_or(Level::Degrees(0.0)), stance.steady.unwrap_or_default());
        let pins = resolver.pins(usable, &times, &mut faults);
        let lens = resolver.lens(&mut faults);
        let exposure_secs = resolver.exposure_secs(&mut faults);
        let motion = resolver.motion(level, &times.cuts, &mut faults);
        match usable {
            Some(usable) if faults.faults.is_empty() => Ok(ResolvedClip {
                clip: resolver.used(times),
                usable,
                clauses: self.clauses_of(clip, &tracks),
                tracks,
                pins,
                lens,
                sharpness: resolver.sharpness(),
                level,
                steady,
                exposure_secs,
                motion,
            }),
            _ => Err(Fault::in_order(faults.faults)),
        }
    }
}

impl Shoot {
    fn clauses_of(&self, clip: &ShootClip, tracks: &[Track]) -> Vec<WrittenClause> {
        self.clauses.iter().filter(|clause| clause.is_of(clip, tracks)).cloned().collect()
    }
}

/// The faults of a clip that its footage brings out.
pub(super) struct Faults<'s> {
    shoot: &'s Shoot,
    faults: Vec<Fault>,
}

impl Faults<'_> {
    pub(super) fn tell(&mut self, sheet: Sheet, line: u64, kind: FaultKind) {
        self.tell_of(sheet, line, None, kind);
    }

    pub(super) fn tell_of(
        &mut self,
        sheet: Sheet,
        line: u64,
        field: Option<&str>,
        kind: FaultKind,
    ) {
        let file = match sheet {
            Sheet::Shoot => self.shoot.path.clone(),
            Sheet::Marks => self.shoot.marks_path.clone(),
            Sheet::Pins => self.shoot.pins_path.clone().unwrap_or_default(),
            Sheet::Motion => self.shoot.motion_path.clone().unwrap_or_default(),
            Sheet::Kit => self.shoot.before.kit_path.clone().unwrap_or_default(),
        };
        let (line, field) = (Some(line), field.map(str::to_owned));
        self.faults.push(Fault { sheet, file, line, column: None, field, kind });
    }

    /// The value, if there is one, with its fault told if that is what it is.
    pub(super) fn keep<T>(
        &mut self,
        (sheet, line, field): (Sheet, u64, Option<&str>),
        value: Option<Result<T, FaultKind>>,
    ) -> Option<T> {
        value?.map_err(|kind| self.tell_of(sheet, line, field, kind)).ok()
    }

    /// The clip's first timecode: the written one before that of the footage.
    fn start_timecode(&mut self, clip: &ShootClip, facts: &ClipFacts) -> Start {
        let (line, field) = (clip.start_timecode_line, Some("start_timecode"));
        let Some(found) = facts.timing.rate() else {
            if let Some(timecode) = clip.start_timecode.clone() {
                let clip = clip.name.clone();
                let variable = FaultKind::TimecodeOfVariableRate { timecode, clip };
                self.tell_of(Sheet::Shoot, line, field, variable);
            }
            return Start::Variable;
        };
        if let Some(written) = clip.rate.filter(|rate| *rate != found) {
            let differs = FaultKind::RateDiffers { written, found };
            self.tell_of(Sheet::Shoot, clip.rate_line, Some("rate"), differs);
        }
        let Some(text) = &clip.start_timecode else {
            return facts.start_timecode.map_or(Start::Unnamed, Start::At);
        };
        match Timecode::parse(text, found) {
            Ok(start) => Start::At(start),
            Err(fault) => {
                self.tell_of(Sheet::Shoot, line, field, fault.into());
                Start::Faulty
            }
        }
    }

    /// The raster that all px are meant in: the footage's own, or that of the clip that it is a proxy of.
    fn full_raster(&mut self, clip: &ShootClip, read: Raster) -> Option<Raster> {
        /// A proxy's sides are rounded to whole or even px.
        const ROUNDING_PX: f64 = 2.0;
        let Some(ProxyOf { full, .. }) = clip.proxy else { return Some(read) };
        let exact_width = full.width() * read.height() / full.height();
        let shows_all = (read.width() - exact_width).abs() <= ROUNDING_PX;
        if !shows_all || read.width_px() > full.width_px() {
            let not_a_proxy = FaultKind::NotAProxy { proxy: read, full };
            self.tell_of(Sheet::Shoot, clip.proxy_line, Some("proxy"), not_a_proxy);
            return None;
        }
        Some(full)
    }
}

pub(super) struct Resolver<'s> {
    pub(super) shoot: &'s Shoot,
    pub(super) clip: &'s ShootClip,
    pub(super) facts: &'s ClipFacts,
    /// The raster that all px are meant in.
    pub(super) raster: Raster,
    clock: Clock<'s>,
}

impl Resolver<'_> {
    fn used(&self, times: Times) -> Clip {
        let start_timecode = self.start_timecode();
        Clip {
            name: self.clip.name.clone(),
            footage: self.clip.footage.clone(),
            facts: ClipFacts {
                raster: self.raster,
                start_timecode,
                // A proxy's bits say nothing of the full clip's.
                bit_rate: self.facts.bit_rate.filter(|_| self.clip.proxy.is_none()),
                ..self.facts.clone()
            },
            play: self.clip.play,
            retime: times.retime,
            timeline_rate: self.shoot.timeline_rate,
            track: self.clip.track,
            orientation: self.shoot.view_of(self.clip).orientation(),
            proxy: self.clip.proxy.map(|_| self.facts.raster),
            inside_crop: self.inside_crop(),
            cuts: times.cuts,
            ranges: times.ranges.into_iter().map(|(range, _)| range).collect(),
        }
    }

    /// The timecode of frame 0, if there is one.
    fn start_timecode(&self) -> Option<Timecode> {
        match self.clock.start {
            Start::At(start) => Some(start),
            Start::Unnamed | Start::Faulty | Start::Variable => None,
        }
    }

    /// The measured sharpness: the clip's own, or else its camera's.
    fn sharpness(&self) -> Option<MeasuredSharpness> {
        let camera = || self.shoot.camera_of(self.clip).and_then(|camera| camera.sharpness.clone());
        self.clip.sharpness.clone().or_else(camera)
    }

    /// The clip's own inside crop, or else its camera's.
    pub(super) fn inside_crop(&self) -> InsideCrop {
        let cameras = || self.shoot.camera_of(self.clip).and_then(|camera| camera.inside_crop);
        self.clip.inside_crop.or_else(cameras).unwrap_or_default()
    }

    /// How long each frame was exposed: by the clip's own shutter, or else its camera's.
    fn exposure_secs(&self, faults: &mut Faults<'_>) -> Option<f64> {
        /// What a rounded fraction of a second may be too long by.
        const ROUNDED: f64 = 1.001;
        let camera = || self.shoot.camera_of(self.clip).and_then(|camera| camera.shutter_secs);
        let exposure_secs = self.clip.shutter_secs.or_else(camera)?;
        let frame_secs = 1.0 / self.facts.timing.per_second();
        if exposure_secs > ROUNDED * frame_secs {
            let clip = self.clip.name.clone();
            let too_long = FaultKind::ShutterTooLong { exposure_secs, frame_secs, clip };
            faults.tell(Sheet::Shoot, self.clip.line, too_long);
        }
        Some(exposure_secs)
    }

    fn usable(&self, faults: &mut Faults<'_>) -> Option<Region> {
        let raster = self.raster;
        let Some(camera) = self.shoot.camera_of(self.clip) else {
            return Some(Region::whole(raster));
        };
        let Trim { left, top, right, bottom } = camera.trim;
        Region::trimmed(raster, left, top, right, bottom).ok().or_else(|| {
            let all = FaultKind::AllTrimmed {
                clip: self.clip.name.clone(),
                across_px: left + right,
                down_px: top + bottom,
                raster,
            };
            faults.tell_of(Sheet::Shoot, camera.trim_line, Some("trim"), all);
            None
        })
    }

    /// The frame of a row's moment, if the clip has it.
    pub(super) fn frame(&self, moment: &Moment) -> Option<Result<FrameIndex, FaultKind>> {
        let last = self.facts.whole().last();
        let in_clip = |frame| {
            if frame <= last { Ok(frame) } else { Err(FaultKind::AfterClip { frame, last }) }
        };
        Some(self.clock.frame_of(moment)?.and_then(in_clip))
    }
}

/// Marks.
impl Resolver<'_> {
    fn tracks(&self, times: &Times, faults: &mut Faults<'_>) -> Vec<Track> {
        let rows: Vec<&MarkRow> =
            self.shoot.marks.iter().filter(|row| row.clip == self.clip.name).collect();
        let marks: Vec<(Mark, u64)> =
            rows.iter().filter_map(|row| self.mark(row, faults)).collect();
        let is_whole = marks.len() == rows.len() && self.shoot.coverage.is_whole(&self.clip.name);
        let only_marks: Vec<Mark> = marks.iter().map(|(mark, _)| mark.clone()).collect();
        let tracks = tracks_from_marks(&only_marks).unwrap_or_else(|errors| {
            for error in errors {
                // That a thing has no box may only follow from a box that could not be read.
                if is_whole || !matches!(error, TrackError::OnlyGone { .. }) {
                    faults.tell(Sheet::Marks, line_of(&error, &marks), track_fault(error, &marks));
                }
            }
            Vec::new()
        });
        let tracks: Vec<Track> =
            tracks.into_iter().map(|track| track.with_cuts(&times.cuts)).collect();
        let mut keep_outs = tracks.iter().filter(|track| track.wish() == Wish::KeepOut);
        if let Some(first_over) = keep_outs.nth(MOST_KEEP_OUTS) {
            let name = first_over.name().to_owned();
            let row = marks.iter().find(|(mark, _)| mark.name == name);
            let kind = FaultKind::TooManyKeepOuts {
                name,
                clip: self.clip.name.clone(),
                count: MOST_KEEP_OUTS + 1,
                most: MOST_KEEP_OUTS,
            };
            faults.tell(Sheet::Marks, row.map_or(1, |(_, line)| *line), kind);
        }
        if is_whole && !tracks.is_empty() && self.clip.copy.is_none() {
            self.tell_ranges_without_subject(times, &tracks, faults);
        }
        tracks
    }

    fn mark(&self, row: &MarkRow, faults: &mut Faults<'_>) -> Option<(Mark, u64)> {
        let place = (Sheet::Marks, row.line, Some("frame"));
        let frame = faults.keep(place, self.frame(&row.moment));
        let region = row.region.map(|region| self.in_full_px(region));
        if let Some(kind) = region.and_then(|region| self.misplaced(region)) {
            faults.tell(Sheet::Marks, row.line, kind);
            return None;
        }
        let (name, kind) = (row.name.clone(), row.kind);
        Some((Mark { frame: frame?, name, kind, region, weight: row.weight }, row.line))
    }

    /// A marked box in px of the full clip, where it was measured on a proxy.
    fn in_full_px(&self, region: Region) -> Region {
        match self.clip.proxy {
            Some(ProxyOf { marks: MarkedIn::Proxy, .. }) => {
                let read = self.facts.raster;
                let (across, down) =
                    (self.raster.width() / read.width(), self.raster.height() / read.height());
                region.stretched(across, down)
            }
            Some(ProxyOf { marks: MarkedIn::Full, .. }) | None => region,
        }
    }

    /// What is wrong with the place of a marked box. One that hangs over the frame's edge is right: a subject
    /// that leaves does.
    fn misplaced(&self, region: Region) -> Option<FaultKind> {
        /// Nothing that is marked is larger than this many frames: a choice, to catch slips of the pen.
        const GREATEST_FRAMES: f64 = 4.0;
        let raster = self.raster;
        let (width, height) = (raster.width(), raster.height());
        if region.width() > GREATEST_FRAMES * width || region.height() > GREATEST_FRAMES * height {
            return Some(FaultKind::MarkTooLarge { region, raster, limit: GREATEST_FRAMES });
        }
        let overlaps = region.left() < width
            && region.top() < height
            && region.right() > 0.0
            && region.bottom() > 0.0;
        (!overlaps).then_some(FaultKind::MarkOutside { region, raster })
    }

    fn tell_ranges_without_subject(
        &self,
        times: &Times,
        tracks: &[Track],
        faults: &mut Faults<'_>,
    ) {
        let subjects = || tracks.iter().filter(|track| track.wish() == Wish::Subject);
        for (range, line) in &times.ranges {
            let used = range.used;
            if !subjects().any(|track| is_tracked_in(track, used)) {
                let clip = self.clip.name.clone();
                faults.tell(Sheet::Shoot, *line, FaultKind::NoSubject { used, clip });
            }
        }
    }
}

/// Whether a track has a box at some frame of a range. A stretch of boxes begins at a mark: it begins in the
/// range, or lies over its first frame.
fn is_tracked_in(track: &Track, range: FrameRange) -> bool {
    let marked = track.marked_frames().filter(|frame| range.contains(*frame));
    std::iter::once(range.first()).chain(marked).any(|frame| track.at(frame).is_some())
}

/// An error of a track as a fault of the marks file; of two marks at one frame with the line of the first.
fn track_fault(error: TrackError, marks: &[(Mark, u64)]) -> FaultKind {
    let TrackError::MarkedTwice { name, frame } = error else { return error.into() };
    let first = marks.iter().find(|(mark, _)| mark.name == name && mark.frame == frame);
    let first_line = first.map_or(1, |(_, line)| *line);
    FaultKind::MarkedTwice { name, frame, first_line }
}

/// The line of the mark that an error is about: the last one of its name at its frame.
fn line_of(error: &TrackError, marks: &[(Mark, u64)]) -> u64 {
    let (TrackError::MarkedTwice { name, frame }
    | TrackError::MixedKinds { name, frame, .. }
    | TrackError::MixedWeights { name, frame, .. }
    | TrackError::OnlyGone { name, frame }) = error;
    let of_mark = |(mark, _): &&(Mark, u64)| mark.name == *name && mark.frame == *frame;
    marks.iter().rev().find(of_mark).map_or(1, |(_, line)| *line)
}

/// Pins.
impl Resolver<'_> {
    fn pins(
        &self,
        usable: Option<Region>,
        times: &Times,
        faults: &mut Faults<'_>,
    ) -> Vec<ResolvedPin> {
        let mut first_lines = BTreeMap::new();
        let mut pins = Vec::new();
        for row in self.shoot.pins.iter().filter(|row| row.clip == self.clip.name) {
            let window =
                faults.keep((Sheet::Pins, row.line, None), self.pinned_window(row, usable));
            let place = (Sheet::Pins, row.line, Some("frame"));
            let frame = self.frame(&row.moment).map(|frame| self.used_frame(frame?, times));
            let Some(frame) = faults.keep(place, frame) else { continue };
            let (deliverable, line) = (row.deliverable.clone(), row.line);
            let first_line = *first_lines.entry((&row.deliverable, frame)).or_insert(line);
            if first_line != line {
                let twice = FaultKind::PinTwice { deliverable, frame, first_line };
                faults.tell(Sheet::Pins, line, twice);
            } else if let Some(window) = window {
                pins.push(ResolvedPin { deliverable, frame, window, line });
            }
        }
        pins
    }

    /// The window of a pin; `None` if it cannot be told because of a fault that is known already.
    fn pinned_window(
        &self,
        row: &PinRow,
        usable: Option<Region>,
    ) -> Option<Result<Window, FaultKind>> {
        let shape = self.shoot.deliverable(&row.deliverable)?.shape();
        let height = row.height.unwrap_or_else(|| shape.height_for(row.width));
        let (window, usable) = (Region::new(row.left, row.top, row.width, height)?, usable?);
        if !is_within(&window, &usable) {
            return Some(Err(FaultKind::PinOutside { window, usable }));
        }
        let size = (row.width, height);
        let level = match self.shoot.stance_of(self.clip).level {
            Some(Level::Degrees(degrees)) => Levelling::from_degrees(self.raster, degrees),
            Some(Level::Motion) | None => Ok(Levelling::none(self.raster)),
        };
        // In a levelled picture, the window of the same size about the same point of the scene.
        let levelled = level.and_then(|level| {
            if level.is_none() {
                return Window::inside(self.raster, (row.left, row.top), size);
            }
            let centre = level.levelled(window.centre());
            level.window((centre.x - size.0 / 2.0, centre.y - size.1 / 2.0), size)
        });
        Some(levelled.map_err(FaultKind::from))
    }

    /// The frame, if it is in a used range, or if not all ranges are known. In a handle the window is held and
    /// nothing can be pinned.
    fn used_frame(&self, frame: FrameIndex, times: &Times) -> Result<FrameIndex, FaultKind> {
        let ranges = &times.ranges;
        if !times.all_known || ranges.iter().any(|(range, _)| range.used.contains(frame)) {
            return Ok(frame);
        }
        let names: Vec<String> = ranges.iter().map(|(r, _)| r.used.to_string()).collect();
        let ranges = listed(names.iter().map(String::as_str));
        Err(FaultKind::PinUnused { frame, clip: self.clip.name.clone(), ranges })
    }
}

/// Whether one box lies within another, but for what sums of fractions lose.
fn is_within(inner: &Region, outer: &Region) -> bool {
    const EDGE_NOISE_PX: f64 = 1e-6;
    inner.left() >= outer.left() - EDGE_NOISE_PX
        && inner.top() >= outer.top() - EDGE_NOISE_PX
        && inner.right() <= outer.right() + EDGE_NOISE_PX
        && inner.bottom() <= outer.bottom() + EDGE_NOISE_PX
}
