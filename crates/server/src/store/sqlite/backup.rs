//! A copy of the file while others read and write it, read back before anybody relies on it; and such a copy put back.

use super::{SqliteStore, opening};
use crate::store::{Store as _, StoreError, sum_of};
use rusqlite::{Connection, OpenFlags};
use std::fs::File;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::PoisonError;
use std::time::Duration;

/// Between two tries at a file that another program has for itself.
const AGAIN: Duration = Duration::from_millis(50);

/// What a copy holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// Jobs that were read back whole, with every entry of their logs and every file.
    pub jobs: usize,
    /// A sentence for each job that was copied as it is kept, damaged.
    pub damaged: Vec<String>,
    /// Size of the copy, bytes.
    pub bytes: u64,
}

impl Backup {
    /// Copies a store's file while it may be in use: all that was acknowledged when it began. Every job of the copy is read
    /// back; it has its name only then.
    ///
    /// # Errors
    /// When there is no store, something of the copy's name is there, or one of them cannot be read or written.
    pub fn make(file: &Path, copy: &Path) -> Result<Self, StoreError> {
        if copy.exists() {
            return Err(unusable(copy, "there is such a file already; name another"));
        }
        if !file.exists() {
            return Err(unusable(file, "there is no such file"));
        }
        let new = ending(copy, ".new");
        let made = copied(file, &new).and_then(|()| read_back(&new));
        let made = made.and_then(|made| named(&new, copy).map(|()| made));
        if made.is_err() {
            for end in ["", "-wal", "-shm", "-journal"] {
                // What is left of a copy that came to nothing; why it did is what is told.
                let _gone = std::fs::remove_file(ending(&new, end));
            }
        }
        made
    }

    /// Puts a copy in the place of a store's file that nobody uses. What stood there is kept beside it under `.before`.
    ///
    /// # Errors
    /// As for [`Backup::make`]; nothing is put back then.
    pub fn put_back(copy: &Path, file: &Path) -> Result<Self, StoreError> {
        let ready = ending(file, ".ready");
        let before = ending(file, ".before");
        if before.exists() {
            return Err(unusable(
                &before,
                "it is what stood there before the last copy was put back; move it away first",
            ));
        }
        // Left by a try that was broken off; nobody was told of it.
        let _gone = std::fs::remove_file(&ready);
        let made = Self::make(copy, &ready)?;
        if file.exists() {
            // A second name first: at no moment is there no file of this name, which would be taken for a new beginning.
            std::fs::hard_link(file, &before).map_err(|e| unusable(&before, e))?;
            for end in ["-wal", "-shm"] {
                match std::fs::rename(ending(file, end), ending(&before, end)) {
                    Err(e) if e.kind() != ErrorKind::NotFound => return Err(unusable(file, e)),
                    _ => {}
                }
            }
        }
        named(&ready, file)?;
        Ok(made)
    }
}

fn copied(file: &Path, new: &Path) -> Result<(), StoreError> {
    // Not made where it is not there; a reader of a write-ahead log writes beside it.
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let from = Connection::open_with_flags(file, flags)?;
    let mut to = Connection::open(new)?;
    super::for_its_owner(new);
    {
        let copying = rusqlite::backup::Backup::new(&from, &mut to)?;
        // All in one step: one moment of the store, and whoever writes it meanwhile writes behind it.
        copying.run_to_completion(i32::MAX, AGAIN, None)?;
    }
    to.close().map_err(|(_, e)| e.into())
}

/// What a copy holds, every job of it read.
fn read_back(new: &Path) -> Result<Backup, StoreError> {
    let store = SqliteStore::on(opening::open(new)?, None);
    let (mut jobs, mut damaged) = (0, Vec::new());
    for row in store.all_kept()? {
        match sum_of(&store, &row) {
            Ok(_) => jobs += 1,
            Err(StoreError::Damaged(why)) => {
                damaged
                    .push(format!("The job \"{}\" is in the copy as it is kept, damaged: {why}.", row.name));
            }
            Err(e) => return Err(e),
        }
    }
    let c = store.connection.into_inner().unwrap_or_else(PoisonError::into_inner);
    // One file, nothing beside it.
    c.pragma_update(None, "journal_mode", "DELETE")?;
    c.close().map_err(|(_, e)| e)?;
    let bytes = std::fs::metadata(new).map_err(|e| unusable(new, e))?.len();
    Ok(Backup { jobs, damaged, bytes })
}

