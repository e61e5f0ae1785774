//! All jobs looked over again: asked for, and what was found.

use crate::app::App;
use crate::background::blocking;
use crate::checked::Found;
use crate::error::{ApiError, ErrorBody};
use crate::rechecking::{look_over_all, overall};
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(checks, look_over))
}

/// What was found when jobs were looked over.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ChecksView {
    /// Jobs still to be looked over.
    waiting: u32,
    /// Those that were, in the order of the list of jobs.
    jobs: Vec<CheckView>,
}

/// What was found in a job.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct CheckView {
    /// Its id.
    job: String,
    /// Its name.
    name: String,
    /// Revision that was looked over.
    revision: u64,
    /// Whether the job has changed since.
    changed_since: bool,
    /// What was found.
    #[serde(flatten)]
    found: Found,
}

/// How much is to be done.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ToLookOver {
    /// Jobs to be looked over.
    waiting: u32,
}

fn count(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

/// What was found when jobs were last looked over: after the firm's prices changed, or when somebody asked. Kept for a day, or on a
/// store in a file until the server is stopped.
#[utoipa::path(get, path = "/api/checks", tag = "Queues",
    responses((status = 200, body = ChecksView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn checks(State(app): State<App>) -> Result<Json<ChecksView>, ApiError> {
    blocking(move || {
        let mut all = overall(&app.jobs, &app.checked)?;
        let mut jobs = Vec::new();
        for row in app.jobs.list()? {
            if let Some((revision, found)) = all.found.remove(&row.id) {
                let changed_since = row.revision != revision;
                jobs.push(CheckView { job: row.id, name: row.name, revision, changed_since, found });
            }
        }
        Ok(Json(ChecksView { waiting: count(all.waiting), jobs }))
    })
    .await
}

/// Has all jobs looked over, one after the other and behind whatever somebody waits for.
#[utoipa::path(post, path = "/api/checks", tag = "Queues",
    responses((status = 202, body = ToLookOver), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn look_over(State(app): State<App>) -> Result<(StatusCode, Json<ToLookOver>), ApiError> {
    let waiting = count(look_over_all(&app).await?);
    Ok((StatusCode::ACCEPTED, Json(ToLookOver { waiting })))
}
