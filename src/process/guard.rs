//! What keeps a child from outliving us.
//!
//! A process that is killed outright runs none of its own code any more, so that something else has to end
//! its children. On Unix that is a few lines of the standard shell between us and the program: they wait for
//! the program and, beside it, for the end of a pipe that only we hold open. When we are gone, by whatever
//! way, the system closes the pipe and the shell ends the program. (The system's own ways to ask for this
//! differ from one Unix to the next, work for threads and not processes, or need unsafe code.)
//!
//! The program and its arguments are handed through as they are and are never read as shell text. Both run
//! in a process group of their own: an interrupt from the terminal reaches us alone, and we end the program
//! in our own time.

use std::{
    ffi::OsString,
    path::Path,
    process::{Child, ChildStdin, Command, Stdio},
    thread,
    time::{Duration, Instant},
};

/// `$@` is the program with its arguments. Descriptor 3 is the pipe that only we hold open; the watching
/// part gives back the other descriptors, so that a reader of the program's output sees its end.
#[cfg(unix)]
const SCRIPT: &str = r#"
exec 3<&0 </dev/null
"$@" 3<&- &
child=$!
(read -r _; kill -9 "$child") <&3 3<&- >/dev/null 2>&1 &
guard=$!
exec 3<&-
wait "$child"
status=$?
kill -9 "$guard"
exit "$status"
"#;

/// How long a child that is to end is waited for before it is killed itself.
const PATIENCE: Duration = Duration::from_secs(5);

/// The command that runs a program under guard.
#[cfg(unix)]
pub(super) fn command(program: &Path, arguments: &[OsString]) -> Command {
    use std::os::unix::process::CommandExt;
    let mut command = Command::new("/bin/sh");
    command.arg("-c").arg(SCRIPT).arg("guard").arg(program).args(arguments);
    command.stdin(Stdio::piped()).process_group(0);
    command
}

/// The command that runs a program; elsewhere than on Unix it is ended only where this process ends in order.
#[cfg(not(unix))]
pub(super) fn command(program: &Path, arguments: &[OsString]) -> Command {
    let mut command = Command::new(program);
    command.args(arguments).stdin(Stdio::null());
    command
}

/// Ends a child, if it has not ended, and reaps it: by letting go of the pipe that its guard watches, or
/// directly where it has none. Nothing more can be done about a failure here.
pub(super) fn end(child: &mut Child, held: Option<ChildStdin>) {
    if held.is_none() {
        let _ = child.kill();
    }
    drop(held);
    let deadline = Instant::now() + PATIENCE;
    while let Ok(None) = child.try_wait() {
        if Instant::now() >= deadline {
            let _ = child.kill();
            break;
        }
        thread::sleep(Duration::from_millis(1));
    }
    let _ = child.wait();
}
