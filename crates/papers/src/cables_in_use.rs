//! The cables of a line: its own, and those of runs that are of another.

use loamline_model::{Job, LineView};

/// What a cable is, by its id in the catalogue.
pub fn described(job: &Job, id: &str) -> String {
    job.catalogue().cables.get(id).map_or_else(|| id.to_owned(), |c| c.description.clone())
}

/// Descriptions of the cables that a job writes for a line, each once, in their order; the line's own where there are none.
pub fn cables_written(job: &Job, line: &LineView<'_>) -> String {
    let mut names: Vec<String> = Vec::new();
    for name in job.runs(line.id).into_iter().map(|run| described(job, run.cable_id)) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.is_empty() { line.cable.description.clone() } else { names.join("; ") }
}
