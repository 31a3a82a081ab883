use super::{MediaError, stamps::TimeBase};
use crate::{
    geometry::{Orientation, QuarterTurn, Raster},
    picture::{Coding, Levels, Matrix},
    timecode::FrameRate,
};
use serde::Deserialize;
use std::{collections::BTreeMap, path::Path};

/// The entries that `ffprobe` is asked for: no more than is read below, so that odd bytes in other tags
/// cannot spoil the answer.
pub(super) const ENTRIES: &str = "stream=index,codec_type,codec_name,width,height,\
    sample_aspect_ratio,pix_fmt,bits_per_raw_sample,color_range,color_space,color_transfer,field_order,r_frame_rate,\
    avg_frame_rate,time_base,bit_rate,nb_frames:stream_disposition=attached_pic\
    :stream_tags=timecode,TIMECODE,rotate:stream_side_data=displaymatrix,rotation\
    :format=format_name,bit_rate:format_tags=timecode,TIMECODE";

/// What `ffprobe` says about a file, as far as it is used.
#[derive(Debug)]
pub(super) struct Description {
    /// The number of the video stream among all streams.
    pub(super) stream_index: u32,
    /// The name of the coding.
    pub(super) coding: String,
    /// How samples lie in a picture, in the decoder's words: `yuv420p10le`.
    pub(super) pixel_format: String,
    pub(super) bit_depth: Option<u32>,
    /// How luma and two colours stand for red, green and blue, where samples are those.
    pub(super) coding_of_colours: Option<Coding>,
    pub(super) is_hdr: bool,
    /// The raster as it is stored.
    pub(super) raster: Raster,
    /// Width to height of a stored pixel.
    pub(super) pixel_shape: (u32, u32),
    /// How the file says that its pictures are to be shown.
    pub(super) flag: Orientation,
    pub(super) time_base: Option<TimeBase>,
    /// The rates that the file declares, the likelier first; those that are none are left out.
    pub(super) declared_rates: Vec<FrameRate>,
    pub(super) promised_frame_count: Option<u64>,
    /// Bits per second that the stream declares; that of the whole file if it does not and is alone in it.
    pub(super) declared_bit_rate: Option<f64>,
    pub(super) timecode: Option<String>,
    pub(super) is_interlaced: bool,
    /// Whether the container has an index of the pictures at which decoding can begin.
    pub(super) is_indexed: bool,
    /// Whether that index has the stamps of every packet, so that no picture has to be decoded to know them.
    pub(super) has_all_stamps: bool,
    pub(super) video_tracks: usize,
    pub(super) audio_tracks: usize,
}

/// Reads the answer of `ffprobe -of json` with [`ENTRIES`]; of several video tracks, that of this number.
///
/// # Errors
/// [`MediaError`] for an answer that is not understood, a kind of file that is none, no video track or
/// several of which none is named, and a display matrix that is no quarter turn.
pub(super) fn describe(
    path: &Path,
    track: Option<u32>,
    json: &[u8],
) -> Result<Description, MediaError> {
    let answer: Answer = serde_json::from_str(&String::from_utf8_lossy(json))
        .map_err(|source| MediaError::ProbeNotUnderstood { path: path.to_owned(), source })?;
    if let Some(kind) = answer.format.no_video() {
        return Err(MediaError::NoVideoFile { path: path.to_owned(), kind });
    }
    let stream = answer.track(path, track)?;
    let side_px = |side: Option<u32>| side.unwrap_or(0);
    let raster = Raster::new(side_px(stream.width), side_px(stream.height))
        .map_err(|source| MediaError::BadRaster { path: path.to_owned(), source })?;
    let flag = stream.flag().ok_or_else(|| MediaError::Distorted { path: path.to_owned() })?;
    let rates = [&stream.r_frame_rate, &stream.avg_frame_rate];
    let parsed = |text: &Option<String>| text.as_deref().and_then(|text| text.parse().ok());
    let bits = |text: &Option<String>| -> Option<f64> { text.as_deref()?.parse().ok() };
    let is_alone = answer.streams.len() == 1;
    Ok(Description {
        stream_index: stream.index,
        coding: stream.codec_name.clone().unwrap_or_default(),
        pixel_format: stream.pix_fmt.clone().unwrap_or_default(),
        bit_depth: stream.bit_depth(),
        coding_of_colours: stream.coding_of_colours(),
        is_hdr: stream
            .color_transfer
            .as_deref()
            .is_some_and(|transfer| ["smpte2084", "arib-std-b67"].contains(&transfer)),
        raster,
        pixel_shape: stream.pixel_shape(),
        flag,
        time_base: stream.time_base.as_deref().and_then(|text| text.parse().ok()),
        declared_rates: rates.into_iter().filter_map(parsed).collect(),
        promised_frame_count: stream.nb_frames.as_deref().and_then(|text| text.parse().ok()),
        declared_bit_rate: bits(&stream.bit_rate)
            .or_else(|| bits(&answer.format.bit_rate).filter(|_| is_alone)),
        timecode: answer.timecode(stream),
        is_interlaced: stream
            .field_order
            .as_deref()
            .is_some_and(|order| ["tt", "bb", "tb", "bt"].contains(&order)),
        is_indexed: answer.format.is_indexed(),
        has_all_stamps: answer.format.is_any(&["mov", "mp4"]),
        video_tracks: answer.videos().len(),
        audio_tracks: answer.audio_count(),
    })
}

