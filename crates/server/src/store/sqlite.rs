//! Jobs in one SQLite file. Write-ahead log; every commit is flushed to the disk before it returns.

mod backup;
mod entries;
mod files;
mod opening;
mod rows;

pub use backup::Backup;
pub use opening::for_its_owner;

use super::copying::{Head, content, each_entry};
use super::log_row::{LogRow, written};
use super::{AttachmentRow, Device, Entry, JobListing, JobRow, NewJob, Store, StoreError, StoredJob};
use crate::random::{letters, sha256};
use entries::{ENTRY, exact, words};
use files::FILE;
use loamline_limits::JOB_ROOM_BYTES;
use rows::{insert_catalogue, insert_entry, insert_job};
use rusqlite::{Connection, ErrorCode, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// The store in an SQLite file.
#[derive(Debug)]
pub struct SqliteStore {
    connection: Mutex<Connection>,
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
        Ok(Self::on(opening::open(file)?))
    }

    /// A store that is gone when it is dropped, for tests.
    ///
    /// # Errors
    /// When memory cannot be had.
    pub fn in_memory() -> Result<Self, StoreError> {
        Ok(Self::on(opening::prepared(Connection::open_in_memory()?)?))
    }

    fn on(c: Connection) -> Self {
        Self { connection: Mutex::new(c), room_per_job: JOB_ROOM_BYTES.number, token: None }
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

    /// A transaction that may write jobs.
    fn begin<'c>(&self, c: &'c mut Connection) -> Result<Transaction<'c>, StoreError> {
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

    fn with(&self) -> MutexGuard<'_, Connection> {
        // A panic while the lock was held left a transaction that was rolled back when it was dropped.
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The errors of SQLite in those of a store, which knows no database.
impl From<rusqlite::Error> for StoreError {
    fn from(e: rusqlite::Error) -> Self {
        match e.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged(e.to_string()),
            _ => Self::Refused(e.to_string()),
        }
    }
}

impl Store for SqliteStore {
    fn ready(&self) -> Result<(), StoreError> {
        let c = self.with();
        c.query_row("SELECT count(*) FROM writer", [], |r| r.get::<_, i64>(0))?;
        self.is_the_writer(&c)
    }

