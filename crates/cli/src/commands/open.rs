//! Opening a job, and what all commands on a job say at the end.

use crate::failure::{Failure, Verdict};
use crate::output::{Column, Format, Table};
use loamline_model::{LoadError, load_job};
use loamline_study::{Finding, Severity, Study};
use loamline_terms::{Band, capitalised};
use serde_json::{Value, json};
use std::path::Path;

/// The job in a folder, ready to be studied.
pub fn study(folder: &Path) -> Result<Study, Failure> {
    match load_job(folder) {
        Ok(job) => Ok(Study::new(job)),
        Err(LoadError::Invalid(report)) => Err(Failure::Job(Box::new(report))),
        Err(error) => Err(Failure::input(error)),
    }
}

/// Whether findings end a command well.
pub fn verdict(findings: &[Finding]) -> Verdict {
    if findings.iter().any(|finding| finding.severity == Severity::Error) {
        Verdict::Errors
    } else {
        Verdict::Fine
    }
}

/// Findings as a person reads them: a table, then how many there are of each kind.
pub fn findings_text(findings: &[Finding], format: Format) -> String {
    let mut text = String::new();
    if !findings.is_empty() {
        let mut table =
            Table::new([Column::left("severity"), Column::left("about"), Column::wrapped("finding")]);
        for finding in findings {
            let about = if finding.about.id.is_empty() { finding.about.table } else { &finding.about.id };
            table.row([finding.severity.word(), about, &format.units.tell(&finding.sentence)]);
            if let Some(mend) = &finding.mend {
                table.row(["", "", &format!("-> {}", format.units.tell(mend))]);
            }
            if let Some(command) = &finding.command {
                table.row(["", "", &format!("   {command}")]);
            }
        }
        text = format!("{table}\n");
    }
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let named = |number: usize, word: &str| match number {
        0 => format!("no {word}s"),
        1 => format!("1 {word}"),
        several => format!("{several} {word}s"),
    };
    let [errors, warnings, notes] = [Severity::Error, Severity::Warning, Severity::Note]
        .map(|severity| (count(severity), severity.word()));
    format!(
        "{text}{}, {}, {}.\n",
        capitalised(&named(errors.0, errors.1)),
        named(warnings.0, warnings.1),
        named(notes.0, notes.1)
    )
}

/// The job's name and reference, for the head of JSON answers.
pub fn job_json(study: &Study) -> Value {
    let job = &study.job().document().about;
    json!({ "name": job.name, "reference": job.reference })
}

/// A heading with its section, for text answers.
pub fn section(title: &str, body: &str) -> String {
    format!("{title}\n\n{body}\n")
}

/// Decibels with one decimal, in a table.
pub fn decibels(value: f64) -> String {
    format!("{value:.1}")
}

/// A frequency: a third octave by the name people know it by, any other as it is.
pub fn frequency(format: Format, hz: f64) -> String {
    Band::with_centre(hz).map_or_else(
        || shown(format, loamline_model::Quantity::Frequency, hz),
        |band| band.label().to_owned(),
    )
}

/// Number with its unit, however the person reads it.
pub fn shown(format: Format, quantity: loamline_model::Quantity, value: f64) -> String {
    format.units.show(quantity, value)
}
