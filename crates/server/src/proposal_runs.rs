//! Proposals being made and made.

use crate::error::ApiError;
use crate::told::Told;
use loamline_limits::{Leave, PROPOSALS_KEPT, UNWATCHED_S};
use loamline_terms::say;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A proposal being made or made.
pub struct ProposalRun {
    /// Its id.
    pub id: String,
    /// The job it is for.
    pub job: String,
    /// Leave to make it; ended by whoever stops it.
    pub leave: Leave,
    /// When somebody last asked for it.
    asked: Mutex<Instant>,
    /// What came of it, as it is sent; none while it is being made.
    pub outcome: Mutex<Option<Result<Told, ApiError>>>,
}

impl ProposalRun {
    /// One that is to be made.
    pub fn new(id: String, job: &str) -> Self {
        let (asked, outcome) = (Mutex::new(Instant::now()), Mutex::default());
        Self { id, job: job.to_owned(), leave: Leave::unbounded(), asked, outcome }
    }

    /// Whether it was stopped.
    pub fn is_stopped(&self) -> bool {
        self.leave.is_over().is_some()
    }

    /// Whether there is nothing more to come of it.
    fn is_over(&self) -> bool {
        self.is_stopped() || self.outcome.lock().unwrap_or_else(PoisonError::into_inner).is_some()
    }

    /// Somebody wants it still.
    pub fn watched(&self) {
        *self.asked.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    /// Whether nobody has wanted it for long.
    pub fn is_forgotten(&self) -> bool {
        let quiet = self.asked.lock().unwrap_or_else(PoisonError::into_inner).elapsed();
        quiet > Duration::from_secs(UNWATCHED_S.number)
    }
}

/// Proposals being made and made, the oldest first.
#[derive(Clone, Default)]
pub struct ProposalRuns(Arc<Mutex<VecDeque<Arc<ProposalRun>>>>);

impl ProposalRuns {
    /// The one with this id.
    ///
    /// # Errors
    /// When there is none, or it is another job's.
    pub fn find(&self, job: &str, id: &str) -> Result<Arc<ProposalRun>, ApiError> {
        let runs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let run = runs.iter().find(|r| r.id == id && r.job == job).map(Arc::clone);
        run.ok_or_else(|| ApiError::not_found(say!("proposal \"{id}\"", id = id)))
    }

    /// Takes a new one in; one still being made for the same job is stopped. Of too many the oldest that is over is forgotten:
    /// nobody's is ended because others begin theirs.
    pub fn add(&self, run: Arc<ProposalRun>) {
        let mut runs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for other in runs.iter().filter(|r| r.job == run.job) {
            other.leave.stop();
        }
        while runs.len() >= PROPOSALS_KEPT.most() {
            let over = runs.iter().position(|r| r.is_stopped());
            let over = over.or_else(|| runs.iter().position(|r| r.is_over())).unwrap_or(0);
            if let Some(forgotten) = runs.remove(over) {
                forgotten.leave.stop();
            }
        }
        runs.push_back(run);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_limits::WAITING_FOR_PROPOSALS;

    #[test]
    fn who_asks_again_and_again_ends_nobody_elses() {
        let runs = ProposalRuns::default();
        let begun = |id: &str, job: &str| {
            let run = Arc::new(ProposalRun::new(id.to_owned(), job));
            runs.add(Arc::clone(&run));
            run
        };
        let patient = begun("first", "hers");
        let done = begun("second", "theirs");
        *done.outcome.lock().unwrap() = Some(Told::of(&"made"));
        for n in 0..10 * PROPOSALS_KEPT.most() {
            begun(&format!("again-{n}"), "his");
        }
        assert!(!patient.is_stopped() && runs.find("hers", "first").is_ok());
        assert!(
            runs.find("theirs", "second").is_ok(),
            "one that is made is kept before one that was stopped"
        );
        assert_eq!(runs.0.lock().unwrap().len(), PROPOSALS_KEPT.most());
        assert!(PROPOSALS_KEPT.most() > WAITING_FOR_PROPOSALS.most() + 1);
    }
}
