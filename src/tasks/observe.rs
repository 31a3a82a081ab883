use super::TaskError;
use crate::media::Counted;
use std::{
    ops::ControlFlow,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

/// What a task tells while it works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event<'a> {
    /// A stage begins, of so many steps.
    Begins {
        /// What is done, as a reader would say it: "reading footage".
        stage: &'a str,
        /// How many steps it has; 0 if that is not known.
        steps: u64,
    },
    /// One more step of the stage is done.
    Step,
    /// Something that should be known and stops nothing.
    Notice(&'a str),
}

/// Hears what a task tells.
pub trait Observer {
    /// Hears one thing.
    fn hear(&mut self, event: Event<'_>);
}

/// Hears nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Unobserved;

impl Observer for Unobserved {
    fn hear(&mut self, _: Event<'_>) {}
}

/// Ends a task early, from any thread. Clones are one token.
#[derive(Debug, Clone, Default)]
pub struct CancelToken {
    cancelled: Arc<AtomicBool>,
}

impl CancelToken {
    /// Asks the task to end at its next step.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to end.
    #[must_use]
    pub fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }

    /// Goes on unless it was asked to end.
    ///
    /// # Errors
    /// [`TaskError::Cancelled`] if it was.
    pub fn check(&self) -> Result<(), TaskError> {
        if self.is_cancelled() { Err(TaskError::Cancelled) } else { Ok(()) }
    }
}

/// Tells an observer how far the counting of a clip's frames has come, and ends it if the task was cancelled.
pub(super) fn watch_counting<'w>(
    observer: &'w mut dyn Observer,
    cancel: &'w CancelToken,
) -> impl FnMut(Counted) -> ControlFlow<()> + 'w {
    let mut told = 0;
    move |counted: Counted| {
        // A file that is opened, or another of the same clip.
        if told == 0 || counted.frames < told {
            let steps = counted.promised.unwrap_or(0);
            observer.hear(Event::Begins { stage: "counting frames", steps });
        }
        told = counted.frames;
        observer.hear(Event::Step);
        if cancel.is_cancelled() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}
