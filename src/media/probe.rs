use super::{MediaError, stamps::TimeBase};
use crate::{geometry::Raster, timecode::FrameRate};
use serde::Deserialize;
use std::{collections::BTreeMap, fmt, path::Path};

/// The entries that `ffprobe` is asked for: no more than is read below, so that odd bytes in other tags
/// cannot spoil the answer.
pub(super) const ENTRIES: &str = "stream=index,codec_type,width,height,sample_aspect_ratio,\
    field_order,r_frame_rate,avg_frame_rate,time_base,nb_frames:stream_disposition=attached_pic\
    :stream_tags=timecode,TIMECODE,rotate:stream_side_data=displaymatrix,rotation\
    :format_tags=timecode,TIMECODE";

/// How a picture is to be turned for display.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Turn {
    /// By this many degrees, clockwise.
    Degrees(i64),
    /// Mirrored.
    Mirrored,
    /// By a matrix that is neither.
    Distorted,
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Degrees(degrees) => write!(f, "a rotation flag of {degrees}° clockwise"),
            Self::Mirrored => f.write_str("a flag that mirrors the picture"),
            Self::Distorted => f.write_str("a display matrix that is no quarter turn"),
        }
    }
}

/// What `ffprobe` says about a file, as far as it is used.
#[derive(Debug)]
pub(super) struct Description {
    /// The number of the video stream among all streams.
    pub(super) stream_index: u32,
    pub(super) raster: Raster,
    pub(super) time_base: Option<TimeBase>,
    /// The rates that the file declares, the likelier first; those that are none are left out.
    pub(super) declared_rates: Vec<FrameRate>,
    pub(super) promised_frame_count: Option<u64>,
    pub(super) timecode: Option<String>,
    pub(super) is_interlaced: bool,
}

/// Reads the answer of `ffprobe -of json` with [`ENTRIES`].
///
/// # Errors
/// [`MediaError`] for an answer that is not understood, no or several video streams, and what is not read
/// yet: oblong pixels, turned pictures.
pub(super) fn describe(path: &Path, json: &[u8]) -> Result<Description, MediaError> {
    let answer: Answer = serde_json::from_str(&String::from_utf8_lossy(json))
        .map_err(|source| MediaError::ProbeNotUnderstood { path: path.to_owned(), source })?;
    let stream = answer.only_video(path)?;
    let side_px = |side: Option<u32>| side.unwrap_or(0);
    let raster = Raster::new(side_px(stream.width), side_px(stream.height))
        .map_err(|source| MediaError::BadRaster { path: path.to_owned(), source })?;
    if let Some(pixel_shape) = stream.oblong_pixels() {
        return Err(MediaError::OblongPixels { path: path.to_owned(), pixel_shape });
    }
    if let Some(turn) = stream.turn() {
        return Err(MediaError::Turned { path: path.to_owned(), turn });
    }
    let rates = [&stream.r_frame_rate, &stream.avg_frame_rate];
    let parsed = |text: &Option<String>| text.as_deref().and_then(|text| text.parse().ok());
    Ok(Description {
        stream_index: stream.index,
        raster,
        time_base: stream.time_base.as_deref().and_then(|text| text.parse().ok()),
        declared_rates: rates.into_iter().filter_map(parsed).collect(),
        promised_frame_count: stream.nb_frames.as_deref().and_then(|text| text.parse().ok()),
        timecode: answer.timecode(stream),
        is_interlaced: stream
            .field_order
            .as_deref()
            .is_some_and(|order| ["tt", "bb", "tb", "bt"].contains(&order)),
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
    tags: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct Stream {
    index: u32,
    codec_type: Option<String>,
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

impl Answer {
    /// Cover pictures do not count.
    fn only_video(&self, path: &Path) -> Result<&Stream, MediaError> {
        let is_kind = |stream: &&Stream, kind| stream.codec_type.as_deref() == Some(kind);
        let is_cover = |stream: &&Stream| stream.disposition.get("attached_pic") == Some(&1);
        let videos: Vec<&Stream> = self
            .streams
            .iter()
            .filter(|stream| is_kind(stream, "video") && !is_cover(stream))
            .collect();
        match videos.as_slice() {
            [video] => Ok(video),
            [] => Err(MediaError::NoVideoStream {
                path: path.to_owned(),
                audio_count: self.streams.iter().filter(|stream| is_kind(stream, "audio")).count(),
            }),
            several => Err(MediaError::SeveralVideoStreams {
                path: path.to_owned(),
                sizes: several.iter().map(|stream| stream.size()).collect(),
            }),
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
    fn size(&self) -> String {
        format!("{}x{}", self.width.unwrap_or(0), self.height.unwrap_or(0))
    }

    /// The pixels' shape if it is known and not square; `0:1` says that it is not known.
    fn oblong_pixels(&self) -> Option<String> {
        let shape = self.sample_aspect_ratio.as_deref()?;
        let (width, height) = shape.split_once(':')?;
        let is_unknown = width == "0" || height == "0";
        (!is_unknown && width != height).then(|| shape.to_owned())
    }

    /// How the picture is to be turned, by a display matrix or by the tag that older files have.
    fn turn(&self) -> Option<Turn> {
        let by_matrix = self.side_data_list.iter().find_map(SideData::turn);
        by_matrix.or_else(|| {
            let degrees: i64 = self.tags.get("rotate")?.trim().parse().ok()?;
            (degrees.rem_euclid(360) != 0).then(|| Turn::Degrees(degrees.rem_euclid(360)))
        })
    }
}

impl SideData {
    /// The matrix tells a mirrored picture, which the angle beside it does not.
    fn turn(&self) -> Option<Turn> {
        if let Some(matrix) = self.displaymatrix.as_deref().and_then(upper_left) {
            return turn_of(matrix);
        }
        // The angle is counted counterclockwise.
        let degrees = whole_degrees(-self.rotation?)?;
        (degrees != 0).then_some(Turn::Degrees(degrees))
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

fn turn_of(matrix: [i64; 4]) -> Option<Turn> {
    match matrix.map(i64::signum) {
        [1, 0, 0, 1] => None,
        [0, 1, -1, 0] => Some(Turn::Degrees(90)),
        [-1, 0, 0, -1] => Some(Turn::Degrees(180)),
        [0, -1, 1, 0] => Some(Turn::Degrees(270)),
        [a, b, c, d] if a * d - b * c == -1 => Some(Turn::Mirrored),
        _ => Some(Turn::Distorted),
    }
}

#[expect(clippy::cast_possible_truncation, reason = "0 to 360 fits")]
fn whole_degrees(degrees: f64) -> Option<i64> {
    degrees.is_finite().then(|| degrees.rem_euclid(360.0).round() as i64 % 360)
}

#[cfg(test)]
mod tests;
