//! Deleting a job, and taking that back while it is still kept.

use super::listing::no_such_job;
use super::{Event, Jobs};
use crate::clock::{ago, now};
use crate::error::ApiError;
use crate::store::DeletedJob;
use loamline_limits::DELETED_KEPT_S;
use loamline_terms::say;

impl Jobs {
    /// Deletes a job, and tells whoever is looking at it. It is kept for a while, and can be brought back until then.
    ///
    /// # Errors
    /// When there is none; when the store cannot be written.
    pub fn delete(&self, id: &str, who: &str) -> Result<(), ApiError> {
        let gone = self.open.take_away(id, || -> Result<(), ApiError> {
            let was_there = self.store.put_away(id, who, &now())?;
            if was_there { Ok(()) } else { Err(no_such_job(id)) }
        })?;
        if let Some(job) = gone {
            job.tell(Event::Gone);
        }
        let name = self.store.deleted()?.into_iter().find(|d| d.id == id).map(|d| d.name);
        self.note(who, "deleted", &name.unwrap_or_default())
    }

    /// Jobs that were deleted and can be brought back, the one deleted last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn deleted(&self) -> Result<Vec<DeletedJob>, ApiError> {
        let end = ago(DELETED_KEPT_S.number);
        Ok(self.store.deleted()?.into_iter().filter(|d| d.at > end).collect())
    }

    /// Brings a deleted job back as it was; its name.
    ///
    /// # Errors
    /// When there is none, or it has been deleted too long; when the store cannot be written.
    pub fn bring_back(&self, id: &str, who: &str) -> Result<String, ApiError> {
        let nothing = || ApiError::not_found(say!("deleted job \"{id}\"", id = id));
        let deleted = self.deleted()?.into_iter().find(|d| d.id == id).ok_or_else(nothing)?;
        if !self.store.bring_back(id)? {
            return Err(nothing());
        }
        self.note(who, "restored", &deleted.name)?;
        Ok(deleted.name)
    }

    /// Takes away for good what was deleted long enough ago.
    ///
    /// # Errors
    /// When the store cannot be read or written.
    pub fn clear_away(&self) -> Result<(), ApiError> {
        let end = ago(DELETED_KEPT_S.number);
        for deleted in self.store.deleted()?.into_iter().filter(|d| d.at <= end) {
            self.store.delete(&deleted.id)?;
        }
        Ok(())
    }

    /// Whether there is a job, deleted ones left out; what is asked of the store alone asks this first.
    ///
    /// # Errors
    /// When there is none; when the store cannot be read.
    pub fn must_be_there(&self, id: &str) -> Result<(), ApiError> {
        if self.store.deleted()?.iter().any(|d| d.id == id) {
            return Err(no_such_job(id));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::{EditRequest, OpenJob};
    use crate::store::SqliteStore;
    use loamline_model::{Edit, Operation};
    use std::sync::Arc;

    const JOB: &str = "format = 1\n[job]\nname = \"Old mill\"\n";

    fn rename(job: &OpenJob, base_revision: u64) -> Result<(), ApiError> {
        let operation = Operation::Replace { path: "/job/name".into(), value: "New mill".into() };
        let request = EditRequest {
            edit_id: format!("edit-{base_revision:08}"),
            base_revision,
            measured_revision: None,
            patch: Edit::new([operation]),
            who: "Ann".into(),
            note: String::new(),
            made_at: None,
        };
        job.edit(request).map(|_| ())
    }

    #[test]
    fn what_is_deleted_is_nowhere_and_comes_back_whole() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        let id = jobs.create(JOB, &[], &[]).unwrap();
        let open = jobs.open(&id).unwrap();
        rename(&open, 0).unwrap();
        jobs.delete(&id, "Ann").unwrap();
        assert!(
            jobs.list().unwrap().is_empty() && jobs.open(&id).is_err() && jobs.must_be_there(&id).is_err()
        );
        assert!(rename(&open, 1).is_err(), "whoever still has it open writes nothing");
        assert!(jobs.delete(&id, "Ben").is_err(), "once is enough");
        let listed = jobs.deleted().unwrap();
        assert_eq!((listed[0].name.as_str(), listed[0].who.as_str()), ("New mill", "Ann"));
        assert_eq!(jobs.bring_back(&id, "Ben").unwrap(), "New mill");
        assert!(jobs.bring_back(&id, "Ben").is_err() && jobs.deleted().unwrap().is_empty());
        let log = jobs.store().doings(u64::MAX, 9).unwrap();
        let told: Vec<(&str, &str)> = log.iter().map(|(_, d)| (d.who.as_str(), d.what.as_str())).collect();
        assert_eq!(told, [("Ben", "restored"), ("Ann", "deleted")]);
        let back = jobs.open(&id).unwrap();
        assert_eq!(
            (back.now().revision, back.undo_and_redo("Ann").unwrap().0.map(|e| e.revision)),
            (1, Some(1))
        );
    }

    #[test]
    fn what_was_deleted_long_ago_goes_for_good_and_nothing_else() {
        let store = Arc::new(SqliteStore::in_memory().unwrap());
        let jobs = Jobs::new(store);
        let (old, new) = (jobs.create(JOB, &[], &[]).unwrap(), jobs.create(JOB, &[], &[]).unwrap());
        // A minute more than the time it is kept.
        jobs.store().put_away(&old, "Ann", &ago(DELETED_KEPT_S.number + 60)).unwrap();
        jobs.store().put_away(&new, "Ann", &now()).unwrap();
        assert_eq!(jobs.deleted().unwrap().len(), 1);
        assert!(jobs.bring_back(&old, "Ben").is_err());
        jobs.clear_away().unwrap();
        let left: Vec<String> = jobs.store().deleted().unwrap().into_iter().map(|d| d.id).collect();
        assert_eq!(left, [new]);
        assert!(!jobs.store().delete(&old).unwrap(), "it is gone");
    }
}
