use super::{
    Ending,
    endurance::{print_endurance, print_exposure, print_rounds},
    failure::{Failure, print_faults_as_json},
    json::print_json,
};
use clap::Args;
use lookroom::{
    lens::Between,
    mount::CAUTIONS,
    plan::px,
    tasks::{
        CrossingAnswer, MountAnswer, MountShapeAnswer, MountsAnswer, SubjectAnswer,
        SubjectAtAnswer, TaskError, UnmetAnswer, mount_sheets, predict_mounts, remedy_words,
    },
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// Before mounting: what each camera will see from where it is to be fixed
#[derive(Args)]
#[command(
    long_about = "\
Before mounting: what each camera of a brief will see from where it is to be fixed. The horizon's row and the subject's \
place and size in every window, when it comes in and goes out, how fast it passes near and far, the blur, how long card and \
battery last, and what to change so that every shape keeps what it must: degrees of tilt, centimetres of height, metres back.

Of a lens whose mapping nobody knows, what depends on it is told from-to, and a window fits if it keeps everything through \
every lens that there may be. The frame, the size of a shape's largest window, its E and its room in px do not depend on the lens.

The enlargements that a [[must]] of the brief asks, and a mount that shakes, are held against every window too; room \
and slow motion are the mode's.

Exit status: 0 if any shape of any mount fits whose mode does what is asked of it, 3 if none does.",
    after_help = "\
Examples:
  lookroom mount brief.toml
  lookroom mount brief.toml --only bridge --kit kit.csv
  lookroom mount brief.toml --sheet
  lookroom aim --from 4000x3000 --fov-horizontal 90 --to 9:16 --subject-top 300 --headroom 0.12   (on location, from one still)"
)]
pub(super) struct MountArguments {
    /// The shoot file with the deliverables and the mounts
    #[arg(value_name = "SHOOT.toml")]
    brief: PathBuf,

    /// The capture modes; the brief's own `kit` if not given
    #[arg(long, value_name = "KIT.csv")]
    kit: Option<PathBuf>,

    /// Only these mounts, separated by commas
    #[arg(long, value_name = "NAME", value_delimiter = ',')]
    only: Vec<String>,

    /// Write a page for each mount as well, MOUNT_mount-sheet.html and .png: to print, and for the phone
    #[arg(long)]
    sheet: bool,

    /// Folder to write the pages to, instead of the shoot file's own
    #[arg(long, value_name = "FOLDER", requires = "sheet")]
    out: Option<PathBuf>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &MountArguments) -> Result<Ending, Failure> {
    let predicted = predicted(arguments);
    if let (Err(error), true) = (&predicted, arguments.json) {
        print_faults_as_json(error)?;
    }
    let (answer, written) = predicted?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print(&answer, &mut out)?;
        for line in written.iter().flatten() {
            writeln!(out, "{line}")?;
        }
    }
    let fits = answer
        .mounts
        .iter()
        .filter(|mount| mount.unmet.is_empty())
        .flat_map(|mount| &mount.shapes)
        .any(|shape| shape.fits);
    Ok(if fits { Ending::Done } else { Ending::NothingPasses })
}

/// The answer, and what was written of it if that is asked for.
fn predicted(arguments: &MountArguments) -> Result<(MountsAnswer, Option<Vec<String>>), TaskError> {
    let (brief, kit) = (&arguments.brief, arguments.kit.as_deref());
    if !arguments.sheet {
        return Ok((predict_mounts(brief, kit, &arguments.only)?, None));
    }
    let done = mount_sheets(brief, kit, &arguments.only, arguments.out.as_deref())?;
    let mut lines = vec![format!("WRITTEN to {}", done.folder.display())];
    let files = done.sheets.iter().map(|sheet| format!("  {}, {}", sheet.page, sheet.picture));
    lines.extend(files);
    lines.extend(done.notes.iter().map(|note| match &note.new {
        Some(new) => {
            format!("  {} was changed by hand and is left alone; the new one is {new}", note.kept)
        }
        None => format!("  a changed sheet that is no longer written is now {}", note.kept),
    }));
    Ok((done.answer, Some(lines)))
}

