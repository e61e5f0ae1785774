//! Sources, and the gain structure that follows from them.

use super::extract::In;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::Snapshot;
use crate::told::Told;
use axum::extract::State;
use loamline_study::SourcesReport;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(sources))
}

/// The gain structure from the sources to the loudspeakers.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct SourcesAnswer {
    /// Revision of the job it is for.
    revision: u64,
    /// What is worked out.
    #[serde(flatten)]
    report: SourcesReport,
}

/// Levels at the inputs, the gain each channel needs, headroom, noise.
#[utoipa::path(get, path = "/api/jobs/{id}/sources", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = SourcesAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn sources(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Results, "sources", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        Ok(SourcesAnswer { revision, report: (*study.sources()).clone() })
    })
    .await
}
