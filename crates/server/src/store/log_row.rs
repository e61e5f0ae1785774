//! A row of the log as it stands in a store, and the entry it says: what is damaged in it told apart from what is not.

use super::{Entry, Kind, StoreError};
use loamline_model::Edit;

/// A row of the log, read as little as can be: nobody else may have the store meanwhile.
pub struct LogRow {
    /// Its revision.
    pub revision: u64,
    /// As the sender named it.
    pub edit_id: String,
    /// `edit`, `undo` or `redo`.
    pub kind: String,
    /// The revision it undoes or does again.
    pub of: Option<u64>,
    /// Who made it.
    pub who: String,
    /// When it was stored.
    pub at: String,
    /// When it was made.
    pub made_at: Option<String>,
    /// What it is for.
    pub note: String,
    /// What it changes; none where damage left no text.
    pub patch: Option<String>,
    /// What undoes it; none where damage left no text.
    pub inverse: Option<String>,
}

impl LogRow {
    /// Bytes of what it changes and keeps.
    pub fn bytes(&self) -> usize {
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

/// The texts of what an entry changes and of what undoes it, as a row keeps them.
///
/// # Errors
/// [`StoreError::Damaged`] for an entry that could not be read: it is not written again.
pub fn written(entry: &Entry) -> Result<(String, String), StoreError> {
    if entry.kind == Kind::Unreadable {
        return Err(StoreError::Damaged("an entry that cannot be read is not written again".into()));
    }
    let text = |e: &Edit| serde_json::to_string(e).map_err(|e| StoreError::Damaged(e.to_string()));
    Ok((text(&entry.patch)?, text(&entry.inverse)?))
}

fn kind_of(word: &str, of: Option<u64>) -> Option<Kind> {
    match (word, of) {
        ("edit", None) => Some(Kind::Edit),
        ("undo", Some(of)) => Some(Kind::Undo(of)),
        ("redo", Some(of)) => Some(Kind::Redo(of)),
        _ => None,
    }
}
