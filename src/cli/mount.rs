use super::{
    Ending,
    endurance::{print_endurance, print_exposure, print_rounds},
    failure::{Failure, print_faults_as_json},
};
use clap::Args;
use lookroom::{
    lens::Between,
    mount::CAUTIONS,
    plan::px,
    tasks::{
        MountAnswer, MountShapeAnswer, MountsAnswer, RemedyAnswer, SubjectAnswer, TaskError,
        mount_sheets, predict_mounts,
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

Of a lens whose mapping nobody knows, every answer is told from-to. What depends on px alone does not depend on the lens.

Exit status: 0 if every shape of every mount fits or one does, 3 if no shape of any mount does.",
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
        serde_json::to_writer_pretty(&mut out, &answer).map_err(io::Error::from)?;
        writeln!(out)?;
    } else {
        print(&answer, &mut out)?;
        for line in written.iter().flatten() {
            writeln!(out, "{line}")?;
        }
    }
    let fits = answer.mounts.iter().flat_map(|mount| &mount.shapes).any(|shape| shape.fits);
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
    let sky = || "beyond the horizon".to_owned();
    let metres = |ground: &Option<Between>| ground.map_or_else(sky, |m| format!("{m:.1} m"));
    writeln!(
        out,
        "  horizon {}; the ground is seen from {} to {}",
        mount.horizon_row.map_or_else(|| "not drawn".to_owned(), |row| format!("at row {row:.1}")),
        metres(&mount.ground_m[0]),
        metres(&mount.ground_m[1])
    )?;
    if let Some(subject) = &mount.subject {
        print_subject(subject, out)?;
    }
    for shape in &mount.shapes {
        print_shape(shape, mount, out)?;
    }
    match &mount.remedy {
        Some(remedy) => writeln!(out, "  so that every shape fits: {}", remedy_words(remedy))?,
        None if mount.passes => {}
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
        if let (Some(degrees), Some(px)) = (&at.degrees_a_second, &at.px_a_second) {
            write!(out, "; passes at {degrees:.1} degrees/s, {px:.0} px/s")?;
        }
        if let Some(blur) = &at.blur_px {
            write!(out, ", blur {blur:.1} px")?;
        }
        writeln!(out)?;
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
    if let Some(degrees) = subject.ground_degrees_a_second {
        writeln!(
            out,
            "    the ground in the middle of the picture rushes by at {degrees:.0} degrees/s; at half the height at twice that"
        )?;
    }
    Ok(())
}

fn print_shape(
    shape: &MountShapeAnswer,
    mount: &MountAnswer,
    out: &mut impl Write,
) -> io::Result<()> {
    write!(out, "  {}: ", shape.deliverable)?;
    match (&shape.window_px, shape.fits) {
        (Some([left, top, width, height]), true) => {
            write!(out, "{} x {} px at {},{}", px(*width), px(*height), px(*left), px(*top))?;
            if let Some([from, to]) = shape.top_from_to_px.filter(|[from, to]| px(*from) != px(*to))
            {
                write!(out, " (top from {} to {})", px(from), px(to))?;
            }
            write!(out, ", E {:.3}, {}", shape.enlargement, shape.band)?;
        }
        _ => {
            let [across, down] = &shape.lacks_px;
            let lacks = |lack: &Between, way: &str| {
                (lack.to() > 0.0).then(|| format!("{} px {way}", lack.words(px)))
            };
            let missing: Vec<String> = [lacks(across, "across"), lacks(down, "up and down")]
                .into_iter()
                .flatten()
                .collect();
            let depends =
                if shape.depends_on_lens { " if the lens is the wider drawing one" } else { "" };
            write!(out, "does not fit{depends}: {} missing", missing.join(" and "))?;
        }
    }
    if let Some(inside) = shape.horizon_inside_px {
        let (word, by) = if inside.from() >= 0.0 {
            ("in", inside.words(px))
        } else if inside.to() < 0.0 {
            let outside = Between::all([-inside.to(), -inside.from()]).unwrap_or(inside);
            ("out", outside.words(px))
        } else {
            ("in or out, as the lens is,", inside.words(px))
        };
        write!(out, "; horizon {word} by {by} px")?;
    }
    writeln!(out)?;
    if let Some(twin) = twin_before(shape, mount) {
        return writeln!(
            out,
            "    the same window as {}: the subject in it as there",
            twin.deliverable
        );
    }
    for (place, at) in mount.subject.iter().flat_map(|subject| subject.at.iter().enumerate()) {
        let told = subject_in_shape(shape, place);
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
fn subject_in_shape(shape: &MountShapeAnswer, place: usize) -> Vec<String> {
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
        told.push(format!(
            "in from {:.2} s before the middle to {:.2} s after it, wholly for {:.2} s",
            -crossing.nose_in_secs, crossing.tail_out_secs, crossing.wholly_inside_secs
        ));
    }
    if let Some(follow) = at(&shape.follow_secs_a_width) {
        told.push(follow_words(&follow, shape.pan_limits_secs));
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

fn follow_words(secs: &Between, [caution, hard]: [Option<f64>; 2]) -> String {
    let is_under = |limit: Option<f64>| limit.is_some_and(|limit| secs.from() < limit);
    let verdict = match (is_under(caution), is_under(hard)) {
        (_, true) => format!("faster than the hard limit of {} s, hold", hard.unwrap_or(0.0)),
        (true, false) => format!("faster than {} s, with caution", caution.unwrap_or(0.0)),
        (false, false) => "slow enough".to_owned(),
    };
    format!("following it takes a width in {secs:.2} s at real time: {verdict}")
}

fn remedy_words(remedy: &RemedyAnswer) -> String {
    let tilt = remedy.tilt_down_degrees.map(|degrees| {
        let way = if degrees > 0.0 { "down" } else { "up" };
        format!("tilt {:.1} degrees {way}", degrees.abs())
    });
    let raise = remedy.raise_m.map(|metres| {
        let way = if metres > 0.0 { "raise" } else { "lower" };
        format!("{way} the camera by {:.0} cm", 100.0 * metres.abs())
    });
    let back = remedy.back_m.map(|metres| format!("go {metres:.1} m further back"));
    [tilt, raise, back].into_iter().flatten().collect::<Vec<_>>().join(", or ")
}
