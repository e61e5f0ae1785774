//! What every handler has at hand.

use crate::background::{Background, Work, blocking};
use crate::error::ApiError;
use crate::jobs::{Jobs, OpenJob};
use crate::live::Painters;
use crate::made_papers::MadePapers;
use crate::proposal_runs::ProposalRuns;
use crate::share::Sharing;
use std::sync::Arc;

/// What every handler has at hand.
#[derive(Clone)]
pub struct App {
    /// The jobs.
    pub jobs: Arc<Jobs>,
    /// Turns at working out maps.
    pub painters: Painters,
    /// Turns at whatever takes long.
    pub background: Background,
    /// Papers that were made.
    pub papers: MadePapers,
    /// Proposals being made and made.
    pub runs: ProposalRuns,
    /// How other devices are let in, if they are.
    pub sharing: Option<Arc<Sharing>>,
}

impl App {
    /// Works something out about a job in the background.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn results<T: Send + 'static>(
        &self,
        kind: Work,
        id: String,
        ask: impl FnOnce(&Arc<OpenJob>) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let jobs = Arc::clone(&self.jobs);
        self.background.run(kind, move || ask(&jobs.open(&id)?)).await
    }

    /// Reads or edits a job, off the threads that serve.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn job<T: Send + 'static>(
        &self,
        id: String,
        ask: impl FnOnce(&Arc<OpenJob>) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let jobs = Arc::clone(&self.jobs);
        blocking(move || ask(&jobs.open(&id)?)).await
    }
}
