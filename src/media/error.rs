use super::StillError;
use crate::{
    geometry::{GeometryError, Raster},
    process::ProcessError,
    timecode::{FrameIndex, FrameRate},
};
use std::{
    io,
    path::{Path, PathBuf},
};

/// Why footage cannot be opened, or one of its frames not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MediaError {
    /// A file or folder cannot be looked at.
    #[error("{} could not be read", path.display())]
    Unreadable {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// There is nothing at a path.
    #[error(
        "there is no {}; name a file, a folder of numbered pictures, or a pattern of their names such as frames/%05d.jpg",
        path.display()
    )]
    NothingThere {
        /// The path.
        path: PathBuf,
    },
    /// A video is a folder, a pipe or a device.
    #[error("{} is not a file; a folder of numbered pictures is a sequence, not a video", path.display())]
    NotAFile {
        /// Where the video should be.
        path: PathBuf,
    },
    /// A file holds nothing.
    #[error("{} is empty (0 bytes); copy it from the card again", path.display())]
    EmptyFile {
        /// The file.
        path: PathBuf,
    },

    /// A sequence is one file.
    #[error(
        "{} is one file; a sequence is a folder of numbered pictures, or a name with the number left open, for example frames/%05d.jpg or frames/shot_*.png",
        path.display()
    )]
    NotASequence {
        /// The file.
        path: PathBuf,
    },
    /// There is neither a folder of that name nor a number left open in it.
    #[error(
        "there is no folder {}, and the name leaves no number open as frames/%05d.jpg or frames/shot_*.png does",
        path.display()
    )]
    NoSuchSequence {
        /// The path.
        path: PathBuf,
    },
    /// A pattern's file name does not leave exactly one number open.
    #[error(
        "`{name}` must leave one number open, as %d or %05d, and write a percent sign as %%; it has {number_count}{}",
        stray.map(|found| format!(" and a stray `%{found}`")).unwrap_or_default()
    )]
    BadPattern {
        /// The file name.
        name: String,
        /// How many numbers it leaves open.
        number_count: usize,
        /// What follows a percent sign that is none of these.
        stray: Option<char>,
    },
    /// A pattern leaves a number open in the name of a folder.
    #[error("{} leaves a number open in a folder's name; only the file name may", path.display())]
    NumberInFolder {
        /// The pattern.
        path: PathBuf,
    },
    /// A glob's file name is none.
    #[error(
        "`{name}` is not understood as a name with `*`, `?` or `[0-9]` in it; write those characters as [*], [?] and [[]"
    )]
    BadGlob {
        /// The file name.
        name: String,
        /// What is wrong with it, and at which character.
        source: glob::PatternError,
    },
    /// A glob leaves the name of a folder open.
    #[error(
        "{} has `*`, `?` or `[` in a folder's name and there is no folder of that name; only the file name may have them",
        path.display()
    )]
    GlobInFolder {
        /// The glob.
        path: PathBuf,
    },
    /// The folder of the frames is not there.
    #[error("there is no folder {}; {remedy}", folder.display())]
    NoSuchFolder {
        /// The folder.
        folder: PathBuf,
        /// What was probably meant, or what to do.
        remedy: String,
    },
    /// No file has a name of the pattern.
    #[error("no file in {} has a name like {pattern}, only {}", folder.display(), listed(others, *more_count))]
    NoMatch {
        /// Where we looked.
        folder: PathBuf,
        /// The file name of the pattern.
        pattern: String,
        /// Up to five of the names in it.
        others: Vec<String>,
        /// How many names there are besides.
        more_count: usize,
    },
    /// A folder holds no pictures.
    #[error("{} holds no PNG or JPEG frames, only {}", folder.display(), listed(others, *more_count))]
    NoFramesInFolder {
        /// The folder.
        folder: PathBuf,
        /// Up to five of the other names in it.
        others: Vec<String>,
        /// How many names there are besides.
        more_count: usize,
    },
    /// A folder holds pictures, and none in a format that is read.
    #[error(
        "{} holds {format} pictures: {example}{}; only PNG and JPEG frames are read: save them as one of these",
        folder.display(),
        and_more(*more_count)
    )]
    OtherFormatInFolder {
        /// The folder.
        folder: PathBuf,
        /// The format's name.
        format: &'static str,
        /// The first of the pictures, by name.
        example: String,
        /// How many there are besides.
        more_count: u64,
    },
    /// A picture has no number in its name, so that its place is not known.
    #[error(
        "{}{} has no number that can be read in its name; a folder of frames must hold nothing but frames",
        path.display(),
        and_more(*more_count)
    )]
    NoNumber {
        /// The first such picture, by name.
        path: PathBuf,
        /// How many there are besides.
        more_count: u64,
    },
    /// Two pictures have the same number.
    #[error(
        "frame {frame} is there twice: {} and {} both have the number {number}{}; keep one sequence to a folder, or name it by a pattern",
        first.display(),
        second.file_name().unwrap_or_default().display(),
        match *more_count { 0 => String::new(), count => format!(" (and {count} more such pairs)") }
    )]
    SameNumber {
        /// The frame that both would be.
        frame: FrameIndex,
        /// One picture.
        first: PathBuf,
        /// The other.
        second: PathBuf,
        /// Their number.
        number: u64,
        /// How many pairs of the same number there are besides.
        more_count: u64,
    },
    /// A picture is missing between two others.
    #[error(
        "frame {frame} is missing: the file {} (number {number}) should be between {before} and {after}; {}",
        expected.display(),
        match *missing_count {
            1 => "it is the only one that is missing".to_owned(),
            count => format!("{count} are missing in all"),
        }
    )]
    Gap {
        /// The first frame that is missing.
        frame: FrameIndex,
        /// The file that should hold it.
        expected: PathBuf,
        /// Its number.
        number: u64,
        /// The name of the file before the gap.
        before: String,
        /// The name of the file after the gap.
        after: String,
        /// How many numbers are missing between the lowest and the highest.
        missing_count: u64,
    },
    /// A picture cannot be decoded.
    #[error(
        "frame {frame}{} is not a picture that can be read: {}",
        and_more(*more_count),
        path.display()
    )]
    BadStill {
        /// The first such frame.
        frame: FrameIndex,
        /// Its file.
        path: PathBuf,
        /// Why.
        source: StillError,
        /// How many frames there are besides; known at opening only, and 0 later.
        more_count: u64,
    },
    /// A frame has another size than the first.
    #[error(
        "frame {frame}{} is not of the clip's size: {found} where frame 0 is {expected}; save all frames at one size: {}",
        and_more(*more_count),
        path.display()
    )]
    OtherRaster {
        /// The first such frame.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
        /// Its size as displayed.
        found: Raster,
        /// The size of frame 0.
        expected: Raster,
        /// How many frames of another size than frame 0 there are besides.
        more_count: u64,
    },
    /// The pictures of a video change their size.
    #[error(
        "the picture size of {} changes: it begins with {expected}, and frame {frame} is {found}; use the frames before it, or convert the file to one size",
        path.display()
    )]
    SizeChanges {
        /// The first frame of another size.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
        /// The size of that frame, as it is stored.
        found: Raster,
        /// The size of frame 0, as it is stored.
        expected: Raster,
    },
    /// A file is a picture of a kind that is not read.
    #[error("{} cannot be read", path.display())]
    NotAPicture {
        /// The file.
        path: PathBuf,
        /// Why.
        source: StillError,
    },
    /// A frame has another size than when the clip was opened.
    #[error(
        "frame {frame} was {expected} when the clip was opened and is {found} now; keep the frames as they are until this has ended: {}",
        path.display()
    )]
    FrameChanged {
        /// The frame.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
        /// Its size as displayed, now.
        found: Raster,
        /// The clip's size.
        expected: Raster,
    },
    /// A frame's file was there when the clip was opened and is not any more.
    #[error(
        "frame {frame} has gone since the clip was opened; put it back and start again: {}",
        path.display()
    )]
    FrameGone {
        /// The frame.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
    },
    /// Pictures carry no rate, and none was given.
    #[error("pictures carry no frame rate; state the rate of {}", path.display())]
    RateMissing {
        /// The sequence.
        path: PathBuf,
    },

    /// A program that reads video is not there.
    #[error(
        "`{program}` was not found: video needs the `ffmpeg` and `ffprobe` programs on the PATH; a folder of JPEG or PNG frames works without them"
    )]
    DecoderMissing {
        /// The program.
        program: String,
    },
    /// A program that reads video is older than it has to be.
    #[error(
        "`{program}` is version {}.{}, and at least {}.{} is needed; install a newer ffmpeg",
        found.0, found.1, least.0, least.1
    )]
    DecoderTooOld {
        /// The program.
        program: String,
        /// Its version.
        found: (u32, u32),
        /// The oldest that will do.
        least: (u32, u32),
    },
    /// No file is given.
    #[error("a clip needs one video file at least")]
    NoFiles,
    /// A file is given twice for one clip.
    #[error("{} is listed twice; a clip's files follow on each other, each once", path.display())]
    FileTwice {
        /// The file.
        path: PathBuf,
    },
    /// A file was begun before the one that it is to follow.
    #[error(
        "{} begins at {other_start} and cannot follow on {}, which begins at {start}: list the files in the order in which they were recorded",
        other.display(),
        first.display()
    )]
    PartsOutOfOrder {
        /// The file that is listed earlier.
        first: PathBuf,
        /// The file that is listed later.
        other: PathBuf,
        /// The timecode of the clip so far.
        start: String,
        /// The first timecode of the later file.
        other_start: String,
    },
    /// Files of one clip are not alike.
    #[error(
        "{} and {} cannot be one clip: the {what} is {of_first} in the one and {of_other} in the other; plan them as two",
        first.display(),
        other.display()
    )]
    PartsDiffer {
        /// The earlier file.
        first: PathBuf,
        /// The later file.
        other: PathBuf,
        /// What they differ in.
        what: &'static str,
        /// That of the earlier.
        of_first: String,
        /// That of the later.
        of_other: String,
    },
    /// The probing program cannot make sense of a file.
    #[error("{} is not a video that can be read; if it should be one, copy it from the card again", path.display())]
    NotAVideo {
        /// The file.
        path: PathBuf,
        /// What the program said.
        source: ProcessError,
    },
    /// The probing program answered in an unknown form.
    #[error("`ffprobe` described {} in a way that is not understood", path.display())]
    ProbeNotUnderstood {
        /// The file.
        path: PathBuf,
        /// What is wrong with the answer.
        source: serde_json::Error,
    },
    /// There is no picture in a file.
    #[error("{} has no video stream{}", path.display(), audio_remark(*audio_count))]
    NoVideoStream {
        /// The file.
        path: PathBuf,
        /// How many streams of sound it has.
        audio_count: usize,
    },
    /// There is more than one video track, and none is named.
    #[error(
        "{} has {} video tracks ({}); say which one is meant, track 1 to {}",
        path.display(),
        tracks.len(),
        tracks.join(", "),
        tracks.len()
    )]
    SeveralVideoStreams {
        /// The file.
        path: PathBuf,
        /// Their numbers from 1, sizes and rates.
        tracks: Vec<String>,
    },
    /// There is no video track of that number.
    #[error(
        "{} has no video track {number}; its tracks are {}",
        path.display(),
        tracks.join(", ")
    )]
    NoSuchTrack {
        /// The file.
        path: PathBuf,
        /// The number that was asked for.
        number: u32,
        /// The tracks that there are: numbers from 1, sizes and rates.
        tracks: Vec<String>,
    },
    /// A file that the decoder reads and that is no clip.
    #[error(
        "{} is {kind} and no video that can be read; of pictures, only whole PNG and JPEG files are read, numbered, as a sequence",
        path.display()
    )]
    NoVideoFile {
        /// The file.
        path: PathBuf,
        /// What it is.
        kind: String,
    },
    /// A picture is larger than any camera's.
    #[error(
        "{} claims pictures of {raster}, which is more than the {limit} px that are read; it is damaged, or no camera's",
        path.display()
    )]
    TooManyPixels {
        /// The file.
        path: PathBuf,
        /// Its raster.
        raster: Raster,
        /// The most px of a picture.
        limit: u64,
    },
    /// A video's size is none that is read.
    #[error("the picture size of {} is not one that is read", path.display())]
    BadRaster {
        /// The file.
        path: PathBuf,
        /// Why.
        source: GeometryError,
    },
    /// The picture is to be shown through a matrix that is neither a quarter turn nor a mirror.
    #[error(
        "{} asks to be shown skewed or turned by an odd angle; convert it with the picture upright and without the flag",
        path.display()
    )]
    Distorted {
        /// The file.
        path: PathBuf,
    },
    /// A video stream has no frame that is shown.
    #[error("{} has a video stream without frames{}", path.display(), discard_remark(*discarded_count))]
    NoFrames {
        /// The file.
        path: PathBuf,
        /// How many frames are stored and not shown.
        discarded_count: u64,
    },
    /// Frames carry no time stamps, and no rate is declared or given.
    #[error("{} carries no time stamps and declares no rate; state its rate", path.display())]
    NoRate {
        /// The file.
        path: PathBuf,
    },
    /// A rate was given, and the frames are not evenly spaced.
    #[error(
        "{} has a variable rate (frames are {smallest_gap_ms:.1} to {largest_gap_ms:.1} ms apart) and was said to have {given} frames/s; leave the rate out, or convert the file to a constant rate first",
        path.display()
    )]
    VariableRate {
        /// The file.
        path: PathBuf,
        /// The rate that was given.
        given: FrameRate,
        /// The smallest time from a frame to the next, in milliseconds.
        smallest_gap_ms: f64,
        /// The largest.
        largest_gap_ms: f64,
    },
    /// The frames are evenly spaced, at a rate that is none.
    #[error(
        "{} has one frame every {gap_ms:.3} ms, which is outside the 1 to 1000 frames/s that are read",
        path.display()
    )]
    RateOutOfRange {
        /// The file.
        path: PathBuf,
        /// The time from a frame to the next, in milliseconds; 0 if not known.
        gap_ms: f64,
    },
    /// The rate that was given is not the footage's.
    #[error("{} has {found} frames/s and was said to have {given}; leave the rate out, or correct it", path.display())]
    OtherRate {
        /// The file.
        path: PathBuf,
        /// The footage's rate.
        found: FrameRate,
        /// The rate that was given.
        given: FrameRate,
    },
    /// Who watched the counting of frames ended it.
    #[error("the frames of {} were not counted to the end", path.display())]
    Stopped {
        /// The file.
        path: PathBuf,
    },
    /// A frame was asked for that the clip does not have.
    #[error("there is no frame {frame}: {} has {frame_count}, counted from 0", path.display())]
    NoSuchFrame {
        /// The frame.
        frame: FrameIndex,
        /// The footage.
        path: PathBuf,
        /// How many there are.
        frame_count: u64,
    },
    /// The decoder did not hand over a frame.
    #[error(
        "the decoder did not return frame {frame} of {}{}; use frames without it, or copy the file again",
        path.display(),
        quoted(last_lines)
    )]
    NotDecoded {
        /// The frame.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
        /// The decoder's last lines, oldest first; the message quotes the last.
        last_lines: Vec<String>,
    },
    /// A program that reads video could not do its work.
    #[error("{} could not be read through the decoder", path.display())]
    Decoder {
        /// The file.
        path: PathBuf,
        /// Why.
        source: ProcessError,
    },
    /// The decoder's pipe broke or held something that is no picture.
    #[error("frame {frame} of {} arrived damaged from the decoder", path.display())]
    DamagedPipe {
        /// The frame.
        frame: FrameIndex,
        /// The file.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
}

