//! Jobs kept as templates.

use super::extract::{Body, In};
use super::jobs::Made;
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::line_of_text;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use loamline_limits::JOB_NAME_CHARACTERS;
use loamline_terms::say;
use serde::Deserialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(template))
}

/// A new template.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTemplate {
    /// Its name.
    name: String,
}

/// Keeps a copy of a job as a template: its drawing, its equipment and the plan underneath, without its client, its status and
/// what was measured. The job stays as it is.
#[utoipa::path(post, path = "/api/jobs/{id}/template", tag = "Jobs", request_body = NewTemplate,
    params(("id" = String, Path, description = "The job")),
    responses((status = 201, body = Made), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn template(
    State(app): State<App>,
    In(id): In<String>,
    Body(new): Body<NewTemplate>,
) -> Result<impl IntoResponse, ApiError> {
    let made = blocking(move || {
        let name = line_of_text("/name", &new.name, &JOB_NAME_CHARACTERS)?;
        if name.is_empty() {
            return Err(ApiError::field("/name", say!("A template needs a name.")));
        }
        app.jobs.made_from(&id, &name, true)
    });
    Ok((StatusCode::CREATED, Json(Made { id: made.await?, left_out: Vec::new() })))
}
