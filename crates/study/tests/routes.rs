//! Routing the example jobs: the edit leads to a job that loads, holds its limits and keeps clear of what is buried.

use loamline_model::JobFile;
use loamline_study::{Severity, Study, route};
use std::path::Path;

fn example(name: &str) -> JobFile {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    match JobFile::open(&folder) {
        Ok(job) => job,
        Err(e) => unreachable!("{name} ships with the program and must load: {e}"),
    }
}

#[test]
fn routed_examples_load_again_and_have_no_errors() {
    for name in ["juniper-court", "tram-yard-cafe", "harbour-steps"] {
        let mut file = example(name);
        let started = std::time::Instant::now();
        let routed = match route(file.job()) {
            Ok(r) => r,
            Err(e) => panic!("{name}: {e}"),
        };
        let before: f64 = Study::new(file.job().clone()).runs().iter().map(|r| r.length.order_m).sum();
        println!("{name}: {:.0} ms", 1000.0 * started.elapsed().as_secs_f64());
        file.apply(&routed.edit).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut study = Study::new(file.job().clone());
        let after: f64 = study.runs().iter().map(|r| r.length.order_m).sum();
        println!("{name}: {before:.0} m before, {after:.0} m after");
        let everyone = study.job().document().loudspeakers.len();
        assert_eq!(study.lines().loudspeakers.len(), everyone, "{name}: every loudspeaker is reached");
        for f in routed.findings.iter().chain(&study.findings()) {
            println!("{name} {}: {}", f.severity.word(), f.sentence);
            assert!(f.severity < Severity::Error, "{name}: {}", f.sentence);
        }
    }
}
