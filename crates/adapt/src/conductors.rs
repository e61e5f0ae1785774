//! Which conductors carry a line in a run: colours from the catalogue, numbers where it gives none.

use crate::run::LaidRun;
use loamline_model::Job;
use serde::Serialize;

/// The conductors of a line in a run; several of each where it takes several pairs in parallel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Conductors {
    /// Positive ones, in the order of the pairs.
    pub positive: Vec<String>,
    /// Negative ones, in the order of the pairs.
    pub negative: Vec<String>,
}

/// Pairs of its cable a run uses, from 1.
pub fn run_pairs(job: &Job, run: &LaidRun) -> Vec<u32> {
    match &run.existing {
        Some(existing) => existing.pairs.clone(),
        None => vec![job.pair_of_run(&run.line, &run.id, &run.cable)],
    }
}

/// The conductors of a run that carry its line.
pub fn run_conductors(job: &Job, run: &LaidRun) -> Conductors {
    pair_conductors(job, &run.cable, &run_pairs(job, run))
}

/// The conductors of some pairs, from 1, of a cable of the catalogue.
pub fn pair_conductors(job: &Job, cable: &str, pairs: &[u32]) -> Conductors {
    let colours = job.catalogue().cables.get(cable).map_or(&[][..], |c| &c.colours);
    let name = |number: u32| {
        let index = number.saturating_sub(1) as usize;
        colours.get(index).cloned().unwrap_or_else(|| number.to_string())
    };
    Conductors {
        positive: pairs.iter().map(|pair| name(2 * pair - 1)).collect(),
        negative: pairs.iter().map(|pair| name(2 * pair)).collect(),
    }
}
