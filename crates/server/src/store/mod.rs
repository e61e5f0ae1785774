//! Where jobs are kept: behind one trait that knows no database. Two keep it, held to one contract by one suite of tests
//! (`tests/store_contract`): a file of SQLite for one computer, PostgreSQL for a firm with several servers.
//!
//! A job is the text of its `job.toml` with its own catalogue files, a log of edits, and attachments. The log is only
//! ever added to: undoing adds an entry too. Whatever a call has returned `Ok` for survives the end of the process and
//! the loss of power.

mod copying;
mod error;
mod log_row;
mod people;
mod postgres;
mod sign_ins;
mod sqlite;
mod tasks;

pub use self::postgres::PostgresStore;
pub use copying::{sum_of, sum_of_device, sum_of_doings, sum_of_person};
pub use error::StoreError;
pub use people::{Acceptance, ClientLink, DeletedJob, Device, Doing, People, Role, Token};
pub use sign_ins::{Identity, Passkey, Person, SignIns};
pub use sqlite::{Backup, SqliteStore, for_its_owner};
pub use tasks::{Begun, Hand, NewTask, Outcome, Task, TaskKind, Tasks};

use loamline_model::Edit;
use serde::Serialize;
use std::time::Duration;

/// What an entry of the log is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// An edit.
    Edit,
    /// The undoing of the entry with this revision.
    Undo(u64),
    /// The entry with this revision, undone before, done again.
    Redo(u64),
    /// What it was cannot be read any more: its row in the store is damaged.
    Unreadable,
}

impl Kind {
    /// As it is kept and told.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Edit => "edit",
            Self::Undo(_) => "undo",
            Self::Redo(_) => "redo",
            Self::Unreadable => "unreadable",
        }
    }

    /// The entry it undoes or does again.
    pub const fn of(self) -> Option<u64> {
        match self {
            Self::Undo(of) | Self::Redo(of) => Some(of),
            Self::Edit | Self::Unreadable => None,
        }
    }
}

/// An entry of the log of edits. One that is [`Kind::Unreadable`] has an empty edit, and of the rest what can be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Revision of the job once this edit had taken effect; the first is 1.
    pub revision: u64,
    /// Made up by whoever sent it, so that sending twice applies once.
    pub edit_id: String,
    /// What it is.
    pub kind: Kind,
    /// Who made it.
    pub who: String,
    /// When it was stored, RFC 3339, by the clock here.
    pub at: String,
    /// When it was made, by the clock of whoever made it, as they said.
    pub made_at: Option<String>,
    /// What it is for, in words.
    pub note: String,
    /// The edit.
    pub patch: Edit,
    /// The edit that undoes it.
    pub inverse: Edit,
}

/// A job in the list.
#[derive(Debug, Clone, PartialEq)]
pub struct JobRow {
    /// Its id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// A sentence or two about it.
    pub summary: String,
    /// Its revision.
    pub revision: u64,
    /// When it last changed, RFC 3339.
    pub changed_at: String,
    /// How far it is, as the job has it; empty where it does not say.
    pub status: String,
    /// Name of the client; empty where the job does not say.
    pub client: String,
    /// Whether it is a template, which other jobs start from.
    pub template: bool,
}

impl JobRow {
    /// What the list shows of it.
    pub fn listing(&self) -> JobListing<'_> {
        JobListing {
            name: &self.name,
            summary: &self.summary,
            at: &self.changed_at,
            status: &self.status,
            client: &self.client,
        }
    }
}

/// A job as it is kept.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredJob {
    /// The text of `job.toml`.
    pub text: String,
    /// Its own catalogue files: name and text, in the order they are read.
    pub catalogue: Vec<(String, String)>,
    /// Its revision.
    pub revision: u64,
    /// The last revision in its log.
    pub logged: u64,
    /// Whether the text is what was written, by its checksum.
    pub as_written: bool,
    /// Names of its own catalogue files that are not what was written, by theirs.
    pub altered: Vec<String>,
}

