//! Job files.

use loamline_model::{Edit, JobFile, Operation, Report, SourceFile, read_job, shipped_catalogue};
use serde_json::json;

pub fn job(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let file = SourceFile::new("job.toml", text);
    let read = match read_job(&file, &[]) {
        Ok(read) => read,
        Err(report) => return told(&report, &file.text),
    };
    let catalogue = shipped_catalogue().expect("the shipped catalogue is good");
    let mut open = JobFile::from_text(&file, catalogue).expect("a job that is read can be worked on");
    assert!(open.job() == &read);
    // A word more and a word less: the text around it stays, whatever it looks like.
    let path = "/job/notes".to_owned();
    let edit = Edit::new([Operation::Add { path, value: json!("tried"), before: None }]);
    match open.apply(&edit) {
        Ok(inverse) => {
            open.apply(&inverse).expect("what was done can be undone");
            assert!(open.job() == &read, "undoing left another job");
        }
        Err(error) => drop(error.to_string()),
    }
}

/// What must hold of every report on a file.
pub fn told(report: &Report, text: &str) {
    assert!(!report.is_empty(), "refused without a reason");
    assert!(report.problems.len() <= 100, "{} problems told", report.problems.len());
    let lines = text.split('\n').count();
    for entry in &report.problems {
        assert!(!entry.message.is_empty(), "a problem without a word: {entry:?}");
        assert!(entry.line.is_none_or(|line| (1..=lines).contains(&line)), "{entry:?} of {lines} lines");
    }
    let told = report.to_string();
    // Half a thousand letters a problem, however long the words of the file are.
    assert!(told.len() < 200_000, "{} letters told", told.len());
    drop(serde_json::to_string(report).expect("a report has a JSON form"));
}
