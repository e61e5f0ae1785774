//! Opening the file jobs are kept in: made whole or not at all, looked over before anybody writes, for its owner's eyes.

use super::people_tables::{PEOPLE, SIGN_INS};
use crate::random::sha256;
use crate::store::StoreError;
use loamline_limits::STORE_BUSY_S;
use rusqlite::{Connection, TransactionBehavior};
use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Version of the tables, kept in the file. A new one is a step in [`STEPS`].
const TABLES_VERSION: i64 = 6;

/// Version of the tables a new file begins with; the steps behind it are taken at once.
const BEGINS_AT: i64 = 4;

/// `made` is the text at revision 0: with the log it gives every later text again. `sha256` is that of the text beside it.
const TABLES: &str = "
CREATE TABLE jobs (
  id TEXT PRIMARY KEY, text TEXT NOT NULL, revision INTEGER NOT NULL,
  name TEXT NOT NULL, summary TEXT NOT NULL, changed_at TEXT NOT NULL,
  sha256 TEXT NOT NULL DEFAULT '', made TEXT,
  status TEXT NOT NULL DEFAULT '', client TEXT NOT NULL DEFAULT '', template INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE INDEX jobs_listed ON jobs (changed_at DESC, id, name, summary, revision, status, client, template);
CREATE TABLE catalogue_files (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, place INTEGER NOT NULL,
  name TEXT NOT NULL, text TEXT NOT NULL, sha256 TEXT NOT NULL DEFAULT '', PRIMARY KEY (job, place)
) STRICT;
CREATE TABLE edits (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, revision INTEGER NOT NULL, edit_id TEXT NOT NULL,
  kind TEXT NOT NULL, of INTEGER, who TEXT NOT NULL, at TEXT NOT NULL, made_at TEXT, note TEXT NOT NULL,
  patch TEXT NOT NULL, inverse TEXT NOT NULL, PRIMARY KEY (job, revision), UNIQUE (job, edit_id)
) STRICT;
CREATE TABLE contents (sha256 TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;
CREATE TABLE attachments (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, name TEXT NOT NULL,
  sha256 TEXT NOT NULL REFERENCES contents(sha256), media_type TEXT NOT NULL, size INTEGER NOT NULL,
  PRIMARY KEY (job, name)
) STRICT;
CREATE INDEX attachments_of_content ON attachments (sha256);
CREATE TABLE devices (
  id TEXT PRIMARY KEY, token_hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
  paired_at TEXT NOT NULL, seen_at TEXT NOT NULL
) STRICT;
CREATE TABLE writer (one INTEGER PRIMARY KEY CHECK (one = 1), token TEXT NOT NULL) STRICT;
CREATE TABLE firm_files (name TEXT PRIMARY KEY, bytes BLOB NOT NULL, sha256 TEXT NOT NULL) STRICT;
";

/// What makes each version's tables of those of the version before.
const STEPS: &[(i64, &str)] = &[(2, TO_2), (3, TO_3), (4, TO_4), (5, PEOPLE), (6, SIGN_INS)];

/// Version 2: the list of jobs by an index of its own, checksums, the text a job began with, who writes.
const TO_2: &str = "
ALTER TABLE jobs ADD COLUMN sha256 TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN made TEXT;
ALTER TABLE catalogue_files ADD COLUMN sha256 TEXT NOT NULL DEFAULT '';
CREATE INDEX jobs_listed ON jobs (changed_at DESC, id, name, summary, revision);
CREATE TABLE writer (one INTEGER PRIMARY KEY CHECK (one = 1), token TEXT NOT NULL) STRICT;
UPDATE jobs SET made = text WHERE revision = 0;
";

/// Version 3: who names a content is found without looking at every file.
const TO_3: &str = "CREATE INDEX attachments_of_content ON attachments (sha256);";

/// Version 4: what else the list of jobs shows, by the same index; the firm's files.
const TO_4: &str = "
ALTER TABLE jobs ADD COLUMN status TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN client TEXT NOT NULL DEFAULT '';
ALTER TABLE jobs ADD COLUMN template INTEGER NOT NULL DEFAULT 0;
DROP INDEX jobs_listed;
CREATE INDEX jobs_listed ON jobs (changed_at DESC, id, name, summary, revision, status, client, template);
CREATE TABLE firm_files (name TEXT PRIMARY KEY, bytes BLOB NOT NULL, sha256 TEXT NOT NULL) STRICT;
";

/// What every SQLite file begins with (the file format's own page, sqlite.org, section 1.2).
const FIRST_BYTES: &[u8; 16] = b"SQLite format 3\0";

/// A connection to the file, looked over; made when it is not there.
pub fn open(file: &Path) -> Result<Connection, StoreError> {
    match File::open(file) {
        Ok(mut there) => {
            let mut first = Vec::new();
            there.by_ref().take(16).read_to_end(&mut first).map_err(|e| unusable(file, &e))?;
            if first != FIRST_BYTES {
                let length = there.metadata().map_or(0, |m| m.len());
                return Err(StoreError::NoStore { file: file.to_owned(), length });
            }
        }
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => make(file)?,
        Err(e) => return Err(unusable(file, &e)),
    }
    for end in ["", "-wal", "-shm"] {
        for_its_owner(&beside(file, end));
    }
    let torn = |e: StoreError| match e {
        StoreError::Damaged(told) => StoreError::Torn { file: file.to_owned(), told },
        other => other,
    };
    let c = Connection::open(file)?;
    let version = c.pragma_query_value(None, "user_version", |r| r.get::<_, i64>(0));
    // A store has its tables and their version before it has its name: without, it is somebody else's.
    if version.map_err(|e| torn(e.into()))? == 0 {
        let length = std::fs::metadata(file).map_or(0, |m| m.len());
        return Err(StoreError::NoStore { file: file.to_owned(), length });
    }
    looked_over(&c, file)?;
    prepared(c).map_err(torn)
}

/// Settings of every connection, and tables as this version has them.
pub fn prepared(mut c: Connection) -> Result<Connection, StoreError> {
    c.busy_timeout(Duration::from_secs(STORE_BUSY_S.number))?;
    let version: i64 = c.pragma_query_value(None, "user_version", |r| r.get(0))?;
    if version > TABLES_VERSION {
        return Err(StoreError::Newer { found: version, known: TABLES_VERSION });
    }
    // Some settings answer with a row; `pragma_update` takes both.
    c.pragma_update(None, "journal_mode", "WAL")?;
    // Every commit reaches the disk before it returns: an acknowledged edit survives the loss of power.
    c.pragma_update(None, "synchronous", "FULL")?;
    c.pragma_update(None, "foreign_keys", true)?;
    if version < TABLES_VERSION {
        let t = c.transaction_with_behavior(TransactionBehavior::Immediate)?;
        // Another program may have been first.
        let version: i64 = t.pragma_query_value(None, "user_version", |r| r.get(0))?;
        let from = match version {
            0 => {
                t.execute_batch(TABLES)?;
                BEGINS_AT
            }
            there => there,
        };
        for (to, step) in STEPS.iter().filter(|(to, _)| *to > from) {
            t.execute_batch(step)?;
            if *to == 2 {
                sum(&t)?;
            }
        }
        t.pragma_update(None, "user_version", TABLES_VERSION)?;
        t.commit()?;
    }
    Ok(c)
}

/// Checksums of what was kept without.
fn sum(t: &Connection) -> Result<(), StoreError> {
    for (table, key) in [("jobs", "rowid"), ("catalogue_files", "rowid")] {
        let mut q = t.prepare(&format!("SELECT {key}, text FROM {table}"))?;
        let rows = q.query_map([], |r| Ok((r.get::<_, i64>(0)?, r.get::<_, String>(1)?)))?;
        for row in rows {
            let (key_value, text) = row?;
            t.execute(
                &format!("UPDATE {table} SET sha256 = ?2 WHERE {key} = ?1"),
                rusqlite::params![key_value, sha256(text.as_bytes())],
            )?;
        }
    }
    Ok(())
}

/// A new store under another name first: a file of this name is always whole, so that an empty one is never taken for new.
fn make(file: &Path) -> Result<(), StoreError> {
    let log = beside(file, "-wal");
    if log.exists() {
        return Err(StoreError::Gone { file: file.to_owned(), log });
    }
    let new = beside(file, ".new");
    match std::fs::remove_file(&new) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(unusable(&new, &e)),
        _ => {}
    }
    let c = prepared(Connection::open(&new)?)?;
    // One file, nothing beside it, that can be renamed.
    c.pragma_update(None, "journal_mode", "DELETE")?;
    c.close().map_err(|(_, e)| e)?;
    std::fs::rename(&new, file).map_err(|e| unusable(file, &e))?;
    // The name is on the disk once the folder is; where folders cannot be flushed, the next flush will do.
    if let Some(Ok(folder)) = file.parent().map(File::open) {
        let _flushed = folder.sync_all();
    }
    Ok(())
}

/// What SQLite itself finds wrong with the file's structure. Texts and files have checksums of their own.
fn looked_over(c: &Connection, file: &Path) -> Result<(), StoreError> {
    let told: Result<String, rusqlite::Error> = c.query_row("PRAGMA quick_check(1)", [], |r| r.get(0));
    match told {
        Ok(told) if told == "ok" => Ok(()),
        Ok(told) => Err(StoreError::Torn { file: file.to_owned(), told }),
        Err(e) => Err(StoreError::Torn { file: file.to_owned(), told: e.to_string() }),
    }
}

fn unusable(file: &Path, source: &std::io::Error) -> StoreError {
    StoreError::Unusable { file: file.to_owned(), why: source.to_string() }
}

fn beside(file: &Path, end: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// Leaves a file readable to whoever runs the program alone, where the system knows such a thing.
pub fn for_its_owner(file: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // Not ours to change, on a strange disk say: then it stays as it is.
        let _changed = std::fs::set_permissions(file, std::fs::Permissions::from_mode(0o600));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::sqlite::SqliteStore;
    use crate::store::{People as _, Role, SignIns as _, Store as _};

    fn version(c: &Connection) -> i64 {
        c.pragma_query_value(None, "user_version", |r| r.get(0)).unwrap()
    }

    /// Every index, and every column of every table: a table that was changed has them in another order.
    fn made_of(c: &Connection) -> Vec<String> {
        let mut q = c
            .prepare(
                "SELECT m.name || ' ' || coalesce(i.name || ' ' || i.type, '') FROM sqlite_schema m
                 LEFT JOIN pragma_table_info(m.name) i ON m.type = 'table'
                 WHERE m.name NOT LIKE 'sqlite_%' ORDER BY 1",
            )
            .unwrap();
        q.query_map([], |r| r.get(0)).unwrap().map(Result::unwrap).collect()
    }

    /// The tables as the first version made them, with a job, a file of it and a device.
    const VERSION_1: &str = "
CREATE TABLE jobs (
  id TEXT PRIMARY KEY, text TEXT NOT NULL, revision INTEGER NOT NULL,
  name TEXT NOT NULL, summary TEXT NOT NULL, changed_at TEXT NOT NULL
) STRICT;
CREATE TABLE catalogue_files (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, place INTEGER NOT NULL,
  name TEXT NOT NULL, text TEXT NOT NULL, PRIMARY KEY (job, place)
) STRICT;
CREATE TABLE edits (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, revision INTEGER NOT NULL, edit_id TEXT NOT NULL,
  kind TEXT NOT NULL, of INTEGER, who TEXT NOT NULL, at TEXT NOT NULL, made_at TEXT, note TEXT NOT NULL,
  patch TEXT NOT NULL, inverse TEXT NOT NULL, PRIMARY KEY (job, revision), UNIQUE (job, edit_id)
) STRICT;
CREATE TABLE contents (sha256 TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;
CREATE TABLE attachments (
  job TEXT NOT NULL REFERENCES jobs(id) ON DELETE CASCADE, name TEXT NOT NULL,
  sha256 TEXT NOT NULL REFERENCES contents(sha256), media_type TEXT NOT NULL, size INTEGER NOT NULL,
  PRIMARY KEY (job, name)
) STRICT;
CREATE TABLE devices (
  id TEXT PRIMARY KEY, token_hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
  paired_at TEXT NOT NULL, seen_at TEXT NOT NULL
) STRICT;
INSERT INTO jobs VALUES ('one', 'the text', 0, 'Court', 'A court', '2026-05-04T09:30:00Z');
INSERT INTO catalogue_files VALUES ('one', 0, 'own.toml', 'x = 1');
INSERT INTO contents VALUES ('2c26b46b68ffc68ff99b453c1d30413413422d706483bfa0f98a5e886266e7ae', CAST('foo' AS BLOB));
INSERT INTO attachments VALUES ('one', 'plan.png',
  '2c26b46b68ffc68ff99b453c1d30413413422d706483bfa0f98a5e886266e7ae', 'image/png', 3);
INSERT INTO devices VALUES ('phone', 'hash', 'Phone', '2026-05-01T08:00:00Z', '2026-05-02T08:00:00Z');
PRAGMA user_version = 1;
";

    /// Stores of the versions that were given out, as they were: each comes up by all steps, with everything in it.
    #[test]
    fn stores_of_every_version_before_are_taken_up_whole() {
        let now = prepared(Connection::open_in_memory().unwrap()).unwrap();
        for version_before in [1, 2] {
            let c = Connection::open_in_memory().unwrap();
            c.execute_batch(VERSION_1).unwrap();
            if version_before == 2 {
                c.execute_batch(TO_2).unwrap();
                sum(&c).unwrap();
                c.pragma_update(None, "user_version", 2).unwrap();
            }
            let c = prepared(c).unwrap();
            assert_eq!((version(&c), made_of(&c)), (TABLES_VERSION, made_of(&now)), "{version_before}");
            let store = SqliteStore::on(c, None);
            let row = store.jobs().unwrap().swap_remove(0);
            assert_eq!((row.id.as_str(), row.status.as_str(), row.template), ("one", "", false));
            let job = store.job("one").unwrap().unwrap();
            assert!(job.as_written && job.altered.is_empty(), "{job:?}");
            assert_eq!((job.text.as_str(), job.catalogue.len()), ("the text", 1));
            assert_eq!(store.made("one").unwrap().as_deref(), Some("the text"));
            assert_eq!(store.attachment("one", "plan.png").unwrap().unwrap().1, b"foo");
            let device = store.device("phone").unwrap().unwrap();
            assert_eq!((device.name.as_str(), device.role), ("Phone", Role::Designer));
            assert_eq!(store.tokens("phone").unwrap()[0].hash, "hash");
            assert!(store.firm().unwrap().is_empty() && store.deleted().unwrap().is_empty());
            assert!(store.people().unwrap().is_empty() && device.person.is_none());
        }
    }

    #[test]
    fn tables_of_a_newer_program_are_refused_and_left_as_they_are() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("jobs.sqlite");
        drop(open(&file).unwrap());
        let c = Connection::open(&file).unwrap();
        c.pragma_update(None, "user_version", TABLES_VERSION + 1).unwrap();
        c.close().unwrap();
        let before = std::fs::read(&file).unwrap();
        let why = open(&file).unwrap_err();
        assert!(
            matches!(why, StoreError::Newer { .. }) && why.to_string().contains("newer program"),
            "{why}"
        );
        assert_eq!(std::fs::read(&file).unwrap(), before);
    }
}
