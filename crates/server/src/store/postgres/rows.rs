//! Rows of a job and of its links as they are written, for new ones, for edits and for jobs of another store; and jobs as they are
//! read.

use super::entries::{ENTRY, Written};
use super::trouble::{Trouble, Value, number, signed, text, truth, unsigned};
use crate::random::sha256;
use crate::store::copying::JobTexts;
use crate::store::log_row::written;
use crate::store::{ClientLink, Entry, JobListing, JobRow, StoreError, StoredJob};
use postgres::{Row, Transaction};

/// Columns of a row of the list of jobs, as [`listed`] reads them.
pub const LISTED: &str = "id, name, summary, revision, changed_at, status, client, template";

/// A job as [`stored`] reads it, where `$1` is its id, in one statement: text, revision, log and catalogue files as they were
/// at one moment.
pub const STORED: &str = "
SELECT text, revision, sha256, (SELECT coalesce(max(revision), 0) FROM loamline.edits WHERE job = $1),
       ARRAY(SELECT name FROM loamline.catalogue_files WHERE job = $1 ORDER BY place),
       ARRAY(SELECT text FROM loamline.catalogue_files WHERE job = $1 ORDER BY place),
       ARRAY(SELECT sha256 FROM loamline.catalogue_files WHERE job = $1 ORDER BY place)
FROM loamline.jobs WHERE id = $1";

/// Columns of a link for a client.
pub const LINK: &str = "id, job, client, prices, made_at, made_by, good_until, accepted_by, accepted_at, \
                    accepted_revision, accepted, accepted_sha256";

/// Writes a job's row: its text, its revision and the text it began with.
pub fn insert_job(
    t: &mut Transaction<'_>,
    id: &str,
    texts: JobTexts<'_>,
    listing: JobListing<'_>,
    template: bool,
) -> Result<(), Trouble> {
    let made_now = t.execute_typed(
        "INSERT INTO loamline.jobs
           (id, text, revision, name, summary, changed_at, sha256, made, status, client, template)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) ON CONFLICT (id) DO NOTHING",
        &[
            text(&id),
            text(&texts.text),
            number(&signed(texts.revision)),
            text(&listing.name),
            text(&listing.summary),
            text(&listing.at),
            text(&sha256(texts.text.as_bytes())),
            text(&texts.made),
            text(&listing.status),
            text(&listing.client),
            truth(&template),
        ],
    )?;
    if made_now == 0 { Err(StoreError::IdTaken(id.to_owned()).into()) } else { Ok(()) }
}

/// Writes a job's own catalogue files, in the order they are read.
pub fn insert_catalogue(
    t: &mut Transaction<'_>,
    id: &str,
    files: &[(String, String)],
) -> Result<(), Trouble> {
    for (place, (name, words)) in (0i64..).zip(files) {
        t.execute_typed(
            "INSERT INTO loamline.catalogue_files (job, place, name, text, sha256) VALUES ($1, $2, $3, $4, $5)",
            &[text(&id), number(&place), text(name), text(words), text(&sha256(words.as_bytes()))],
        )?;
    }
    Ok(())
}

/// The same in place of those there are.
pub fn replace_catalogue(
    t: &mut Transaction<'_>,
    id: &str,
    files: &[(String, String)],
) -> Result<(), Trouble> {
    t.execute_typed("DELETE FROM loamline.catalogue_files WHERE job = $1", &[text(&id)])?;
    insert_catalogue(t, id, files)
}

/// Writes an entry of a job's log.
pub fn insert_entry(t: &mut Transaction<'_>, id: &str, entry: &Entry) -> Result<(), Trouble> {
    let texts = written(entry)?;
    let columns = Written::of(entry, &texts);
    let mut values = vec![text(&id)];
    values.extend(columns.values());
    t.execute_typed(
        &format!(
            "INSERT INTO loamline.edits (job, {ENTRY}) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)"
        ),
        &values,
    )?;
    Ok(())
}

