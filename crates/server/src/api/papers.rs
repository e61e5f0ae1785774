//! The papers: a list, each file to look at, all in one file.

use super::extract::{Asked, In};
use super::{App, blocking};
use crate::api::jobs::file_name;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::OpenJob;
use axum::Json;
use axum::extract::State;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::IntoResponse;
use loamline_model::Units;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(list)).routes(routes!(file)).routes(routes!(all))
}

/// Papers of this many jobs are kept made; a set is some megabytes and takes seconds to make.
const KEPT: usize = 8;

/// How papers are wanted.
#[derive(Debug, Clone, PartialEq, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PapersQuery {
    /// Sheet of paper: A4, A3, Letter or Tabloid; A4 when absent.
    #[serde(default = "usual_paper")]
    paper: String,
    /// Units people read.
    #[serde(default)]
    #[param(inline)]
    units: UnitsWord,
}

fn usual_paper() -> String {
    "A4".into()
}

/// Units people read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum UnitsWord {
    /// Metres, degrees Celsius, kilograms.
    #[default]
    Metric,
    /// Feet and inches, degrees Fahrenheit, pounds.
    Us,
}

impl From<UnitsWord> for Units {
    fn from(u: UnitsWord) -> Self {
        match u {
            UnitsWord::Metric => Self::Metric,
            UnitsWord::Us => Self::Us,
        }
    }
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
    /// Media type.
    media_type: &'static str,
    /// Size, bytes.
    size: u64,
}

/// A file of the papers with its contents.
pub struct Paper {
    name: String,
    bytes: Vec<u8>,
}

/// Papers that were made, by job.
#[derive(Clone, Default)]
pub struct Made(Arc<Mutex<HashMap<String, Slot>>>);

/// The papers of one job; held while they are made, so that whoever else wants them meanwhile waits and makes none.
type Slot = Arc<Mutex<Option<Kept>>>;

struct Kept {
    revision: u64,
    query: PapersQuery,
    papers: Arc<Vec<Paper>>,
}

impl Made {
    fn of(&self, job: &OpenJob, query: &PapersQuery) -> Result<(u64, Arc<Vec<Paper>>), ApiError> {
        let slot = self.slot(job.id());
        let mut kept = slot.lock().unwrap_or_else(PoisonError::into_inner);
        let revision = job.now().revision;
        if let Some(k) = kept.as_ref().filter(|k| k.revision == revision && k.query == *query) {
            return Ok((revision, Arc::clone(&k.papers)));
        }
        let (revision, papers) = make(job, query)?;
        let papers = Arc::new(papers);
        *kept = Some(Kept { revision, query: query.clone(), papers: Arc::clone(&papers) });
        Ok((revision, papers))
    }

    fn slot(&self, job: &str) -> Slot {
        let mut slots = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if slots.len() >= KEPT && !slots.contains_key(job) {
            // Those being made now stay, so that nobody makes them twice.
            slots.retain(|_, slot| Arc::strong_count(slot) > 1);
        }
        Arc::clone(slots.entry(job.to_owned()).or_default())
    }
}

#[cfg(feature = "papers")]
fn make(job: &OpenJob, query: &PapersQuery) -> Result<(u64, Vec<Paper>), ApiError> {
    use super::sound::cannot;
    use crate::error::shown;
    use loamline_papers::{PackOptions, Paper as Sheet, Results, pack};
    let mut options = PackOptions::usual().map_err(cannot)?;
    options.units = query.units.into();
    options.paper = Sheet::named(&query.paper).ok_or_else(|| {
        let asked = shown(&query.paper);
        ApiError::field("?paper", format!("\"{asked}\" is no sheet here: A4, A3, Letter and Tabloid are."))
    })?;
    let now = job.now();
    let files = pack(now.file.job(), &Results::of(&now.study), &options).map_err(cannot)?;
    Ok((now.revision, files.into_iter().map(|f| Paper { name: f.name, bytes: f.bytes }).collect()))
}

#[cfg(not(feature = "papers"))]
fn make(_: &OpenJob, _: &PapersQuery) -> Result<(u64, Vec<Paper>), ApiError> {
    Err(ApiError::new(
        axum::http::StatusCode::NOT_FOUND,
        crate::error_code::ErrorCode::NotBuilt,
        "The papers are not in this program: it was built without them.",
    ))
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

/// "drawings/plan-2.svg" as "Plan 2".
fn title(name: &str) -> String {
    let last = name.rsplit('/').next().unwrap_or(name);
    let words = last.rsplit_once('.').map_or(last, |x| x.0).replace(['-', '_'], " ");
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + letters.as_str())
}

/// The papers of a job as it now is. The first look makes them, which takes some seconds.
#[utoipa::path(get, path = "/api/jobs/{id}/papers", operation_id = "papers", tag = "Papers",
    params(("id" = String, Path, description = "The job"), PapersQuery),
    responses((status = 200, body = PapersView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn list(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<PapersQuery>,
) -> Result<Json<PapersView>, ApiError> {
    let made = app.papers.clone();
    app.results(id, move |job| {
        let (revision, papers) = made.of(job, &query)?;
        let view = |p: &Paper| PaperView {
            file: p.name.clone(),
            title: title(&p.name),
            media_type: media_type(&p.name),
            size: u64::try_from(p.bytes.len()).unwrap_or(u64::MAX),
        };
        Ok(Json(PapersView { revision, documents: papers.iter().map(view).collect() }))
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
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    paper(app, id, name, query).await
}

/// The same for names with a slash in them, which `{file}` does not match.
pub async fn file_in_folder(
    State(app): State<App>,
    In((id, folder, name)): In<(String, String, String)>,
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    paper(app, id, format!("{folder}/{name}"), query).await
}

async fn paper(
    app: App,
    id: String,
    name: String,
    query: PapersQuery,
) -> Result<impl IntoResponse, ApiError> {
    let made = app.papers.clone();
    app.results(id, move |job| {
        let (_, papers) = made.of(job, &query)?;
        let paper = papers.iter().find(|p| p.name == name);
        let paper = paper.ok_or_else(|| ApiError::not_found(format!("paper \"{name}\"")))?;
        Ok(([(CONTENT_TYPE, media_type(&paper.name))], paper.bytes.clone()))
    })
    .await
}

/// All papers as one zip file.
#[utoipa::path(get, path = "/api/jobs/{id}/papers.zip", tag = "Papers",
    params(("id" = String, Path, description = "The job"), PapersQuery),
    responses((status = 200, description = "A zip file", content_type = "application/zip", body = String),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn all(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<PapersQuery>,
) -> Result<impl IntoResponse, ApiError> {
    let jobs = Arc::clone(&app.jobs);
    let (name, bytes) = blocking(move || {
        let job = jobs.open(&id)?;
        let (_, papers) = app.papers.of(&job, &query)?;
        let files = papers.iter().map(|p| (p.name.as_str(), p.bytes.as_slice()));
        Ok((file_name(&job.now().file.job().document().about.name), crate::jobs::zipped(files)?))
    })
    .await?;
    let disposition = format!("attachment; filename=\"{name}-papers.zip\"");
    Ok(([(CONTENT_TYPE, "application/zip".to_owned()), (CONTENT_DISPOSITION, disposition)], bytes))
}
