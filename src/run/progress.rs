//! How far a run is, for whoever watches it. Nothing of it enters a result.

use std::fmt;
use std::sync::Arc;

/// A part of a run that goes through a known number of like things.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Log files, with their bytes.
    Logs,
    /// Flights.
    Flights,
    /// Pictures of the report.
    Pictures,
}

/// What a watcher is told, from whichever thread did the work: a stage begins when another one is
/// over, and its things end in any order.
pub trait Observer: Send + Sync {
    /// `total` things are to do.
    fn begun(&self, stage: Stage, total: usize);
    /// One of them is done; `bytes` were read for it, 0 where none were.
    fn done(&self, stage: Stage, bytes: u64);
}

/// The watcher of a run, or nobody.
#[derive(Clone, Default)]
pub struct Progress(Option<Arc<dyn Observer>>);

impl Progress {
    pub fn told_to(observer: Arc<dyn Observer>) -> Self {
        Self(Some(observer))
    }

    pub(crate) fn begin(&self, stage: Stage, total: usize) {
        if let Some(observer) = &self.0 {
            observer.begun(stage, total);
        }
    }

    pub(crate) fn done(&self, stage: Stage, bytes: u64) {
        if let Some(observer) = &self.0 {
            observer.done(stage, bytes);
        }
    }
}

impl fmt::Debug for Progress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_some() {
            "Progress(watched)"
        } else {
            "Progress(unwatched)"
        })
    }
}
