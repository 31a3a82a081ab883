//! The command's face: one file a subcommand, holding its arguments, its help and what it prints.

mod aim;
mod check;
mod clip;
mod crop;
mod endurance;
mod failure;
mod find;
mod json;
mod lens;
mod marks;
mod modes;
mod mount;
mod plan;
mod progress;
mod reading;
mod sharpness;
mod stills;
mod sync;
mod track;

use clap::{Parser, Subcommand};
use std::{io, process::ExitCode};

use failure::Failure;
use lookroom::tasks::CancelToken;

/// What the command says about itself.
const ABOUT: &str = "Plan crop windows for footage that was shot taller than it is delivered";

const LONG_ABOUT: &str = "\
Plan crop windows for footage that was shot taller than it is delivered.

You mark where the subject is on a few frames; lookroom finds a window for each delivery shape, says whether it \
can be held still or has to follow, how soft each crop is, and which shape this shot cannot have and what would \
mend that. It writes tables an editor can use, and pictures a client can look at. Your own files are never \
changed.";

const AFTER_HELP: &str = "\
Exit status: 0 done (a shape that is refused is an answer), 1 could not be done or not for every file or shape, 2 wrong command line, 3 no \
shape passes at all.

Planning figures only. Local law, the venue's rules and the person responsible for safety on location decide; \
if they differ, they win.";

#[derive(Parser)]
#[command(name = "lookroom", version, about = ABOUT, long_about = LONG_ABOUT, after_help = AFTER_HELP)]
struct Arguments {
    #[command(subcommand)]
    wanted: Wanted,
}

#[derive(Subcommand)]
enum Wanted {
    Plan(plan::PlanArguments),
    Clip(clip::ClipArguments),
    Find(find::FindArguments),
    Marks(marks::MarksArguments),
    Track(track::TrackArguments),
    Stills(stills::StillsArguments),
    Check(check::CheckArguments),
    Modes(modes::ModesArguments),
    Mount(mount::MountArguments),
    Aim(aim::AimArguments),
    Crop(crop::CropArguments),
    Sharpness(sharpness::SharpnessArguments),
    Sync(sync::SyncArguments),
}

/// How a command ended when it could be done.
enum Ending {
    /// With an answer.
    Done,
    /// With the answer that nothing passes.
    NothingPasses,
    /// With answers, and with some that could not be had.
    NotAll,
}

/// Runs the command.
pub(crate) fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are no faults; a pipe that closes while they are printed is none either.
            let _ = error.print();
            return if error.use_stderr() { ExitCode::from(2) } else { ExitCode::SUCCESS };
        }
    };
    let cancel = CancelToken::default();
    let on_interrupt = cancel.clone();
    // Without a handler an interrupt ends us at once, which leaves at most a temporary file. So does a second
    // one: a decoder that hangs, on a card that was pulled, keeps the first from being heard, and ends with us.
    let _ = ctrlc::set_handler(move || {
        if on_interrupt.is_cancelled() {
            std::process::exit(1);
        }
        on_interrupt.cancel();
    });
    let ended = match arguments.wanted {
        Wanted::Plan(arguments) => plan::run(&arguments, &cancel),
        Wanted::Clip(arguments) => clip::run(&arguments, &cancel),
        Wanted::Find(arguments) => find::run(&arguments, &cancel),
        Wanted::Marks(arguments) => marks::run(&arguments, &cancel),
        Wanted::Track(arguments) => track::run(&arguments, &cancel),
        Wanted::Stills(arguments) => stills::run(&arguments, &cancel),
        Wanted::Check(arguments) => check::run(&arguments, &cancel),
        Wanted::Modes(arguments) => modes::run(&arguments),
        Wanted::Mount(arguments) => mount::run(&arguments),
        Wanted::Aim(arguments) => aim::run(&arguments),
        Wanted::Crop(arguments) => crop::run(&arguments),
        Wanted::Sharpness(arguments) => sharpness::run(&arguments),
        Wanted::Sync(arguments) => sync::run(&arguments),
    };
    match ended {
        Ok(Ending::Done) => ExitCode::SUCCESS,
        Ok(Ending::NothingPasses) => ExitCode::from(3),
        Ok(Ending::NotAll) => ExitCode::FAILURE,
        Err(Failure::Print(error)) if error.kind() == io::ErrorKind::BrokenPipe => {
            ExitCode::SUCCESS
        }
        Err(failure) => {
            failure.print();
            ExitCode::FAILURE
        }
    }
}
