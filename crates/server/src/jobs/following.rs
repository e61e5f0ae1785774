//! Jobs that other servers on the same store change: what is open here is brought up to what the store has, when another
//! server calls, now and then without a call, and before anybody here is answered.

use super::listing::no_such_job;
use super::{Event, Jobs, OpenJob};
use crate::error::ApiError;
use crate::store::{Heard, StoreError};
use axum::http::StatusCode;
use serde_json::json;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use std::time::Duration;

impl Jobs {
    /// Whether other servers may keep jobs in the same store.
    pub fn are_shared(&self) -> bool {
        self.store().others().is_some()
    }

    /// How many jobs are held in memory.
    pub fn held(&self) -> usize {
        self.open.opened().len()
    }

    /// The jobs that somebody looks at here.
    pub fn looked_at(&self) -> Vec<Arc<OpenJob>> {
        self.open.opened().into_iter().filter(|job| job.is_looked_at()).collect()
    }

    /// Who looks at jobs here, by the job's id; only jobs that somebody looks at.
    pub fn present_here(&self) -> BTreeMap<String, Vec<String>> {
        let open = self.open.opened();
        let each = open.iter().map(|job| (job.id().to_owned(), job.people_here()));
        each.filter(|(_, names)| !names.is_empty()).collect()
    }

    /// Another server tells who looks at a job there.
    pub fn present_elsewhere(&self, id: &str, server: &str, names: Vec<String>) {
        if let Some(job) = self.open.opened().iter().find(|job| job.id() == id) {
            job.are_elsewhere(server, names);
        }
    }

    /// Forgets those who looked at jobs by way of servers that have told nothing for so long.
    pub fn forget_absent(&self, silent_for: Duration) {
        self.open.opened().iter().for_each(|job| job.forget_absent(silent_for));
    }

    /// Brings a job that is about to be used up to what the store has, so that whoever has edited by way of another server
    /// finds the edit here. Where the store does not answer, what is known of the job goes on being shown.
    ///
    /// # Errors
    /// When the job is gone or cannot be read any more.
    pub(super) fn newest(&self, job: &Arc<OpenJob>) -> Result<(), ApiError> {
        if !self.are_shared() {
            return Ok(());
        }
        let id = job.id().to_owned();
        match self.store().revisions(std::slice::from_ref(&id)) {
            Ok(found) => self.bring_up(job, found.first().map(|f| f.1)),
            Err(StoreError::Away(_)) => Ok(()),
            Err(e) => Err(e.into()),
        }
    }

    /// Brings what is open here up to what the store has, of all that others changed; how many jobs that were.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn catch_up(&self, heard: &Heard) -> Result<usize, ApiError> {
        let named: Option<HashSet<&str>> = match heard {
            Heard::Said { jobs, .. } if jobs.is_empty() => return Ok(0),
            Heard::Said { jobs, .. } => Some(jobs.iter().map(String::as_str).collect()),
            Heard::Anything => None,
        };
        let mut open = self.open.opened();
        open.retain(|job| named.as_ref().is_none_or(|ids| ids.contains(job.id())));
        if open.is_empty() {
            return Ok(0);
        }
        let ids: Vec<String> = open.iter().map(|job| job.id().to_owned()).collect();
        let there: HashMap<String, u64> = self.store().revisions(&ids)?.into_iter().collect();
        let mut behind = 0;
        for job in &open {
            let newest = there.get(job.id()).copied();
            if newest != Some(job.now().revision) {
                behind += 1;
                if let Err(why) = self.bring_up(job, newest) {
                    // One that cannot be taken in keeps nobody from the others.
                    tracing::warn!(job = job.id(), why = %why.problem.message, "a job was not brought up to date");
                }
            }
        }
        Ok(behind)
    }

    /// Brings a job up to a revision; lets go of one that is gone, or that cannot be read as it now is.
    fn bring_up(&self, job: &Arc<OpenJob>, newest: Option<u64>) -> Result<(), ApiError> {
        let brought = match newest {
            Some(newest) if newest <= job.now().revision => return Ok(()),
            Some(_) => job.catch_up(),
            None => Err(no_such_job(job.id())),
        };
        let Err(why) = brought else { return Ok(()) };
        if why.status == StatusCode::SERVICE_UNAVAILABLE {
            return Err(why);
        }
        self.open.take_away(job.id(), || Ok::<(), ApiError>(()))?;
        job.tell(match why.status {
            StatusCode::NOT_FOUND => Event::Gone,
            _ => Event::Message(Arc::new(json!({ "kind": "behind" }))),
        });
        Err(why)
    }
}
