//! What a person should know about a clip and its use, in sentences.

use super::prepare::PreparedClip;
use crate::{
    clip::{Clip, Play},
    delivery::Limit,
    lens::{PossibleLenses, Span},
    plan::{CopiedFrom, inside_crop_words},
    shoot::Shoot,
    subject::{Track, Wish},
    timecode::FrameIndex,
};

/// What should be known about a clip: from its footage, how it is read, and where its handles are
/// cut off.
pub(super) fn of_clip(shoot: &Shoot, prepared: &PreparedClip) -> Vec<String> {
    let mut notices: Vec<String> =
        prepared.opened.notices.iter().map(ToString::to_string).collect();
    let clip = &prepared.resolved.clip;
    notices.extend(prepared.copy.as_ref().map(|copy| CopiedFrom::of(copy).notice()));
    notices.extend(timecode_words(prepared));
    notices.extend(inside_crop_words(&clip.inside_crop, clip.facts.raster));
    notices.extend(variable_rate_words(clip));
    notices.extend(view_words(clip));
    notices.extend(prepared.resolved.lens.as_ref().map(lens_words));
    notices.extend(clip.proxy.map(|read| {
        format!(
            "the pictures were read from a proxy of {read}; every px here and in the files is one of the full {}, \
             whose bit rate is not known and not reckoned with",
            clip.facts.raster
        )
    }));
    notices.extend(prepared.resolved.tracks.iter().flat_map(parted_words));
    notices.extend(marked_once_words(&prepared.resolved.tracks, clip));
    notices.extend(alike_words(&prepared.resolved.tracks));
    notices.extend(handle_words(shoot, prepared));
    notices.extend(prepared.found_cuts.iter().map(|cut| {
        format!("a hard cut at frame {cut} was found in its pictures and is not in the shoot file: add `cuts = [{cut}]` to the clip")
    }));
    notices
}

/// Names that differ in capitals only are two things to us and mostly one to who wrote them.
fn alike_words(tracks: &[Track]) -> Vec<String> {
    let pairs = tracks.iter().enumerate().flat_map(|(place, track)| {
        let others = tracks[place + 1..].iter();
        others.map(move |other| (track.name(), other.name()))
    });
    let is_alike = |(name, other): &(&str, &str)| name.to_lowercase() == other.to_lowercase();
    pairs
        .filter(is_alike)
        .map(|(name, other)| {
            format!(
                "the marks name `{name}` and `{other}`, which differ in capitals only and are taken for two things; if they \
                 are one, give them one name"
            )
        })
        .collect()
}

/// A subject that is marked once is known on that frame only: beside others of its kind its name may be a slip of the pen.
fn marked_once_words(tracks: &[Track], clip: &Clip) -> Vec<String> {
    let subjects = || tracks.iter().filter(|track| track.wish() == Wish::Subject);
    let is_once = |track: &&Track| track.marked_frames().nth(1).is_none();
    let others = |name: &str| -> Vec<String> {
        let others = subjects().filter(|track| track.name() != name && !is_once(track));
        others.map(|track| format!("`{}`", track.name())).collect()
    };
    let words = |track: &Track| {
        let (name, others) = (track.name(), others(track.name()));
        let frame = track.marked_frames().next()?;
        let used: u64 = clip.ranges.iter().map(|range| range.used.frame_count()).sum();
        let known = format!(
            "`{name}` is marked at frame {frame} only, and nothing is known of it on other frames"
        );
        match &others[..] {
            [] if used > 1 => Some(format!(
                "{known}: 1 of {used} used frames; mark it about once a second, from the first used frame to the last"
            )),
            [] => None,
            _ => Some(format!(
                "{known}; if it is the same as {}, give it that name",
                others.join(" or ")
            )),
        }
    };
    subjects().filter(is_once).filter_map(words).collect()
}

