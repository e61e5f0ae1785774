//! Files kept with jobs. Equal contents are kept once; what loses its last name goes with it, found by name and never by
//! looking at all there is.

use crate::store::{AttachmentRow, StoreError};
use loamline_limits::ATTACHMENTS;
use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};

/// Columns of a file, as [`row`] reads them.
pub const FILE: &str = "name, sha256, media_type, size";

/// Takes away a content that has no name any more.
const LET_GO: &str = "DELETE FROM contents WHERE sha256 = ?1
  AND NOT EXISTS (SELECT 1 FROM attachments WHERE attachments.sha256 = ?1)";

/// A row of the columns of a file.
pub fn row(r: &Row<'_>) -> Result<AttachmentRow, rusqlite::Error> {
    Ok(AttachmentRow { name: r.get(0)?, sha256: r.get(1)?, media_type: r.get(2)?, size: r.get(3)? })
}

/// Keeps a file of a job that may keep so many bytes; the content that has one name less by it.
pub fn keep(
    t: &Transaction<'_>,
    room: u64,
    id: &str,
    file: &AttachmentRow,
    bytes: &[u8],
) -> Result<Option<String>, StoreError> {
    if !t.prepare_cached("SELECT 1 FROM jobs WHERE id = ?1")?.exists([id])? {
        return Err(StoreError::NoJob);
    }
    let (files, kept): (u64, u64) = t.query_row(
        "SELECT count(*), coalesce(sum(size), 0) FROM attachments WHERE job = ?1 AND name <> ?2",
        params![id, file.name],
        |r| Ok((r.get(0)?, r.get(1)?)),
    )?;
    ATTACHMENTS.check_u64(files.saturating_add(1))?;
    if kept.saturating_add(file.size) > room {
        return Err(StoreError::Full { kept, wanted: file.size, most: room });
    }
    let before = of_name(t, id, &file.name)?;
    t.execute(
        "INSERT INTO contents (sha256, bytes) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
        params![file.sha256, bytes],
    )?;
    t.execute(
        "INSERT INTO attachments (job, name, sha256, media_type, size) VALUES (?1, ?2, ?3, ?4, ?5)
         ON CONFLICT (job, name) DO UPDATE SET sha256 = ?3, media_type = ?4, size = ?5",
        params![id, file.name, file.sha256, file.media_type, file.size],
    )?;
    Ok(before)
}

/// The content a name of a job stands for.
pub fn of_name(c: &Connection, id: &str, name: &str) -> Result<Option<String>, StoreError> {
    let mut q = c.prepare_cached("SELECT sha256 FROM attachments WHERE job = ?1 AND name = ?2")?;
    Ok(q.query_row([id, name], |r| r.get(0)).optional()?)
}

/// The contents a job's names stand for.
pub fn of_job(c: &Connection, id: &str) -> Result<Vec<String>, StoreError> {
    let mut q = c.prepare_cached("SELECT DISTINCT sha256 FROM attachments WHERE job = ?1")?;
    Ok(q.query_map([id], |r| r.get::<_, String>(0))?.collect::<Result<_, _>>()?)
}

/// Lets go of those of some contents that have no name any more.
pub fn let_go(c: &Connection, contents: impl IntoIterator<Item = String>) -> Result<(), StoreError> {
    let mut q = c.prepare_cached(LET_GO)?;
    for sha256 in contents {
        q.execute([sha256])?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sqlite::opening::prepared;

    #[test]
    fn what_lost_its_last_name_is_found_without_looking_at_all_there_is() {
        let c = prepared(Connection::open_in_memory().unwrap()).unwrap();
        let mut q = c.prepare(&format!("EXPLAIN QUERY PLAN {LET_GO}")).unwrap();
        let steps: Vec<String> =
            q.query_map(["x"], |r| r.get::<_, String>(3)).unwrap().map(Result::unwrap).collect();
        assert!(steps.iter().any(|s| s.contains("attachments_of_content")), "{steps:?}");
        // SQLite's word for reading a whole table (its page on EXPLAIN QUERY PLAN).
        assert!(!steps.iter().any(|s| s.starts_with("SCAN") && !s.contains("CONSTANT")), "{steps:?}");
    }
}
