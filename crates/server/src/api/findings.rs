//! Findings as they are sent.

use super::patch::PatchOperation;
use loamline_model::Edit;
use loamline_study::{Finding, Remedy, Severity};
use serde::Serialize;
use utoipa::ToSchema;

/// What a finding is about.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SubjectView {
    /// The map it stands in: `loudspeakers`, `lines`, `areas`, ...
    pub kind: String,
    /// Its id; `LINE/runs/RUN` for a run; empty for the job as a whole.
    pub id: String,
}

/// Something that wants attention.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FindingView {
    /// How much it matters.
    #[schema(schema_with = severity_schema)]
    pub severity: Severity,
    /// What it is about.
    pub subject: SubjectView,
    /// What is the matter, with the numbers.
    pub sentence: String,
    /// What would mend it.
    pub mend: Option<String>,
    /// What works out the edit that does it in one step, when nobody has to decide anything.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    pub mend_by: Option<MendBy>,
    /// The edit that does it in one step, when it is known at once.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<Vec<PatchOperation>>, nullable = false)]
    pub mend_patch: Option<Edit>,
}

/// Where the edit of a mend is had.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MendBy {
    /// `patch` of GET `/api/jobs/{id}/processing`.
    Processing,
    /// `patch` of POST `/api/jobs/{id}/route`.
    Routes,
}

/// The words of a severity.
fn severity_schema() -> utoipa::openapi::Object {
    utoipa::openapi::ObjectBuilder::new()
        .schema_type(utoipa::openapi::schema::Type::String)
        .description(Some("How much it matters: an error must be put right, a note needs nothing done."))
        .enum_values(Some(Severity::ALL.map(Severity::word)))
        .build()
}

impl From<&Finding> for FindingView {
    fn from(f: &Finding) -> Self {
        Self {
            severity: f.severity,
            subject: SubjectView { kind: f.about.table.to_owned(), id: f.about.id.clone() },
            sentence: f.sentence.clone(),
            mend: f.mend.clone(),
            mend_by: match f.remedy {
                Some(Remedy::Processing) => Some(MendBy::Processing),
                Some(Remedy::Routes) => Some(MendBy::Routes),
                Some(Remedy::Edit(_)) | None => None,
            },
            mend_patch: match &f.remedy {
                Some(Remedy::Edit(edit)) => Some(edit.clone()),
                _ => None,
            },
        }
    }
}

/// Findings as they are sent.
pub fn finding_views<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Vec<FindingView> {
    findings.into_iter().map(FindingView::from).collect()
}