/// Where handles are shorter than they were wanted, and why. A clip that is used whole has none, and nobody misses
/// them; no more so from cut to cut.
fn handle_words(shoot: &Shoot, prepared: &PreparedClip) -> Vec<String> {
    let clip = &prepared.resolved.clip;
    let mut notices = Vec::new();
    let limits = shoot.clip_limits(&shoot.clips[prepared.place]);
    let wanted_secs = limits.number(Limit::HandleSecs);
    let a_frame = 1.0 / clip.facts.timing.per_second();
    for range in &clip.ranges {
        let (used, handles) = (range.used, range.with_handles);
        let uncut = clip.part_without_cut(used.first());
        if used == uncut {
            continue;
        }
        let sides = [
            ("before", handles.first(), uncut.first(), (handles.first(), used.first())),
            ("after", handles.end(), uncut.end(), (used.end(), handles.end())),
        ];
        for (side, handles_end, uncut_ends, (from, to)) in sides {
            let secs = clip.facts.timing.seconds_at(to) - clip.facts.timing.seconds_at(from);
            let is_cut = clip.cuts.contains(&uncut_ends);
            // Who uses frames up to a cut wants none beyond it.
            let is_missed = handles_end == uncut_ends && !(is_cut && from == to);
            if is_missed && secs + a_frame <= wanted_secs {
                let why = if is_cut {
                    format!("there is a cut before frame {uncut_ends}")
                } else {
                    "the clip has no more".to_owned()
                };
                notices.push(format!(
                    "the handle {side} frames {used} is {} frames, not {wanted_secs} s: {why}",
                    to.0 - from.0
                ));
            }
        }
    }
    notices
}

/// What a cut between two of its marks costs a track.
fn parted_words(track: &Track) -> Vec<String> {
    let name = track.name();
    let words = |(before, after): (FrameIndex, FrameIndex)| {
        format!(
            "`{name}` is marked at frame {before} and next at frame {after}, with a cut in between: it is not tracked \
             over that; mark it on the last frame before the cut and on the first after it"
        )
    };
    track.parted_by_cuts().map(words).collect()
}

/// A first timecode that was written wins over the footage's own, and not in silence.
fn timecode_words(prepared: &PreparedClip) -> Option<String> {
    let found = prepared.opened.facts.start_timecode?;
    let used = prepared.resolved.clip.facts.start_timecode?;
    (found != used).then(|| {
        format!(
            "its first timecode is taken to be {used}, as written; the footage's own is {found}"
        )
    })
}

/// What an editor must do with a variable rate, said plainly.
fn variable_rate_words(clip: &Clip) -> Option<String> {
    let times = clip.facts.timing.times()?;
    let (shortest, longest) = times.extreme_gaps_secs();
    let rate = format!(
        "variable rate: frames are {:.1} to {:.1} ms apart, {:.3} a second in the mean",
        1000.0 * shortest,
        1000.0 * longest,
        times.mean_per_second()
    );
    Some(match clip.play {
        Play::RealTime => format!(
            "{rate}. In the editor, set keys by source_seconds, never by frame numbers: an editor that plays the \
             clip at a constant rate repeats and drops frames. Or convert the clip to a constant rate first, \
             and plan the converted file"
        ),
        Play::EveryFrame => format!(
            "{rate}. Played every frame, each must become one frame of the timeline: convert the clip so, frame \
             for frame, before the keys are set"
        ),
    })
}

/// What degrees are reckoned with.
fn lens_words(lenses: &PossibleLenses) -> String {
    let [horizontal, vertical, diagonal] =
        Span::ALL.map(|span| lenses.field_of_view(span).to_degrees());
    let lens = lenses.words();
    let why = if lenses.known().is_none() { " (which is not known)" } else { "" };
    format!(
        "degrees are through {lens}{why}, its field of view as the picture shows it {horizontal:.2} horizontal, \
         {vertical:.2} vertical, {diagonal:.2} diagonal degrees; no px depends on it"
    )
}

fn view_words(clip: &Clip) -> Option<String> {
    (!clip.orientation.is_upright()).then(|| {
        format!(
            "before anything else the picture is {}; every px here and in the files is one of what that gives",
            clip.orientation
        )
    })
}
