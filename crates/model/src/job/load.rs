//! Reading a job from its folder.

use super::Job;
use super::check::check;
use super::read_file::{read_catalogue, read_file};
use super::shipped::shipped_catalogue;
use crate::catalogue::Catalogue;
use crate::reading::ProblemKind;
use crate::source::{Report, SourceFile};
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
                report.problems.extend(of_job.problems.into_iter().filter(|p| own(&p.problem.kind)));
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
    let job = read_text(&path)?;
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
        own = paths.iter().map(|p| read_text(p)).collect::<Result<_, _>>()?;
    }
    Ok((job, own))
}

fn read_text(path: &Path) -> Result<SourceFile, LoadError> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(SourceFile::new(path.display().to_string(), text)),
        Err(source) => Err(LoadError::Unreadable { path: path.to_owned(), source }),
    }
}