#[derive(Debug, Deserialize)]
struct Answer {
    #[serde(default)]
    streams: Vec<Stream>,
    #[serde(default)]
    format: Format,
}

#[derive(Debug, Default, Deserialize)]
struct Format {
    #[serde(default)]
    format_name: String,
    bit_rate: Option<String>,
    #[serde(default)]
    tags: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct Stream {
    index: u32,
    codec_type: Option<String>,
    codec_name: Option<String>,
    pix_fmt: Option<String>,
    bits_per_raw_sample: Option<String>,
    color_range: Option<String>,
    color_space: Option<String>,
    color_transfer: Option<String>,
    bit_rate: Option<String>,
    width: Option<u32>,
    height: Option<u32>,
    sample_aspect_ratio: Option<String>,
    field_order: Option<String>,
    r_frame_rate: Option<String>,
    avg_frame_rate: Option<String>,
    time_base: Option<String>,
    nb_frames: Option<String>,
    #[serde(default)]
    disposition: BTreeMap<String, i64>,
    #[serde(default)]
    tags: BTreeMap<String, String>,
    #[serde(default)]
    side_data_list: Vec<SideData>,
}

#[derive(Debug, Deserialize)]
struct SideData {
    displaymatrix: Option<String>,
    rotation: Option<f64>,
}

impl Format {
    /// Other containers are entered by searching, which may end inside a group of pictures.
    fn is_indexed(&self) -> bool {
        self.is_any(&["mov", "mp4", "matroska", "webm"])
    }

    fn is_any(&self, names: &[&str]) -> bool {
        self.format_name.split(',').any(|name| names.contains(&name))
    }

    /// What a file is that the decoder would read and that is no clip: a picture, a playlist, a text.
    fn no_video(&self) -> Option<String> {
        /// The decoder's names of readers of such files.
        const NONE: [(&str, &str); 7] = [
            ("_pipe", "a picture"),
            ("image2", "a picture"),
            ("ico", "a picture"),
            ("hls", "a playlist"),
            ("concat", "a playlist"),
            ("dash", "a playlist"),
            ("tty", "a text"),
        ];
        let name = &self.format_name;
        NONE.into_iter()
            .find(|(reader, _)| {
                name == reader || (reader.starts_with('_') && name.ends_with(reader))
            })
            .map(|(_, kind)| kind.to_owned())
    }
}

impl Answer {
    /// The video tracks. Cover pictures do not count.
    fn videos(&self) -> Vec<&Stream> {
        let is_cover = |stream: &&Stream| stream.disposition.get("attached_pic") == Some(&1);
        self.streams.iter().filter(|stream| stream.is("video") && !is_cover(stream)).collect()
    }

    fn audio_count(&self) -> usize {
        self.streams.iter().filter(|stream| stream.is("audio")).count()
    }

    /// The video track of a number from 1, or the only one.
    fn track(&self, path: &Path, number: Option<u32>) -> Result<&Stream, MediaError> {
        let videos = self.videos();
        let path = path.to_owned();
        let tracks = || {
            let described =
                |(place, stream): (usize, &&Stream)| format!("{}: {}", place + 1, stream.looks());
            videos.iter().enumerate().map(described).collect()
        };
        match (videos.as_slice(), number) {
            ([], _) => Err(MediaError::NoVideoStream { path, audio_count: self.audio_count() }),
            ([video], None | Some(1)) => Ok(video),
            (several, Some(number)) => usize::try_from(number)
                .ok()
                .and_then(|number| several.get(number.checked_sub(1)?).copied())
                .ok_or_else(|| MediaError::NoSuchTrack { path, number, tracks: tracks() }),
            (_, None) => Err(MediaError::SeveralVideoStreams { path, tracks: tracks() }),
        }
    }

    /// The picture's own timecode, else the file's, else that of a timecode stream.
    fn timecode(&self, video: &Stream) -> Option<String> {
        let others = self.streams.iter().map(|stream| &stream.tags);
        let mut places = [&video.tags, &self.format.tags].into_iter().chain(others);
        places.find_map(|tags| tags.get("timecode").or_else(|| tags.get("TIMECODE"))).cloned()
    }
}

impl Stream {
    fn is(&self, kind: &str) -> bool {
        self.codec_type.as_deref() == Some(kind)
    }

    /// What tells it from another track of the file.
    fn looks(&self) -> String {
        let size = format!("{}x{}", self.width.unwrap_or(0), self.height.unwrap_or(0));
        let rate = self.r_frame_rate.as_deref().and_then(|text| text.parse::<FrameRate>().ok());
        rate.map_or_else(|| size.clone(), |rate| format!("{size} at {rate}"))
    }

