//! The papers: a list, each file to look at, all in one file.

use super::extract::{Asked, In};
use super::folders::file_name;
use super::queues::ticket_of;
use crate::access::Asker;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::firm::Firm;
use crate::made_papers::{Paper, PapersQuery};
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_terms::say;
use serde::Serialize;
use std::sync::Arc;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(list)).routes(routes!(file)).routes(routes!(all))
}

/// The papers of a job.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PapersView {
    /// Revision of the job they are of.
    revision: u64,
    /// Each file, in reading order.
    documents: Vec<PaperView>,
}

/// A file of the papers.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PaperView {
    /// Its name, for its address.
    file: String,
    /// What it is.
    title: String,
    /// The part of the pack it belongs to, whatever the language of its name: `crew`, `as-built`, `tables`, ...
    part: &'static str,
    /// Media type.
    media_type: &'static str,
    /// Size, bytes.
    size: u64,
}

/// The name a request waits under.
fn ticket(query: &PapersQuery) -> Option<String> {
    query.ticket.as_deref().and_then(ticket_of)
}

/// Where telephones find the app, while it is shared.
fn shared_at(app: &App) -> Option<String> {
    app.sharing.as_ref()?.addresses.first().cloned()
}

fn media_type(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "pdf" => "application/pdf",
        "svg" => "image/svg+xml",
        "csv" => "text/csv; charset=utf-8",
        "json" => "application/json",
        _ => "application/octet-stream",
    }
}

/// The papers of a job as it now is. The first look makes them, which takes some seconds.
#[utoipa::path(get, path = "/api/jobs/{id}/papers", operation_id = "papers", tag = "Papers",
    params(("id" = String, Path, description = "The job"), PapersQuery),
    responses((status = 200, body = PapersView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn list(
    State(app): State<App>,
    In(id): In<String>,
    Extension(asker): Extension<Asker>,
    Asked(query): Asked<PapersQuery>,
) -> Result<Json<PapersView>, ApiError> {
    let (made, at, jobs) = (app.papers.clone(), shared_at(&app), Arc::clone(&app.jobs));
    let sees_prices = asker.sees_prices();
    app.results_named(Work::Papers, ticket(&query), id, move |job| {
        let (revision, papers) = made.of(job, &query, at.as_deref(), &Firm::of(jobs.store())?)?;
        let view = |p: &Paper| PaperView {
            file: p.name.clone(),
            title: p.title.clone(),
            part: p.part,
            media_type: media_type(&p.name),
            size: u64::try_from(p.bytes.len()).unwrap_or(u64::MAX),
        };
        let shown = papers.iter().filter(|p| sees_prices || !p.for_office);
        Ok(Json(PapersView { revision, documents: shown.map(view).collect() }))
    })
    .await
}

/// A file of the papers: PDF, SVG, CSV or JSON.
#[utoipa::path(get, path = "/api/jobs/{id}/papers/{file}", tag = "Papers",
    params(("id" = String, Path, description = "The job"),
        ("file" = String, Path, description = "The file's name as listed, with its slashes written as %2F or as they are"),
        PapersQuery),
    responses((status = 200, description = "The file",
            content((String = "application/pdf"), (String = "image/svg+xml"), (String = "text/csv"), (String = "application/json"))),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn file(
    State(app): State<App>,
    In((id, name)): In<(String, String)>,
    Extension(asker): Extension<Asker>,
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    paper(app, asker.sees_prices(), id, name, query).await
}

/// The same for names with a slash in them, which `{file}` does not match.
pub async fn file_in_folder(
    State(app): State<App>,
    In((id, folder, name)): In<(String, String, String)>,
    Extension(asker): Extension<Asker>,
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    paper(app, asker.sees_prices(), id, format!("{folder}/{name}"), query).await
}

async fn paper(
    app: App,
    sees_prices: bool,
    id: String,
    name: String,
    query: PapersQuery,
) -> Result<impl IntoResponse, ApiError> {
    let (made, at, jobs) = (app.papers.clone(), shared_at(&app), Arc::clone(&app.jobs));
    app.results_named(Work::Papers, ticket(&query), id, move |job| {
        let (_, papers) = made.of(job, &query, at.as_deref(), &Firm::of(jobs.store())?)?;
        let paper = papers.iter().find(|p| p.name == name);
        let paper = paper.ok_or_else(|| ApiError::not_found(say!("paper \"{name}\"", name = &name)))?;
        if paper.for_office && !sees_prices {
            let why = say!("This paper has prices, and this device is let in without them.");
            return Err(ApiError::new(StatusCode::FORBIDDEN, ErrorCode::NotAllowed, why));
        }
        Ok(([(CONTENT_TYPE, media_type(&paper.name))], paper.bytes.clone()))
    })
    .await
}

/// All papers as one zip file; for whoever sees no prices, those without.
#[utoipa::path(get, path = "/api/jobs/{id}/papers.zip", tag = "Papers",
    params(("id" = String, Path, description = "The job"), PapersQuery),
    responses((status = 200, description = "A zip file", content_type = "application/zip", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn all(
    State(app): State<App>,
    In(id): In<String>,
    Extension(asker): Extension<Asker>,
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    let (made, at, jobs) = (app.papers.clone(), shared_at(&app), Arc::clone(&app.jobs));
    let sees_prices = asker.sees_prices();
    let zipped = app.results_named(Work::Papers, ticket(&query), id, move |job| {
        let (_, papers) = made.of(job, &query, at.as_deref(), &Firm::of(jobs.store())?)?;
        let had = papers.iter().filter(|p| sees_prices || !p.for_office);
        let files = had.map(|p| (p.name.as_str(), p.bytes.as_slice()));
        Ok((file_name(&job.now().file.job().document().about.name), crate::jobs::zipped(files)?))
    });
    let (name, bytes) = zipped.await?;
    let disposition = format!("attachment; filename=\"{name}-papers.zip\"");
    Ok(([(CONTENT_TYPE, "application/zip".to_owned()), (CONTENT_DISPOSITION, disposition)], bytes))
}
