use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use lookroom::tasks::{Event, Observer};
use std::io::Write as _;

/// What is shown of a stage whose number of steps is known, and of one whose is not.
const WITH_END: &str = "{msg:16} {bar:24} {pos}/{len}  {per_sec}  {eta} left";
const WITHOUT_END: &str = "{msg:16} {pos}  {per_sec}";

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
                let length = Some(steps).filter(|steps| *steps > 0);
                self.bar = ProgressBar::with_draw_target(length, ProgressDrawTarget::stderr());
                let template = if length.is_some() { WITH_END } else { WITHOUT_END };
                if let Ok(style) = ProgressStyle::with_template(template) {
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
