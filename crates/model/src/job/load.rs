//! Reading a job from its folder.

use super::Job;
use super::check::check;
use super::read_file::{read_catalogue, read_file};
use super::shipped::shipped_catalogue;
use crate::catalogue::Catalogue;
use crate::reading::ProblemKind;
use crate::source::{Report, SourceFile};
use loamline_limits::{Bound, CATALOGUE_BYTES, CATALOGUE_FILES, Exceeded, JOB_FILE_BYTES};
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Why a job could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum LoadError {
    /// The folder holds no job.
    #[error("there is no job in {}: a job is a folder that holds a `job.toml`", folder.display())]
    NoJob {
        /// The folder that was looked into.
        folder: PathBuf,
    },
    /// A file cannot be read.
    #[error("{} cannot be read: {source}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// More than is read.
    #[error("{}: {more}", path.display())]
    TooLarge {
        /// The file or folder.
        path: PathBuf,
        /// The bound it passes.
        more: Exceeded,
    },
    /// The files have problems.
    #[error(transparent)]
    Invalid(#[from] Report),
}

/// Reads a job from its text, with the catalogue files the job brings along on top of the shipped catalogue.
///
/// # Errors
/// Every problem of every file. While a catalogue file has problems, ids are not looked up: what they name may be
/// in it.
pub fn read_job(job: &SourceFile, own_catalogue: &[SourceFile]) -> Result<Job, Report> {
    match catalogue_with(own_catalogue) {
        Ok(catalogue) => read_job_with(job, catalogue),
        Err(mut report) => {
            // What the job may refer to is not known in full, but its own mistakes are told in the same go.
            if let Err(of_job) = read_job_with(job, shipped_catalogue()?) {
                let own =
                    |k: &ProblemKind| !matches!(k, ProblemKind::UnknownId { .. } | ProblemKind::Rule(_));
                let problems = of_job.problems.into_iter().filter(|p| own(&p.problem.kind)).collect();
                report.append(Report { problems, more: of_job.more });
            }
            Err(report)
        }
    }
}

/// The shipped catalogue with a job's own files on top.
///
/// # Errors
/// Every problem of every file.
pub fn catalogue_with(own: &[SourceFile]) -> Result<Arc<Catalogue>, Report> {
    let shipped = shipped_catalogue()?;
    if own.is_empty() {
        return Ok(shipped);
    }
    let mut all = (*shipped).clone();
    all.add(read_catalogue(own)?);
    Ok(Arc::new(all))
}

/// Reads a job from its text against a whole catalogue.
///
/// # Errors
/// Every problem of the text.
pub fn read_job_with(job: &SourceFile, catalogue: Arc<Catalogue>) -> Result<Job, Report> {
    let mut report = Report::default();
    let read = read_file(job, &mut report, |node, problems| match check(node, catalogue) {
        Ok(read) => Some(read),
        Err(found) => {
            problems.extend(found);
            None
        }
    });
    read.ok_or(report)
}

/// Loads the job in a folder: its `job.toml`, and the catalogue files in its `catalogue` folder, in the order of
/// their names. Files are named in messages as `folder` is written.
///
/// # Errors
/// When there is no job, a file cannot be read, or the files have problems (all of them, in one report).
pub fn load_job(folder: &Path) -> Result<Job, LoadError> {
    let (job, own) = job_files(folder)?;
    Ok(read_job(&job, &own)?)
}

/// The texts of the job in a folder: `job.toml`, and its own catalogue files in the order of their names.
pub(crate) fn job_files(folder: &Path) -> Result<(SourceFile, Vec<SourceFile>), LoadError> {
    let path = folder.join("job.toml");
    if !path.is_file() {
        return Err(LoadError::NoJob { folder: folder.to_owned() });
    }
    let job = read_text(&path, &JOB_FILE_BYTES, 0)?;
    let catalogue = folder.join("catalogue");
    let mut own = Vec::new();
    if catalogue.is_dir() {
        let unreadable = |source| LoadError::Unreadable { path: catalogue.clone(), source };
        let mut paths = Vec::new();
        for entry in std::fs::read_dir(&catalogue).map_err(unreadable)? {
            let path = entry.map_err(unreadable)?.path();
            if path.extension().is_some_and(|e| e == "toml") {
                paths.push(path);
            }
        }
        paths.sort();
        CATALOGUE_FILES
            .check(paths.len())
            .map_err(|more| LoadError::TooLarge { path: catalogue.clone(), more })?;
        let mut before = 0;
        for path in &paths {
            let file = read_text(path, &CATALOGUE_BYTES, before)?;
            before += file.text.len();
            own.push(file);
        }
    }
    Ok((job, own))
}

/// Reads a file that, with what was read before it, has no more bytes than a bound allows. Of a larger one no more is
/// read than shows it.
fn read_text(path: &Path, most: &'static Bound, before: usize) -> Result<SourceFile, LoadError> {
    let unreadable = |source| LoadError::Unreadable { path: path.to_owned(), source };
    let too_large = |more| LoadError::TooLarge { path: path.to_owned(), more };
    let file = std::fs::File::open(path).map_err(unreadable)?;
    let stated = file.metadata().map_err(unreadable)?.len();
    let before = u64::try_from(before).unwrap_or(u64::MAX);
    most.check_u64(stated.saturating_add(before)).map_err(too_large)?;
    let mut text = String::new();
    // What is no plain file may state nothing and give without end.
    let left = (most.number + 1).saturating_sub(before);
    let read = file.take(left).read_to_string(&mut text).map_err(unreadable)?;
    most.check_u64(before.saturating_add(u64::try_from(read).unwrap_or(u64::MAX))).map_err(too_large)?;
    Ok(SourceFile::new(path.display().to_string(), text))
}
