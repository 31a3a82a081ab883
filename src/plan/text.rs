//! The report for people. What cannot be had comes first; every number that is a sum is shown with its parts.

use super::{
    ClipPlan, DeliverableFacts, Entry, LeadNote, Plan, PlanRetime, PlannedSegment, RefusedSegment,
    Segment, SegmentOutcome, Standing, level_words,
    motion::{headroom, move_words, window_at},
    px, starts_words, sum_across, sum_down, travel_words, turns_words, visit_words,
};
use crate::{
    delivery::Origin, geometry::Window, pan::Way, sharpness::Softness, timecode::FrameIndex,
};
use std::fmt::{self, Write};

/// The whole report as text, ending in a line end.
#[must_use]
pub fn report_text(plan: &Plan) -> String {
    let mut text = String::new();
    // Writing to a string does not fail.
    let _ = write_report(plan, &mut text);
    text
}

fn write_report(plan: &Plan, out: &mut String) -> fmt::Result {
    write_ranking(plan, out)?;
    for clip in &plan.clips {
        write_clip(plan, clip, out)?;
    }
    if !plan.outputs.is_empty() {
        writeln!(out, "\nCHANGED BY HAND, LEFT ALONE")?;
        for note in &plan.outputs {
            match &note.new {
                Some(new) => writeln!(out, "  {} is yours; the new one is {new}", note.kept)?,
                None => writeln!(
                    out,
                    "  {} is yours; its shape is now refused, so there is no new one",
                    note.kept
                )?,
            }
        }
    }
    write_limits(plan, out)?;
    writeln!(out, "\nMADE FROM")?;
    for input in &plan.inputs {
        writeln!(out, "  {}  sha256 {}", input.name, input.sha256)?;
    }
    writeln!(out, "  {}, plan version {}", plan.made_by, plan.plan_version)?;
    writeln!(out, "\n{}", plan.caution)
}

fn write_ranking(plan: &Plan, out: &mut String) -> fmt::Result {
    writeln!(out, "WORST FIRST")?;
    let longest = |name: fn(&super::Ranked) -> &String| {
        plan.ranking.iter().map(|ranked| name(ranked).chars().count()).max().unwrap_or(0)
    };
    let (clip_width, deliverable_width) = (longest(|r| &r.clip), longest(|r| &r.deliverable));
    for ranked in &plan.ranking {
        let enlargement = ranked.enlargement.map_or("E  -  ".to_owned(), |e| format!("E {e:.2}"));
        writeln!(
            out,
            "  {:clip_width$}  {:deliverable_width$}  {:17}  {enlargement}  {}",
            ranked.clip, ranked.deliverable, ranked.standing, ranked.because
        )?;
    }
    for step in &plan.steps {
        writeln!(
            out,
            "  {}: enlargement steps from {:.2} ({}) to {:.2} ({}), {:.2} times; above {:.2} the step shows",
            step.deliverable,
            step.from.1,
            step.from.0,
            step.to.1,
            step.to.0,
            step.factor,
            step.limit
        )?;
    }
    Ok(())
}

fn write_clip(plan: &Plan, clip: &ClipPlan, out: &mut String) -> fmt::Result {
    writeln!(out, "\nCLIP {}", clip.name)?;
    let start =
        clip.start_timecode.as_ref().map_or(String::new(), |start| format!(", from {start}"));
    writeln!(
        out,
        "  {} at {} frames/s, {}{start}; played {} on a {} timeline; {}",
        clip.raster,
        clip.clip.facts.timing,
        counted(clip.frame_count, "frame"),
        clip.play,
        plan.timeline_rate,
        clip.footage
    )?;
    if clip.parts.len() > 1 {
        for part in &clip.parts {
            writeln!(out, "  frames {}: {}", part.frames, part.file)?;
        }
    }
    if let Some(retimes) = PlanRetime::words(&clip.retimes) {
        writeln!(out, "  retimed: {retimes}; beside them the speed of the nearest goes on")?;
    }
    if !clip.cuts.is_empty() {
        writeln!(out, "  {}; nothing is carried over one", clip.clip.cuts_words())?;
    }
    for notice in &clip.notices {
        writeln!(out, "  note: {notice}")?;
    }
    for weak in &clip.weak {
        writeln!(out, "  {}", weak.words())?;
    }
    for look in &clip.one_look {
        writeln!(out, "  one look, frames {}:", look.used)?;
        for line in look.lines() {
            writeln!(out, "    {line}")?;
        }
    }
    for entry in &clip.entries {
        let facts = plan.deliverables.iter().find(|facts| facts.name == entry.deliverable);
        if let Some(facts) = facts {
            write_entry(clip, entry, facts, out)?;
        }
    }
    Ok(())
}

