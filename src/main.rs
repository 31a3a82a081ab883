//! The `lookroom` command: arguments in, messages, progress and an exit status out. All the work is the
//! library's.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the command is what speaks")]

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
