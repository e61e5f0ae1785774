//! A job being worked on: its text, its document as typed, and the checked job, always of one mind.

use super::patch::{Edit, Operation, PatchError};
use super::preserve_late::{Past, with_lines_as_measured};
use super::preserve_measured::operations_preserving_measured;
use super::raw::{first_null, to_value};
use super::write_back::write_back;
use crate::catalogue::Catalogue;
use crate::job::{Job, LoadError, catalogue_with, check, job_files, read_job_with};
use crate::reading::Node;
use crate::source::{Report, SourceFile, parse_recovering};
use indexmap::IndexMap;
use loamline_limits::{Exceeded, JOB_FILE_BYTES};
use loamline_terms::{Sentence, say};
use serde_json::Value;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use thiserror::Error;

/// A job that can be edited. Cheap to clone next to what an edit costs, which is one reading of the document.
#[derive(Debug, Clone)]
pub struct JobFile {
    text: String,
    raw: Value,
    job: Job,
    catalogue: Arc<Catalogue>,
}

/// What an edit would make of a job.
struct Tried {
    raw: Value,
    job: Job,
    /// The edit with what it keeps of lines that were measured.
    whole: Edit,
    inverse: Edit,
}

/// Why an edit did not take effect. The job is as it was.
#[derive(Debug, Error)]
pub enum EditError {
    /// An operation cannot be carried out.
    #[error(transparent)]
    Patch(#[from] PatchError),
    /// The job would no longer make sense.
    #[error("the edit would leave a job that does not make sense:\n{0}")]
    Invalid(Report),
    /// A null, which a job file cannot hold.
    #[error("{path} would be null, which a job cannot hold; take the key out with `remove` instead")]
    Null {
        /// Where.
        path: String,
    },
    /// The job file would be larger than one that is read.
    #[error("the edit would leave too much: {0}")]
    TooLarge(Exceeded),
    /// The change cannot be written into the text of the file.
    #[error("the change cannot be written into the job file without losing something; edit the file by hand")]
    CannotWrite,
}

/// Why a job could not be saved. The file is as it was.
#[derive(Debug, Error)]
#[error("{} cannot be written: {source}", path.display())]
pub struct SaveError {
    /// The file.
    pub path: PathBuf,
    /// What the system says.
    pub source: std::io::Error,
}

impl JobFile {
    /// Opens the job in a folder.
    ///
    /// # Errors
    /// As [`crate::load_job`].
    pub fn open(folder: &Path) -> Result<Self, LoadError> {
        let (job, own) = job_files(folder)?;
        Ok(Self::from_text(&job, catalogue_with(&own)?)?)
    }

    /// Takes a job from its text.
    ///
    /// # Errors
    /// Every problem of the text.
    pub fn from_text(file: &SourceFile, catalogue: Arc<Catalogue>) -> Result<Self, Report> {
        let job = read_job_with(file, catalogue.clone())?;
        let (node, _) = parse_recovering(&file.text);
        Ok(Self { text: file.text.clone(), raw: to_value(&node), job, catalogue })
    }

    /// The checked job.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The document as typed, which edits address.
    pub fn raw(&self) -> &Value {
        &self.raw
    }

    /// The catalogue the job draws on.
    pub fn catalogue(&self) -> &Arc<Catalogue> {
        &self.catalogue
    }

    /// The text of `job.toml`.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The job as an edit would leave it; this one stays as it is. Costs less than [`JobFile::apply`]: no text is
    /// written.
    ///
    /// # Errors
    /// [`EditError`].
    pub fn preview(&self, edit: &Edit) -> Result<Job, EditError> {
        Ok(self.tried(edit)?.job)
    }

    fn tried(&self, edit: &Edit) -> Result<Tried, EditError> {
        let mut raw = self.raw.clone();
        let mut inverse = edit.apply(&mut raw)?;
        if let Some(path) = first_null(&raw) {
            return Err(EditError::Null { path });
        }
        let mut job = self.checked(&raw)?;
        let keeps = Edit::new(operations_preserving_measured(&self.job, &job, &self.raw, &raw, edit));
        if !keeps.operations.is_empty() {
            inverse.operations.splice(0..0, keeps.apply(&mut raw)?.operations);
            job = self.checked(&raw)?;
        }
        let whole = Edit::new(edit.operations.iter().cloned().chain(keeps.operations));
        Ok(Tried { raw, job, whole, inverse })
    }

    fn checked(&self, raw: &Value) -> Result<Job, EditError> {
        let node = Node::from(raw);
        check(&node, self.catalogue.clone())
            .map_err(|problems| EditError::Invalid(Report::unplaced(&node, problems)))
    }

