//! Findings (`loamline_terms`), with what mends them in a job.

use loamline_model::Edit;
pub use loamline_terms::{Severity, Subject, worst_first};
use serde::Serialize;

/// Something a person should know about a job.
pub type Finding = loamline_terms::Finding<Remedy>;

/// What carries a mend out in one step, where nobody has to decide anything. The sentence of a mend may change its words;
/// this is what a button goes by.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Remedy {
    /// Take over the processing worked out by `loamline_tune::tune`.
    Processing,
    /// Take over the ways found by [`route`](crate::route).
    Routes,
    /// Make this edit.
    Edit(Edit),
}
