//! Findings about existing cable: pairs that are missing, lengths nobody knows.

use crate::finding::{Finding, Severity, Subject};
use crate::names::stub_words;
use loamline_model::{ExistingCable, Job};
use loamline_terms::{capitalised, listed};

/// What wants attention at stubs whose lines cannot all be worked out.
pub(crate) fn existing_findings(job: &Job) -> Vec<Finding> {
    let document = job.document();
    let mut found = Vec::new();
    for (id, stub) in &document.stubs {
        if stub.length_m.is_none() && document.lines_at_stub(id).next().is_none() {
            let what = format!(
                "The length of the existing cable at {} is not known, so no line can be led from there.",
                stub_words(id, stub)
            );
            found.push(length_unknown(Severity::Note, id, what, "the rack"));
        }
        let lines: Vec<&str> = document.lines_at_stub(id).map(|(line, _)| line).collect();
        let cables: Vec<ExistingCable<'_>> =
            lines.iter().filter_map(|line| job.existing_cable(line)).collect();
        let (Some(first), [one, rest @ ..]) = (cables.first(), lines.as_slice()) else { continue };
        let (verb, named) = match rest {
            [] => ("line", (*one).to_owned()),
            _ => ("lines", listed(&lines)),
        };
        if stub.length_m.is_none() {
            let what = format!(
                "The length of the existing cable \"{}\" at {} is not known, so nothing can be worked out for {verb} {named}.",
                first.cable_id,
                stub_words(id, stub)
            );
            let rack = format!("rack {}", first.rack_id);
            found.push(length_unknown(Severity::Warning, id, what, &rack));
        }
        let most = document.most_pairs_of_stub(stub, job.catalogue());
        let wanted: usize = cables.iter().map(|c| c.pairs.len().max(1)).sum();
        if wanted > most {
            let uses: Vec<String> = cables
                .iter()
                .zip(&lines)
                .map(|(cable, line)| match cable.pairs.as_slice() {
                    [] => format!("line {line} has none"),
                    [pair] => format!("line {line} takes pair {pair}"),
                    pairs => {
                        let pairs: Vec<String> = pairs.iter().map(u32::to_string).collect();
                        format!("line {line} takes pairs {}", listed(&pairs))
                    }
                })
                .collect();
            let pairs = if most == 1 { "pair" } else { "pairs" };
            let what = format!(
                "{} has {most} free {pairs}, and {verb} {named} need {wanted}: {}.",
                capitalised(&stub_words(id, stub)),
                uses.join(", ")
            );
            found.push(Finding::new(Severity::Error, Subject::new("stubs", id), what).mend(
                "Start a line at another stub-out or at the rack, or feed its loudspeakers from another line.",
            ));
        }
    }
    found
}

/// That the length of a stub's cable is not known; it is read at `rack`.
fn length_unknown(severity: Severity, stub: &str, what: String, rack: &str) -> Finding {
    Finding::new(severity, Subject::new("stubs", stub), what)
        .mend(format!(
            "Join the two conductors of a pair at the stub-out and read the loop at {rack}: the reading gives the length. Or state the length."
        ))
        .command(format!("loamline locate JOB --stub {stub} --reading dc=OHM --write"))
}
