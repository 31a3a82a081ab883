use super::{HandoffEntry, HandoffError, rows::CORNER_DIGITS};
use crate::{
    keyframe::{PX_DIGITS, SCALE_DIGITS},
    plan::{ClipPlan, DeliverableFacts, Plan, PlanRetime, SegmentOutcome},
    timecode::{Counting, FrameIndex, RampLaw},
};
use std::io::Write;

/// Writes, in words, how the two tables of one clip and deliverable are to be read.
///
/// One numbered line for each thing that importers differ in, so that every question has one written answer.
///
/// # Errors
/// If the writer fails.
pub fn write_conventions(
    plan: &Plan,
    handoff: &HandoffEntry<'_>,
    facts: &DeliverableFacts,
    mut out: impl Write,
) -> Result<(), HandoffError> {
    writeln!(
        out,
        "How to read the every-frame and keys tables of clip {}, deliverable {}",
        handoff.clip.name, facts.name
    )?;
    writeln!(out, "Made by {}. Conventions version 1.\n", plan.made_by)?;
    let groups = [
        ("WHERE", where_lines(handoff, facts)),
        ("WHEN", when_lines(plan, handoff)),
        ("WHICH CLIP", clip_lines(handoff)),
        ("BETWEEN ROWS, AND LOOK", between_lines(handoff)),
    ];
    let mut number = 0;
    for (heading, lines) in groups {
        writeln!(out, "{heading}")?;
        for (name, text) in lines {
            number += 1;
            writeln!(out, "{number:2}. {name}: {text}")?;
        }
        writeln!(out)?;
    }
    write_segments(handoff, &mut out)?;
    writeln!(out, "\n{}", plan.caution)?;
    Ok(())
}

