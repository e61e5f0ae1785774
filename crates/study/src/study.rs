//! A job with its results.

use crate::laid::{LaidRun, laid_runs};
use crate::lines::{LineKeeper, LinesReport};
use loamline_model::Job;
use std::sync::Arc;

/// A job under study.
#[derive(Debug)]
pub struct Study {
    job: Arc<Job>,
    runs: Option<Arc<Vec<LaidRun>>>,
    lines: LineKeeper,
}

impl Study {
    /// A study of a job; nothing is worked out yet.
    pub fn new(job: Job) -> Self {
        Self { job: Arc::new(job), runs: None, lines: LineKeeper::default() }
    }

    /// The job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// Puts another version of the job in place of this one; results whose inputs are the same are kept.
    pub fn set_job(&mut self, job: Job) {
        self.job = Arc::new(job);
        self.runs = None;
    }

    /// The runs as they lie.
    pub fn runs(&mut self) -> Arc<Vec<LaidRun>> {
        Arc::clone(self.runs.get_or_insert_with(|| Arc::new(laid_runs(&self.job))))
    }

    /// The lines and channels.
    pub fn lines(&mut self) -> LinesReport {
        let runs = self.runs();
        self.lines.report(&self.job, &runs)
    }
}
