//! Jobs in use: read from the store once, edited in memory and store together, studied when somebody asks.

mod called;
mod deleted;
mod folder;
mod following;
mod later;
mod listing;
mod mending;
mod names;
mod open;
mod read;
mod reading_room;
mod slots;
mod spared;
mod templates;
mod undo;

pub use folder::{Folder, export, import, media_type, zipped};
pub use listing::no_such_job;
pub use mending::Damage;
pub use names::{attachment_name, line_of_text, person};
pub use open::{Applied, CatalogueFiles, EditRequest, Event, GoBack, OpenJob, Snapshot, UndoRequest};
pub use spared::is_of_the_crew;

use crate::clock::now;
use crate::error::ApiError;
use crate::random::letters;
use crate::store::{AttachmentRow, Doing, JobRow, NewJob, Store};
use listing::as_listed;
use loamline_limits::OPEN_JOBS;
use loamline_model::JobFile;
use loamline_terms::say;
use mending::Mended;
use read::read;
use reading_room::ReadingRoom;
use slots::Slots;
use std::sync::Arc;
use std::time::Duration;

/// All jobs of a store.
pub struct Jobs {
    store: Arc<dyn Store>,
    open: Slots<OpenJob>,
    reading: ReadingRoom,
}

impl Jobs {
    /// The jobs of a store.
    pub fn new(store: Arc<dyn Store>) -> Self {
        Self { store, open: Slots::new(OPEN_JOBS.most()), reading: ReadingRoom::default() }
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
        let file = Self::checked(text, catalogue)?;
        self.keep(&file, text, catalogue, attachments)
    }

    /// The texts of a job's files, read.
    ///
    /// # Errors
    /// Every problem of the texts.
    pub fn checked(text: &str, catalogue: &[(String, String)]) -> Result<JobFile, ApiError> {
        read(text, catalogue)
            .map_err(|r| ApiError::report(say!("The job has problems; nothing was taken in."), &r))
    }

    /// Keeps a job whose texts were read; its id.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn keep(
        &self,
        file: &JobFile,
        text: &str,
        catalogue: &[(String, String)],
        attachments: &[(AttachmentRow, Vec<u8>)],
    ) -> Result<String, ApiError> {
        self.keep_as(file, text, catalogue, attachments, false)
    }

    /// The same, as a template or not.
    fn keep_as(
        &self,
        file: &JobFile,
        text: &str,
        catalogue: &[(String, String)],
        attachments: &[(AttachmentRow, Vec<u8>)],
        template: bool,
    ) -> Result<String, ApiError> {
        let (id, at) = (letters(12)?, now());
        let listing = as_listed(file.job().document(), &at);
        self.store.create(&id, &NewJob { text, catalogue, attachments, listing, template })?;
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
                    mending::mended(&*self.store, &row.id, &stored).map(|mended| Some(mended.lost))
                }
                Ok(_) => Ok(None),
                Err(e) => Err(e.into()),
            };
            match looked {
                Ok(Some(None)) => told.push(format!(
                    "The job \"{}\" was damaged where it is kept. Its log proves what it was, and it was put right.",
                    row.name
                )),
                Ok(Some(Some(lost))) => told.push(format!("The job \"{}\": {lost}", row.name)),
                Ok(None) => {}
                Err(e) => told.push(format!("The job \"{}\": {}", row.name, e.problem.message)),
            }
        }
        Ok(told)
    }

    /// A job, read from the store when this is the first to ask for it. One that is read holds up nobody who wants another.
    ///
    /// # Errors
    /// When there is none; when it cannot be read.
    pub fn open(&self, id: &str) -> Result<Arc<OpenJob>, ApiError> {
        let job = self.open.open(id, || self.read_in(id))?;
        self.newest(&job)?;
        Ok(job)
    }

    /// A job as the store has it, put right where the log proves what it was; what is lost of it is told with it.
    fn read_in(&self, id: &str) -> Result<OpenJob, ApiError> {
        let stored = self.store.job(id)?.ok_or_else(|| no_such_job(id))?;
        let texts = stored.catalogue.iter().map(|(_, text)| text.len());
        let _seat = self.reading.seat(stored.text.len() + texts.sum::<usize>());
        let (file, revision) = if mending::is_whole(&stored) {
            let file = read(&stored.text, &stored.catalogue)
                .map_err(|r| ApiError::report(listing::unreadable(), &r))?;
            (file, stored.revision)
        } else {
            let Mended { file, revision, lost } = mending::mended(&*self.store, id, &stored)?;
            if let Some(lost) = lost {
                let damage = Damage { told: vec![lost], earlier: true };
                return Ok(OpenJob::new(id, Arc::clone(&self.store), file, revision, damage));
            }
            (file, revision)
        };
        let (stacks, damage) = mending::undoable(&*self.store, id, revision)?;
        Ok(OpenJob::new(id, Arc::clone(&self.store), file, revision, damage).with_undo(stacks))
    }

    /// Lets go of jobs nobody looks at and nobody has asked for so long; whoever asks next has them read again.
    pub fn let_go(&self, unused_for: Duration) {
        self.open.let_go(unused_for);
    }

    /// Notes in the log what is in no job's history.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn note(&self, who: &str, what: &str, about: &str) -> Result<(), ApiError> {
        let doing = Doing { at: now(), who: who.to_owned(), what: what.to_owned(), about: about.to_owned() };
        Ok(self.store.note(&doing)?)
    }
}
