//! The job's own catalogue files, changed while the job is in use.

use super::{Event, OpenJob, Snapshot};
use crate::clock::now;
use crate::error::ApiError;
use crate::jobs::listing::{as_listed, no_such_job};
use crate::jobs::names::{line_of_text, person};
use crate::jobs::read::read;
use crate::metrics::EDITS;
use crate::random::letters;
use crate::store::{Entry, Kind, StoreError};
use loamline_limits::NOTE_CHARACTERS;
use loamline_model::{Edit, JobFile, Report};
use loamline_study::Study;
use std::sync::Arc;

/// Catalogue files: name and text, in the order they are read.
pub type CatalogueFiles = Vec<(String, String)>;

impl OpenJob {
    /// The job's own catalogue files.
    ///
    /// # Errors
    /// When the store cannot be read, or has the job no more.
    pub fn own_catalogue(&self) -> Result<CatalogueFiles, ApiError> {
        let stored = self.store.job(&self.id)?.ok_or_else(|| no_such_job(&self.id))?;
        Ok(stored.catalogue)
    }

    /// Puts other catalogue files of its own in place of those the job has; the revision after it. It stands in the log as an
    /// entry that changes nothing of the text: everybody looking at the job hears of it, undoing passes it by, and whatever
    /// was worked out before is worked out anew. What is wrong with the files, or with the job beside them, is told by
    /// `refused`.
    ///
    /// # Errors
    /// When the files have problems or the job makes no sense with them; when the store cannot be written. The job is then as
    /// it was.
    pub fn change_catalogue(
        &self,
        who: &str,
        note: &str,
        change: impl Fn(CatalogueFiles) -> Result<CatalogueFiles, ApiError>,
        refused: impl Fn(&Report) -> ApiError,
    ) -> Result<u64, ApiError> {
        let wrong = |p: Box<crate::error::FieldProblem>| ApiError::from(p);
        let who = person("/who", who).map_err(wrong)?;
        let note = line_of_text("/note", note, &NOTE_CHARACTERS).map_err(wrong)?;
        self.takes_edits()?;
        let edit_id = letters(26)?;
        self.in_turn(self.newest_there_is(), |_| {
            let before = self.now();
            let mut files = change(self.own_catalogue()?)?;
            files.sort_by(|a, b| a.0.cmp(&b.0));
            let file = read(before.file.text(), &files).map_err(|r| refused(&r))?;
            let entry = Entry {
                revision: before.revision + 1,
                edit_id: edit_id.clone(),
                kind: Kind::Edit,
                who: who.clone(),
                at: now(),
                made_at: None,
                note: note.clone(),
                patch: Edit::default(),
                inverse: Edit::default(),
            };
            self.equip(file, entry, &files)
        })
    }

    /// Puts the files in place of those the job has, with their entry; nothing where the store has a newer job.
    fn equip(
        &self,
        file: JobFile,
        entry: Entry,
        files: &[(String, String)],
    ) -> Result<Option<u64>, ApiError> {
        let listing = as_listed(file.job().document(), &entry.at);
        match self.store.append_with_catalogue(&self.id, &entry, file.text(), listing, files) {
            Err(StoreError::NoJob) => return Err(no_such_job(&self.id)),
            Err(StoreError::Behind) => return Ok(None),
            other => other?,
        }
        EDITS.add(1);
        let (study, revision) = (Study::new(file.job().clone()), entry.revision);
        self.publish(Snapshot { file: Arc::new(file), revision, study });
        self.tell(Event::Edited(Arc::new(entry)));
        Ok(Some(revision))
    }
}
