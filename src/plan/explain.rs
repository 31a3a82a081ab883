//! A plan in sentences that can be read aloud: what was done and why, the tightest moment, and what to do about it.

use super::{
    ClipPlan, DeliverableFacts, Entry, LeadNote, Plan, PlannedSegment, RefusedSegment, RemedyNote,
    Segment, SegmentOutcome, level_words,
    motion::{headroom, move_words, tightest},
    px,
    text::{counted, inside_share_words, known_words, place, unproven_words},
    travel_words, turns_words, visit_words,
};
use crate::{
    pan::{Verdict, Way},
    sharpness::{Band, Softness},
    timecode::FrameIndex,
};
use std::fmt::{self, Write};

/// The explanation, a sentence a line, ending in a line end.
#[must_use]
pub fn explain_text(plan: &Plan) -> String {
    let mut text = String::new();
    // Writing to a string does not fail.
    let _ = write_plan(plan, &mut text);
    text
}

fn write_plan(plan: &Plan, out: &mut String) -> fmt::Result {
    for (number, clip) in plan.clips.iter().enumerate() {
        let gap = if number > 0 { "\n" } else { "" };
        let count = counted(clip.frame_count, "frame");
        writeln!(out, "{gap}CLIP {}, {} with {count}", clip.name, clip.raster)?;
        for weak in &clip.weak {
            writeln!(out, "  {}", sentence(&weak.words()))?;
        }
        for look in &clip.one_look {
            writeln!(out, "\n  One look over frames {}:", look.used)?;
            for line in look.lines() {
                writeln!(out, "    {}", sentence(&line))?;
            }
        }
        for entry in &clip.entries {
            let facts = plan.deliverables.iter().find(|facts| facts.name == entry.deliverable);
            if let Some(facts) = facts {
                write_entry(clip, entry, facts, out)?;
            }
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
    let (name, shape, raster) = (&facts.name, &facts.shape, facts.raster);
    writeln!(out, "\n  {name}, {shape}, {raster}: {}.", entry.standing)?;
    for segment in &entry.segments {
        if entry.segments.len() > 1 {
            writeln!(out, "    Range {}, frames {}.", segment.number, segment.used)?;
        }
        if let Some(cut) = &segment.cut {
            writeln!(out, "    {}", sentence(&cut.words()))?;
        }
        if let Some(kept_alone) = &segment.kept_alone {
            writeln!(out, "    {}", sentence(&kept_alone.words()))?;
        }
        match &segment.outcome {
            SegmentOutcome::Planned(planned) => {
                write_planned((clip, entry), segment, planned, out)?
            }
            SegmentOutcome::DoesNotFit(refused) => write_refused(clip, refused, out)?,
            SegmentOutcome::NotCopied(refused) => {
                writeln!(out, "    The path is not taken: {}.", refused.words)?;
            }
            SegmentOutcome::NoPath { conflict, words } => {
                writeln!(out, "    There is no path: {words}.")?;
                write_remedies(&conflict.remedies, out)?;
            }
            SegmentOutcome::NotComputed { words } => writeln!(out, "    {}", sentence(words))?,
        }
    }
    Ok(())
}

fn write_planned(
    (clip, entry): (&ClipPlan, &Entry),
    segment: &Segment,
    planned: &PlannedSegment,
    out: &mut String,
) -> fmt::Result {
    let moves = move_words(segment, planned);
    let mut say = |words: &str| writeln!(out, "    {}", sentence(words));
    say(&format!("{}: {}", way_words(planned, moves.len()), planned.why))?;
    for (number, told) in moves.iter().enumerate() {
        say(&format!("move {}, {told}", number + 1))?;
    }
    if let Some(words) = planned.copied.and_then(|copied| copied.words()) {
        say(&words)?;
    }
    say(&verdict_words(segment, planned))?;
    for visit in &planned.visits {
        say(&visit_words(visit))?;
    }
    if let Some(tight) = tightest(segment, planned) {
        let at = place(clip, tight.frame);
        // Less than a tenth of a px is what a rounded window leaves.
        let room = if tight.spare_px >= 0.05 {
            format!("has {} px to spare", px(tight.spare_px))
        } else if tight.spare_px > -0.05 {
            "is just kept".to_owned()
        } else {
            format!("is {} px short", px(-tight.spare_px))
        };
        say(&format!("the tightest moment is {at}: the margin at the {} {room}", tight.side))?;
    }
    say(&softest_words(&planned.softest))?;
    if let Some(secs) = planned.peak.secs_per_width {
        let at = place(clip, planned.peak.frame);
        say(&format!("it is fastest at {at}: one width in {secs:.1} s of timeline"))?;
    }
    let clauses = planned.clauses.iter().map(|note| format!("clause {}", note.words));
    let held = level_words(&planned.rotation_degrees)
        .into_iter()
        .chain(planned.travel.as_ref().map(travel_words))
        .chain(turns_words(&planned.turns))
        .chain(unproven_words(planned))
        .chain(planned.steady.map(|steady| steady.words()))
        .chain(planned.lead.as_ref().map(LeadNote::words))
        .chain(planned.smear.map(|smear| smear.words()));
    let headroom = headroom(entry, segment, planned);
    for words in headroom.map(|least| least.words(clip)).into_iter().chain(clauses).chain(held) {
        say(&words)?;
    }
    let advice = advice(segment, planned);
    let to_do = advice.iter().map(String::as_str);
    let to_do: Vec<&str> = to_do.chain(headroom.and_then(|least| least.remedy())).collect();
    for words in &to_do {
        say(&format!("to do: {words}"))?;
    }
    if to_do.is_empty() {
        say("nothing has to be done about it")?;
    }
    Ok(())
}

/// How soft a path is where it is softest.
fn softest_words(softest: &Softness) -> String {
    let (enlargement, band) = (softest.enlargement, softest.band);
    match &softest.measured {
        None => format!("it is enlarged {enlargement:.2} times at most: {band}"),
        Some(measured) => format!(
            "where it is softest it is enlarged {enlargement:.2} times and as soft as {:.2} times, since MTF50 {:.3} cycles/px was \
             measured there: {band}",
            measured.as_soft_as, measured.mtf50_cycles_per_px
        ),
    }
}

/// What the window does.
fn way_words(planned: &PlannedSegment, moves: usize) -> String {
    let words = match planned.way {
        Way::Hold => "the window stands still",
        Way::Moves if moves == 0 => "the window stands still",
        Way::Moves => {
            return format!(
                "the window stands still, and moves {} in between",
                if moves == 1 { "once".to_owned() } else { format!("{moves} times") }
            );
        }
        Way::Follow => "the window follows the subject",
    };
    words.to_owned()
}

fn verdict_words(segment: &Segment, planned: &PlannedSegment) -> String {
    let share = inside_share_words(segment, planned);
    match planned.verdict {
        Some(Verdict::Fits) if planned.short_frames.is_empty() => {
            let known = known_words(segment);
            format!("it fits: all of it is inside on every frame of the subject{known}")
        }
        Some(Verdict::Fits) => format!("it fits: {share}"),
        Some(Verdict::Tight) => format!("it is tight: {share}"),
        Some(Verdict::Leaves) => format!("the subject is let go: {share}"),
        Some(Verdict::DoesNotFit) | None => share,
    }
}

/// What a person should do about a path, the most pressing first.
fn advice(segment: &Segment, planned: &PlannedSegment) -> Vec<String> {
    let mut advice = Vec::new();
    if planned.verdict.is_none() {
        advice.push("mark the subject at a few frames, and the path is assessed".to_owned());
    }
    if planned.verdict == Some(Verdict::Tight) {
        advice.push(format!(
            "look at frame {}; if what is outside there is needed, keep smaller margins, use fewer frames, or take \
             another shape",
            planned.telling.worst
        ));
    }
    // Of equally long ones the first.
    let longest =
        planned.visits.iter().rev().max_by_key(|visit| visit.inside[1].0 - visit.inside[0].0);
    if let Some(visit) = longest {
        let [first, last] = visit.inside;
        advice.push(format!("if the subject is not to leave, use frames {first} to {last} only"));
    }
    if let Some(cut) = &segment.cut {
        advice.push(format!(
            "look at the cut before frame {}; if there is to be none, use one side of it only",
            cut.frame
        ));
    }
    if let Some(smear) = planned.smear.filter(super::SmearNote::is_to_be_looked_at) {
        advice.push(format!(
            "look at frame {} at full size; next take, expose for a shorter time",
            smear.frame
        ));
    }
    advice.extend(soft_advice(planned.softest.band).map(str::to_owned));
    if planned.pan_caution {
        advice.push(format!(
            "watch it about frame {} at full speed; if it judders, play it slower",
            planned.peak.frame
        ));
    }
    if planned.copied.is_some_and(|copied| copied.moved_back.is_some()) {
        advice.push("compare it with the clip that it has its path from".to_owned());
    }
    if let Some(frame) = middle_of_untracked(segment, planned) {
        advice.push(format!(
            "mark the subject at frame {frame}, or mark it gone; nothing is known of it there"
        ));
    }
    advice
}

/// What a softness asks of a person.
const fn soft_advice(band: Band) -> Option<&'static str> {
    match band {
        Band::Hero | Band::Fine => None,
        Band::LookAtIt => Some("look at it at full size where it will be seen"),
        Band::ShortShots => Some("keep it short, or deliver it in a smaller raster"),
        Band::PhoneOnly => Some("deliver it for phones only, and tell the client"),
        Band::DoNotDeliver => {
            Some("deliver it in a smaller raster, or take it again with more pixels in the frame")
        }
    }
}

/// The middle of the longest stretch of used frames on which the subject is not tracked.
fn middle_of_untracked(segment: &Segment, planned: &PlannedSegment) -> Option<FrameIndex> {
    let frames = segment.with_handles.frames().zip(planned.tracked.iter().copied());
    let used: Vec<(FrameIndex, bool)> =
        frames.filter(|(frame, _)| segment.used.contains(*frame)).collect();
    let stretches = used.chunk_by(|a, b| a.1 == b.1).filter(|stretch| !stretch[0].1);
    // Of equally long ones the first.
    let longest = stretches.rev().max_by_key(|stretch| stretch.len())?;
    Some(longest[longest.len() / 2].0)
}

fn write_refused(clip: &ClipPlan, refused: &RefusedSegment, out: &mut String) -> fmt::Result {
    writeln!(out, "    It does not fit: {}.", refused.words)?;
    if refused.worst.missing_px > 0.0 {
        writeln!(
            out,
            "    In the best attempt the tightest moment is {}: {} px are missing.",
            place(clip, refused.worst.frame),
            px(refused.worst.missing_px)
        )?;
    }
    for note in &refused.clauses {
        writeln!(out, "    {}", sentence(&format!("in the best attempt, clause {}", note.words)))?;
    }
    write_remedies(&refused.remedies, out)
}

fn write_remedies(remedies: &[RemedyNote], out: &mut String) -> fmt::Result {
    match remedies {
        [] => writeln!(out, "    Nothing that was tried would mend it."),
        [only] => writeln!(out, "    What would mend it: {}.", only.words),
        several => {
            writeln!(out, "    What would mend it, the cheapest first:")?;
            for remedy in several {
                writeln!(out, "      - {}", remedy.words)?;
            }
            Ok(())
        }
    }
}

/// With a capital and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let rest = letters.as_str();
    let stop = if rest.ends_with(['.', ':']) { "" } else { "." };
    format!("{}{rest}{stop}", first.unwrap_or_default())
}
