//! Rows of a job and of its links as they are written, for new ones, for entries of its log and for jobs of another store; and
//! jobs as they are read.

use super::entries::{ENTRY, words};
use crate::random::sha256;
use crate::store::copying::JobTexts;
use crate::store::{ClientLink, Entry, JobListing, JobRow, StoreError, StoredJob};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};

/// Columns of a link for a client.
pub const LINK: &str = "id, job, client, prices, made_at, made_by, good_until, accepted_by, accepted_at, \
                    accepted_revision, accepted, accepted_sha256";

/// Writes a job's row: its text, its revision and the text it began with.
pub fn insert_job(
    t: &Transaction<'_>,
    id: &str,
    texts: JobTexts<'_>,
    listing: JobListing<'_>,
    template: bool,
) -> Result<(), StoreError> {
    if t.prepare_cached("SELECT 1 FROM jobs WHERE id = ?1")?.exists([id])? {
        return Err(StoreError::IdTaken(id.to_owned()));
    }
    t.execute(
        "INSERT INTO jobs (id, text, revision, name, summary, changed_at, sha256, made, status, client, template)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
        params![
            id,
            texts.text,
            texts.revision,
            listing.name,
            listing.summary,
            listing.at,
            sha256(texts.text.as_bytes()),
            texts.made,
            listing.status,
            listing.client,
            template
        ],
    )?;
    Ok(())
}

/// Writes a job's own catalogue files, in the order they are read.
pub fn insert_catalogue(t: &Transaction<'_>, id: &str, files: &[(String, String)]) -> Result<(), StoreError> {
    for (place, (name, text)) in (0i64..).zip(files) {
        t.execute(
            "INSERT INTO catalogue_files (job, place, name, text, sha256) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![id, place, name, text, sha256(text.as_bytes())],
        )?;
    }
    Ok(())
}

/// The same in place of those there are.
pub fn replace_catalogue(
    t: &Transaction<'_>,
    id: &str,
    files: &[(String, String)],
) -> Result<(), StoreError> {
    t.execute("DELETE FROM catalogue_files WHERE job = ?1", [id])?;
    insert_catalogue(t, id, files)
}

/// Changes a job that is at the revision before an entry's, and adds the entry, with the texts of what it changes and of what
/// undoes it, to its log.
pub fn append_one(
    t: &Transaction<'_>,
    id: &str,
    (entry, texts): (&Entry, &(String, String)),
    text: &str,
    listing: JobListing<'_>,
) -> Result<(), StoreError> {
    let changed = t
        .prepare_cached(
            "UPDATE jobs SET text = ?3, revision = ?2, name = ?4, summary = ?5, changed_at = ?6, sha256 = ?7,
             status = ?8, client = ?9
             WHERE id = ?1 AND revision = ?2 - 1 AND id NOT IN (SELECT job FROM deleted_jobs)",
        )?
        .execute(params![
            id,
            entry.revision,
            text,
            listing.name,
            listing.summary,
            listing.at,
            sha256(text.as_bytes()),
            listing.status,
            listing.client
        ])?;
    if changed == 0 {
        let there = t
            .prepare_cached("SELECT 1 FROM jobs WHERE id = ?1 AND id NOT IN (SELECT job FROM deleted_jobs)")?
            .exists([id])?;
        return Err(if there { StoreError::Behind } else { StoreError::NoJob });
    }
    insert_entry(t, id, entry, texts)
}

/// Writes an entry of a job's log, with the texts of what it changes and of what undoes it.
pub fn insert_entry(
    t: &Transaction<'_>,
    id: &str,
    entry: &Entry,
    (patch, inverse): &(String, String),
) -> Result<(), StoreError> {
    t.prepare_cached(&format!(
        "INSERT INTO edits (job, {ENTRY}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)"
    ))?
    .execute(params![
        id,
        entry.revision,
        entry.edit_id,
        entry.kind.word(),
        entry.kind.of(),
        entry.who,
        entry.at,
        entry.made_at,
        entry.note,
        patch,
        inverse
    ])?;
    Ok(())
}

/// Marks a job as deleted; whether it was there and was not yet.
pub fn mark_deleted(c: &Connection, job: &str, who: &str, at: &str) -> Result<bool, StoreError> {
    let marked = c.execute(
        "INSERT INTO deleted_jobs (job, at, who) SELECT id, ?2, ?3 FROM jobs WHERE id = ?1
         ON CONFLICT DO NOTHING",
        [job, at, who],
    )?;
    Ok(marked > 0)
}

/// Writes a link with the hash of its token, and what was accepted by it.
pub fn insert_link(c: &Connection, l: &ClientLink, token_hash: &str) -> Result<(), StoreError> {
    let accepted = l.accepted.as_ref();
    c.execute(
        &format!(
            "INSERT INTO client_links ({LINK}, token_hash)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)"
        ),
        params![
            l.id,
            l.job,
            l.client,
            l.prices,
            l.made_at,
            l.made_by,
            l.good_until,
            accepted.map(|a| &a.name),
            accepted.map(|a| &a.at),
            accepted.map(|a| a.revision),
            accepted.map(|a| &a.content),
            accepted.map(|a| &a.sha256),
            token_hash
        ],
    )?;
    Ok(())
}

/// The rows of the list of those jobs of which something is true, the one changed last first.
pub fn listed(c: &Connection, of_which: &str) -> Result<Vec<JobRow>, StoreError> {
    let mut q = c.prepare_cached(&format!(
        "SELECT id, name, summary, revision, changed_at, status, client, template FROM jobs
         WHERE {of_which} ORDER BY changed_at DESC, id"
    ))?;
    Ok(q.query_map([], listed_row)?.collect::<Result<_, _>>()?)
}

fn listed_row(r: &Row<'_>) -> Result<JobRow, rusqlite::Error> {
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
}

/// The job of an id, where something is true of it.
pub fn stored(c: &Connection, id: &str, of_which: &str) -> Result<Option<StoredJob>, StoreError> {
    let job = c
        .prepare_cached(&format!("SELECT text, revision, sha256 FROM jobs WHERE {of_which}"))?
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