type Lines = Vec<(&'static str, String)>;

/// What positions, scales and offsets mean (H1 to H13 of the trade's list).
fn where_lines(handoff: &HandoffEntry<'_>, facts: &DeliverableFacts) -> Lines {
    let (source, delivered) = (handoff.clip.raster, facts.raster);
    let fit = (delivered.width() / source.width()).min(delivered.height() / source.height());
    vec![
        ("Window given as", "corner and size (left_px, top_px, width_px, height_px), and again as centre and scale (centre_x_px, centre_y_px, scale_x, scale_y), and again as picture offset and scale (offset_…, scale_x, scale_y). Any one of the three is enough".to_owned()),
        ("Origin", "the top left corner of the displayed source frame".to_owned()),
        ("Direction", "x to the right, y down".to_owned()),
        ("Pixel reference", format!("edges: the first pixel spans 0 to 1, the frame's centre is {}, {}", source.width() / 2.0, source.height() / 2.0)),
        ("Anchor for scaling", "the centre of the source frame".to_owned()),
        ("Scale base", format!("delivered px for each source px; scale_from_fit is the same scale relative to the one that shows the whole source frame inside the delivered raster ({fit:.9})")),
        ("Scale unit", "a factor, not a percentage: 0.64 is 64 %".to_owned()),
        ("Offset unit", "offset_…_delivered_px in delivered px; offset_x_fraction as a share of the delivered width, offset_y_fraction of the delivered height".to_owned()),
        ("Offset sign", "the picture moves: a positive offset_x moves it to the right, so that the window is left of the source centre; a positive offset_y moves it down".to_owned()),
        ("Order", "rotate about the source centre by rotation_degrees, scale about the source centre, then move; before all of it comes the turn that Rotation names, if it names one".to_owned()),
        ("Rotation", rotation_words(handoff)),
        ("Source raster", format!("{source}, as displayed{}; {}. If your file has another raster (a proxy), multiply all source px by its width over {} and divide scale_x and scale_y by the same; offsets in delivered px and fractions stay as they are", proxy_words(handoff.clip), inside_words(handoff), source.width_px())),
        ("Pixel shape", "square, 1:1, in source and delivery".to_owned()),
        ("Delivered raster", format!("{delivered}, shape {}", facts.shape)),
        ("Two scales", "scale_x and scale_y differ only where a held window is rounded to whole even px; the window's corners land on the delivered picture's corners".to_owned()),
    ]
}

/// What a crop inside the camera means for the columns: nothing, but for who reckons softness from them.
fn inside_words(handoff: &HandoffEntry<'_>) -> String {
    let crop = handoff.clip.clip.inside_crop;
    if crop.is_none() {
        return "no crop inside the camera is known or taken off".to_owned();
    }
    format!(
        "the camera's inside crop of {} is taken off no column: each px of the file carries {:.3} of a sensor px \
         across and down, and the enlargement in the report is scale_x divided by that",
        crop.as_written(),
        crop.linear_factor()
    )
}

/// What frames and seconds mean (H14 to H22).
fn when_lines(plan: &Plan, handoff: &HandoffEntry<'_>) -> Lines {
    let clip = handoff.clip;
    let counting = match clip.clip.facts.start_timecode.map(|start| start.counting()) {
        None => "the clip has no timecode, source_timecode is empty".to_owned(),
        Some(Counting::Drop) => "drop frame, written with ; before the frames".to_owned(),
        Some(Counting::NonDrop) => "non-drop, written with : before the frames".to_owned(),
    };
    vec![
        ("Time base", "the source frame number is the master; seconds and timecode are made from it and the rate".to_owned()),
        ("First frame", "the clip's first frame is number 0, in presentation order".to_owned()),
        ("Rate", rate_words(plan, clip)),
        ("Drop frame", counting),
        ("Rates above 30", "timecode counts every real frame; the frame number is the master".to_owned()),
        ("Variable rate", variable_rate_words(clip)),
        ("Interpretation", interpretation_words(plan, clip)),
        ("Range", "half-open: the end is the first frame after the range".to_owned()),
        ("Handles", "rows with part = handle lie outside the used range; the window is held there".to_owned()),
    ]
}

fn interpretation_words(plan: &Plan, clip: &ClipPlan) -> String {
    let step = match clip.timeline_step_secs {
        Some(step) => format!("{step:.9} s a frame"),
        None if clip.retimes.is_empty() => "by the stamps of the frames".to_owned(),
        None => "as Retimes says".to_owned(),
    };
    format!(
        "played {}; source_seconds run from the clip's first frame on the clock of the capture, timeline_seconds from the segment's first used frame as it plays ({step}), below 0 in the handle before it; timeline_frame is the same counted in timeline frames of {} a second, a real number",
        clip.play, plan.timeline_rate
    )
}

fn rate_words(plan: &Plan, clip: &ClipPlan) -> String {
    let capture = match clip.rate {
        Some(rate) => format!("{rate} frames/s of capture, a fraction and never rounded"),
        None => format!("{} frames/s of capture", clip.clip.facts.timing),
    };
    format!("{capture}; timeline {} frames/s", plan.timeline_rate)
}

fn variable_rate_words(clip: &ClipPlan) -> String {
    let Some(variable) = &clip.variable_rate else { return "no: the rate is constant".to_owned() };
    let (seconds, ticks) = variable.tick;
    format!(
        "yes: frames are {:.1} to {:.1} ms apart. source_seconds is each frame's own time stamp, counted from frame 0 (stamp {} in ticks of {seconds}/{ticks} s). Set keys by source_seconds, never by frame numbers: an editor that conforms the clip to a constant rate repeats and drops frames, and its frame numbers are then not these",
        1000.0 * variable.shortest_gap_secs,
        1000.0 * variable.longest_gap_secs,
        variable.first_stamp
    )
}

fn proxy_words(clip: &ClipPlan) -> String {
    clip.proxy_raster
        .as_ref()
        .map_or(String::new(), |read| format!(" (the plan was made on a proxy of {read})"))
}

fn rotation_words(handoff: &HandoffEntry<'_>) -> String {
    let orientation = handoff.clip.clip.orientation;
    let turned = if orientation.is_upright() {
        "All numbers refer to the displayed frame, upright, after any orientation flag of the file"
            .to_owned()
    } else {
        format!(
            "before anything else, the displayed frame, upright after any orientation flag of the file, is {orientation}; all numbers refer to what that gives"
        )
    };
    let mut planned = handoff.entry.segments.iter().filter_map(|segment| segment.planned());
    if planned.all(|planned| planned.rotation_degrees.is_empty()) {
        return format!("0 degrees; clockwise would be positive. {turned}");
    }
    let source = handoff.clip.raster;
    format!(
        "rotation_degrees, clockwise positive as seen, about the source centre {}, {}. {turned}, turned by rotation_degrees: the turned picture has the same px and the same centre, windows are upright in it, and no row's window hangs over the turned edge of the frame. In the handles the rotation is held",
        source.width() / 2.0,
        source.height() / 2.0
    )
}

/// How the path stands to a stabiliser (H29 of the trade's list).
fn stabilising_words(handoff: &HandoffEntry<'_>) -> String {
    let mut planned = handoff.entry.segments.iter().filter_map(|segment| segment.planned());
    match planned.find_map(|planned| planned.steady) {
        None => "the path was made on these frames as they are; stabilise before the crop only if the path is made again on the stabilised frames".to_owned(),
        Some(steady) => format!(
            "the path itself takes the shake out: it was made on these frames as they are and rides with the quick part of the background's motion, above {} Hz. Stabilise neither before nor after: a stabiliser before it would leave the path riding on a shake that is gone. In the handles the window is held and does not ride",
            steady.shake_hz
        ),
    }
}

fn parts_words(clip: &ClipPlan) -> String {
    if let [_] = clip.parts.as_slice() {
        return "one part; frames are numbered through from 0".to_owned();
    }
    let parts: Vec<String> = clip
        .parts
        .iter()
        .map(|part| format!("{} holds frames {}", part.file, part.frames))
        .collect();
    format!(
        "{} parts, numbered through from 0: {}; file_frame counts from 0 in each",
        parts.len(),
        parts.join("; ")
    )
}

/// The table of retimes with the law of each ramp, so that nobody has to guess it.
fn retimes_words(clip: &ClipPlan) -> String {
    if clip.retimes.is_empty() {
        return "none: constant speed".to_owned();
    }
    let of_one = |retime: &PlanRetime| {
        let ([from, to], frames) = (retime.speed, retime.frames);
        let speed = match retime.law {
            None => format!("{from}"),
            Some(law) => format!("from {from} to {to}, {law}"),
        };
        let (first, end) = (frames.first(), frames.end());
        format!("[{first}, {end}) {speed}, {:.4} timeline frames", retime.timeline_frames)
    };
    let table: Vec<String> = clip.retimes.iter().map(of_one).collect();
    let laws: Vec<&str> = RampLaw::ALL
        .into_iter()
        .filter(|law| clip.retimes.iter().any(|retime| retime.law == Some(*law)))
        .map(law_words)
        .collect();
    format!(
        "source frames [first, first after) with their speed as a share of real time: {}. {}Before the first and after the last the speed of the nearest goes on. timeline_seconds and timeline_frame hold all this already: do not retime them again",
        table.join("; "),
        laws.concat()
    )
}

/// How long a ramp from v0 to v1 over n source frames lasts.
const fn law_words(law: RampLaw) -> &'static str {
    match law {
        RampLaw::LinearInSource => {
            "linear-in-source: the speed changes by the same amount with each source frame, and n of them last as long as n / (v1 - v0) x ln(v1 / v0) at real time. "
        }
        RampLaw::LinearInTimeline => {
            "linear-in-timeline: the speed changes by the same amount with each timeline frame, and n source frames last as long as 2 n / (v0 + v1) at real time. "
        }
    }
}

