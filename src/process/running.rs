use super::{LineTap, ProcessError, guard, last_lines::LastLines};
use std::{
    io::{self, BufRead, BufReader, Read},
    process::{Child, ChildStdin, ChildStdout},
    thread,
    time::{Duration, Instant},
};

/// How often a program that should end soon is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(2);
/// Room for a good part of a frame, so that the pipe is emptied in large pieces.
const BUFFER_BYTES: usize = 256 * 1024;

/// A program that runs. Reading from it reads its standard output.
///
/// Dropping it kills the program and reaps it: breaking off early is no more than letting go.
#[derive(Debug)]
pub struct Running {
    program: String,
    child: Child,
    /// What the guard watches. It is kept apart from the child, whose own waiting would let go of it.
    held: Option<ChildStdin>,
    output: Option<BufReader<ChildStdout>>,
    last_lines: Option<LastLines>,
}

impl Running {
    pub(super) fn new(
        program: String,
        mut child: Child,
        tap: LineTap,
    ) -> Result<Self, ProcessError> {
        let output = child.stdout.take().map(|pipe| BufReader::with_capacity(BUFFER_BYTES, pipe));
        let errors = child.stderr.take();
        let held = child.stdin.take();
        let mut running = Self { program, child, held, output, last_lines: None };
        if let Some(errors) = errors {
            let drained = LastLines::of(errors, tap);
            running.last_lines = Some(drained.map_err(|source| ProcessError::NotStarted {
                program: running.program.clone(),
                source,
            })?);
        }
        Ok(running)
    }

    /// The program as it was asked for.
    #[must_use]
    pub fn program(&self) -> &str {
        &self.program
    }

    /// The last lines that it has written to standard error so far, oldest first.
    #[must_use]
    pub fn last_lines(&self) -> Vec<String> {
        self.last_lines.as_ref().map(LastLines::so_far).unwrap_or_default()
    }

    /// Reads what is left of the output, waits for the end, and returns the last lines of standard error.
    ///
    /// # Errors
    /// [`ProcessError::Failed`] if the program reports failure or was killed, [`ProcessError::Pipe`] if
    /// its output or its status cannot be read.
    pub fn finish(mut self) -> Result<Vec<String>, ProcessError> {
        if let Some(mut output) = self.output.take() {
            io::copy(&mut output, &mut io::sink()).map_err(|source| self.pipe_fault(source))?;
        }
        let status = self.child.wait().map_err(|source| self.pipe_fault(source))?;
        let last_lines = self.last_lines.as_ref().map(LastLines::at_end).unwrap_or_default();
        if status.success() {
            Ok(last_lines)
        } else {
            Err(ProcessError::Failed { program: self.program.clone(), status, last_lines })
        }
    }

    /// The output, to be read elsewhere.
    pub(super) fn take_output(&mut self) -> Box<dyn Read + Send> {
        self.output.take().map_or_else(
            || Box::new(io::empty()) as Box<dyn Read + Send>,
            |output| Box::new(output),
        )
    }

    /// Waits for the end, and says whether it came in time.
    pub(super) fn ends_before(&mut self, deadline: Instant) -> Result<bool, ProcessError> {
        loop {
            let status = self.child.try_wait();
            if status.map_err(|source| self.pipe_fault(source))?.is_some() {
                return Ok(true);
            }
            if Instant::now() >= deadline {
                return Ok(false);
            }
            thread::sleep(LOOK_EVERY);
        }
    }

    fn pipe_fault(&self, source: io::Error) -> ProcessError {
        ProcessError::Pipe { program: self.program.clone(), source }
    }
}

impl Read for Running {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.output.as_mut().map_or(Ok(0), |output| output.read(buffer))
    }
}

impl BufRead for Running {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        self.output.as_mut().map_or(Ok(&[]), BufRead::fill_buf)
    }

    fn consume(&mut self, count: usize) {
        if let Some(output) = self.output.as_mut() {
            output.consume(count);
        }
    }
}

impl Drop for Running {
    /// A program that has ended already is only reaped.
    fn drop(&mut self) {
        guard::end(&mut self.child, self.held.take());
    }
}

#[cfg(all(test, unix))]
mod tests {
    use crate::process::Job;
    use std::{
        io::{BufRead, Read},
        time::{Duration, Instant},
    };

    fn shell(script: &str) -> Job {
        Job::new("sh").with_arguments(["-c", script])
    }

    #[test]
    fn a_dropped_program_is_ended_and_reaped() {
        let mut running = shell("echo started; exec sleep 600").start().unwrap();
        let mut line = String::new();
        running.read_line(&mut line).unwrap();
        assert_eq!(line, "started\n");
        let begun = Instant::now();
        drop(running);
        assert!(begun.elapsed() < Duration::from_secs(20));
    }

    #[test]
    fn a_program_that_floods_standard_error_does_not_block() {
        let script =
            "i=0; while [ $i -lt 20000 ]; do echo complaint $i >&2; i=$((i+1)); done; echo x";
        let mut running = shell(script).start().unwrap();
        let mut output = String::new();
        running.read_to_string(&mut output).unwrap();
        assert_eq!(output, "x\n");
        assert_eq!(running.finish().unwrap().last().unwrap(), "complaint 19999");
    }

    #[test]
    fn a_program_that_closes_its_output_is_left_to_end_well() {
        let running = shell("echo done; exec >&-; sleep 0.2; echo last >&2").start().unwrap();
        assert_eq!(running.finish().unwrap(), ["last"]);
    }

    #[test]
    fn finishing_early_reads_the_rest_so_that_the_program_can_end_well() {
        let running = shell("head -c 1000000 /dev/zero").start().unwrap();
        assert_eq!(running.finish().unwrap(), Vec::<String>::new());
    }
}
