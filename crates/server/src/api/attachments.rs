//! Plans and photos kept with a job.

use super::extract::{In, Raw, of_type};
use crate::access::Asker;
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::{attachment_name, media_type};
use crate::random::sha256;
use crate::store::AttachmentRow;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::header::{CONTENT_TYPE, ETAG};
use axum::http::{HeaderMap, StatusCode};
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_limits::ATTACHMENT_BYTES;
use loamline_terms::say;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// What may be kept.
const OFFERED: [&str; 3] = ["image/png", "image/jpeg", "application/pdf"];

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(list))
        .routes(routes!(put, get, remove))
        .layer(DefaultBodyLimit::max(ATTACHMENT_BYTES.most()))
}

/// A file kept with a job.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AttachmentView {
    /// Its name.
    name: String,
    /// SHA-256 of its content, hexadecimal.
    sha256: String,
    /// Media type.
    media_type: String,
    /// Size, bytes.
    size: u64,
}

impl From<AttachmentRow> for AttachmentView {
    fn from(r: AttachmentRow) -> Self {
        Self { name: r.name, sha256: r.sha256, media_type: r.media_type, size: r.size }
    }
}

fn name_of(name: &str) -> Result<String, ApiError> {
    attachment_name("name", name).map_err(ApiError::from)
}

/// The files kept with a job.
#[utoipa::path(get, path = "/api/jobs/{id}/attachments", tag = "Attachments", operation_id = "list_attachments",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = [AttachmentView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn list(State(app): State<App>, In(id): In<String>) -> Result<Json<Vec<AttachmentView>>, ApiError> {
    blocking(move || {
        app.jobs.open(&id)?;
        let rows = app.jobs.store().attachments(&id)?;
        Ok(Json(rows.into_iter().map(AttachmentView::from).collect()))
    })
    .await
}

/// Keeps a file with a job, in place of one of the same name.
#[utoipa::path(put, path = "/api/jobs/{id}/attachments/{name}", tag = "Attachments",
    params(("id" = String, Path, description = "The job"), ("name" = String, Path, description = "The file's name")),
    request_body(description = "PNG, JPEG or PDF, at most 32 MB",
        content((String = "image/png"), (String = "image/jpeg"), (String = "application/pdf"))),
    responses((status = 200, body = AttachmentView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
    Extension(asker): Extension<Asker>,
    headers: HeaderMap,
    Raw(bytes): Raw,
) -> Result<Json<AttachmentView>, ApiError> {
    let said = of_type(&headers, &OFFERED)?;
    let name = name_of(&name)?;
    blocking(move || {
        // What it is counts, not what it is called: a page of script sent as a picture must not come back as one.
        if media_type(&bytes) != Some(said) {
            return Err(ApiError::new(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                ErrorCode::WrongType,
                say!("What was sent is no {kind}: its first bytes are not those of one.", kind = said),
            ));
        }
        app.jobs.open(&id)?;
        let row = AttachmentRow {
            name,
            sha256: sha256(&bytes),
            media_type: said.to_owned(),
            size: u64::try_from(bytes.len()).unwrap_or(u64::MAX),
        };
        let there = app.jobs.store().attachments(&id)?.into_iter().find(|kept| kept.name == row.name);
        // Sent twice it is kept once; another picture in its place is for the office to put there.
        if !asker.may_design() && there.is_some_and(|kept| kept.sha256 != row.sha256) {
            let why = say!(
                "There is another file of this name already, and the office alone puts one in place of another. Send the photo under a name of its own."
            );
            return Err(ApiError::new(StatusCode::FORBIDDEN, ErrorCode::NotAllowed, why));
        }
        app.jobs.store().attach(&id, &row, &bytes)?;
        Ok(Json(row.into()))
    })
    .await
}

/// A file kept with a job.
#[utoipa::path(get, path = "/api/jobs/{id}/attachments/{name}", tag = "Attachments",
    params(("id" = String, Path, description = "The job"), ("name" = String, Path, description = "The file's name")),
    responses((status = 200, description = "The file",
            content((String = "image/png"), (String = "image/jpeg"), (String = "application/pdf"))),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn get(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
) -> Result<impl IntoResponse, ApiError> {
    let name = name_of(&name)?;
    let (row, bytes) = blocking(move || {
        app.jobs.must_be_there(&id)?;
        let found = app.jobs.store().attachment(&id, &name)?;
        found.ok_or_else(|| {
            ApiError::not_found(say!("attachment \"{name}\" of job \"{id}\"", name = &name, id = &id))
        })
    })
    .await?;
    Ok(([(CONTENT_TYPE, row.media_type), (ETAG, format!("\"{}\"", row.sha256))], bytes))
}

/// Takes a file away.
#[utoipa::path(delete, path = "/api/jobs/{id}/attachments/{name}", tag = "Attachments",
    params(("id" = String, Path, description = "The job"), ("name" = String, Path, description = "The file's name")),
    responses((status = 204, description = "Gone"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn remove(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
) -> Result<StatusCode, ApiError> {
    let name = name_of(&name)?;
    blocking(move || {
        app.jobs.must_be_there(&id)?;
        if app.jobs.store().detach(&id, &name)? {
            Ok(StatusCode::NO_CONTENT)
        } else {
            Err(ApiError::not_found(say!("attachment \"{name}\" of job \"{id}\"", name = &name, id = &id)))
        }
    })
    .await
}
