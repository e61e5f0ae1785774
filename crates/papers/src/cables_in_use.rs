//! The cables of a line: its own, and those of runs that are of another.

use loamline_model::{Job, LineView};

/// Descriptions of the cables with these ids, each once, in their order; the line's own where there are none yet.
pub fn cables_in_use<'j>(job: &'j Job, line: &LineView<'j>, ids: impl Iterator<Item = &'j str>) -> String {
    let mut names: Vec<&str> = Vec::new();
    for id in ids {
        let name = job.catalogue().cables.get(id).map_or(id, |c| c.description.as_str());
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.is_empty() { line.cable.description.clone() } else { names.join("; ") }
}

/// As [`cables_in_use`], of the runs that a job writes for a line.
pub fn cables_written(job: &Job, line: &LineView<'_>) -> String {
    cables_in_use(job, line, job.runs(line.id).into_iter().map(|run| run.cable_id))
}
