//! Existing cable: laid years ago, neither bought nor laid again. It is the run between a rack and a stub, and any run of
//! a line that says so.
//!
//! A line that starts at a stub comes through one pair of the stub's cable, or through several pairs joined in parallel:
//! of n pairs the resistance and the inductance are 1/n of a pair's and the capacitance n times (the pairs taken as not
//! coupled to each other; the inductance is a small share of a line's impedance at audio frequencies).

use crate::finding::{Finding, Severity, Subject};
use crate::laid::LaidRun;
use loamline_electrics::PairConstants;
use loamline_model::{ExistingCable, Job};
use loamline_routing::RunLength;
use serde::Serialize;

/// What is particular to a run of existing cable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExistingRun {
    /// The stub it ends at; absent where it is a run of the line's own.
    pub stub: Option<String>,
    /// Pairs of it the line takes, from 1, in parallel where there are several.
    pub pairs: Vec<u32>,
    /// Whether its length is known.
    pub length_known: bool,
}

/// The run of existing cable a line comes through; `None` where it starts at a rack.
pub(crate) fn existing_run(job: &Job, line: &str) -> Option<LaidRun> {
    let cable = job.existing_cable(line)?;
    let length_m = cable.stub.length_m.unwrap_or(0.0);
    Some(LaidRun {
        line: line.to_owned(),
        id: cable.run_id.clone(),
        from: cable.rack_id.to_owned(),
        to: cable.stub_id.to_owned(),
        cable: cable.cable_id.to_owned(),
        way: vec![cable.rack.position, cable.stub.position],
        length: RunLength {
            path_m: length_m,
            vertical_m: 0.0,
            loops_m: 0.0,
            waste_m: 0.0,
            order_m: length_m,
        },
        length_stated: cable.stub.length_m.is_some(),
        pieces: Vec::new(),
        sleeves: Vec::new(),
        crosses: Vec::new(),
        crossed_at: Vec::new(),
        existing: Some(ExistingRun {
            stub: Some(cable.stub_id.to_owned()),
            pairs: cable.pairs,
            length_known: cable.stub.length_m.is_some(),
        }),
    })
}

/// Constants of several pairs of one cable in parallel.
pub(crate) fn in_parallel(pair: PairConstants, count: usize) -> PairConstants {
    let n = count.max(1) as f64;
    PairConstants {
        loop_resistance_ohm_per_m: pair.loop_resistance_ohm_per_m / n,
        loop_inductance_h_per_m: pair.loop_inductance_h_per_m / n,
        capacitance_f_per_m: pair.capacitance_f_per_m * n,
    }
}

/// Whether a line cannot be worked out because of the existing cable it comes through: no pair is left for it, or its
/// length is not known.
pub(crate) fn not_known(job: &Job, line: &str) -> bool {
    job.existing_cable(line).is_some_and(|c| c.pairs.is_empty() || c.stub.length_m.is_none())
}

/// What wants attention at stubs whose lines cannot all be worked out.
pub(crate) fn existing_findings(job: &Job) -> Vec<Finding> {
    let document = job.document();
    let mut found = Vec::new();
    for (id, stub) in &document.stubs {
        let lines: Vec<&str> = document.lines_at_stub(id).map(|(line, _)| line).collect();
        let cables: Vec<ExistingCable<'_>> =
            lines.iter().filter_map(|line| job.existing_cable(line)).collect();
        let (Some(first), [one, rest @ ..]) = (cables.first(), lines.as_slice()) else { continue };
        let (verb, named) = match rest {
            [] => ("line", (*one).to_owned()),
            _ => ("lines", and(&lines)),
        };
        if stub.length_m.is_none() {
            let what = format!(
                "The length of the existing cable \"{}\" at stub {id} is not known, so nothing can be worked out for {verb} {named}.",
                first.cable_id
            );
            found.push(Finding::new(Severity::Warning, Subject::new("stubs", id), what).mend(format!(
                "Join the two conductors of a pair at the stub, read the loop at rack {} and store it: loamline locate JOB --stub {id} --reading dc=OHM --write. Or state its length.",
                first.rack_id
            )));
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
                        format!("line {line} takes pairs {}", and(&pairs))
                    }
                })
                .collect();
            let pairs = if most == 1 { "pair" } else { "pairs" };
            let what = format!(
                "Stub {id} has {most} free {pairs}, and {verb} {named} need {wanted}: {}.",
                uses.join(", ")
            );
            found.push(Finding::new(Severity::Error, Subject::new("stubs", id), what).mend(
                "Start a line at another stub or at the rack, or feed its loudspeakers from another line.",
            ));
        }
    }
    found
}

/// `A`, `A and B`, `A, B and C`.
fn and<S: AsRef<str>>(names: &[S]) -> String {
    let names: Vec<&str> = names.iter().map(AsRef::as_ref).collect();
    match names.as_slice() {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
