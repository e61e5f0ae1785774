//! A job looked over again after something changed that all jobs lean on: what there is to put right in it now.

use crate::error::ApiError;
use crate::jobs::Jobs;
use crate::told::Told;
use loamline_terms::Severity;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What was found in a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Found {
    /// What must be put right.
    pub errors: u32,
    /// What should be put right, or accepted on purpose.
    pub warnings: u32,
}

/// Looks a job over as it now is; the revision that is, and what was found.
///
/// # Errors
/// When there is no such job, or it cannot be read.
pub fn checked(jobs: &Jobs, id: &str) -> Result<(u64, Told), ApiError> {
    let now = jobs.open(id)?.now();
    let findings = now.study.findings();
    let of = |severity: Severity| {
        u32::try_from(findings.iter().filter(|f| f.severity == severity).count()).unwrap_or(u32::MAX)
    };
    let found = Found { errors: of(Severity::Error), warnings: of(Severity::Warning) };
    Ok((now.revision, Told::of(&found)?))
}
