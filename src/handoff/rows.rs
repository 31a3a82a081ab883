use super::HandoffError;
use crate::{
    geometry::{OutputFromSource, Raster, Window},
    keyframe::{Columns, PX_DIGITS, SCALE_DIGITS, ToNext},
    plan::{ClipPlan, Entry, PlannedSegment, Segment},
    timecode::FrameIndex,
};
use std::io::Write;

/// The columns of both tables, in order.
pub const COLUMN_NAMES: [&str; 27] = [
    "segment",
    "part",
    "frame",
    "source_seconds",
    "source_timecode",
    "timeline_seconds",
    "timeline_frame",
    "rotation_degrees",
    "left_px",
    "top_px",
    "width_px",
    "height_px",
    "centre_x_px",
    "centre_y_px",
    "scale_x",
    "scale_y",
    "offset_x_delivered_px",
    "offset_y_delivered_px",
    "offset_x_fraction",
    "offset_y_fraction",
    "scale_from_fit",
    "tracked",
    "pinned",
    "to_next",
    "file",
    "file_frame",
    "conventions",
];

/// Decimals of a corner and a size in the table of every frame. A subject that is outside by a ten-thousandth of a px
/// costs more than a millionth of what most paths cost; a billionth does not.
pub(super) const CORNER_DIGITS: usize = 9;

/// Decimals of a time in seconds: a microsecond is below a thousandth of a frame at any rate.
const SECONDS_DIGITS: usize = 6;

/// Decimals of a time in timeline frames: as fine as a microsecond at any rate up to 100 frames/s.
const FRAME_DIGITS: usize = 4;
/// Decimals of a rotation in degrees: a millionth moves the corner of an 8K frame by less than 0.0001 px.
const ROTATION_DIGITS: usize = 6;

/// Decimals of an offset as a fraction of the delivered size: 1e-8 of 7680 px is below 0.0001 px.
const FRACTION_DIGITS: usize = 8;

/// One clip in one deliverable, as hand-off files need it.
#[derive(Debug, Clone, Copy)]
pub struct HandoffEntry<'a> {
    /// The clip.
    pub clip: &'a ClipPlan,
    /// The clip's entry for the deliverable.
    pub entry: &'a Entry,
    /// The delivered raster.
    pub delivered: Raster,
    /// The name of the file that holds the conventions.
    pub conventions_file: &'a str,
}

/// Writes a row for every frame of every planned segment, handles included.
///
/// # Errors
/// If the writer fails.
pub fn write_every_frame(handoff: &HandoffEntry<'_>, out: impl Write) -> Result<(), HandoffError> {
    let corner = |window: &Window| {
        [window.left(), window.top(), window.width(), window.height()]
            .map(|px| number(px, CORNER_DIGITS))
    };
    write_table(handoff, out, corner, |_, _| Some(ToNext::Straight))
}

/// Writes a row for every key of every planned segment; the first and the last frame, handles included, are
/// always keys.
///
/// # Errors
/// If the writer fails.
pub fn write_keys(handoff: &HandoffEntry<'_>, out: impl Write) -> Result<(), HandoffError> {
    let corner = |window: &Window| {
        let columns = Columns::of(window, handoff.clip.raster, handoff.delivered);
        [columns.left, columns.top, columns.width, columns.height].map(|px| number(px, PX_DIGITS))
    };
    write_table(handoff, out, corner, |planned, frame| {
        let key = planned.keys.binary_search(&frame).ok()?;
        planned.to_next.get(key).copied()
    })
}

fn write_table(
    handoff: &HandoffEntry<'_>,
    out: impl Write,
    corner: impl Fn(&Window) -> [String; 4],
    to_next: impl Fn(&PlannedSegment, FrameIndex) -> Option<ToNext>,
) -> Result<(), HandoffError> {
    let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(out);
    table.write_record(COLUMN_NAMES)?;
    for segment in &handoff.entry.segments {
        let Some(planned) = segment.planned() else { continue };
        for (place, (frame, window)) in
            segment.with_handles.frames().zip(&planned.windows).enumerate()
        {
            if let Some(to_next) = to_next(planned, frame) {
                let corner = (window, corner(window));
                table.write_record(row(handoff, segment, (planned, to_next), (place, corner)))?;
            }
        }
    }
    table.flush()?;
    Ok(())
}

fn row(
    handoff: &HandoffEntry<'_>,
    segment: &Segment,
    (planned, to_next): (&PlannedSegment, ToNext),
    (place, (window, [left, top, width, height])): (usize, (&Window, [String; 4])),
) -> Vec<String> {
    let (clip, delivered) = (handoff.clip, handoff.delivered);
    let frame = segment.with_handles.frame_at(place);
    let columns = Columns::of(window, clip.raster, delivered);
    let map = OutputFromSource::upright(clip.raster, window, delivered);
    let px = |value: f64| number(value, PX_DIGITS);
    let scale = |value: f64| number(value, SCALE_DIGITS);
    let yes_no = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
    let (file, file_frame) = clip
        .parts
        .iter()
        .find(|part| part.frames.contains(frame))
        .map(|part| (part.file.clone(), (frame.0 - part.frames.first().0).to_string()))
        .unwrap_or_default();
    vec![
        segment.number.to_string(),
        if segment.used.contains(frame) { "used" } else { "handle" }.to_owned(),
        frame.to_string(),
        number(clip.clip.facts.timing.seconds_at(frame), SECONDS_DIGITS),
        clip.clip.timecode_at(frame).map_or(String::new(), |code| code.to_string()),
        // Seconds and frames of the timeline from the segment's first used frame; below 0 in the handle before it.
        number(clip.clip.timeline_secs(segment.used.first(), frame), SECONDS_DIGITS),
        number(clip.clip.timeline_frames(segment.used.first(), frame), FRAME_DIGITS),
        number(planned.rotation_degrees.get(place).copied().unwrap_or(0.0), ROTATION_DIGITS),
        left,
        top,
        width,
        height,
        px(columns.centre_x),
        px(columns.centre_y),
        scale(columns.scale_x),
        scale(columns.scale_y),
        px(columns.offset_x),
        px(columns.offset_y),
        number(columns.offset_x / delivered.width(), FRACTION_DIGITS),
        number(columns.offset_y / delivered.height(), FRACTION_DIGITS),
        scale(map.scale_from_fit()),
        yes_no(planned.tracked.get(place).copied().unwrap_or(false)),
        yes_no(planned.pinned.contains(&frame)),
        to_next.to_string(),
        file,
        file_frame,
        handoff.conventions_file.to_owned(),
    ]
}

fn number(value: f64, digits: usize) -> String {
    format!("{:.digits$}", value + 0.0)
}
