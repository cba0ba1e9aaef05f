//! Progress and cancelling for long work. A stage reports a fraction and asks now and then
//! whether it should stop; who listens (terminal, window, nobody) is not its business.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// The work was cancelled by the user; nothing it made is to be kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("cancelled")]
pub struct Cancelled;

type Report = dyn Fn(&str, f32) + Send + Sync;

/// Handed to every stage that may take longer than a moment. Cheap to clone.
#[derive(Clone, Default)]
pub struct Progress {
    report: Option<Arc<Report>>,
    cancel: Arc<AtomicBool>,
}

impl Progress {
    /// Nobody listens and nobody cancels.
    pub fn none() -> Self {
        Self::default()
    }

    /// `report` gets a short name of the step and how much of it is done, 0..=1.
    pub fn new(report: impl Fn(&str, f32) + Send + Sync + 'static) -> Self {
        Self { report: Some(Arc::new(report)), cancel: Arc::default() }
    }

    /// A flag that, once set, stops the work at its next [`Progress::step`].
    pub fn canceller(&self) -> Arc<AtomicBool> {
        self.cancel.clone()
    }

    /// A progress whose 0..=1 is `from..=to` of this one; cancelling either stops both.
    #[must_use]
    pub fn part(&self, from: f32, to: f32) -> Self {
        let report = self.report.clone().map(|report| -> Arc<Report> {
            Arc::new(move |what: &str, done: f32| report(what, from + (to - from) * done))
        });
        Self { report, cancel: self.cancel.clone() }
    }

    /// One that reports nothing; cancelling either stops both.
    #[must_use]
    pub fn quiet(&self) -> Self {
        Self { report: None, cancel: self.cancel.clone() }
    }

    /// Reports `done` (0..=1) of the step `what`, or says that the work is cancelled.
    pub fn step(&self, what: &str, done: f32) -> Result<(), Cancelled> {
        if self.cancel.load(Ordering::Relaxed) {
            return Err(Cancelled);
        }
        if let Some(report) = &self.report {
            report(what, done.clamp(0.0, 1.0));
        }
        Ok(())
    }
}

impl std::fmt::Debug for Progress {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Progress").field("cancelled", &self.cancel).finish_non_exhaustive()
    }
}
