//! What every handler has at hand.

use crate::background::{Background, Work, blocking};
use crate::checked::Checked;
use crate::error::ApiError;
use crate::jobs::{Jobs, OpenJob};
use crate::live::Painters;
use crate::made_papers::MadePapers;
use crate::proposal_runs::ProposalRuns;
use crate::queue::waited_for;
use crate::rounds::{Begins, Outcome, Rounds};
use crate::share::Sharing;
use crate::told::Told;
use axum::body::Bytes;
use loamline_limits::UNUSED_S;
use serde::Serialize;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// What every handler has at hand.
#[derive(Clone)]
pub struct App {
    /// The jobs.
    pub jobs: Arc<Jobs>,
    /// Turns at working out maps.
    pub painters: Painters,
    /// Turns at whatever takes long.
    pub background: Background,
    /// What many ask of one job at once.
    pub rounds: Rounds,
    /// Papers that were made.
    pub papers: MadePapers,
    /// Proposals being made and made.
    pub runs: ProposalRuns,
    /// What was found in jobs that were looked over again here.
    pub checked: Checked,
    /// How other devices are let in, if they are.
    pub sharing: Option<Arc<Sharing>>,
}

impl App {
    /// Lets go, now and for ever after, of what nobody has asked for a while: a server that rests holds little.
    pub async fn rest_now_and_then(self) {
        let unused_for = Duration::from_secs(UNUSED_S.number);
        loop {
            tokio::time::sleep(unused_for / 3).await;
            let app = self.clone();
            let let_go = move || {
                app.papers.let_go(unused_for);
                app.jobs.let_go(unused_for);
                app.jobs.clear_away()
            };
            // Tried again next time.
            let _ = blocking(let_go).await;
        }
    }

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
        self.results_named(kind, None, id, ask).await
    }

    /// The same for somebody whose place in the queue can be asked for under a name.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn results_named<T: Send + 'static>(
        &self,
        kind: Work,
        name: Option<String>,
        id: String,
        ask: impl FnOnce(&Arc<OpenJob>) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let work = move |job: Arc<OpenJob>| ask(&job);
        self.background.run_on(kind, name, self.opens(kind, id), work).await
    }

    /// Works out what depends on the job as it now is and on nothing else, once for all who ask for it at once; `what` is a
    /// word for the question.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn shared<T: Serialize + 'static>(
        &self,
        kind: Work,
        what: &'static str,
        id: String,
        ask: impl FnOnce(&OpenJob) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<Told, ApiError> {
        let (asked, background) = (Instant::now(), self.background.clone());
        let opens = self.opens(kind, id.clone());
        let make = move |begins: Begins| async move {
            let work = move |job: Arc<OpenJob>| -> Outcome {
                let began = begins.now();
                let answer = serde_json::to_vec(&ask(&job)?).map_err(|_| ApiError::gave_up())?;
                Ok((Bytes::from(answer), began))
            };
            background.run_on(kind, None, opens, work).await
        };
        let share = self.background.share_of_a_job(kind);
        let (answer, began) = self.rounds.ask(&id, what, share, make).await?;
        waited_for(began.saturating_duration_since(asked));
        Ok(Told::from(answer))
    }

    /// What opens a job for a kind of work: for heavy work also what everybody asks of the job, which that starts from.
    fn opens(
        &self,
        kind: Work,
        id: String,
    ) -> impl FnOnce() -> Result<Arc<OpenJob>, ApiError> + Send + use<> {
        let (jobs, background) = (Arc::clone(&self.jobs), self.background.clone());
        move || {
            let job = jobs.open(&id)?;
            if background.is_heavy(kind) {
                let study = job.now().study;
                let _made = background.lightly(|| study.findings());
            }
            Ok(job)
        }
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
