//! Jobs, edits, findings, catalogue.

use super::extract::{Asked, Body, In};
use crate::accepted::findings_with_accepted;
use crate::access::Asker;
use crate::app::App;
use crate::background::{Work, blocking};
use crate::error::{ApiError, ErrorBody};
use crate::error_code::ErrorCode;
use crate::jobs::{Applied, EditRequest, Jobs, OpenJob, is_of_the_crew, line_of_text, person};
use crate::store::Entry;
use crate::told::Told;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::{Extension, Json};
use loamline_limits::JOB_NAME_CHARACTERS;
use loamline_model::document::Language;
use loamline_model::{Catalogue, Edit};
use loamline_study::{Alike, Finding, alike};
use loamline_terms::say;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

/// The shipped example, which the first start opens.
const EXAMPLE: &str = include_str!("../../../../examples/guesthouse-garden/job.toml");

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(list, create))
        .routes(routes!(job, delete))
        .routes(routes!(edit))
        .routes(routes!(findings))
        .routes(routes!(catalogue))
}

/// A job in the list.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct JobSummary {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
    /// A sentence or two about it.
    summary: String,
    /// Its revision.
    revision: u64,
    /// When it last changed, RFC 3339.
    changed_at: String,
    /// How far it is, as the job has it; empty where it does not say.
    status: String,
    /// Name of the client; empty where the job does not say.
    client: String,
    /// Whether it is a template, which other jobs start from.
    template: bool,
}

/// What a new job starts from.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Start {
    /// A name and nothing else.
    Empty,
    /// The shipped example.
    Example,
    /// A template, or another job: all that is drawn and chosen in it, without its client and what was measured.
    Template,
}

/// A new job.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewJob {
    /// Its name; the example keeps its own when this is empty.
    #[serde(default)]
    name: String,
    /// What it starts from.
    from: Start,
    /// Id of the template, where it starts from one.
    #[serde(default)]
    template: Option<String>,
}

/// A job that has been made.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Made {
    /// Its id.
    pub id: String,
    /// Files of an imported folder that belong to no part of a job and were left out.
    pub left_out: Vec<String>,
}

/// An entry that undoing or redoing would act on.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct StepView {
    /// Its revision.
    revision: u64,
    /// What it was for.
    note: String,
    /// Who made it.
    who: String,
}

impl From<Entry> for StepView {
    fn from(e: Entry) -> Self {
        Self { revision: e.revision, note: e.note, who: e.who }
    }
}

/// A job.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct JobView {
    /// Its id.
    id: String,
    /// Its name.
    name: String,
    /// Its revision.
    revision: u64,
    /// The document as typed, which edits address: docs/schema/job.schema.json.
    #[schema(value_type = Object)]
    document: Value,
    /// The document as it is understood: the same keys, SI numbers, every default filled in.
    #[schema(value_type = Object)]
    resolved: Value,
    /// What undoing would undo for whoever asks: their own last edit.
    undo: Option<StepView>,
    /// What redoing would do again for them.
    redo: Option<StepView>,
    /// What of it is damaged where it is kept, a sentence each; nothing when all of it is whole.
    damaged: Vec<loamline_terms::Told>,
}

/// An edit.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewEdit {
    /// Made up by the sender (a UUID is best); sending it twice applies the edit once.
    #[schema(min_length = 8, max_length = 64, pattern = "^[A-Za-z0-9-]*$")]
    edit_id: String,
    /// Revision the sender saw.
    base_revision: u64,
    /// Revision of the lines that what it enters on visits was taken of, where that is an earlier one: a phone that was out
    /// of reach names the revision of its pack. The base when absent.
    measured_revision: Option<u64>,
    /// What to change.
    patch: Edit,
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
    /// What for, in words.
    #[serde(default)]
    #[schema(max_length = 200)]
    note: String,
    /// When, by the sender's clock, RFC 3339.
    at: Option<String>,
}

/// An edit that has taken effect and will survive anything that happens to the program.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct AppliedView {
    /// Revision of the job after it.
    revision: u64,
    /// What was changed.
    patch: Edit,
    /// What would undo it.
    inverse: Edit,
}

