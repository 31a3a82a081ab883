use super::{
    Ending,
    failure::{Failure, print_faults_as_json},
    json::print_json,
};
use clap::Args;
use lookroom::tasks::{
    HeldAnswer, ModeAnswer, ModesAnswer, MustAnswer, ShapeAnswer, compare_modes,
};
use std::{
    io::{self, Write},
    path::PathBuf,
};

/// Before mounting: every capture mode of a kit against what the job asks
#[derive(Args)]
#[command(
    long_about = "\
Before mounting: every capture mode of a kit against what the job asks, upright and on its side.

The kit is a table, one capture mode a row, copied from the camera's manual. The brief is the shoot file, of which only \
the deliverables are needed yet; its [[must]] tables say what a mode has to give. The first line says which mode to \
take; if none passes, the nearest misses are told, each with the number that would have to be relaxed.

Exit status: 0 if a mode passes, 3 if none does, 1 if a file cannot be used.",
    after_help = "\
Examples:
  lookroom modes shoot.toml --kit kit.csv
  lookroom modes shoot.toml --json      (the brief names the kit itself: kit = \"kit.csv\")"
)]
pub(super) struct ModesArguments {
    /// The shoot file with the deliverables and what must be had
    #[arg(value_name = "SHOOT.toml")]
    brief: PathBuf,

    /// The capture modes; the brief's own `kit` if not given
    #[arg(long, value_name = "KIT.csv")]
    kit: Option<PathBuf>,

    /// Print the answer as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &ModesArguments) -> Result<Ending, Failure> {
    let compared = compare_modes(&arguments.brief, arguments.kit.as_deref());
    if let (Err(error), true) = (&compared, arguments.json) {
        print_faults_as_json(error)?;
    }
    let answer = compared?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&answer, &mut out)?;
    } else {
        print(&answer, &mut out)?;
    }
    Ok(if answer.passes { Ending::Done } else { Ending::NothingPasses })
}

fn print(answer: &ModesAnswer, out: &mut impl Write) -> io::Result<()> {
    print_verdict(answer, out)?;
    print_table(answer, out)?;
    writeln!(
        out,
        "E is the enlargement of the largest window of each shape, an inside crop taken off; below it the room that window leaves \
         in the frame. * marks what is asked and not had, or cannot be told."
    )?;
    print_viewers(answer, out)?;
    print_notes(answer, out)
}

fn print_verdict(answer: &ModesAnswer, out: &mut impl Write) -> io::Result<()> {
    let mode = |place: &usize| &answer.modes[*place];
    let Some(first) = answer.ranked.first().map(mode) else {
        return writeln!(out, "there is no mode to compare");
    };
    if !answer.passes {
        writeln!(out, "no mode passes; the nearest misses, nearest first:")?;
        for near in answer.ranked.iter().map(mode) {
            writeln!(out, "  {}: {}", title(near), misses(near, &answer.musts).join("; "))?;
        }
        return Ok(());
    }
    let others = match answer.ranked.len() {
        1 => "the only one that passes".to_owned(),
        count if answer.musts.is_empty() => {
            format!("the sharpest of {count}; nothing is asked by [[must]]")
        }
        count => format!("the sharpest of {count} that pass"),
    };
    let figures: Vec<String> = first
        .shapes
        .iter()
        .map(|shape| {
            let enlargement = shape.softness.enlargement;
            format!("{} E {enlargement:.2} (room {})", shape.deliverable, room(shape))
        })
        .collect();
    writeln!(out, "{}: {others}; {}", title(first), figures.join(", "))
}

fn title(mode: &ModeAnswer) -> String {
    format!("{} {}, {}", mode.camera, mode.mode, mode.way_up)
}

/// What a mode does not give, each with the number that would have to be relaxed.
fn misses(mode: &ModeAnswer, musts: &[MustAnswer]) -> Vec<String> {
    let unmet = musts.iter().zip(&mode.held).filter(|(_, held)| held.answer != "met");
    unmet.map(|(must, held)| miss(must, held)).collect()
}

fn miss(must: &MustAnswer, held: &HeldAnswer) -> String {
    let name = must.deliverable.as_deref().unwrap_or_default();
    let instead = held.instead.as_ref().map_or(String::new(), |instead| {
        format!(" (as {} E {:.3})", instead.deliverable, instead.enlargement)
    });
    let what = match must.what {
        "steady-enlargement" => format!("{name} steady"),
        "spare-across" => format!("{name} room across"),
        "spare-down" => format!("{name} room up and down"),
        "slow-motion" => "slow motion".to_owned(),
        _ => name.to_owned(),
    };
    let number = |value: f64| match must.what {
        "spare-across" | "spare-down" => format!("{:.1} %", 100.0 * value),
        "slow-motion" => format!("{}x", trimmed(value)),
        _ => format!("E {value:.3}"),
    };
    let relaxed = match (held.answer, &held.value) {
        ("no-field-of-view", _) => {
            "no field of view in the kit, so that it cannot be told".to_owned()
        }
        (_, None) => "no window passes at all".to_owned(),
        (_, Some(value)) => value.words(number),
    };
    let side = if must.what.ends_with("enlargement") { "at most" } else { "at least" };
    format!("{what} {relaxed}, asked {side} {}{instead}", number(must.limit))
}

