//! Conductors in a colour that codes keep for something else.

use crate::finding::{Finding, Severity, Subject};
use indexmap::IndexMap;
use loamline_adapt::{LaidRun, run_conductors};
use loamline_model::Job;
use loamline_terms::{all_of, say};

/// A note for each cable whose green conductor carries a line: IEC 60445 keeps green-and-yellow for protective earth, and
/// codes that follow NEC 250.119 keep plain green for it too (both from memory).
pub(crate) fn colour_findings(job: &Job, runs: &[LaidRun]) -> Vec<Finding> {
    let mut lines: IndexMap<&str, Vec<&str>> = IndexMap::new();
    for run in runs {
        let used = run_conductors(job, run);
        if used.positive.iter().chain(&used.negative).any(|c| c.to_lowercase().contains("green")) {
            let on = lines.entry(&run.cable).or_default();
            if !on.contains(&run.line.as_str()) {
                on.push(&run.line);
            }
        }
    }
    lines
        .into_iter()
        .filter_map(|(cable, on)| {
            let first = *on.first()?;
            let what = if on.len() == 1 {
                say!(
                    "Line {line} is carried by the green conductor of cable \"{cable}\". Where the local code keeps green for \
                     protective earth, that conductor is taken for one.",
                    line = first,
                    cable = cable
                )
            } else {
                say!(
                    "Lines {lines} are carried by the green conductor of cable \"{cable}\". Where the local code keeps green for \
                     protective earth, that conductor is taken for one.",
                    lines = all_of(&on),
                    cable = cable
                )
            };
            let mend = say!(
                "Mark it at both ends and at every joint as the local code asks, or use another pair or cable."
            );
            Some(Finding::new(Severity::Note, Subject::new("lines", first), what).mend(mend))
        })
        .collect()
}