fn print(answer: &MountsAnswer, out: &mut impl Write) -> io::Result<()> {
    for mount in &answer.mounts {
        print_mount(mount, out)?;
        writeln!(out)?;
    }
    if let Some(rounds) = &answer.rounds {
        print_rounds(rounds, out)?;
    }
    for line in CAUTIONS {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

fn print_mount(mount: &MountAnswer, out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "{}: {} {}, {}, {} at {} frames/s, {:.2}x slow motion",
        mount.name,
        mount.camera,
        mount.mode,
        mount.way_up,
        mount.shown,
        mount.rate,
        mount.slow_motion
    )?;
    writeln!(
        out,
        "  {} m up, {}{}; {} ({}), {:.1} x {:.1} degrees",
        mount.height_m,
        tilt_words(mount.tilt_down_degrees),
        roll_words(mount.roll_degrees),
        mount.lens,
        mount.lens_from,
        mount.fov_degrees[0],
        mount.fov_degrees[1]
    )?;
    print_ground(mount, out)?;
    if let Some(subject) = &mount.subject {
        print_subject(subject, out)?;
    }
    for shape in &mount.shapes {
        print_shape(shape, mount, out)?;
    }
    for unmet in &mount.unmet {
        writeln!(out, "  the mode does not do: {}", unmet.words())?;
    }
    match &mount.remedy {
        Some(remedy) => {
            writeln!(out, "  so that every shape fits: {}", remedy_words(remedy, " degrees"))?;
        }
        None if mount.have_rooms => {}
        None => writeln!(
            out,
            "  no single change of tilt, height or distance makes every shape fit: give one up, or take another lens or mode"
        )?,
    }
    if let Some(exposure) = &mount.exposure {
        print_exposure(exposure, out)?;
    }
    print_endurance(&mount.endurance, out)
}

/// The horizon and the ground that is seen, and what depends on the lens.
fn print_ground(mount: &MountAnswer, out: &mut impl Write) -> io::Result<()> {
    let sky = || "beyond the horizon".to_owned();
    let metres = |place: usize| {
        let wide = mount.ground_across_m[place].map(|across| format!(" ({across:.1} m wide)"));
        let wide = wide.unwrap_or_default();
        mount.ground_m[place].map_or_else(sky, |m| format!("{m:.1} m{wide}"))
    };
    writeln!(
        out,
        "  horizon {}; the ground is seen from {} to {}",
        mount.horizon_row.map_or_else(|| "not drawn".to_owned(), |row| format!("at row {row:.1}")),
        metres(0),
        metres(1)
    )?;
    if mount.depends_on_lens {
        writeln!(
            out,
            "  what is told from-to depends on the lens; each window keeps everything through both, so that its px and its E are one figure"
        )?;
    }
    Ok(())
}

fn tilt_words(degrees: f64) -> String {
    if degrees > 0.0 {
        format!("tilted {degrees:.1} degrees down")
    } else if degrees < 0.0 {
        format!("tilted {:.1} degrees up", -degrees)
    } else {
        "level".to_owned()
    }
}

fn roll_words(degrees: f64) -> String {
    if degrees > 0.0 {
        format!(", rolled {degrees:.1} degrees clockwise")
    } else if degrees < 0.0 {
        format!(", rolled {:.1} degrees counterclockwise", -degrees)
    } else {
        String::new()
    }
}

fn print_subject(subject: &SubjectAnswer, out: &mut impl Write) -> io::Result<()> {
    for at in &subject.at {
        write!(out, "  {} at {} m: ", subject.name, at.distance_m)?;
        match (&at.top_row, &at.bottom_row, &at.width_px) {
            (Some(top), Some(bottom), Some(width)) => {
                write!(out, "top row {top:.1}, bottom row {bottom:.1}, {width:.0} px wide")?;
            }
            _ => write!(out, "not drawn by the lens")?,
        }
        print_passing(at, out)?;
    }
    if let (Some(near), Some(far)) = (subject.at.first(), subject.at.last()) {
        let speeds = near.px_a_second.zip(far.px_a_second);
        if let Some((fast, slow)) = speeds.filter(|_| near.distance_m < far.distance_m) {
            writeln!(
                out,
                "    close by, at {} m, it moves {:.1} times as far in the picture each second as at {} m",
                near.distance_m,
                fast.from() / slow.from(),
                far.distance_m
            )?;
        }
    }
    if let Some(rush) = subject.ground_rush {
        writeln!(
            out,
            "    the ground in the middle of the picture rushes by at {:.1} degrees/s looking along the way, {:.1} looking square to it; at half the height at twice that",
            rush.along_degrees_a_second, rush.abeam_degrees_a_second
        )?;
    }
    Ok(())
}

fn print_passing(at: &SubjectAtAnswer, out: &mut impl Write) -> io::Result<()> {
    if let (Some(degrees), Some(px)) = (&at.degrees_a_second, &at.px_a_second) {
        write!(out, "; passes at {degrees:.1} degrees/s, {px:.0} px/s")?;
    }
    if let Some(blur) = &at.blur_px {
        write!(out, ", blur {blur:.1} px")?;
    }
    if let Some(across) = &at.ground_across_m {
        write!(out, "; the frame is {across:.1} m of ground wide there")?;
    }
    writeln!(out)
}

fn print_shape(
    shape: &MountShapeAnswer,
    mount: &MountAnswer,
    out: &mut impl Write,
) -> io::Result<()> {
    write!(out, "  {}: ", shape.deliverable)?;
    if let Some([left, top, width, height]) = shape.window_px {
        write!(out, "{} x {} px at {},{}", px(width), px(height), px(left), px(top))?;
        if let Some([from, to]) = shape.top_from_to_px.filter(|[from, to]| px(*from) != px(*to)) {
            write!(out, " (top from {} to {})", px(from), px(to))?;
        }
        write!(out, ", E {:.3}{}, {}", shape.enlargement, shape.because, shape.band)?;
    } else if shape.depends_on_lens {
        write!(out, "does not fit through every lens: {}", shape.through_words().join("; "))?;
    } else {
        write!(out, "does not fit: {}", shape.missing_words())?;
    }
    if let Some(horizon) = shape.horizon_words() {
        write!(out, "; {horizon}")?;
    }
    writeln!(out)?;
    if !shape.unmet.is_empty() {
        let unmet: Vec<String> = shape.unmet.iter().map(UnmetAnswer::words).collect();
        writeln!(out, "    does not do: {}", unmet.join("; "))?;
    }
    // Of one that has the window of another, only what is not the same is told.
    let twin = twin_before(shape, mount);
    if let Some(twin) = twin {
        writeln!(
            out,
            "    the same window as {}: what is not told here is as there",
            twin.deliverable
        )?;
    }
    for (place, at) in mount.subject.iter().flat_map(|subject| subject.at.iter().enumerate()) {
        let mut told = subject_in_shape(shape, place, mount.slow_motion);
        if let Some(twin) = twin {
            let there = subject_in_shape(twin, place, mount.slow_motion);
            told.retain(|line| !there.contains(line));
        }
        if !told.is_empty() {
            writeln!(out, "    at {} m: {}", at.distance_m, told.join("; "))?;
        }
    }
    if let Some(steady) = &shape.steady_enlargement {
        writeln!(out, "    least E that leaves room for the shake: {steady:.3}")?;
    }
    Ok(())
}

/// The first shape before this one that has the same window, and so the same subject in it.
fn twin_before<'a>(
    shape: &MountShapeAnswer,
    mount: &'a MountAnswer,
) -> Option<&'a MountShapeAnswer> {
    let first = mount.shapes.iter().find(|other| other.window_px == shape.window_px)?;
    (mount.subject.is_some() && first.window_px.is_some() && first.deliverable != shape.deliverable)
        .then_some(first)
}

