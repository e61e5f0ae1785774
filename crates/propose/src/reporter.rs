//! Tells whoever watches a proposal being made.

use crate::api::{Phase, ProposeProgress, Proposed, Watch};
use crate::so_far::{Rank, SoFar};
use loamline_limits::go_on;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Tells the watcher, and counts the work done for what is reported.
pub(crate) struct Reporter<'w> {
    told: Arc<ToldSoFar<'w>>,
    /// Work done, and work after which nothing new is begun, as seconds of one usual core.
    work: Mutex<(f64, f64)>,
    /// Where whole designs of what was asked for are kept.
    so_far: Option<&'w SoFar>,
}

/// What the watcher heard, and whether it wants to stop: one for all that is made side by side.
struct ToldSoFar<'w> {
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
        let told = ToldSoFar { watch, stopped: AtomicBool::new(false), state: Mutex::new(start) };
        Self { told: Arc::new(told), work: Mutex::new((0.0, f64::INFINITY)), so_far: None }
    }

    /// One for what is made beside other things, with a count of work of its own: how much one of them takes changes nothing
    /// for the others, whichever runs first.
    pub fn beside(&self) -> Self {
        let told = Arc::clone(&self.told);
        Self { told, work: Mutex::new((0.0, f64::INFINITY)), so_far: self.so_far }
    }

    /// The same, which keeps whole designs.
    pub fn keeping(self, so_far: &'w SoFar) -> Self {
        Self { so_far: Some(so_far), ..self }
    }

    /// The same, which keeps none: what is made is not for the job as it is.
    pub fn keeping_nothing(self) -> Self {
        Self { so_far: None, ..self }
    }

    /// Keeps a whole design where it is better than those before.
    pub fn keep(&self, rank: Rank, made: impl FnOnce() -> (Proposed, (usize, usize))) {
        if let Some(so_far) = self.so_far {
            so_far.keep(rank, made);
        }
    }

    /// Counts work that is about to be done, seconds. It is reckoned, never measured, so that the answer is the same on any
    /// machine.
    pub fn spend(&self, seconds: f64) {
        if let Ok(mut work) = self.work.lock() {
            work.0 += seconds;
        }
    }

    /// Nothing new is to be begun once so much work is done, seconds since the beginning.
    pub fn until(&self, seconds: f64) {
        if let Ok(mut work) = self.work.lock() {
            work.1 = seconds;
        }
    }

    /// Work done so far, seconds.
    pub fn spent(&self) -> f64 {
        self.work.lock().map_or(0.0, |w| w.0)
    }

    /// Whether the work allowed is done.
    pub fn time_is_up(&self) -> bool {
        self.work.lock().is_ok_and(|w| w.0 >= w.1)
    }

    /// Changes what is told, and tells it; whether to go on. Leaves off where the leave is over.
    pub fn tell(&self, change: impl FnOnce(&mut ProposeProgress)) -> bool {
        go_on();
        let told = {
            let mut state = self.told.state.lock().unwrap_or_else(PoisonError::into_inner);
            change(&mut state);
            state.clone()
        };
        let told = sensible(told);
        if !(self.told.watch)(&told) {
            self.told.stopped.store(true, Ordering::Relaxed);
        }
        !self.stopped()
    }

    pub fn stopped(&self) -> bool {
        self.told.stopped.load(Ordering::Relaxed)
    }
}

/// A bound says something only beside a design, and of one that costs no less: where no choice meets the brief any number
/// is a bound, and other gains than those it was worked out for may do with less.
fn sensible(told: ProposeProgress) -> ProposeProgress {
    let bound = told.bound.filter(|bound| told.best_cost.is_some_and(|cost| *bound <= cost));
    ProposeProgress { bound, ..told }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_made_beside_counts_its_own_work_and_hears_the_same_stop() {
        let watch = |p: &ProposeProgress| p.phase != Phase::Done;
        let reporter = Reporter::new(&watch);
        let beside = reporter.beside();
        beside.until(2.0);
        beside.spend(2.0);
        assert!(beside.time_is_up() && !reporter.time_is_up());
        assert_eq!(reporter.spent(), 0.0);
        beside.tell(|t| t.phase = Phase::Done);
        assert!(beside.stopped() && reporter.stopped());
    }
}