/// Gives a whole copy, on the disk, its name.
fn named(new: &Path, name: &Path) -> Result<(), StoreError> {
    let flushed = File::open(new).and_then(|f| f.sync_all());
    flushed.and_then(|()| std::fs::rename(new, name)).map_err(|e| unusable(name, e))?;
    // The name is on the disk once the folder is; where folders cannot be flushed, the next flush will do.
    if let Some(Ok(folder)) = name.parent().map(File::open) {
        let _flushed = folder.sync_all();
    }
    Ok(())
}

fn ending(file: &Path, end: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

fn unusable(file: &Path, why: impl ToString) -> StoreError {
    StoreError::Unusable { file: file.to_owned(), why: why.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{Entry, JobListing, Kind, NewJob, Store};
    use loamline_model::{Edit, Operation};

    const LISTING: JobListing<'_> =
        JobListing { name: "Court", summary: "", at: "2026-05-04T09:30:00Z", status: "", client: "" };
    const NEW: NewJob<'_> =
        NewJob { text: "first", catalogue: &[], attachments: &[], listing: LISTING, template: false };

    fn entry(revision: u64) -> Entry {
        Entry {
            revision,
            edit_id: format!("edit-{revision:08}"),
            kind: Kind::Edit,
            who: "Ann".into(),
            at: LISTING.at.into(),
            made_at: None,
            note: String::new(),
            patch: Edit::new([Operation::Remove { path: "/areas/a".into() }]),
            inverse: Edit::default(),
        }
    }

    #[test]
    fn a_copy_made_while_edits_are_written_is_whole_and_holds_what_was_acknowledged_before() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("jobs.sqlite");
        let store = SqliteStore::open(&file).unwrap();
        store.create("one", &NEW).unwrap();
        for revision in 1..=20 {
            store.append("one", &entry(revision), "later", LISTING).unwrap();
        }
        let copy = folder.path().join("copy.sqlite");
        let made = std::thread::scope(|s| {
            let writer = s.spawn(|| {
                for revision in 21..=120 {
                    store.append("one", &entry(revision), "later", LISTING).unwrap();
                }
            });
            let made = Backup::make(&file, &copy).unwrap();
            writer.join().unwrap();
            made
        });
        assert_eq!((made.jobs, made.damaged.len()), (1, 0));
        assert!(made.bytes > 4096 && !ending(&copy, "-wal").exists());
        let held = SqliteStore::open(&copy).unwrap().job("one").unwrap().unwrap();
        assert!(held.revision >= 20 && held.revision == held.logged && held.as_written, "{held:?}");
        // Nothing that is there is written over.
        assert!(Backup::make(&file, &copy).unwrap_err().to_string().contains("already"));
        assert!(Backup::make(&folder.path().join("none"), &ending(&copy, "2")).is_err());
    }

    #[test]
    fn a_copy_put_back_is_the_store_and_what_stood_there_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let (file, copy) = (folder.path().join("jobs.sqlite"), folder.path().join("copy.sqlite"));
        let store = SqliteStore::open(&file).unwrap();
        store.create("one", &NEW).unwrap();
        Backup::make(&file, &copy).unwrap();
        store.create("two", &NEW).unwrap();
        drop(store);
        assert_eq!(Backup::put_back(&copy, &file).unwrap().jobs, 1);
        let names = |file: &Path| -> Vec<String> {
            SqliteStore::open(file).unwrap().jobs().unwrap().into_iter().map(|j| j.id).collect()
        };
        assert_eq!(names(&file), ["one"]);
        assert_eq!(names(&ending(&file, ".before")), ["one", "two"]);
        assert!(Backup::put_back(&copy, &file).unwrap_err().to_string().contains("move it away"));
        // What is no store is not put in the place of one.
        std::fs::write(&copy, b"no store").unwrap();
        std::fs::remove_file(ending(&file, ".before")).unwrap();
        assert!(Backup::put_back(&copy, &file).is_err());
        assert_eq!(names(&file), ["one"]);
    }
}
