//! `loamline check JOB`

use super::open;
use crate::failure::{Failure, Verdict};
use crate::output::{self, Format, Progress};
use loamline_study::Severity;
use serde_json::json;
use std::path::Path;

pub fn run(folder: &Path, format: Format) -> Result<Verdict, Failure> {
    let study = open::study(folder)?;
    let format = format.of(study.job());
    let progress = Progress::start("Checking the job");
    let findings = study.findings();
    progress.finish();
    if format.json {
        let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
        output::json(&json!({
            "job": open::job_json(&study),
            "findings": findings,
            "readings": *study.judged(),
            "errors": count(Severity::Error),
            "warnings": count(Severity::Warning),
            "notes": count(Severity::Note),
        }))?;
    } else {
        output::data(&open::findings_text(&findings, format))?;
    }
    Ok(open::verdict(&findings))
}
