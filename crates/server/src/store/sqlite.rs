//! Jobs in one SQLite file. Write-ahead log; every commit is flushed to the disk before it returns.

mod entries;
mod firm;
mod opening;
mod people;
mod people_tables;
mod watch;

pub use opening::for_its_owner;

use super::{AttachmentRow, Entry, FirmFile, JobListing, JobRow, NewJob, Store, StoreError, StoredJob};
use crate::random::{letters, sha256};
use entries::{ENTRY, Raw, exact, words};
use loamline_limits::{ATTACHMENTS, JOB_ROOM_BYTES};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
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
        if let Some(mine) = &self.token {
            let now: Option<String> =
                t.prepare_cached("SELECT token FROM writer")?.query_row([], |r| r.get(0)).optional()?;
            if now.as_ref() != Some(mine) {
                return Err(StoreError::TakenOver);
            }
        }
        Ok(t)
    }

    /// Keeps a file within a transaction.
    fn keep(
        &self,
        t: &Transaction<'_>,
        id: &str,
        row: &AttachmentRow,
        bytes: &[u8],
    ) -> Result<(), StoreError> {
        let (files, kept): (u64, u64) = t.query_row(
            "SELECT count(*), coalesce(sum(size), 0) FROM attachments WHERE job = ?1 AND name <> ?2",
            params![id, row.name],
            |r| Ok((r.get(0)?, r.get(1)?)),
        )?;
        ATTACHMENTS.check_u64(files.saturating_add(1))?;
        if kept.saturating_add(row.size) > self.room_per_job {
            return Err(StoreError::Full { kept, wanted: row.size, most: self.room_per_job });
        }
        t.execute(
            "INSERT INTO contents (sha256, bytes) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            params![row.sha256, bytes],
        )?;
        t.execute(
            "INSERT INTO attachments (job, name, sha256, media_type, size) VALUES (?1, ?2, ?3, ?4, ?5)
             ON CONFLICT (job, name) DO UPDATE SET sha256 = ?3, media_type = ?4, size = ?5",
            params![id, row.name, row.sha256, row.media_type, row.size],
        )?;
        Ok(())
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

impl Store for SqliteStore {
    fn jobs(&self) -> Result<Vec<JobRow>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT id, name, summary, revision, changed_at, status, client, template FROM jobs
             WHERE id NOT IN (SELECT job FROM deleted_jobs) ORDER BY changed_at DESC, id",
        )?;
        let rows = q.query_map([], |r| {
            Ok(JobRow {
                id: r.get(0)?,
                name: r.get(1)?,
                summary: r.get(2)?,
                revision: r.get(3)?,
                changed_at: r.get(4)?,
                status: r.get(5)?,
                client: r.get(6)?,
                template: r.get(7)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    fn create(&self, id: &str, new: &NewJob<'_>) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        t.execute(
            "INSERT INTO jobs (id, text, revision, name, summary, changed_at, sha256, made, status, client, template)
             VALUES (?1, ?2, 0, ?3, ?4, ?5, ?6, ?2, ?7, ?8, ?9)",
            params![
                id,
                new.text,
                new.listing.name,
                new.listing.summary,
                new.listing.at,
                sha256(new.text.as_bytes()),
                new.listing.status,
                new.listing.client,
                new.template
            ],
        )?;
        put_catalogue(&t, id, new.catalogue)?;
        for (row, bytes) in new.attachments {
            self.keep(&t, id, row, bytes)?;
        }
        Ok(t.commit()?)
    }

    fn job(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        let c = self.with();
        let job = c
            .prepare_cached(
                "SELECT text, revision, sha256 FROM jobs
                 WHERE id = ?1 AND id NOT IN (SELECT job FROM deleted_jobs)",
            )?
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
            "UPDATE jobs SET text = ?2, revision = ?3, sha256 = ?4 WHERE id = ?1",
            params![id, text, revision, sha256(text.as_bytes())],
        )?;
        Ok(t.commit()?)
    }

    fn delete(&self, id: &str) -> Result<bool, StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        let gone = t.execute("DELETE FROM jobs WHERE id = ?1", [id])? > 0;
        drop_unused_contents(&t)?;
        t.commit()?;
        Ok(gone)
    }

    fn append(&self, id: &str, entry: &Entry, text: &str, listing: JobListing<'_>) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        entries::add(&t, id, entry, text, listing)?;
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
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        entries::add(&t, id, entry, text, listing)?;
        t.execute("DELETE FROM catalogue_files WHERE job = ?1", [id])?;
        put_catalogue(&t, id, catalogue)?;
        Ok(t.commit()?)
    }

    fn entry(&self, id: &str, edit_id: &str) -> Result<Option<Entry>, StoreError> {
        // Asked before every edit: in a file that lost its pages no edit was ever sent.
        self.look()?;
        let c = self.with();
        let mut q =
            c.prepare_cached(&format!("SELECT {ENTRY} FROM edits WHERE job = ?1 AND edit_id = ?2"))?;
        Ok(q.query_row([id, edit_id], Raw::of).optional()?.map(Raw::entry))
    }

    fn entry_at(&self, id: &str, revision: u64) -> Result<Option<Entry>, StoreError> {
        let c = self.with();
        let mut q =
            c.prepare_cached(&format!("SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision = ?2"))?;
        Ok(q.query_row(params![id, revision], Raw::of).optional()?.map(Raw::entry))
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
        Ok(page.into_iter().map(Raw::entry).collect())
    }

    fn attach(&self, id: &str, row: &AttachmentRow, bytes: &[u8]) -> Result<(), StoreError> {
        let mut c = self.with();
        let t = self.begin(&mut c)?;
        self.keep(&t, id, row, bytes)?;
        drop_unused_contents(&t)?;
        Ok(t.commit()?)
    }

    fn attachments(&self, id: &str) -> Result<Vec<AttachmentRow>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT name, sha256, media_type, size FROM attachments WHERE job = ?1 ORDER BY name",
        )?;
        Ok(q.query_map([id], attachment)?.collect::<Result<_, _>>()?)
    }

    fn attachment(&self, id: &str, name: &str) -> Result<Option<(AttachmentRow, Vec<u8>)>, StoreError> {
        let c = self.with();
        let mut q = c.prepare_cached(
            "SELECT name, sha256, media_type, size, bytes FROM attachments JOIN contents USING (sha256)
             WHERE job = ?1 AND name = ?2",
        )?;
        let found: Option<(AttachmentRow, Vec<u8>)> =
            q.query_row([id, name], |r| Ok((attachment(r)?, r.get(4)?))).optional()?;
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
        let gone = t.execute("DELETE FROM attachments WHERE job = ?1 AND name = ?2", [id, name])? > 0;
        drop_unused_contents(&t)?;
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

fn put_catalogue(c: &Connection, id: &str, files: &[(String, String)]) -> Result<(), StoreError> {
    for (place, (name, text)) in (0i64..).zip(files) {
        c.execute(
            "INSERT INTO catalogue_files (job, place, name, text, sha256) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![id, place, name, text, sha256(text.as_bytes())],
        )?;
    }
    Ok(())
}

fn drop_unused_contents(c: &Connection) -> Result<(), StoreError> {
    c.execute("DELETE FROM contents WHERE sha256 NOT IN (SELECT sha256 FROM attachments)", [])?;
    Ok(())
}

fn attachment(r: &Row<'_>) -> Result<AttachmentRow, rusqlite::Error> {
    Ok(AttachmentRow { name: r.get(0)?, sha256: r.get(1)?, media_type: r.get(2)?, size: r.get(3)? })
}
