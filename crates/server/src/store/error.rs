//! Why the store could not do something.

use loamline_limits::Exceeded;
use std::path::PathBuf;

/// Why the store could not do something.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The database refused.
    #[error("the store of jobs cannot be read or written: {0}")]
    Database(#[source] rusqlite::Error),
    /// The disk is full.
    #[error("the disk the jobs are kept on is full; make room on it, then do this again")]
    NoRoom,
    /// What is stored cannot be read back.
    #[error("the store of jobs is damaged: {0}")]
    Damaged(String),
    /// The file is not one jobs are kept in.
    #[error("{} ({length} bytes) holds no jobs; if jobs were kept in it, put it back from the last backup, and if not, choose another folder", file.display())]
    NoStore {
        /// The file.
        file: PathBuf,
        /// Its length, bytes.
        length: u64,
    },
    /// The file is gone while what belongs to it is there.
    #[error("{} is gone, though {} beside it belongs to it; put it back, from the last backup if need be, or take that file away too and begin anew", file.display(), log.display())]
    Gone {
        /// The file.
        file: PathBuf,
        /// What is left of it.
        log: PathBuf,
    },
    /// The file's structure is damaged.
    #[error("{} is damaged ({told}); nothing was written to it. Copy its folder away first, then put it back from the last backup", file.display())]
    Torn {
        /// The file.
        file: PathBuf,
        /// The first damage found.
        told: String,
    },
    /// Somebody else did something to the file while it was in use.
    #[error("{} {how} while it was in use, so that nothing more is written to it. Export what is open here now; then stop this program and put the file back from the last backup", file.display())]
    Meddled {
        /// The file.
        file: PathBuf,
        /// What was done to it.
        how: &'static str,
    },
    /// The file cannot be used.
    #[error("{} cannot be used: {why}", file.display())]
    Unusable {
        /// The file.
        file: PathBuf,
        /// Why.
        why: String,
    },
    /// Another program serves the same jobs.
    #[error(
        "another loamline writes these jobs now; stop this one, and open the address the other one printed"
    )]
    TakenOver,
    /// The job was taken away.
    #[error("there is no such job in the store any more")]
    NoJob,
    /// Somebody else added an edit since the job was read.
    #[error("the job has changed in the store since it was read")]
    Behind,
    /// A job would keep more files than a job may.
    #[error(transparent)]
    TooMany(#[from] Exceeded),
    /// A job's files would take more room than a job may.
    #[error("the job keeps {kept} bytes of files already; {wanted} more would pass the {most} it may keep")]
    Full {
        /// Bytes of the files kept, the one that is replaced left out.
        kept: u64,
        /// Bytes of the new file.
        wanted: u64,
        /// Bytes of files that may be kept.
        most: u64,
    },
}

impl From<rusqlite::Error> for StoreError {
    fn from(e: rusqlite::Error) -> Self {
        // The second is the file beside the store through which its users know of each other: it is made at every start.
        let full = e.sqlite_error().is_some_and(|told| {
            told.code == rusqlite::ErrorCode::DiskFull
                || told.extended_code == rusqlite::ffi::SQLITE_IOERR_SHMSIZE
        });
        if full { Self::NoRoom } else { Self::Database(e) }
    }
}
