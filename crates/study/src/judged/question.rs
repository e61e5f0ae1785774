//! What a visit asks about a line.

use crate::error::StudyError;
use crate::meter::{Question, insulation_of, readings_of};
use loamline_faults::Tolerances;
use loamline_model::Job;
use loamline_model::document::{Visit, Work};

/// The question a visit asks about a line: its readings, the joints it opened and found good, the temperature of the
/// ground. `kept` is the id under which the visit keeps the line, for what was read of it before it was replaced; `job` then
/// is [`Job::as_it_was`].
#[must_use]
pub fn question_of(job: &Job, visit: &Visit, line: &str, kept: Option<&str>) -> Question {
    let joins: Vec<&str> = job.line(line).map(|v| v.tree.nodes().skip(1).collect()).unwrap_or_default();
    let opened = visit.done.values().filter(|d| d.work == Work::Opened).filter_map(|d| d.at.as_deref());
    let mut opened: Vec<String> = opened.filter(|at| joins.contains(at)).map(str::to_owned).collect();
    opened.sort();
    opened.dedup();
    Question {
        readings: readings_of(job, visit, line, kept),
        opened,
        insulation: insulation_of(job, visit, line, kept),
        tolerances: Tolerances::default(),
        ground_temperature_c: visit.ground_temperature_c,
        pairs: false,
    }
}

/// What a visit says of a line, ready to be explained: the job to ask (the line as it was, where it has been replaced since
/// the visit and nothing was read of the new one) and the question.
///
/// # Errors
/// Why the line as it was cannot be asked any more.
pub fn visit_asks(job: &Job, visit: &Visit, line: &str) -> Result<(Job, Question), StudyError> {
    let now = question_of(job, visit, line, None);
    let kept = visit.lines.iter().find(|(_, k)| k.line == line && !k.readings.is_empty());
    match kept {
        Some((id, kept)) if now.readings.is_empty() => {
            let was =
                job.as_it_was(kept).map_err(|error| StudyError::KeptLine { line: line.to_owned(), error })?;
            let question = question_of(&was, visit, line, Some(id));
            Ok((was, question))
        }
        _ => Ok((job.clone(), now)),
    }
}
