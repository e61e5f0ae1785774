//! The conductors of a line, in words.

use crate::material::Material;
use loamline_adapt::{Conductors, LaidRun, run_conductors};

/// "white positive, green negative".
pub fn written(m: &Material<'_>, conductors: &Conductors) -> String {
    let words = &m.options.words;
    let joined = |colours: &[String]| {
        let named: Vec<String> = colours.iter().map(|colour| words.colour(colour)).collect();
        named.join(words.get("reading.and"))
    };
    words.fill(
        "reading.conductors",
        &[("positive", &joined(&conductors.positive)), ("negative", &joined(&conductors.negative))],
    )
}

/// The run of a line that arrives at the rack: existing cable, or its first run.
pub fn at_rack<'m>(m: &'m Material<'_>, line: &str) -> Option<&'m LaidRun> {
    m.results.runs.iter().find(|r| r.line == line)
}

/// The conductors on which a line arrives at the rack; empty while it has no runs.
pub fn at_rack_written(m: &Material<'_>, line: &str) -> String {
    at_rack(m, line).map_or_else(String::new, |run| written(m, &run_conductors(m.job, run)))
}