/// Which clip this is for (H23 to H25).
fn clip_lines(handoff: &HandoffEntry<'_>) -> Lines {
    let clip = handoff.clip;
    let print = &clip.fingerprint;
    vec![
        (
            "Clip identity",
            format!(
                "{}; {}{}; no reel or card name is known; start timecode {}; {} frames, {:.6} s; {} bytes in {} file{}; sampled sha256 {} (over each file's length and its first and last MiB)",
                clip.name,
                clip.footage,
                clip.track.map_or(String::new(), |track| format!(", video track {track}")),
                clip.start_timecode.as_deref().unwrap_or("none"),
                clip.frame_count,
                clip.clip.facts.timing.seconds_at(FrameIndex(clip.frame_count)),
                print.byte_count,
                print.file_count,
                if print.file_count == 1 { "" } else { "s" },
                print.sampled_sha256
            ),
        ),
        ("Split clips", parts_words(clip)),
        (
            "Path",
            clip.copied_from.as_ref().map_or_else(
                || "made for this clip".to_owned(),
                |copied| {
                    format!(
                        "taken from another clip: {}; each row holds the window of this one",
                        copied.words()
                    )
                },
            ),
        ),
        ("Retimes", retimes_words(clip)),
    ]
}

/// What happens between rows, and to the picture (H26 to H33).
fn between_lines(handoff: &HandoffEntry<'_>) -> Lines {
    let worst = handoff
        .entry
        .segments
        .iter()
        .filter_map(|s| s.planned())
        .map(|p| p.key_error_px)
        .fold(0.0, f64::max);
    // Where the speed changes, time is not one thing: a line straight in the one is bent in the other.
    let straight_in = match handoff.clip.clip.retime.as_ref() {
        Some(retime) if retime.constant().is_none() => {
            "in timeline time (timeline_seconds, after the retimes; keys that are set before them, on the source, need the every-frame table)"
        }
        _ => "in time",
    };
    vec![
        ("Between keys", format!("as the row's to_next says, up to the next row, in one of the three sets and only one. straight: straight lines {straight_in}. ease A,0,B,1: an eased move, by the cubic Bezier timing curve of time and way with the handles (A, 0) and (B, 1); two keys are the whole move. Where the scale differs between the two rows of an ease, key that move in offset and scale: in the other sets it is not the same move. The windows are then within {worst:.3} delivered px of the every-frame table and inside the frame to 0.001 px. The every-frame table needs no interpolation")),
        ("Cuts", cuts_words(handoff.clip)),
        ("Filter", "none assumed and no sharpening; resample as you do otherwise".to_owned()),
        ("Stabilising", stabilising_words(handoff)),
        ("Mirror", if handoff.clip.clip.orientation.is_mirrored { "the picture is flipped left to right before any of these numbers apply (see Rotation)" } else { "the picture is not flipped" }.to_owned()),
        ("Fields", "every frame is taken whole, as progressive; an interlaced file is named in the notes of report.txt".to_owned()),
        ("Look", "the crop is not baked into any picture; grade the source".to_owned()),
        ("Numbers", format!("decimal point, no thousands marks, UTF-8, one heading row, unit in the heading (px, seconds, fraction); lengths with {PX_DIGITS} decimals, but for corner and size in the every-frame table with {CORNER_DIGITS}; scales with {SCALE_DIGITS}")),
        ("Tracked", "no where no mark says where the subject is: the window there is a continuation and not knowledge".to_owned()),
        ("Pinned", "yes where the window was fixed by hand".to_owned()),
    ]
}

