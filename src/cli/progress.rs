use indicatif::{ProgressBar, ProgressDrawTarget, ProgressState, ProgressStyle};
use lookroom::tasks::{Event, Observer};
use std::{fmt, io::Write as _};

/// What is shown of a stage whose number of steps is known, and of one whose is not.
const WITH_END: &str = "{msg:16} {bar:24} {pos}/{len}  {rate}  {eta} left";
const WITHOUT_END: &str = "{msg:16} {pos}  {rate}";

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
                    let rate = |state: &ProgressState, out: &mut dyn fmt::Write| {
                        // A bar that cannot be drawn is none that anybody misses.
                        let _ = write!(out, "{:.1} a second", state.per_sec());
                    };
                    self.bar.set_style(style.with_key("rate", rate));
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
