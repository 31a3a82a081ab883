use super::{
    Ending,
    failure::{Failure, print_faults_as_json},
    json::print_json,
    progress::Progress,
};
use clap::Args;
use lookroom::{
    plan::{Standing, explain_text},
    tasks::{CancelToken, Overlays, PlanDone, PlanOptions, plan_shoot},
};
use std::{collections::BTreeSet, io::Write as _, path::PathBuf};

/// Plan every clip of a shoot in every shape, and write tables, reports and proof sheets
#[derive(Args)]
#[command(long_about = "\
Plan every clip of a shoot in every shape, and write tables, reports and proof sheets.

For each clip and deliverable lookroom writes:
  CLIP_NAME_every-frame.csv   a window for every frame
  CLIP_NAME_keys.csv          the few rows that straight lines rebuild it from
  CLIP_NAME_conventions.txt   how to read both, in words
  CLIP_NAME_asked.csv         what was asked of each frame, to reckon the plan again
and for each clip CLIP_proof-sheet.png; for the shoot report.txt and report.json.

A file that you changed is left alone: the new one is written beside it as NAME.new.csv and the report says so. \
A file of a shape that is now refused, or a picture that was not asked for again, is removed if you did not \
touch it and moved to set-aside/ if you did. Marks, pins and the shoot file are only read.")]
pub(super) struct PlanArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Folder to write to, instead of the shoot file's own
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,

    /// Draw all windows on these frames too: 0,112,199 or every:25
    #[arg(long, value_name = "FRAMES", value_parser = read_overlays)]
    overlays: Option<Overlays>,

    /// Print what was done, why, and what to do about it, in sentences
    #[arg(long, conflicts_with = "json")]
    explain: bool,

    /// Print the report as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &PlanArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let options = PlanOptions {
        shoot: arguments.shoot.clone(),
        out: arguments.out.clone(),
        overlays: arguments.overlays.clone().unwrap_or_default(),
    };
    let mut progress = Progress::new();
    let done = plan_shoot(&options, &mut progress, cancel);
    drop(progress);
    if let (Err(error), true) = (&done, arguments.json) {
        print_faults_as_json(error)?;
    }
    let done = done?;
    print(arguments, &done)?;
    let entries = done.plan.clips.iter().flat_map(|clip| &clip.entries);
    if entries.flat_map(|entry| &entry.segments).any(|segment| segment.is_uncomputed()) {
        return Ok(Ending::NotAll);
    }
    let passes = done.plan.ranking.iter().any(|ranked| ranked.standing != Standing::NotInThisShape);
    Ok(if passes { Ending::Done } else { Ending::NothingPasses })
}

fn print(arguments: &PlanArguments, done: &PlanDone) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&done.plan, &mut out)?;
        return Ok(());
    }
    if arguments.explain {
        write!(out, "{}", explain_text(&done.plan))?;
        writeln!(
            out,
            "\nThe numbers are in the report and the tables, in {}.",
            done.folder.display()
        )?;
        writeln!(out, "\n{}", done.plan.caution)?;
        return Ok(());
    }
    let limits = done.text.find("\nLIMITS").unwrap_or(done.text.len());
    write!(out, "{}", &done.text[..limits])?;
    writeln!(out, "\nWRITTEN to {}", done.folder.display())?;
    for file in &done.files {
        writeln!(out, "  {file}")?;
    }
    if !done.removed.is_empty() {
        writeln!(out, "REMOVED, since an earlier plan made them and this one does not")?;
        for file in &done.removed {
            writeln!(out, "  {file}")?;
        }
    }
    let report =
        done.files.iter().rfind(|file| file.starts_with("report") && file.ends_with(".txt"));
    if let Some(report) = report {
        writeln!(out, "The limits, and which of them you set, are in {report}.")?;
    }
    writeln!(out, "\n{}", done.plan.caution)?;
    Ok(())
}

fn read_overlays(text: &str) -> Result<Overlays, String> {
    let number = |text: &str| {
        text.trim().parse::<u64>().map_err(|_| {
            format!("`{}` is not a frame number; write 0,112,199 or every:25", text.trim())
        })
    };
    if let Some(step) = text.strip_prefix("every:") {
        return match number(step)? {
            0 => Err("every:0 is no step; the least is every:1".to_owned()),
            step => Ok(Overlays::Every(step)),
        };
    }
    text.split(',').map(number).collect::<Result<BTreeSet<u64>, _>>().map(Overlays::Frames)
}