    /// What an edit would leave as it was judged, line by line, as sentences; nothing where the edit cannot be carried out.
    pub fn readings_kept_told(&self, edit: &Edit) -> Vec<Sentence> {
        let told = |(line, count): (String, usize)| match count {
            1 => say!("The reading of line {line} so far stays as it was judged.", line = line),
            n => say!(
                "The {count} readings of line {line} so far stay as they were judged.",
                count = n.to_string(),
                line = line
            ),
        };
        self.readings_kept_by(edit).unwrap_or_default().into_iter().map(told).collect()
    }

    /// How many readings of each line an edit would leave with the line as it was.
    ///
    /// # Errors
    /// [`EditError`].
    pub fn readings_kept_by(&self, edit: &Edit) -> Result<IndexMap<String, usize>, EditError> {
        let mut kept: IndexMap<String, usize> = IndexMap::new();
        for operation in self.tried(edit)?.whole.operations.iter().skip(edit.operations.len()) {
            let Operation::Add { value, .. } = operation else { continue };
            let readings = value.get("readings").and_then(Value::as_array).map_or(0, Vec::len);
            if let Some(line) = value.get("line").and_then(Value::as_str).filter(|_| readings > 0) {
                *kept.entry(line.to_owned()).or_default() += readings;
            }
        }
        Ok(kept)
    }

    /// Carries out an edit, if the job still makes sense after it, and returns the edit that undoes it.
    ///
    /// # Errors
    /// [`EditError`]; the job is then as it was.
    pub fn apply(&mut self, edit: &Edit) -> Result<Edit, EditError> {
        self.carry_out(edit).map(|(_, inverse)| inverse)
    }

    /// The same; returns also what was carried out, which is the edit and behind it what it keeps of lines that were
    /// measured: what others have to carry out to have the same job.
    ///
    /// # Errors
    /// [`EditError`]; the job is then as it was.
    pub fn carry_out(&mut self, edit: &Edit) -> Result<(Edit, Edit), EditError> {
        let Tried { raw, whole, inverse, .. } = self.tried(edit)?;
        let text = write_back(&self.text, &raw).ok_or(EditError::CannotWrite)?;
        // What is written is to be read again.
        JOB_FILE_BYTES.check(text.len()).map_err(EditError::TooLarge)?;
        // Read what would be written: a file that says something else must never come about.
        let (written, errors) = parse_recovering(&text);
        let reads_the_same = errors.is_empty() && same(&to_value(&written), &raw, 0);
        if !reads_the_same {
            return Err(EditError::CannotWrite);
        }
        // What counts from now on is what the file says: inside a section its entries may stand in another order.
        let job = check(&written, self.catalogue.clone()).map_err(|_| EditError::CannotWrite)?;
        *self = Self { text, raw: to_value(&written), job, catalogue: self.catalogue.clone() };
        Ok((whole, inverse))
    }

    /// An edit whose entries on visits were taken before the edits in `past` (oldest first; the last of them left the job
    /// as it is), with what it has to keep of lines those edits replaced, or took a part of.
    pub fn with_lines_as_measured(&self, edit: &Edit, past: &[Past]) -> Edit {
        with_lines_as_measured(&self.raw, &self.catalogue, edit, past)
    }

    /// Writes `job.toml` in a folder: to a file beside it first, which then takes its place, so that a crash leaves
    /// either the old file or the new one.
    ///
    /// # Errors
    /// When the folder cannot be written to.
    pub fn save(&self, folder: &Path) -> Result<(), SaveError> {
        let path = folder.join("job.toml");
        let beside = folder.join(format!(".job.toml.{}", std::process::id()));
        let write = || {
            let mut file = std::fs::File::create(&beside)?;
            file.write_all(self.text.as_bytes())?;
            file.sync_all()?;
            std::fs::rename(&beside, &path)
        };
        write().map_err(|source| {
            // Best effort: the failure to report is the first one.
            let _removed = std::fs::remove_file(&beside);
            SaveError { path: path.clone(), source }
        })
    }
}

/// Whether two documents say the same, the things of each section in the same order.
fn same(a: &Value, b: &Value, depth: usize) -> bool {
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            x.len() == y.len()
                && (depth != 1 || !y.values().all(Value::is_object) || x.keys().eq(y.keys()))
                && x.iter().all(|(k, v)| y.get(k).is_some_and(|w| same(v, w, depth + 1)))
        }
        _ => a == b,
    }
}
