//! Existing cable: its length from the loop of a pair that is joined at the stub.

use super::extract::{Body, In};
use crate::app::App;
use crate::error::{ApiError, ErrorBody};
use axum::Json;
use axum::extract::State;
use loamline_faults::Tolerances;
use loamline_study::{StubLength, stub_length};
use loamline_terms::say;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(measured))
}

/// A loop reading of a stub's cable.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StubReading {
    /// What the meter showed at direct current at the rack, on one pair joined at the stub, ohm.
    dc_ohm: f64,
    /// Temperature of the conductors, degrees Celsius; 20 when absent.
    temperature_c: Option<f64>,
}

/// What a loop reading says about a stub's cable. Nothing is changed: send its edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct StubLengthAnswer {
    /// Revision of the job it is of.
    revision: u64,
    /// The length with what it was worked out from.
    #[serde(flatten)]
    found: StubLength,
}

/// The length of a stub's existing cable from a loop reading. Nothing is changed.
#[utoipa::path(post, path = "/api/jobs/{id}/stubs/{stub}/length", tag = "Visits", request_body = StubReading,
    params(("id" = String, Path, description = "The job"), ("stub" = String, Path, description = "The stub")),
    responses((status = 200, body = StubLengthAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn measured(
    State(app): State<App>,
    In((id, stub)): In<(String, String)>,
    Body(asked): Body<StubReading>,
) -> Result<Json<StubLengthAnswer>, ApiError> {
    if !(0.0..=1.0e6).contains(&asked.dc_ohm) {
        return Err(ApiError::field(
            "/dc_ohm",
            say!("{ohm} ohm is no loop of a cable.", ohm = asked.dc_ohm.to_string()),
        ));
    }
    if let Some(c) = asked.temperature_c.filter(|c| !(-30.0..=60.0).contains(c)) {
        return Err(ApiError::field(
            "/temperature_c",
            say!("{celsius} °C is no temperature of a cable.", celsius = c.to_string()),
        ));
    }
    app.job(id, move |job| {
        let now = job.now();
        let usual = Tolerances::default();
        let found = stub_length(now.file.job(), &stub, asked.dc_ohm, asked.temperature_c, &usual)
            .map_err(|why| ApiError::study("", &why))?;
        Ok(Json(StubLengthAnswer { revision: now.revision, found }))
    })
    .await
}
