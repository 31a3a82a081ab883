use crate::{
    capture::CaptureError,
    delivery::{Limit, LimitFault, Origin},
    geometry::{CropReading, GeometryError, Raster, Region, Shape},
    lens::LensError,
    mount::MountError,
    sharpness::Viewing,
    subject::{MarkKind, TrackError},
    timecode::{FrameIndex, FrameRange, FrameRate, RampLaw, TimecodeError},
};
use std::{io, path::PathBuf};

/// What can be wrong in a shoot file, a marks file or a pins file.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
#[expect(missing_docs, reason = "each field is in its variant's message, in full")]
pub enum FaultKind {
    /// The shoot file is not TOML here.
    #[error("this is not TOML: {cause}")]
    Syntax { cause: String },
    /// The shoot file was written for another program.
    #[error("version {found} is not read here, only version {only_read}; {}", version_remedy(*found, *only_read))]
    Version { found: u64, only_read: u64 },
    /// A named file cannot be opened.
    #[error("{} cannot be opened: {}", path.display(), reason(*cause))]
    CannotOpen { path: PathBuf, cause: io::ErrorKind },
    /// A named file is not a text.
    #[error("this is not UTF-8 text; save the file as UTF-8")]
    NotUtf8,

    /// A lens that cannot be.
    #[error(transparent)]
    Lens { source: LensError },
    /// A clip that needs the motion of its background, which nothing tells.
    #[error(
        "`{clip}` is steady or level by the motion of its background, which was not measured, and {}",
        if *is_file_named { "the motion file has no row of it" } else { "no motion file is named" }
    )]
    NoMotion { clip: String, is_file_named: bool },
    /// A clip that needs the motion of its background, which was measured before something changed.
    #[error(
        "`{clip}` is steady or level by the motion of its background, which was measured with other marks, ranges or footage"
    )]
    StaleMotion { clip: String },
    /// A clip that is levelled by a motion which tells no roll.
    #[error(
        "`{clip}` is level by motion, and no row of it has roll_degrees; add that column, or write degrees"
    )]
    NoRollMotion { clip: String },
    /// A motion from before the clip.
    #[error(
        "frame 0 has no frame before it from which the background could have moved; leave the row out, or write 0"
    )]
    MotionBeforeFirst,
    /// Two rows of motion for one frame.
    #[error("the motion to frame {frame} is already on line {first_line}; leave one out")]
    MotionTwice { frame: FrameIndex, first_line: u64 },
    /// A key is not known in its table.
    #[error("there is no key `{key}` in {table}; {}", known_or(nearest.as_deref(), known))]
    UnknownKey { key: String, table: &'static str, nearest: Option<String>, known: String },
    /// A key that must be there is not.
    #[error("{table} needs `{key}`, {remedy}")]
    Missing { key: &'static str, table: &'static str, remedy: &'static str },
    /// Two keys that exclude each other.
    #[error("{table} has both `{first}` and `{second}`; leave one of them out")]
    Both { table: &'static str, first: &'static str, second: &'static str },
    /// A value of the wrong type.
    #[error("this is {found}, expected {expected}")]
    WrongType { expected: &'static str, found: &'static str },
    /// A word that is none of those allowed.
    #[error("`{value}` is not known; write {choices}")]
    NotOneOf { value: String, choices: String },
    /// Nothing where something must be.
    #[error("this is empty, expected {expected}")]
    Empty { expected: &'static str },
    /// A text longer than any that makes sense.
    #[error("this text has {letters} characters, expected {limit} at most")]
    TooLong { letters: usize, limit: usize },
    /// A text that is no number.
    #[error(
        "`{value}` is not a number; write it in digits with a decimal point, for example 812.5"
    )]
    NotANumber { value: String },
    /// A number outside its limits.
    #[error("{value} is out of range, expected {least} to {greatest}{}{unit}", if unit.is_empty() { "" } else { " " })]
    OutOfRange { value: f64, least: f64, greatest: f64, unit: &'static str },
    /// Two measurements of one place.
    #[error(
        "sharpness is measured twice {off_centre} of the way to a corner; keep the lower, or their mean"
    )]
    MeasuredTwice { off_centre: f64 },
    /// A size of nothing.
    #[error("a box {value} px in size holds nothing, expected more than 0 px")]
    NoSize { value: f64 },
    /// A whole number that is none, or is too large to count frames with.
    #[error("`{value}` is not a whole number that frames can be counted with, from 0")]
    NotWhole { value: String },
    /// Neither a frame nor a timecode.
    #[error(
        "`{value}` is neither a frame nor a timecode; write a whole number from 0, or hh:mm:ss:ff"
    )]
    NotAMoment { value: String },

    /// A text that is no day of the calendar.
    #[error(
        "`{value}` is no date; write a day of the calendar as year-month-day, for example 2026-11-01"
    )]
    NotADate { value: String },

    /// A name that cannot be part of a file name everywhere.
    #[error(
        "`{name}` is not a name; write 1 to {longest} of the letters a to z, digits, `-`, `_` and `.`"
    )]
    BadName { name: String, longest: usize },
    /// A label that cannot be printed.
    #[error(
        "`{name}` is not a name for something marked; write at most {longest} characters in one line"
    )]
    BadLabel { name: String, longest: usize },
    /// A name that is already taken; capitals make no difference, since files are named by it.
    #[error("the {noun} name `{name}` is already used on line {first_line}; use another name")]
    DuplicateName { noun: &'static str, name: String, first_line: u64 },
    /// A name that stands for nothing.
    #[error("there is no {noun} `{name}`; {}", known_or(nearest.as_deref(), known))]
    UnknownName { noun: &'static str, name: String, nearest: Option<String>, known: String },
    /// One entry twice in a list.
    #[error("`{name}` is in this list twice; leave one out")]
    ListedTwice { name: String },
    /// A deliverable that the clip is not made for.
    #[error(
        "this clip is not delivered as `{name}`; add it to the clip's deliverables, or leave this out"
    )]
    NotDelivered { name: String },

    /// A shape, a raster or a window that is none.
    #[error(transparent)]
    Geometry {
        #[from]
        source: GeometryError,
    },
    /// A rate, a range or a timecode that is none.
    #[error(transparent)]
    Timecode {
        #[from]
        source: TimecodeError,
    },
    /// A limit that is none.
    #[error(transparent)]
    Limit {
        #[from]
        source: LimitFault,
    },
    /// A limit of the clip, set for one deliverable.
    #[error("`{}` belongs to the clip and cannot differ between deliverables; set it in [limits], [camera.limits] or [clip.limits]", limit.spec().name)]
    NotPerDeliverable { limit: Limit },
    /// Two limits in the wrong order, after layering.
    #[error("`{}` is {lower_value} ({lower_origin}) and `{}` {upper_value} ({upper_origin}){context}; the first must not be above the second", lower.spec().name, upper.spec().name)]
    LimitOrder {
        lower: Limit,
        lower_value: f64,
        lower_origin: Origin,
        upper: Limit,
        upper_value: f64,
        upper_origin: Origin,
        /// ` for CLIP as DELIVERABLE`.
        context: String,
    },
    /// Captions and buttons cover nearly everything.
    #[error("{first} and {second} block {sum} of the picture together, expected less than {limit}")]
    AllBlocked { first: &'static str, second: &'static str, sum: f64, limit: f64 },
    /// An inside crop that does not say what it is a share of.
    #[error(
        "{share} can mean three things: {}; write inside_crop = {}",
        CropReading::compared(*share),
        CropReading::choices(*share, |reading| written_crop(reading, *share))
    )]
    BareInsideCrop { share: f64 },
    /// Two used ranges share frames.
    #[error(
        "the range {used} overlaps the range {other} of line {other_line}; join them or part them"
    )]
    RangesOverlap { used: FrameRange, other: FrameRange, other_line: u64 },

    /// A text that is no exposure.
    #[error(
        "`{value}` is no exposure; write a part of a second such as \"1/100\", or seconds such as \"0.01\""
    )]
    Shutter { value: String },
    /// An exposure that is longer than from one frame to the next.
    #[error(
        "shutter is {exposure_secs} s, and the frames of `{clip}` are only {frame_secs:.6} s apart; a frame is not exposed \
         for longer than that"
    )]
    ShutterTooLong { exposure_secs: f64, frame_secs: f64, clip: String },
    /// A clip that takes its own path.
    #[error("`{clip}` is this clip itself; name the one whose path is planned")]
    CopyOfItself { clip: String },
    /// A path taken from a clip that takes it from another.
    #[error("{}", copy_of_copy(from, origin.as_deref()))]
    CopyOfCopy { from: String, origin: Option<String> },
    /// A path in a shape that the other clip is not made for.
    #[error(
        "`{from}` is not delivered as `{deliverable}` and has no path in that shape; add it to the deliverables there, or leave it out here"
    )]
    CopyUndelivered { from: String, deliverable: String },
    /// A path from or to pictures that are levelled or ridden on.
    #[error(
        "`{clip}` is levelled, or steady against the world, and its path is that of its own pictures; leave this out, and plan each clip by itself"
    )]
    CopyOfTurned { clip: String },
    /// A path from or to a clip whose frames are not evenly spaced.
    #[error(
        "`{clip}` has a variable rate, so that frames of the two clips do not match one for one; convert it to a constant rate first"
    )]
    CopyOfVariableRate { clip: String },
    /// Two clips whose frames do not match.
    #[error(
        "`{from}` has {its_rate} frames/s and this clip {rate}, so that their frames do not match; plan this clip by itself"
    )]
    CopyRateDiffers { rate: FrameRate, its_rate: FrameRate, from: String },
    /// Two clips whose px do not match.
    #[error(
        "`{from}` is {its_raster} and this clip {raster}, so that their px do not match; plan this clip by itself"
    )]
    CopyRasterDiffers { raster: Raster, its_raster: Raster, from: String },
    /// Used frames at moments that the other clip does not use.
    #[error(
        "the used range {used} lies over no used range of `{from}` ({its_ranges}), so that there is no path to take; correct the frames, or the ranges"
    )]
    CopyUnused { used: FrameRange, from: String, its_ranges: String },
    /// Used frames over several paths.
    #[error(
        "the used range {used} lies over several used ranges of `{from}` ({its_ranges}), and no path is carried from one to the next; part it with `ranges` or `cuts` as they are"
    )]
    CopyOfSeveral { used: FrameRange, from: String, its_ranges: String },
    /// A pin of a clip that takes the path of another.
    #[error("`{clip}` takes its path from `{from}`; pin that clip, or plan this one by itself")]
    PinOfCopy { clip: String, from: String },
    /// A clause that no delivered picture is wide enough for.
    #[error(
        "one thing cannot be {least_px} px wide in `{deliverable}`, which is {raster}: within the clause's margin there are {most_px:.1} px; ask for less, or name the `deliverables` that it is for"
    )]
    ClauseTooLarge { least_px: f64, deliverable: String, raster: Raster, most_px: f64 },
    /// A clause for what none of its clips is made for.
    #[error(
        "none of the clips of this clause is delivered as `{deliverable}`; leave it out, or add it to their deliverables"
    )]
    ClauseUndelivered { deliverable: String },
    /// A clause for a clip in which its thing is not marked.
    #[error("`{clip}` has no keep-in `{keep_in}`; mark it there, or leave the clip out")]
    ClauseUnmarked { clip: String, keep_in: String },
    /// A clause on what is marked, but not as a keep-in.
    #[error(
        "`{name}` is marked as a {kind} on line {line} of the marks file, and a clause is on a keep-in; mark it as one"
    )]
    NotAKeepIn { name: String, kind: MarkKind, line: u64 },
    /// A cut before which there is nothing.
    #[error("frame 0 is the clip's first, and there is nothing to cut it from; leave it out")]
    CutAtStart,
    /// One cut twice.
    #[error("the cut before frame {frame} is already written on line {first_line}; leave one out")]
    CutTwice { frame: FrameIndex, first_line: u64 },
    /// A ramp with another number of ends than two.
    #[error(
        "a ramp has a speed at its start and one at its end, and here are {found}; write two, such as [1.0, 0.25]"
    )]
    NotTwoSpeeds { found: usize },
    /// A law of a speed that does not change.
    #[error("a constant speed has no law; leave it out, or write two speeds, such as [1.0, 0.25]")]
    LawWithoutRamp,
    /// A ramp that does not say what changes evenly in it.
    #[error(
        "the ramp from {from} to {to} over frames {frames} can be two things: law = \"{}\" makes it {:.2} timeline \
         frames long, law = \"{}\" {:.2}; write the one that the editor uses",
        RampLaw::LinearInSource, lengths[0], RampLaw::LinearInTimeline, lengths[1]
    )]
    RampWithoutLaw { from: f64, to: f64, frames: FrameRange, lengths: [f64; 2] },
    /// Two ways to say how fast a clip is played.
    #[error(
        "speeds are shares of real time, and play = \"every-frame\" is none; leave `play` out and write a speed of \
         timeline rate / capture rate where each frame is one of the timeline"
    )]
    RetimedEveryFrame,
    /// Retimes of a clip whose frames are not evenly spaced.
    #[error(
        "`{clip}` has a variable rate, and retimes count evenly spaced source frames; convert it to a constant rate first, and plan the converted file"
    )]
    RetimedVariableRate { clip: String },

    /// A must-have that asks for nothing.
    #[error(
        "this must-have asks for nothing; write enlargement, spare_across, spare_down, slow_motion or way_up"
    )]
    MustOfNothing,
    /// A figure of a camera that cannot be.
    #[error(transparent)]
    Capture { source: CaptureError },
    /// A mount that cannot be.
    #[error(transparent)]
    Mount { source: MountError },
    /// More distances than are looked at.
    #[error("here are {found} distances, and at most {most} are looked at: near, middle and far")]
    TooManyDistances { found: usize, most: usize },
    /// A text that is no time of the day.
    #[error("`{value}` is no time of the day; write hours and minutes, for example \"10:00\"")]
    NotAClockTime { value: String },
    /// A mount of a mode that the kit does not have.
    #[error("there is no mode `{mode}` in the kit; {}", known_or(nearest.as_deref(), known))]
    UnknownMode { mode: String, nearest: Option<String>, known: String },
    /// A mount of a mode whose name several cameras of the kit have.
    #[error(
        "several cameras of the kit have a mode `{mode}`; write which, camera and mode: {titles}"
    )]
    ModeOfSeveral { mode: String, titles: String },
    /// A mount of a mode whose field of view nobody told.
    #[error(
        "the mode `{mode}` has no field of view in the kit; write fov_degrees and fov_along there, or name a `camera` that has a lens"
    )]
    NoFieldOfView { mode: String },
    /// A screen of no size, or at no distance.
    #[error(
        "a screen {width} wide is not seen from {distance}; write both in one unit, the distance {} to {} screen widths",
        Viewing::LIMITS_WIDTHS.0,
        Viewing::LIMITS_WIDTHS.1
    )]
    NoScreen { width: f64, distance: f64 },
    /// More parts of a rig than are tried.
    #[error(
        "here are {found} parts of the rig, expected {most} at most; put those that touch into one box"
    )]
    TooManyRigParts { found: usize, most: usize },
    /// Cameras that all have to be mounted in two ways at once.
    #[error(
        "way_up is `{second}` here and `{first}` in another [[must]], and both cannot be; leave one out, or write way_up of each [[mount]]"
    )]
    WaysUp { first: String, second: String },
    /// Something that says what a figure is of, without the figure.
    #[error("{says} is written and {figure} is not; write both, or leave both empty")]
    KitOfNothing { says: &'static str, figure: &'static str },
    /// A kit without a mode.
    #[error("there is no capture mode in it; write one a row, from the camera's manual")]
    NoModes,
    /// One mode twice.
    #[error("the mode `{mode}` is already on line {first_line}; give one of them another name")]
    ModeTwice { mode: String, first_line: u64 },
    /// An inside crop in a kit that does not say what it is a share of.
    #[error(
        "{share} can mean three things: {}; write side, width or area as inside_crop_of",
        CropReading::compared(*share)
    )]
    KitCropOfWhat { share: f64 },
    /// A field of view in a kit that does not say what it is measured along.
    #[error(
        "{value} degrees can be measured in three ways; write horizontal, vertical or diagonal, as the manual says, or measure it by tape"
    )]
    KitFieldAlongWhat { value: String },
    /// The first row names none of the columns.
    #[error("the first row names no known column; it must name {expected}")]
    NoHeader { expected: String },
    /// The cells are not parted by commas.
    #[error(
        "the cells are parted by {separator}; part them by commas, and write numbers with a decimal point"
    )]
    Separator { separator: &'static str },
    /// A column that is not known.
    #[error("there is no column `{column}`; {}", known_or(nearest.as_deref(), known))]
    UnknownColumn { column: String, nearest: Option<String>, known: String },
    /// A column that must be there is not.
    #[error("there is no column `{column}`; name it in the first row")]
    MissingColumn { column: &'static str },
    /// A column twice.
    #[error("the column `{column}` is named twice; leave one out")]
    ColumnTwice { column: String },
    /// A row with too few or too many cells.
    #[error(
        "this row has {found} cells, expected {expected} as in the first row; write numbers with a decimal point, and a text with a comma in quotes"
    )]
    CellCount { found: usize, expected: usize },
    /// A line end that is none.
    #[error(
        "this line holds a carriage return without a line feed; save the file with ordinary line ends"
    )]
    LoneReturn,
    /// A quote that does not end in its line.
    #[error("a quote is opened and not closed in this line")]
    OpenQuote,
    /// A mark of something that is not the subject, without a name.
    #[error("a {kind} needs a name of its own, to be told from the subject")]
    Nameless { kind: MarkKind },
    /// A clip that nobody marked.
    #[error("`{clip}` has no marks at all; mark its subject at two frames at least")]
    NoMarks { clip: String },
    /// A pin of another shape than its deliverable.
    #[error(
        "a window {width_px} px wide is {expected_px} px high at {shape}, not {height_px}; leave the height out, or come within {tolerance_px} px"
    )]
    PinShape { width_px: f64, height_px: f64, expected_px: f64, shape: Shape, tolerance_px: f64 },

    /// A track's number is none.
    #[error("{number} is no track; they are counted from 1")]
    NoTrackNumber { number: u64 },
    /// A track of pictures.
    #[error("numbered pictures have no tracks; leave it out")]
    TrackOfPictures,
    /// A turn that is not by quarters.
    #[error(
        "{degrees} is no quarter turn; write 0, 90, 180 or 270: degrees clockwise that bring the picture upright"
    )]
    NoQuarterTurn { degrees: u64 },
    /// A proxy that is no smaller copy of the whole frame.
    #[error(
        "the footage as it is shown is {proxy} ({}) and cannot be a proxy of {full} ({}): a proxy shows the whole frame, smaller, to within 2 px",
        proxy.shape(),
        full.shape()
    )]
    NotAProxy { proxy: Raster, full: Raster },
    /// A timecode of a clip whose rate is variable.
    #[error(
        "`{timecode}` cannot be found in `{clip}`, whose rate is variable: timecode counts at a constant one; write the frame's number"
    )]
    TimecodeOfVariableRate { timecode: String, clip: String },
    /// The footage has no frame.
    #[error("the footage of `{clip}` has no frame")]
    NoFrames { clip: String },
    /// The shoot file gives another rate than the footage.
    #[error("the rate is {written} here and {found} in the footage; leave it out, or correct it")]
    RateDiffers { written: FrameRate, found: FrameRate },
    /// A timecode without a first one to count from.
    #[error(
        "`{timecode}` cannot be found in `{clip}`, whose first timecode is not known; set start_timecode, or write the frame's number"
    )]
    NoStartTimecode { timecode: String, clip: String },
    /// A timecode that counts otherwise than the clip.
    #[error(
        "`{timecode}` and the first timecode {start} do not both count in drop frame; write `;` before the frames of both, or of none"
    )]
    CountingDiffers { timecode: String, start: String },
    /// A timecode before the clip's first one, or after its last.
    #[error("the timecode {timecode} is outside the clip, which goes from {start} to {last}")]
    OutsideTimecodes { timecode: String, start: String, last: String },
    /// A frame that the clip does not have.
    #[error("frame {frame} is after the clip's last frame, {last}")]
    AfterClip { frame: FrameIndex, last: FrameIndex },
    /// A range that ends after the clip.
    #[error(
        "the range ends before frame {end}, and the clip has {frame_count} frames; end it at {frame_count} at most"
    )]
    RangeAfterClip { end: FrameIndex, frame_count: u64 },
    /// Trimmed edges that leave nothing.
    #[error(
        "trimming {across_px} px across and {down_px} px down leaves nothing of the {raster} frame of `{clip}`; trim opposite \
         edges by less than its width and its height together"
    )]
    AllTrimmed { clip: String, across_px: f64, down_px: f64, raster: Raster },
    /// A mark beside the picture.
    #[error(
        "the box {} is wholly outside the {raster} frame; mark what is seen, or mark it gone",
        boxed(region)
    )]
    MarkOutside { region: Region, raster: Raster },
    /// A mark beyond all measure.
    #[error(
        "the box {} is more than {limit} times the {raster} frame; check its numbers",
        boxed(region)
    )]
    MarkTooLarge { region: Region, raster: Raster, limit: f64 },
    /// Two marks of one thing at one frame.
    #[error(
        "`{name}` is already marked at frame {frame}, on line {first_line}; leave one of them out"
    )]
    MarkedTwice { name: String, frame: FrameIndex, first_line: u64 },
    /// Marks that make no track.
    #[error(transparent)]
    Track {
        #[from]
        source: TrackError,
    },
    /// More things to keep out than ways round them can be tried.
    #[error(
        "`{name}` is the {count}th thing to be kept out of {clip}, and at most {most} can be; mark things that lie together as \
         one, or trim the edge where they are"
    )]
    TooManyKeepOuts { name: String, clip: String, count: usize, most: usize },
    /// A used range without a subject.
    #[error(
        "no subject is marked in the used range {used} of {clip}; mark a box at two frames at least"
    )]
    NoSubject { used: FrameRange, clip: String },
    /// A pinned window that is not inside the usable area.
    #[error(
        "the window {} is not inside the usable area {}; move it or make it smaller",
        boxed(window),
        boxed(usable)
    )]
    PinOutside { window: Region, usable: Region },
    /// Two pins of one deliverable at one frame.
    #[error(
        "`{deliverable}` is already pinned at frame {frame} on line {first_line}; leave one out"
    )]
    PinTwice { deliverable: String, frame: FrameIndex, first_line: u64 },
    /// A pin at a frame that is not used.
    #[error(
        "frame {frame} is in no used range of `{clip}` ({ranges}); in handles the window is held: move the pin, or use the frame"
    )]
    PinUnused { frame: FrameIndex, clip: String, ranges: String },
}

