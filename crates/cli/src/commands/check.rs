//! `loamline check JOB [--zone Z] [--phase P]`

use super::open;
use crate::args::PartArguments;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, Progress};
use loamline_study::{Severity, alike};
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, part: &PartArguments, each: bool, format: Format) -> Result<Verdict, Failure> {
    let part = open::part(folder, part)?;
    let study = part.own();
    let format = format.of(study.job());
    let progress = Progress::start("Checking the job");
    let findings = part.findings();
    let alike = alike(study.job(), &findings);
    progress.finish();
    if format.json {
        let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
        output::json(&json!({
            "job": open::job_json(study),
            "findings": findings,
            "alike": alike,
            "readings": *study.judged(),
            "errors": count(Severity::Error),
            "warnings": count(Severity::Warning),
            "notes": count(Severity::Note),
        }))?;
    } else {
        let text = if each {
            open::findings_text(&findings, format)
        } else {
            open::alike_text(&findings, &alike, format)
        };
        output::data(&text)?;
    }
    Ok(open::verdict(&findings))
}
