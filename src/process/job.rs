use super::{LineFate, LineTap, ProcessError, Running, guard};
use std::{
    ffi::{OsStr, OsString},
    io::Read,
    path::{Path, PathBuf},
    process::Stdio,
    sync::mpsc,
    thread,
    time::{Duration, Instant},
};

/// A program and the arguments to run it with.
///
/// The arguments reach the program as they are: no shell reads them, so that a file name may hold any
/// character. Standard input is empty. The program is ended when this process is, however that ends.
#[derive(Debug, Clone)]
pub struct Job {
    program: PathBuf,
    arguments: Vec<OsString>,
}

/// What a short job left behind.
#[derive(Debug)]
pub struct Finished {
    /// All that it wrote to standard output.
    pub stdout: Vec<u8>,
    /// The last lines that it wrote to standard error, oldest first.
    pub last_lines: Vec<String>,
}

impl Job {
    /// A program without arguments: a name that is looked up on the PATH, or a path.
    #[must_use]
    pub fn new(program: impl Into<PathBuf>) -> Self {
        Self { program: program.into(), arguments: Vec::new() }
    }

    /// The same with one more argument.
    #[must_use]
    pub fn with_argument(mut self, argument: impl Into<OsString>) -> Self {
        self.arguments.push(argument.into());
        self
    }

    /// The same with more arguments.
    #[must_use]
    pub fn with_arguments<A: AsRef<OsStr>>(
        mut self,
        arguments: impl IntoIterator<Item = A>,
    ) -> Self {
        self.arguments.extend(arguments.into_iter().map(|argument| argument.as_ref().to_owned()));
        self
    }

    /// The program.
    #[must_use]
    pub fn program(&self) -> &Path {
        &self.program
    }

    /// Starts the program; its standard output is read from what is returned.
    ///
    /// # Errors
    /// [`ProcessError::NotFound`] if there is no such program, [`ProcessError::NotStarted`] if it is there
    /// and does not start.
    pub fn start(&self) -> Result<Running, ProcessError> {
        self.start_tapped(Box::new(|_| LineFate::Keep))
    }

    /// The same, with each line of standard error shown to `tap`, from another thread, as it is written.
    ///
    /// # Errors
    /// As [`Self::start`].
    pub fn start_tapped(&self, tap: LineTap) -> Result<Running, ProcessError> {
        let program = self.program.display().to_string();
        let found = which::which(&self.program)
            .map_err(|_| ProcessError::NotFound { program: program.clone() })?;
        let child = guard::command(&found, &self.arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|source| ProcessError::NotStarted { program: program.clone(), source })?;
        Running::new(program, child, tap)
    }

    /// Runs the program to its end and returns what it wrote, at most `limit_bytes`, within `time_limit`.
    ///
    /// # Errors
    /// As [`Self::start`]; [`ProcessError::TimedOut`] and [`ProcessError::TooMuchOutput`] after the program
    /// was ended; [`ProcessError::Failed`] if it reports failure; [`ProcessError::Pipe`] if its output
    /// cannot be read.
    pub fn collect(
        &self,
        limit_bytes: usize,
        time_limit: Duration,
    ) -> Result<Finished, ProcessError> {
        let deadline = Instant::now() + time_limit;
        let mut running = self.start()?;
        let program = running.program().to_owned();
        let pipe_fault = |source| ProcessError::Pipe { program: program.clone(), source };
        let timed_out = || ProcessError::TimedOut { program: program.clone(), limit: time_limit };

        let mut output = running.take_output().take(limit_bytes as u64 + 1);
        let (done, received) = mpsc::channel();
        let reader = move || {
            let mut bytes = Vec::new();
            let outcome = output.read_to_end(&mut bytes).map(|_| bytes);
            // Nobody waits any more after the time limit.
            let _ = done.send(outcome);
        };
        thread::Builder::new().name("job-output".to_owned()).spawn(reader).map_err(pipe_fault)?;
        let stdout =
            received.recv_timeout(time_limit).map_err(|_| timed_out())?.map_err(pipe_fault)?;
        if stdout.len() > limit_bytes {
            return Err(ProcessError::TooMuchOutput { program, limit_bytes });
        }
        if !running.ends_before(deadline)? {
            return Err(timed_out());
        }
        Ok(Finished { stdout, last_lines: running.finish()? })
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    fn shell(script: &str) -> Job {
        Job::new("sh").with_arguments(["-c", script])
    }

    const SOON: Duration = Duration::from_secs(20);

    #[test]
    fn output_and_last_lines_are_both_returned() {
        let finished = shell("echo out; echo err >&2").collect(100, SOON).unwrap();
        assert_eq!(finished.stdout, b"out\n");
        assert_eq!(finished.last_lines, ["err"]);
    }

    #[test]
    fn an_argument_is_not_read_by_a_shell() {
        let finished =
            Job::new("printf").with_arguments(["%s", "$HOME `id` ; *"]).collect(100, SOON).unwrap();
        assert_eq!(finished.stdout, b"$HOME `id` ; *");
    }

    #[test]
    fn a_missing_program_is_named() {
        let refusal = Job::new("no-such-program-here").collect(100, SOON).unwrap_err();
        assert_eq!(refusal.to_string(), "the program `no-such-program-here` was not found");
    }

    #[test]
    fn a_failure_quotes_the_last_line() {
        let refusal = shell("echo first >&2; echo last >&2; exit 3").collect(100, SOON);
        let Err(refusal @ ProcessError::Failed { .. }) = refusal else { panic!("{refusal:?}") };
        assert!(refusal.to_string().ends_with("saying `last`"), "{refusal}");
        let ProcessError::Failed { status, last_lines, .. } = refusal else { unreachable!() };
        assert_eq!((status.code(), last_lines.len()), (Some(3), 2));
    }

    #[test]
    fn a_program_that_hangs_is_ended_in_time() {
        let begun = Instant::now();
        let refusal = shell("exec sleep 600").collect(100, Duration::from_millis(200));
        assert!(matches!(refusal, Err(ProcessError::TimedOut { .. })), "{refusal:?}");
        assert!(begun.elapsed() < SOON);
    }

    #[test]
    fn a_program_that_closes_its_output_and_stays_is_ended_in_time() {
        let refusal = shell("exec >&-; exec sleep 600").collect(100, Duration::from_millis(200));
        assert!(matches!(refusal, Err(ProcessError::TimedOut { .. })), "{refusal:?}");
    }

    #[test]
    fn endless_output_is_stopped_at_the_limit() {
        let refusal = shell("exec yes").collect(1000, SOON);
        assert!(
            matches!(refusal, Err(ProcessError::TooMuchOutput { limit_bytes: 1000, .. })),
            "{refusal:?}"
        );
    }
}