impl FaultKind {
    /// A mode that is not in a kit, with the one that was probably meant.
    #[must_use]
    pub fn unknown_mode<'n>(mode: &str, known: impl Iterator<Item = &'n str> + Clone) -> Self {
        Self::UnknownMode {
            mode: mode.to_owned(),
            nearest: super::names::nearest(mode, known.clone()).map(str::to_owned),
            known: super::names::listed(known),
        }
    }
}

fn copy_of_copy(from: &str, origin: Option<&str>) -> String {
    match origin {
        Some(origin) => format!(
            "the path of `{from}` is itself taken from another clip; take it from `{origin}`, where it is planned, and count frames and px from there"
        ),
        None => format!(
            "`{from}` takes its path from this clip in its turn, so that nothing is planned; leave it out of one of them"
        ),
    }
}

fn known_or(nearest: Option<&str>, known: &str) -> String {
    match nearest {
        Some(nearest) => format!("did you mean `{nearest}`?"),
        None if known.is_empty() => "there are none".to_owned(),
        None => format!("there are {known}"),
    }
}

const fn version_remedy(found: u64, only_read: u64) -> &'static str {
    if found > only_read { "a newer program reads it" } else { "there was none before it" }
}

const fn reason(cause: io::ErrorKind) -> &'static str {
    match cause {
        io::ErrorKind::NotFound => "there is no such file",
        io::ErrorKind::PermissionDenied => "reading it is not permitted",
        io::ErrorKind::IsADirectory => "it is a folder",
        _ => "it cannot be read",
    }
}

/// An inside crop as the shoot file has it.
fn written_crop(reading: CropReading, share: f64) -> String {
    format!("{{ {} = {share} }}", reading.name().replace('-', "_"))
}

fn boxed(region: &Region) -> String {
    let (left, top) = (region.left(), region.top());
    format!("{} x {} px at {left},{top}", region.width(), region.height())
}
