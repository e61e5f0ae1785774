//! The log of edits: read page by page, so that whoever walks a long one keeps nobody from the store, and what is damaged in
//! it told apart from what is not.

use crate::random::sha256;
use crate::store::{Entry, JobListing, Kind, StoreError};
use loamline_limits::{HISTORY_BYTES, LOG_PAGE_BYTES, LOG_PAGE_ENTRIES};
use loamline_model::Edit;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row, params};

/// Columns of an entry, as `Raw::of` reads them.
pub const ENTRY: &str = "revision, edit_id, kind, of, who, at, made_at, note, patch, inverse";

/// A row of the log as it stands in the file, read as little as can be: the store's lock is held meanwhile.
pub struct Raw {
    /// Its revision.
    pub revision: u64,
    edit_id: String,
    kind: String,
    of: Option<u64>,
    who: String,
    at: String,
    made_at: Option<String>,
    note: String,
    /// None where damage left no text.
    patch: Option<String>,
    inverse: Option<String>,
}

impl Raw {
    /// A row of the columns of an entry.
    pub fn of(r: &Row<'_>) -> Result<Self, rusqlite::Error> {
        let made_at = match r.get_ref(6)? {
            ValueRef::Null => None,
            _ => Some(words(r, 6)?),
        };
        Ok(Self {
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

    /// Bytes of what it changes and keeps.
    fn bytes(&self) -> usize {
        [&self.patch, &self.inverse].into_iter().flatten().map(String::len).sum()
    }

    /// What it says.
    pub fn entry(self) -> Entry {
        let read = |text: Option<String>| serde_json::from_str::<Edit>(&text?).ok();
        let (kind, patch, inverse) =
            match (kind_of(&self.kind, self.of), read(self.patch), read(self.inverse)) {
                (Some(kind), Some(patch), Some(inverse)) => (kind, patch, inverse),
                _ => (Kind::Unreadable, Edit::default(), Edit::default()),
            };
        Entry {
            revision: self.revision,
            edit_id: self.edit_id,
            kind,
            who: self.who,
            at: self.at,
            made_at: self.made_at,
            note: self.note,
            patch,
            inverse,
        }
    }
}

/// The first entries with a revision above `after`, oldest first; none at the end of the log.
pub fn page(c: &Connection, job: &str, after: u64) -> Result<Vec<Raw>, StoreError> {
    let mut q = c.prepare_cached(&format!(
        "SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision > ?2 ORDER BY revision LIMIT ?3"
    ))?;
    let (mut page, mut bytes) = (Vec::new(), 0);
    for row in q.query_map(params![job, after, LOG_PAGE_ENTRIES.number], Raw::of)? {
        let row = row?;
        bytes += row.bytes();
        page.push(row);
        if LOG_PAGE_BYTES.check(bytes).is_err() {
            break;
        }
    }
    Ok(page)
}

/// At most `limit` entries with a revision below `before`, newest first; fewer where they are very large, at least one.
pub fn page_before(c: &Connection, job: &str, before: u64, limit: u32) -> Result<Vec<Raw>, StoreError> {
    let before = i64::try_from(before).unwrap_or(i64::MAX);
    let mut q = c.prepare_cached(&format!(
        "SELECT {ENTRY} FROM edits WHERE job = ?1 AND revision < ?2 ORDER BY revision DESC LIMIT ?3"
    ))?;
    let (mut page, mut bytes) = (Vec::new(), 0);
    for row in q.query_map(params![job, before, limit], Raw::of)? {
        let row = row?;
        bytes += row.bytes();
        if !page.is_empty() && HISTORY_BYTES.check(bytes).is_err() {
            break;
        }
        page.push(row);
    }
    Ok(page)
}

/// Adds an entry to a job's log, with the text the job has after it.
pub fn add(
    c: &Connection,
    id: &str,
    entry: &Entry,
    text: &str,
    listing: JobListing<'_>,
) -> Result<(), StoreError> {
    if entry.kind == Kind::Unreadable {
        return Err(StoreError::Damaged("an entry that cannot be read is not written again".into()));
    }
    let written = |e: &Edit| serde_json::to_string(e).map_err(|e| StoreError::Damaged(e.to_string()));
    let (patch, inverse) = (written(&entry.patch)?, written(&entry.inverse)?);
    let changed = c
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
        let there = c
            .prepare_cached("SELECT 1 FROM jobs WHERE id = ?1 AND id NOT IN (SELECT job FROM deleted_jobs)")?
            .exists([id])?;
        return Err(if there { StoreError::Behind } else { StoreError::NoJob });
    }
    c.prepare_cached(&format!(
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

fn kind_of(word: &str, of: Option<u64>) -> Option<Kind> {
    match (word, of) {
        ("edit", None) => Some(Kind::Edit),
        ("undo", Some(of)) => Some(Kind::Undo(of)),
        ("redo", Some(of)) => Some(Kind::Redo(of)),
        _ => None,
    }
}
