//! The folder jobs and certificates are kept in on this computer.

use crate::serve_error::ServeError;
use crate::store::{Backup, SqliteStore, StoreError, for_its_owner};
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};

/// Name of the file jobs are kept in.
const FILE: &str = "jobs.sqlite";

/// The store in a folder, without the server: for looking after paired devices while it may be running.
///
/// # Errors
/// When it cannot be opened.
pub fn store_in(data: &Path) -> Result<SqliteStore, ServeError> {
    private_folder(data)?;
    Ok(SqliteStore::open(&file_in(data))?)
}

/// The file jobs are kept in, in a folder.
pub fn file_in(data: &Path) -> PathBuf {
    data.join(FILE)
}

/// Copies the jobs of a folder into a file, while they may be served; the copy is read back before it has its name.
///
/// # Errors
/// When there are none, or they or the copy cannot be read or written.
pub fn back_up(data: &Path, copy: &Path) -> Result<Backup, StoreError> {
    Backup::make(&file_in(data), copy)
}

/// Puts such a copy in the place of a folder's jobs, which nobody serves meanwhile.
///
/// # Errors
/// When somebody does, or the copy or the folder cannot be read or written; the jobs are then as they were.
pub fn put_back(copy: &Path, data: &Path) -> Result<Backup, ServeError> {
    private_folder(data)?;
    let _lock = lock(data)?;
    Ok(Backup::put_back(copy, &file_in(data))?)
}

/// The folder for data, made for its owner's eyes alone where it is not there.
///
/// # Errors
/// When it cannot be made.
pub fn private_folder(folder: &Path) -> Result<(), ServeError> {
    let mut made = std::fs::DirBuilder::new();
    made.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut made, 0o700);
    made.create(folder).map_err(|source| ServeError::Folder { path: folder.to_owned(), source })
}

/// The folder for oneself, until what is given back is dropped: two servers on one folder would not see each other's edits.
///
/// # Errors
/// When another has it, or it cannot be used.
pub fn lock(folder: &Path) -> Result<File, ServeError> {
    let unusable = |source| ServeError::Folder { path: folder.to_owned(), source };
    let path = folder.join("lock");
    // Not emptied: some systems refuse that while another holds the lock, and that it is held is to be told instead.
    let file = File::options().write(true).create(true).truncate(false).open(&path).map_err(unusable)?;
    for_its_owner(&path);
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(ServeError::InUse { path: folder.to_owned() }),
        Err(TryLockError::Error(source)) => Err(unusable(source)),
    }
}
