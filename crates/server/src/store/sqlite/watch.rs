//! The file as it was when it was last looked at: what somebody else does to it is noticed before anything is written.
//!
//! A system lets a file that is in use be cut, replaced or taken away. SQLite writes on then, into what has lost its pages
//! or has no name any more, and what was acknowledged meanwhile would be gone at the next start. Here a file never gets
//! shorter by itself: pages that are free are kept for later. Left out: bytes changed within it, which are found when it is
//! opened and, of texts and files, whenever they are read.

use crate::store::StoreError;
use std::fs::{Metadata, metadata};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// What was last seen of a file.
#[derive(Debug)]
pub struct Watch {
    file: PathBuf,
    /// Its length, bytes: the greatest there was.
    length: AtomicU64,
    /// What tells it from another of the same name, where the system says so.
    same: Option<(u64, u64)>,
}

impl Watch {
    /// Begins to watch a file.
    ///
    /// # Errors
    /// [`StoreError::Unusable`] when it is not there.
    pub fn of(file: &Path) -> Result<Self, StoreError> {
        let now =
            metadata(file).map_err(|e| StoreError::Unusable { file: file.to_owned(), why: e.to_string() })?;
        Ok(Self { file: file.to_owned(), length: AtomicU64::new(now.len()), same: identity(&now) })
    }

    /// Looks whether it is still there, the same and as long as it was.
    ///
    /// # Errors
    /// [`StoreError::Meddled`].
    pub fn look(&self) -> Result<(), StoreError> {
        let meddled = |how| Err(StoreError::Meddled { file: self.file.clone(), how });
        let Ok(now) = metadata(&self.file) else { return meddled("was taken away") };
        if identity(&now) != self.same {
            return meddled("was put in place of another");
        }
        if now.len() < self.length.fetch_max(now.len(), Ordering::Relaxed) {
            return meddled("was cut short");
        }
        Ok(())
    }
}

#[cfg(unix)]
fn identity(of: &Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt as _;
    Some((of.dev(), of.ino()))
}

#[cfg(not(unix))]
fn identity(_: &Metadata) -> Option<(u64, u64)> {
    None
}