/// A job to be kept.
#[derive(Debug, Clone, Copy)]
pub struct NewJob<'a> {
    /// The text of `job.toml`.
    pub text: &'a str,
    /// Its own catalogue files: name and text, in the order they are read.
    pub catalogue: &'a [(String, String)],
    /// Files kept with it.
    pub attachments: &'a [(AttachmentRow, Vec<u8>)],
    /// What the list shows of it.
    pub listing: JobListing<'a>,
    /// Whether it is a template.
    pub template: bool,
}

/// What the list of jobs shows of a job, kept beside its text.
#[derive(Debug, Clone, Copy)]
pub struct JobListing<'a> {
    /// Its name.
    pub name: &'a str,
    /// A sentence or two about it.
    pub summary: &'a str,
    /// Now, RFC 3339.
    pub at: &'a str,
    /// How far it is; empty where it does not say.
    pub status: &'a str,
    /// Name of the client; empty where it does not say.
    pub client: &'a str,
}

/// A file of the firm: what all jobs' papers have in common.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FirmFile {
    /// Its name.
    pub name: String,
    /// Its contents.
    pub bytes: Vec<u8>,
    /// SHA-256 of its contents, hexadecimal.
    pub sha256: String,
}

/// A file kept with a job.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AttachmentRow {
    /// Its name.
    pub name: String,
    /// SHA-256 of its content, hexadecimal.
    pub sha256: String,
    /// Media type.
    pub media_type: String,
    /// Size, bytes.
    pub size: u64,
}

/// What was heard of what other servers did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// What was said; nothing where it is empty.
    Said {
        /// Jobs that changed.
        jobs: Vec<String>,
        /// Jobs for which work that was asked for went on.
        tasks: Vec<String>,
        /// Whether devices were turned away or given another role.
        people: bool,
    },
    /// Something may have been missed: every job may have changed, and so may who is let in.
    Anything,
}

/// How servers on one store wake each other. No more than that: what happened stands in the log, and whoever missed a call
/// finds it there.
pub trait Others: Send + Sync {
    /// Waits until another server says that something changed, at most so long.
    ///
    /// # Errors
    /// When the store is out of reach; the next call begins anew.
    fn hear(&self, at_most: Duration) -> Result<Heard, StoreError>;

    /// Waits until something changed here, at most so long, and tells the others of all that did, in one call; whether
    /// anything did.
    ///
    /// # Errors
    /// When the store is out of reach: the others find it in the log.
    fn tell(&self, at_most: Duration) -> Result<bool, StoreError>;

    /// Tells the others something that is kept nowhere, and that may be lost.
    ///
    /// # Errors
    /// When the store is out of reach.
    fn tell_present(&self, said: &str) -> Result<(), StoreError>;

    /// Waits until others told such a thing, at most so long: a word for the server, and what it said.
    ///
    /// # Errors
    /// When the store is out of reach; the next call begins anew.
    fn hear_present(&self, at_most: Duration) -> Result<Vec<(String, String)>, StoreError>;
}

/// Keeps jobs. Calls may take as long as the disk or the network does, and are made on threads that may wait: never on one
/// that serves.
pub trait Store: People + SignIns {
    /// Whether it can be read and written now.
    ///
    /// # Errors
    /// Why it cannot.
    fn ready(&self) -> Result<(), StoreError>;

    /// How other servers on the same store are heard; none where there can be no other.
    fn others(&self) -> Option<&dyn Others> {
        None
    }

    /// How work is handed to whoever has a hand free for it; none where it is done by whoever is asked.
    fn tasks(&self) -> Option<&dyn Tasks> {
        None
    }

    /// Revisions of those of some jobs that are there and were not deleted.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn revisions(&self, ids: &[String]) -> Result<Vec<(String, u64)>, StoreError>;

    /// Every job that is kept, those that were deleted among them, the one changed last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn all_kept(&self) -> Result<Vec<JobRow>, StoreError>;

    /// A job as it is kept, whether or not it was deleted; `None` when there is none of that id.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn kept(&self, id: &str) -> Result<Option<StoredJob>, StoreError>;

    /// Keeps a job as another store has it, with its log, its files, its links for clients and whether it was deleted: all
    /// of it or nothing. `listed` is the other store's row of it.
    ///
    /// # Errors
    /// [`StoreError::IdTaken`] where there is one of that id, [`StoreError::Damaged`] where the other's is damaged; when
    /// either store cannot be read or written.
    fn copy_in(&self, from: &dyn Store, listed: &JobRow) -> Result<(), StoreError>;

