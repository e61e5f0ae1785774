//! The log of edits: read page by page, so that whoever walks a long one keeps nobody from the store.

use crate::store::StoreError;
use crate::store::log_row::LogRow;
use loamline_limits::{HISTORY_BYTES, LOG_PAGE_BYTES, LOG_PAGE_ENTRIES};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row, params};

/// Columns of an entry, as [`row`] reads them.
pub const ENTRY: &str = "revision, edit_id, kind, of, who, at, made_at, note, patch, inverse";

/// A row of the columns of an entry.
pub fn row(r: &Row<'_>) -> Result<LogRow, rusqlite::Error> {
    let made_at = match r.get_ref(6)? {
        ValueRef::Null => None,
        _ => Some(words(r, 6)?),
    };
    Ok(LogRow {
        revision: r.get(0)?,
        edit_id: words(r, 1)?,
        kind: words(r, 2)?,
        of: r.get(3).unwrap_or_default(),
        who: words(r, 4)?,
        at: words(r, 5)?,
        made_at,
        note: words(r, 7)?,
        patch: exact(r, 8)?,
        inverse: exact(r, 9)?,
    })
}

/// The first entries with a revision above `after`, oldest first; none at the end of the log.
pub fn page(c: &Connection, job: &str, after: u64) -> Result<Vec<LogRow>, StoreError> {
    let after = i64::try_from(after).unwrap_or(i64::MAX);
    let mut q = c.prepare_cached(&format!(
        "SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision > ?2 ORDER BY revision LIMIT ?3"
    ))?;
    let (mut page, mut bytes) = (Vec::new(), 0);
    for found in q.query_map(params![job, after, LOG_PAGE_ENTRIES.number], row)? {
        let found = found?;
        bytes += found.bytes();
        page.push(found);
        if LOG_PAGE_BYTES.check(bytes).is_err() {
            break;
        }
    }
    Ok(page)
}

/// At most `limit` entries with a revision below `before`, newest first; fewer where they are very large, at least one.
pub fn page_before(c: &Connection, job: &str, before: u64, limit: u32) -> Result<Vec<LogRow>, StoreError> {
    let before = i64::try_from(before).unwrap_or(i64::MAX);
    let mut q = c.prepare_cached(&format!(
        "SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision < ?2 ORDER BY revision DESC LIMIT ?3"
    ))?;
    let (mut page, mut bytes) = (Vec::new(), 0);
    for found in q.query_map(params![job, before, limit], row)? {
        let found = found?;
        bytes += found.bytes();
        if !page.is_empty() && HISTORY_BYTES.check(bytes).is_err() {
            break;
        }
        page.push(found);
    }
    Ok(page)
}

/// A text as it stands in the file, also where damage left something in it that is no UTF-8.
pub fn words(r: &Row<'_>, column: usize) -> Result<String, rusqlite::Error> {
    match r.get_ref(column)? {
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => Ok(String::from_utf8_lossy(bytes).into_owned()),
        _ => Ok(String::new()),
    }
}

/// A text letter by letter; none where damage left something that is none.
pub fn exact(r: &Row<'_>, column: usize) -> Result<Option<String>, rusqlite::Error> {
    match r.get_ref(column)? {
        ValueRef::Text(bytes) => Ok(std::str::from_utf8(bytes).ok().map(str::to_owned)),
        _ => Ok(None),
    }
}
