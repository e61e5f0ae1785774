//! Findings about money: prices of another currency than the job's.

use crate::finding::{Finding, Severity, Subject};
use loamline_model::Job;
use loamline_terms::say;

/// That the catalogue's prices are in another currency than the job counts in.
pub(crate) fn price_findings(job: &Job) -> Option<Finding> {
    let wanted = &job.document().about.currency;
    let found = job.catalogue().prices.as_ref()?.currency.as_ref()?;
    (!found.eq_ignore_ascii_case(wanted)).then(|| {
        let sentence = say!(
            "The catalogue's prices are in {found} and this job counts in {wanted}: what they add up to is no amount of {wanted}.",
            found = found,
            wanted = wanted
        );
        let mend =
            say!("Have the job count in {found}, or bring prices in {wanted}.", found = found, wanted = wanted);
        Finding::new(Severity::Warning, Subject::new("job", ""), sentence).mend(mend)
    })
}
