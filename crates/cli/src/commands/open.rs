//! Opening a job, and what all commands on a job say at the end.

use crate::args::PartArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{Column, Format, Table};
use loamline_model::{LoadError, load_job};
use loamline_study::{Alike, Finding, NOTHING_DBA, PartStudy, Severity, Study};
use loamline_terms::{Band, Sentence, all_of, one_after_another, say};
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

/// The part of the job in a folder that is asked for, ready to be studied.
pub fn part(folder: &Path, asked: &PartArguments) -> Result<PartStudy, Failure> {
    let whole = study(folder)?;
    let part = whole.job().document().part(asked.zone.as_deref(), asked.phase.as_deref());
    Ok(PartStudy::of(&whole, part.map_err(Failure::input)?))
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
    let mut table = findings_table(format);
    for finding in findings {
        add_finding(&mut table, finding, about(finding), None, format);
    }
    let table = if findings.is_empty() { String::new() } else { format!("{table}\n") };
    table + &format.tell(&counted(findings))
}

/// Fewer findings than this that are alike are told one by one.
const FEWEST_ALIKE: usize = 3;

/// The same with findings that are alike told once, with everything they are about.
pub fn alike_text(findings: &[Finding], alike: &[Alike], format: Format) -> String {
    let mut table = findings_table(format);
    for group in alike {
        let all: Vec<&Finding> = group.findings.iter().filter_map(|place| findings.get(*place)).collect();
        match all.as_slice() {
            [first, others @ ..] if all.len() >= FEWEST_ALIKE => {
                let what = format!("{} {}", all.len(), group.table.replace('_', " "));
                let others: Vec<&str> = others.iter().map(|finding| about(finding)).collect();
                let others = format.tell(&say!("The same of {others}.", others = all_of(&others)));
                add_finding(&mut table, first, &what, Some(&others), format);
            }
            few => {
                for finding in few {
                    add_finding(&mut table, finding, about(finding), None, format);
                }
            }
        }
    }
    let table = if findings.is_empty() { String::new() } else { format!("{table}\n") };
    table + &format.tell(&counted(findings))
}

fn findings_table(format: Format) -> Table {
    let heading = |word: &Sentence| format.tell(word);
    Table::new([
        Column::left(heading(&say!("severity"))),
        Column::left(heading(&say!("about"))),
        Column::wrapped(heading(&say!("finding"))),
    ])
}

/// The word printed beside a finding.
fn severity_word(severity: Severity) -> Sentence {
    match severity {
        Severity::Note => say!("note"),
        Severity::Warning => say!("warning"),
        Severity::Error => say!("error"),
    }
}

/// What a finding is about: by its tag, a part of the job by its name. A run's own tag is enough, without its line.
fn about(finding: &Finding) -> &str {
    let id = finding.about.id.as_str();
    match id.rsplit_once('/') {
        _ if id.is_empty() => finding.about.table,
        Some((_, tag)) => tag,
        None => id,
    }
}

fn add_finding(table: &mut Table, finding: &Finding, about: &str, others: Option<&str>, format: Format) {
    let word = format.tell(&severity_word(finding.severity));
    table.row([word.as_str(), about, &format.tell(&finding.sentence)]);
    if let Some(others) = others {
        table.row(["", "", others]);
    }
    if let Some(mend) = &finding.mend {
        table.row(["", "", &format!("-> {}", format.tell(mend))]);
    }
    if let Some(command) = &finding.command {
        table.row(["", "", &format!("   {command}")]);
    }
}

/// How many findings there are of each kind: `2 errors, no warnings, 1 note.`
fn counted(findings: &[Finding]) -> Sentence {
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let errors = match count(Severity::Error) {
        0 => say!("no errors"),
        1 => say!("1 error"),
        several => say!("{count} errors", count = several.to_string()),
    };
    let warnings = match count(Severity::Warning) {
        0 => say!("no warnings"),
        1 => say!("1 warning"),
        several => say!("{count} warnings", count = several.to_string()),
    };
    let notes = match count(Severity::Note) {
        0 => say!("no notes"),
        1 => say!("1 note"),
        several => say!("{count} notes", count = several.to_string()),
    };
    one_after_another([errors.capitalised(), warnings, notes]) + ".\n"
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

/// Decibels with one decimal, in a table; `-` where nothing sounds at all.
pub fn decibels(value: f64) -> String {
    if value < NOTHING_DBA { "-".to_owned() } else { loamline_terms::fixed(value, 1) }
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
