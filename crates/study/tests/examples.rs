//! The example jobs under study.

use loamline_model::{Job, load_job};
use loamline_study::{Severity, Study};
use std::path::Path;

fn example(name: &str) -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
    load_job(&folder).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn juniper_court_lines_hold_their_limits() {
    let mut study = Study::new(example("juniper-court"));
    let report = study.lines();
    for f in &report.findings {
        println!(
            "{:?} {}: {} {}",
            f.severity,
            f.about.pointer(),
            f.sentence,
            f.mend.as_deref().unwrap_or("")
        );
    }
    assert_eq!(report.lines.len(), 4);
    assert_eq!(report.loudspeakers.len(), 22);
    for (id, at) in &report.loudspeakers {
        println!("{id} {:.2} V {:.2} W {:.3} dB", at.voltage_v, at.power_w, at.loss_db);
        assert!(at.loss_db > 0.0 && at.loss_db < 0.5, "{id}: {} dB", at.loss_db);
    }
    assert!(report.findings.iter().all(|f| f.severity < Severity::Error), "{:?}", report.findings);
}
