//! The HTTP interface. Each file holds the routes of one subject with the shapes they answer in; OpenAPI is written
//! from these.

mod attachments;
mod bass;
mod changes;
pub mod extract;
mod jobs;
mod lines;
mod meter;
mod meter_why;
mod papers;
mod probe;
mod processing;
mod propose;
mod rules;
mod share;
mod sound;
mod stubs;
mod visits;
mod why;

pub use jobs::open_example_first;
pub use papers::Made;
pub use propose::Runs;
pub use share::with_code;
pub use sound::AreaFigures;

use crate::background::Background;
use crate::error::ApiError;
use crate::jobs::{Jobs, OpenJob};
use crate::live::Painters;
use crate::share::Sharing;
use axum::Json;
use axum::extract::DefaultBodyLimit;
use jobs::PatchOperation;
use loamline_limits::BODY_BYTES;
use loamline_model::Edit;
use loamline_study::{Finding, Remedy, Severity};
use serde::Serialize;
use std::sync::Arc;
use utoipa::openapi::{Info, License, OpenApi};
use utoipa::{OpenApi as _, ToSchema};
use utoipa_axum::router::OpenApiRouter;

/// What every handler has at hand.
#[derive(Clone)]
pub struct App {
    /// The jobs.
    pub jobs: Arc<Jobs>,
    /// Turns at working out maps.
    pub painters: Painters,
    /// Turns at whatever takes long.
    pub background: Background,
    /// Papers that were made.
    pub papers: papers::Made,
    /// Proposals being made and made.
    pub runs: Runs,
    /// How other devices are let in, if they are.
    pub sharing: Option<Arc<Sharing>>,
}

impl App {
    /// Works something out about a job in the background.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn results<T: Send + 'static>(
        &self,
        id: String,
        ask: impl FnOnce(&Arc<OpenJob>) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let jobs = Arc::clone(&self.jobs);
        self.background.run(move || ask(&jobs.open(&id)?)).await
    }

    /// Reads or edits a job, off the threads that serve.
    ///
    /// # Errors
    /// When there is no such job; whatever the question's own errors are.
    pub async fn job<T: Send + 'static>(
        &self,
        id: String,
        ask: impl FnOnce(&Arc<OpenJob>) -> Result<T, ApiError> + Send + 'static,
    ) -> Result<T, ApiError> {
        let jobs = Arc::clone(&self.jobs);
        blocking(move || ask(&jobs.open(&id)?)).await
    }
}

/// Runs what takes long, or waits for the disk, off the threads that serve.
///
/// # Errors
/// Those of what is run.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, ApiError> + Send + 'static,
) -> Result<T, ApiError> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_) => Err(ApiError::gave_up()),
    }
}

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

#[derive(utoipa::OpenApi)]
#[openapi(tags(
    (name = "Jobs", description = "Jobs, their edits and their history"),
    (name = "Sound", description = "Levels, neighbours, bass, the make-up of the level at a place"),
    (name = "Cable", description = "Lines, channels, routes, processing"),
    (name = "Papers", description = "What is printed"),
    (name = "Devices", description = "Phones on the same network"),
    (name = "Visits", description = "Readings of lines, and what a phone takes along"),
    (name = "Attachments", description = "Plans and photos kept with a job"),
))]
struct Head;

/// All routes with their OpenAPI.
pub fn routes() -> (axum::Router<App>, OpenApi) {
    let (router, mut api) = OpenApiRouter::with_openapi(Head::openapi())
        .merge(jobs::routes())
        .merge(sound::routes())
        .merge(bass::routes())
        .merge(probe::routes())
        .merge(lines::routes())
        .merge(changes::routes())
        .merge(processing::routes())
        .merge(papers::routes())
        .merge(propose::routes())
        .merge(share::routes())
        .merge(meter::routes())
        .merge(meter_why::routes())
        .merge(stubs::routes())
        .merge(visits::routes())
        .layer(DefaultBodyLimit::max(BODY_BYTES.most()))
        .merge(jobs::import_routes())
        .merge(attachments::routes())
        .split_for_parts();
    let mut info = Info::new("loamline", env!("CARGO_PKG_VERSION"));
    info.description = Some(
        "Jobs of outdoor loudspeaker systems over HTTP. Numbers are SI unless a name says otherwise. Edits are \
         JSON Patch (RFC 6902) on the document as typed; `add` may carry `before`, the key a new one goes in front of. \
         The live channel is described in docs/live-channel.md."
            .into(),
    );
    let mut license = License::new("MIT OR Apache-2.0");
    license.identifier = Some("MIT OR Apache-2.0".into());
    info.license = Some(license);
    api.info = info;
    let described = api.clone();
    let openapi = axum::routing::get(move || {
        let api = described.clone();
        async move { Json(api) }
    });
    let router = router
        .route("/api/openapi.json", openapi)
        .route("/api/jobs/{id}/papers/{folder}/{file}", axum::routing::get(papers::file_in_folder))
        .route("/api/jobs/{id}/live", axum::routing::get(crate::live::live));
    (router, api)
}
