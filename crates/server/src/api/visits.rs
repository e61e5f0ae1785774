//! Everything a phone takes along to a place without a network.

use super::App;
use super::extract::In;
use super::lines::{RunView, run_views};
use super::meter::{JudgedView, MeterLineView, judged_view, meter_line};
use super::processing::{StageView, stage};
use super::sound::cannot;
use crate::clock::now;
use crate::error::{ApiError, ErrorBody};
use axum::Json;
use axum::extract::State;
use indexmap::IndexMap;
use loamline_faults::{Table, Tolerances};
use loamline_model::catalogue::Catalogue;
use loamline_study::{JudgedReading, METER_FREQUENCIES_HZ, Measured, expect, fault_tables, tune};
use serde::Serialize;
use serde_json::Value;
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(visit_pack))
}

/// What a phone needs to measure, rank explanations and tick off work without a network.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct VisitPack {
    /// The job's name.
    name: String,
    /// Revision of the job it is of.
    revision: u64,
    /// When it was made, by this machine's clock.
    at: String,
    /// The job as typed: what edits address.
    #[schema(value_type = Object)]
    document: Value,
    /// The job as checked: SI numbers, defaults filled in.
    #[schema(value_type = Object)]
    resolved: Value,
    /// Equipment and cables the job draws on.
    #[schema(value_type = Object)]
    catalogue: Catalogue,
    /// Every run as it lies.
    runs: Vec<RunView>,
    /// What every line should read, by line.
    expect: IndexMap<String, MeterLineView>,
    /// Every reading of the visits with its verdict, the oldest first.
    readings: Vec<JudgedView>,
    /// Explanations of readings by line, with the rule of crates/faults/src/table.rs.
    #[schema(value_type = HashMap<String, Object>)]
    tables: IndexMap<String, Table>,
    /// Why there are no explanations, in a sentence.
    no_tables: Option<String>,
    /// The order of work at the rack.
    order: Vec<StageView>,
}

/// Frequencies a phone is asked for: the usual ones and whatever was read so far.
fn frequencies(judged: &[JudgedReading]) -> Vec<f64> {
    let mut all = METER_FREQUENCIES_HZ.to_vec();
    for r in judged {
        if let Measured::Loop(hz) = r.measured
            && !all.contains(&hz)
        {
            all.push(hz);
        }
    }
    all
}

/// Everything a phone takes along to a place without a network.
#[utoipa::path(get, path = "/api/jobs/{id}/visit-pack", tag = "Visits",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = VisitPack), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn visit_pack(State(app): State<App>, In(id): In<String>) -> Result<Json<VisitPack>, ApiError> {
    app.job(id, |job| {
        // What is worked out and what is read must be of one revision: an edit in between means doing it again.
        let (seen, runs, lines, expected, judged, tables, order) = loop {
            let seen = job.now();
            let (revision, runs, lines, expected, judged, tables, tuned) = job.study(|study, revision| {
                let (runs, usual) = (study.runs(), Tolerances::default());
                let judged = study.judged();
                let expected = expect(study.job(), &runs, &frequencies(&judged), &usual);
                let tables = fault_tables(study.job(), &runs, &usual);
                (revision, runs, study.lines(), expected, judged, tables, tune(study))
            });
            if revision == seen.revision {
                // A job that cannot be tuned yet can be measured all the same.
                let order = tuned.map(|t| t.order).unwrap_or_default();
                break (seen, runs, lines, expected, judged, tables, order);
            }
        };
        let expect = expected.map_err(cannot)?;
        let document = seen.file.job().document();
        let (tables, no_tables) = match tables {
            Ok(tables) => (tables, None),
            Err(why) => (IndexMap::new(), Some(why)),
        };
        Ok(Json(VisitPack {
            name: document.about.name.clone(),
            revision: seen.revision,
            at: now(),
            document: seen.file.raw().clone(),
            resolved: serde_json::to_value(document).unwrap_or_default(),
            catalogue: Catalogue::clone(seen.file.catalogue()),
            runs: run_views(&runs, &lines),
            expect: expect.iter().map(|(id, l)| (id.clone(), meter_line(l))).collect(),
            readings: judged.iter().map(judged_view).collect(),
            tables,
            no_tables,
            order: order.iter().map(stage).collect(),
        }))
    })
    .await
}
