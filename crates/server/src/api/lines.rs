//! Lines, channels, runs, and a new route.

use super::extract::{Asked, In};
use crate::app::App;
use crate::background::Work;
use crate::error::{ApiError, ErrorBody, not_yet};
use crate::jobs::Snapshot;
use crate::told::Told;
use axum::Json;
use axum::extract::State;
use loamline_adapt::{Conductors, LaidCable, LaidRun, laid_cables, run_conductors};
use loamline_electrics::RunStudy;
use loamline_model::{Choice, Job};
use loamline_study::{LinesReport, RoutedJob, Study, route, route_from_best_starts};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(lines)).routes(routes!(route_again))
}

/// Lines and channels.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LinesAnswer {
    /// Revision of the job they are of.
    revision: u64,
    /// Lines solved, channels loaded, what wants attention.
    #[serde(flatten)]
    #[schema(value_type = LinesReport)]
    report: Arc<LinesReport>,
    /// Every run as it lies.
    runs: Vec<RunAnswer>,
}

/// A run as it lies, and what is said of it besides.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RunAnswer {
    /// The run as it lies.
    #[serde(flatten)]
    run: LaidRun,
    /// Tag of the cable it lies in: its own, or those of all runs that share it.
    tag: String,
    /// Whether it lies in the cable of a run before it, which is cut and laid once.
    shared: bool,
    /// Length of conductor that carries current, m.
    electrical_m: f64,
    /// Current at full drive and 1 kHz, A; absent when the line cannot be worked out.
    current_1khz_a: Option<f64>,
    /// Power lost in it at full drive and 1 kHz, W.
    loss_1khz_w: Option<f64>,
    /// Resistance of both conductors, ohm.
    loop_resistance_ohm: Option<f64>,
    /// Its positive conductors, by colour or number; several where pairs are in parallel.
    positive: Vec<String>,
    /// Its negative conductors.
    negative: Vec<String>,
}

fn run_answer(job: &Job, run: &LaidRun, cable: Option<&LaidCable>, solved: Option<&RunStudy>) -> RunAnswer {
    let Conductors { positive, negative } = run_conductors(job, run);
    let first = cable.and_then(|c| c.carries.first());
    RunAnswer {
        tag: cable.map_or_else(|| run.id.clone(), |c| c.tag.clone()),
        shared: first.is_some_and(|c| c.line != run.line || c.run != run.id),
        electrical_m: run.electrical_m(),
        current_1khz_a: solved.map(|s| s.current_1khz_a),
        loss_1khz_w: solved.map(|s| s.loss_1khz_w),
        loop_resistance_ohm: solved.map(|s| s.loop_resistance_ohm),
        positive,
        negative,
        run: run.clone(),
    }
}

/// Every run as it lies.
pub fn run_answers(job: &Job, runs: &[LaidRun], report: &LinesReport) -> Vec<RunAnswer> {
    let solved = |r: &LaidRun| report.lines.get(&r.line)?.runs.iter().find(|s| s.run == r.id);
    let cables = laid_cables(job, runs);
    let cable = |r: &LaidRun| cables.iter().find(|c| c.holds(&r.line, &r.id));
    runs.iter().map(|r| run_answer(job, r, cable(r), solved(r))).collect()
}

/// Lines solved, channels loaded, runs as they lie.
#[utoipa::path(get, path = "/api/jobs/{id}/lines", tag = "Cable",
    params(("id" = String, Path, description = "The job")),
    responses((status = 200, body = LinesAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn lines(State(app): State<App>, In(id): In<String>) -> Result<Told, ApiError> {
    app.shared(Work::Results, "lines", id, |job| {
        let Snapshot { study, revision, .. } = job.now();
        let (runs, report) = (study.runs(), study.lines());
        let runs = run_answers(study.job(), &runs, &report);
        Ok(LinesAnswer { revision, report, runs })
    })
    .await
}

/// A new route, not yet carried out: send its edit.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct RouteAnswer {
    /// Revision of the job it is for.
    revision: u64,
    /// The cable as it then lies, what to order of it, what wants attention, and the edit that writes the runs.
    #[serde(flatten)]
    routed: RoutedJob,
    /// What it comes to.
    summary: RouteSummary,
}

/// What a route comes to, as its cables then lie: one that lines share counts once, what lies there already not at all.
#[derive(Debug, Clone, Default, Serialize, ToSchema)]
pub struct RouteSummary {
    /// Cable to cut, m.
    order_m: f64,
    /// Metres of the ways by way of laying; "not possible" where cable cannot be laid.
    by_laying_m: BTreeMap<String, f64>,
    /// Metres to dig by hand near buried services.
    hand_dig_m: f64,
    /// Cable, ground, holes and joints, in the job's currency, by the catalogue's prices.
    price: f64,
}

/// What may change besides the runs.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RouteQuery {
    /// Whether lines may start elsewhere: at their rack, or at the end of existing cable with a pair to spare.
    #[serde(default)]
    starts: bool,
}

/// Finds the way for every cable at least cost. Nothing is changed.
#[utoipa::path(post, path = "/api/jobs/{id}/route", tag = "Cable",
    params(("id" = String, Path, description = "The job"), RouteQuery),
    responses((status = 200, body = RouteAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn route_again(
    State(app): State<App>,
    In(id): In<String>,
    Asked(asked): Asked<RouteQuery>,
) -> Result<Json<RouteAnswer>, ApiError> {
    app.results(Work::Settings, id, move |job| {
        let now = job.now();
        let found = if asked.starts { route_from_best_starts(&now.file) } else { route(now.file.job()) };
        let found = found.map_err(|why| not_yet(why.told()))?;
        let laid = Study::new(now.file.preview(&found.edit)?);
        let mut summary = RouteSummary {
            hand_dig_m: found.groups.iter().map(|g| g.totals.hand_dig_m).sum(),
            price: found.cost,
            ..RouteSummary::default()
        };
        let runs = laid.runs();
        for cable in laid_cables(laid.job(), &runs).iter().filter(|c| !c.existing) {
            // As it is cut, so that the sum is that of the lengths in the list.
            summary.order_m += laid.job().document().units().cut_m(cable.order_m);
            for (laying, m) in runs.get(cable.lead).map(LaidRun::by_laying).unwrap_or_default() {
                let word = laying.map_or("not possible", Choice::word);
                *summary.by_laying_m.entry(word.to_owned()).or_insert(0.0) += m;
            }
        }
        let routed = RoutedJob::of(&laid, found);
        Ok(Json(RouteAnswer { revision: now.revision, routed, summary }))
    })
    .await
}
