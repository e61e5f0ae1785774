//! Tags that more than one thing has: a label, a code on it and a crew's call must each be of one thing.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, laid_cables};
use loamline_model::Job;
use loamline_terms::{Sentence, all_of, each_of, say};

/// What a tag hangs on.
struct Hung {
    kind: &'static str,
    /// The line, of a cable.
    line: Option<String>,
    about: Subject,
}

impl Hung {
    fn new(kind: &'static str, table: &'static str, id: &str) -> Self {
        Self { kind, line: None, about: Subject::new(table, id) }
    }

    /// Whether it hangs at an amplifier, where a label says what it is of; everything else is met out of doors by its tag alone.
    fn at_an_amplifier(&self) -> bool {
        matches!(self.kind, "output" | "input")
    }

    fn words(&self) -> Sentence {
        match (&self.line, self.kind) {
            (Some(line), _) => say!("a cable of line {line}", line = line),
            (None, "loudspeaker") => say!("a loudspeaker"),
            (None, "joint") => say!("a joint"),
            (None, "rack") => say!("a rack"),
            (None, "stub-out") => say!("a stub-out"),
            (None, "output") => say!("an output"),
            (None, "input") => say!("an input"),
            (None, "cable") => say!("a cable"),
            (None, kind) => kind.into(),
        }
    }
}

/// An error for each tag that two things out of doors have; a note where one of them is an output or an input, one for all that
/// are alike.
pub(crate) fn tag_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut at_amplifiers: IndexMap<Vec<&'static str>, Vec<(String, Subject)>> = IndexMap::new();
    for (tag, mut things) in hung(job, runs) {
        if things.len() < 2 {
            continue;
        }
        let out_of_doors = things.iter().filter(|t| !t.at_an_amplifier()).count();
        if out_of_doors < 2 {
            let kinds = things.iter().map(|t| t.kind).collect();
            at_amplifiers.entry(kinds).or_default().push((tag, things.swap_remove(0).about));
            continue;
        }
        let what = say!(
            "{tag} is the tag of {things}: labels, telephones and whoever looks for a fault cannot tell them apart.",
            tag = tag,
            things = each_of(things.iter().map(Hung::words))
        );
        let last = things.swap_remove(things.len() - 1);
        found.push(Finding::new(Severity::Error, last.about, what).mend(say!("Give each a tag of its own.")));
    }
    for (kinds, tags) in at_amplifiers {
        let named: Vec<&str> = tags.iter().map(|(tag, _)| tag.as_str()).collect();
        let of = each_of(kinds.iter().map(|kind| Hung::new(*kind, "", "").words()));
        let what = match named.as_slice() {
            [one] => say!("{tag} is the tag of {things}: say which is meant.", tag = *one, things = of),
            _ => say!(
                "{tags} are each the tag of {things}: say which is meant.",
                tags = all_of(&named),
                things = of
            ),
        };
        let Some((_, about)) = tags.first() else { continue };
        found.push(
            Finding::new(Severity::Note, about.clone(), what)
                .mend(say!("Give the outputs and inputs tags of their own.")),
        );
    }
    found
}

/// Everything a label hangs on, by tag.
fn hung(job: &Job, runs: &[LaidRun]) -> IndexMap<String, Vec<Hung>> {
    let d = job.document();
    let mut all: IndexMap<String, Vec<Hung>> = IndexMap::new();
    let mut add = |tag: &str, thing: Hung| all.entry(tag.to_owned()).or_default().push(thing);
    let kept = |kind, table, id: &String| Hung::new(kind, table, id);
    for id in d.loudspeakers.keys() {
        add(id, kept("loudspeaker", "loudspeakers", id));
    }
    for id in d.joints.keys() {
        add(id, kept("joint", "joints", id));
    }
    for id in d.racks.keys() {
        add(id, kept("rack", "racks", id));
    }
    for id in d.stubs.keys() {
        add(id, kept("stub-out", "stubs", id));
    }
    for cable in laid_cables(job, runs) {
        // The cable of a stub has the stub's own tag.
        if runs[cable.lead].existing.as_ref().is_some_and(|e| e.stub.is_some()) {
            continue;
        }
        let mut told: Vec<&str> = Vec::new();
        for carried in &cable.carries {
            // Lines in one cable may call it the same.
            if !told.contains(&carried.run.as_str()) {
                told.push(&carried.run);
                let about = Subject::run(&carried.line, &carried.run);
                add(&carried.run, Hung { kind: "cable", line: Some(carried.line.clone()), about });
            }
        }
    }
    for id in d.channels.keys() {
        add(id, kept("output", "channels", id));
    }
    for id in d.leads.keys() {
        add(id, kept("input", "leads", id));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use loamline_adapt::laid_runs;
    use loamline_model::{SourceFile, read_job};

    /// Lines A1 and A11 from one rack to a loudspeaker each, their runs tagged as given.
    fn told(first: &str, second: &str) -> Vec<(Severity, String)> {
        let text = format!(
            r#"
format = 1
[job]
name = "Tags"
[racks.R1]
position = [0, 0]
[amplifiers.P1]
model = "line-4x280"
rack = "R1"
[channels.C1]
amplifier = "P1"
output = 1
[channels.C2]
amplifier = "P1"
output = 2
[loudspeakers.L1]
model = "stake-110-wide"
position = [12, 3]
tap = "10 W"
line = "A1"
[loudspeakers.L2]
model = "stake-110-wide"
position = [12, -3]
tap = "10 W"
line = "A11"
[lines.A1]
channel = "C1"
cable = "burial-2x2.5mm2"
runs = {{ {first} = {{ from = "R1", to = "L1" }} }}
[lines.A11]
channel = "C2"
cable = "burial-2x2.5mm2"
runs = {{ {second} = {{ from = "R1", to = "L2" }} }}
"#
        );
        let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
        let found = tag_findings(&job, &laid_runs(&job));
        found.into_iter().map(|f| (f.severity, f.sentence.to_string())).collect()
    }

    #[test]
    fn one_tag_on_two_cables_is_an_error() {
        let all = told("A111", "A111");
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].0, Severity::Error);
        assert!(
            all[0].1.starts_with("A111 is the tag of a cable of line A1 and a cable of line A11: "),
            "{}",
            all[0].1
        );
    }

    #[test]
    fn one_tag_on_a_cable_and_a_loudspeaker_is_an_error() {
        let all = told("A1-1", "L1");
        assert_eq!(all.len(), 1);
        assert!(
            all[0].0 == Severity::Error && all[0].1.contains("a loudspeaker and a cable of line A11"),
            "{}",
            all[0].1
        );
    }

    #[test]
    fn an_output_may_be_called_as_a_cable_with_a_note() {
        let all = told("C1", "C2");
        assert_eq!(
            all,
            [(
                Severity::Note,
                "C1 and C2 are each the tag of a cable and an output: say which is meant.".to_owned()
            )]
        );
    }

    /// What people learn from says nothing twice.
    #[test]
    fn no_example_has_a_tag_on_two_things() {
        let examples = [
            include_str!("../../../examples/guesthouse-garden/job.toml"),
            include_str!("../../../examples/quayside-hotel/job.toml"),
            include_str!("../../../examples/walled-courtyard/job.toml"),
        ];
        for text in examples {
            let job = read_job(&SourceFile::new("job.toml", text), &[]).unwrap();
            let found = tag_findings(&job, &laid_runs(&job));
            assert!(found.is_empty(), "{found:?}");
        }
    }

    #[test]
    fn tags_of_their_own_are_nothing_to_tell() {
        assert!(told("A1-11", "A11-1").is_empty());
    }
}
