//! The firm's files in the store.

use crate::random::sha256;
use crate::store::{FirmFile, StoreError};
use rusqlite::{Connection, params};

/// All of them, by name.
pub fn files(c: &Connection) -> Result<Vec<FirmFile>, StoreError> {
    let mut q = c.prepare_cached("SELECT name, bytes, sha256 FROM firm_files ORDER BY name")?;
    let rows = q.query_map([], |r| Ok(FirmFile { name: r.get(0)?, bytes: r.get(1)?, sha256: r.get(2)? }))?;
    let files: Vec<FirmFile> = rows.collect::<Result<_, _>>()?;
    match files.iter().find(|f| sha256(&f.bytes) != f.sha256) {
        Some(damaged) => {
            Err(StoreError::Damaged(format!("the firm's file {} is not what was written", damaged.name)))
        }
        None => Ok(files),
    }
}

/// Keeps one, in place of one of the same name.
pub fn keep(c: &Connection, file: &FirmFile) -> Result<(), StoreError> {
    c.execute(
        "INSERT INTO firm_files (name, bytes, sha256) VALUES (?1, ?2, ?3)
         ON CONFLICT (name) DO UPDATE SET bytes = ?2, sha256 = ?3",
        params![file.name, file.bytes, file.sha256],
    )?;
    Ok(())
}

/// Takes one away; whether there was one.
pub fn take_away(c: &Connection, name: &str) -> Result<bool, StoreError> {
    Ok(c.execute("DELETE FROM firm_files WHERE name = ?1", [name])? > 0)
}
