//! The firm's files in the database.

use super::pool::Pool;
use super::trouble::{Trouble, bytes, text};
use crate::random::sha256;
use crate::store::{FirmFile, StoreError};
use postgres::Row;

/// All of them, by name.
pub fn files(pool: &Pool) -> Result<Vec<FirmFile>, StoreError> {
    let all = "SELECT name, bytes, sha256 FROM loamline.firm_files ORDER BY name";
    let rows = pool.ask(|c| Ok(c.query_typed(all, &[])?))?;
    Ok(rows.iter().map(row).collect::<Result<Vec<_>, _>>()?)
}

fn row(r: &Row) -> Result<FirmFile, Trouble> {
    let file = FirmFile { name: r.try_get(0)?, bytes: r.try_get(1)?, sha256: r.try_get(2)? };
    if sha256(&file.bytes) != file.sha256 {
        let why = format!("the firm's file {} is not what was written", file.name);
        return Err(StoreError::Damaged(why).into());
    }
    Ok(file)
}

/// Keeps one, in place of one of the same name.
pub fn keep(pool: &Pool, file: &FirmFile) -> Result<(), StoreError> {
    pool.ask(|c| {
        c.execute_typed(
            "INSERT INTO loamline.firm_files (name, bytes, sha256) VALUES ($1, $2, $3)
             ON CONFLICT (name) DO UPDATE SET bytes = $2, sha256 = $3",
            &[text(&file.name), bytes(&file.bytes), text(&file.sha256)],
        )?;
        Ok(())
    })
}

/// Takes one away; whether there was one.
pub fn take_away(pool: &Pool, name: &str) -> Result<bool, StoreError> {
    let gone = pool.change(|c| {
        Ok(c.execute_typed("DELETE FROM loamline.firm_files WHERE name = $1", &[text(&name)])?)
    })?;
    Ok(gone > 0)
}
