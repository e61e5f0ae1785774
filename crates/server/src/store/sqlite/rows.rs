//! Rows of a job as they are written, for new jobs, for entries of its log and for jobs of another store.

use super::entries::ENTRY;
use crate::random::sha256;
use crate::store::{Entry, JobListing, StoreError};
use rusqlite::{Transaction, params};

/// Writes a job's row: its text, its revision and the text it began with.
pub fn insert_job(
    t: &Transaction<'_>,
    id: &str,
    (text, revision, made): (&str, u64, Option<&str>),
    listing: JobListing<'_>,
) -> Result<(), StoreError> {
    if t.prepare_cached("SELECT 1 FROM jobs WHERE id = ?1")?.exists([id])? {
        return Err(StoreError::IdTaken(id.to_owned()));
    }
    t.execute(
        "INSERT INTO jobs (id, text, revision, name, summary, changed_at, sha256, made)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![id, text, revision, listing.name, listing.summary, listing.at, sha256(text.as_bytes()), made],
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