impl From<Applied> for AppliedView {
    fn from(a: Applied) -> Self {
        Self { revision: a.revision, patch: a.patch, inverse: a.inverse }
    }
}

/// Everything that wants attention.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct FindingsView {
    /// Revision of the job they are of.
    revision: u64,
    /// Worst first.
    findings: Vec<Finding>,
    /// Those of them that say the same of different things, together: every one once, in the order of the first of each.
    alike: Vec<Alike>,
}

/// How a catalogue is read.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct CatalogueQuery {
    /// The language of what is described as it is shipped: `en`, `en-us` or `es`; English when absent, or none of these.
    #[serde(default)]
    language: String,
}

/// Who asks.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct WhoAsks {
    /// Their name, as their edits have it: what can be undone is their own. Nobody's when absent.
    #[serde(default)]
    who: String,
}

impl WhoAsks {
    /// Their name, as it may stand in a log.
    ///
    /// # Errors
    /// What is wrong with it.
    pub fn named(&self) -> Result<String, ApiError> {
        person("?who", &self.who).map_err(ApiError::from)
    }
}

/// All jobs, the one changed last first.
#[utoipa::path(get, path = "/api/jobs", tag = "Jobs",
    responses((status = 200, body = [JobSummary]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn list(State(app): State<App>) -> Result<Json<Vec<JobSummary>>, ApiError> {
    let rows = blocking(move || app.jobs.list()).await?;
    let summary = |r: crate::store::JobRow| JobSummary {
        id: r.id,
        name: r.name,
        summary: r.summary,
        revision: r.revision,
        changed_at: r.changed_at,
        status: r.status,
        client: r.client,
        template: r.template,
    };
    Ok(Json(rows.into_iter().map(summary).collect()))
}

/// Makes a job.
#[utoipa::path(post, path = "/api/jobs", tag = "Jobs", request_body = NewJob,
    responses((status = 201, body = Made), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn create(State(app): State<App>, Body(new): Body<NewJob>) -> Result<impl IntoResponse, ApiError> {
    let id = blocking(move || {
        let name = line_of_text("/name", &new.name, &JOB_NAME_CHARACTERS)?;
        let text = match (new.from, new.template) {
            (Start::Empty | Start::Template, _) if name.is_empty() => {
                return Err(ApiError::field("/name", say!("A job needs a name.")));
            }
            (Start::Empty, _) => starter(&name),
            (Start::Example, _) => EXAMPLE.to_owned(),
            (Start::Template, Some(template)) => return app.jobs.made_from(&template, &name, false),
            (Start::Template, None) => {
                return Err(ApiError::field("/template", say!("Which template it starts from is missing.")));
            }
        };
        let id = app.jobs.create(&text, &[], &[])?;
        Ok(id)
    })
    .await?;
    Ok((StatusCode::CREATED, Json(Made { id, left_out: Vec::new() })))
}

/// The text of a job that has a name and nothing else.
fn starter(name: &str) -> String {
    let name = name.replace('\\', "\\\\").replace('"', "\\\"");
    format!("format = 1\n\n[job]\nname = \"{name}\"\n")
}

/// Makes the example the first job of an empty store.
///
/// # Errors
/// When the store cannot be read or written.
pub fn open_example_first(jobs: &Jobs) -> Result<(), ApiError> {
    if jobs.list()?.is_empty() {
        jobs.create(EXAMPLE, &[], &[])?;
    }
    Ok(())
}

/// A job.
#[utoipa::path(get, path = "/api/jobs/{id}", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), WhoAsks),
    responses((status = 200, body = JobView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn job(
    State(app): State<App>,
    In(id): In<String>,
    Asked(asks): Asked<WhoAsks>,
) -> Result<Json<JobView>, ApiError> {
    app.job(id, move |job| job_view(job, &asks.who).map(Json)).await
}

/// A job as it is sent to somebody.
///
/// # Errors
/// When the store cannot be read.
pub fn job_view(job: &OpenJob, who: &str) -> Result<JobView, ApiError> {
    let now = job.now();
    let (undo, redo) = job.undo_and_redo(who)?;
    let document = now.file.job().document();
    Ok(JobView {
        id: job.id().to_owned(),
        name: document.about.name.clone(),
        revision: now.revision,
        document: now.file.raw().clone(),
        resolved: serde_json::to_value(document).unwrap_or_default(),
        undo: undo.map(StepView::from),
        redo: redo.map(StepView::from),
        damaged: job.damage().told.iter().cloned().map(loamline_terms::Told::from).collect(),
    })
}

/// Deletes a job. It can be brought back for thirty days.
#[utoipa::path(delete, path = "/api/jobs/{id}", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), WhoAsks),
    responses((status = 204, description = "Deleted"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn delete(
    State(app): State<App>,
    In(id): In<String>,
    Asked(asks): Asked<WhoAsks>,
) -> Result<StatusCode, ApiError> {
    let who = asks.named()?;
    blocking(move || app.jobs.delete(&id, &who)).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Edits a job. An edit on an older revision is merged when nothing it touches has changed since.
#[utoipa::path(post, path = "/api/jobs/{id}/edits", tag = "Jobs", request_body = NewEdit,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = AppliedView),
        (status = 409, description = "It meets another edit of the same thing", body = ErrorBody),
        (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn edit(
    State(app): State<App>,
    In(id): In<String>,
    Extension(asker): Extension<Asker>,
    Body(new): Body<NewEdit>,
) -> Result<Json<AppliedView>, ApiError> {
    if !asker.may_design() && !is_of_the_crew(&new.patch) {
        let why = say!(
            "This device is let in for readings, ticks and photos alone; the rest of the job is changed in the office."
        );
        return Err(ApiError::new(StatusCode::FORBIDDEN, ErrorCode::NotAllowed, why));
    }
    let request = EditRequest {
        edit_id: new.edit_id,
        base_revision: new.base_revision,
        measured_revision: new.measured_revision,
        patch: new.patch,
        who: new.who,
        note: new.note,
        made_at: new.at,
    };
    app.job(id, |job| Ok(Json(job.edit(request)?.into()))).await
}

/// Everything that wants attention.
#[utoipa::path(get, path = "/api/jobs/{id}/findings", tag = "Jobs",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = FindingsView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn findings(
    State(app): State<App>,
    In(id): In<String>,
    Extension(asker): Extension<Asker>,
) -> Result<Told, ApiError> {
    let prices = asker.sees_prices();
    let what = if prices { "findings" } else { "findings without prices" };
    app.shared(Work::Results, what, id, move |job| {
        let now = job.now();
        let findings = findings_with_accepted(job, &now, prices);
        Ok(FindingsView { revision: now.revision, alike: alike(now.study.job(), &findings), findings })
    })
    .await
}

/// The equipment, cables and prices the job draws on: docs/schema/catalogue.schema.json, SI numbers.
#[utoipa::path(get, path = "/api/jobs/{id}/catalogue", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), CatalogueQuery),
    responses((status = 200, body = Object), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn catalogue(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<CatalogueQuery>,
) -> Result<Json<Catalogue>, ApiError> {
    let language = Language::named(&query.language).unwrap_or(Language::English);
    app.job(id, move |job| Ok(Json(job.now().file.catalogue().described(language)))).await
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::SqliteStore;
    use std::sync::Arc;

    #[test]
    fn an_empty_job_takes_any_name_and_the_example_is_first() {
        let jobs = Jobs::new(Arc::new(SqliteStore::in_memory().unwrap()));
        open_example_first(&jobs).unwrap();
        open_example_first(&jobs).unwrap();
        assert_eq!(jobs.list().unwrap().len(), 1);
        let name = r#"The "Old" \ Mill"#;
        let id = jobs.create(&starter(name), &[], &[]).unwrap();
        assert_eq!(jobs.open(&id).unwrap().now().file.job().document().about.name, name);
    }
}
