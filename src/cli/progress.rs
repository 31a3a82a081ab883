use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use lookroom::tasks::{Event, Observer};
use std::io::Write as _;

/// Progress on standard error, if that is a terminal; notices in any case.
pub(super) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    pub(super) fn new() -> Self {
        // The library's own target draws nothing where standard error is no terminal.
        Self { bar: ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr()) }
    }
}

impl Observer for Progress {
    fn hear(&mut self, event: Event<'_>) {
        match event {
            Event::Begins { stage, steps } => {
                self.bar.finish_and_clear();
                self.bar = ProgressBar::with_draw_target(Some(steps), ProgressDrawTarget::stderr());
                if let Ok(style) = ProgressStyle::with_template(
                    "{msg:18} {bar:30} {pos}/{len}  {per_sec}  {eta} left",
                ) {
                    self.bar.set_style(style);
                }
                self.bar.set_message(stage.to_owned());
            }
            Event::Step => self.bar.inc(1),
            Event::Notice(text) => self.bar.suspend(|| {
                let _ = writeln!(anstream::stderr(), "note: {text}");
            }),
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
