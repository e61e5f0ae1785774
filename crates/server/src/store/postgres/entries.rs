//! The log of edits, read page by page and never more of it than a page holds.

use super::trouble::{Trouble, Value, number, signed, text, unsigned};
use crate::store::Entry;
use crate::store::log_row::LogRow;
use loamline_limits::{HISTORY_BYTES, LOG_PAGE_BYTES, LOG_PAGE_ENTRIES};
use postgres::{Client, Row};

/// Columns of an entry, as [`row`] reads them.
pub const ENTRY: &str = r#"revision, edit_id, kind, "of", who, "at", made_at, note, patch, inverse"#;

/// A row of the columns of an entry.
pub fn row(r: &Row) -> Result<LogRow, Trouble> {
    Ok(LogRow {
        revision: unsigned(r.try_get(0)?),
        edit_id: r.try_get(1)?,
        kind: r.try_get(2)?,
        of: r.try_get::<_, Option<i64>>(3)?.map(unsigned),
        who: r.try_get(4)?,
        at: r.try_get(5)?,
        made_at: r.try_get(6)?,
        note: r.try_get(7)?,
        patch: Some(r.try_get(8)?),
        inverse: Some(r.try_get(9)?),
    })
}

/// The first entries with a revision above `after`, oldest first; none at the end of the log.
pub fn page(c: &mut Client, job: &str, after: u64) -> Result<Vec<LogRow>, Trouble> {
    let rows = c.query_typed(
        &paged("revision > $2", "ASC"),
        &[
            text(&job),
            number(&signed(after)),
            number(&signed(LOG_PAGE_ENTRIES.number)),
            number(&signed(LOG_PAGE_BYTES.number)),
        ],
    )?;
    rows.iter().map(row).collect()
}

/// At most `limit` entries with a revision below `before`, newest first; fewer where they are very large, at least one.
pub fn page_before(c: &mut Client, job: &str, before: u64, limit: u32) -> Result<Vec<LogRow>, Trouble> {
    let rows = c.query_typed(
        &paged("revision < $2", "DESC"),
        &[
            text(&job),
            number(&signed(before)),
            number(&i64::from(limit)),
            number(&signed(HISTORY_BYTES.number)),
        ],
    )?;
    rows.iter().map(row).collect()
}

/// The entries from a place on, as many as are asked for and as fit into so many bytes; one at least, however large. Sizes
/// are told by the rows' heads: nothing is read that is not sent.
fn paged(from: &str, order: &str) -> String {
    format!(
        "SELECT {ENTRY} FROM (
           SELECT *, sum(octet_length(patch) + octet_length(inverse)) OVER (ORDER BY revision {order})
                     - octet_length(patch) - octet_length(inverse) AS before_it
           FROM (SELECT {ENTRY} FROM loamline.edits WHERE job = $1 AND {from}
                 ORDER BY revision {order} LIMIT $3) few
         ) sized WHERE before_it < $4 ORDER BY revision {order}"
    )
}

/// The values of an entry's columns behind the job's id, in the order of [`ENTRY`].
pub struct Written<'e> {
    entry: &'e Entry,
    revision: i64,
    kind: &'static str,
    of: Option<i64>,
    patch: &'e str,
    inverse: &'e str,
}

impl<'e> Written<'e> {
    /// Of an entry, with the texts of what it changes and of what undoes it.
    pub fn of(entry: &'e Entry, (patch, inverse): &'e (String, String)) -> Self {
        Self {
            entry,
            revision: signed(entry.revision),
            kind: entry.kind.word(),
            of: entry.kind.of().map(signed),
            patch,
            inverse,
        }
    }

    /// In order.
    pub fn values(&self) -> [Value<'_>; 10] {
        let e = self.entry;
        [
            number(&self.revision),
            text(&e.edit_id),
            text(&self.kind),
            number(&self.of),
            text(&e.who),
            text(&e.at),
            text(&e.made_at),
            text(&e.note),
            text(&self.patch),
            text(&self.inverse),
        ]
    }
}
