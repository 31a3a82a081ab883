use std::{
    collections::VecDeque,
    io::{self, Read},
    sync::{
        Arc, Mutex, PoisonError,
        mpsc::{self, Receiver},
    },
    thread,
    time::Duration,
};

/// How many lines are kept: enough for a decoder's last complaint with what led to it. Our choice.
const KEPT_LINES: usize = 20;
/// How much of the lines is kept together. Our choice: 20 lines of 400 characters.
const KEPT_BYTES: usize = 8 * 1024;
/// How long to wait for the rest of a stream whose program has ended. A grandchild may hold it open.
const REST: Duration = Duration::from_secs(1);

/// Sees each line of a stream before it is kept, without its end, and says what becomes of it.
pub type LineTap = Box<dyn FnMut(&str) -> LineFate + Send>;

/// What becomes of a line that a program wrote to standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineFate {
    /// It may be quoted if the program fails.
    Keep,
    /// It was a report and no complaint, and is forgotten.
    Forget,
}

/// The last lines of a stream that a thread drains.
#[derive(Debug)]
pub(super) struct LastLines {
    kept: Arc<Mutex<Kept>>,
    ended: Receiver<()>,
}

impl LastLines {
    /// Drains the stream until it ends, and shows each line to the tap.
    ///
    /// # Errors
    /// If no thread can be started.
    pub(super) fn of(stream: impl Read + Send + 'static, mut tap: LineTap) -> io::Result<Self> {
        let kept = Arc::new(Mutex::new(Kept::default()));
        let (ending, ended) = mpsc::channel();
        let shared = Arc::clone(&kept);
        thread::Builder::new().name("last-lines".to_owned()).spawn(move || {
            drain(stream, &shared, &mut tap);
            // Who listens at the tap hears the end before anybody is told of it.
            drop(tap);
            // Nobody may be waiting any more.
            let _ = ending.send(());
        })?;
        Ok(Self { kept, ended })
    }

    /// The lines so far, oldest first.
    pub(super) fn so_far(&self) -> Vec<String> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).lines()
    }

    /// The lines after the stream's end, for which it waits a moment.
    pub(super) fn at_end(&self) -> Vec<String> {
        // Whether the end came or not, what there is will do.
        let _ = self.ended.recv_timeout(REST);
        self.so_far()
    }
}

fn drain(mut stream: impl Read, kept: &Mutex<Kept>, tap: &mut LineTap) {
    let mut buffer = [0; 4096];
    loop {
        match stream.read(&mut buffer) {
            Ok(0) => return,
            Ok(count) => {
                let bytes = buffer.get(..count).unwrap_or_default();
                kept.lock().unwrap_or_else(PoisonError::into_inner).push(bytes, tap);
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(_) => return,
        }
    }
}

/// Whole lines, and the one that is being written.
#[derive(Debug, Default)]
struct Kept {
    whole: VecDeque<Vec<u8>>,
    whole_bytes: usize,
    open: Vec<u8>,
}

impl Kept {
    fn push(&mut self, bytes: &[u8], tap: &mut LineTap) {
        for &byte in bytes {
            if byte == b'\n' || byte == b'\r' {
                self.close_line(tap);
            } else if self.open.len() < KEPT_BYTES {
                self.open.push(byte);
            }
        }
    }

    fn close_line(&mut self, tap: &mut LineTap) {
        let is_empty = self.open.iter().all(u8::is_ascii_whitespace);
        if is_empty || tap(&String::from_utf8_lossy(&self.open)) == LineFate::Forget {
            self.open.clear();
            return;
        }
        self.whole_bytes += self.open.len();
        self.whole.push_back(std::mem::take(&mut self.open));
        while self.whole.len() > KEPT_LINES || self.whole_bytes > KEPT_BYTES {
            let Some(oldest) = self.whole.pop_front() else { return };
            self.whole_bytes -= oldest.len();
        }
    }

    fn lines(&self) -> Vec<String> {
        let open = Some(&self.open).filter(|open| !open.iter().all(u8::is_ascii_whitespace));
        self.whole.iter().chain(open).map(|line| printable(line)).collect()
    }
}

/// The line as text, with no control character that a terminal would act on.
fn printable(line: &[u8]) -> String {
    let text = String::from_utf8_lossy(line);
    text.trim().chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept_of(text: &str) -> Kept {
        let mut kept = Kept::default();
        kept.push(text.as_bytes(), &mut keep_all());
        kept
    }

    fn keep_all() -> LineTap {
        Box::new(|_| LineFate::Keep)
    }

    #[test]
    fn a_report_is_seen_and_not_kept() {
        let (seen, heard) = mpsc::channel();
        let mut tap: LineTap = Box::new(move |line| {
            seen.send(line.to_owned()).unwrap();
            if line.starts_with("report") { LineFate::Forget } else { LineFate::Keep }
        });
        let mut kept = Kept::default();
        kept.push(b"report 1\ncomplaint\nreport 2\n", &mut tap);
        assert_eq!(kept.lines(), ["complaint"]);
        assert_eq!(heard.try_iter().collect::<Vec<_>>(), ["report 1", "complaint", "report 2"]);
    }

    #[test]
    fn only_the_last_lines_are_kept() {
        let text: String = (0..1000).map(|number| format!("line {number}\n")).collect();
        let lines = kept_of(&text).lines();
        assert_eq!(lines.len(), KEPT_LINES);
        assert_eq!(lines.last().unwrap(), "line 999");
    }

    #[test]
    fn an_endless_line_is_cut_and_long_lines_push_out_old_ones() {
        let long = "x".repeat(100_000);
        let kept = kept_of(&format!("first\n{long}\n"));
        assert_eq!(kept.lines(), ["x".repeat(KEPT_BYTES)]);
    }

    #[test]
    fn a_line_without_an_end_counts_and_empty_ones_do_not() {
        assert_eq!(kept_of("one\r\n\n  \ntwo").lines(), ["one", "two"]);
    }

    #[test]
    fn a_terminal_finds_nothing_to_obey() {
        assert_eq!(kept_of("\u{1b}[2Jgone\tby\n").lines(), [" [2Jgone by"]);
    }
}