fn write_entry(
    clip: &ClipPlan,
    entry: &Entry,
    facts: &DeliverableFacts,
    out: &mut String,
) -> fmt::Result {
    write!(out, "\n  {}  {}  {}  {}", facts.name, facts.shape, facts.raster, entry.standing)?;
    match entry.standing {
        // Each segment tells why below.
        Standing::NotInThisShape => writeln!(out)?,
        Standing::DoNotDeliver | Standing::LookAtIt | Standing::Fine => {
            writeln!(out, ": {}", entry.because)?
        }
    }
    for segment in &entry.segments {
        if entry.segments.len() > 1 {
            writeln!(out, "    range {}, frames {}", segment.number, segment.used)?;
        }
        if let Some(cut) = &segment.cut {
            writeln!(out, "    {}", cut.words())?;
        }
        if let Some(kept_alone) = &segment.kept_alone {
            writeln!(out, "    {}", kept_alone.words())?;
        }
        match &segment.outcome {
            SegmentOutcome::Planned(planned) => {
                write_planned((clip, entry), segment, planned, out)?
            }
            SegmentOutcome::DoesNotFit(refused) => write_refused(clip, refused, out)?,
            SegmentOutcome::NotCopied(refused) => {
                writeln!(out, "    path not taken: {}", refused.words)?;
            }
            SegmentOutcome::NoPath { conflict, words } => {
                writeln!(out, "    no path: {words}")?;
                for remedy in &conflict.remedies {
                    writeln!(out, "    remedy: {}", remedy.words)?;
                }
            }
            SegmentOutcome::NotComputed { words } => writeln!(out, "    not computed: {words}")?,
        }
    }
    Ok(())
}

/// On how many used frames the subject is known, with a comma before it; empty where it is on all.
pub(super) fn known_words(segment: &Segment) -> String {
    let (untracked, used) = (segment.untracked_used() as u64, segment.used.frame_count());
    if untracked == 0 {
        String::new()
    } else {
        format!(", known on {} of {}", used - untracked, counted(used, "used frame"))
    }
}

/// On how many frames the subject is inside, if that is known, and on how many it is known where these are not all.
pub(super) fn inside_share_words(segment: &Segment, planned: &PlannedSegment) -> String {
    let Some(share) = planned.share_inside else {
        return "nothing is known of the subject here: mark it at a few frames, and the path is assessed".to_owned();
    };
    let known = known_words(segment);
    format!(
        "inside on {:.1} % of the subject's frames{known}{}",
        100.0 * share,
        short_list(planned)
    )
}

fn write_planned(
    (clip, entry): (&ClipPlan, &Entry),
    segment: &Segment,
    planned: &PlannedSegment,
    out: &mut String,
) -> fmt::Result {
    writeln!(out, "    {}, {}: {}", planned.way, planned.verdict_words(), planned.why)?;
    for told in std::iter::once(inside_share_words(segment, planned))
        .chain(planned.clauses.iter().map(|note| format!("clause {}", note.words)))
        .chain(planned.starts.as_ref().map(starts_words))
        .chain(planned.visits.iter().map(visit_words))
        .chain(planned.copied.and_then(|copied| copied.words()))
        .chain(level_words(&planned.rotation_degrees))
        .chain(planned.steady.map(|steady| steady.words()))
        .chain(planned.lead.as_ref().map(LeadNote::words))
        .chain(planned.smear.map(|smear| smear.words()))
    {
        writeln!(out, "    {told}")?;
    }
    for (number, told) in move_words(segment, planned).iter().enumerate() {
        writeln!(out, "    move {}, {told}", number + 1)?;
    }
    if let Some(told) = headroom(entry, segment, planned).map(|least| least.words(clip)) {
        writeln!(out, "    {told}")?;
    }
    let moves = planned.windows.windows(2).any(|pair| pair[0] != pair[1]);
    for (name, frame) in
        planned.telling.named().into_iter().take(if moves { usize::MAX } else { 1 })
    {
        let Some(window) = window_at(segment, planned, frame) else { continue };
        let label =
            if moves { format!("{name} {}", place(clip, frame)) } else { "window".to_owned() };
        writeln!(out, "    {label}: {}", window_words(clip, planned, window))?;
    }
    writeln!(out, "    {}", softness_words(&planned.softest))?;
    if planned.shape_error.abs() > 1e-9 {
        writeln!(
            out,
            "    rounded to whole even px: the window is {:.3} % {} than the shape",
            100.0 * planned.shape_error.abs(),
            if planned.shape_error > 0.0 { "wider" } else { "narrower" }
        )?;
    }
    write_peak(out, clip, planned)?;
    write_untracked(segment, planned, out)?;
    writeln!(
        out,
        "    {} for {}, {} between keys within {:.2} delivered px",
        counted(planned.keys.len() as u64, "key"),
        counted(planned.windows.len() as u64, "frame"),
        if planned.is_eased() { "eased moves and holds" } else { "straight lines" },
        planned.key_error_px
    )
}