    /// The pixels' shape in lowest terms; `0:1` says that it is not known, and most likely square.
    fn pixel_shape(&self) -> (u32, u32) {
        let read = || {
            let (width, height) = self.sample_aspect_ratio.as_deref()?.split_once(':')?;
            let (width, height) = (width.parse::<u32>().ok()?, height.parse::<u32>().ok()?);
            (width > 0 && height > 0 && width != height).then_some((width, height))
        };
        read().unwrap_or((1, 1))
    }

    /// Bits of a sample: as told, or as the pixel format's name ends (`yuv420p10le`); 8 for a plain name.
    fn bit_depth(&self) -> Option<u32> {
        let told = || self.bits_per_raw_sample.as_deref()?.parse().ok();
        let named = || {
            let name = self.pix_fmt.as_deref()?;
            let bare = name.trim_end_matches("le").trim_end_matches("be");
            let behind = bare.rfind('p').map_or("", |at| &bare[at + 1..]);
            let is_planar = bare.starts_with("yuv") || bare.starts_with("gbr");
            is_planar.then(|| behind.parse().unwrap_or(8))
        };
        told().filter(|bits| *bits > 0).or_else(named)
    }

    /// How luma and two colours stand for red, green and blue; what is not told is what the decoder takes it for. `None` where
    /// they stand for them in another way, which the decoder then reckons.
    fn coding_of_colours(&self) -> Option<Coding> {
        let format = self.pix_fmt.as_deref().filter(|format| format.starts_with("yuv"))?;
        let is_full = format.starts_with("yuvj") || self.color_range.as_deref() == Some("pc");
        let levels = if is_full { Levels::Full } else { Levels::Limited };
        let matrix = match self.color_space.as_deref() {
            Some("bt709") => Matrix::Bt709,
            Some("bt2020nc" | "bt2020c") => Matrix::Bt2020,
            None | Some("unknown" | "smpte170m" | "bt470bg") => Matrix::Bt601,
            Some(_) => return None,
        };
        Some(Coding { levels, matrix })
    }

    /// How the picture is to be shown, by a display matrix or by the tag that older files have; `None` for a
    /// matrix that is no quarter turn.
    fn flag(&self) -> Option<Orientation> {
        if let Some(side) = self.side_data_list.iter().find(|side| side.is_flag()) {
            return side.flag();
        }
        let degrees = match self.tags.get("rotate") {
            Some(tag) => whole_degrees(tag.trim().parse().ok()?)?,
            None => 0,
        };
        QuarterTurn::of_degrees(degrees).map(|turn| Orientation { turn, is_mirrored: false })
    }
}

impl SideData {
    const fn is_flag(&self) -> bool {
        self.displaymatrix.is_some() || self.rotation.is_some()
    }

    /// The matrix tells a mirrored picture, which the angle beside it does not.
    fn flag(&self) -> Option<Orientation> {
        if let Some(matrix) = self.displaymatrix.as_deref().and_then(upper_left) {
            return flag_of(matrix);
        }
        // The angle is counted counterclockwise.
        let degrees = whole_degrees(-self.rotation?)?;
        QuarterTurn::of_degrees(degrees).map(|turn| Orientation { turn, is_mirrored: false })
    }
}

/// The four numbers that turn and scale: `a b` and `c d` of the first two rows, each behind its row number
/// (`00000000:  65536  0  0`).
fn upper_left(text: &str) -> Option<[i64; 4]> {
    let mut rows = text.lines().map(str::trim).filter(|line| !line.is_empty()).map(|line| {
        let mut numbers = line.split_once(':')?.1.split_whitespace().map(str::parse::<i64>);
        Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
    });
    let ((a, b), (c, d)) = (rows.next()??, rows.next()??);
    Some([a, b, c, d])
}

/// The quarter turn and mirror of a matrix that a point, as a row, is multiplied with. One of nothing but
/// zeros turns nothing and is passed over.
fn flag_of(matrix: [i64; 4]) -> Option<Orientation> {
    let (turn, is_mirrored) = match matrix.map(i64::signum) {
        [1, 0, 0, 1] | [0, 0, 0, 0] => (QuarterTurn::None, false),
        [0, 1, -1, 0] => (QuarterTurn::Clockwise, false),
        [-1, 0, 0, -1] => (QuarterTurn::Half, false),
        [0, -1, 1, 0] => (QuarterTurn::Counterclockwise, false),
        [-1, 0, 0, 1] => (QuarterTurn::None, true),
        [0, 1, 1, 0] => (QuarterTurn::Clockwise, true),
        [1, 0, 0, -1] => (QuarterTurn::Half, true),
        [0, -1, -1, 0] => (QuarterTurn::Counterclockwise, true),
        _ => return None,
    };
    Some(Orientation { turn, is_mirrored })
}

#[expect(clippy::cast_possible_truncation, reason = "0 to 360 fits")]
fn whole_degrees(degrees: f64) -> Option<i64> {
    degrees.is_finite().then(|| degrees.rem_euclid(360.0).round() as i64 % 360)
}

#[cfg(test)]
mod tests;
