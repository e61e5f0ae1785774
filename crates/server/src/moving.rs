//! Jobs moved from one place to another: a laptop's file to a firm's database, or back. Nothing is taken away where they were.

use crate::data_folder::{file_in, lock};
use crate::serve_error::ServeError;
use crate::store::{JobRow, PostgresStore, SqliteStore, Store, StoreError, sum_of};
use std::fs::File;
use std::path::{Path, PathBuf};

/// A place jobs are kept in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A file of SQLite, or the folder it lies in.
    File(PathBuf),
    /// The address of a database.
    Database(String),
}

impl Place {
    /// What somebody wrote: an address where it looks like one, a file or folder otherwise.
    pub fn read(written: &str) -> Self {
        if written.contains("://") { Self::Database(written.to_owned()) } else { Self::File(written.into()) }
    }

    /// The file, where it is one.
    fn file(&self) -> Option<PathBuf> {
        match self {
            Self::File(path) if path.is_dir() => Some(file_in(path)),
            Self::File(path) => Some(path.clone()),
            Self::Database(_) => None,
        }
    }

    /// The folder of a file for oneself, so that nobody edits meanwhile; nothing for a database.
    fn held(&self) -> Result<Option<File>, ServeError> {
        match self.file().as_deref().and_then(Path::parent) {
            // A file named without its folder lies in the current one.
            Some(folder) if folder.as_os_str().is_empty() => Ok(Some(lock(Path::new("."))?)),
            Some(folder) => Ok(Some(lock(folder)?)),
            None => Ok(None),
        }
    }

    /// The store there. A file jobs come from must be there; one they go to may be new.
    fn store(&self, is_source: bool) -> Result<Box<dyn Store>, ServeError> {
        match (self, self.file()) {
            (Self::Database(address), _) => Ok(Box::new(PostgresStore::open(address)?)),
            (_, Some(file)) if is_source && !file.exists() => {
                Err(StoreError::Unusable { file, why: "there is no such file".into() }.into())
            }
            (_, file) => Ok(Box::new(SqliteStore::open(&file.unwrap_or_default())?)),
        }
    }
}

/// What became of a job that was to be moved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Moved {
    /// It is there now, and is the same to the last letter of its log and byte of its files.
    Same,
    /// It was there already, and is the same.
    Already,
    /// It is not there: why, in a sentence's part.
    Not(String),
}

/// Moves every job, one transaction each, and holds what arrived against what was sent. `told` hears of each with the sum of
/// all that is kept of it. Jobs that arrived stay when a later one does not; moving again goes on from there.
///
/// # Errors
/// When one of the places cannot be used at all.
pub fn move_jobs(
    from: &Place,
    to: &Place,
    mut told: impl FnMut(&JobRow, &Moved, &str),
) -> Result<(), ServeError> {
    if from == to {
        return Err(ServeError::Example("the jobs would be moved to where they are".into()));
    }
    let _held = (from.held()?, to.held()?);
    let (source, target) = (from.store(true)?, to.store(false)?);
    let mut rows = source.jobs()?;
    // The one that was changed last comes first in lists; it is moved last, as it was made.
    rows.reverse();
    let there = target.jobs()?;
    for row in &rows {
        let (moved, sum) = moved(&*source, &*target, row, &there);
        told(row, &moved, &sum);
    }
    Ok(())
}

fn moved(source: &dyn Store, target: &dyn Store, row: &JobRow, there: &[JobRow]) -> (Moved, String) {
    let sum = match sum_of(source, row) {
        Ok(sum) => sum,
        Err(why) => return (Moved::Not(why.to_string()), String::new()),
    };
    let was_there = there.iter().find(|t| t.id == row.id);
    if was_there.is_none()
        && let Err(why) = target.copy_in(source, row)
    {
        return (Moved::Not(why.to_string()), sum);
    }
    let arrived = sum_of(target, was_there.unwrap_or(row));
    let moved = match (arrived, was_there) {
        (Ok(arrived), None) if arrived == sum => Moved::Same,
        (Ok(arrived), Some(_)) if arrived == sum => Moved::Already,
        (Ok(_), Some(_)) => Moved::Not("another state of it is there already; take that away first".into()),
        (Ok(_), None) => Moved::Not("what arrived is not what was sent".into()),
        (Err(why), _) => Moved::Not(format!("what arrived cannot be read back: {why}")),
    };
    (moved, sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::Jobs;
    use std::sync::Arc;

    #[test]
    fn a_job_moved_is_the_same_and_moving_again_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let places = ["a", "b"].map(|name| Place::File(folder.path().join(name)));
        for name in ["a", "b"] {
            std::fs::create_dir(folder.path().join(name)).unwrap();
        }
        let text = "format = 1\n\n[job]\nname = \"Court\"\n";
        let jobs = Jobs::new(Arc::new(SqliteStore::open(&places[0].file().unwrap()).unwrap()));
        let id = jobs.create(text, &[], &[]).unwrap();
        drop(jobs);
        let mut all = Vec::new();
        for _ in 0..2 {
            move_jobs(&places[0], &places[1], |row, moved, _| all.push((row.id.clone(), moved.clone())))
                .unwrap();
        }
        assert_eq!(all, [(id.clone(), Moved::Same), (id.clone(), Moved::Already)]);
        // A job that has gone on at one of the two is not taken for the other.
        let store = SqliteStore::open(&places[1].file().unwrap()).unwrap();
        store.mend(&id, "format = 1\n\n[job]\nname = \"Yard\"\n", 0).unwrap();
        drop(store);
        move_jobs(&places[0], &places[1], |_, moved, _| {
            assert!(matches!(moved, Moved::Not(why) if why.contains("another state")), "{moved:?}");
        })
        .unwrap();
        assert!(move_jobs(&places[0], &places[0], |_, _, _| ()).is_err());
        let none = Place::File(folder.path().join("none.sqlite"));
        assert!(move_jobs(&none, &places[1], |_, _, _| ()).is_err());
    }
}