/// What is to be said of the subject at one distance in one shape.
fn subject_in_shape(shape: &MountShapeAnswer, place: usize, slow_motion: f64) -> Vec<String> {
    let mut told = Vec::new();
    let percent = |share: &Between| share.words(|share| format!("{:.1}", 100.0 * share));
    let at = |list: &Vec<Option<Between>>| list.get(place).copied().flatten();
    if let (Some(top), Some(bottom), Some(width)) =
        (at(&shape.subject_top), at(&shape.subject_bottom), at(&shape.subject_width))
    {
        told.push(format!(
            "top {} %, bottom {} % down, {} % of the width",
            percent(&top),
            percent(&bottom),
            percent(&width)
        ));
    }
    if let Some(crossing) = shape.crossing.get(place).copied().flatten() {
        told.push(crossing_words(&crossing));
    }
    if let Some(follow) = at(&shape.follow_secs_a_width) {
        told.push(follow_words(&follow, (slow_motion, shape.pan_limits_secs)));
    }
    if let Some(blur) = at(&shape.blur_share) {
        let [look, hold] = shape.blur_limits;
        let is_over = |limit: Option<f64>| limit.is_some_and(|limit| blur.to() > limit);
        let word = match (is_over(look), is_over(hold)) {
            (_, true) => "hold for it",
            (true, false) => "look at it",
            (false, false) => "fine",
        };
        told.push(format!(
            "blur {} % of the width, {word}",
            blur.words(|s| format!("{:.2}", 100.0 * s))
        ));
    }
    told
}

fn crossing_words(crossing: &CrossingAnswer) -> String {
    let CrossingAnswer { nose_in_secs, tail_out_secs, wholly_inside_secs } = crossing;
    let before = Between::all([-nose_in_secs.to(), -nose_in_secs.from()]).unwrap_or(*nose_in_secs);
    format!(
        "in from {before:.2} s before the middle to {tail_out_secs:.2} s after it, wholly for {wholly_inside_secs:.2} s"
    )
}

/// What a window that follows has for a width, at real time and as slow as the mode can be played.
fn follow_words(secs: &Between, (slow_motion, limits): (f64, [Option<f64>; 2])) -> String {
    let real = format!(
        "following it takes a width in {secs:.2} s at real time: {}",
        follow_verdict(secs.from(), limits)
    );
    if slow_motion <= 1.0 {
        return real;
    }
    let slow = Between::all([secs.from(), secs.to()].map(|s| s * slow_motion)).unwrap_or(*secs);
    format!("{real}; with every frame used in {slow:.2} s: {}", follow_verdict(slow.from(), limits))
}

fn follow_verdict(secs: f64, [caution, hard]: [Option<f64>; 2]) -> String {
    let is_under = |limit: &f64| secs < *limit;
    match (caution.filter(is_under), hard.filter(is_under)) {
        (_, Some(hard)) => format!("faster than the hard limit of {hard} s, hold"),
        (Some(caution), None) => {
            let short = 100.0 * (caution - secs) / caution;
            format!("faster than {caution} s, {short:.1} % short of it, with caution")
        }
        (None, None) => "slow enough".to_owned(),
    }
}