/// On which frames the subject is not tracked.
fn write_untracked(segment: &Segment, planned: &PlannedSegment, out: &mut String) -> fmt::Result {
    let untracked = planned.tracked.iter().filter(|tracked| !**tracked).count();
    if untracked == 0 {
        return Ok(());
    }
    writeln!(
        out,
        "    {untracked} frames, handles included, are not tracked and marked so in the files: {}",
        untracked_words(segment, planned)
    )
}

/// The fastest step, how far it all travels where there is a limit on that, where the window turns back too soon, and that the solver came no nearer where that is so.
fn write_peak(out: &mut String, clip: &ClipPlan, planned: &PlannedSegment) -> fmt::Result {
    if let Some(secs) = planned.peak.secs_per_width {
        let caution = if planned.pan_caution { ", a caution" } else { "" };
        writeln!(
            out,
            "    fastest at {}: one width in {secs:.1} s of timeline{caution}",
            place(clip, planned.peak.frame)
        )?;
    }
    if let Some(travel) = &planned.travel {
        writeln!(out, "    {}", travel_words(travel))?;
    }
    if let Some(turns) = turns_words(&planned.turns) {
        writeln!(out, "    {turns}, a caution")?;
    }
    write_unproven(out, planned)
}

/// That the solver came no nearer to the best path, where that is so.
fn write_unproven(out: &mut String, planned: &PlannedSegment) -> fmt::Result {
    unproven_words(planned).map_or(Ok(()), |words| writeln!(out, "    {words}"))
}

/// The same as a sentence; also that the search for eased moves was broken off, where that is why there are none.
pub(super) fn unproven_words(planned: &PlannedSegment) -> Option<String> {
    broken_off_words(planned.way, (planned.may_cost_more, planned.moves_broken_off))
}

fn broken_off_words(
    way: Way,
    (may_cost_more, moves_broken_off): (Option<f64>, bool),
) -> Option<String> {
    let other = if way == Way::Moves { "any such moves" } else { "the best there is" };
    let stopped = may_cost_more.map(|more| {
        format!(
            "the solver stopped at its best path: it keeps every limit, and may cost {more:.6} widths of travel more than {other}"
        )
    });
    let sought = moves_broken_off.then(|| {
        format!(
            "the search for eased moves was broken off, since there are too many that might do, and {way} was taken: there may be \
             moves that do as well; to find them, give moves a cost (weight_move, weight_moving) or use fewer frames"
        )
    });
    let told: Vec<String> = stopped.into_iter().chain(sought).collect();
    (!told.is_empty()).then(|| told.join("; "))
}

/// The stretches of frames without the subject, the longest list that anyone reads.
fn untracked_words(segment: &Segment, planned: &PlannedSegment) -> String {
    const NAMED: usize = 8;
    let frames: Vec<(FrameIndex, bool)> =
        segment.with_handles.frames().zip(planned.tracked.iter().copied()).collect();
    let stretches: Vec<String> = frames
        .chunk_by(|a, b| a.1 == b.1)
        .filter(|stretch| !stretch[0].1)
        .map(|stretch| match stretch {
            [(only, _)] => only.to_string(),
            [(first, _), .., (last, _)] => format!("{first} to {last}"),
            [] => String::new(),
        })
        .collect();
    let more = stretches.len().saturating_sub(NAMED);
    let rest = if more > 0 { format!(" and {more} more stretches") } else { String::new() };
    format!("{}{rest}", stretches[..stretches.len() - more].join(", "))
}