impl MediaError {
    /// Why a file or folder cannot be looked at.
    pub(super) fn unreadable(path: &Path, source: io::Error) -> Self {
        let path = path.to_owned();
        match source.kind() {
            io::ErrorKind::NotFound => Self::NothingThere { path },
            _ => Self::Unreadable { path, source },
        }
    }
}

fn listed(names: &[String], more_count: usize) -> String {
    match (names, more_count) {
        ([], _) => "nothing at all".to_owned(),
        (names, 0) => names.join(", "),
        (names, count) => format!("{} and {count} more", names.join(", ")),
    }
}

fn and_more(count: u64) -> String {
    match count {
        0 => String::new(),
        count => format!(" (and {count} more)"),
    }
}

fn audio_remark(audio_count: usize) -> String {
    match audio_count {
        0 => String::new(),
        1 => ", only a stream of sound".to_owned(),
        count => format!(", only {count} streams of sound"),
    }
}

fn discard_remark(discarded_count: u64) -> String {
    match discarded_count {
        0 => String::new(),
        count => format!("; its edit list cuts off all {count}"),
    }
}

fn quoted(last_lines: &[String]) -> String {
    last_lines.last().map_or_else(
        || " and gave no reason".to_owned(),
        |line| format!("; its last words were `{line}`"),
    )
}