    fn revisions(&self, ids: &[String]) -> Result<Vec<(String, u64)>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached("SELECT revision FROM jobs WHERE id = ?1")?;
        let mut found = Vec::new();
        for id in ids {
            let revision: Option<u64> = q.query_row([id], |r| r.get(0)).optional()?;
            found.extend(revision.map(|revision| (id.clone(), revision)));
        }
        Ok(found)
    }

    fn copy_in(&self, from: &dyn Store, listed: &JobRow) -> Result<(), StoreError> {
        let (id, head) = (&listed.id, Head::of(from, listed)?);
        let listing = JobListing { name: &listed.name, summary: &listed.summary, at: &listed.changed_at };
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        insert_job(&t, id, (&head.stored.text, head.stored.revision, head.made.as_deref()), listing)?;
        insert_catalogue(&t, id, &head.stored.catalogue)?;
        each_entry(from, id, |entry| insert_entry(&t, id, entry, &written(entry)?))?;
        for file in &head.files {
            files::keep(&t, self.room_per_job, id, file, &content(from, id, file)?)?;
        }
        Ok(t.commit()?)
    }

    fn jobs(&self) -> Result<Vec<JobRow>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT id, name, summary, revision, changed_at FROM jobs ORDER BY changed_at DESC, id",
        )?;
        let rows = q.query_map([], |r| {
            Ok(JobRow {
                id: r.get(0)?,
                name: r.get(1)?,
                summary: r.get(2)?,
                revision: r.get(3)?,
                changed_at: r.get(4)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn create(&self, id: &str, new: &NewJob<'_>) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        insert_job(&t, id, (new.text, 0, Some(new.text)), new.listing)?;
        insert_catalogue(&t, id, new.catalogue)?;
        for (row, bytes) in new.attachments {
            files::keep(&t, self.room_per_job, id, row, bytes)?;
        }
        Ok(t.commit()?)
    }

    fn job(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        let c = self.with();
        let job = c
            .prepare_cached("SELECT text, revision, sha256 FROM jobs WHERE id = ?1")?
            .query_row([id], |r| Ok((words(r, 0)?, r.get(1)?, words(r, 2)?)))
            .optional()?;
        let Some((text, revision, sum)) = job else { return Ok(None) };
        let mut q =
            c.prepare_cached("SELECT name, text, sha256 FROM catalogue_files WHERE job = ?1 ORDER BY place")?;
        let (mut catalogue, mut altered) = (Vec::new(), Vec::new());
        for row in q.query_map([id], |r| Ok((words(r, 0)?, words(r, 1)?, words(r, 2)?)))? {
            let (name, text, sum) = row?;
            if sha256(text.as_bytes()) != sum {
                altered.push(name.clone());
            }
            catalogue.push((name, text));
        }
        let logged = c
            .prepare_cached("SELECT coalesce(max(revision), 0) FROM edits WHERE job = ?1")?
            .query_row([id], |r| r.get(0))?;
        let as_written = sha256(text.as_bytes()) == sum;
        Ok(Some(StoredJob { text, catalogue, revision, logged, as_written, altered }))
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
        let changed = t
            .prepare_cached(
                "UPDATE jobs SET text = ?3, revision = ?2, name = ?4, summary = ?5, changed_at = ?6, sha256 = ?7
                 WHERE id = ?1 AND revision = ?2 - 1",
            )?
            .execute(params![
                id,
                entry.revision,
                text,
                listing.name,
                listing.summary,
                listing.at,
                sha256(text.as_bytes())
            ])?;
        if changed == 0 {
            let there = t.prepare_cached("SELECT 1 FROM jobs WHERE id = ?1")?.exists([id])?;
            return Err(if there { StoreError::Behind } else { StoreError::NoJob });
        }
        insert_entry(&t, id, entry, &texts)?;
        Ok(t.commit()?)
    }

    fn entry(&self, id: &str, edit_id: &str) -> Result<Option<Entry>, StoreError> {
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

    fn pair(&self, d: &Device, token_hash: &str) -> Result<(), StoreError> {
        self.with().execute(
            "INSERT INTO devices (id, token_hash, name, paired_at, seen_at) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![d.id, token_hash, d.name, d.paired_at, d.seen_at],
        )?;
        Ok(())
    }

    fn device_of(&self, token_hash: &str, now: &str) -> Result<Option<Device>, StoreError> {
        let c = self.with();
        let found = c
            .prepare_cached("SELECT id, name, paired_at, seen_at FROM devices WHERE token_hash = ?1")?
            .query_row([token_hash], device)
            .optional()?;
        // Once a minute is often enough: a flush to the disk for every request would be felt.
        if let Some(d) = found.as_ref().filter(|d| d.seen_at.get(..16) != now.get(..16)) {
            c.execute("UPDATE devices SET seen_at = ?2 WHERE id = ?1", [d.id.as_str(), now])?;
        }
        Ok(found)
    }

    fn devices(&self) -> Result<Vec<Device>, StoreError> {
        let c = self.with();
        let mut q =
            c.prepare_cached("SELECT id, name, paired_at, seen_at FROM devices ORDER BY seen_at DESC, id")?;
        Ok(q.query_map([], device)?.collect::<Result<_, _>>()?)
    }

    fn forget(&self, id: &str) -> Result<bool, StoreError> {
        Ok(self.with().execute("DELETE FROM devices WHERE id = ?1", [id])? > 0)
    }
}

fn device(r: &Row<'_>) -> Result<Device, rusqlite::Error> {
    Ok(Device { id: r.get(0)?, name: r.get(1)?, paired_at: r.get(2)?, seen_at: r.get(3)? })
}
