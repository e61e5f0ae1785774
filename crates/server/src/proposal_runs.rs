//! Proposals being made and made.

use crate::api::proposed::ProposalAnswer;
use crate::error::ApiError;
use std::collections::VecDeque;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Finished and running proposals that are kept; older ones are forgotten.
const KEPT: usize = 16;
/// A proposal being made or made.
pub struct ProposalRun {
    /// Its id.
    pub id: String,
    /// The job it is for.
    pub job: String,
    /// Whether it is to stop.
    pub stopped: AtomicBool,
    /// What came of it; none while it is being made.
    pub outcome: Mutex<Option<Result<ProposalAnswer, ApiError>>>,
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
            other.stopped.store(true, Ordering::Relaxed);
        }
        while runs.len() >= KEPT {
            if let Some(oldest) = runs.pop_front() {
                oldest.stopped.store(true, Ordering::Relaxed);
            }
        }
        runs.push_back(run);
    }
}
