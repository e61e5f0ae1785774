//! Findings of a job that is only begun: what is missing before anything can be worked out.

use crate::finding::{Finding, Severity, Subject};
use loamline_model::Job;
use loamline_terms::{Sentence, say};

/// What is missing to begin, in the order of the work. A job that has loudspeakers has begun.
pub fn beginnings(job: &Job) -> Vec<Finding> {
    let d = job.document();
    let missing = |table: &'static str, sentence: Sentence, mend: Sentence| {
        Finding::new(Severity::Warning, Subject::new(table, ""), sentence).mend(mend)
    };
    let mut found = Vec::new();
    if d.programmes.is_empty() {
        found.push(missing(
            "programmes",
            say!("Nothing is said of what is played: no level can be stated."),
            say!("Add a programme."),
        ));
    }
    if d.areas.is_empty() {
        found.push(missing(
            "areas",
            say!("There is no listening area: nothing says where sound is wanted."),
            say!("Draw one and say how loud it should be."),
        ));
    }
    if !d.loudspeakers.is_empty() {
        return found;
    }
    if d.racks.is_empty() {
        found.push(missing(
            "racks",
            say!("There is no rack: nothing says where the amplifiers stand."),
            say!("Draw one where the cables leave."),
        ));
    }
    found.push(missing(
        "loudspeakers",
        say!("No loudspeaker stands yet."),
        say!("Have a design proposed, or place them by hand."),
    ));
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_model::{SourceFile, read_job};

    fn told(text: &str) -> Vec<&'static str> {
        let job = read_job(&SourceFile::new("job.toml".to_owned(), text.to_owned()), &[]).unwrap();
        beginnings(&job).iter().map(|f| f.about.table).collect()
    }

    #[test]
    fn an_empty_job_is_told_what_it_lacks_and_a_whole_one_nothing() {
        let empty = "format = 1\n[job]\nname = \"New\"\n";
        assert_eq!(told(empty), ["programmes", "areas", "racks", "loudspeakers"]);
        let drawn = format!("{empty}[racks.R1]\nposition = [0, 0]\n[programmes.music]\n");
        assert_eq!(told(&drawn), ["areas", "loudspeakers"]);
        assert_eq!(told(include_str!("../../../examples/guesthouse-garden/job.toml")), [] as [&str; 0]);
    }
}
