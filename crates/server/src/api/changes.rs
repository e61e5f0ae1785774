//! Edits that concern more than one thing, worked out and not yet carried out: taking something out with what hangs on it,
//! and putting loudspeakers on a line with their cable.

use super::extract::{Body, In};
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, not_yet};
use axum::Json;
use axum::extract::State;
use loamline_model::Edit;
use loamline_study::{PutOnError, put_on};
use loamline_terms::{Sentence, Told, say};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(take_out)).routes(routes!(put_on_line))
}

/// Sentences as they are sent.
fn told(sentences: Vec<Sentence>) -> Vec<Told> {
    sentences.into_iter().map(Told::from).collect()
}

/// What is to be taken out.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ThingAsked {
    /// The map it stands in: `loudspeakers`, `racks`, `areas`, ...
    table: String,
    /// Its id.
    id: String,
}

/// The edit that takes something out: send the patch as an edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct TakenOutView {
    /// Revision of the job it is for.
    revision: u64,
    /// The edit.
    patch: Edit,
    /// What goes along: "amplifier P1", "3 readings of visit handover".
    along: Vec<Told>,
    /// What stays and is another thing afterwards, as sentences.
    changed: Vec<Told>,
    /// What happens to the cable, as sentences.
    cable: Vec<Told>,
}

/// Works out the edit that takes a thing out with what hangs on it. Nothing is changed.
#[utoipa::path(post, path = "/api/jobs/{id}/take-out", tag = "Jobs", request_body = ThingAsked,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = TakenOutView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn take_out(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<ThingAsked>,
) -> Result<Json<TakenOutView>, ApiError> {
    app.job(id, move |job| {
        let now = job.now();
        let taken = now
            .file
            .take_out(&asked.table, &asked.id)
            .map_err(|_| ApiError::not_found(say!("\"{id}\" any more", id = &asked.id)))?;
        now.file.preview(&taken.edit)?;
        Ok(Json(TakenOutView {
            revision: now.revision,
            patch: taken.edit,
            along: told(taken.along),
            changed: told(taken.changed),
            cable: told(taken.cable),
        }))
    })
    .await
}

/// Loudspeakers to put on a line.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PutOnAsked {
    /// Which.
    loudspeakers: Vec<String>,
    /// On which line; on none when absent.
    line: Option<String>,
    /// What is carried out first, in the same edit: the loudspeaker that is only now placed.
    #[serde(default)]
    first: Edit,
}

/// The edit that puts loudspeakers on a line: send the patch as an edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct PutOnView {
    /// Revision of the job it is for.
    revision: u64,
    /// The edit, with what was to be carried out first.
    patch: Edit,
    /// What it does besides, in sentences.
    told: Vec<Told>,
}

/// Works out the edit that puts loudspeakers on a line, each with its tap and the cable that leads to it, or takes them
/// off. Nothing is changed.
#[utoipa::path(post, path = "/api/jobs/{id}/put-on", tag = "Cable", request_body = PutOnAsked,
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = PutOnView), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn put_on_line(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<PutOnAsked>,
) -> Result<Json<PutOnView>, ApiError> {
    app.results(Work::Results, id, move |job| {
        let now = job.now();
        let done = put_on(&now.file, &asked.first, &asked.loudspeakers, asked.line.as_deref()).map_err(
            |e| match e {
                PutOnError::Edit(e) => ApiError::from(e),
                PutOnError::NoWay(why) => not_yet(why.told()),
            },
        )?;
        Ok(Json(PutOnView { revision: now.revision, patch: done.edit, told: told(done.told) }))
    })
    .await
}
