//! What was done to a job: told with the values before and after, taken back by whoever did it, or as a whole.

use super::extract::{Asked, Body, In};
use super::jobs::AppliedView;
use crate::app::App;
use crate::background::blocking;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::{GoBack, UndoRequest};
use crate::store::Entry;
use axum::Json;
use axum::extract::State;
use loamline_limits::HISTORY_ENTRIES;
use loamline_model::Edit;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new()
        .routes(routes!(undo))
        .routes(routes!(redo))
        .routes(routes!(history))
        .routes(routes!(go_back))
}

/// Who undoes or redoes.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
    /// As for an edit; without one, sending twice undoes two edits.
    edit_id: Option<String>,
}

/// An entry of the history.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct EntryView {
    /// Revision of the job after it.
    pub revision: u64,
    /// `edit`, `undo` or `redo`; `unreadable` where the entry is damaged: what it changed is then empty.
    pub kind: &'static str,
    /// The entry undone or done again.
    pub of: Option<u64>,
    /// Who.
    pub who: String,
    /// When it arrived here, RFC 3339.
    pub at: String,
    /// When it was made by the clock of whoever made it, RFC 3339, if they said.
    pub made_at: Option<String>,
    /// What for.
    pub note: String,
    /// What was changed: the values after it.
    pub patch: Edit,
    /// What would take it back: the values before it, the last operation first.
    pub inverse: Edit,
}

impl From<&Entry> for EntryView {
    fn from(e: &Entry) -> Self {
        Self {
            revision: e.revision,
            kind: e.kind.word(),
            of: e.kind.of(),
            who: e.who.clone(),
            at: e.at.clone(),
            made_at: e.made_at.clone(),
            note: e.note.clone(),
            patch: e.patch.clone(),
            inverse: e.inverse.clone(),
        }
    }
}

/// Part of the history.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct HistoryQuery {
    /// Only entries before this revision.
    before: Option<u64>,
    /// At most so many entries, 1 to 500; 50 when absent. Fewer come when they are very large: ask on before the last.
    #[param(minimum = 1, maximum = 500)]
    limit: Option<u32>,
}

/// A wish to have the job as it was.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GoBackAsked {
    /// Made up by the sender, as for an edit.
    #[schema(min_length = 8, max_length = 64, pattern = "^[A-Za-z0-9-]*$")]
    edit_id: String,
    /// Revision the sender saw; refused when there is a newer one, so that nothing is taken back that nobody has seen.
    base_revision: u64,
    /// The revision to go back to; 0 is the job as it began.
    revision: u64,
    /// Who.
    #[serde(default)]
    #[schema(max_length = 80)]
    who: String,
}

/// Undoes one's own last edit that has not been undone. Entries of visits stay.
#[utoipa::path(post, path = "/api/jobs/{id}/undo", tag = "Jobs", request_body = Step,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = AppliedView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn undo(
    State(app): State<App>,
    In(id): In<String>,
    Body(step): Body<Step>,
) -> Result<Json<AppliedView>, ApiError> {
    let request = UndoRequest { edit_id: step.edit_id, who: step.who };
    app.job(id, |job| Ok(Json(job.undo(request)?.into()))).await
}

/// Does again what one undid last.
#[utoipa::path(post, path = "/api/jobs/{id}/redo", tag = "Jobs", request_body = Step,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = AppliedView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn redo(
    State(app): State<App>,
    In(id): In<String>,
    Body(step): Body<Step>,
) -> Result<Json<AppliedView>, ApiError> {
    let request = UndoRequest { edit_id: step.edit_id, who: step.who };
    app.job(id, |job| Ok(Json(job.redo(request)?.into()))).await
}

/// What was done to a job, newest first.
#[utoipa::path(get, path = "/api/jobs/{id}/history", tag = "Jobs",
    params(("id" = String, Path, description = "The job"), HistoryQuery),
    responses((status = 200, body = [EntryView]), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn history(
    State(app): State<App>,
    In(id): In<String>,
    Asked(query): Asked<HistoryQuery>,
) -> Result<Json<Vec<EntryView>>, ApiError> {
    let limit = query.limit.unwrap_or(50);
    if !(1..=HISTORY_ENTRIES.number).contains(&u64::from(limit)) {
        let told = format!("The limit is from 1 to {} entries.", HISTORY_ENTRIES.shown());
        return Err(ApiError::field("?limit", told));
    }
    blocking(move || {
        app.jobs.open(&id)?;
        let entries = app.jobs.store().before(&id, query.before.unwrap_or(u64::MAX), limit)?;
        Ok(Json(entries.iter().map(EntryView::from).collect()))
    })
    .await
}

/// Puts the job back as it was at a revision. That is an edit of its own, which can be undone; readings, ticks and photos stay.
#[utoipa::path(post, path = "/api/jobs/{id}/go-back", tag = "Jobs", request_body = GoBackAsked,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = AppliedView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn go_back(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<GoBackAsked>,
) -> Result<Json<AppliedView>, ApiError> {
    let GoBackAsked { edit_id, base_revision, revision, who } = asked;
    let wish = GoBack { edit_id, base_revision, revision, who };
    app.job(id, |job| Ok(Json(job.go_back(wish)?.into()))).await
}
