//! Loudspeakers in series that are not alike.

use crate::finding::{Finding, Severity, Subject};
use loamline_model::Job;
use loamline_terms::say;

/// A warning for each loudspeaker in series with another model, or with coils wired otherwise: at every frequency each gets
/// the share of the voltage that its impedance is of the sum (voltage divider), so that neither sounds as it should.
pub(crate) fn series_findings(job: &Job) -> Vec<Finding> {
    let mut found = Vec::new();
    for view in job.lines() {
        for (index, run) in view.tree.runs.iter().enumerate() {
            if !view.line.runs.get(&run.id).is_some_and(|r| r.in_series) {
                continue;
            }
            let placed = |id: &str| job.loudspeaker(id).map(|l| (l.placed.model.clone(), l.placed.coils));
            let Some(first) = placed(&run.from) else { continue };
            let other = view.tree.behind(index).find(|id| placed(id).is_some_and(|other| other != first));
            if let Some(other) = other {
                let what = say!(
                    "{one} and {other} stand in series and are not alike: at every frequency each gets the share of the voltage that \
                     its own impedance is of the sum.",
                    one = &run.from,
                    other = other
                );
                found.push(
                    Finding::new(Severity::Warning, Subject::new("loudspeakers", &run.from), what)
                        .mend(say!("Put loudspeakers of one model in series, their coils wired alike.")),
                );
            }
        }
    }
    found
}
