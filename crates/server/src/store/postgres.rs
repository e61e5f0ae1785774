//! Jobs in a database of PostgreSQL, for several servers at once. An edit is one statement that changes the job only where it
//! is at the revision before; whoever comes second changes nothing and is told so. A commit is on the disk before it returns.

mod address;
mod entries;
mod files;
mod firm;
mod hands;
mod others;
mod people;
mod pool;
mod present;
mod rows;
mod sign_ins;
mod tables;
mod tasks;
mod trouble;

use super::copying::{Head, JobTexts, content, each_entry};
use super::log_row::{LogRow, written};
use super::{
    AttachmentRow, Entry, FirmFile, Heard, JobListing, JobRow, NewJob, Others, Store, StoreError, StoredJob,
    Tasks,
};
use crate::random::{letters, sha256};
use address::Address;
use entries::{ENTRY, Written};
use files::FILE;
use loamline_limits::JOB_ROOM_BYTES;
use others::Calls;
use pool::Pool;
use postgres::{Row, Transaction};
use present::Present;
use rows::{
    After, LISTED, STORED, append_one, count, insert_catalogue, insert_entry, insert_job, replace_catalogue,
};
use std::time::Duration;
use trouble::{Trouble, Value, number, signed, text, texts};

/// The store in a database of PostgreSQL 15 or newer.
pub struct PostgresStore {
    pool: Pool,
    calls: Calls,
    present: Present,
    room_per_job: u64,
}

impl PostgresStore {
    /// Opens the database of an address such as `postgres://USER@HOST/DATABASE`, and makes its tables where there are none.
    ///
    /// # Errors
    /// When the address is wrong, the database cannot be reached or does not allow what is needed, or its tables are those of
    /// a newer program; it is then as it was.
    pub fn open(address: &str) -> Result<Self, StoreError> {
        let pool = Pool::to(Address::read(address)?);
        let prepared = pool.connect().and_then(|mut client| tables::prepare(&mut client));
        let prepared = prepared.and_then(|()| hands::prepare(&pool));
        prepared.map_err(|trouble| trouble.of_database(pool.address().shown()))?;
        let own = letters(26).map_err(|e| StoreError::Refused(e.to_string()))?;
        let (calls, present) = (Calls::of(own.clone()), Present::of(own));
        Ok(Self { pool, calls, present, room_per_job: JOB_ROOM_BYTES.number })
    }

    /// The same with another limit on the bytes of files a job may keep.
    #[must_use]
    pub fn with_room(mut self, bytes_per_job: u64) -> Self {
        self.room_per_job = bytes_per_job;
        self
    }

    /// The database in words, without user and password.
    pub fn shown(&self) -> &str {
        self.pool.address().shown()
    }