/// Changes a job that is at the revision before an entry's, and adds the entry to its log: one statement, so that both come
/// about or neither, in one exchange. The values are the job's id, those of the entry's columns, and those of [`After`].
pub fn append_one() -> String {
    format!(
        "WITH changed AS (
           UPDATE loamline.jobs
           SET text = $12, revision = $2, name = $13, summary = $14, changed_at = $15, sha256 = $16, status = $17,
               client = $18
           WHERE id = $1 AND revision = $2 - 1 AND deleted_at IS NULL RETURNING id
         )
         INSERT INTO loamline.edits (job, {ENTRY})
         SELECT id, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11 FROM changed"
    )
}

/// A job after an entry: its text with its sum, and what the list shows of it.
pub struct After<'a> {
    text: &'a str,
    sha256: String,
    listing: JobListing<'a>,
}

impl<'a> After<'a> {
    /// With this text.
    pub fn of(text: &'a str, listing: JobListing<'a>) -> Self {
        Self { text, sha256: sha256(text.as_bytes()), listing }
    }

    /// In order.
    pub fn values(&self) -> [Value<'_>; 7] {
        let shown = &self.listing;
        [
            text(&self.text),
            text(&shown.name),
            text(&shown.summary),
            text(&shown.at),
            text(&self.sha256),
            text(&shown.status),
            text(&shown.client),
        ]
    }
}

/// Marks a job as deleted; whether it was there and was not yet.
pub fn mark_deleted(t: &mut Transaction<'_>, job: &str, who: &str, at: &str) -> Result<bool, Trouble> {
    let marked = t.execute_typed(
        "UPDATE loamline.jobs SET deleted_at = $2, deleted_by = $3 WHERE id = $1 AND deleted_at IS NULL",
        &[text(&job), text(&at), text(&who)],
    )?;
    Ok(marked > 0)
}

/// Writes a link with the hash of its token, and what was accepted by it.
pub fn insert_link(t: &mut Transaction<'_>, l: &ClientLink, token_hash: &str) -> Result<(), Trouble> {
    let accepted = l.accepted.as_ref();
    let (by, at) = (accepted.map(|a| a.name.as_str()), accepted.map(|a| a.at.as_str()));
    let (content, sum) = (accepted.map(|a| a.content.as_str()), accepted.map(|a| a.sha256.as_str()));
    let revision = accepted.map(|a| signed(a.revision));
    t.execute_typed(
        &format!(
            "INSERT INTO loamline.client_links ({LINK}, token_hash)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13)"
        ),
        &[
            text(&l.id),
            text(&l.job),
            text(&l.client),
            truth(&l.prices),
            text(&l.made_at),
            text(&l.made_by),
            text(&l.good_until),
            text(&by),
            text(&at),
            number(&revision),
            text(&content),
            text(&sum),
            text(&token_hash),
        ],
    )?;
    Ok(())
}

/// A row of the columns of the list of jobs.
pub fn listed(r: &Row) -> Result<JobRow, Trouble> {
    Ok(JobRow {
        id: r.try_get(0)?,
        name: r.try_get(1)?,
        summary: r.try_get(2)?,
        revision: count(r, 3)?,
        changed_at: r.try_get(4)?,
        status: r.try_get(5)?,
        client: r.try_get(6)?,
        template: r.try_get(7)?,
    })
}

/// A job, of the columns of [`STORED`].
pub fn stored(r: &Row) -> Result<StoredJob, Trouble> {
    let (words, sum): (String, String) = (r.try_get(0)?, r.try_get(2)?);
    let (names, texts, sums): (Vec<String>, Vec<String>, Vec<String>) =
        (r.try_get(4)?, r.try_get(5)?, r.try_get(6)?);
    let (mut catalogue, mut altered) = (Vec::new(), Vec::new());
    for ((name, words), sum) in names.into_iter().zip(texts).zip(sums) {
        if sha256(words.as_bytes()) != sum {
            altered.push(name.clone());
        }
        catalogue.push((name, words));
    }
    Ok(StoredJob {
        as_written: sha256(words.as_bytes()) == sum,
        text: words,
        catalogue,
        revision: count(r, 1)?,
        logged: count(r, 3)?,
        altered,
    })
}

/// A count in a column.
pub fn count(r: &Row, column: usize) -> Result<u64, Trouble> {
    Ok(unsigned(r.try_get(column)?))
}