pub(super) fn counted(count: u64, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

/// The frames on which something is outside, a few of them by number.
fn short_list(planned: &PlannedSegment) -> String {
    const NAMED: usize = 8;
    if planned.short_frames.is_empty() {
        return String::new();
    }
    let named: Vec<String> = planned
        .short_frames
        .iter()
        .take(NAMED)
        .map(|short| format!("{} ({} px)", short.frame, px(short.missing_px)))
        .collect();
    let more = planned.short_frames.len().saturating_sub(NAMED);
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("; short at frames {}{rest}", named.join(", "))
}

fn write_refused(clip: &ClipPlan, refused: &RefusedSegment, out: &mut String) -> fmt::Result {
    writeln!(out, "    does not fit: {}", refused.words)?;
    if let Some(told) = level_words(&refused.rotation_degrees) {
        writeln!(out, "    {told}")?;
    }
    for note in &refused.clauses {
        writeln!(out, "    in the best attempt, clause {}", note.words)?;
    }
    if let Some(starts) = &refused.starts {
        writeln!(out, "    {}", starts_words(starts))?;
    }
    let short = |short: &super::ShortAt| {
        format!("{} px at {}", px(short.missing_px), place(clip, short.frame))
    };
    if refused.worst.missing_px <= 0.0 {
        // What is missing is no px but time.
    } else if refused.first == refused.worst {
        writeln!(out, "    first and most missing: {}", short(&refused.first))?;
    } else {
        writeln!(
            out,
            "    first missing: {}; most: {}",
            short(&refused.first),
            short(&refused.worst)
        )?;
    }
    for remedy in &refused.remedies {
        writeln!(out, "    remedy: {}", remedy.words)?;
    }
    Ok(())
}

pub(super) fn place(clip: &ClipPlan, frame: FrameIndex) -> String {
    let timecode = clip.clip.timecode_at(frame).map_or(String::new(), |code| format!(" ({code})"));
    format!("frame {frame}{timecode}")
}

/// A window with its spare room, as sums that add up; of a turned picture its centre, since what is spare there is
/// no sum of sides.
fn window_words(clip: &ClipPlan, planned: &PlannedSegment, window: &Window) -> String {
    if !planned.rotation_degrees.is_empty() {
        return format!(
            "{} x {} about {}, {} of the turned picture",
            px(window.width()),
            px(window.height()),
            px(window.centre_x()),
            px(window.centre_y())
        );
    }
    format!(
        "{} x {}; {}; {}",
        px(window.width()),
        px(window.height()),
        sum_across(clip.raster, window),
        sum_down(clip.raster, window)
    )
}

fn softness_words(softness: &Softness) -> String {
    let stricter = softness
        .stricter_words()
        .map_or(String::new(), |reasons| format!(" (one band stricter: {reasons})"));
    let measured = softness.measured.map_or(String::new(), |measured| format!("; {measured}"));
    format!(
        "E {:.3}, {}{stricter}{measured}; the picture carries {} px across and {} down, {:.0} % and {:.0} % of what is delivered",
        softness.enlargement,
        softness.band,
        px(softness.carried_across_px),
        px(softness.carried_down_px),
        100.0 * softness.kept_across,
        100.0 * softness.kept_down
    )
}

/// The limits that are the same for every clip and deliverable, once; then those that differ.
fn write_limits(plan: &Plan, out: &mut String) -> fmt::Result {
    writeln!(out, "\nLIMITS (change any of them in the shoot file)")?;
    let entries =
        || plan.clips.iter().flat_map(|clip| clip.entries.iter().map(move |entry| (clip, entry)));
    let Some((_, first)) = entries().next() else { return Ok(()) };
    for (place, limit) in first.limits.iter().enumerate() {
        let value = |value: Option<f64>| value.map_or("off".to_owned(), |value| value.to_string());
        let common = entries().all(|(_, entry)| entry.limits[place].value == limit.value);
        if common {
            let origin = if limit.set_by == Origin::Default {
                String::new()
            } else {
                format!("  (set: {})", limit.set_by)
            };
            writeln!(out, "  {:20} {}{origin}", limit.name, value(limit.value))?;
            continue;
        }
        for (clip, entry) in entries() {
            let limit = &entry.limits[place];
            writeln!(
                out,
                "  {:20} {}  ({}, {}: {})",
                limit.name,
                value(limit.value),
                clip.name,
                entry.deliverable,
                limit.set_by
            )?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_search_that_was_broken_off_is_told_whether_or_not_the_path_is_the_best_of_its_way() {
        let told = |way, more, is_off| broken_off_words(way, (more, is_off));
        assert_eq!(told(Way::Follow, None, false), None);
        let words = told(Way::Follow, None, true).unwrap();
        assert!(words.starts_with("the search for eased moves was broken off"), "{words}");
        assert!(words.contains("and follow was taken") && words.contains("weight_move"), "{words}");
        let words = told(Way::Follow, Some(0.5), true).unwrap();
        assert!(words.contains("may cost 0.500000 widths") && words.contains("broken off"));
        let words = told(Way::Moves, Some(0.5), false).unwrap();
        assert!(words.ends_with("more than any such moves"), "{words}");
    }
}
