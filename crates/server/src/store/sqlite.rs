//! Jobs in one SQLite file. Write-ahead log; every commit is flushed to the disk before it returns.

mod backup;
mod entries;
mod files;
mod firm;
mod opening;
mod people;
mod people_tables;
mod rows;
mod sign_ins;
mod watch;

pub use backup::Backup;
pub use opening::for_its_owner;

use super::copying::{Head, JobTexts, content, each_entry};
use super::log_row::{LogRow, written};
use super::{AttachmentRow, Entry, FirmFile, JobListing, JobRow, NewJob, Store, StoreError, StoredJob};
use crate::random::{letters, sha256};
use entries::{ENTRY, exact};
use files::FILE;
use loamline_limits::JOB_ROOM_BYTES;
use rows::{append_one, insert_catalogue, insert_entry, insert_job, replace_catalogue};
use rusqlite::{Connection, ErrorCode, OptionalExtension, Transaction, TransactionBehavior, ffi, params};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};
use watch::Watch;

/// The store in an SQLite file.
#[derive(Debug)]
pub struct SqliteStore {
    connection: Mutex<Connection>,
    /// None where there is no file.
    watch: Option<Watch>,
    room_per_job: u64,
    /// What says that this program is the one that writes; none where nobody serves.
    token: Option<String>,
}

impl SqliteStore {
    /// Opens the file, making it when it is not there. It is looked over first.
    ///
    /// # Errors
    /// When it cannot be opened, is no store, is torn, or was written by a newer program.
    pub fn open(file: &Path) -> Result<Self, StoreError> {
        let connection = opening::open(file)?;
        Ok(Self::on(connection, Some(Watch::of(file)?)))
    }

    /// A store that is gone when it is dropped, for tests.
    ///
    /// # Errors
    /// When memory cannot be had.
    pub fn in_memory() -> Result<Self, StoreError> {
        Ok(Self::on(opening::prepared(Connection::open_in_memory()?)?, None))
    }

    fn on(c: Connection, watch: Option<Watch>) -> Self {
        Self { connection: Mutex::new(c), watch, room_per_job: JOB_ROOM_BYTES.number, token: None }
    }

    /// The same with another limit on the bytes of files a job may keep.
    #[must_use]
    pub fn with_room(mut self, bytes_per_job: u64) -> Self {
        self.room_per_job = bytes_per_job;
        self
    }

    /// Becomes the one that writes. Whoever did before, in a program that should not run any more, is refused from now on.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn take_over(mut self) -> Result<Self, StoreError> {
        let token = letters(26).map_err(|e| StoreError::Damaged(e.to_string()))?;
        self.with().execute("INSERT OR REPLACE INTO writer (one, token) VALUES (1, ?1)", [&token])?;
        self.token = Some(token);
        Ok(self)
    }

    /// The connection, to write with: its file is still the one that was opened.
    fn writing(&self) -> Result<MutexGuard<'_, Connection>, StoreError> {
        self.look()?;
        Ok(self.with())
    }

    /// A transaction that may write jobs.
    fn begin<'c>(&self, c: &'c mut Connection) -> Result<Transaction<'c>, StoreError> {
        self.look()?;
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        self.is_the_writer(&t)?;
        Ok(t)
    }

    /// Whether this program is still the one that writes.
    fn is_the_writer(&self, c: &Connection) -> Result<(), StoreError> {
        let Some(mine) = &self.token else { return Ok(()) };
        let now: Option<String> =
            c.prepare_cached("SELECT token FROM writer")?.query_row([], |r| r.get(0)).optional()?;
        if now.as_ref() == Some(mine) { Ok(()) } else { Err(StoreError::TakenOver) }
    }

    /// Whether the file is as this program left it: asked before anything is written.
    fn look(&self) -> Result<(), StoreError> {
        self.watch.as_ref().map_or(Ok(()), Watch::look)
    }

    fn with(&self) -> MutexGuard<'_, Connection> {
        // A panic while the lock was held left a transaction that was rolled back when it was dropped.
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The errors of SQLite in those of a store, which knows no database.
impl From<rusqlite::Error> for StoreError {
    fn from(e: rusqlite::Error) -> Self {
        // The second is the file beside the store through which its users know of each other: it is made at every start.
        let full = e.sqlite_error().is_some_and(|told| {
            told.code == ErrorCode::DiskFull || told.extended_code == ffi::SQLITE_IOERR_SHMSIZE
        });
        match e.sqlite_error_code() {
            _ if full => Self::NoRoom,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged(e.to_string()),
            _ => Self::Refused(e.to_string()),
        }
    }
}

