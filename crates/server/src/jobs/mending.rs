//! A stored job put right from its log, where the log proves what it must be.

use super::read::read;
use crate::error::ApiError;
use crate::error_code::ErrorCode;
use crate::store::{Store, StoredJob};
use axum::http::StatusCode;

/// Whether a job as stored needs to be put right.
pub fn is_whole(stored: &StoredJob) -> bool {
    stored.as_written && stored.revision >= stored.logged
}

/// The job put right, in the store too. A revision behind its log is carried on by it; a text that is not what was written is
/// made again from the text the job began with and every edit since.
///
/// # Errors
/// When the log does not reach that far; when the store cannot be read or written.
pub fn mended(store: &dyn Store, id: &str, stored: StoredJob) -> Result<StoredJob, ApiError> {
    let (text, from) = if stored.as_written {
        (stored.text, stored.revision)
    } else {
        (store.made(id)?.ok_or_else(|| beyond_repair("its log does not reach back to its beginning"))?, 0)
    };
    let cannot = |_| beyond_repair("what its log holds cannot be read");
    let mut file = read(&text, &stored.catalogue).map_err(cannot)?;
    let mut revision = from;
    let mut broken = None;
    let walked = store.since(id, from, &mut |entry| {
        if entry.revision != revision + 1 || file.carry_out(&entry.patch).is_err() {
            broken = Some(entry.revision);
            return false;
        }
        revision = entry.revision;
        true
    });
    if walked.is_err() || broken.is_some() || revision < stored.revision {
        return Err(beyond_repair(&format!("its log can be followed to revision {revision} only")));
    }
    let text = file.text().to_owned();
    store.mend(id, &text, revision)?;
    Ok(StoredJob { text, catalogue: stored.catalogue, revision, logged: revision, as_written: true })
}

fn beyond_repair(why: &str) -> ApiError {
    let message = format!(
        "This job is damaged where it is kept, and {why}. Nothing was changed. Copy the folder the jobs are kept in away, then put it back from the last backup."
    );
    ApiError::new(StatusCode::INTERNAL_SERVER_ERROR, ErrorCode::Store, message)
}
