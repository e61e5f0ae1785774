//! The firm's files in the database.

use super::PostgresStore;
use super::trouble::{Trouble, bytes, text};
use crate::random::sha256;
use crate::store::{FirmFile, StoreError};

/// All of them, by name.
pub fn files(store: &PostgresStore) -> Result<Vec<FirmFile>, StoreError> {
    let rows = store.rows("SELECT name, bytes, sha256 FROM loamline.firm_files ORDER BY name", &[])?;
    let mut files = Vec::new();
    for r in &rows {
        let read = || Ok::<_, postgres::Error>((r.try_get(0)?, r.try_get(1)?, r.try_get(2)?));
        let (name, bytes, sum): (String, Vec<u8>, String) = read().map_err(Trouble::from)?;
        if sha256(&bytes) != sum {
            return Err(StoreError::Damaged(format!("the firm's file {name} is not what was written")));
        }
        files.push(FirmFile { name, bytes, sha256: sum });
    }
    Ok(files)
}

/// Keeps one, in place of one of the same name.
pub fn keep(store: &PostgresStore, file: &FirmFile) -> Result<(), StoreError> {
    let values = [text(&file.name), bytes(&file.bytes), text(&file.sha256)];
    store.execute(
        "INSERT INTO loamline.firm_files (name, bytes, sha256) VALUES ($1, $2, $3)
         ON CONFLICT (name) DO UPDATE SET bytes = $2, sha256 = $3",
        &values,
    )?;
    Ok(())
}

/// Takes one away; whether there was one.
pub fn take_away(store: &PostgresStore, name: &str) -> Result<bool, StoreError> {
    Ok(store.execute("DELETE FROM loamline.firm_files WHERE name = $1", &[text(&name)])? > 0)
}
