//! What is heard: areas and neighbours.

use super::extract::In;
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::Snapshot;
use crate::told::Told;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_acoustics::Band;
use loamline_geometry::Point3;
use loamline_study::{Finding, Judged, LevelsReport, NeighbourLevels};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(levels)).routes(routes!(neighbours))
}

/// Levels in the areas.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LevelsAnswer {
    /// Revision of the job they are of.
    revision: u64,
    /// Centre frequencies of the third octaves, Hz.
    frequencies_hz: Vec<f64>,
    /// Areas and the loudest place; absent when nothing can be worked out.
    levels: Option<LevelsReport>,
    /// What wants attention.
    findings: Vec<Finding>,
}

/// Levels in the areas and at the loudest place.
#[utoipa::path(get, path = "/api/jobs/{id}/levels", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = LevelsAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn levels(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Results, "levels", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let heard = study.heard();
        Ok(LevelsAnswer {
            revision,
            frequencies_hz: Band::all().map(Band::centre_hz).collect(),
            levels: heard.levels.clone(),
            findings: heard.findings.clone(),
        })
    })
    .await
}

/// Levels at the neighbours.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NeighboursAnswer {
    /// Revision of the job they are of.
    revision: u64,
    /// Neighbours by id.
    neighbours: IndexMap<String, NeighbourView>,
}

/// A neighbour.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct NeighbourView {
    /// Its name.
    name: String,
    /// By day: every limit at its worst place.
    day: Vec<Judged>,
    /// By night, turned down as the brief says.
    night: Vec<Judged>,
    /// Levels at its places by day.
    receivers: Vec<ReceiverView>,
}

/// A place of a neighbour.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct ReceiverView {
    /// Where: x, y, elevation above the datum, m.
    position: Point3,
    /// Level, dBA.
    total_dba: f64,
    /// Octaves 63 Hz to 8 kHz, dB.
    bands_db: Vec<f64>,
    /// Standard uncertainty, +- dB.
    standard_uncertainty_db: f64,
    /// Level of each loudspeaker alone, dBA, loudest first.
    loudspeakers: IndexMap<String, f64>,
}

fn neighbour_view(n: &NeighbourLevels) -> NeighbourView {
    let receiver = |r: &loamline_acoustics::ReceiverLevel| {
        let mut each: Vec<(String, f64)> =
            r.contributions.iter().map(|c| (c.id.clone().unwrap_or_default(), c.levels.total_dba)).collect();
        each.sort_by(|a, b| b.1.total_cmp(&a.1));
        ReceiverView {
            position: r.position,
            total_dba: r.levels.total_dba,
            bands_db: r.levels.bands_db.to_vec(),
            standard_uncertainty_db: r.standard_uncertainty_db,
            loudspeakers: each.into_iter().collect(),
        }
    };
    NeighbourView {
        name: n.name.clone(),
        day: n.day.clone(),
        night: n.night.clone(),
        receivers: n.receivers.iter().map(receiver).collect(),
    }
}

/// Levels at the neighbours by ISO 9613-2.
#[utoipa::path(get, path = "/api/jobs/{id}/neighbours", tag = "Sound",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = NeighboursAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn neighbours(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Results, "neighbours", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let heard = study.heard();
        let neighbours = heard.neighbours.iter().map(|(id, n)| (id.clone(), neighbour_view(n))).collect();
        Ok(NeighboursAnswer { revision, neighbours })
    })
    .await
}