/// A number without needless decimals.
fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn print_table(answer: &ModesAnswer, out: &mut impl Write) -> io::Result<()> {
    let Some(first) = answer.modes.first() else { return Ok(()) };
    let title_width = answer.modes.iter().map(|mode| title(mode).len()).max().unwrap_or(0);
    let width = |shape: &ShapeAnswer| shape.deliverable.len().max(9);
    write!(out, "\n{:title_width$}  {:>7}", "mode", "slow")?;
    for shape in &first.shapes {
        write!(out, "  {:>1$}", shape.deliverable, width(shape))?;
    }
    writeln!(out)?;
    for mode in &answer.modes {
        let slow =
            format!("{}x{}", trimmed(mode.slow_motion), star(mode, answer, &["slow-motion"], None));
        write!(out, "{:title_width$}  {slow:>7}", title(mode))?;
        for shape in &mode.shapes {
            let missed = star(
                mode,
                answer,
                &["enlargement", "steady-enlargement"],
                Some(&shape.deliverable),
            );
            let cell = format!("{:.2}{missed}", shape.softness.enlargement);
            write!(out, "  {cell:>0$}", width(shape))?;
        }
        write!(out, "\n{:title_width$}  {:>7}", "", "")?;
        for shape in &mode.shapes {
            let missed =
                star(mode, answer, &["spare-across", "spare-down"], Some(&shape.deliverable));
            let cell = format!("{}{missed}", room(shape));
            write!(out, "  {cell:>0$}", width(shape))?;
        }
        writeln!(out)?;
        if !answer.musts.is_empty() && !mode.passes {
            writeln!(out, "    fails: {}", misses(mode, &answer.musts).join("; "))?;
        }
    }
    Ok(())
}

/// The room of a shape in the direction in which it has some.
fn room(shape: &ShapeAnswer) -> String {
    let (across, down) = (100.0 * shape.spare_across, 100.0 * shape.spare_down);
    if across > down {
        format!("{across:.0} % wide")
    } else if down > 0.0 {
        format!("{down:.0} % high")
    } else {
        "none".to_owned()
    }
}

/// A star where something of these kinds is asked of the deliverable and not had.
fn star(mode: &ModeAnswer, answer: &ModesAnswer, kinds: &[&str], of: Option<&str>) -> &'static str {
    let is_missed = answer.musts.iter().zip(&mode.held).any(|(must, held)| {
        kinds.contains(&must.what) && must.deliverable.as_deref() == of && held.answer != "met"
    });
    if is_missed { "*" } else { "" }
}

/// Says of the first mode what of its softness is seen where.
fn print_viewers(answer: &ModesAnswer, out: &mut impl Write) -> io::Result<()> {
    let Some(first) = answer.ranked.first().map(|place| &answer.modes[*place]) else {
        return Ok(());
    };
    for (place, viewer) in answer.viewers.iter().enumerate() {
        let soft = first.shapes.iter().filter(|shape| shape.shows.get(place) == Some(&true));
        let soft: Vec<&str> = soft.map(|shape| shape.deliverable.as_str()).collect();
        let told = if soft.is_empty() {
            "no shape looks soft there".to_owned()
        } else {
            format!("soft there: {}", soft.join(", "))
        };
        writeln!(
            out,
            "{}: an eye tells {:.0} px across apart; of {}, {told}",
            viewer.name,
            viewer.resolvable_px,
            title(first)
        )?;
    }
    Ok(())
}

fn print_notes(answer: &ModesAnswer, out: &mut impl Write) -> io::Result<()> {
    let mut told = Vec::new();
    for mode in &answer.modes {
        let name = (&mode.camera, &mode.mode);
        if told.contains(&name) {
            continue;
        }
        told.push(name);
        if let Some(crop) = mode.inside_crop {
            writeln!(
                out,
                "note: {} {} crops {} inside the camera, and E is stated with that",
                mode.camera,
                mode.mode,
                crop.as_written()
            )?;
        }
        if !mode.is_whole_factor {
            writeln!(
                out,
                "note: {} {} at {} frames/s is no whole multiple of the timeline's {}: at real time frames are dropped unevenly",
                mode.camera, mode.mode, mode.rate, answer.timeline_rate
            )?;
        }
    }
    Ok(())
}
