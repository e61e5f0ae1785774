//! Findings about existing cable: pairs that are missing, lengths nobody knows.

use crate::finding::{Finding, Severity, Subject};
use crate::names::stub_words;
use loamline_model::{ExistingCable, Job};
use loamline_terms::{Sentence, all_of, one_after_another, say};

/// What wants attention at stubs whose lines cannot all be worked out.
pub(crate) fn existing_findings(job: &Job) -> Vec<Finding> {
    let document = job.document();
    let mut found = Vec::new();
    for (id, stub) in &document.stubs {
        if stub.length_m.is_none() && document.lines_at_stub(id).next().is_none() {
            let what = say!(
                "The length of the existing cable at {stub} is not known, so no line can be led from there.",
                stub = stub_words(id, stub)
            );
            found.push(length_unknown(Severity::Note, id, what, say!("the rack")));
        }
        let lines: Vec<&str> = document.lines_at_stub(id).map(|(line, _)| line).collect();
        let cables: Vec<ExistingCable<'_>> =
            lines.iter().filter_map(|line| job.existing_cable(line)).collect();
        let Some(first) = cables.first() else { continue };
        let named = match lines.as_slice() {
            [] => continue,
            [one] => say!("line {line}", line = *one),
            _ => say!("lines {lines}", lines = all_of(&lines)),
        };
        if stub.length_m.is_none() {
            let what = say!(
                "The length of the existing cable \"{cable}\" at {stub} is not known, so nothing can be worked out for {lines}.",
                cable = first.cable_id,
                stub = stub_words(id, stub),
                lines = named.clone()
            );
            let rack = say!("rack {id}", id = first.rack_id);
            found.push(length_unknown(Severity::Warning, id, what, rack));
        }
        let most = document.most_pairs_of_stub(stub, job.catalogue());
        let wanted: usize = cables.iter().map(|c| c.pairs.len().max(1)).sum();
        if wanted > most {
            let uses = cables.iter().zip(&lines).map(|(cable, line)| uses(line, &cable.pairs));
            let pairs = if most == 1 {
                say!("1 free pair")
            } else {
                say!("{count} free pairs", count = most.to_string())
            };
            let what = say!(
                "{stub} has {pairs}, and {lines} need {wanted}: {uses}.",
                stub = stub_words(id, stub).capitalised(),
                pairs = pairs,
                lines = named,
                wanted = wanted.to_string(),
                uses = one_after_another(uses)
            );
            found.push(Finding::new(Severity::Error, Subject::new("stubs", id), what).mend(say!(
                "Start a line at another stub-out or at the rack, or feed its loudspeakers from another line."
            )));
        }
    }
    found
}

/// Which pairs of an existing cable a line takes.
fn uses(line: &str, pairs: &[u32]) -> Sentence {
    match pairs {
        [] => say!("line {line} has none", line = line),
        [pair] => say!("line {line} takes pair {pair}", line = line, pair = pair.to_string()),
        pairs => {
            let pairs: Vec<String> = pairs.iter().map(u32::to_string).collect();
            say!("line {line} takes pairs {pairs}", line = line, pairs = all_of(&pairs))
        }
    }
}

/// That the length of a stub's cable is not known; it is read at `rack`.
fn length_unknown(severity: Severity, stub: &str, what: Sentence, rack: Sentence) -> Finding {
    Finding::new(severity, Subject::new("stubs", stub), what)
        .mend(say!(
            "Join the two conductors of a pair at the stub-out and read the loop at {rack}: the reading gives the length. Or state \
             the length.",
            rack = rack
        ))
        .command(format!("loamline locate JOB --stub {stub} --reading dc=OHM --write"))
}
