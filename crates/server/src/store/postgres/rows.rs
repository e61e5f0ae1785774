//! Rows of a job as they are written, for new jobs, for edits and for jobs of another store; and small rows as they are read.

use super::entries::{ENTRY, Written};
use super::trouble::{Trouble, number, signed, text, unsigned};
use crate::random::sha256;
use crate::store::log_row::written;
use crate::store::{Device, Entry, JobListing, StoreError};
use postgres::{Row, Transaction};

/// Writes a job's row: its text, its revision and the text it began with.
pub fn insert_job(
    t: &mut Transaction<'_>,
    id: &str,
    (words, revision, made): (&str, u64, Option<&str>),
    listing: JobListing<'_>,
) -> Result<(), Trouble> {
    let made_now = t.execute_typed(
        "INSERT INTO loamline.jobs (id, text, revision, name, summary, changed_at, sha256, made)
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
        &[
            text(&id),
            text(&words),
            number(&signed(revision)),
            text(&listing.name),
            text(&listing.summary),
            text(&listing.at),
            text(&sha256(words.as_bytes())),
            text(&made),
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
/// about or neither, in one exchange. The values are the job's id, those of the entry's columns, and the job's text, name,
/// summary, time of change and the text's sum.
pub fn append_one() -> String {
    format!(
        "WITH changed AS (
           UPDATE loamline.jobs
           SET text = $12, revision = $2, name = $13, summary = $14, changed_at = $15, sha256 = $16
           WHERE id = $1 AND revision = $2 - 1 RETURNING id
         )
         INSERT INTO loamline.edits (job, {ENTRY})
         SELECT id, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11 FROM changed"
    )
}

/// A device, of the columns id, name, `paired_at`, `seen_at`.
pub fn device(r: &Row) -> Result<Device, Trouble> {
    Ok(Device { id: r.try_get(0)?, name: r.try_get(1)?, paired_at: r.try_get(2)?, seen_at: r.try_get(3)? })
}

/// The first three columns.
pub fn three_texts(r: &Row) -> Result<(String, String, String), Trouble> {
    Ok((r.try_get(0)?, r.try_get(1)?, r.try_get(2)?))
}

/// A count in a column.
pub fn count(r: &Row, column: usize) -> Result<u64, Trouble> {
    Ok(unsigned(r.try_get(column)?))
}