    /// All the rows of a question.
    fn rows(&self, question: &str, values: &[Value<'_>]) -> Result<Vec<Row>, StoreError> {
        self.pool.ask(|c| Ok(c.query_typed(question, values)?))
    }

    /// Carries out one statement; how many rows it was about.
    fn execute(&self, statement: &str, values: &[Value<'_>]) -> Result<u64, StoreError> {
        self.pool.change(|c| Ok(c.execute_typed(statement, values)?))
    }

    /// A job of which something more is true.
    fn stored(&self, id: &str, of_which: &str) -> Result<Option<StoredJob>, StoreError> {
        let rows = self.rows(&format!("{STORED}{of_which}"), &[text(&id)])?;
        Ok(rows.first().map(rows::stored).transpose()?)
    }

    /// The rows of the list of those jobs of which something is true, the one changed last first.
    fn listed(&self, of_which: &str) -> Result<Vec<JobRow>, StoreError> {
        let question =
            format!("SELECT {LISTED} FROM loamline.jobs WHERE {of_which} ORDER BY changed_at DESC, id");
        let rows = self.rows(&question, &[])?;
        Ok(rows.iter().map(rows::listed).collect::<Result<Vec<_>, _>>()?)
    }

    /// Why an entry found no job at the revision before its own.
    fn not_appended(&self, id: &str) -> Result<(), StoreError> {
        let there = self.revisions(&[id.to_owned()])?;
        Err(if there.is_empty() { StoreError::NoJob } else { StoreError::Behind })
    }

    /// Does something in one transaction.
    fn within<T>(
        &self,
        change: impl Fn(&mut Transaction<'_>) -> Result<T, Trouble>,
    ) -> Result<T, StoreError> {
        self.pool.change(|c| {
            let mut t = c.transaction()?;
            let done = change(&mut t)?;
            t.commit()?;
            Ok(done)
        })
    }

    /// An entry of a job's log by one of its columns.
    fn entry_by(&self, column: &str, values: &[Value<'_>]) -> Result<Option<Entry>, StoreError> {
        let question = format!("SELECT {ENTRY} FROM loamline.edits WHERE job = $1 AND {column} = $2");
        let rows = self.rows(&question, values)?;
        Ok(rows.first().map(entries::row).transpose()?.map(LogRow::entry))
    }
}

impl Others for PostgresStore {
    fn hear(&self, at_most: Duration) -> Result<Heard, StoreError> {
        self.calls.hear(&self.pool, at_most)
    }

    fn tell(&self, at_most: Duration) -> Result<bool, StoreError> {
        self.calls.tell(&self.pool, at_most)
    }

    fn tell_present(&self, said: &str) -> Result<(), StoreError> {
        self.present.tell(&self.pool, said)
    }

    fn hear_present(&self, at_most: Duration) -> Result<Vec<(String, String)>, StoreError> {
        self.present.hear(&self.pool, at_most)
    }
}

impl Store for PostgresStore {
    fn ready(&self) -> Result<(), StoreError> {
        self.rows("SELECT number FROM loamline.version", &[]).map(drop)
    }

    fn others(&self) -> Option<&dyn Others> {
        Some(self)
    }

    fn tasks(&self) -> Option<&dyn Tasks> {
        Some(self)
    }

    fn revisions(&self, ids: &[String]) -> Result<Vec<(String, u64)>, StoreError> {
        let rows = self.rows(
            "SELECT id, revision FROM loamline.jobs WHERE id = ANY ($1) AND deleted_at IS NULL",
            &[texts(&ids)],
        )?;
        let mut found = Vec::new();
        for r in &rows {
            found.push((r.try_get(0).map_err(Trouble::from)?, count(r, 1)?));
        }
        Ok(found)
    }

    fn all_kept(&self) -> Result<Vec<JobRow>, StoreError> {
        self.listed("true")
    }

    fn kept(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        self.stored(id, "")
    }

    fn copy_in(&self, from: &dyn Store, listed: &JobRow) -> Result<(), StoreError> {
        let (id, head) = (&*listed.id, Head::of(from, listed)?);
        self.within(|t| {
            insert_job(t, id, JobTexts::of(&head), listed.listing(), listed.template)?;
            insert_catalogue(t, id, &head.stored.catalogue)?;
            each_entry::<Trouble>(from, id, |entry| insert_entry(t, id, entry))?;
            for file in &head.files {
                files::keep(t, self.room_per_job, id, file, &content(from, id, file)?)?;
            }
            for (link, token_hash) in &head.links {
                rows::insert_link(t, link, token_hash)?;
            }
            if let Some(deleted) = &head.deleted {
                rows::mark_deleted(t, id, &deleted.who, &deleted.at)?;
            }
            Ok(())
        })
    }

    fn jobs(&self) -> Result<Vec<JobRow>, StoreError> {
        self.listed("deleted_at IS NULL")
    }

    fn create(&self, id: &str, new: &NewJob<'_>) -> Result<(), StoreError> {
        self.within(|t| {
            insert_job(t, id, JobTexts::new(new.text), new.listing, new.template)?;
            insert_catalogue(t, id, new.catalogue)?;
            for (row, bytes) in new.attachments {
                files::keep(t, self.room_per_job, id, row, bytes)?;
            }
            Ok(())
        })
    }

    fn job(&self, id: &str) -> Result<Option<StoredJob>, StoreError> {
        self.stored(id, " AND deleted_at IS NULL")
    }

    fn made(&self, id: &str) -> Result<Option<String>, StoreError> {
        let rows = self.rows("SELECT made FROM loamline.jobs WHERE id = $1", &[text(&id)])?;
        let made = rows.first().map(|r| r.try_get::<_, Option<String>>(0)).transpose();
        Ok(made.map_err(Trouble::from)?.flatten())
    }

    fn mend(&self, id: &str, put_right: &str, revision: u64) -> Result<(), StoreError> {
        let sum = sha256(put_right.as_bytes());
        self.pool.ask(|c| {
            c.execute_typed(
                "UPDATE loamline.jobs SET text = $2, revision = $3, sha256 = $4 WHERE id = $1 AND revision <= $3",
                &[text(&id), text(&put_right), number(&signed(revision)), text(&sum)],
            )?;
            Ok(())
        })
    }

    fn delete(&self, id: &str) -> Result<bool, StoreError> {
        let gone = self.within(|t| {
            let contents = files::of_job(t, id)?;
            let gone = t.execute_typed("DELETE FROM loamline.jobs WHERE id = $1", &[text(&id)])?;
            files::let_go(t, &contents)?;
            Ok(gone > 0)
        })?;
        if gone {
            self.calls.changed(id);
        }
        Ok(gone)
    }

    fn append(
        &self,
        id: &str,
        entry: &Entry,
        text_after: &str,
        listing: JobListing<'_>,
    ) -> Result<(), StoreError> {
        let (changes, after) = (written(entry)?, After::of(text_after, listing));
        let columns = Written::of(entry, &changes);
        let mut values = vec![text(&id)];
        values.extend(columns.values());
        values.extend(after.values());
        // Asked again where the connection broke: one that had been carried out then finds the job a revision further.
        if self.pool.ask(|c| Ok(c.execute_typed(&append_one(), &values)?))? == 0 {
            return self.not_appended(id);
        }
        self.calls.changed(id);
        Ok(())
    }

    fn append_with_catalogue(
        &self,
        id: &str,
        entry: &Entry,
        text_after: &str,
        listing: JobListing<'_>,
        catalogue: &[(String, String)],
    ) -> Result<(), StoreError> {
        let (changes, after) = (written(entry)?, After::of(text_after, listing));
        let columns = Written::of(entry, &changes);
        let mut values = vec![text(&id)];
        values.extend(columns.values());
        values.extend(after.values());
        let appended = self.within(|t| {
            let appended = t.execute_typed(&append_one(), &values)? > 0;
            if appended {
                replace_catalogue(t, id, catalogue)?;
            }
            Ok(appended)
        })?;
        if !appended {
            return self.not_appended(id);
        }
        self.calls.changed(id);
        Ok(())
    }

    fn entry(&self, id: &str, edit_id: &str) -> Result<Option<Entry>, StoreError> {
        self.entry_by("edit_id", &[text(&id), text(&edit_id)])
    }

    fn entry_at(&self, id: &str, revision: u64) -> Result<Option<Entry>, StoreError> {
        self.entry_by("revision", &[text(&id), number(&signed(revision))])
    }

    fn since(&self, id: &str, after: u64, wanted: &mut dyn FnMut(Entry) -> bool) -> Result<(), StoreError> {
        let mut after = after;
        loop {
            // The connection is given back before anything is made of the page.
            let page = self.pool.ask(|c| entries::page(c, id, after))?;
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
        let page = self.pool.ask(|c| entries::page_before(c, id, before, limit))?;
        Ok(page.into_iter().map(LogRow::entry).collect())
    }

    fn attach(&self, id: &str, row: &AttachmentRow, bytes: &[u8]) -> Result<(), StoreError> {
        self.within(|t| {
            let before = files::keep(t, self.room_per_job, id, row, bytes)?;
            files::let_go(t, &before)
        })
    }

    fn attachments(&self, id: &str) -> Result<Vec<AttachmentRow>, StoreError> {
        let question = format!("SELECT {FILE} FROM loamline.attachments WHERE job = $1 ORDER BY name");
        let rows = self.rows(&question, &[text(&id)])?;
        Ok(rows.iter().map(files::row).collect::<Result<Vec<_>, _>>()?)
    }

    fn attachment(&self, id: &str, name: &str) -> Result<Option<(AttachmentRow, Vec<u8>)>, StoreError> {
        let question = format!(
            "SELECT {FILE}, bytes FROM loamline.attachments JOIN loamline.contents USING (sha256)
             WHERE job = $1 AND name = $2"
        );
        let rows = self.rows(&question, &[text(&id), text(&name)])?;
        let Some(found) = rows.first() else { return Ok(None) };
        let row = files::row(found)?;
        let bytes: Vec<u8> = found.try_get(4).map_err(Trouble::from)?;
        if sha256(&bytes) != row.sha256 {
            return Err(StoreError::Damaged(format!("the file {} is not what was written", row.name)));
        }
        Ok(Some((row, bytes)))
    }

    fn detach(&self, id: &str, name: &str) -> Result<bool, StoreError> {
        self.within(|t| {
            let content = files::of_name(t, id, name)?;
            let gone = t.execute_typed(
                "DELETE FROM loamline.attachments WHERE job = $1 AND name = $2",
                &[text(&id), text(&name)],
            )?;
            files::let_go(t, &content)?;
            Ok(gone > 0)
        })
    }

    fn firm(&self) -> Result<Vec<FirmFile>, StoreError> {
        firm::files(&self.pool)
    }

    fn keep_of_firm(&self, file: &FirmFile) -> Result<(), StoreError> {
        firm::keep(&self.pool, file)
    }

    fn drop_of_firm(&self, name: &str) -> Result<bool, StoreError> {
        firm::take_away(&self.pool, name)
    }
}
