//! Child programs: started with arguments that no shell reads, read through a pipe, ended with us.
//!
//! What a child writes to standard output is streamed to the caller and never gathered beyond a stated
//! size. What it writes to standard error is drained all the time, so that it cannot block, and only its
//! last lines are kept, to be quoted when it fails. A child that is dropped is killed and reaped, and one
//! whose parent is killed does not outlive it (`guard`). Feeding a child through its standard input comes
//! with the first room that needs it. Work that needs no child is given to all cores and taken back in order.

use std::{io, process::ExitStatus, time::Duration};

mod guard;
mod in_order;
mod job;
mod last_lines;
mod running;

pub(crate) use in_order::work_in_order;
pub use job::{Finished, Job};
pub use last_lines::{LineFate, LineTap};
pub use running::Running;

/// What can go wrong with a child program.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ProcessError {
    /// There is no such program.
    #[error("the program `{program}` was not found")]
    NotFound {
        /// The program as it was asked for: a name that is looked up on the PATH, or a path.
        program: String,
    },
    /// The program is there and could not be started.
    #[error("the program `{program}` could not be started")]
    NotStarted {
        /// The program as it was asked for.
        program: String,
        /// Why.
        source: io::Error,
    },
    /// The pipe to the program broke.
    #[error("the output of `{program}` could not be read")]
    Pipe {
        /// The program as it was asked for.
        program: String,
        /// Why.
        source: io::Error,
    },
    /// The program ran and reported failure.
    #[error("`{program}` failed ({status}){}", quoted(last_lines))]
    Failed {
        /// The program as it was asked for.
        program: String,
        /// How it ended.
        status: ExitStatus,
        /// The last lines that it wrote to standard error, oldest first; the message quotes the last.
        last_lines: Vec<String>,
    },
    /// A short job was not done in time; the program was ended.
    #[error("`{program}` was not done after {} s and was ended", limit.as_secs_f64())]
    TimedOut {
        /// The program as it was asked for.
        program: String,
        /// How long it had.
        limit: Duration,
    },
    /// A short job wrote more than it should; the program was ended.
    #[error("`{program}` wrote more than {limit_bytes} bytes and was ended")]
    TooMuchOutput {
        /// The program as it was asked for.
        program: String,
        /// How much it may write.
        limit_bytes: usize,
    },
}

fn quoted(last_lines: &[String]) -> String {
    last_lines.last().map(|line| format!(", saying `{line}`")).unwrap_or_default()
}