fn cuts_words(clip: &ClipPlan) -> String {
    let cut = if clip.cuts.is_empty() {
        "no cut inside the clip is known".to_owned()
    } else {
        format!(
            "the clip is {}: each side is a segment of its own with a key on its last or first frame, and handles end there",
            clip.clip.cuts_words()
        )
    };
    format!("a new segment number; nothing is interpolated from one segment to the next; {cut}")
}

fn write_segments(handoff: &HandoffEntry<'_>, out: &mut impl Write) -> Result<(), HandoffError> {
    writeln!(out, "SEGMENTS")?;
    for segment in &handoff.entry.segments {
        let (used, handles) = (segment.used, segment.with_handles);
        write!(
            out,
            "{:2}. used [{}, {}), with handles [{}, {}): ",
            segment.number,
            used.first(),
            used.end(),
            handles.first(),
            handles.end()
        )?;
        if let Some(cut) = &segment.cut {
            write!(out, "a planned cut before frame {}: ", cut.frame)?;
        }
        match &segment.outcome {
            SegmentOutcome::Planned(planned) => writeln!(
                out,
                "{}, {}, {} keys",
                planned.way,
                planned.verdict_words(),
                planned.keys.len()
            )?,
            SegmentOutcome::DoesNotFit(refused) => {
                writeln!(out, "does not fit, no rows: {}", refused.words)?
            }
            SegmentOutcome::NotCopied(refused) => {
                writeln!(out, "path not taken, no rows: {}", refused.words)?
            }
            SegmentOutcome::NoPath { words, .. } => writeln!(out, "no path, no rows: {words}")?,
            SegmentOutcome::NotComputed { words } => {
                writeln!(out, "not computed, no rows: {words}")?;
            }
        }
    }
    Ok(())
}
