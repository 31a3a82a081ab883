use super::{
    Ending,
    failure::{Failure, print_faults_as_json},
    json::print_json,
    progress::Progress,
};
use clap::Args;
use lookroom::tasks::{CancelToken, CheckedShoot, check_shoot};
use std::path::PathBuf;

/// Read a shoot file, its marks, pins and footage, and tell every fault at once
#[derive(Args)]
#[command(long_about = "\
Read a shoot file, its marks, pins and footage, and tell every fault at once, each with its file and line.

Nothing is planned and nothing is written.")]
pub(super) struct CheckArguments {
    /// The shoot file
    #[arg(value_name = "SHOOT.toml")]
    shoot: PathBuf,

    /// Print what was read as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &CheckArguments, cancel: &CancelToken) -> Result<Ending, Failure> {
    let mut progress = Progress::new();
    let checked = check_shoot(&arguments.shoot, &mut progress, cancel);
    drop(progress);
    if let (Err(error), true) = (&checked, arguments.json) {
        print_faults_as_json(error)?;
    }
    let checked = checked?;
    let mut out = anstream::stdout().lock();
    if arguments.json {
        print_json(&checked, &mut out)?;
    } else {
        print(&checked, &mut out)?;
    }
    Ok(Ending::Done)
}

fn print(checked: &CheckedShoot, out: &mut impl std::io::Write) -> Result<(), Failure> {
    writeln!(out, "no faults; timeline {} frames/s", checked.timeline_rate)?;
    for [name, raster, shape] in &checked.deliverables {
        writeln!(out, "  deliver {name}: {raster}, {shape}")?;
    }
    for clip in &checked.clips {
        writeln!(
            out,
            "  clip {}: {} at {} frames/s, {} frames, {} used; the subject is tracked on {} of them; {} marks, {} pins",
            clip.name,
            clip.raster,
            clip.rate,
            clip.frame_count,
            clip.used_frames,
            clip.tracked_frames,
            clip.mark_count,
            clip.pin_count
        )?;
        for notice in &clip.notices {
            writeln!(out, "    note: {notice}")?;
        }
    }
    Ok(())
}
