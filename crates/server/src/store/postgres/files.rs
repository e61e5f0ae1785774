//! Files kept with jobs. Equal contents are kept once; what loses its last name goes with it, found by name and never by
//! looking at all there is. A name given and a name taken at the same moment stand in each other's way: the database takes
//! one of the two back, and it is tried again.

use super::trouble::{Trouble, bytes, number, signed, text, texts, unsigned};
use crate::store::{AttachmentRow, StoreError};
use loamline_limits::ATTACHMENTS;
use postgres::{Row, Transaction};

/// Columns of a file, as [`row`] reads them.
pub const FILE: &str = "name, sha256, media_type, size";

/// A row of the columns of a file.
pub fn row(r: &Row) -> Result<AttachmentRow, Trouble> {
    Ok(AttachmentRow {
        name: r.try_get(0)?,
        sha256: r.try_get(1)?,
        media_type: r.try_get(2)?,
        size: unsigned(r.try_get(3)?),
    })
}

/// Keeps a file of a job that may keep so many bytes; the content that has one name less by it.
pub fn keep(
    t: &mut Transaction<'_>,
    room: u64,
    id: &str,
    file: &AttachmentRow,
    content: &[u8],
) -> Result<Vec<String>, Trouble> {
    // Whoever else gives this job a file waits: together they might pass what it may keep.
    if t.query_typed("SELECT 1 FROM loamline.jobs WHERE id = $1 FOR UPDATE", &[text(&id)])?.is_empty() {
        return Err(StoreError::NoJob.into());
    }
    let kept = t.query_typed(
        "SELECT count(*), coalesce(sum(size), 0)::bigint FROM loamline.attachments WHERE job = $1 AND name <> $2",
        &[text(&id), text(&file.name)],
    )?;
    let (files, kept) = match kept.first() {
        Some(r) => (unsigned(r.try_get(0)?), unsigned(r.try_get(1)?)),
        None => (0, 0),
    };
    ATTACHMENTS.check_u64(files.saturating_add(1)).map_err(StoreError::from)?;
    if kept.saturating_add(file.size) > room {
        return Err(StoreError::Full { kept, wanted: file.size, most: room }.into());
    }
    let before = of_name(t, id, &file.name)?;
    t.execute_typed(
        "INSERT INTO loamline.contents (sha256, bytes) VALUES ($1, $2) ON CONFLICT DO NOTHING",
        &[text(&file.sha256), bytes(&content)],
    )?;
    t.execute_typed(
        "INSERT INTO loamline.attachments (job, name, sha256, media_type, size) VALUES ($1, $2, $3, $4, $5)
         ON CONFLICT (job, name) DO UPDATE SET sha256 = $3, media_type = $4, size = $5",
        &[
            text(&id),
            text(&file.name),
            text(&file.sha256),
            text(&file.media_type),
            number(&signed(file.size)),
        ],
    )?;
    Ok(before)
}

/// The content a name of a job stands for.
pub fn of_name(t: &mut Transaction<'_>, id: &str, name: &str) -> Result<Vec<String>, Trouble> {
    let found = t.query_typed(
        "SELECT sha256 FROM loamline.attachments WHERE job = $1 AND name = $2",
        &[text(&id), text(&name)],
    )?;
    first_column(&found)
}

/// The contents a job's names stand for.
pub fn of_job(t: &mut Transaction<'_>, id: &str) -> Result<Vec<String>, Trouble> {
    let found =
        t.query_typed("SELECT DISTINCT sha256 FROM loamline.attachments WHERE job = $1", &[text(&id)])?;
    first_column(&found)
}

/// Lets go of those of some contents that have no name any more.
pub fn let_go(t: &mut Transaction<'_>, contents: &[String]) -> Result<(), Trouble> {
    if !contents.is_empty() {
        t.execute_typed(
            "DELETE FROM loamline.contents c WHERE sha256 = ANY ($1)
             AND NOT EXISTS (SELECT 1 FROM loamline.attachments a WHERE a.sha256 = c.sha256)",
            &[texts(&contents)],
        )?;
    }
    Ok(())
}

fn first_column(rows: &[Row]) -> Result<Vec<String>, Trouble> {
    let mut found = Vec::new();
    for r in rows {
        found.push(r.try_get::<_, String>(0)?);
    }
    Ok(found)
}
