//! Proposals: asked for, watched on the live channel, fetched when they are done.

use super::extract::{Body, In};
use super::proposed::ProposalAnswer;
use crate::app::App;
use crate::error::{ApiError, ErrorBody};
use crate::jobs::{Event, OpenJob};
use crate::proposal_runs::ProposalRun;
use crate::random::letters;
use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use loamline_propose::{OptionKind, Phase, ProposeError, ProposeOptions, ProposeProgress, propose};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub fn routes() -> OpenApiRouter<App> {
    OpenApiRouter::new().routes(routes!(start)).routes(routes!(run, stop))
}

/// Time between two signs of life on the live channel.
const TOLD_EVERY: Duration = Duration::from_millis(150);

/// What is wanted.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProposeRequest {
    /// Work allowed for each design, as the seconds two usual cores take for it: 0.5 to 600.
    #[schema(minimum = 0.5, maximum = 600)]
    time_s: f64,
    /// How many options at most, 1 to 3: at least cost, balanced, most even; 3 when absent.
    #[schema(minimum = 1, maximum = 3)]
    options: Option<u8>,
    /// Seed of the search: the same seed gives the same answer.
    seed: Option<u64>,
}

/// A proposal that has been started.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct Started {
    /// Its id.
    run: String,
}

const fn phase_words(p: Phase) -> &'static str {
    match p {
        Phase::Candidates => "Looking for places",
        Phase::Choosing => "Choosing loudspeakers",
        Phase::Refining => "Settling places and aims",
        Phase::Building => "Wiring and routing",
        Phase::Checking => "Checking",
        Phase::Relaxing => "Looking for the nearest brief that can be met",
        Phase::Done => "Done",
    }
}

const fn first_sign() -> ProposeProgress {
    ProposeProgress { phase: Phase::Candidates, option: None, done: 0.0, best_cost: None, bound: None }
}

/// Makes a proposal, telling everybody looking at the job how far it is.
fn make(job: &OpenJob, run: &ProposalRun, options: &ProposeOptions) {
    let now = job.now();
    let last = Mutex::new((Instant::now(), first_sign()));
    let tell = |p: &ProposeProgress, done: bool| {
        job.tell(Event::Message(Arc::new(json!({
            "kind": "propose", "run": run.id, "phase": phase_words(p.phase),
            "option": p.option.map(OptionKind::word), "share": p.done, "best_cost": p.best_cost,
            "bound": p.bound, "done": done,
        }))));
    };
    let watch = |p: &ProposeProgress| {
        let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
        if last.0.elapsed() >= TOLD_EVERY || last.1.phase != p.phase {
            tell(p, false);
            last.0 = Instant::now();
        }
        last.1 = p.clone();
        !run.stopped.load(Ordering::Relaxed)
    };
    let outcome = match propose(&now.file, options, &watch) {
        Ok(p) => Ok(ProposalAnswer::made(&run.id, now.revision, p)),
        Err(ProposeError::Cancelled) => Ok(ProposalAnswer::unfinished(&run.id, now.revision, true)),
        Err(ProposeError::Brief(why)) => {
            let problems =
                why.iter().map(|w| crate::error::FieldProblem::new("/brief", w.to_string())).collect();
            Err(ApiError::invalid(
                why.iter().map(ToString::to_string).collect::<Vec<_>>().join(" "),
                problems,
            ))
        }
    };
    *run.outcome.lock().unwrap_or_else(PoisonError::into_inner) = Some(outcome);
    let last = last.into_inner().unwrap_or_else(PoisonError::into_inner).1;
    tell(&last, true);
}

/// Starts a proposal; one still being made for this job is stopped. Nothing is changed. Everybody looking at the job
/// hears how far it is on the live channel.
#[utoipa::path(post, path = "/api/jobs/{id}/propose", tag = "Sound", request_body = ProposeRequest,
    params(("id" = String, Path, description = "The job")),
    responses((status = 202, body = Started), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn start(
    State(app): State<App>,
    In(id): In<String>,
    Body(asked): Body<ProposeRequest>,
) -> Result<(StatusCode, Json<Started>), ApiError> {
    if !(0.5..=600.0).contains(&asked.time_s) {
        return Err(ApiError::field("/time_s", format!("{} s; give 0.5 s to 600 s.", asked.time_s)));
    }
    let wanted = match asked.options {
        Some(1) => vec![OptionKind::LeastCost],
        Some(2) => vec![OptionKind::LeastCost, OptionKind::MostEven],
        None | Some(3 | 4) => OptionKind::ALL.to_vec(),
        Some(n) => return Err(ApiError::field("/options", format!("{n} options; give 1 to 3."))),
    };
    let options = ProposeOptions { wanted, work_s: asked.time_s, seed: asked.seed.unwrap_or(1) };
    let job = app.job(id, |job| Ok(Arc::clone(job))).await?;
    let run = Arc::new(ProposalRun {
        id: letters(10)?,
        job: job.id().to_owned(),
        stopped: AtomicBool::new(false),
        outcome: Mutex::default(),
    });
    app.runs.add(Arc::clone(&run));
    let started = Started { run: run.id.clone() };
    // Not waited for: it ends by itself, or when it is stopped.
    let background = app.background.clone();
    tokio::spawn(async move {
        background
            .run(move || {
                make(&job, &run, &options);
                Ok(())
            })
            .await
    });
    Ok((StatusCode::ACCEPTED, Json(started)))
}

/// A proposal: its designs once `done` is true.
#[utoipa::path(get, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 200, body = ProposalAnswer), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn run(
    State(app): State<App>,
    In((id, run)): In<(String, String)>,
) -> Result<Json<ProposalAnswer>, ApiError> {
    let found = app.runs.find(&id, &run)?;
    let outcome = found.outcome.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let stopped = found.stopped.load(Ordering::Relaxed);
    outcome.unwrap_or_else(|| Ok(ProposalAnswer::unfinished(&run, 0, stopped))).map(Json)
}

/// Stops a proposal.
#[utoipa::path(delete, path = "/api/jobs/{id}/propose/{run}", tag = "Sound",
    params(("id" = String, Path, description = "The job"), ("run" = String, Path, description = "The proposal")),
    responses((status = 204, description = "Stopped"), (status = "4XX", description = "Refused", body = ErrorBody)))]
async fn stop(State(app): State<App>, In((id, run)): In<(String, String)>) -> Result<StatusCode, ApiError> {
    app.runs.find(&id, &run)?.stopped.store(true, Ordering::Relaxed);
    Ok(StatusCode::NO_CONTENT)
}
