//! A document that uses every key an adapter reads, and what the adapters make of it.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
#![allow(dead_code, reason = "each test takes what it needs of it")]

use loamline_adapt::{
    Reaching, directivity, filters_of, ground_plan, laid_cables, laid_runs, line_input, neighbour_receivers,
    neighbour_spacing_m, neighbour_surroundings, role, scene_parts,
};
use loamline_model::{Job, JobFile, SourceFile, shipped_catalogue};
use std::sync::Arc;

/// Invented: a garden with one of everything.
pub const TEXT: &str = include_str!("whole.toml");

pub fn file() -> JobFile {
    JobFile::from_text(&SourceFile::new("job.toml", TEXT), shipped_catalogue().unwrap()).unwrap()
}

/// The voltage every loudspeaker is taken to get at its terminals, V RMS: the adapters know no results.
pub const VOLTAGE_V: f64 = 8.0;

/// What runs, lines, the field, the neighbours' method, processing and routes get, each as text.
pub fn adapted(job: &Job) -> [String; 6] {
    let runs = laid_runs(job);
    let lines: Vec<_> = job.lines().map(|view| line_input(job, &view, &runs)).collect();
    let bands = [VOLTAGE_V; 31];
    let reaching = |_: &str| Some(Reaching { terminals_v: &bands, most_gain_db: None });
    let sound = scene_parts(job, &reaching, &|_, model| directivity(model).map(Arc::new));
    let places: Vec<_> =
        job.document().neighbours.values().flat_map(|n| neighbour_receivers(job, n, 2.0)).collect();
    let neighbours = (neighbour_surroundings(job, Vec::new(), &places), neighbour_spacing_m(job, 7));
    let processing: Vec<_> = job.channels().map(|c| (filters_of(c.channel), role(job, &c))).collect();
    [
        format!("{:?}", (&runs, laid_cables(job, &runs))),
        format!("{lines:?}"),
        format!("{sound:?}"),
        format!("{neighbours:?}"),
        format!("{processing:?}"),
        format!("{:?}", ground_plan(job)),
    ]
}
