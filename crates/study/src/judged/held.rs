//! What readings are held against: the job as it is, or a line of it as it was.

use crate::error::StudyError;
use crate::meter::{ExpectedLine, expect};
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, laid_runs};
use loamline_faults::Tolerances;
use loamline_model::document::KeptLine;
use loamline_model::{Job, KeptLineError};
use std::borrow::Cow;

/// Why nothing is expected of a line.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
pub(super) enum NotExpected {
    /// As a visit kept it.
    Kept(KeptLineError),
    /// As it is.
    Now(StudyError),
}

/// A job as far as some readings go: as it is, or one line of it as it was.
pub(super) struct Held<'j> {
    kept: Option<&'j KeptLine>,
    pub job: Cow<'j, Job>,
    pub runs: Vec<LaidRun>,
    pub expected: Result<IndexMap<String, ExpectedLine>, NotExpected>,
}

/// Index of what readings of a line are held against, made at first sight.
pub(super) fn hold<'j>(
    held: &mut Vec<Held<'j>>,
    kept: Option<&'j KeptLine>,
    job: &'j Job,
    runs: &[LaidRun],
    frequencies: &[f64],
    tolerances: &Tolerances,
) -> usize {
    let found = held.iter().position(|h| match (h.kept, kept) {
        (None, None) => true,
        (Some(a), Some(b)) => a.is_same_line(b),
        _ => false,
    });
    if let Some(index) = found {
        return index;
    }
    let (job, runs, problem) = match kept.map(|k| job.as_it_was(k)) {
        None => (Cow::Borrowed(job), runs.to_vec(), None),
        Some(Ok(was)) => {
            let runs = laid_runs(&was);
            (Cow::Owned(was), runs, None)
        }
        Some(Err(why)) => (Cow::Borrowed(job), Vec::new(), Some(why)),
    };
    let expected = match problem {
        Some(why) => Err(NotExpected::Kept(why)),
        None => expect(&job, &runs, frequencies, tolerances).map_err(NotExpected::Now),
    };
    held.push(Held { kept, job, runs, expected });
    held.len() - 1
}