    /// Every job that was not deleted, the one changed last first.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn jobs(&self) -> Result<Vec<JobRow>, StoreError>;

    /// Keeps a new job at revision 0, with its files: all of it or nothing.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn create(&self, id: &str, new: &NewJob<'_>) -> Result<(), StoreError>;

    /// A job; `None` when there is none of that id, or it was deleted.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn job(&self, id: &str) -> Result<Option<StoredJob>, StoreError>;

    /// The text a job had at revision 0; `None` where it was not kept, or is no text any more.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn made(&self, id: &str) -> Result<Option<String>, StoreError>;

    /// Puts a job's text and revision right, as its log proves them; a job that has gone on meanwhile stays as it is.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn mend(&self, id: &str, text: &str, revision: u64) -> Result<(), StoreError>;

    /// Takes a job away for good, with its log and attachments; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn delete(&self, id: &str) -> Result<bool, StoreError>;

    /// Adds an entry to a job's log, with the text the job has after it. Returns once both are durable.
    ///
    /// # Errors
    /// [`StoreError::NoJob`] when it was deleted, [`StoreError::Behind`] unless the entry's revision follows the stored
    /// one; when the store cannot be written.
    fn append(&self, id: &str, entry: &Entry, text: &str, listing: JobListing<'_>) -> Result<(), StoreError>;

    /// The same for an entry that puts other catalogue files of the job's own (name and text, in the order they are read) in
    /// place of those there are: all of it or nothing.
    ///
    /// # Errors
    /// As [`Store::append`].
    fn append_with_catalogue(
        &self,
        id: &str,
        entry: &Entry,
        text: &str,
        listing: JobListing<'_>,
        catalogue: &[(String, String)],
    ) -> Result<(), StoreError>;

    /// The entry of an edit id.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn entry(&self, id: &str, edit_id: &str) -> Result<Option<Entry>, StoreError>;

    /// The entry of a revision.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn entry_at(&self, id: &str, revision: u64) -> Result<Option<Entry>, StoreError>;

    /// Shows entries with a revision above `after` one by one, oldest first, until `wanted` says no. Only a page of them is
    /// held, however long the log is, and others read and write the store meanwhile. What cannot be read is shown as such.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn since(&self, id: &str, after: u64, wanted: &mut dyn FnMut(Entry) -> bool) -> Result<(), StoreError>;

    /// At most `limit` entries with a revision below `before`, newest first; fewer where they are very large, at least
    /// one. What cannot be read is among them as such.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn before(&self, id: &str, before: u64, limit: u32) -> Result<Vec<Entry>, StoreError>;

    /// Keeps a file with a job, in place of one of the same name. Equal contents are kept once, and count for each name.
    ///
    /// # Errors
    /// [`StoreError::NoJob`] when there is no such job, [`StoreError::TooMany`] and [`StoreError::Full`] when there would be
    /// too many files or they would take too much room; when the store cannot be written.
    fn attach(&self, id: &str, row: &AttachmentRow, bytes: &[u8]) -> Result<(), StoreError>;

    /// The files kept with a job, by name.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn attachments(&self, id: &str) -> Result<Vec<AttachmentRow>, StoreError>;

    /// A file kept with a job.
    ///
    /// # Errors
    /// When the store cannot be read.
    fn attachment(&self, id: &str, name: &str) -> Result<Option<(AttachmentRow, Vec<u8>)>, StoreError>;

    /// Takes a file away; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn detach(&self, id: &str, name: &str) -> Result<bool, StoreError>;

    /// The firm's files, by name.
    ///
    /// # Errors
    /// When the store cannot be read; [`StoreError::Damaged`] where one is not what was written.
    fn firm(&self) -> Result<Vec<FirmFile>, StoreError>;

    /// Keeps a file of the firm, in place of one of the same name.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn keep_of_firm(&self, file: &FirmFile) -> Result<(), StoreError>;

    /// Takes a file of the firm away; whether there was one.
    ///
    /// # Errors
    /// When the store cannot be written.
    fn drop_of_firm(&self, name: &str) -> Result<bool, StoreError>;
}
