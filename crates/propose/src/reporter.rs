//! Tells whoever watches a proposal being made.

use crate::api::{Phase, ProposeProgress, Watch};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// Tells the watcher, and remembers that it wants to stop.
pub(crate) struct Reporter<'w> {
    watch: Watch<'w>,
    stopped: AtomicBool,
    state: Mutex<ProposeProgress>,
}

impl<'w> Reporter<'w> {
    pub fn new(watch: Watch<'w>) -> Self {
        let start = ProposeProgress {
            phase: Phase::Candidates,
            option: None,
            done: 0.0,
            best_cost: None,
            bound: None,
        };
        Self { watch, stopped: AtomicBool::new(false), state: Mutex::new(start) }
    }

    /// Changes what is told, and tells it; whether to go on.
    pub fn tell(&self, change: impl FnOnce(&mut ProposeProgress)) -> bool {
        let told = match self.state.lock() {
            Ok(mut state) => {
                change(&mut state);
                state.clone()
            }
            Err(poisoned) => poisoned.into_inner().clone(),
        };
        if !(self.watch)(&told) {
            self.stopped.store(true, Ordering::Relaxed);
        }
        !self.stopped()
    }

    pub fn stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }
}
