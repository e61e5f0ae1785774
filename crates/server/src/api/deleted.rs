//! Jobs that were deleted, and bringing one back while it is still kept.

use super::extract::{Body, In};
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::person;
use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(deleted)).routes(routes!(restore))
}

/// A job that was deleted and can be brought back.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct DeletedView {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
    /// When it was deleted, RFC 3339; it is kept for thirty days from then.
    at: String,
    /// By whom; empty where nobody said.
    who: String,
}

/// Who brings a job back.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RestoreAsked {
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
}

/// A job that was brought back.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RestoredView {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
}

/// Jobs that were deleted and can be brought back, the one deleted last first.
#[utoipa::path(get, path = "/api/deleted-jobs", tag = "Jobs",
    responses((status = 200, body = [DeletedView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn deleted(State(app): State<App>) -> Result<Json<Vec<DeletedView>>, ApiError> {
    let all = blocking(move || app.jobs.deleted()).await?;
    let view = |d: crate::store::DeletedJob| DeletedView { id: d.id, name: d.name, at: d.at, who: d.who };
    Ok(Json(all.into_iter().map(view).collect()))
}

/// Brings a deleted job back as it was, with its history and its files.
#[utoipa::path(post, path = "/api/jobs/{id}/restore", tag = "Jobs", request_body = RestoreAsked,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = RestoredView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn restore(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<RestoreAsked>,
) -> Result<Json<RestoredView>, ApiError> {
    let who = person("/who", &asked.who)?;
    blocking(move || {
        let name = app.jobs.bring_back(&id, &who)?;
        Ok(Json(RestoredView { id, name }))
    })
    .await
}
