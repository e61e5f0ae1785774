//! Jobs in use: read from the store once, edited in memory and store together, studied when somebody asks.

mod folder;
mod mending;
mod names;
mod open;
mod read;
mod spared;
mod undo;

pub use folder::{Folder, export, import, media_type, zipped};
pub use names::{attachment_name, line_of_text, person};
pub use open::{Applied, EditRequest, Event, OpenJob, Snapshot, UndoRequest};
pub use undo::UndoStacks;

use crate::clock::now;
use crate::error::ApiError;
use crate::random::letters;
use crate::store::{AttachmentRow, JobListing, JobRow, NewJob, Store};
use read::read;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Jobs held in memory before those nobody uses are let go; each takes some megabytes once it has been studied.
const OPEN: usize = 32;

/// All jobs of a store.
pub struct Jobs {
    store: Arc<dyn Store>,
    open: Mutex<HashMap<String, Arc<OpenJob>>>,
}

impl Jobs {
    /// The jobs of a store.
    pub fn new(store: Arc<dyn Store>) -> Self {
        Self { store, open: Mutex::default() }
    }

    /// The store.
    pub fn store(&self) -> &dyn Store {
        &*self.store
    }

    /// Every job, the one changed last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn list(&self) -> Result<Vec<JobRow>, ApiError> {
        Ok(self.store.jobs()?)
    }

    /// Makes a job from the texts of its files and the files kept with it; its id.
    ///
    /// # Errors
    /// Every problem of the texts; when the store cannot be written.
    pub fn create(
        &self,
        text: &str,
        catalogue: &[(String, String)],
        attachments: &[(AttachmentRow, Vec<u8>)],
    ) -> Result<String, ApiError> {
        let file = read(text, catalogue)
            .map_err(|r| ApiError::report("The job has problems; nothing was taken in.", &r))?;
        let id = letters(12)?;
        let about = &file.job().document().about;
        let listing = JobListing { name: &about.name, summary: &about.summary, at: &now() };
        self.store.create(&id, &NewJob { text, catalogue, attachments, listing })?;
        Ok(id)
    }

    /// Looks every job over and puts right what its log proves; a sentence for each that was put right or cannot be.
    ///
    /// # Errors
    /// When the list of jobs cannot be read.
    pub fn look_over(&self) -> Result<Vec<String>, ApiError> {
        let mut told = Vec::new();
        for row in self.list()? {
            let looked = match self.store.job(&row.id) {
                Ok(Some(stored)) if !mending::is_whole(&stored) => {
                    mending::mended(&*self.store, &row.id, stored).map(|_| true)
                }
                Ok(_) => Ok(false),
                Err(e) => Err(e.into()),
            };
            match looked {
                Ok(true) => told.push(format!(
                    "The job \"{}\" was damaged where it is kept. Its log proves what it was, and it was put right.",
                    row.name
                )),
                Ok(false) => {}
                Err(e) => told.push(format!("The job \"{}\": {}", row.name, e.problem.message)),
            }
        }
        Ok(told)
    }

    /// A job, read from the store when this is the first to ask for it.
    ///
    /// # Errors
    /// When there is none; when it cannot be read.
    pub fn open(&self, id: &str) -> Result<Arc<OpenJob>, ApiError> {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(job) = open.get(id) {
            return Ok(Arc::clone(job));
        }
        if open.len() >= OPEN {
            // Those nobody is looking at or asking about.
            open.retain(|_, job| Arc::strong_count(job) > 1);
        }
        let stored = self.store.job(id)?.ok_or_else(|| ApiError::not_found(format!("job \"{id}\"")))?;
        let stored =
            if mending::is_whole(&stored) { stored } else { mending::mended(&*self.store, id, stored)? };
        let file = read(&stored.text, &stored.catalogue).map_err(|r| {
            ApiError::report("The stored job cannot be read by this version of the program.", &r)
        })?;
        let stacks = UndoStacks::of(self.store.steps(id)?);
        let job = Arc::new(OpenJob::new(id, Arc::clone(&self.store), file, stored.revision, stacks));
        open.insert(id.to_owned(), Arc::clone(&job));
        Ok(job)
    }

    /// Takes a job away with everything kept with it, and tells whoever is looking at it.
    ///
    /// # Errors
    /// When there is none; when the store cannot be written.
    pub fn delete(&self, id: &str) -> Result<(), ApiError> {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if !self.store.delete(id)? {
            return Err(ApiError::not_found(format!("job \"{id}\"")));
        }
        if let Some(job) = open.remove(id) {
            job.tell(Event::Gone);
        }
        Ok(())
    }
}