impl Store for SqliteStore {
    fn ready(&self) -> Result<(), StoreError> {
        self.look()?;
        let c = self.with();
        c.query_row("SELECT count(*) FROM writer", [], |r| r.get::<_, i64>(0))?;
        self.is_the_writer(&c)
    }

    fn revisions(&self, ids: &[String]) -> Result<Vec<(String, u64)>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT revision FROM jobs WHERE id = ?1 AND id NOT IN (SELECT job FROM deleted_jobs)",
        )?;
        let mut found = Vec::new();
        for id in ids {
            let revision: Option<u64> = q.query_row([id], |r| r.get(0)).optional()?;
            found.extend(revision.map(|revision| (id.clone(), revision)));
        }
        Ok(found)
    }

    fn all_kept(&self) -> Result<Vec<JobRow>, StoreError> {
        rows::listed(&self.with(), "true")
    }

    fn kept(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        rows::stored(&self.with(), id, "id = ?1")
    }

    fn copy_in(&self, from: &dyn Store, listed: &JobRow) -> Result<(), StoreError> {
        let (id, head) = (&listed.id, Head::of(from, listed)?);
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        insert_job(&t, id, JobTexts::of(&head), listed.listing(), listed.template)?;
        insert_catalogue(&t, id, &head.stored.catalogue)?;
        each_entry(from, id, |entry| insert_entry(&t, id, entry, &written(entry)?))?;
        for file in &head.files {
            files::keep(&t, self.room_per_job, id, file, &content(from, id, file)?)?;
        }
        for (link, token_hash) in &head.links {
            rows::insert_link(&t, link, token_hash)?;
        }
        if let Some(deleted) = &head.deleted {
            rows::mark_deleted(&t, id, &deleted.who, &deleted.at)?;
        }
        Ok(t.commit()?)
    }

    fn jobs(&self) -> Result<Vec<JobRow>, StoreError> {
        rows::listed(&self.with(), "id NOT IN (SELECT job FROM deleted_jobs)")
    }

    fn create(&self, id: &str, new: &NewJob<'_>) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        insert_job(&t, id, JobTexts::new(new.text), new.listing, new.template)?;
        insert_catalogue(&t, id, new.catalogue)?;
        for (row, bytes) in new.attachments {
            files::keep(&t, self.room_per_job, id, row, bytes)?;
        }
        Ok(t.commit()?)
    }

    fn job(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        rows::stored(&self.with(), id, "id = ?1 AND id NOT IN (SELECT job FROM deleted_jobs)")
    }

    fn made(&self, id: &str) -> Result<Option<String>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached("SELECT made FROM jobs WHERE id = ?1")?;
        Ok(q.query_row([id], |r| exact(r, 0)).optional()?.flatten())
    }

    fn mend(&self, id: &str, text: &str, revision: u64) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        t.execute(
            "UPDATE jobs SET text = ?2, revision = ?3, sha256 = ?4 WHERE id = ?1 AND revision <= ?3",
            params![id, text, revision, sha256(text.as_bytes())],
        )?;
        Ok(t.commit()?)
    }

    fn delete(&self, id: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let contents = files::of_job(&t, id)?;
        let gone = t.execute("DELETE FROM jobs WHERE id = ?1", [id])? > 0;
        files::let_go(&t, contents)?;
        t.commit()?;
        Ok(gone)
    }

    fn append(&self, id: &str, entry: &Entry, text: &str, listing: JobListing<'_>) -> Result<(), StoreError> {
        let texts = written(entry)?;
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        append_one(&t, id, (entry, &texts), text, listing)?;
        Ok(t.commit()?)
    }

    fn append_with_catalogue(
        &self,
        id: &str,
        entry: &Entry,
        text: &str,
        listing: JobListing<'_>,
        catalogue: &[(String, String)],
    ) -> Result<(), StoreError> {
        let texts = written(entry)?;
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        append_one(&t, id, (entry, &texts), text, listing)?;
        replace_catalogue(&t, id, catalogue)?;
        Ok(t.commit()?)
    }

    fn entry(&self, id: &str, edit_id: &str) -> Result<Option<Entry>, StoreError> {
        // Asked before every edit: in a file that lost its pages no edit was ever sent.
        self.look()?;
        let c = self.with();
        let mut q =
            c.prepare_cached(&format!("SELECT {ENTRY} FROM edits WHERE job = ?1 AND edit_id = ?2"))?;
        Ok(q.query_row([id, edit_id], entries::row).optional()?.map(LogRow::entry))
    }

    fn entry_at(&self, id: &str, revision: u64) -> Result<Option<Entry>, StoreError> {
        let c = self.with();
        let mut q =
            c.prepare_cached(&format!("SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision = ?2"))?;
        Ok(q.query_row(params![id, revision], entries::row).optional()?.map(LogRow::entry))
    }

    fn since(&self, id: &str, after: u64, wanted: &mut dyn FnMut(Entry) -> bool) -> Result<(), StoreError> {
        let mut after = after;
        loop {
            // The lock is given back before anything is made of the page.
            let page = entries::page(&self.with(), id, after)?;
            let Some(last) = page.last() else { return Ok(()) };
            after = last.revision;
            for row in page {
                if !wanted(row.entry()) {
                    return Ok(());
                }
            }
        }
    }

    fn before(&self, id: &str, before: u64, limit: u32) -> Result<Vec<Entry>, StoreError> {
        let page = entries::page_before(&self.with(), id, before, limit)?;
        Ok(page.into_iter().map(LogRow::entry).collect())
    }

    fn attach(&self, id: &str, row: &AttachmentRow, bytes: &[u8]) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let before = files::keep(&t, self.room_per_job, id, row, bytes)?;
        files::let_go(&t, before)?;
        Ok(t.commit()?)
    }

    fn attachments(&self, id: &str) -> Result<Vec<AttachmentRow>, StoreError> {
        let c = self.with();
        let mut q =
            c.prepare_cached(&format!("SELECT {FILE} FROM attachments WHERE job = ?1 ORDER BY name"))?;
        Ok(q.query_map([id], files::row)?.collect::<Result<_, _>>()?)
    }

    fn attachment(&self, id: &str, name: &str) -> Result<Option<(AttachmentRow, Vec<u8>)>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(&format!(
            "SELECT {FILE}, bytes FROM attachments JOIN contents USING (sha256) WHERE job = ?1 AND name = ?2"
        ))?;
        let found: Option<(AttachmentRow, Vec<u8>)> =
            q.query_row([id, name], |r| Ok((files::row(r)?, r.get(4)?))).optional()?;
        if let Some((row, bytes)) = &found
            && sha256(bytes) != row.sha256
        {
            return Err(StoreError::Damaged(format!("the file {} is not what was written", row.name)));
        }
        Ok(found)
    }

    fn detach(&self, id: &str, name: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let content = files::of_name(&t, id, name)?;
        let gone = t.execute("DELETE FROM attachments WHERE job = ?1 AND name = ?2", [id, name])? > 0;
        files::let_go(&t, content)?;
        t.commit()?;
        Ok(gone)
    }

    fn firm(&self) -> Result<Vec<FirmFile>, StoreError> {
        firm::files(&self.with())
    }

    fn keep_of_firm(&self, file: &FirmFile) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        firm::keep(&t, file)?;
        Ok(t.commit()?)
    }

    fn drop_of_firm(&self, name: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let gone = firm::take_away(&t, name)?;
        t.commit()?;
        Ok(gone)
    }
}

#[cfg(test)]
mod tests {
    use super::StoreError;
    use rusqlite::{Error, ffi};

    /// Codes of SQLite's own list (sqlite.org/rescode.html).
    #[test]
    fn a_full_disk_is_told_from_a_broken_one() {
        let of = |code| StoreError::from(Error::SqliteFailure(ffi::Error::new(code), None));
        for full in [ffi::SQLITE_FULL, ffi::SQLITE_IOERR_SHMSIZE] {
            let why = of(full);
            assert!(matches!(why, StoreError::NoRoom) && why.to_string().contains("make room"), "{why}");
        }
        for broken in [ffi::SQLITE_IOERR, ffi::SQLITE_IOERR_WRITE] {
            assert!(matches!(of(broken), StoreError::Refused(_)), "{broken}");
        }
        assert!(matches!(of(ffi::SQLITE_CORRUPT), StoreError::Damaged(_)));
    }
}
