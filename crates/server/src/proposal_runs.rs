//! Proposals being made and made.

use crate::api::proposed::ProposalAnswer;
use crate::error::ApiError;
use loamline_limits::Leave;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Finished and running proposals that are kept; older ones are forgotten.
const KEPT: usize = 16;
/// A proposal that nobody looks at the job of, and nobody has asked for, for so long is stopped. A phone that changes from
/// one network to another is back within it, and asks every few seconds.
const UNWATCHED: Duration = Duration::from_secs(15);

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
    /// What came of it; none while it is being made.
    pub outcome: Mutex<Option<Result<ProposalAnswer, ApiError>>>,
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

    /// Somebody wants it still.
    pub fn watched(&self) {
        *self.asked.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    /// Whether nobody has wanted it for long.
    pub fn is_forgotten(&self) -> bool {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).elapsed() > UNWATCHED
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
        run.ok_or_else(|| ApiError::not_found(format!("proposal \"{id}\"")))
    }

    /// Takes a new one in; one still being made for the same job is stopped.
    pub fn add(&self, run: Arc<ProposalRun>) {
        let mut runs = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for other in runs.iter().filter(|r| r.job == run.job) {
            other.leave.stop();
        }
        while runs.len() >= KEPT {
            if let Some(oldest) = runs.pop_front() {
                oldest.leave.stop();
            }
        }
        runs.push_back(run);
    }
}
